// SPDX-License-Identifier: GPL-3.0-or-later
// One solve, and what a search takes of it.
#include "optimum/point.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/cell.h"
#include "cell/limits.h"
#include "optimum/mean_peak.h"
#include "optimum/rates.h"
#include "optimum/wall_bends.h"
#include "optimum/wall_places.h"
#include "solve/options.h"

// Part of what tolerances add at a place that is left of it at any other.
static const double LEAST_MARGIN = 0.5;

static cavum_status open_cell(cavum_optimum_solving *solving, int c,
                              const cavum_solve_options *options, cavum_error *error) {
  cavum_optimum_cell_solving *cell = &solving->cells[c];
  cavum_solve_options *own = &cell->options;
  const cavum_goal *goal = solving->goal;
  cavum_status status = cavum_solve_options_take(own, options, error);
  if (status != CAVUM_OK) return status;
  own->derivatives = true;
  own->coupling = goal->cells[c].study->coupling;
  own->coupling_of_inner_cell = goal->cells[c].study->coupling_of_inner_cell;
  own->derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->cell != c || q->is_of_wall || cavum_optimum_is_of_shape(q)) continue;
    cell->used = true;
    if (q->what.kind != CAVUM_REQUIRE_FIGURE) continue;
    own->derivatives_of |= UINT64_C(1) << q->what.figure;
    if (cavum_goal_peak(q) < 0) continue;
    own->derivatives_of |= UINT64_C(1) << CAVUM_FIGURE_EACC_AT_1_J;
    own->profiles = own->wall_derivatives = true;
    own->wall_derivatives_above = CAVUM_WALL_PLACES_ABOVE;
  }
  cell->whole = !own->use_symmetry;
  return cell->used ? cavum_solver_create(&cell->solver, own, error) : CAVUM_OK;
}

cavum_status cavum_optimum_solving_open(cavum_optimum_solving *solving, const cavum_goal *goal,
                                        const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  solving->goal = goal;
  solving->part = 1.0;
  for (int i = 0; i < CAVUM_GOAL_MOST_QUANTITIES; i++) solving->factor[i] = 1.0;
  for (int c = 0; c < goal->num_cells && status == CAVUM_OK; c++) {
    status = open_cell(solving, c, options, error);
  }
  return status;
}

void cavum_optimum_solving_forget(cavum_optimum_solving *solving) {
  for (int c = 0; c < CAVUM_GOAL_MOST_CELLS; c++) {
    if (solving->cells[c].solver) cavum_solver_forget(solving->cells[c].solver);
  }
  for (int i = 0; i < CAVUM_GOAL_MOST_QUANTITIES; i++) solving->factor[i] = 1.0;
}

void cavum_optimum_solving_never_stop(cavum_optimum_solving *solving) {
  for (int c = 0; c < CAVUM_GOAL_MOST_CELLS; c++) solving->cells[c].options.stop = NULL;
}

void cavum_optimum_solving_clear(cavum_optimum_solving *solving) {
  for (int c = 0; c < CAVUM_GOAL_MOST_CELLS; c++) cavum_solver_destroy(&solving->cells[c].solver);
}

void cavum_optimum_point_clear(cavum_optimum_point *point) {
  for (int i = 0; i < CAVUM_GOAL_MOST_QUANTITIES; i++) {
    free(point->values[i].places);
    free(point->values[i].points);
    free(point->values[i].bends);
  }
  *point = (cavum_optimum_point){0};
}

// True: copied, or there is nothing to copy.
static bool copy_list(void **copy, const void *list, cavum_index count, size_t size) {
  if (!list) return true;
  *copy = cavum_alloc(count, size);
  if (*copy) memcpy(*copy, list, (size_t)count * size);
  return *copy != NULL;
}

