// SPDX-License-Identifier: GPL-3.0-or-later
// A search for the best shape in the file of that shape: what it came to, each start, the path of
// the best. Every table has one row for each dimension, limit, figure, start or solve.
#include "store/optimum_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "design/requirements.h"
#include "format/quantity.h"
#include "store/matrix.h"

/** What a number is in memory; in the file all are doubles. */
typedef enum number_kind { NUMBER_DOUBLE, NUMBER_INT, NUMBER_BOOL } number_kind;

/** A number of every row. */
typedef struct column {
  const char *path, *long_name;
  size_t offset;
  number_kind kind;
} column;

/** Rows of one kind. */
typedef struct table {
  const column *columns;
  int num_columns;
  size_t row_size;
} table;

#define TABLE(columns, type) \
  { columns, sizeof(columns) / sizeof *(columns), sizeof(type) }

#define ENDS "0 converged, 1 stalled, 2 out of solves, 3 infeasible, 4 no shape, 5 stopped"
#define OF(member) offsetof(cavum_optimum, member)
static const column facts[] = {
    {"/optimum/met", "1: the first-order conditions hold and so do the limits", OF(met),
     NUMBER_BOOL},
    {"/optimum/within_limits", "1: every limit holds to the accuracy asked for", OF(within_limits),
     NUMBER_BOOL},
    {"/optimum/end", ENDS, OF(end), NUMBER_INT},
    {"/optimum/not_rounded",
     "1: no way that was tried of rounding to the steps keeps the limits, this is the shape before "
     "rounding",
     OF(not_rounded), NUMBER_BOOL},
    {"/optimum/rounding_violation",
     "by how much the best way of rounding breaks a limit, relative; not a number: none gives a "
     "shape, or the result is rounded",
     OF(rounding_violation), NUMBER_DOUBLE},
    {"/optimum/mode", "mode, from 0", OF(mode), NUMBER_INT},
    {"/optimum/solves", "number of solves with derivatives, of all starts", OF(num_solves),
     NUMBER_INT},
    {"/optimum/optima", "different values that starts converged to", OF(num_optima), NUMBER_INT},
    {"/optimum/log_objective",
     "logarithm of the objective (of the product that is minimised), of the result", OF(objective),
     NUMBER_DOUBLE},
    {"/optimum/log_objective_exact", "logarithm of the objective before rounding",
     OF(objective_exact), NUMBER_DOUBLE},
    {"/optimum/log_objective_uncertainty",
     "numerical uncertainty of the logarithm of the objective", OF(objective_uncertainty),
     NUMBER_DOUBLE},
    {"/optimum/residual", "residual of the first-order conditions", OF(residual), NUMBER_DOUBLE},
    {"/optimum/violation", "by how much the limit that is broken most is broken, relative",
     OF(violation), NUMBER_DOUBLE},
    {"/optimum/robust/kind", "0: nominal, 1: worst case to first order, 2: mean to second order",
     OF(robust.kind), NUMBER_INT},
    {"/optimum/robust/deviations", "standard deviations of the worst case; 0: nominal",
     OF(robust.deviations), NUMBER_DOUBLE},
    {"/optimum/robust/log_objective_nominal",
     "logarithm of the objective of the nominal best shape", OF(robust.nominal), NUMBER_DOUBLE},
    {"/optimum/robust/log_objective_nominal_worst",
     "logarithm of the objective of the nominal best shape in the worst case, or its mean",
     OF(robust.nominal_worst), NUMBER_DOUBLE},
    {"/optimum/robust/violation_nominal",
     "by how much the nominal best shape breaks a limit in the worst case, or in the mean",
     OF(robust.nominal_violation), NUMBER_DOUBLE},
    {"/optimum/robust/passes", "number of searches with tolerances", OF(robust.num_passes),
     NUMBER_INT},
    {"/optimum/robust/solves", "number of solves of these searches and of what tolerances add",
     OF(robust.num_solves), NUMBER_INT},
    {"/optimum/robust/whole_peaks",
     "peaks that are taken at their nominal place, as the effect of the tolerances along the wall "
     "is not known: 1 E, 2 B, 3 both",
     OF(robust.whole_peaks), NUMBER_INT},
    {"/optimum/robust/left_out",
     "1: tolerances are left out and all is nominal, as the nominal search met no conditions",
     OF(robust.left_out), NUMBER_BOOL},
    {"/optimum/free_wall/points",
     "number of points of the spline between iris and equator; 0: two ellipses",
     OF(free_wall.num_points), NUMBER_INT},
    {"/optimum/free_wall/log_objective_two_ellipse",
     "logarithm of the objective of the best two ellipses", OF(free_wall.two_ellipse),
     NUMBER_DOUBLE},
    {"/optimum/free_wall/log_objective_start",
     "logarithm of the objective of the spline through points of the best two ellipses",
     OF(free_wall.start), NUMBER_DOUBLE},
    {"/optimum/free_wall/solves_two_ellipse",
     "number of solves of the search for the best two ellipses", OF(free_wall.num_solves),
     NUMBER_INT},
    {"/optimum/free_wall/taken", "1: the best cell has the free wall; 0: the two ellipses",
     OF(free_wall.taken), NUMBER_BOOL},
    {"/optimum/free_wall/end", ENDS, OF(free_wall.end), NUMBER_INT},
    {"/optimum/free_wall/log_objective",
     "logarithm of the objective where the search for the free wall ended", OF(free_wall.objective),
     NUMBER_DOUBLE},
    {"/optimum/free_wall/residual",
     "residual of the first-order conditions where that search ended", OF(free_wall.residual),
     NUMBER_DOUBLE},
    {"/optimum/free_wall/violation",
     "by how much the limit that is broken most is broken there, relative", OF(free_wall.violation),
     NUMBER_DOUBLE},
    {"/optimum/free_wall/solves", "number of solves of the search for the free wall",
     OF(free_wall.num_solves_free), NUMBER_INT}};
