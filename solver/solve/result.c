// SPDX-License-Identifier: GPL-3.0-or-later
// Life of a result.
#include "solve/result.h"

#include "base/base.h"
#include "figures/profile.h"

static void clear_density(cavum_wall_density *d) {
  double *owned[] = {d->arc_length_m,
                     d->z_m,
                     d->r_m,
                     d->normal_z,
                     d->normal_r,
                     d->area_m2,
                     d->pressure_pa,
                     d->frequency_hz_per_m3,
                     d->geometry_factor_ohm_per_m3,
                     d->r_over_q_linac_ohm_per_m3};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++) free(owned[i]);
  free(d->curve);
}

static void clear_mode(cavum_mode_result *mode) {
  free(mode->beta_curve.beta);
  free(mode->beta_curve.voltage_v);
  free(mode->beta_curve.r_over_q_linac_ohm);
  free(mode->beta_curve.uncertainty_ohm);
  cavum_profile_clear(&mode->axis);
  cavum_profile_clear(&mode->wall);
  clear_density(&mode->wall_density);
  free(mode->field.z_m);
  free(mode->field.r_m);
  free(mode->field.h_phi_a_per_m);
  free(mode->field.e_z_v_per_m);
  free(mode->field.e_r_v_per_m);
  free(mode->derivatives);
  free(mode->one_sided);
  free(mode->wall_e_by);
  free(mode->wall_h_by);
  free(mode->axis_e_uncertainty_v_per_m);
  free(mode->wall_e_uncertainty_v_per_m);
  free(mode->wall_h_uncertainty_a_per_m);
  free(mode->field_h_uncertainty_a_per_m);
  free(mode->field_e_uncertainty_v_per_m);
  free(mode->wall_geometry_factor_uncertainty_ohm_per_m3);
  free(mode->wall_r_over_q_uncertainty_ohm_per_m3);
}

const cavum_mode_result *cavum_result_mode(const cavum_result *result, int index) {
  return result && index >= 0 && index < result->num_modes ? &result->modes[index] : NULL;
}

cavum_figure cavum_mode_figure(const cavum_mode_result *mode, cavum_figure_id id) {
  const cavum_figure absent = {.state = CAVUM_FIGURE_ABSENT};
  return mode && (int)id >= 0 && id < CAVUM_NUM_FIGURES ? mode->figures[id] : absent;
}

cavum_derivative cavum_result_derivative(const cavum_result *result, int mode, int dimension,
                                         cavum_figure_id id) {
  const cavum_derivative absent = {.state = CAVUM_FIGURE_ABSENT};
  const cavum_mode_result *of = cavum_result_mode(result, mode);
  if (!of || !of->derivatives || dimension < 0 || dimension >= result->num_dimensions)
    return absent;
  if ((int)id < 0 || id >= CAVUM_NUM_FIGURES) return absent;
  return of->derivatives[(int64_t)dimension * CAVUM_FIGURES_ROOM + (int)id];
}

cavum_derivative cavum_result_one_sided_derivative(const cavum_result *result, int mode,
                                                   int dimension, cavum_figure_id id,
                                                   cavum_change change) {
  const cavum_derivative both = cavum_result_derivative(result, mode, dimension, id);
  const cavum_mode_result *of = cavum_result_mode(result, mode);
  bool peak = id == CAVUM_FIGURE_EPK_OVER_EACC || id == CAVUM_FIGURE_BPK_OVER_EACC;
  bool known = change == CAVUM_CHANGE_GROWS || change == CAVUM_CHANGE_SHRINKS;
  if (both.state == CAVUM_FIGURE_PRESENT || !both.reason || !peak || !known || !of->one_sided) {
    return both;
  }
  int at = 4 * dimension + (id == CAVUM_FIGURE_BPK_OVER_EACC ? 2 : 0) + (int)change;
  return of->one_sided[at].state == CAVUM_FIGURE_PRESENT ? of->one_sided[at] : both;
}

cavum_derivative cavum_result_coupling_derivative(const cavum_result *result, int dimension) {
  const cavum_derivative absent = {.state = CAVUM_FIGURE_ABSENT};
  bool there = result && result->coupling_derivatives && dimension >= 0 &&
               dimension < result->num_dimensions;
  return there ? result->coupling_derivatives[dimension] : absent;
}

void cavum_result_destroy(cavum_result **result) {
  if (!result || !*result) return;
  cavum_result *r = *result;
  for (int i = 0; r->modes && i < r->num_modes; i++) clear_mode(&r->modes[i]);
  for (int i = 0; r->warnings && i < r->num_warnings; i++) free(r->warnings[i]);
  free(r->modes);
  free(r->warnings);
  free(r->steps);
  free(r->title);
  free(r->dimensions);
  free(r->coupling_derivatives);
  cavum_mesh_clear(&r->mesh);
  free(r);
  *result = NULL;
}

void cavum_result_keep_lowest(cavum_result *result, int count) {
  bool reached = true;
  while (result->num_modes > count) {
    cavum_mode_result *last = &result->modes[--result->num_modes];
    cavum_figure f = last->figures[CAVUM_FIGURE_FREQUENCY];
    double least_hz = f.value - f.uncertainty;
    if (least_hz > 0.0) result->complete_below_hz = cavum_min(result->complete_below_hz, least_hz);
    clear_mode(last);
  }
  for (int m = 0; m < result->num_modes; m++) reached &= result->modes[m].accuracy_reached;
  result->accuracy_reached = result->accuracy_reached || reached;
}