cavum_status cavum_optimum_point_copy(cavum_optimum_point *copy, const cavum_optimum_point *point,
                                      cavum_error *error) {
  cavum_optimum_point *made = cavum_alloc(1, sizeof *made);
  cavum_status status = made ? CAVUM_OK : cavum_fail_memory(error);
  if (!made) return status;
  *made = *point;
  for (int i = 0; i < CAVUM_GOAL_MOST_QUANTITIES; i++) {
    const cavum_optimum_value *v = &point->values[i];
    cavum_optimum_value *to = &made->values[i];
    to->places = NULL;
    to->points = NULL;
    to->bends = NULL;
    if (status != CAVUM_OK) continue;
    bool good = copy_list((void **)&to->places, v->places, v->num_places, sizeof *v->places) &&
                copy_list((void **)&to->points, v->points, v->num_points, sizeof *v->points) &&
                copy_list((void **)&to->bends, v->bends, v->num_bends, sizeof *v->bends);
    if (!good) status = cavum_fail_memory(error);
  }
  if (status == CAVUM_OK) *copy = *made;
  if (status != CAVUM_OK) cavum_optimum_point_clear(made);
  free(made);
  return status;
}

bool cavum_optimum_is_no_shape(cavum_status status) {
  return status == CAVUM_ERR_GEOMETRY || status == CAVUM_ERR_MESH || status == CAVUM_ERR_RANGE ||
         status == CAVUM_ERR_INCOMPLETE || status == CAVUM_ERR_LIBRARY;
}

/** What the taking of one result shares. */
typedef struct taking {
  const cavum_goal *goal;
  const cavum_result *result;
  const cavum_optimum_rates *rates;
  int mode;
} taking;

// Derivative of a figure of the mode, or of k_cc.
static cavum_derivative derivative_of(const taking *t, const cavum_requirement *what, int k) {
  if (what->kind == CAVUM_REQUIRE_K_CC) return cavum_result_coupling_derivative(t->result, k);
  return cavum_result_derivative(t->result, t->mode, k, what->figure);
}

static cavum_status take_slopes(cavum_optimum_value *value, const taking *t,
                                const cavum_goal_quantity *q, cavum_error *error) {
  value->has_slope = true;
  for (int k = 0; k < t->rates->num_dimensions; k++) {
    if (!t->rates->moves[k]) continue;
    cavum_derivative d = derivative_of(t, &q->what, k);
    if (d.state != CAVUM_FIGURE_PRESENT && cavum_goal_peak(q) >= 0) {
      value->has_slope = false;
      return CAVUM_OK;
    }
    if (d.state != CAVUM_FIGURE_PRESENT) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "%s has no derivative by %s%s%s", q->what.key,
                        t->result->dimensions[k].key, d.reason ? ": " : "",
                        d.reason ? d.reason : "");
    }
    for (int j = 0; j < t->goal->num_variables; j++) {
      value->slope[j] += d.value * t->rates->by[k][j];
    }
  }
  return CAVUM_OK;
}