// Files of earlier versions have it not.
static const column later_facts[] = {
    {"/optimum/places_left_out",
     "along the walls, that steps had no room for: those farthest from a peak or a limit",
     OF(num_left_out), NUMBER_INT}};
#undef OF

#define OF(member) offsetof(cavum_optimum, vanishing.member)
// Of a search that made such a piece as short as it may be.
static const column vanishing[] = {
    {"/optimum/vanishing_piece/cell", "cell that it is of, from 0", OF(cell), NUMBER_INT},
    {"/optimum/vanishing_piece/in_right_half", "1: in the right half of the outline; 0: left",
     OF(in_right_half), NUMBER_BOOL},
    {"/optimum/vanishing_piece/z_m", "where it begins, m", OF(z_m), NUMBER_DOUBLE},
    {"/optimum/vanishing_piece/r_m", "where it begins, m", OF(r_m), NUMBER_DOUBLE},
    {"/optimum/vanishing_piece/length_m", "what is left of it, m", OF(length_m), NUMBER_DOUBLE},
    {"/optimum/vanishing_piece/least_length_m", "what a search keeps of it, m", OF(least_m),
     NUMBER_DOUBLE}};
static const char VANISHING_KEY[] = "/optimum/vanishing_piece/key";
#undef OF

#define OF(member) offsetof(cavum_optimum_variable, member)
static const column variables[] = {
    {"/optimum/dimensions/low", "lower bound, in the unit of the key", OF(low), NUMBER_DOUBLE},
    {"/optimum/dimensions/high", "upper bound", OF(high), NUMBER_DOUBLE},
    {"/optimum/dimensions/step", "the dimension is rounded to multiples of this; 0: not rounded",
     OF(step), NUMBER_DOUBLE},
    {"/optimum/dimensions/before", "value in the base cell", OF(before), NUMBER_DOUBLE},
    {"/optimum/dimensions/value", "value in the best cell", OF(value), NUMBER_DOUBLE},
    {"/optimum/dimensions/at_bound",
     "-1: at the lower bound, 1: at the upper bound, 0: between them", OF(at_bound), NUMBER_INT},
    {"/optimum/dimensions/multiplier",
     "gain when the bound is relaxed by one unit: change of the logarithm of the objective",
     OF(multiplier), NUMBER_DOUBLE},
    {"/optimum/dimensions/holds_the_frequency", "1: this dimension holds the frequency",
     OF(is_held), NUMBER_BOOL}};
#undef OF

#define OF(member) offsetof(cavum_optimum_limit, member)
static const column limits[] = {
    {"/optimum/limits/least", "lower limit, in the unit of the key", OF(what.least), NUMBER_DOUBLE},
    {"/optimum/limits/most", "upper limit", OF(what.most), NUMBER_DOUBLE},
    {"/optimum/limits/value", "value of the figure in the best cell", OF(value), NUMBER_DOUBLE},
    {"/optimum/limits/uncertainty", "numerical uncertainty of value", OF(uncertainty),
     NUMBER_DOUBLE},
    {"/optimum/limits/margin", "part of value that the tolerances add", OF(margin), NUMBER_DOUBLE},
    {"/optimum/limits/active",
     "-1: active at the lower limit, 1: at the upper limit, 0: not active", OF(active), NUMBER_INT},
    {"/optimum/limits/multiplier",
     "gain when the limit is relaxed by one unit: change of the logarithm of the objective",
     OF(multiplier), NUMBER_DOUBLE},
    {"/optimum/limits/broken_by",
     "how far the value is beyond the limit, where the search met no conditions; 0: within the "
     "limit",
     OF(broken_by), NUMBER_DOUBLE}};
#undef OF

#define OF(member) offsetof(cavum_optimum_term, member)
static const column terms[] = {
    {"/optimum/objective/power",
     "power of the figure in the product that is minimised; below 0: the figure is maximised",
     OF(weight), NUMBER_DOUBLE},
    {"/optimum/objective/before", "figure of the base cell, SI", OF(before), NUMBER_DOUBLE},
    {"/optimum/objective/value", "figure of the best cell, SI", OF(value), NUMBER_DOUBLE},
    {"/optimum/objective/uncertainty", "numerical uncertainty of value", OF(uncertainty),
     NUMBER_DOUBLE}};
#undef OF

