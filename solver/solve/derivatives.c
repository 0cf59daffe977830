// SPDX-License-Identifier: GPL-3.0-or-later
// From the modes of a solution to derivatives of figures by dimensions.
#include "solve/derivatives.h"

#include <string.h>

#include "base/base.h"
#include "cavum/wall.h"
#include "cell/dimension.h"
#include "figures/sharp_corner.h"
#include "solve/accuracy.h"
#include "solve/figure_chain.h"
#include "solve/figure_policy.h"
#include "solve/mode_history.h"
#include "solve/wall_adjoints.h"
#include "solve/wall_rates.h"

// Modes of one symmetry closer than this, relative in k^2, are told apart by rounding alone.
static const double DEGENERATE = 1e-8;
// Rounding of a derivative, of the sum of the sizes of what it is the sum of.
static const double ROUNDING = 1e-11;

// Part of the error of a vector that is left when it was polished.
static const double POLISHED_PART = 1e-2;
// Figures are quadratic in the vector, and their derivatives once more linear.
static const double VECTOR_FACTOR = 6.0;

// On a smooth contour two degrees are enough: a derivative falls as its figure does, which is known
// at three. No faster than this, so that a change is not small by the luck of the figure; nor is it
// by its own luck below this part of the largest change by a dimension of its unit. Where the
// figure says nothing, by this ratio.
static const double FALL_LEAST = 0.08, CHANGE_PART = 0.02, FALL_UNKNOWN = 0.5, FALL_MOST = 0.95;
enum { DEGREES_ON_SMOOTH = 2 };

// Rates of one peak at two places that differ by less, of their terms, are the same.
static const double SAME_RATE = 1e-5;
// Distance from the mirror plane, of the radius, up to which a peak stands on it.
static const double ON_PLANE = 1e-6;

static const char *const REASON_TWO_PLACES = "the peak stands at two places";
static const char *const REASON_NOT_DIFFERENTIATED = "it is not differentiated";
static const char *const REASON_SHAPE = "the contour does not change smoothly with it";
static const char *const REASON_NOT_ASKED = "it was not asked for";
static const char *const REASON_DEGENERATE = "another mode has the same frequency";

// The figures that are peaks: of E, of H.
enum { NUM_PEAKS = 2 };
static const cavum_mode_part PEAK_PARTS[NUM_PEAKS] = {CAVUM_PART_PEAK_E, CAVUM_PART_PEAK_H},
                             OTHER_PARTS[NUM_PEAKS] = {CAVUM_PART_OTHER_E, CAVUM_PART_OTHER_H};

// How everything moves with the dimensions.
typedef struct motion {
  cavum_cell_dimensions dimensions;  // owned
  cavum_index num_curves;
  cavum_curve_rate *rates;  // owned, [count][num_curves]
  cavum_cell_rate *others;  // owned, [count]
  bool *smooth;             // owned, [count]
} motion;

static void clear_motion(motion *m) {
  cavum_cell_dimensions_clear(&m->dimensions);
  free(m->rates);
  free(m->others);
  free(m->smooth);
}