static cavum_status take_figure(cavum_optimum_value *value, bool *needs_whole, const taking *t,
                                const cavum_goal_quantity *q, cavum_error *error) {
  bool known = true, of_mode = q->what.kind == CAVUM_REQUIRE_FIGURE;
  cavum_figure figure =
      of_mode ? cavum_mode_figure(&t->result->modes[t->mode], q->what.figure) : t->result->coupling;
  int peak = cavum_goal_peak(q);
  if (figure.state == CAVUM_FIGURE_UNBOUNDED) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT, "mode %d: %s is unbounded, at a corner at z = %.6g mm, r = %.6g mm",
        t->mode + 1, q->what.key, cavum_in_mm(figure.at.z_m), cavum_in_mm(figure.at.r_m));
  }
  if (figure.state != CAVUM_FIGURE_PRESENT) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "mode %d has no %s", t->mode + 1, q->what.key);
  }
  value->value = value->figure = figure.value;
  value->uncertainty = figure.uncertainty;
  cavum_status status = take_slopes(value, t, q, error);
  if (status != CAVUM_OK || peak < 0) return status;
  value->num_wall_points = t->result->modes[t->mode].wall.num_points;
  status = cavum_wall_places_list(value, &known, t->result, t->mode, peak == 0, t->rates,
                                  q->cell == 0 ? t->goal->tolerances : NULL, t->goal->num_variables,
                                  error);
  if (status == CAVUM_OK && t->goal->robust == CAVUM_ROBUST_MEAN && q->cell == 0) {
    status = cavum_wall_points_list(value, t->result, t->mode, peak == 0, t->rates,
                                    t->goal->tolerances, t->goal->num_variables, error);
  }
  if (status != CAVUM_OK) return status;
  bool spread = !t->goal->is_apart || q->cell > 0 || cavum_optimum_has_place_spreads(q, value);
  if (known && (spread || !t->result->half_model)) return CAVUM_OK;
  if (t->result->half_model) {
    *needs_whole = true;
    return CAVUM_OK;
  }
  if (value->has_slope) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s has no derivative: the peak stands at two places, and the field along the "
                    "wall has none",
                    q->what.key);
}

static int shape_of(const cavum_goal_quantity *q) {
  int kind = (int)q->what.kind - (int)CAVUM_REQUIRE_WALL_ANGLE;
  return kind >= 0 && !q->is_of_wall ? kind + (int)CAVUM_GEOMETRY_WALL_ANGLE : -1;
}

static cavum_status take_shape(cavum_optimum_value *value, const cavum_goal *goal,
                               const cavum_geometry *g, const cavum_optimum_rates *rates,
                               const cavum_goal_quantity *q, cavum_error *error) {
  int id = shape_of(q);
  if (!isfinite(g->value[id])) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the cell has no %s", q->what.key);
  }
  value->value = value->figure = g->value[id];
  value->uncertainty = g->uncertainty[id];
  value->has_slope = true;
  for (int k = 0; k < g->num_dimensions; k++) {
    if (!rates->moves[k]) continue;
    double slope = g->slope[k * CAVUM_GEOMETRY_ROOM + id];
    if (!isfinite(slope)) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s has no derivative by %s: two places have the smallest value",
                        q->what.key, g->dimensions[k].key);
    }
    for (int j = 0; j < goal->num_variables; j++) value->slope[j] += slope * rates->by[k][j];
  }
  return CAVUM_OK;
}

bool cavum_optimum_is_of_shape(const cavum_goal_quantity *quantity) {
  return shape_of(quantity) >= 0;
}

static bool has_shapes(const cavum_goal *goal, int c) {
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->cell == c && cavum_optimum_is_of_shape(q)) return true;
  }
  return false;
}

static cavum_status take_shapes(cavum_optimum_point *point, const cavum_goal *goal, int c,
                                const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_geometry *g = NULL;
  cavum_optimum_rates rates = {0};
  if (!has_shapes(goal, c)) return CAVUM_OK;
  CAVUM_TRY(cavum_geometry_measure(&g, cell, true, error));
  CAVUM_TRY(cavum_optimum_rates_make(&rates, goal, c, point->place, g->dimensions,
                                     g->num_dimensions, error));
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->cell != c || shape_of(q) < 0) continue;
    CAVUM_TRY(take_shape(&point->values[i], goal, g, &rates, q, error));
  }
done:
  cavum_optimum_rates_clear(&rates);
  cavum_geometry_destroy(&g);
  return status;
}

static cavum_status take_figures(cavum_optimum_point *point, bool *needs_whole,
                                 const cavum_goal *goal, int c, const cavum_result *result,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_optimum_rates rates = {0};
  const taking t = {goal, result, &rates, goal->cells[c].study->mode};
  if (t.mode >= result->num_modes) {
    return cavum_fail(error, CAVUM_ERR_INCOMPLETE, "mode %d was not found", t.mode + 1);
  }
  CAVUM_TRY(cavum_optimum_rates_make(&rates, goal, c, point->place, result->dimensions,
                                     result->num_dimensions, error));
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->cell != c || q->is_of_wall || shape_of(q) >= 0) continue;
    CAVUM_TRY(take_figure(&point->values[i], needs_whole, &t, q, error));
  }
