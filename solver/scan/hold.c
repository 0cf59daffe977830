// SPDX-License-Identifier: GPL-3.0-or-later
// Where a held dimension is tried next.
#include "scan/hold.h"

#include <string.h>

#include "base/base.h"

// A neighbour at distance d (inputs measured by their spread) weighs 1 / (d^2 + this)^2: those
// nearby decide, and one that coincides cannot outweigh the rest without bound.
static const double NEARNESS_FLOOR = 1e-6;
// Added to the diagonal of the fit, relative to its weights: directions that the neighbours do not
// span get slope zero.
static const double RIDGE = 1e-6;
// A secant changes the slope by at most this factor: closer values than rounding allows do not.
static const double MOST_SLOPE_CHANGE = 4.0;
// A step that is longer than what is left before the end of the shapes by this factor does not get
// there, however the slope changes on the way.
static const double MOST_STEP_OVER_LEFT = 3.0;
// From a bound that the guessed slope points at, this part of the allowed range.
static const double FIRST_STEP_BACK = 0.05;
// A step is at most this part of the allowed range.
static const double LONGEST_STEP = 0.25;
// Second-order terms come in with this many shapes a term, and up to this many inputs: beyond, the
// fit would cost more than it saves.
static const double SHAPES_PER_TERM = 1.3;
// A step from this near (relative) mostly lands within a part in a million, with a slope that is
// good to a part in a thousand: then the solve there is a full one.
static const double NEAR_ENOUGH = 1e-3;
enum { MOST_QUADRATIC_INPUTS = 6 };
// A plane in the most inputs, which is more than a paraboloid in few.
enum { MOST_TERMS = CAVUM_STUDY_MOST_INPUTS + 1 };
_Static_assert((MOST_QUADRATIC_INPUTS + 1) * (MOST_QUADRATIC_INPUTS + 2) / 2 <= MOST_TERMS,
               "the paraboloid fits");
// Guesses that missed by less than so many times the reach are followed by a full solve at once.
// A full one that misses costs more than a coarse one before it: without gradients 1.6 solves a
// shape took longer than 1.8 where four times that was allowed; with them misses are mostly a tenth
// of the reach, and one that is not is rarely followed by another.
static const double GOOD_GUESS = 1.0, GOOD_GUESS_BY_GRADIENTS = 3.0;
// A secant over less than this many tolerances tells more of rounding than of the slope.
static const double SHORTEST_SECANT = 5.0;

cavum_status cavum_hold_open(cavum_hold_memory *memory, const cavum_study *study,
                             cavum_error *error) {
  memory->num_varied = cavum_study_num_varied(study);
  memory->capacity = study->batch_size;
  memory->varied = cavum_alloc((int64_t)memory->capacity * memory->num_varied, sizeof(double));
  memory->solved = cavum_alloc(memory->capacity, sizeof(double));
  memory->slope = cavum_alloc(memory->capacity, sizeof(double));
  memory->slope_uncertainty = cavum_alloc(memory->capacity, sizeof(double));
  memory->scale = cavum_alloc(memory->num_varied, sizeof(double));
  memory->gradient = cavum_alloc((int64_t)memory->capacity * memory->num_varied, sizeof(double));
  memory->has_gradients = true;
  if (!memory->gradient || !memory->varied || !memory->solved || !memory->slope ||
      !memory->slope_uncertainty || !memory->scale) {
    return cavum_fail_memory(error);
  }
  for (int i = 0; i < memory->num_varied; i++) {
    const cavum_axis *axis = study->sampling.axes ? &study->sampling.axes[i] : NULL;
    double spread = fabs(study->inputs[i].place.base);
    if (axis && !axis->list) spread = axis->high - axis->low;
    memory->scale[i] = spread > 0.0 ? spread : 1.0;
  }
  return CAVUM_OK;
}

void cavum_hold_clear(cavum_hold_memory *memory) {
  free(memory->varied);
  free(memory->solved);
  free(memory->slope);
  free(memory->slope_uncertainty);
  free(memory->scale);
  free(memory->gradient);
  *memory = (cavum_hold_memory){0};
}