static cavum_status make_motion(motion *m, const cavum_problem *s, cavum_error *error) {
  const cavum_mesh *mesh = &s->memory->mesh;
  const cavum_contour contour = {mesh->num_curves, mesh->curves};
  cavum_cell_part part = s->half_model ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE;
  cavum_status status = cavum_cell_dimensions_list(&m->dimensions, s->cell, error);
  if (status != CAVUM_OK) return status;
  int count = m->dimensions.count;
  m->num_curves = mesh->num_curves;
  m->rates = cavum_alloc((int64_t)count * mesh->num_curves, sizeof *m->rates);
  m->others = cavum_alloc(count, sizeof *m->others);
  m->smooth = cavum_alloc(count, sizeof *m->smooth);
  if (!m->rates || !m->others || !m->smooth) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    status = cavum_cell_dimension_rate(m->rates + (int64_t)i * m->num_curves, &m->others[i],
                                       &m->smooth[i], &contour, s->cell, part,
                                       &m->dimensions.list[i], error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status fill_dimensions(cavum_result *result, const motion *m, cavum_error *error) {
  int count = m->dimensions.count;
  result->dimensions = cavum_alloc(count, sizeof *result->dimensions);
  if (!result->dimensions) return cavum_fail_memory(error);
  result->num_dimensions = count;
  for (int i = 0; i < count; i++) {
    result->dimensions[i] = cavum_cell_dimension_describe(&m->dimensions.list[i]);
  }
  return CAVUM_OK;
}

// Some other mode of the same symmetry has the same frequency.
static bool is_degenerate(const cavum_modes *modes, int index) {
  double own = modes->k2_per_m2[index];
  for (int i = 0; i < modes->count; i++) {
    if (i != index && fabs(modes->k2_per_m2[i] - own) < DEGENERATE * own) return true;
  }
  return false;
}

// Values of one derivative at the degrees of up to two solutions.
typedef struct sequence {
  int count;
  double value[2 * CAVUM_LEVELS_MOST], error[2 * CAVUM_LEVELS_MOST];
} sequence;

static void append(sequence *s, double value, double error) {
  s->value[s->count] = value;
  s->error[s->count++] = error;
}

// Sequences of all derivatives of one mode, by dimension and figure, and why there are none.
typedef struct mode_work {
  const motion *motion;
  uint64_t figures;                          // that are asked for, one bit each
  sequence (*values)[CAVUM_NUM_FIGURES];     // owned, [dimensions]
  const char *(*reason)[CAVUM_NUM_FIGURES];  // owned, likewise; NULL: there is one
  sequence (*other)[NUM_PEAKS];              // owned: of peaks at their second place
  bool (*is_split)[NUM_PEAKS];               // owned: whether that changes otherwise
  cavum_peak_places peaks;
} mode_work;

// Which of the peaks a figure is; -1: none.
static int peak_of(int id) {
  return id == CAVUM_FIGURE_EPK_OVER_EACC ? 0 : id == CAVUM_FIGURE_BPK_OVER_EACC ? 1 : -1;
}

// Change of the logarithm of a number by a dimension, and the size of what it is the sum of.
typedef struct log_rate {
  double value, size;
} log_rate;

static log_rate rate_of_part(const cavum_mode_functional *part, const motion *m, int dimension) {
  const cavum_curve_rate *rates = m->rates + (int64_t)dimension * m->num_curves;
  double size, sum = cavum_mesh_gradient_dot(&size, &part->gradient, rates);
  double by_beta = part->by_beta * m->others[dimension].beta;
  return (log_rate){(sum + by_beta) / part->value, (size + fabs(by_beta)) / fabs(part->value)};
}

// The accelerating length is given, a sum of half lengths, or beta lambda / 2.
static log_rate rate_of_length(const cavum_mode_values *values, const cavum_cell *cell,
                               const log_rate *k2, const cavum_cell_rate *other) {
  bool from_shape = cell->accelerating_length_m > 0.0 || cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  double fixed = other->accelerating_length_m / values->length.value_m;
  if (from_shape) return (log_rate){fixed, fabs(fixed)};
  double beta = other->beta / cell->beta;
  return (log_rate){beta - 0.5 * k2->value, fabs(beta) + 0.5 * k2->size};
}

// d log R_s / d log f of the wall, from the formula alone.
static double resistance_power(const cavum_cell *cell, double frequency_hz) {
  static const double steps[2] = {1e-3, 2e-3};
  double slope[2];
  if (cell->wall.kind != CAVUM_WALL_METAL && cell->wall.kind != CAVUM_WALL_NIOBIUM) return 0.0;
  for (int i = 0; i < 2; i++) {
    double more, less, h = steps[i];
    bool holds =
        cavum_wall_resistance(&more, NULL, &cell->wall, frequency_hz * (1.0 + h), NULL) ==
            CAVUM_OK &&
        cavum_wall_resistance(&less, NULL, &cell->wall, frequency_hz * (1.0 - h), NULL) == CAVUM_OK;
    if (!holds) return NAN;
    slope[i] = (more - less) / (2.0 * h);
  }
  double at;
  if (cavum_wall_resistance(&at, NULL, &cell->wall, frequency_hz, NULL) != CAVUM_OK) return NAN;
  return (4.0 * slope[0] - slope[1]) / (3.0 * at);
}

// Value of a figure at a degree. That of a peak of E may have come from a region of its own.
static double value_of(cavum_figure_id id, const cavum_mode_values *values,
                       const cavum_mode_functionals *f) {
  const cavum_figure *eacc = &values->figures[CAVUM_FIGURE_EACC_AT_1_J];
  if (id == CAVUM_FIGURE_EPK_OVER_EACC) return f->parts[CAVUM_PART_PEAK_E].value / eacc->value;
  return values->figures[id].value;
}

// The reason for a figure to have no derivative, or NULL.
static const char *reason_for(const cavum_figure_chain *chain, const cavum_mode_functionals *f) {
  if (!chain->known) return REASON_NOT_DIFFERENTIATED;
  for (int j = 0; j < CAVUM_NUM_MODE_PARTS; j++) {
    if (chain->power[j] == 0.0) continue;
    bool as_integral = j == CAVUM_PART_SIZES && f->sizes_as_integral;
    const cavum_mode_functional *part = &f->parts[as_integral ? (int)CAVUM_PART_INTEGRAL : j];
    if (!part->exists) return REASON_NOT_DIFFERENTIATED;
    if (part->reason) return part->reason;
  }
  return NULL;
}

static bool is_asked(uint64_t figures, int id) { return figures >> id & 1; }

// The parts of the figures that are asked for.
static void list_needed(bool needed[CAVUM_NUM_MODE_PARTS], uint64_t figures) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!is_asked(figures, id)) continue;
    cavum_figure_chain chain = cavum_figure_chain_of((cavum_figure_id)id, 1.0);
    for (int j = 0; j < CAVUM_NUM_MODE_PARTS; j++) {
      needed[j] = needed[j] || (chain.known && chain.power[j] != 0.0);
    }
  }
}