done:
  cavum_optimum_rates_clear(&rates);
  return status;
}

// Halves that agree in a dimension of which one errs alone differ by a part that no figure shows:
// each has derivatives of its own then, and the cell is solved as a whole.
static cavum_status tell_halves_apart(cavum_cell *apart, const cavum_goal *goal, int c,
                                      const cavum_cell *cell, cavum_error *error) {
  static const double APART = 1e-10;
  const cavum_tolerances *tolerances = goal->is_apart && c == 0 ? goal->tolerances : NULL;
  cavum_status status = CAVUM_OK;
  *apart = *cell;  // numbers of two ellipses are members, all else is borrowed
  if (!tolerances || cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE) return CAVUM_OK;
  for (int t = 0; t < tolerances->count && status == CAVUM_OK; t++) {
    const char *key = tolerances->list[t].key, *both = cavum_optimum_key_of_both(key);
    double value;
    if (!both || cavum_cell_get(&value, apart, both, NULL) != CAVUM_OK) continue;
    status = cavum_cell_set(apart, key, value * (1.0 + (t + 1) * APART), error);
  }
  return status;
}

// Solves a cell; a result that did not reach its accuracy is one as well.
static cavum_status solve(cavum_result **result, cavum_optimum_solving *solving, int c,
                          const cavum_cell *cell, cavum_error *error) {
  cavum_status status = cavum_solver_solve(result, solving->cells[c].solver, cell, error);
  solving->num_solves += *result != NULL;
  return status == CAVUM_ERR_NOT_CONVERGED && *result ? CAVUM_OK : status;
}

static cavum_status use_whole(cavum_optimum_cell_solving *cell, cavum_error *error) {
  cell->whole = true;
  cell->options.use_symmetry = false;
  cavum_solver_destroy(&cell->solver);
  return cavum_solver_create(&cell->solver, &cell->options, error);
}

static void clear_values(cavum_optimum_point *point, const cavum_goal *goal, int c) {
  for (int i = 0; i < goal->num_quantities; i++) {
    if (goal->quantities[i].cell != c) continue;
    free(point->values[i].places);
    free(point->values[i].points);
    free(point->values[i].bends);
    point->values[i] = (cavum_optimum_value){0};
  }
}

static cavum_status take(cavum_optimum_point *made, cavum_optimum_solving *solving, int c,
                         const cavum_cell *cell, cavum_error *error) {
  bool needs_whole = false;
  cavum_cell apart;
  cavum_result *result = NULL;
  const cavum_goal *goal = solving->goal;
  cavum_status status = take_shapes(made, goal, c, cell, error);
  if (status == CAVUM_OK) status = cavum_wall_bends_take(made, goal, c, cell, error);
  if (status != CAVUM_OK || !solving->cells[c].used) return status;
  status = tell_halves_apart(&apart, goal, c, cell, error);
  if (status == CAVUM_OK) status = solve(&result, solving, c, &apart, error);
  if (status == CAVUM_OK) status = take_figures(made, &needs_whole, goal, c, result, error);
  cavum_result_destroy(&result);
  if (status != CAVUM_OK || !needs_whole || solving->cells[c].whole) return status;
  // From here on without the mirror plane: a dimension of one side has no derivatives there.
  clear_values(made, goal, c);
  status = use_whole(&solving->cells[c], error);
  return status == CAVUM_OK ? take(made, solving, c, cell, error) : status;
}