#define OF(member) offsetof(cavum_optimum_start, member)
static const column starts[] = {
    {"/optimum/starts/solves", "number of solves with derivatives", OF(num_solves), NUMBER_INT},
    {"/optimum/starts/log_objective", "logarithm of the objective", OF(objective), NUMBER_DOUBLE},
    {"/optimum/starts/violation", "by how much the limit that is broken most is broken, relative",
     OF(violation), NUMBER_DOUBLE},
    {"/optimum/starts/residual", "residual of the first-order conditions", OF(residual),
     NUMBER_DOUBLE},
    {"/optimum/starts/best", "1: the start led to the best value", OF(is_best), NUMBER_BOOL}};
#undef OF

#define OF(member) offsetof(cavum_optimum_step, member)
static const column steps[] = {
    {"/optimum/path/log_objective", "logarithm of the objective", OF(objective), NUMBER_DOUBLE},
    {"/optimum/path/violation", "by how much the limit that is broken most is broken, relative",
     OF(violation), NUMBER_DOUBLE},
    {"/optimum/path/residual",
     "residual of the first-order conditions; not known for steps that were not accepted",
     OF(residual), NUMBER_DOUBLE},
    {"/optimum/path/radius",
     "radius of the trust region, as a part of the ranges of the dimensions", OF(radius),
     NUMBER_DOUBLE},
    {"/optimum/path/accepted", "1: the step was accepted", OF(accepted), NUMBER_BOOL}};
#undef OF

#define OF(member) offsetof(cavum_optimum_cell, member)
static const column others[] = {{"/optimum/cells/mode", "mode, from 0", OF(mode), NUMBER_INT}};
#undef OF

static const table FACTS = TABLE(facts, cavum_optimum),
                   LATER_FACTS = TABLE(later_facts, cavum_optimum),
                   VANISHING = TABLE(vanishing, cavum_optimum),
                   VARIABLES = TABLE(variables, cavum_optimum_variable),
                   LIMITS = TABLE(limits, cavum_optimum_limit),
                   TERMS = TABLE(terms, cavum_optimum_term),
                   STARTS = TABLE(starts, cavum_optimum_start),
                   STEPS = TABLE(steps, cavum_optimum_step),
                   OTHERS = TABLE(others, cavum_optimum_cell);

static const char *const FIGURES_BEFORE = "/optimum/figures_before",
                         *const FIGURES = "/optimum/figures";  // of the best two ellipses alone
enum { PATH_SIZE = 96, MOST_MODES = 1000 };

/** Where a search is in a file: a group that stands for "/optimum". The search for two ellipses is
 * part of that for a free wall. */
typedef struct place {
  cavum_hdf5_file *file;
  const char *group;
} place;

static const char OPTIMUM[] = "/optimum", TWO_ELLIPSE[] = "/optimum/free_wall/two_ellipse_search";

typedef struct place_path {
  char text[2 * PATH_SIZE];
} place_path;

static place_path path_at(const place *at, const char *path) {
  place_path made;
  snprintf(made.text, sizeof made.text, "%s%s", at->group, path + sizeof OPTIMUM - 1);
  return made;
}

// ---- write

static double number_of(const void *row, const column *c) {
  const char *at = (const char *)row + c->offset;
  double value = 0.0;
  int whole = 0;
  bool yes = false;
  if (c->kind == NUMBER_DOUBLE) memcpy(&value, at, sizeof value);
  if (c->kind == NUMBER_INT) memcpy(&whole, at, sizeof whole);
  if (c->kind == NUMBER_BOOL) memcpy(&yes, at, sizeof yes);
  return c->kind == NUMBER_DOUBLE ? value : c->kind == NUMBER_INT ? whole : yes;
}

// One row of facts is written as scalars.
static cavum_status write_table(const place *to, const table *t, const void *rows, int count,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *numbers = cavum_alloc(count, sizeof *numbers);
  if (!numbers) return cavum_fail_memory(error);
  for (int k = 0; k < t->num_columns && status == CAVUM_OK; k++) {
    const column *c = &t->columns[k];
    for (int i = 0; i < count; i++) {
      numbers[i] = number_of((const char *)rows + (size_t)i * t->row_size, c);
    }
    const place_path path = path_at(to, c->path);
    const cavum_matrix_name name = {path.text, "1", c->long_name};
    bool scalar = t == &FACTS || t == &LATER_FACTS;
    status = scalar ? cavum_matrix_write_scalar(to->file, name, numbers[0], error)
                    : cavum_matrix_write(to->file, name, count, 0, numbers, error);
  }
  free(numbers);
  return status;
}

/** Which text of a row. */
typedef const char *(*text_of)(const cavum_optimum *optimum, int row);

static const char *variable_key(const cavum_optimum *o, int row) { return o->variables[row].key; }
static const char *limit_key(const cavum_optimum *o, int row) { return o->limits[row].what.key; }
static const char *term_key(const cavum_optimum *o, int row) { return o->terms[row].what.key; }
static const char *start_end(const cavum_optimum *o, int row) {
  return cavum_optimum_end_word(o->starts[row].end);
}

static cavum_status write_texts(const place *to, const char *path, const char *long_name,
                                const cavum_optimum *o, text_of text, int count,
                                cavum_error *error) {
  const char **texts = cavum_alloc(count, sizeof *texts);
  if (!texts) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) texts[i] = text(o, i);
  cavum_status status =
      cavum_hdf5_write_texts(to->file, path_at(to, path).text, count, texts, long_name, error);
  free(texts);
  return status;
}

