// SPDX-License-Identifier: GPL-3.0-or-later
// The contour of a cell by each of its dimensions.
#include "solve/shape_motion.h"

#include <string.h>

#include "base/base.h"
#include "contour/mirror.h"
#include "element/singular_exponent.h"

// Whether a curve that crosses the axis at a right angle at t turns there.
static bool turns_at(const cavum_curve *curve, const cavum_curve_rate *rates, double t) {
  const double right_angle = 0.02, rounding = 1e-9;
  cavum_point along = cavum_curve_derivative(curve, t), moved, turned;
  double square = along.z_m * along.z_m + along.r_m * along.r_m;
  if (!(square > 0.0) || along.z_m * along.z_m > right_angle * right_angle * square) return false;
  cavum_curve_rate_at(&moved, &turned, curve, rates, t);
  double turn = along.z_m * turned.r_m - along.r_m * turned.z_m;
  return turn * turn > rounding * rounding * square;
}

// The weakest exponent at the ends of the axis where a wall across it turns with a dimension.
static double turned_tip(const cavum_contour *contour, const cavum_curve_rate *rates) {
  double weakest = 0.0;
  for (cavum_index k = 0; k < contour->num_curves; k++) {
    const cavum_curve *curve = &contour->curves[k];
    if (curve->boundary == CAVUM_BOUNDARY_AXIS) continue;
    bool turns = (curve->start.r_m == 0.0 && turns_at(curve, &rates[k], 0.0)) ||
                 (curve->end.r_m == 0.0 && turns_at(curve, &rates[k], 1.0));
    if (!turns) continue;
    double nu = cavum_tip_exponent(0.5 * CAVUM_PI, curve->boundary == CAVUM_BOUNDARY_MAGNETIC);
    weakest = weakest > 0.0 ? cavum_min(weakest, nu) : nu;
  }
  return weakest;
}

void cavum_shape_motion_clear(cavum_shape_motion *m) {
  cavum_cell_dimensions_clear(&m->dimensions);
  free(m->rates);
  free(m->odd);
  free(m->has_odd);
  free(m->moved);
  free(m->others);
  free(m->smooth);
  free(m->turned_tip);
}

// Of half a path: the rates of the whole one are taken over, through room for them.
typedef struct half_path {
  bool is_one;
  cavum_contour_mirror mirror;
  cavum_curve_rate *whole;  // owned, [path.num_curves]
} half_path;

static cavum_status begin_half_path(half_path *half, const cavum_problem *s, cavum_error *error) {
  *half = (half_path){.is_one = s->half_model && s->cell->kind == CAVUM_CONTOUR_PATH};
  if (!half->is_one) return CAVUM_OK;
  if (!cavum_contour_find_mirror(&half->mirror, &s->cell->path)) {
    return cavum_fail_internal(error, "the mirror plane of the path was lost");
  }
  half->whole = cavum_alloc(s->cell->path.num_curves, sizeof *half->whole);
  return half->whole ? CAVUM_OK : cavum_fail_memory(error);
}

enum { NUMBERS = sizeof(cavum_curve_rate) / sizeof(double) };

// Widens a range of curves to all that move.
static void take_moved(cavum_index moved[2], const cavum_curve_rate *rates,
                       cavum_index num_curves) {
  cavum_index first = 0, end = num_curves;
  while (first < end && !cavum_curve_rate_moves(&rates[first])) first++;
  while (end > first && !cavum_curve_rate_moves(&rates[end - 1])) end--;
  if (first == end) return;
  bool none = moved[0] == moved[1];
  if (none || first < moved[0]) moved[0] = first;
  if (none || end > moved[1]) moved[1] = end;
}

// Of two ellipses: half of what moves one side alone is even, and there the same as what is odd, or
// at the other side its opposite.
static void turn_to_odd(cavum_shape_motion *m, int i) {
  const cavum_cell_dimension *of = &m->dimensions.list[i];
  double numbers[NUMBERS], sign = of->of_right ? 1.0 : -1.0;
  int64_t first = (int64_t)i * m->num_curves;
  if (cavum_cell_dimension_keeps_mirror(of)) return;
  for (int64_t k = first; k < first + m->num_curves; k++) {
    memcpy(numbers, &m->rates[k], sizeof numbers);
    for (int j = 0; j < NUMBERS; j++) numbers[j] *= sign;
    memcpy(&m->odd[k], numbers, sizeof numbers);
  }
}