// At one frequency the held dimension h follows an input x by -(df / dx) / (df / dh).
static void take_gradient(cavum_hold_memory *memory, int point, const double *by, double slope) {
  double *gradient = memory->gradient + (size_t)point * (size_t)memory->num_varied;
  if (point == 0) memory->has_gradients = true;
  for (int i = 0; i < memory->num_varied; i++) {
    gradient[i] = by ? -by[i] / slope * memory->scale[i] : NAN;
    memory->has_gradients = memory->has_gradients && isfinite(gradient[i]);
  }
}

void cavum_hold_remember(cavum_hold_memory *memory, const double *varied, double solved,
                         const double *by, const cavum_hold_search *search) {
  memory->miss_before = memory->miss;
  memory->miss = search->first_miss;
  memory->num_misses += memory->num_points > 0 ? 1 : 0;
  if (memory->num_points == memory->capacity) return;
  int place = memory->num_points++;
  if (memory->num_varied > 0) {
    memcpy(memory->varied + (size_t)place * (size_t)memory->num_varied, varied,
           (size_t)memory->num_varied * sizeof *varied);
  }
  memory->solved[place] = solved;
  memory->slope[place] = search->slope;
  memory->slope_uncertainty[place] = search->slope_uncertainty;
  take_gradient(memory, place, by, search->slope);
}

// Inputs of a remembered shape less those of the one to come, measured by their spread.
static double offsets_from(double *offset, const cavum_hold_memory *memory, int point,
                           const double *varied) {
  double distance2 = 0.0;
  const double *there = memory->varied + (size_t)point * (size_t)memory->num_varied;
  for (int i = 0; i < memory->num_varied; i++) {
    offset[i] = (there[i] - varied[i]) / memory->scale[i];
    distance2 += offset[i] * offset[i];
  }
  return distance2;
}

/** A weighted least-squares fit around the shape to come, for two things at once. */
typedef struct local_fit {
  int order;
  double matrix[MOST_TERMS * MOST_TERMS];
  double value[MOST_TERMS], slope[MOST_TERMS];  // right sides, then coefficients
} local_fit;

// Factorises the positive definite matrix in place (Cholesky); false when it is not.
static bool factorise(local_fit *fit) {
  for (int j = 0; j < fit->order; j++) {
    double *row_j = fit->matrix + j * MOST_TERMS;
    for (int i = j; i < fit->order; i++) {
      double *row_i = fit->matrix + i * MOST_TERMS;
      double sum = row_i[j];
      for (int k = 0; k < j; k++) sum -= row_i[k] * row_j[k];
      if (i == j && !(sum > 0.0)) return false;
      row_i[j] = i == j ? sqrt(sum) : sum / row_j[j];
    }
  }
  return true;
}

static void back_substitute(const local_fit *fit, double *right) {
  for (int i = 0; i < fit->order; i++) {
    for (int k = 0; k < i; k++) right[i] -= fit->matrix[i * MOST_TERMS + k] * right[k];
    right[i] /= fit->matrix[i * MOST_TERMS + i];
  }
  for (int i = fit->order - 1; i >= 0; i--) {
    for (int k = i + 1; k < fit->order; k++) right[i] -= fit->matrix[k * MOST_TERMS + i] * right[k];
    right[i] /= fit->matrix[i * MOST_TERMS + i];
  }
}

// 1, the offsets and, in a paraboloid, their products.
static void fill_terms(double *term, int num_varied, int order) {
  term[0] = 1.0;
  int place = num_varied + 1;
  for (int i = 0; place < order && i < num_varied; i++) {
    for (int j = 0; j <= i; j++) term[place++] = term[1 + i] * term[1 + j];
  }
}

static int choose_order(const cavum_hold_memory *memory) {
  int plane = memory->num_varied + 1;
  int paraboloid = plane * (plane + 1) / 2;
  bool enough = memory->num_points >= SHAPES_PER_TERM * paraboloid;
  return enough && memory->num_varied <= MOST_QUADRATIC_INPUTS ? paraboloid : plane;
}

