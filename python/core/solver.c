// SPDX-License-Identifier: GPL-3.0-or-later
// Base of cavum.Solver: a cell is solved. Another thread, or a function that the solve calls, may
// meet a solver that works: it is refused, and what closes the solver frees it when it is done.
#include "core.h"

typedef struct solver_object {
  PyObject_HEAD const core_module *core;
  cavum_solver *solver; /* Owned; NULL: closed, or not yet open. */
  python_watch *watch;  /* Borrowed from the Watch that Python keeps with this object. */
  PyObject *options;
  bool busy, closing;
  cavum_error error;
} solver_object;

static bool is_open(const solver_object *self) { return self->solver && !self->closing; }

/* Nothing is known of a solver that works, but what it says. */
static bool begin(solver_object *self) {
  if (!is_open(self)) {
    PyErr_SetString(PyExc_ValueError, "the solver is closed");
    return false;
  }
  if (self->busy) {
    PyErr_SetString(PyExc_RuntimeError,
                    "the solver is solving a cell already: each thread has a solver of its own");
    return false;
  }
  return self->busy = true;
}

static void end(solver_object *self) {
  self->busy = false;
  if (self->closing) cavum_solver_destroy(&self->solver);
  self->closing = false;
}

/* The argument `cell`, by place or by name. */
static PyObject *argument_of(PyObject *const *args, Py_ssize_t count, PyObject *names) {
  Py_ssize_t named = names ? PyTuple_Size(names) : 0;
  bool is_cell =
      named == 0 || PyUnicode_CompareWithASCIIString(PyTuple_GetItem(names, 0), "cell") == 0;
  if (count + named == 1 && is_cell) return args[0];
  PyErr_SetString(PyExc_TypeError, "solve() takes one argument, a cell");
  return NULL;
}

/* Whether the argument is a cell that was read; if not, an exception says what it should be. */
static bool is_cell(solver_object *self, PyObject *given) {
  if (self->core && PyObject_TypeCheck(given, self->core->cell_base)) {
    if (((const cell_object *)given)->cell) return true;
    PyErr_SetString(PyExc_ValueError, "the cell was not read");
    return false;
  }
  PyObject *none = PyObject_CallMethod((PyObject *)self, "_refuse", "O", given);
  if (none) PyErr_SetString(PyExc_TypeError, "expected a cavum.Cell");
  Py_XDECREF(none);
  return false;
}

/* Python raises what a function of the user raised, or what the library said; best: taken, may be
 * NULL. */
static PyObject *give_up(solver_object *self, PyObject *cell, cavum_status status,
                         PyObject *message, cavum_result *best) {
  PyObject *found =
      best ? core_wrap_result(self->core, best, cell, self->options) : Py_NewRef(Py_None);
  PyObject *given = NULL;
  if (found && message)
    given = PyObject_CallMethod((PyObject *)self, "_give_up", "iOO", (int)status, message, found);
  Py_XDECREF(found);
  Py_XDECREF(message);
  return given;
}

/* The lock of Python is free meanwhile. */
static cavum_status run(solver_object *self, cavum_result **result, const cavum_cell *cell) {
  self->watch->next_s = 0.0;
  self->error.message[0] = '\0';
  cavum_status status = CAVUM_OK;
  Py_BEGIN_ALLOW_THREADS status = cavum_solver_solve(result, self->solver, cell, &self->error);
  Py_END_ALLOW_THREADS return status;
}

static PyObject *solve(PyObject *object, PyObject *const *args, Py_ssize_t count, PyObject *names) {
  solver_object *self = (solver_object *)object;
  PyObject *given = argument_of(args, count, names);
  if (!given || !is_cell(self, given) || !begin(self)) return NULL;
  const cell_object *cell = (const cell_object *)given;
  PyObject *keeper = Py_NewRef(cell->keeper);  // Also when the cell is read anew meanwhile.
  cavum_result *result = NULL;
  cavum_status status = run(self, &result, cell->cell);
  Py_DECREF(keeper);
  if (status == CAVUM_OK && !self->watch->raised) {
    end(self);
    return core_wrap_result(self->core, result, given, self->options);
  }
  PyObject *message = PyUnicode_FromString(self->error.message);
  end(self);
  return give_up(self, given, status, message, result);
}