// Rates of all parts and of the accelerating length by all dimensions.
typedef struct part_rates {
  log_rate (*parts)[CAVUM_NUM_MODE_PARTS];  // owned, [dimensions]
  log_rate *length;                         // owned, likewise
} part_rates;

static log_rate rate_of_figure(const cavum_figure_chain *chain, const part_rates *rates, int i) {
  log_rate sum = {chain->length_power * rates->length[i].value,
                  fabs(chain->length_power) * rates->length[i].size};
  for (int j = 0; j < CAVUM_NUM_MODE_PARTS; j++) {
    if (chain->power[j] == 0.0) continue;
    sum.value += chain->power[j] * rates->parts[i][j].value;
    sum.size += fabs(chain->power[j]) * rates->parts[i][j].size;
  }
  return sum;
}

// A peak that stands at two places has one derivative where both have the same.
static bool is_split(int peak, const part_rates *rates, int i) {
  const log_rate *a = &rates->parts[i][PEAK_PARTS[peak]], *b = &rates->parts[i][OTHER_PARTS[peak]];
  return fabs(a->value - b->value) > SAME_RATE * cavum_max(a->size, b->size);
}

// Of the sizes of what the derivatives of a figure by dimensions of one unit are sums of, the
// largest: what is left of a vector that was not solved for exactly is about the same in all of
// them, also where one happens to be small.
static void find_sizes(double largest[CAVUM_NUM_UNITS], const mode_work *w,
                       const cavum_figure_chain *chain, const part_rates *rates) {
  for (int unit = 0; unit < CAVUM_NUM_UNITS; unit++) largest[unit] = 0.0;
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    double *of_unit = &largest[w->motion->dimensions.list[i].unit];
    *of_unit = cavum_max(*of_unit, rate_of_figure(chain, rates, i).size);
  }
}

// A figure that is a peak, with its second place in place of the first.
static void take_other(mode_work *w, int peak, int i, double value, const log_rate *rate,
                       const part_rates *rates, double error) {
  double own = rates->parts[i][PEAK_PARTS[peak]].value;
  double more = rates->parts[i][OTHER_PARTS[peak]].value - own;
  w->is_split[i][peak] = is_split(peak, rates, i);
  append(&w->other[i][peak], value * (rate->value + more), error);
}