/** Dimensions of a row. */
typedef double *(*values_of)(const cavum_optimum *optimum, int row);

static double *first_values(const cavum_optimum *o, int row) { return o->starts[row].first; }
static double *last_values(const cavum_optimum *o, int row) { return o->starts[row].last; }
static double *step_values(const cavum_optimum *o, int row) { return o->steps[row].values; }

static cavum_status write_values(const place *to, const char *path, const cavum_optimum *o,
                                 values_of values, int count, cavum_error *error) {
  int n = o->num_variables;
  double *numbers = cavum_alloc((int64_t)count * n, sizeof *numbers);
  if (!numbers) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    memcpy(numbers + (ptrdiff_t)i * n, values(o, i), (size_t)n * sizeof *numbers);
  }
  const place_path full = path_at(to, path);
  const cavum_matrix_name name = {full.text, "as the keys of the dimensions say",
                                  "the dimensions, one row each"};
  cavum_status status = cavum_matrix_write(to->file, name, count, n, numbers, error);
  free(numbers);
  return status;
}

// Figures of a result, those that its mode has, in a group.
static cavum_status write_figures(const place *to, const char *group, const cavum_result *result,
                                  int mode, cavum_error *error) {
  const char *keys[CAVUM_NUM_FIGURES], *bases[CAVUM_NUM_FIGURES];
  double numbers[2][CAVUM_NUM_FIGURES];
  char path[PATH_SIZE];
  int count = 0;
  cavum_status status = CAVUM_OK;
  for (int id = 0; result && mode < result->num_modes && id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure f = cavum_mode_figure(&result->modes[mode], (cavum_figure_id)id);
    if (f.state != CAVUM_FIGURE_PRESENT) continue;
    keys[count] = cavum_figure_describe((cavum_figure_id)id).key;
    bases[count] = cavum_basis_word(f.basis);
    numbers[0][count] = f.value;
    numbers[1][count++] = f.uncertainty;
  }
  if (count == 0) return CAVUM_OK;
  snprintf(path, sizeof path, "%s/key", group);
  CAVUM_TRY(cavum_hdf5_write_texts(to->file, path_at(to, path).text, count, keys,
                                   "figures of the mode", error));
  snprintf(path, sizeof path, "%s/basis", group);
  CAVUM_TRY(cavum_hdf5_write_texts(to->file, path_at(to, path).text, count, bases,
                                   "what their numbers rest on; empty: computed", error));
  for (int k = 0; k < 2; k++) {
    snprintf(path, sizeof path, "%s/%s", group, k == 0 ? "value" : "uncertainty");
    const place_path full = path_at(to, path);
    const cavum_matrix_name name = {full.text, "SI",
                                    k == 0 ? "their values, SI" : "numerical, of value"};
    CAVUM_TRY(cavum_matrix_write(to->file, name, count, 0, numbers[k], error));
  }
done:
  return status;
}

static const char *other_name(const cavum_optimum *o, int row) { return o->others[row].name; }
static const char *other_text(const cavum_optimum *o, int row) { return o->others[row].cell_text; }

// Cells that share the dimensions: their files and figures.
static cavum_status write_others(const place *to, const cavum_optimum *o, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (o->num_others == 0) return CAVUM_OK;
  CAVUM_TRY(write_texts(to, "/optimum/cells/name", "cells beside the first", o, other_name,
                        o->num_others, error));
  CAVUM_TRY(write_texts(to, "/optimum/cells/cell_file", "the best cell files", o, other_text,
                        o->num_others, error));
  CAVUM_TRY(write_table(to, &OTHERS, o->others, o->num_others, error));
  for (int c = 0; c < o->num_others; c++) {
    char group[PATH_SIZE];
    const cavum_optimum_cell *other = &o->others[c];
    snprintf(group, sizeof group, "/optimum/cells/figures_%d", c + 1);
    CAVUM_TRY(write_figures(to, group, other->result, other->mode, error));
    snprintf(group, sizeof group, "/optimum/cells/figures_before_%d", c + 1);
    CAVUM_TRY(write_figures(to, group, other->before, other->mode, error));
  }
done:
  return status;
}

static cavum_status write_limits(const place *to, const cavum_optimum *o, cavum_error *error) {
  if (o->num_limits == 0) return CAVUM_OK;
  cavum_status status =
      write_texts(to, "/optimum/limits/key", "what is limited", o, limit_key, o->num_limits, error);
  return status == CAVUM_OK ? write_table(to, &LIMITS, o->limits, o->num_limits, error) : status;
}

// Texts that are there only where something is wanting.
static const struct {
  const char *path, *long_name;
  size_t offset;
} broken_texts[] = {
    {"/optimum/unproven", "why a shape within its limits is not proven to be the best",
     offsetof(cavum_optimum, unproven)},
    {"/optimum/broken", "which limit this shape breaks most", offsetof(cavum_optimum, broken)},
    {"/optimum/rounding_broken", "which limit the best way to round breaks most",
     offsetof(cavum_optimum, rounding_broken)},
    {"/optimum/nominal_broken", "which limit the nominal best shape breaks most within tolerances",
     offsetof(cavum_optimum, nominal_broken)}};
enum { NUM_BROKEN = sizeof broken_texts / sizeof *broken_texts };

