// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of a solved mode for a cold test.
#include <stdio.h>

#include "base/base.h"
#include "cavum/coldtest_report.h"
#include "cavum/store.h"
#include "hdf5/hdf5_file.h"

// The true value lies within the numerical uncertainty: a rectangular distribution [JCGM100] 4.3.7.
static cavum_estimate estimate_of(const cavum_stored_mode *mode, cavum_figure_id id) {
  const cavum_figure *figure = &mode->figures[id];
  if (figure->state != CAVUM_FIGURE_PRESENT) return (cavum_estimate){0};
  return (cavum_estimate){figure->value, figure->uncertainty / sqrt(3.0),
                          CAVUM_DISTRIBUTION_RECTANGULAR};
}

// The wall's weighting and radiation pressure; a mode without a wall leaves them unknown.
static cavum_status read_wall(cavum_coldtest_file *test, const char *path, int mode, double omega,
                              cavum_error *error) {
  static const char *const names[] = {"arc_length", "r", "H", "E"};
  cavum_status status = CAVUM_OK;
  cavum_hdf5_file *file = NULL;
  double *columns[4] = {NULL};
  int64_t count = 0, first = 0;
  char place[64];
  CAVUM_TRY(cavum_hdf5_open(&file, path, error));
  for (int i = 0; i < 4; i++) {
    snprintf(place, sizeof place, "/modes/%d/wall/%s", mode, names[i]);
    if (!cavum_hdf5_has(file, place)) goto done;
    CAVUM_TRY(cavum_hdf5_read_doubles(&columns[i], &count, file, place, error));
    if (i == 0) first = count;
    if (count == first) continue;
    status = cavum_fail(error, CAVUM_ERR_INPUT, "%s: %s is damaged", path, place);
    goto done;
  }
  if (count > 1) {
    CAVUM_TRY(cavum_wall_weigh(&test->wall, count, columns[0], columns[1], columns[2], error));
    // Of the whole wall at 1 J: Q0 = w U / P with P = R_s / 2 times it, and G = Q0 R_s.
    double factor_ohm = test->setup.geometry_factor_ohm.value;
    double h_square_a2 = factor_ohm > 0.0 ? 2.0 * omega / factor_ohm : 0.0;
    CAVUM_TRY(cavum_wall_integrate_pressure(&test->wall_pressure, count, columns[0], columns[1],
                                            columns[3], columns[2], h_square_a2, error));
  }
done:
  for (int i = 0; i < 4; i++) free(columns[i]);
  cavum_hdf5_destroy(&file);
  return status;
}

cavum_status cavum_store_read_coldtest_geometry(cavum_coldtest_file *file, cavum_error *error) {
  if (!file) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_stored_mode mode;
  cavum_coldtest_setup *setup = &file->setup;
  CAVUM_TRY(cavum_store_read_mode(&mode, file->result_path, file->result_mode, error));
  setup->r_over_q_linac_ohm = estimate_of(&mode, CAVUM_FIGURE_R_OVER_Q_LINAC);
  if (!(setup->r_over_q_linac_ohm.value > 0.0) || !(mode.accelerating_length_m > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: mode %d has no R/Q or no accelerating length: another mode was expected",
                      file->result_path, file->result_mode);
  }
  setup->accelerating_length_m = (cavum_estimate){.value = mode.accelerating_length_m};
  setup->geometry_factor_ohm = estimate_of(&mode, CAVUM_FIGURE_GEOMETRY_FACTOR);
  setup->epk_over_eacc = estimate_of(&mode, CAVUM_FIGURE_EPK_OVER_EACC);
  setup->bpk_over_eacc_t_per_v_per_m = estimate_of(&mode, CAVUM_FIGURE_BPK_OVER_EACC);
  CAVUM_TRY(read_wall(file, file->result_path, file->result_mode,
                      2.0 * CAVUM_PI * mode.figures[CAVUM_FIGURE_FREQUENCY].value, error));
  if (setup->frequency_hz <= 0.0) {
    setup->frequency_hz = mode.figures[CAVUM_FIGURE_FREQUENCY].value;
  }
  snprintf(setup->geometry_from, sizeof setup->geometry_from,
           "mode %d (%s) of %.150s, length from %s", file->result_mode, mode.label,
           file->result_path, mode.accelerating_length_from);
done:
  return status;
}
