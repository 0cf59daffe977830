// SPDX-License-Identifier: GPL-3.0-or-later
// The module cavum._core: its types, and the classes of Python that objects of them are made of.
#include "core.h"

/* Classes for results, modes and figures; figures by their keys, and who finds those that are not
 * there yet. */
static PyObject *use(PyObject *module, PyObject *args) {
  core_module *core = PyModule_GetState(module);
  PyObject *result, *mode, *figure, *figures, *find;
  if (!PyArg_ParseTuple(args, "O!O!O!O!O", &PyType_Type, &result, &PyType_Type, &mode, &PyType_Type,
                        &figure, &PyDict_Type, &figures, &find))
    return NULL;
  core->result = (PyTypeObject *)Py_NewRef(result);
  core->mode = (PyTypeObject *)Py_NewRef(mode);
  core->figure = (PyTypeObject *)Py_NewRef(figure);
  core->figures = Py_NewRef(figures);
  core->find_figure = Py_NewRef(find);
  Py_RETURN_NONE;
}

static PyTypeObject *add_type(PyObject *module, PyType_Spec *spec) {
  PyObject *type = PyType_FromModuleAndSpec(module, spec, NULL);
  if (type && PyModule_AddType(module, (PyTypeObject *)type) != 0) Py_CLEAR(type);
  return (PyTypeObject *)type;
}

static int start(PyObject *module) {
  core_module *core = PyModule_GetState(module);
  core->cell_base = add_type(module, &core_cell_spec);
  if (!core->cell_base) return -1;
  PyType_Spec *others[] = {&core_solver_spec, &core_result_spec, &core_mode_spec,
                           &core_figure_spec};
  for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
    PyTypeObject *type = add_type(module, others[i]);
    if (!type) return -1;
    Py_DECREF((PyObject *)type);  // The module has it.
  }
  return 0;
}

static int visit_all(PyObject *module, visitproc visit, void *arg) {
  core_module *core = PyModule_GetState(module);
  Py_VISIT(core->cell_base);
  Py_VISIT(core->result);
  Py_VISIT(core->mode);
  Py_VISIT(core->figure);
  Py_VISIT(core->figures);
  Py_VISIT(core->find_figure);
  return 0;
}

static int clear(PyObject *module) {
  core_module *core = PyModule_GetState(module);
  Py_CLEAR(core->cell_base);
  Py_CLEAR(core->result);
  Py_CLEAR(core->mode);
  Py_CLEAR(core->figure);
  Py_CLEAR(core->figures);
  Py_CLEAR(core->find_figure);
  return 0;
}

static void free_all(void *module) { clear(module); }

static PyMethodDef functions[] = {
    {"use", use, METH_VARARGS, "Classes and figures that objects are made of."}, {0}};

static PyModuleDef_Slot slots[] = {{Py_mod_exec, start}, {0}};

static PyModuleDef definition = {
    .m_base = PyModuleDef_HEAD_INIT,
    .m_name = "cavum._core",
    .m_doc = "Bases of the classes of cavum: what a loop of solves does, in C.",
    .m_size = sizeof(core_module),
    .m_methods = functions,
    .m_slots = slots,
    .m_traverse = visit_all,
    .m_clear = clear,
    .m_free = free_all};

PyMODINIT_FUNC PyInit__core(void) { return PyModuleDef_Init(&definition); }
