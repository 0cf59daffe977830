// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of a solved mode for a cold test.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_report.h"
#include "cavum/store.h"
#include "coldtest/setup.h"
#include "hdf5/hdf5_file.h"

/** A mode of a result, in memory or from a file. */
typedef struct mode_source {
  const char *name;  // of the result, for messages
  int number;        // from 1, for people
  const char *label;
  const cavum_figure *figures;
  cavum_accelerating_length length;  // of the first mode
  double beta;
} mode_source;

// The true value lies within the numerical uncertainty: a rectangular distribution [JCGM100] 4.3.7.
static cavum_estimate estimate_of(const mode_source *mode, cavum_figure_id id) {
  const cavum_figure *figure = &mode->figures[id];
  if (figure->state != CAVUM_FIGURE_PRESENT) return (cavum_estimate){0};
  return (cavum_estimate){figure->value, figure->uncertainty / sqrt(3.0),
                          CAVUM_DISTRIBUTION_RECTANGULAR};
}

static double omega_of(const mode_source *mode) {
  return 2.0 * CAVUM_PI * mode->figures[CAVUM_FIGURE_FREQUENCY].value;
}

// A length that goes with the wavelength is another one for each mode.
static double length_of(const mode_source *mode) {
  const char *from = mode->length.from ? mode->length.from : "";
  if (strcmp(from, "beta lambda / 2") != 0 || mode->number == 1) return mode->length.value_m;
  return CAVUM_PI * mode->beta * CAVUM_C_M_PER_S / omega_of(mode);
}

static cavum_status fill_setup(cavum_coldtest_setup *setup, const mode_source *mode,
                               cavum_error *error) {
  cavum_estimate r_over_q = estimate_of(mode, CAVUM_FIGURE_R_OVER_Q_LINAC);
  double length_m = length_of(mode);
  if (!(r_over_q.value > 0.0) || !(length_m > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: mode %d has no R/Q or no accelerating length: another mode was expected",
                      mode->name, mode->number);
  }
  setup->r_over_q_linac_ohm = r_over_q;
  setup->accelerating_length_m = (cavum_estimate){.value = length_m};
  setup->geometry_factor_ohm = estimate_of(mode, CAVUM_FIGURE_GEOMETRY_FACTOR);
  setup->epk_over_eacc = estimate_of(mode, CAVUM_FIGURE_EPK_OVER_EACC);
  setup->bpk_over_eacc_t_per_v_per_m = estimate_of(mode, CAVUM_FIGURE_BPK_OVER_EACC);
  setup->cell_frequency_hz = mode->figures[CAVUM_FIGURE_FREQUENCY].value;
  if (setup->frequency_hz <= 0.0) setup->frequency_hz = setup->cell_frequency_hz;
  snprintf(setup->geometry_from, sizeof setup->geometry_from,
           "mode %d (%.15s) of %.150s, length from %.40s", mode->number, mode->label, mode->name,
           mode->length.from ? mode->length.from : "");
  return CAVUM_OK;
}

/** Samples along a wall, shape [count] each. */
typedef struct wall_samples {
  int64_t count;
  const double *arc_length_m, *r_m, *h_a_per_m, *e_v_per_m;
} wall_samples;

static cavum_status weigh_wall(cavum_wall_weighting *wall, cavum_wall_pressure *pressure,
                               const wall_samples *w, double omega, double factor_ohm,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  // Of the whole wall at 1 J: Q0 = w U / P with P = R_s / 2 times it, and G = Q0 R_s.
  double h_square_a2 = factor_ohm > 0.0 ? 2.0 * omega / factor_ohm : 0.0;
  if (wall) {
    status = cavum_wall_weigh(wall, w->count, w->arc_length_m, w->r_m, w->h_a_per_m, error);
  }
  if (pressure && status == CAVUM_OK) {
    status = cavum_wall_integrate_pressure(pressure, w->count, w->arc_length_m, w->r_m,
                                           w->e_v_per_m, w->h_a_per_m, h_square_a2, error);
  }
  return status;
}

cavum_status cavum_coldtest_take_mode(cavum_coldtest_setup *setup, cavum_wall_weighting *wall,
                                      cavum_wall_pressure *pressure, const cavum_result *result,
                                      int mode, cavum_error *error) {
  if (!setup || !result) return cavum_fail_null(error, __func__);
  const cavum_mode_result *solved = cavum_result_mode(result, mode);
  if (!solved) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "mode %d: the result has %d, counted from 0", mode,
                      result->num_modes);
  }
  const mode_source source = {.name = result->title && *result->title ? result->title : "a result",
                              .number = mode + 1,
                              .label = solved->label,
                              .figures = solved->figures,
                              .length = result->accelerating_length,
                              .beta = result->beta};
  const cavum_profile *profile = &solved->wall;
  const wall_samples samples = {profile->num_points, profile->arc_length_m, profile->r_m,
                                profile->h_a_per_m, profile->e_v_per_m};
  cavum_coldtest_setup filled;
  cavum_wall_weighting weighted = {0};
  cavum_wall_pressure pressed = {0};
  cavum_status status = cavum_coldtest_setup_take(&filled, setup, error);
  if (status == CAVUM_OK) status = fill_setup(&filled, &source, error);
  if (status == CAVUM_OK && profile->num_points > 1) {
    status = weigh_wall(&weighted, &pressed, &samples, omega_of(&source),
                        filled.geometry_factor_ohm.value, error);
  }
  if (status != CAVUM_OK) return status;
  cavum_coldtest_setup_give(setup, &filled);
  if (wall) *wall = weighted;
  if (pressure) *pressure = pressed;
  return CAVUM_OK;
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
    const wall_samples samples = {count, columns[0], columns[1], columns[2], columns[3]};
    CAVUM_TRY(weigh_wall(&test->wall, &test->wall_pressure, &samples, omega,
                         test->setup.geometry_factor_ohm.value, error));
  }
done:
  for (int i = 0; i < 4; i++) free(columns[i]);
  cavum_hdf5_destroy(&file);
  return status;
}

cavum_status cavum_store_read_coldtest_geometry(cavum_coldtest_file *file, cavum_error *error) {
  if (!file) return cavum_fail_null(error, __func__);
  cavum_stored_mode mode;
  cavum_status status = cavum_store_read_mode(&mode, file->result_path, file->result_mode, error);
  if (status != CAVUM_OK) return status;
  const mode_source source = {.name = file->result_path,
                              .number = file->result_mode + 1,
                              .label = mode.label,
                              .figures = mode.figures,
                              .length = {mode.accelerating_length_m, mode.accelerating_length_from},
                              .beta = mode.beta};
  status = fill_setup(&file->setup, &source, error);
  if (status != CAVUM_OK) return status;
  return read_wall(file, file->result_path, source.number, omega_of(&source), error);
}