static cavum_status write_broken(const place *to, const cavum_optimum *o, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < NUM_BROKEN && status == CAVUM_OK; i++) {
    const char *text = (const char *)o + broken_texts[i].offset;
    if (!text[0]) continue;
    status = cavum_hdf5_write_texts(to->file, path_at(to, broken_texts[i].path).text, 0, &text,
                                    broken_texts[i].long_name, error);
  }
  return status;
}

static cavum_status write_vanishing(const place *to, const cavum_optimum *o, cavum_error *error) {
  const char *key = o->vanishing.key;
  if (!key[0]) return CAVUM_OK;
  cavum_status status = cavum_hdf5_write_texts(
      to->file, path_at(to, VANISHING_KEY).text, 0, &key,
      "piece of the path that is at its least length: it vanishes beyond", error);
  return status == CAVUM_OK ? write_table(to, &VANISHING, o, 1, error) : status;
}

static cavum_status write_search(const place *to, const cavum_optimum *o, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(write_table(to, &FACTS, o, 1, error));
  CAVUM_TRY(write_table(to, &LATER_FACTS, o, 1, error));
  CAVUM_TRY(write_broken(to, o, error));
  CAVUM_TRY(write_vanishing(to, o, error));
  CAVUM_TRY(write_texts(to, "/optimum/dimensions/key", "dimensions that the search changes", o,
                        variable_key, o->num_variables, error));
  CAVUM_TRY(write_table(to, &VARIABLES, o->variables, o->num_variables, error));
  CAVUM_TRY(write_texts(to, "/optimum/objective/key", "figures of the objective", o, term_key,
                        o->num_terms, error));
  CAVUM_TRY(write_table(to, &TERMS, o->terms, o->num_terms, error));
  CAVUM_TRY(write_limits(to, o, error));
  CAVUM_TRY(write_texts(to, "/optimum/starts/end",
                        "converged, stalled, out-of-solves, infeasible, no-shape or stopped", o,
                        start_end, o->num_starts, error));
  CAVUM_TRY(write_table(to, &STARTS, o->starts, o->num_starts, error));
  CAVUM_TRY(write_values(to, "/optimum/starts/first", o, first_values, o->num_starts, error));
  CAVUM_TRY(write_values(to, "/optimum/starts/last", o, last_values, o->num_starts, error));
  CAVUM_TRY(write_table(to, &STEPS, o->steps, o->num_steps, error));
  CAVUM_TRY(write_values(to, "/optimum/path/values", o, step_values, o->num_steps, error));
  CAVUM_TRY(write_figures(to, FIGURES_BEFORE, o->before, o->mode, error));
  CAVUM_TRY(write_others(to, o, error));
done:
  return status;
}

// The best two ellipses behind a free wall: the cell, and where that is not the result, its search.
static cavum_status write_two_ellipse(cavum_hdf5_file *file, const cavum_optimum *o,
                                      cavum_error *error) {
  const char *text = o->free_wall.two_ellipse_text;
  const cavum_optimum *two = o->free_wall.two_ellipse_search;
  const place to = {file, TWO_ELLIPSE};
  if (!text) return CAVUM_OK;
  cavum_status status = cavum_hdf5_write_texts(file, "/optimum/free_wall/two_ellipse_file", 0,
                                               &text, "the best cell of two ellipses", error);
  if (status == CAVUM_OK && two) status = write_search(&to, two, error);
  if (status == CAVUM_OK && two) {
    status = write_figures(&to, FIGURES, two->result, two->mode, error);
  }
  return status;
}

cavum_status cavum_optimum_write(cavum_hdf5_file *file, const cavum_optimum *optimum,
                                 const cavum_goal *goal, cavum_error *error) {
  const cavum_optimum *o = optimum;
  const place to = {file, OPTIMUM};
  const char *title = cavum_goal_title(goal), *text = cavum_goal_text(goal);
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/optimum/title", 0, &title, "of the goal", error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/input/goal_file", 0, &text, "the goal", error));
  CAVUM_TRY(write_search(&to, o, error));
  CAVUM_TRY(write_two_ellipse(file, o, error));
done:
  return status;
}

// ---- read

bool cavum_optimum_is_in(const cavum_hdf5_file *file) {
  return cavum_hdf5_has(file, "/optimum/dimensions/key");
}

/** The same of a file that is read. */
typedef struct read_place {
  const cavum_hdf5_file *file;
  const char *group;
} read_place;

static place_path read_path(const read_place *at, const char *path) {
  const place same = {NULL, at->group};
  return path_at(&same, path);
}

static bool set_number(void *row, const column *c, double value) {
  char *at = (char *)row + c->offset;
  bool yes = value != 0.0;
  if (c->kind == NUMBER_DOUBLE) {
    memcpy(at, &value, sizeof value);
    return true;
  }
  if (!(value >= -1e9 && value <= 1e9)) return false;
  int whole = (int)value;
  if (c->kind == NUMBER_INT) memcpy(at, &whole, sizeof whole);
  if (c->kind == NUMBER_BOOL) memcpy(at, &yes, sizeof yes);
  return true;
}