// Modes above the one whose figures are asked for would need higher degrees, and derivatives of
// their own: they are left out here, and are there in the result of the best cell.
static cavum_status make_cell(cavum_cell *cell, bool *owned, const cavum_goal *goal, int c,
                              const double *place, cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  const cavum_study *study = goal->cells[c].study;
  cavum_optimum_inputs(values, goal, place);
  cavum_status status = cavum_study_apply(cell, owned, study, values, error);
  if (status == CAVUM_OK) cavum_cell_drop_modes(cell, study->mode + 1);
  // A linked dimension outside of what it may be, a path that cannot exist.
  return cavum_status_as(status, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, error);
}

// The same of a shape that a search may go to: no piece of its wall vanishes.
static cavum_status make_shape(cavum_cell *cell, bool *owned, const cavum_goal *goal, int c,
                               const double *place, cavum_error *error) {
  char vanishes[CAVUM_VANISHING_SIZE];
  cavum_optimum_piece piece = {.cell = c};
  cavum_status status = make_cell(cell, owned, goal, c, place, error);
  if (status != CAVUM_OK) return status;
  status = cavum_vanishing_find(&piece, cell, &goal->cells[c].study->cell, 1.0, error);
  if (status == CAVUM_OK && !piece.key[0]) return CAVUM_OK;
  if (*owned) cavum_cell_clear(cell);
  *owned = false;
  if (status != CAVUM_OK) return status;
  cavum_vanishing_tell(vanishes, &piece);
  return cavum_fail(error, CAVUM_ERR_GEOMETRY, "%s", vanishes);
}

cavum_status cavum_optimum_find_vanishing(cavum_optimum_piece *piece, const cavum_goal *goal,
                                          const double *place, cavum_error *error) {
  // The search ends nearer to it than this.
  static const double NEAR = 1.5;
  cavum_status status = CAVUM_OK;
  *piece = (cavum_optimum_piece){.cell = 0};
  for (int c = 0; c < goal->num_cells && status == CAVUM_OK && !piece->key[0]; c++) {
    cavum_cell cell;
    bool owned = false;
    status = make_cell(&cell, &owned, goal, c, place, error);
    if (status != CAVUM_OK) return status;
    piece->cell = c;
    status = cavum_vanishing_find(piece, &cell, &goal->cells[c].study->cell, NEAR, error);
    if (owned) cavum_cell_clear(&cell);
  }
  return status;
}

cavum_status cavum_optimum_try_contours(const cavum_goal *goal, const double *place,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int c = 0; c < goal->num_cells && status == CAVUM_OK; c++) {
    cavum_cell cell;
    cavum_contour contour = {0};
    bool owned = false;
    status = make_cell(&cell, &owned, goal, c, place, error);
    if (status != CAVUM_OK) return status;
    if (cell.kind != CAVUM_CONTOUR_MESH_FILE) {
      status = cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, error);
    }
    cavum_contour_clear(&contour);
    if (owned) cavum_cell_clear(&cell);
  }
  return status;
}

double cavum_optimum_margin(const cavum_goal *goal, const cavum_goal_quantity *quantity,
                            const double *place) {
  const cavum_goal_margin *m = &quantity->margin;
  double margin = m->value;
  for (int j = 0; j < goal->num_variables; j++) margin += m->slope[j] * (place[j] - m->at[j]);
  if (goal->robust == CAVUM_ROBUST_MEAN) return margin;
  // Far off the line would say that nothing errs.
  return cavum_max(margin, LEAST_MARGIN * m->value);
}

// Which way tolerances change a figure: in the worst case for the worse.
static double sign_of_margin(const cavum_goal *goal, const cavum_goal_quantity *q) {
  return goal->robust == CAVUM_ROBUST_MEAN ? 1.0 : q->worse;
}

bool cavum_optimum_margin_is_of_square(const cavum_goal *goal, const cavum_goal_quantity *q) {
  return goal->robust == CAVUM_ROBUST_WORST && q->what.kind == CAVUM_REQUIRE_STRAIGHT_LENGTH;
}

