// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file core.h
 * Bases of the classes of the module that a loop of warm solves works with: cell, solver, result,
 * mode, figure. What a loop does at each solve is in C here and everything else in Python, in the
 * classes that have these as bases. A solve pushes what Python touches out of the processor's
 * caches, so that the cost of a loop is how much code and data it touches between two solves.
 *
 * Objects of these types are made and changed with the lock of Python held; it is free while a
 * cell is solved.
 */
#ifndef CAVUM_PYTHON_CORE_H
#define CAVUM_PYTHON_CORE_H

#define PY_SSIZE_T_CLEAN
#include <Python.h>
// After it, as it wants.
#include <stdbool.h>
#include <stddef.h>
#include <structmember.h>

#include "cavum/cavum.h"
#include "watch.h"

/** What the module keeps; its objects borrow it, and keep it by their types. */
typedef struct core_module {
  PyTypeObject *cell_base;              /**< A cell is an instance of it. */
  PyTypeObject *result, *mode, *figure; /**< Classes of Python that objects are made of. */
  PyObject *figures;                    /**< Key: (number, SI units of its unit, its unit). */
  PyObject *find_figure;                /**< Gives the same of a key that is not there yet. */
} core_module;

/** A cavum.Cell. */
typedef struct cell_object {
  PyObject_HEAD cavum_cell *cell; /**< NULL until it is read; borrowed from `keeper`. */
  PyObject *keeper;               /**< The pointer of cffi that frees it. */
  PyObject *known; /**< Keys that cells have, and as the library takes them: {str: bytes}. */
  PyObject *weak;
} cell_object;

/** A cavum.Result. */
typedef struct result_object {
  PyObject_HEAD const core_module *core;
  cavum_result *result;     /**< Owned; NULL until there is one. */
  PyObject *cell, *options; /**< May be NULL: read from a file. */
  PyObject *fields;         /**< What Python made of it. */
  PyObject *weak;
} result_object;

/** A result of the library as a cavum.Result, which takes it, also when memory has run out. */
PyObject *core_wrap_result(const core_module *core, cavum_result *result, PyObject *cell,
                           PyObject *options);

/** A figure of a mode as a cavum.Figure, in the unit of its key. */
PyObject *core_wrap_figure(const core_module *core, const cavum_figure *figure,
                           cavum_figure_id number, double unit_si, PyObject *unit);

/** A new object; NULL and an exception also when Python ends and its classes are gone. */
static inline void *core_make(PyTypeObject *type) {
  if (type) return PyType_GenericAlloc(type, 0);
  PyErr_SetString(PyExc_RuntimeError, "cavum is not loaded any more");
  return NULL;
}

/** What the module knows, for a method of one of its types. */
static inline const core_module *core_of(PyTypeObject *type) { return PyType_GetModuleState(type); }

/** Frees an object whose members are. */
static inline void core_free(PyObject *object) {
  PyTypeObject *type = Py_TYPE(object);
  freefunc release = (freefunc)PyType_GetSlot(type, Py_tp_free);
  release(object);
  Py_DECREF((PyObject *)type);
}

extern PyType_Spec core_cell_spec, core_solver_spec, core_result_spec, core_mode_spec,
    core_figure_spec;

#endif