static void take_figure(mode_work *w, cavum_figure_id id, const cavum_figure_chain *chain,
                        const cavum_mode_functionals *f, const part_rates *rates, double value,
                        double vector_error) {
  const char *reason = reason_for(chain, f);
  int peak = peak_of((int)id);
  double sizes[CAVUM_NUM_UNITS];
  find_sizes(sizes, w, chain, rates);
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    w->reason[i][id] = reason;
    if (reason) continue;
    log_rate rate = rate_of_figure(chain, rates, i);
    double size = sizes[w->motion->dimensions.list[i].unit];
    double error = fabs(value) * size * (VECTOR_FACTOR * vector_error + ROUNDING);
    append(&w->values[i][id], value * rate.value, error);
    if (peak >= 0 && f->parts[OTHER_PARTS[peak]].exists) {
      take_other(w, peak, i, value, &rate, rates, error);
    }
  }
}

static void fill_rates(part_rates *rates, const cavum_mode_functionals *f,
                       const cavum_mode_values *values, const cavum_cell *cell, const motion *m) {
  for (int i = 0; i < m->dimensions.count; i++) {
    log_rate *parts = rates->parts[i];
    for (int j = 0; j < CAVUM_NUM_MODE_PARTS; j++) {
      if (f->parts[j].exists) parts[j] = rate_of_part(&f->parts[j], m, i);
    }
    if (f->sizes_as_integral) parts[CAVUM_PART_SIZES] = parts[CAVUM_PART_INTEGRAL];
    rates->length[i] = rate_of_length(values, cell, &parts[CAVUM_PART_K2], &m->others[i]);
  }
}

// What the adjoint solves leave. Those of higher modes fall more slowly than their last step
// predicts, beside the modes below: five in 200 of these left 2 to 10 times what was asked of them.
static double adjoint_error(const cavum_problem *s, const cavum_solution_mode *mode) {
  const double of_higher_modes = 4.0;
  double accuracy = cavum_mode_functionals_accuracy(s->cell);
  return (mode->index > 0 ? of_higher_modes : 1.0) * accuracy / VECTOR_FACTOR;
}

// Takes in one degree of one mode.
static cavum_status take_degree(mode_work *w, const cavum_problem *s,
                                const cavum_solution *solution, int mode, int below,
                                const cavum_mode_functionals *f, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_values *values = &solution->modes[mode].values[below];
  int count = w->motion->dimensions.count;
  double vector_error = cavum_solution_vector_error(solution, mode, below);
  if (cavum_mode_functionals_polish(s->cell)) vector_error *= POLISHED_PART;
  vector_error += values->mixing + adjoint_error(s, &solution->modes[mode]);
  double resistance = resistance_power(s->cell, values->figures[CAVUM_FIGURE_FREQUENCY].value);
  part_rates rates = {.parts = cavum_alloc(count, sizeof *rates.parts),
                      .length = cavum_alloc(count, sizeof *rates.length)};
  if (!rates.parts || !rates.length) CAVUM_TRY(cavum_fail_memory(error));
  fill_rates(&rates, f, values, s->cell, w->motion);
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    cavum_figure_chain chain = cavum_figure_chain_of(id, resistance);
    if (!is_asked(w->figures, i) || values->figures[id].state != CAVUM_FIGURE_PRESENT) continue;
    take_figure(w, id, &chain, f, &rates, value_of(id, values, f), vector_error);
  }
done:
  free(rates.parts);
  free(rates.length);
  return status;
}

// The rough start of a ladder has none.
static bool has_figures(const cavum_solution *solution, int mode) {
  return solution && mode < solution->num_modes &&
         solution->modes[mode].values[0].figures[CAVUM_FIGURE_FREQUENCY].state ==
             CAVUM_FIGURE_PRESENT;
}

static double weakest_exponent(uint64_t figures, const cavum_mode_values *values) {
  double weakest = CAVUM_SMOOTH_EXPONENT;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!is_asked(figures, id)) continue;
    weakest = cavum_min(weakest, cavum_figure_policy_exponent((cavum_figure_id)id, values));
  }
  return weakest;
}

// How many degrees of a solution are worked out.
static int count_degrees(const mode_work *w, const cavum_solution *solution, int mode) {
  bool smooth =
      weakest_exponent(w->figures, &solution->modes[mode].values[0]) >= CAVUM_SMOOTH_EXPONENT;
  bool enough = smooth && solution->num_degrees > DEGREES_ON_SMOOTH;
  return enough ? DEGREES_ON_SMOOTH : solution->num_degrees;
}

