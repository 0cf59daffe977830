// SPDX-License-Identifier: GPL-3.0-or-later
// Bases of cavum.Result and cavum.Mode: a result is kept, its modes are listed, a figure is looked
// up.
#include "core.h"

/** A cavum.Mode: a number of a result. */
typedef struct mode_object {
  PyObject_HEAD result_object *result; /* Kept. */
  int number;
} mode_object;

PyObject *core_wrap_result(const core_module *core, cavum_result *result, PyObject *cell,
                           PyObject *options) {
  result_object *self = core_make(core->result);
  if (!self) {
    cavum_result_destroy(&result);
    return NULL;
  }
  self->core = core;
  self->result = result;
  self->cell = Py_XNewRef(cell);
  self->options = Py_XNewRef(options);
  return (PyObject *)self;
}

static PyObject *hold(PyObject *object, PyTypeObject *defining, PyObject *const *args,
                      Py_ssize_t count, PyObject *names) {
  result_object *self = (result_object *)object;
  if (count != 3 || names || self->result) {
    PyErr_SetString(PyExc_TypeError, "expected a result, a cell and options, once");
    return NULL;
  }
  cavum_result *result = PyLong_AsVoidPtr(args[0]);
  if (!result && PyErr_Occurred()) return NULL;
  self->core = core_of(defining);
  self->result = result;
  self->cell = Py_NewRef(args[1]);
  self->options = Py_NewRef(args[2]);
  Py_RETURN_NONE;
}

static PyObject *get_address(PyObject *object, void *unused) {
  (void)unused;
  return PyLong_FromVoidPtr(((result_object *)object)->result);
}

static PyObject *wrap_mode(result_object *result, int number) {
  mode_object *mode = core_make(result->core->mode);
  if (!mode) return NULL;
  mode->result = (result_object *)Py_NewRef((PyObject *)result);
  mode->number = number;
  return (PyObject *)mode;
}

/* Not kept: modes keep their result, and a result that kept them would stay until the next
 * collection. */
static PyObject *get_modes(PyObject *object, void *unused) {
  (void)unused;
  result_object *self = (result_object *)object;
  int count = self->result ? self->result->num_modes : 0;
  PyObject *modes = PyList_New(count);
  for (int i = 0; modes && i < count; i++) {
    PyObject *mode = wrap_mode(self, i);
    if (!mode || PyList_SetItem(modes, i, mode) != 0) Py_CLEAR(modes);
  }
  return modes;
}

static void destroy_result(PyObject *object) {
  result_object *self = (result_object *)object;
  if (self->weak) PyObject_ClearWeakRefs(object);
  Py_XDECREF(self->fields);
  cavum_result_destroy(&self->result);
  Py_XDECREF(self->cell);
  Py_XDECREF(self->options);
  core_free(object);
}

static PyMethodDef result_methods[] = {
    {"_hold", (PyCFunction)(void (*)(void))hold, METH_METHOD | METH_FASTCALL | METH_KEYWORDS,
     "Takes the address of a result of the library, its cell and options."},
    {0}};

static PyMemberDef result_members[] = {
    {"_cell", T_OBJECT, offsetof(result_object, cell), READONLY,
     "The cell that was solved, or None."},
    {"_options", T_OBJECT, offsetof(result_object, options), READONLY,
     "Options of the solve, or None."},
    {"_fields", T_OBJECT, offsetof(result_object, fields), 0,
     "Fields of modes by their numbers, once they were looked at."},
    {"__weaklistoffset__", T_PYSSIZET, offsetof(result_object, weak), READONLY, NULL},
    {0}};

static PyGetSetDef result_getters[] = {
    {"_address", get_address, NULL, "Where the result of the library is.", NULL},
    {"modes", get_modes, NULL, "All modes, by rising frequency: a list of Mode.", NULL},
    {0}};

static PyType_Slot result_slots[] = {
    {Py_tp_new, PyType_GenericNew},  {Py_tp_dealloc, destroy_result},
    {Py_tp_methods, result_methods}, {Py_tp_members, result_members},
    {Py_tp_getset, result_getters},  {0}};

PyType_Spec core_result_spec = {.name = "cavum._core.Result",
                                .basicsize = sizeof(result_object),
                                .flags = Py_TPFLAGS_DEFAULT | Py_TPFLAGS_BASETYPE,
                                .slots = result_slots};

/* Number of a figure, SI units of its key's unit, that unit: kept since the key was first asked
 * for. A new reference. */
static PyObject *find_figure(const core_module *core, PyObject *key) {
  PyObject *found = PyDict_GetItemWithError(core->figures, key);
  if (found) return Py_NewRef(found);
  if (PyErr_Occurred()) return NULL;
  found = PyObject_CallFunctionObjArgs(core->find_figure, key, NULL);
  if (found && !(PyTuple_Check(found) && PyTuple_Size(found) == 3)) {
    PyErr_SetString(PyExc_TypeError, "expected a number, its unit in SI units, and its unit");
    Py_CLEAR(found);
  }
  return found;
}

static PyObject *get_figure(PyObject *object, PyObject *key) {
  const mode_object *self = (const mode_object *)object;
  if (!self->result) {
    PyErr_SetString(PyExc_ValueError, "a mode of no result");
    return NULL;
  }
  const core_module *core = self->result->core;
  PyObject *found = find_figure(core, key), *made = NULL;
  if (!found) return NULL;
  cavum_figure_id number = (cavum_figure_id)PyLong_AsLong(PyTuple_GetItem(found, 0));
  double unit_si = PyFloat_AsDouble(PyTuple_GetItem(found, 1));
  if (PyErr_Occurred()) goto done;
  cavum_figure figure =
      cavum_mode_figure(cavum_result_mode(self->result->result, self->number), number);
  if (figure.state == CAVUM_FIGURE_ABSENT)
    PyErr_Format(PyExc_KeyError, "%U: this mode has no such figure", key);
  else
    made = core_wrap_figure(core, &figure, number, unit_si, PyTuple_GetItem(found, 2));
done:
  Py_DECREF(found);
  return made;
}

static void destroy_mode(PyObject *object) {
  Py_XDECREF((PyObject *)((mode_object *)object)->result);
  core_free(object);
}

static PyMemberDef mode_members[] = {
    {"_result", T_OBJECT_EX, offsetof(mode_object, result), READONLY, "Its result."},
    {"_number", T_INT, offsetof(mode_object, number), READONLY, "Its number in it, from 0."},
    {0}};

static PyType_Slot mode_slots[] = {{Py_tp_new, PyType_GenericNew},
                                   {Py_tp_dealloc, destroy_mode},
                                   {Py_tp_members, mode_members},
                                   {Py_mp_subscript, get_figure},
                                   {0}};

PyType_Spec core_mode_spec = {.name = "cavum._core.Mode",
                              .basicsize = sizeof(mode_object),
                              .flags = Py_TPFLAGS_DEFAULT | Py_TPFLAGS_BASETYPE,
                              .slots = mode_slots};
