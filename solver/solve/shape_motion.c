// SPDX-License-Identifier: GPL-3.0-or-later
// The contour of a cell by each of its dimensions.
#include "solve/shape_motion.h"

#include "base/base.h"

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

cavum_status cavum_shape_motion_make(cavum_shape_motion *m, const cavum_problem *s,
                                     cavum_error *error) {
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
  m->turns_tip = cavum_alloc(count, sizeof *m->turns_tip);
  if (!m->rates || !m->others || !m->smooth || !m->turns_tip) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    status = cavum_cell_dimension_rate(m->rates + (int64_t)i * m->num_curves, &m->others[i],
                                       &m->smooth[i], &contour, s->cell, part,
                                       &m->dimensions.list[i], error);
    if (status != CAVUM_OK) return status;
    m->turns_tip[i] = turns_tip(&contour, m->rates + (int64_t)i * m->num_curves);
  }
  return CAVUM_OK;
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