// Values at the shape to come of a surface through the remembered ones; false when there is none.
static bool predict(double *value, double *slope, const cavum_hold_memory *memory,
                    const double *varied, int nearest) {
  local_fit fit = {.order = choose_order(memory)};
  double term[MOST_TERMS], total = 0.0;
  double value_origin = memory->solved[nearest], slope_origin = memory->slope[nearest];
  for (int point = 0; point < memory->num_points; point++) {
    double distance2 = offsets_from(term + 1, memory, point, varied) + NEARNESS_FLOOR;
    double weight = 1.0 / (distance2 * distance2);
    fill_terms(term, memory->num_varied, fit.order);
    total += weight;
    for (int i = 0; i < fit.order; i++) {
      double weighted = weight * term[i];
      fit.value[i] += weighted * (memory->solved[point] - value_origin);
      fit.slope[i] += weighted * (memory->slope[point] - slope_origin);
      for (int j = 0; j <= i; j++) fit.matrix[i * MOST_TERMS + j] += weighted * term[j];
    }
  }
  for (int i = 1; i < fit.order; i++) fit.matrix[i * MOST_TERMS + i] += RIDGE * total;
  if (!factorise(&fit)) return false;
  back_substitute(&fit, fit.value);
  back_substitute(&fit, fit.slope);
  *value = value_origin + fit.value[0];
  double fitted = slope_origin + fit.slope[0];
  bool same_sign = (fitted > 0.0) == (slope_origin > 0.0);
  *slope = same_sign && fitted / slope_origin < 2.0 && fitted / slope_origin > 0.5 ? fitted
                                                                                   : slope_origin;
  return true;
}

/** A plane through derivatives of the remembered shapes: their values at the shape to come. */
typedef struct gradient_fit {
  local_fit plane;                       // its right sides are not used
  double right[MOST_TERMS][MOST_TERMS];  // [derivative][term], then coefficients
} gradient_fit;

static const double *gradient_at(const cavum_hold_memory *memory, int point) {
  return memory->gradient + (size_t)point * (size_t)memory->num_varied;
}

static bool fit_gradients(gradient_fit *fit, const cavum_hold_memory *memory, const double *varied,
                          int nearest) {
  double term[MOST_TERMS], total = 0.0;
  int n = memory->num_varied;
  fit->plane.order = n + 1;
  for (int point = 0; point < memory->num_points; point++) {
    double distance2 = offsets_from(term + 1, memory, point, varied) + NEARNESS_FLOOR;
    double weight = 1.0 / (distance2 * distance2);
    const double *gradient = gradient_at(memory, point), *origin = gradient_at(memory, nearest);
    term[0] = 1.0;
    total += weight;
    for (int i = 0; i <= n; i++) {
      for (int k = 0; k < n; k++) {
        fit->right[k][i] += weight * term[i] * (gradient[k] - origin[k]);
      }
      for (int j = 0; j <= i; j++) {
        fit->plane.matrix[i * MOST_TERMS + j] += weight * term[i] * term[j];
      }
    }
  }
  for (int i = 1; i <= n; i++) fit->plane.matrix[i * MOST_TERMS + i] += RIDGE * total;
  if (!factorise(&fit->plane)) return false;
  for (int k = 0; k < n; k++) back_substitute(&fit->plane, fit->right[k]);
  return true;
}

// From each remembered shape along the mean of its gradient and that at the shape to come, which
// leaves third derivatives times the cube of the distance; the nearest count most.
static bool follow_gradients(double *value, const cavum_hold_memory *memory, const double *varied,
                             int nearest) {
  gradient_fit fit = {.plane = {.order = 0}};
  double offset[MOST_TERMS], sum = 0.0, total = 0.0;
  if (!fit_gradients(&fit, memory, varied, nearest)) return false;
  for (int point = 0; point < memory->num_points; point++) {
    double distance2 = offsets_from(offset, memory, point, varied) + NEARNESS_FLOOR;
    double weight = 1.0 / (distance2 * distance2 * distance2);
    const double *gradient = gradient_at(memory, point), *origin = gradient_at(memory, nearest);
    double there = memory->solved[point];
    for (int k = 0; k < memory->num_varied; k++) {
      there -= 0.5 * (gradient[k] + origin[k] + fit.right[k][0]) * offset[k];
    }
    sum += weight * there;
    total += weight;
  }
  *value = sum / total;
  return isfinite(*value);
}