static PyObject *forget(PyObject *object, PyObject *unused) {
  (void)unused;
  solver_object *self = (solver_object *)object;
  if (!begin(self)) return NULL;
  cavum_solver_forget(self->solver);
  end(self);
  Py_RETURN_NONE;
}

static PyObject *close_solver(PyObject *object, PyObject *unused) {
  (void)unused;
  solver_object *self = (solver_object *)object;
  if (self->busy)
    self->closing = true;
  else
    cavum_solver_destroy(&self->solver);
  Py_RETURN_NONE;
}

/* Takes a new solver of the library and frees the one before. */
static PyObject *hold(PyObject *object, PyTypeObject *defining, PyObject *const *args,
                      Py_ssize_t count, PyObject *names) {
  solver_object *self = (solver_object *)object;
  if (count != 3 || names) {
    PyErr_SetString(PyExc_TypeError, "expected solver, watch, options");
    return NULL;
  }
  cavum_solver *solver = PyLong_AsVoidPtr(args[0]);
  python_watch *watch = PyLong_AsVoidPtr(args[1]);
  if (PyErr_Occurred()) return NULL;
  if (self->busy) {
    cavum_solver_destroy(&solver);
    PyErr_SetString(PyExc_RuntimeError, "the solver is solving a cell");
    return NULL;
  }
  cavum_solver_destroy(&self->solver);
  PyObject *old = self->options;
  self->core = core_of(defining);
  self->solver = solver;
  self->watch = watch;
  self->options = Py_NewRef(args[2]);
  Py_XDECREF(old);
  Py_RETURN_NONE;
}

static PyObject *get_address(PyObject *object, void *unused) {
  (void)unused;
  const solver_object *self = (const solver_object *)object;
  return PyLong_FromVoidPtr(is_open(self) ? self->solver : NULL);
}

static void destroy(PyObject *object) {
  solver_object *self = (solver_object *)object;
  cavum_solver_destroy(&self->solver);
  Py_XDECREF(self->options);
  core_free(object);
}

static PyMethodDef methods[] = {
    {"solve", (PyCFunction)(void (*)(void))solve, METH_FASTCALL | METH_KEYWORDS,
     "solve($self, cell)\n--\n\nSolves a cell, gives a Result. Raises NotConverged with the best "
     "result when the accuracy is not reached."},
    {"forget", forget, METH_NOARGS,
     "forget($self)\n--\n\nThe next solve gives the bits of a fresh solver."},
    {"close", close_solver, METH_NOARGS,
     "close($self)\n--\n\nFrees the solver, when it is done if it is solving a cell; results "
     "stay."},
    {"_hold", (PyCFunction)(void (*)(void))hold, METH_METHOD | METH_FASTCALL | METH_KEYWORDS,
     "Takes addresses of a solver and of what it asks, and its options."},
    {0}};

static PyMemberDef members[] = {
    {"_options", T_OBJECT, offsetof(solver_object, options), READONLY, "Its options."}, {0}};

static PyGetSetDef getters[] = {{"_address", get_address, NULL, "Where it is; 0: closed.", NULL},
                                {0}};

static PyType_Slot slots[] = {{Py_tp_new, PyType_GenericNew}, {Py_tp_dealloc, destroy},
                              {Py_tp_methods, methods},       {Py_tp_members, members},
                              {Py_tp_getset, getters},        {0}};

PyType_Spec core_solver_spec = {.name = "cavum._core.Solver",
                                .basicsize = sizeof(solver_object),
                                .flags = Py_TPFLAGS_DEFAULT | Py_TPFLAGS_BASETYPE,
                                .slots = slots};