// A figure with what tolerances add to it or to its square, and its derivative by that sum.
static double add_to(double *slope_by_before, double *slope_by_added, const cavum_goal *goal,
                     const cavum_goal_quantity *q, double before, double added) {
  // Keeps the slope of the root finite.
  static const double LEAST_ROOT_M = 1e-9;
  *slope_by_before = *slope_by_added = 1.0;
  if (!cavum_optimum_margin_is_of_square(goal, q)) return before + added;
  double square = before * fabs(before) + added;
  double root = cavum_max(sqrt(fabs(square)), LEAST_ROOT_M);
  *slope_by_before = fabs(before) / root;
  *slope_by_added = 0.5 / root;
  return copysign(root, square);
}

static cavum_status measure_cell(double *values, const cavum_goal *goal, int c, const double *place,
                                 cavum_error *error) {
  cavum_cell cell;
  bool owned = false;
  cavum_geometry *g = NULL;
  if (!has_shapes(goal, c)) return CAVUM_OK;
  cavum_status status = make_shape(&cell, &owned, goal, c, place, error);
  if (status != CAVUM_OK) return status;
  status = cavum_geometry_measure(&g, &cell, false, error);
  for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
    int id = shape_of(&goal->quantities[i]);
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->cell != c || id < 0) continue;
    double added = sign_of_margin(goal, q) * cavum_optimum_margin(goal, q, place), unused[2];
    values[i] =
        added == 0.0 ? g->value[id] : add_to(&unused[0], &unused[1], goal, q, g->value[id], added);
  }
  cavum_geometry_destroy(&g);
  if (owned) cavum_cell_clear(&cell);
  return cavum_status_as(status, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, error);
}

cavum_status cavum_optimum_measure(double *values, const cavum_goal *goal, const double *place,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int c = 0; c < goal->num_cells && status == CAVUM_OK; c++) {
    status = measure_cell(values, goal, c, place, error);
  }
  return status;
}

// How what tolerances add at a place changes: as at the nearest place that is known.
static const cavum_goal_place_margin *nearest_margin(const cavum_goal_margin *margin,
                                                     cavum_index point) {
  const cavum_goal_place_margin *nearest = NULL;
  for (int k = 0; k < margin->num_places; k++) {
    const cavum_goal_place_margin *m = &margin->places[k];
    if (!nearest || abs(m->point - point) < abs(nearest->point - point)) nearest = m;
  }
  return nearest;
}

bool cavum_optimum_has_place_spreads(const cavum_goal_quantity *q, const cavum_optimum_value *v) {
  return q->by_places && v->num_places > 0 && !isnan(v->places[0].spread);
}

// A peak in the worst case is the largest over the places of each with its own margin: another
// place than the nominal peak perhaps.
static void add_place_margins(cavum_optimum_value *v, const cavum_goal_quantity *q,
                              double deviations, int num_variables) {
  double before = v->value, most = 0.0;
  int top = 0;
  for (int k = 0; k < v->num_places; k++) {
    cavum_optimum_place *p = &v->places[k];
    const cavum_goal_place_margin *m = nearest_margin(&q->margin, p->point);
    double here = before * exp(p->below), worst = here * (1.0 + deviations * p->spread);
    for (int j = 0; j < num_variables; j++) {
      p->slope[j] = (here * p->slope[j] + (m ? m->slope[j] : 0.0)) / worst;
    }
    p->below = worst;
    if (worst > most) top = k;
    most = cavum_max(most, worst);
  }
  for (int k = 0; k < v->num_places; k++) v->places[k].below = log(v->places[k].below / most);
  for (int j = 0; j < num_variables; j++) v->slope[j] = most * v->places[top].slope[j];
  v->margin = most - before;
  v->value = most;
  v->figure *= most / before;
}

