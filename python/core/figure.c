// SPDX-License-Identifier: GPL-3.0-or-later
// Base of cavum.Figure: a number with its uncertainty, and its text when that is looked at, in the
// unit of both.
#include "core.h"

typedef struct figure_object {
  PyObject_HEAD double value, uncertainty;
  PyObject *unit;
  PyObject *text; /* NULL: made of the figure of the library. */
  cavum_figure_id number;
  double unit_si;
  cavum_figure figure;
} figure_object;

PyObject *core_wrap_figure(const core_module *core, const cavum_figure *figure,
                           cavum_figure_id number, double unit_si, PyObject *unit) {
  figure_object *self = core_make(core->figure);
  if (!self) return NULL;
  bool is_number = figure->state == CAVUM_FIGURE_PRESENT;
  self->value = is_number ? figure->value / unit_si : Py_HUGE_VAL;
  self->uncertainty = is_number ? figure->uncertainty / unit_si : (double)NAN;
  self->unit = Py_NewRef(unit);
  self->number = number;
  self->unit_si = unit_si;
  self->figure = *figure;
  return (PyObject *)self;
}

static PyObject *make(PyTypeObject *type, PyObject *args, PyObject *names) {
  static char *keywords[] = {"value", "uncertainty", "unit", "text", NULL};
  double value, uncertainty;
  PyObject *unit, *text = NULL;
  if (!PyArg_ParseTupleAndKeywords(args, names, "ddU|U:Figure", keywords, &value, &uncertainty,
                                   &unit, &text))
    return NULL;
  text = text ? Py_NewRef(text) : PyUnicode_FromString("");
  if (!text) return NULL;
  figure_object *self = core_make(type);
  if (!self) {
    Py_DECREF(text);
    return NULL;
  }
  self->value = value;
  self->uncertainty = uncertainty;
  self->unit = Py_NewRef(unit);
  self->text = text;
  return (PyObject *)self;
}

static PyObject *get_text(PyObject *object, void *unused) {
  (void)unused;
  const figure_object *self = (const figure_object *)object;
  if (self->text) return Py_NewRef(self->text);
  char text[CAVUM_FIGURE_TEXT_SIZE];
  PyObject *unit = PyUnicode_AsUTF8String(self->unit);
  if (!unit) return NULL;
  cavum_figure_to_text_in(text, &self->figure, self->number, self->unit_si, PyBytes_AsString(unit));
  Py_DECREF(unit);
  return PyUnicode_FromString(text);
}

static void destroy(PyObject *object) {
  figure_object *self = (figure_object *)object;
  Py_XDECREF(self->unit);
  Py_XDECREF(self->text);
  core_free(object);
}

static PyMemberDef members[] = {
    {"value", T_DOUBLE, offsetof(figure_object, value), READONLY, "In its unit."},
    {"uncertainty", T_DOUBLE, offsetof(figure_object, uncertainty), READONLY,
     "The true value lies within value +- uncertainty."},
    {"unit", T_OBJECT, offsetof(figure_object, unit), READONLY, "Unit of both, as a text."},
    {0}};

static PyGetSetDef getters[] = {{"text", get_text, NULL,
                                 "With its uncertainty, in its unit; \"\" for derivatives and "
                                 "couplings, which are shown by all their digits.",
                                 NULL},
                                {0}};

static PyType_Slot slots[] = {{Py_tp_new, make},
                              {Py_tp_dealloc, destroy},
                              {Py_tp_members, members},
                              {Py_tp_getset, getters},
                              {0}};

PyType_Spec core_figure_spec = {.name = "cavum._core.Figure",
                                .basicsize = sizeof(figure_object),
                                .flags = Py_TPFLAGS_DEFAULT | Py_TPFLAGS_BASETYPE,
                                .slots = slots};