static cavum_status read_table(void *rows, const table *t, int count, const read_place *at,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *numbers = cavum_alloc(count, sizeof *numbers);
  if (!numbers) return cavum_fail_memory(error);
  for (int k = 0; k < t->num_columns && status == CAVUM_OK; k++) {
    const column *c = &t->columns[k];
    status = cavum_matrix_read(numbers, count, at->file, read_path(at, c->path).text, error);
    for (int i = 0; i < count && status == CAVUM_OK; i++) {
      bool good = set_number((char *)rows + (size_t)i * t->row_size, c, numbers[i]);
      if (!good) status = cavum_matrix_fail_damaged(c->path, error);
    }
  }
  free(numbers);
  return status;
}

// Rows with room for as many as there are texts; the texts are taken one by one.
static cavum_status read_rows(void **rows, int *count, size_t row_size, const char *path,
                              cavum_status (*take)(void *row, const char *text, cavum_error *error),
                              const read_place *at, cavum_error *error) {
  char **texts = NULL;
  int found = 0;
  cavum_status status =
      cavum_hdf5_read_texts(&texts, &found, at->file, read_path(at, path).text, error);
  if (status != CAVUM_OK) return status;
  *rows = cavum_alloc(found, row_size);
  if (!*rows) status = cavum_fail_memory(error);
  if (*rows) *count = found;
  for (int i = 0; i < found && status == CAVUM_OK; i++) {
    status = take((char *)*rows + (size_t)i * row_size, texts[i], error);
  }
  cavum_hdf5_free_texts(texts, found);
  return status;
}

static cavum_status take_variable(void *row, const char *text, cavum_error *error) {
  cavum_optimum_variable *v = row;
  (void)error;
  snprintf(v->key, sizeof v->key, "%s", text);
  v->unit = cavum_unit_symbol(cavum_unit_of_key(v->key));
  return CAVUM_OK;
}

// A figure, with the name of another cell in front perhaps.
static cavum_status take_what(cavum_requirement *what, const char *text, cavum_error *error) {
  const char *dot = strchr(text, '.');
  const char *key = dot ? dot + 1 : text;
  cavum_status status = cavum_requirement_find_radius(what, key)
                            ? CAVUM_OK
                            : cavum_requirement_find(what, key, error);
  snprintf(what->key, sizeof what->key, "%s", text);
  return status;
}

static cavum_status take_limit(void *row, const char *text, cavum_error *error) {
  return take_what(&((cavum_optimum_limit *)row)->what, text, error);
}

static cavum_status take_term(void *row, const char *text, cavum_error *error) {
  return take_what(&((cavum_optimum_term *)row)->what, text, error);
}

static cavum_status take_start(void *row, const char *text, cavum_error *error) {
  for (int end = CAVUM_OPTIMUM_CONVERGED; end <= CAVUM_OPTIMUM_STOPPED; end++) {
    if (strcmp(text, cavum_optimum_end_word((cavum_optimum_end)end)) != 0) continue;
    ((cavum_optimum_start *)row)->end = (cavum_optimum_end)end;
    return CAVUM_OK;
  }
  return cavum_matrix_fail_damaged("/optimum/starts/end", error);
}

static void set_first(cavum_optimum *o, int row, double *values) { o->starts[row].first = values; }
static void set_last(cavum_optimum *o, int row, double *values) { o->starts[row].last = values; }
static void set_step(cavum_optimum *o, int row, double *values) { o->steps[row].values = values; }

static cavum_status read_values(cavum_optimum *o, const char *path, int count,
                                void (*set)(cavum_optimum *o, int row, double *values),
                                const read_place *at, cavum_error *error) {
  int n = o->num_variables;
  double *numbers = cavum_alloc((int64_t)count * n, sizeof *numbers);
  if (!numbers) return cavum_fail_memory(error);
  cavum_status status =
      cavum_matrix_read(numbers, (int64_t)count * n, at->file, read_path(at, path).text, error);
  for (int i = 0; i < count && status == CAVUM_OK; i++) {
    double *values = cavum_alloc(n, sizeof *values);
    if (!values) status = cavum_fail_memory(error);
    if (values) memcpy(values, numbers + (ptrdiff_t)i * n, (size_t)n * sizeof *values);
    set(o, i, values);
  }
  free(numbers);
  return status;
}

static cavum_status read_broken(cavum_optimum *o, const read_place *at, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < NUM_BROKEN && status == CAVUM_OK; i++) {
    const place_path path = read_path(at, broken_texts[i].path);
    char **texts = NULL;
    int count = 0;
    if (!cavum_hdf5_has(at->file, path.text)) continue;
    status = cavum_hdf5_read_texts(&texts, &count, at->file, path.text, error);
    if (status == CAVUM_OK && count != 1) status = cavum_matrix_fail_damaged(path.text, error);
    if (status == CAVUM_OK) {
      snprintf((char *)o + broken_texts[i].offset, CAVUM_OPTIMUM_BROKEN_SIZE, "%s", texts[0]);
    }
    cavum_hdf5_free_texts(texts, count);
  }
  return status;
}

