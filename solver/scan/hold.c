// SPDX-License-Identifier: GPL-3.0-or-later
// Where a held dimension is tried next.
#include "hold.h"

#include <string.h>

#include "base.h"

// A neighbour at distance d (inputs measured by their spread) weighs 1 / (d^2 + this)^2: those
// nearby decide, and one that coincides cannot outweigh the rest without bound.
static const double nearness_floor = 1e-6;
// Added to the diagonal of the fit, relative to its weights: directions that the neighbours do not
// span get slope zero.
static const double ridge = 1e-6;
// A secant changes the slope by at most this factor: closer values than rounding allows do not.
static const double most_slope_change = 4.0;
// A step is at most this part of the allowed range.
static const double longest_step = 0.25;
enum { MOST_TERMS = CAVUM_STUDY_MOST_INPUTS + 1 };

cavum_status cavum_hold_open(cavum_hold_memory *memory, const cavum_study *study,
                             cavum_error *error) {
  memory->num_varied = cavum_study_num_varied(study);
  memory->capacity = study->batch_size;
  memory->varied = cavum_alloc((int64_t)memory->capacity * memory->num_varied, sizeof(double));
  memory->solved = cavum_alloc(memory->capacity, sizeof(double));
  memory->slope = cavum_alloc(memory->capacity, sizeof(double));
  memory->scale = cavum_alloc(memory->num_varied, sizeof(double));
  if (!memory->varied || !memory->solved || !memory->slope || !memory->scale) {
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
  free(memory->scale);
  *memory = (cavum_hold_memory){0};
}

void cavum_hold_remember(cavum_hold_memory *memory, const double *varied, double solved,
                         double slope) {
  if (memory->num_points == memory->capacity) return;
  int place = memory->num_points++;
  if (memory->num_varied > 0) {
    memcpy(memory->varied + (size_t)place * (size_t)memory->num_varied, varied,
           (size_t)memory->num_varied * sizeof *varied);
  }
  memory->solved[place] = solved;
  memory->slope[place] = slope;
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

// Solves the positive definite system in place by Cholesky; false when it is not.
static bool solve_system(double *matrix, double *right, int order) {
  for (int j = 0; j < order; j++) {
    for (int i = j; i < order; i++) {
      double sum = matrix[i * MOST_TERMS + j];
      for (int k = 0; k < j; k++) sum -= matrix[i * MOST_TERMS + k] * matrix[j * MOST_TERMS + k];
      if (i == j && !(sum > 0.0)) return false;
      matrix[i * MOST_TERMS + j] = i == j ? sqrt(sum) : sum / matrix[j * MOST_TERMS + j];
    }
  }
  for (int i = 0; i < order; i++) {
    for (int k = 0; k < i; k++) right[i] -= matrix[i * MOST_TERMS + k] * right[k];
    right[i] /= matrix[i * MOST_TERMS + i];
  }
  for (int i = order - 1; i >= 0; i--) {
    for (int k = i + 1; k < order; k++) right[i] -= matrix[k * MOST_TERMS + i] * right[k];
    right[i] /= matrix[i * MOST_TERMS + i];
  }
  return true;
}

// Value at the shape to come of a plane through the remembered ones.
static double predict(const cavum_hold_memory *memory, const double *varied, int nearest) {
  double matrix[MOST_TERMS * MOST_TERMS] = {0}, right[MOST_TERMS] = {0}, term[MOST_TERMS];
  int order = memory->num_varied + 1;
  double total = 0.0, origin = memory->solved[nearest];
  for (int point = 0; point < memory->num_points; point++) {
    term[0] = 1.0;
    double distance2 = offsets_from(term + 1, memory, point, varied) + nearness_floor;
    double weight = 1.0 / (distance2 * distance2);
    total += weight;
    for (int i = 0; i < order; i++) {
      right[i] += weight * term[i] * (memory->solved[point] - origin);
      for (int j = 0; j <= i; j++) matrix[i * MOST_TERMS + j] += weight * term[i] * term[j];
    }
  }
  for (int i = 1; i < order; i++) matrix[i * MOST_TERMS + i] += ridge * total;
  return solve_system(matrix, right, order) ? origin + right[0] : origin;
}

void cavum_hold_start(cavum_hold_search *search, const cavum_hold_memory *memory,
                      const cavum_study *study, const double *varied) {
  const cavum_hold *hold = &study->hold;
  *search = (cavum_hold_search){.target_hz = hold->frequency_hz,
                                .tolerance_hz = study->cell.accuracy_frequency * hold->frequency_hz,
                                .low = hold->low,
                                .high = hold->high,
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
  search->slope = nearest >= 0 ? memory->slope[nearest] : -hold->frequency_hz / fabs(base);
  search->value = nearest >= 0 ? predict(memory, varied, nearest) : base;
  search->value = cavum_min(cavum_max(search->value, hold->low), hold->high);
}

// Slope from the last two solves, where it can be told.
static void update_slope(cavum_hold_search *search, double frequency_hz) {
  if (search->num_solves < 2) return;
  double step = search->value - search->last_value;
  double slope = (frequency_hz - search->last_hz) / step;
  double ratio = slope / search->slope;
  bool usable = isfinite(slope) && slope != 0.0;
  // Before two values enclose the target the first guess may be wrong in any way, also in sign.
  if (usable &&
      (search->num_solves == 2 || (ratio < most_slope_change && ratio > 1.0 / most_slope_change))) {
    search->slope = slope;
  }
}

void cavum_hold_advance(cavum_hold_search *search, double frequency_hz) {
  double miss = frequency_hz - search->target_hz;
  search->num_solves++;
  update_slope(search, frequency_hz);
  if (miss < 0.0) search->below = search->value;
  if (miss > 0.0) search->above = search->value;
  search->last_value = search->value;
  search->last_hz = frequency_hz;
  search->met = fabs(miss) <= search->tolerance_hz;
  if (search->met) return;
  double reach = longest_step * (search->high - search->low);
  double step = -miss / search->slope;
  double next = search->value + cavum_min(cavum_max(step, -reach), reach);
  bool enclosed = !isnan(search->below) && !isnan(search->above);
  double least = cavum_min(search->below, search->above);
  double most = cavum_max(search->below, search->above);
  if (enclosed && !(next > least && next < most)) next = 0.5 * (least + most);
  next = cavum_min(cavum_max(next, search->low), search->high);
  search->lost = next == search->value || search->num_solves >= CAVUM_HOLD_MOST_SOLVES;
  search->value = next;
}

void cavum_hold_retreat(cavum_hold_search *search) {
  search->num_solves++;
  if (search->last_hz == 0.0 || search->num_solves >= CAVUM_HOLD_MOST_SOLVES) {
    search->lost = true;  // no place known where there is a shape
    return;
  }
  search->value = 0.5 * (search->value + search->last_value);
}
