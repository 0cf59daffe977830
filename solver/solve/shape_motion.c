// SPDX-License-Identifier: GPL-3.0-or-later
// The contour of a cell by each of its dimensions.
#include "solve/shape_motion.h"

#include "base/base.h"
#include "contour/mirror.h"

// Whether a straight wall across the axis turns with a dimension.
static bool turns_tip(const cavum_contour *contour, const cavum_curve_rate *rates) {
  const double right_angle = 0.02, rounding = 1e-9;
  for (cavum_index k = 0; k < contour->num_curves; k++) {
    const cavum_curve *curve = &contour->curves[k];
    double along = fabs(curve->end.z_m - curve->start.z_m);
    double across = fabs(curve->end.r_m - curve->start.r_m);
    bool on_axis = (curve->start.r_m == 0.0) != (curve->end.r_m == 0.0);
    if (curve->kind != CAVUM_CURVE_LINE || !on_axis || along > right_angle * across) continue;
    if (fabs(rates[k].start.z_m - rates[k].end.z_m) > rounding) return true;
  }
  return false;
}

void cavum_shape_motion_clear(cavum_shape_motion *m) {
  cavum_cell_dimensions_clear(&m->dimensions);
  free(m->rates);
  free(m->others);
  free(m->smooth);
  free(m->turns_tip);
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

static cavum_status rate_of(cavum_shape_motion *m, int i, const cavum_problem *s,
                            const cavum_contour *contour, const half_path *half,
                            cavum_error *error) {
  cavum_curve_rate *rates = m->rates + (int64_t)i * m->num_curves;
  cavum_cell_part part = s->half_model ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE;
  if (!half->is_one) {
    return cavum_cell_dimension_rate(rates, &m->others[i], &m->smooth[i], contour, s->cell, part,
                                     &m->dimensions.list[i], error);
  }
  const cavum_contour *path = &s->cell->path;
  cavum_status status =
      cavum_cell_dimension_rate(half->whole, &m->others[i], &m->smooth[i], path, s->cell,
                                CAVUM_PART_WHOLE, &m->dimensions.list[i], error);
  if (status != CAVUM_OK || !m->smooth[i]) return status;
  bool fits = cavum_contour_halve_rates(rates, m->num_curves, half->whole, path, &half->mirror);
  return fits ? CAVUM_OK : cavum_fail_internal(error, "half a path has other curves");
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
  m->turns_tip = cavum_alloc(count, sizeof *m->turns_tip);
  if (!m->rates || !m->others || !m->smooth || !m->turns_tip) return cavum_fail_memory(error);
  status = begin_half_path(&half, s, error);
  for (int i = 0; i < count && status == CAVUM_OK; i++) {
    status = rate_of(m, i, s, &contour, &half, error);
    m->turns_tip[i] = turns_tip(&contour, m->rates + (int64_t)i * m->num_curves);
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
