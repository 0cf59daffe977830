// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers that two tests must have in common before errors of one may cancel those of the other.
#include "coldtest/compare_names.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "coldtest/coldtest_private.h"

// A number of both tests, in SI.
typedef struct stated {
  const char *name;
  cavum_unit unit;
  double first, later;
} stated;

// "decay.uncertainty_percent: 0.5 % and 3 %", of the first row that differs; false: none does.
static bool describe_other(char *text, size_t size, const char *of, int count, const stated *rows) {
  for (int i = 0; i < count; i++) {
    const stated *row = &rows[i];
    if (row->first == row->later) continue;
    const char *symbol = cavum_unit_symbol(row->unit), *gap = symbol[0] ? " " : "";
    snprintf(text, size, "%s%s: %.6g%s%s and %.6g%s%s", of, row->name,
             cavum_in_unit(row->first, row->unit), gap, symbol,
             cavum_in_unit(row->later, row->unit), gap, symbol);
    return true;
  }
  return false;
}

static bool describe_other_channel(char *text, size_t size, const cavum_coldtest_setup *x,
                                   const cavum_coldtest_setup *y, int channel) {
  char of[80];
  const cavum_coldtest_channel *a = &x->channels[channel], *b = &y->channels[channel];
  const stated rows[] = {
      // Losses and their uncertainties are in decibels everywhere.
      {"chain, dB", CAVUM_UNIT_SI, a->attenuation_db, b->attenuation_db},
      {"chain, uncertainty_dB", CAVUM_UNIT_SI, a->attenuation_uncertainty_db,
       b->attenuation_uncertainty_db},
      {"meter_uncertainty_percent", CAVUM_UNIT_PERCENT, a->gain_uncertainty, b->gain_uncertainty},
      {"zero_mW", CAVUM_UNIT_MILLIWATT, a->zero_w, b->zero_w},
      {"zero_uncertainty_mW", CAVUM_UNIT_MILLIWATT, a->zero_uncertainty_w, b->zero_uncertainty_w}};
  snprintf(of, sizeof of, "channels.%.40s.", cavum_coldtest_channel_name(x, channel));
  if (a->chain != b->chain) {
    snprintf(text, size, "%smeter: own in one of them", of);
    return true;
  }
  return describe_other(text, size, of, (int)(sizeof rows / sizeof *rows), rows);
}

static bool describe_other_calibration(char *text, size_t size, const cavum_coldtest_setup *x,
                                       const cavum_coldtest_setup *y) {
  const stated rows[] = {
      {"meters.common_gain_uncertainty_percent", CAVUM_UNIT_PERCENT, x->common_gain_uncertainty,
       y->common_gain_uncertainty},
      {"input_line.loss_dB", CAVUM_UNIT_SI, x->input_line_loss_db, y->input_line_loss_db},
      {"input_line.uncertainty_dB", CAVUM_UNIT_SI, x->input_line_uncertainty_db,
       y->input_line_uncertainty_db},
      {"decay.uncertainty_percent", CAVUM_UNIT_PERCENT, x->decay_uncertainty, y->decay_uncertainty},
      {"frequency_uncertainty_ppm", CAVUM_UNIT_PPM, x->frequency_uncertainty,
       y->frequency_uncertainty},
      {"temperature.calibration_uncertainty_mK", CAVUM_UNIT_MILLIKELVIN, x->temperature_common_k,
       y->temperature_common_k}};
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    if (describe_other_channel(text, size, x, y, i)) return true;
  }
  return describe_other(text, size, "", (int)(sizeof rows / sizeof *rows), rows);
}

static bool describe_other_shape(char *text, size_t size, const cavum_coldtest_setup *x,
                                 const cavum_coldtest_setup *y) {
  const struct {
    const char *name;
    cavum_unit unit;
    cavum_estimate first, later;
  } figures[] = {{"R/Q, linac", CAVUM_UNIT_OHM, x->r_over_q_linac_ohm, y->r_over_q_linac_ohm},
                 {"L_acc", CAVUM_UNIT_MM, x->accelerating_length_m, y->accelerating_length_m},
                 {"G", CAVUM_UNIT_OHM, x->geometry_factor_ohm, y->geometry_factor_ohm},
                 {"E_pk / E_acc", CAVUM_UNIT_SI, x->epk_over_eacc, y->epk_over_eacc},
                 {"B_pk / E_acc", CAVUM_UNIT_MILLITESLA_PER_MV_PER_M,
                  x->bpk_over_eacc_t_per_v_per_m, y->bpk_over_eacc_t_per_v_per_m}};
  for (size_t i = 0; i < sizeof figures / sizeof *figures; i++) {
    const cavum_estimate *a = &figures[i].first, *b = &figures[i].later;
    bool known = cavum_estimate_is_known(a);
    if (!known && !cavum_estimate_is_known(b)) continue;
    if (known != cavum_estimate_is_known(b)) {
      snprintf(text, size, "%s in one of them", figures[i].name);
      return true;
    }
    const stated rows[] = {{"", figures[i].unit, a->value, b->value},
                           {", uncertainty", figures[i].unit, a->uncertainty, b->uncertainty}};
    if (describe_other(text, size, figures[i].name, 2, rows)) return true;
  }
  return false;
}

cavum_status cavum_coldtest_check_names(const cavum_coldtest_report *first,
                                        const cavum_coldtest_report *later, bool calibration,
                                        bool shape, cavum_error *error) {
  char text[200];
  const cavum_coldtest_setup *x = &first->file.setup, *y = &later->file.setup;
  if (calibration && describe_other_calibration(text, sizeof text, x, y)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "shared.calibration '%s': the tests state different numbers, %s",
                      first->file.shared_calibration, text);
  }
  if (shape && describe_other_shape(text, sizeof text, x, y)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "shared.shape '%s': the tests state different figures of the cell, %s",
                      first->file.shared_shape, text);
  }
  return CAVUM_OK;
}