// A figure in the worst case or its mean: what tolerances add.
static cavum_status add_margin(cavum_optimum_value *v, const cavum_goal *goal,
                               const cavum_goal_quantity *q, const double *place,
                               cavum_error *error) {
  int n = goal->num_variables;
  if (!goal->is_robust) return CAVUM_OK;
  double margin = cavum_optimum_margin(goal, q, place), sign = sign_of_margin(goal, q);
  if (cavum_optimum_has_place_spreads(q, v)) {
    if (goal->robust == CAVUM_ROBUST_MEAN) return cavum_mean_peak_take(v, goal, q, margin, error);
    add_place_margins(v, q, goal->deviations, n);
    return CAVUM_OK;
  }
  if (margin == 0.0) return CAVUM_OK;
  double added = sign * margin, before = v->value, by_before, by_added;
  double after = add_to(&by_before, &by_added, goal, q, before, added);
  for (int k = 0; k < v->num_places; k++) {
    cavum_optimum_place *p = &v->places[k];
    double here = before * exp(p->below);
    for (int j = 0; j < n; j++) {
      p->slope[j] = (here * p->slope[j] + sign * q->margin.slope[j]) / (here + added);
    }
    p->below = log((here + added) / after);
  }
  for (int j = 0; j < n; j++) {
    v->slope[j] = by_before * v->slope[j] + by_added * sign * q->margin.slope[j];
  }
  v->margin = sign * (after - before);
  v->value = after;
  v->figure += after - before;
  return CAVUM_OK;
}

// How far two solves of neighbours may differ in each value.
static cavum_status take_noise(cavum_optimum_point *made, const cavum_optimum_solving *solving,
                               cavum_error *error) {
  const cavum_goal *goal = solving->goal;
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
    cavum_optimum_value *v = &made->values[i];
    if (v->num_places > 0) v->value *= solving->factor[i];
    for (cavum_index k = 0; k < v->num_points; k++) v->points[k].value *= solving->factor[i];
    v->noise = v->uncertainty + fabs(v->value - v->figure);
    // E is not quite continuous from element to element.
    double accuracy = cavum_goal_study_of(goal, &goal->quantities[i])->cell.accuracy_other_figures;
    accuracy = cavum_max(solving->part * accuracy, CAVUM_ACCURACY_FIGURES_LEAST);
    if (v->num_places > 0) v->noise = cavum_max(v->noise, accuracy * v->value);
    status = add_margin(v, goal, &goal->quantities[i], made->place, error);
  }
  return status;
}

// A cell may not ask for less than that.
static void ask_for_part(cavum_cell *cell, double part) {
  cell->accuracy_frequency =
      cavum_max(part * cell->accuracy_frequency, CAVUM_ACCURACY_FREQUENCY_LEAST);
  cell->accuracy_other_figures =
      cavum_max(part * cell->accuracy_other_figures, CAVUM_ACCURACY_FIGURES_LEAST);
}

cavum_status cavum_optimum_point_solve(cavum_optimum_point *point, cavum_optimum_solving *solving,
                                       const double *place, cavum_error *error) {
  const cavum_goal *goal = solving->goal;
  cavum_status status = CAVUM_OK;
  cavum_optimum_point *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  memcpy(made->place, place, (size_t)goal->num_variables * sizeof *place);
  for (int c = 0; c < goal->num_cells && status == CAVUM_OK; c++) {
    cavum_cell cell;
    bool owned = false;
    status = make_shape(&cell, &owned, goal, c, place, error);
    if (status != CAVUM_OK) break;
    ask_for_part(&cell, solving->part);
    status = take(made, solving, c, &cell, error);
    if (owned) cavum_cell_clear(&cell);
  }
  if (status == CAVUM_OK) status = take_noise(made, solving, error);
  if (status == CAVUM_OK) *point = *made;
  if (status != CAVUM_OK) cavum_optimum_point_clear(made);
  free(made);
  return status;
}