static cavum_status read_vanishing(cavum_optimum *o, const read_place *at, cavum_error *error) {
  const place_path path = read_path(at, VANISHING_KEY);
  cavum_optimum_piece *piece = &o->vanishing;
  char **texts = NULL;
  int count = 0;
  if (!cavum_hdf5_has(at->file, path.text)) return CAVUM_OK;
  cavum_status status = cavum_hdf5_read_texts(&texts, &count, at->file, path.text, error);
  if (status == CAVUM_OK && count != 1) status = cavum_matrix_fail_damaged(path.text, error);
  if (status == CAVUM_OK) snprintf(piece->key, sizeof piece->key, "%s", texts[0]);
  if (status == CAVUM_OK) status = read_table(o, &VANISHING, 1, at, error);
  cavum_hdf5_free_texts(texts, count);
  return status;
}

// The piece is of a cell that there is.
static cavum_status check_vanishing(const cavum_optimum *o, cavum_error *error) {
  bool good = o->vanishing.cell >= 0 && o->vanishing.cell <= o->num_others;
  return good ? CAVUM_OK : cavum_matrix_fail_damaged("/optimum/vanishing_piece/cell", error);
}

static cavum_status read_steps(cavum_optimum *o, const read_place *at, cavum_error *error) {
  double *numbers = NULL;
  int64_t found = 0;
  cavum_status status = cavum_hdf5_read_doubles(
      &numbers, &found, at->file, read_path(at, "/optimum/path/log_objective").text, error);
  free(numbers);
  if (status != CAVUM_OK) return status;
  if (found > 10000000) return cavum_matrix_fail_damaged("/optimum/path/log_objective", error);
  o->steps = cavum_alloc(found, sizeof *o->steps);
  if (!o->steps) return cavum_fail_memory(error);
  o->num_steps = (int)found;
  status = read_table(o->steps, &STEPS, o->num_steps, at, error);
  if (status != CAVUM_OK) return status;
  return read_values(o, "/optimum/path/values", o->num_steps, set_step, at, error);
}

static cavum_status fill_figures(cavum_result **result, int mode, char **keys, int count,
                                 const double *values, const double *uncertainties,
                                 cavum_error *error) {
  cavum_result *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  *result = made;
  made->modes = cavum_alloc(mode + 1, sizeof *made->modes);
  if (!made->modes) return cavum_fail_memory(error);
  made->num_modes = mode + 1;
  for (int i = 0; i < count; i++) {
    cavum_figure_id id = CAVUM_FIGURE_FREQUENCY;
    double unit = 1.0;
    cavum_status status = cavum_figure_find(&id, &unit, keys[i], error);
    if (status != CAVUM_OK) return status;
    made->modes[mode].figures[id] = (cavum_figure){
        .state = CAVUM_FIGURE_PRESENT, .value = values[i], .uncertainty = uncertainties[i]};
  }
  return CAVUM_OK;
}

// What the figures rest on; nothing where an earlier version wrote the file.
static cavum_status read_bases(cavum_result *result, int mode, const char *group, char **keys,
                               int count, const read_place *at, cavum_error *error) {
  char **words = NULL, path[PATH_SIZE];
  int num_words = 0;
  cavum_status status = CAVUM_OK;
  snprintf(path, sizeof path, "%s/basis", group);
  if (!cavum_hdf5_has(at->file, read_path(at, path).text)) return CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_read_texts(&words, &num_words, at->file, read_path(at, path).text, error));
  if (num_words != count) {
    status = cavum_matrix_fail_damaged(path, error);
    goto done;
  }
  for (int i = 0; i < count; i++) {
    cavum_figure_id id = CAVUM_FIGURE_FREQUENCY;
    double unit = 1.0;
    CAVUM_TRY(cavum_figure_find(&id, &unit, keys[i], error));
    result->modes[mode].figures[id].basis = cavum_basis_of_word(words[i]);
  }
done:
  cavum_hdf5_free_texts(words, num_words);
  return status;
}

// A result with the figures of one mode; NULL where the file has none.
static cavum_status read_figures(cavum_result **result, int mode, const char *group,
                                 const read_place *at, cavum_error *error) {
  char **keys = NULL, path[PATH_SIZE];
  double *numbers = NULL;  // values, then uncertainties
  int count = 0;
  cavum_status status = CAVUM_OK;
  snprintf(path, sizeof path, "%s/key", group);
  if (!cavum_hdf5_has(at->file, read_path(at, path).text)) return CAVUM_OK;
  if (mode < 0 || mode >= MOST_MODES) return cavum_matrix_fail_damaged("/optimum/mode", error);
  CAVUM_TRY(cavum_hdf5_read_texts(&keys, &count, at->file, read_path(at, path).text, error));
  numbers = cavum_alloc(2 * (int64_t)count, sizeof *numbers);
  if (!numbers) CAVUM_TRY(cavum_fail_memory(error));
  snprintf(path, sizeof path, "%s/value", group);
  CAVUM_TRY(cavum_matrix_read(numbers, count, at->file, read_path(at, path).text, error));
  snprintf(path, sizeof path, "%s/uncertainty", group);
  CAVUM_TRY(cavum_matrix_read(numbers + count, count, at->file, read_path(at, path).text, error));
  CAVUM_TRY(fill_figures(result, mode, keys, count, numbers, numbers + count, error));
  CAVUM_TRY(read_bases(*result, mode, group, keys, count, at, error));
done:
  cavum_hdf5_free_texts(keys, count);
  free(numbers);
  return status;
}