// The highest degrees of a solution: worked out from the highest down, taken in by rising degree.
static cavum_status take_solution(mode_work *w, const cavum_problem *s, cavum_solution *solution,
                                  int mode, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mode_functionals at[CAVUM_LEVELS_MOST] = {0};
  cavum_mode_adjoints adjoints = {0};
  bool needed[CAVUM_NUM_MODE_PARTS] = {false};
  const cavum_mode_functionals_input input = {.solution = solution,
                                              .mode = mode,
                                              .boundary = &s->memory->boundary,
                                              .cell = s->cell,
                                              .follower = &s->memory->follower,
                                              .adjoints = &adjoints,
                                              .peaks = &w->peaks,
                                              .num_degrees = count_degrees(w, solution, mode),
                                              .needed = needed};
  list_needed(needed, w->figures);
  CAVUM_TRY(cavum_mode_functionals_compute(at, &input, error));
  for (int below = input.num_degrees - 1; below >= 0; below--) {
    CAVUM_TRY(take_degree(w, s, solution, mode, below, &at[below], error));
  }
done:
  for (int i = 0; i < CAVUM_LEVELS_MOST; i++) cavum_mode_functionals_clear(&at[i]);
  cavum_mode_adjoints_clear(&adjoints);
  return status;
}

// What the uncertainties of the derivatives of one figure have in common.
typedef struct figure_fall {
  double exponent, ratio;  // of its corners; last change over the one before
  int degree;
  double change[CAVUM_NUM_UNITS];  // largest last change by a dimension of each unit
} figure_fall;

static double last_change(const sequence *s) {
  return s->count > 1 ? fabs(s->value[s->count - 1] - s->value[s->count - 2]) : 0.0;
}

static double figure_ratio(const cavum_solution *solution, int mode, int id) {
  const cavum_mode_values *values = solution->modes[mode].values;
  double change[2];
  if (solution->num_degrees <= DEGREES_ON_SMOOTH) return FALL_UNKNOWN;
  for (int i = 0; i < 2; i++) {
    const cavum_figure *now = &values[i].figures[id], *before = &values[i + 1].figures[id];
    bool known = now->state == CAVUM_FIGURE_PRESENT && before->state == CAVUM_FIGURE_PRESENT;
    change[i] = known ? fabs(now->value - before->value) : 0.0;
  }
  if (!(change[1] > 0.0)) return FALL_UNKNOWN;
  return cavum_min(FALL_MOST, cavum_max(FALL_LEAST, change[0] / change[1]));
}

static figure_fall fall_of(const cavum_problem *s, int mode, const mode_work *w, int id) {
  const cavum_solution *solution = s->ladder.solution;
  figure_fall fall = {.exponent = cavum_figure_policy_exponent((cavum_figure_id)id,
                                                               &solution->modes[mode].values[0]),
                      .ratio = figure_ratio(solution, mode, id),
                      .degree = solution->reference.degree};
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    double *largest = &fall.change[w->motion->dimensions.list[i].unit];
    *largest = cavum_max(*largest, last_change(&w->values[i][id]));
  }
  return fall;
}

// The values of a sequence; of two, with the one that would have come before them.
static cavum_history history_of(const sequence *s, const figure_fall *fall, cavum_unit unit) {
  cavum_history history = {.count = 0};
  if (s->count == DEGREES_ON_SMOOTH) {
    double change = cavum_max(last_change(s), CHANGE_PART * fall->change[unit]);
    double before = s->value[1] - change;
    cavum_history_add(&history, before - change / fall->ratio, 0.0, s->error[0]);
    cavum_history_add(&history, before, 0.0, s->error[0]);
    cavum_history_add(&history, s->value[1], 0.0, s->error[1]);
    return history;
  }
  for (int i = 0; i < s->count; i++) cavum_history_add(&history, s->value[i], 0.0, s->error[i]);
  return history;
}