void cavum_hold_start(cavum_hold_search *search, const cavum_hold_memory *memory,
                      const cavum_study *study, const double *varied, double reach) {
  const cavum_hold *hold = &study->hold;
  *search = (cavum_hold_search){.target_hz = hold->frequency_hz,
                                .tolerance_hz = study->cell.accuracy_frequency * hold->frequency_hz,
                                .low = hold->low,
                                .high = hold->high,
                                .scouting = true,
                                .most_solves = CAVUM_HOLD_MOST_SOLVES,
                                .below = NAN,
                                .above = NAN};
  double base = study->inputs[hold->input].place.base;
  int nearest = -1;
  double least = HUGE_VAL, offset[MOST_TERMS];
  for (int point = 0; point < memory->num_points; point++) {
    double distance2 = offsets_from(offset, memory, point, varied);
    if (distance2 < least) {
      least = distance2;
      nearest = point;
    }
  }
  // With nothing known: as if the whole cell grew with the dimension, f ~ 1 / size.
  search->slope_uncertainty = nearest >= 0 ? memory->slope_uncertainty[nearest] : 1.0;
  search->slope = nearest >= 0 ? memory->slope[nearest] : -hold->frequency_hz / fabs(base);
  search->slope_known = nearest >= 0;
  search->value = nearest >= 0 ? memory->solved[nearest] : base;
  if (nearest >= 0) {
    (void)predict(&search->value, &search->slope, memory, varied, nearest);
    if (memory->has_gradients) {
      (void)follow_gradients(&search->value, memory, varied, nearest);
    }
  }
  search->reach = reach;
  double good = reach * (memory->has_gradients ? GOOD_GUESS_BY_GRADIENTS : GOOD_GUESS);
  search->scouting =
      reach == 0.0 || memory->num_misses < 2 || cavum_max(memory->miss, memory->miss_before) > good;
  search->value = cavum_min(cavum_max(search->value, hold->low), hold->high);
}

// Slope from the last two solves, where it can be told. Both may be coarse: what they may be off
// goes into it.
static void update_slope(cavum_hold_search *search, double frequency_hz, double uncertainty_hz) {
  double change = fabs(frequency_hz - search->last_hz);
  if (search->last_hz == 0.0 || change < SHORTEST_SECANT * search->tolerance_hz) return;
  double step = search->value - search->last_value;
  double slope = (frequency_hz - search->last_hz) / step;
  double ratio = slope / search->slope;
  bool usable = isfinite(slope) && slope != 0.0;
  // Before two values enclose the target the first guess may be wrong in any way, also in sign.
  if (usable && (search->num_solves == 2 || !search->slope_known ||
                 (ratio < MOST_SLOPE_CHANGE && ratio > 1.0 / MOST_SLOPE_CHANGE))) {
    search->slope = slope;
    search->slope_known = true;
    search->slope_uncertainty = (uncertainty_hz + search->last_uncertainty_hz) / change;
  }
}

static void take_derivative(cavum_hold_search *search) {
  search->slope_exact = search->has_derivative && search->derivative != 0.0;
  search->has_derivative = false;
  if (!search->slope_exact) return;
  search->slope = search->derivative;
  search->slope_uncertainty = search->derivative_uncertainty;
  search->slope_known = true;
}

// Where to go from a value that cannot be passed. A slope that is only guessed may have the wrong
// sign: one step back tells.
static double leave_bound(const cavum_hold_search *search) {
  double inward = search->value - search->low > search->high - search->value ? -1.0 : 1.0;
  return search->value + inward * FIRST_STEP_BACK * (search->high - search->low);
}