static cavum_status take_other(void *row, const char *text, cavum_error *error) {
  cavum_optimum_cell *other = row;
  (void)error;
  snprintf(other->name, sizeof other->name, "%s", text);
  return CAVUM_OK;
}

static cavum_status read_others(cavum_optimum *o, const read_place *at, cavum_error *error) {
  char **texts = NULL;
  int count = 0;
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(at->file, read_path(at, "/optimum/cells/name").text)) return CAVUM_OK;
  CAVUM_TRY(read_rows((void **)&o->others, &o->num_others, sizeof *o->others, "/optimum/cells/name",
                      take_other, at, error));
  CAVUM_TRY(read_table(o->others, &OTHERS, o->num_others, at, error));
  CAVUM_TRY(cavum_hdf5_read_texts(&texts, &count, at->file,
                                  read_path(at, "/optimum/cells/cell_file").text, error));
  if (count != o->num_others)
    CAVUM_TRY(cavum_matrix_fail_damaged("/optimum/cells/cell_file", error));
  for (int c = 0; c < count; c++) {
    char group[PATH_SIZE];
    cavum_optimum_cell *other = &o->others[c];
    other->cell_text = texts[c];
    texts[c] = NULL;
    snprintf(group, sizeof group, "/optimum/cells/figures_%d", c + 1);
    CAVUM_TRY(read_figures(&other->result, other->mode, group, at, error));
    snprintf(group, sizeof group, "/optimum/cells/figures_before_%d", c + 1);
    CAVUM_TRY(read_figures(&other->before, other->mode, group, at, error));
  }
done:
  cavum_hdf5_free_texts(texts, count);
  return status;
}

static cavum_status read_search(cavum_optimum *o, const read_place *at, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(read_table(o, &FACTS, 1, at, error));
  if (cavum_hdf5_has(at->file, read_path(at, "/optimum/places_left_out").text)) {
    CAVUM_TRY(read_table(o, &LATER_FACTS, 1, at, error));
  }
  CAVUM_TRY(read_broken(o, at, error));
  CAVUM_TRY(read_vanishing(o, at, error));
  CAVUM_TRY(read_rows((void **)&o->variables, &o->num_variables, sizeof *o->variables,
                      "/optimum/dimensions/key", take_variable, at, error));
  CAVUM_TRY(read_table(o->variables, &VARIABLES, o->num_variables, at, error));
  CAVUM_TRY(read_rows((void **)&o->terms, &o->num_terms, sizeof *o->terms, "/optimum/objective/key",
                      take_term, at, error));
  CAVUM_TRY(read_table(o->terms, &TERMS, o->num_terms, at, error));
  if (cavum_hdf5_has(at->file, read_path(at, "/optimum/limits/key").text)) {
    CAVUM_TRY(read_rows((void **)&o->limits, &o->num_limits, sizeof *o->limits,
                        "/optimum/limits/key", take_limit, at, error));
    CAVUM_TRY(read_table(o->limits, &LIMITS, o->num_limits, at, error));
  }
  CAVUM_TRY(read_rows((void **)&o->starts, &o->num_starts, sizeof *o->starts, "/optimum/starts/end",
                      take_start, at, error));
  CAVUM_TRY(read_table(o->starts, &STARTS, o->num_starts, at, error));
  CAVUM_TRY(read_values(o, "/optimum/starts/first", o->num_starts, set_first, at, error));
  CAVUM_TRY(read_values(o, "/optimum/starts/last", o->num_starts, set_last, at, error));
  CAVUM_TRY(read_steps(o, at, error));
  CAVUM_TRY(read_figures(&o->before, o->mode, FIGURES_BEFORE, at, error));
  CAVUM_TRY(read_others(o, at, error));
  CAVUM_TRY(check_vanishing(o, error));
done:
  return status;
}

// The search for two ellipses behind a free wall that was taken.
static cavum_status read_two_ellipse(cavum_optimum *o, const cavum_hdf5_file *file,
                                     cavum_error *error) {
  const read_place at = {file, TWO_ELLIPSE};
  if (!o->free_wall.taken) return CAVUM_OK;
  cavum_optimum *two = cavum_alloc(1, sizeof *two);
  if (!two) return cavum_fail_memory(error);
  o->free_wall.two_ellipse_search = two;
  cavum_status status = read_search(two, &at, error);
  if (status == CAVUM_OK) status = read_figures(&two->result, two->mode, FIGURES, &at, error);
  return status;
}

cavum_status cavum_optimum_read(cavum_optimum **optimum, char **title, const cavum_hdf5_file *file,
                                cavum_error *error) {
  const read_place at = {file, OPTIMUM};
  char **titles = NULL;
  int count = 0;
  cavum_status status = CAVUM_OK;
  cavum_optimum *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_hdf5_read_texts(&titles, &count, file, "/optimum/title", error));
  if (count != 1) CAVUM_TRY(cavum_matrix_fail_damaged("/optimum/title", error));
  CAVUM_TRY(read_search(made, &at, error));
  CAVUM_TRY(read_two_ellipse(made, file, error));
  if (title) {
    *title = titles[0];
    titles[0] = NULL;
  }
  *optimum = made;
  made = NULL;
done:
  cavum_hdf5_free_texts(titles, count);
  cavum_optimum_destroy(&made);
  return status;
}