static void fill_derivative(cavum_derivative *to, const sequence *s, const figure_fall *fall,
                            cavum_unit unit) {
  int last = s->count - 1;
  if (last < 0) return;
  const cavum_history history = history_of(s, fall, unit);
  to->state = CAVUM_FIGURE_PRESENT;
  to->value = s->value[last];
  to->uncertainty = cavum_mode_history_tail_of_derivative(&history, fall->exponent, fall->degree) +
                    s->error[last];
}

// Whether a peak stands off the mirror plane of a half model: then it stands at both its sides, and
// a change of one side alone moves them apart.
static bool is_mirrored_peak(const cavum_problem *s, const cavum_figure *figure,
                             cavum_figure_id id) {
  bool peak = id == CAVUM_FIGURE_EPK_OVER_EACC || id == CAVUM_FIGURE_BPK_OVER_EACC;
  if (!peak || !s->half_model) return false;
  double plane_m = cavum_mesh_mirror_plane_m(&s->memory->mesh);
  return fabs(figure->at.z_m - plane_m) > ON_PLANE * figure->at.r_m;
}

// The peak is the larger of two that change at these rates.
static void fill_one_sided(cavum_derivative to[2], const mode_work *w, int i, int id,
                           const figure_fall *fall) {
  cavum_unit unit = w->motion->dimensions.list[i].unit;
  cavum_derivative of[2] = {{0}, {0}};
  fill_derivative(&of[0], &w->values[i][id], fall, unit);
  fill_derivative(&of[1], &w->other[i][peak_of(id)], fall, unit);
  int larger = of[1].value > of[0].value;
  to[CAVUM_CHANGE_GROWS] = of[larger];
  to[CAVUM_CHANGE_SHRINKS] = of[1 - larger];
}

// Why there is no derivative of a figure by a dimension, or NULL.
static const char *reason_against(const cavum_problem *s, const mode_work *w, int i, int id,
                                  const cavum_figure *figure) {
  const cavum_cell_dimension *dimension = &w->motion->dimensions.list[i];
  bool mirrored = cavum_cell_dimension_keeps_mirror(dimension);
  if (!is_asked(w->figures, id)) return REASON_NOT_ASKED;
  if (!w->motion->smooth[i]) return REASON_SHAPE;
  if (!mirrored && is_mirrored_peak(s, figure, (cavum_figure_id)id)) return REASON_TWO_PLACES;
  return w->reason[i][id];
}

static void fill_figure(const cavum_problem *s, int index, const mode_work *w, int id,
                        const char *reason) {
  cavum_mode_result *mode = &s->result->modes[index];
  const cavum_figure *figure = &mode->figures[id];
  const figure_fall fall = fall_of(s, index, w, id);
  int peak = peak_of(id);
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    cavum_derivative *to = &mode->derivatives[(int64_t)i * CAVUM_FIGURES_ROOM + id];
    const char *against = reason_against(s, w, i, id, figure);
    to->reason = against ? against : reason;
    if (to->reason) continue;
    if (peak >= 0 && w->is_split[i][peak]) {
      to->reason = REASON_TWO_PLACES;
      fill_one_sided(&mode->one_sided[4 * i + 2 * peak], w, i, id, &fall);
      continue;
    }
    fill_derivative(to, &w->values[i][id], &fall, w->motion->dimensions.list[i].unit);
  }
}

static void fill_mode(const cavum_problem *s, int index, const mode_work *w, const char *reason) {
  const cavum_mode_result *mode = &s->result->modes[index];
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (mode->figures[id].state == CAVUM_FIGURE_PRESENT) fill_figure(s, index, w, id, reason);
  }
}

// G and R/Q along the wall, where the wall is to be filled in.
static cavum_status add_wall(cavum_problem *s, int mode, cavum_error *error) {
  const cavum_mode_functionals_input input = {.solution = s->ladder.solution,
                                              .mode = mode,
                                              .boundary = &s->memory->boundary,
                                              .cell = s->cell};
  uint64_t asked = s->options->derivatives_of;
  bool wanted = !asked || is_asked(asked, CAVUM_FIGURE_GEOMETRY_FACTOR) ||
                is_asked(asked, CAVUM_FIGURE_R_OVER_Q_LINAC);
  if (!s->options->profiles || !wanted) return CAVUM_OK;
  return cavum_wall_adjoints_add(&s->result->modes[mode].wall_density, &input,
                                 &s->ladder.solution->modes[mode].values[0], error);
}