// True when the frequency lies far behind an end of the shapes: no need to creep up to it.
static bool is_beyond_shapes(const cavum_hold_search *search, double step) {
  bool shapes_end = step > 0.0 ? search->shapes_end_high : search->shapes_end_low;
  double left_over = step > 0.0 ? search->high - search->value : search->value - search->low;
  return shapes_end && search->slope_known && fabs(step) > MOST_STEP_OVER_LEFT * left_over;
}

void cavum_hold_advance(cavum_hold_search *search, double frequency_hz, double uncertainty_hz) {
  double miss = frequency_hz - search->target_hz;
  if (search->num_solves == 0) search->first_miss = fabs(miss) / search->target_hz;
  search->num_solves++;
  update_slope(search, frequency_hz, uncertainty_hz);
  take_derivative(search);
  if (miss < 0.0) search->below = search->value;
  if (miss > 0.0) search->above = search->value;
  search->last_value = search->value;
  search->last_hz = frequency_hz;
  search->last_uncertainty_hz = uncertainty_hz;
  double enough_hz = search->tolerance_hz;
  if (search->slope_exact) enough_hz = cavum_max(enough_hz, search->reach * search->target_hz);
  search->met = !search->scouting && fabs(miss) <= enough_hz;
  if (search->met) return;
  double reach = LONGEST_STEP * (search->high - search->low);
  double step = -miss / search->slope;
  double next = search->value + cavum_min(cavum_max(step, -reach), reach);
  bool enclosed = !isnan(search->below) && !isnan(search->above);
  double least = cavum_min(search->below, search->above);
  double most = cavum_max(search->below, search->above);
  if (enclosed && !(next > least && next < most)) next = 0.5 * (least + most);
  next = cavum_min(cavum_max(next, search->low), search->high);
  bool near = fabs(miss) <= NEAR_ENOUGH * search->target_hz;
  if (next == search->value && !search->slope_known && !near) next = leave_bound(search);
  // Steps with a guessed slope that were too short to tell it: a longer one does.
  if (!search->slope_known && search->num_solves > 2) next = leave_bound(search);
  bool stuck = next == search->value && !(search->scouting && near);
  search->lost =
      stuck || is_beyond_shapes(search, step) || search->num_solves >= search->most_solves;
  if (near) search->scouting = false;
  search->value = next;
}

// 1/2, 1/4, 3/4, 1/8, ...: ever finer, without order (van der Corput).
static double part_of_range(int index) {
  double part = 0.0, digit = 0.5;
  for (; index > 0; index /= 2, digit *= 0.5) part += index % 2 ? digit : 0.0;
  return part;
}

void cavum_hold_retreat(cavum_hold_search *search) {
  search->num_retreats++;
  search->lost = search->num_retreats >= CAVUM_HOLD_MOST_RETREATS;
  if (search->last_hz == 0.0) {
    double range = search->high - search->low;
    search->value = search->low + range * part_of_range(search->num_retreats);
    return;
  }
  // Shapes end between here and the last that was solved: nothing beyond is tried again.
  if (search->value > search->last_value) {
    search->high = search->value;
    search->shapes_end_high = true;
  } else {
    search->low = search->value;
    search->shapes_end_low = true;
  }
  search->value = 0.5 * (search->value + search->last_value);
}

bool cavum_hold_go_behind(cavum_hold_search *search, const cavum_hold *range) {
  bool upward = (search->target_hz - search->last_hz) / search->slope > 0.0;
  bool shapes_end = upward ? search->shapes_end_high : search->shapes_end_low;
  double low = upward ? search->high : range->low, high = upward ? range->high : search->low;
  if (search->last_hz == 0.0 || !shapes_end || !(low < high)) return false;
  search->low = low;
  search->high = high;
  search->value = 0.5 * (low + high);
  search->last_hz = 0.0;
  search->below = search->above = NAN;
  search->shapes_end_low = search->shapes_end_high = search->lost = false;
  search->scouting = true;
  search->num_retreats = 0;
  search->most_solves = search->num_solves + CAVUM_HOLD_MOST_SOLVES;
  return true;
}

double cavum_hold_correction(const cavum_hold_search *search) {
  if (!search->slope_known) return 0.0;
  return (search->target_hz - search->last_hz) / search->slope;
}
