// SPDX-License-Identifier: GPL-3.0-or-later
// Base of cavum.Cell: a number is set.
#include "core.h"

/* Of a key that is known and a number that the library takes: 1; else 0, and nothing has changed;
 * -1: an exception. */
static int set_known(cell_object *self, PyObject *key, PyObject *value) {
  PyObject *name = self->known ? PyDict_GetItemWithError(self->known, key) : NULL;
  if (!name) return PyErr_Occurred() ? -1 : 0;
  double number = PyFloat_AsDouble(value);
  if (number == -1.0 && PyErr_Occurred()) return -1;
  return cavum_cell_set(self->cell, PyBytes_AsString(name), number, NULL) == CAVUM_OK;
}

static int set_number(PyObject *object, PyObject *key, PyObject *value) {
  if (!value) {
    PyErr_SetString(PyExc_TypeError, "numbers of a cell are set, not deleted");
    return -1;
  }
  int done = set_known((cell_object *)object, key, value);
  if (done > 0) return 0;
  if (done < 0 && !PyErr_ExceptionMatches(PyExc_Exception)) return -1;
  PyErr_Clear();
  // A key for the first time, or what is refused, and is refused again with a message.
  PyObject *none = PyObject_CallMethod(object, "_set", "OO", key, value);
  Py_XDECREF(none);
  return none ? 0 : -1;
}

static PyObject *hold(PyObject *object, PyObject *args) {
  cell_object *self = (cell_object *)object;
  PyObject *keeper, *address, *known;
  if (!PyArg_ParseTuple(args, "OO!O!", &keeper, &PyLong_Type, &address, &PyDict_Type, &known))
    return NULL;
  cavum_cell *cell = PyLong_AsVoidPtr(address);
  if (!cell && PyErr_Occurred()) return NULL;
  PyObject *old_keeper = self->keeper, *old_known = self->known;
  Py_INCREF(keeper);
  Py_INCREF(known);
  self->cell = cell;
  self->keeper = keeper;
  self->known = known;
  Py_XDECREF(old_keeper);
  Py_XDECREF(old_known);
  Py_RETURN_NONE;
}

static void destroy(PyObject *object) {
  cell_object *self = (cell_object *)object;
  if (self->weak) PyObject_ClearWeakRefs(object);
  Py_XDECREF(self->keeper);
  Py_XDECREF(self->known);
  core_free(object);
}

static PyMethodDef methods[] = {
    {"_hold", hold, METH_VARARGS,
     "Takes what keeps the cell of the library, its address, and the keys that are known."},
    {0}};

static PyMemberDef members[] = {
    {"_cell", T_OBJECT_EX, offsetof(cell_object, keeper), READONLY, "The cell of the library."},
    {"__weaklistoffset__", T_PYSSIZET, offsetof(cell_object, weak), READONLY, NULL},
    {0}};

static PyType_Slot slots[] = {{Py_tp_new, PyType_GenericNew},    {Py_tp_dealloc, destroy},
                              {Py_tp_methods, methods},          {Py_tp_members, members},
                              {Py_mp_ass_subscript, set_number}, {0}};

PyType_Spec core_cell_spec = {.name = "cavum._core.Cell",
                              .basicsize = sizeof(cell_object),
                              .flags = Py_TPFLAGS_DEFAULT | Py_TPFLAGS_BASETYPE,
                              .slots = slots};