// E and H at each point of the wall.
static cavum_status add_wall_rates(cavum_problem *s, const motion *m, int mode,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = m->dimensions.count;
  bool *known = NULL;
  const cavum_mode_functionals_input input = {.solution = s->ladder.solution,
                                              .mode = mode,
                                              .boundary = &s->memory->boundary,
                                              .follower = &s->memory->follower,
                                              .cell = s->cell};
  if (!s->options->profiles || !s->options->wall_derivatives) return CAVUM_OK;
  known = cavum_alloc(count, sizeof *known);
  if (!known) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < count; i++) {
    bool mirrored = cavum_cell_dimension_keeps_mirror(&m->dimensions.list[i]);
    known[i] = m->smooth[i] && (mirrored || !s->half_model);
  }
  const cavum_wall_motion of_curves = {count, m->num_curves, m->rates, known};
  status = cavum_wall_rates_add(&s->result->modes[mode], &input, &of_curves,
                                s->options->wall_derivatives_above, error);
done:
  free(known);
  return status;
}

static cavum_status place_peaks(mode_work *w, const cavum_problem *s, int mode,
                                cavum_error *error) {
  const cavum_mode_functionals_input input = {
      .solution = s->ladder.solution, .mode = mode, .boundary = &s->memory->boundary};
  bool wanted = is_asked(w->figures, CAVUM_FIGURE_EPK_OVER_EACC) ||
                is_asked(w->figures, CAVUM_FIGURE_BPK_OVER_EACC);
  return wanted ? cavum_mode_functionals_place_peaks(&w->peaks, &input, error) : CAVUM_OK;
}

static cavum_status differentiate_mode(cavum_problem *s, const motion *m, int mode,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solution *solution = s->ladder.solution, *before = s->ladder.before;
  const cavum_solution_mode *of = &solution->modes[mode];
  cavum_mode_result *to = &s->result->modes[mode];
  int count = m->dimensions.count;
  uint64_t asked = s->options->derivatives_of;
  mode_work w = {.motion = m,
                 .figures = asked ? asked : UINT64_MAX,
                 .values = cavum_alloc(count, sizeof *w.values),
                 .reason = cavum_alloc(count, sizeof *w.reason),
                 .other = cavum_alloc(count, sizeof *w.other),
                 .is_split = cavum_alloc(count, sizeof *w.is_split)};
  to->derivatives = cavum_alloc((int64_t)count * CAVUM_FIGURES_ROOM, sizeof *to->derivatives);
  to->one_sided = cavum_alloc(4 * (int64_t)count, sizeof *to->one_sided);
  if (!to->derivatives || !to->one_sided || !w.values || !w.reason || !w.other || !w.is_split) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  if (is_degenerate(&solution->classes[of->in_class].modes[0], of->index)) {
    fill_mode(s, mode, &w, REASON_DEGENERATE);
    goto done;
  }
  CAVUM_TRY(place_peaks(&w, s, mode, error));
  if (solution->num_degrees < CAVUM_DEGREES_LEAST && has_figures(before, mode)) {
    CAVUM_TRY(take_solution(&w, s, before, mode, error));
  }
  CAVUM_TRY(take_solution(&w, s, solution, mode, error));
  fill_mode(s, mode, &w, NULL);
  CAVUM_TRY(add_wall(s, mode, error));
  CAVUM_TRY(add_wall_rates(s, m, mode, error));
done:
  free(w.values);
  free(w.reason);
  free(w.other);
  free(w.is_split);
  return status;
}

cavum_status cavum_derivatives_add(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  motion m = {0};
  if (s->memory->mesh.node_order > 0) return CAVUM_OK;
  CAVUM_TRY(cavum_problem_memory_make_follower(s->memory, error));
  CAVUM_TRY(make_motion(&m, s, error));
  CAVUM_TRY(fill_dimensions(s->result, &m, error));
  for (int mode = 0; mode < s->result->num_modes; mode++) {
    CAVUM_TRY(differentiate_mode(s, &m, mode, error));
  }
done:
  clear_motion(&m);
  return status;
}