static cavum_status rate_of(cavum_shape_motion *m, int i, const cavum_problem *s,
                            const cavum_contour *contour, const half_path *half,
                            cavum_error *error) {
  int64_t first = (int64_t)i * m->num_curves;
  cavum_curve_rate *rates = m->rates + first;
  cavum_cell_part part = s->half_model ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE;
  if (!half->is_one) {
    cavum_status status = cavum_cell_dimension_rate(rates, &m->others[i], &m->smooth[i], contour,
                                                    s->cell, part, &m->dimensions.list[i], error);
    if (status == CAVUM_OK && m->odd) turn_to_odd(m, i);
    return status;
  }
  const cavum_contour *path = &s->cell->path;
  cavum_status status =
      cavum_cell_dimension_rate(half->whole, &m->others[i], &m->smooth[i], path, s->cell,
                                CAVUM_PART_WHOLE, &m->dimensions.list[i], error);
  if (status != CAVUM_OK || !m->smooth[i]) return status;
  bool fits =
      cavum_contour_halve_rates(rates, m->num_curves, half->whole, path, &half->mirror, false) &&
      (!m->odd || cavum_contour_halve_rates(m->odd + first, m->num_curves, half->whole, path,
                                            &half->mirror, true));
  return fits ? CAVUM_OK : cavum_fail_internal(error, "half a path has other curves");
}

// What is odd changes peaks, and mixes modes of two symmetries.
static bool needs_odd(const cavum_problem *s) {
  const uint64_t one = 1, asked = s->options->derivatives_of;
  const uint64_t peaks = one << CAVUM_FIGURE_EPK_OVER_EACC | one << CAVUM_FIGURE_BPK_OVER_EACC;
  return s->half_model && (asked == 0 || (asked & peaks) || s->result->num_modes > 1);
}

cavum_status cavum_shape_motion_make(cavum_shape_motion *m, const cavum_problem *s,
                                     cavum_error *error) {
  const cavum_mesh *mesh = &s->memory->mesh;
  const cavum_contour contour = {mesh->num_curves, mesh->curves};
  half_path half = {0};
  cavum_status status =
      cavum_cell_dimensions_list_known(&m->dimensions, s->cell, &s->memory->text_path, error);
  if (status != CAVUM_OK) return status;
  int count = m->dimensions.count;
  m->num_curves = mesh->num_curves;
  m->rates = cavum_alloc((int64_t)count * mesh->num_curves, sizeof *m->rates);
  m->others = cavum_alloc(count, sizeof *m->others);
  m->smooth = cavum_alloc(count, sizeof *m->smooth);
  m->turned_tip = cavum_alloc(count, sizeof *m->turned_tip);
  m->has_odd = cavum_alloc(count, sizeof *m->has_odd);
  m->moved = cavum_alloc(count, sizeof *m->moved);
  bool odd = needs_odd(s);
  if (odd) m->odd = cavum_alloc((int64_t)count * mesh->num_curves, sizeof *m->odd);
  if (!m->rates || !m->others || !m->smooth || !m->turned_tip || !m->has_odd || !m->moved ||
      (odd && !m->odd)) {
    return cavum_fail_memory(error);
  }
  status = begin_half_path(&half, s, error);
  for (int i = 0; i < count && status == CAVUM_OK; i++) {
    status = rate_of(m, i, s, &contour, &half, error);
    m->turned_tip[i] = turned_tip(&contour, m->rates + (int64_t)i * m->num_curves);
    if (m->odd) take_moved(m->moved[i], m->odd + (int64_t)i * m->num_curves, m->num_curves);
    m->has_odd[i] = m->moved[i][1] > 0;
    take_moved(m->moved[i], m->rates + (int64_t)i * m->num_curves, m->num_curves);
  }
  free(half.whole);
  return status;
}

cavum_status cavum_shape_motion_describe(cavum_result *result, const cavum_shape_motion *m,
                                         cavum_error *error) {
  int count = m->dimensions.count;
  result->dimensions = cavum_alloc(count, sizeof *result->dimensions);
  if (!result->dimensions) return cavum_fail_memory(error);
  result->num_dimensions = count;
  for (int i = 0; i < count; i++) {
    result->dimensions[i] = cavum_cell_dimension_describe(&m->dimensions.list[i]);
  }
  return CAVUM_OK;
}
