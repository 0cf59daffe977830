// SPDX-License-Identifier: GPL-3.0-or-later
// Surface resistance of a wall: classical skin effect for normal metals and the BCS fit for
// niobium, each with a caution where its range of validity ends.
#include "cavum/wall.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"

// Niobium: transition temperature; the fit is meant for T < T_c / 2 [Padamsee1998] ch. 4.
static const double NIOBIUM_TRANSITION_K = 9.25;
static const double NIOBIUM_FIT_LIMIT_K = 4.6;
// The fit wants f well below the gap frequency 2 Delta / h, about 0.7 THz for niobium.
static const double NIOBIUM_FIT_LIMIT_HZ = 1e11;
static const double NIOBIUM_GAP_HZ = 7e11;
// Resistivity times mean free path of copper, 6.6e-16 ohm m^2 (not checked against the source,
// free-electron theory). Where the mean free path is no longer small against the skin depth, the
// skin effect is anomalous.
static const double COPPER_RHO_TIMES_PATH_OHM_M2 = 6.6e-16;
static const double ANOMALOUS_PATH_OVER_DEPTH = 0.1;

double cavum_wall_skin_resistance_ohm(double frequency_hz, double conductivity_s_per_m) {
  return sqrt(CAVUM_PI * frequency_hz * CAVUM_MU0 / conductivity_s_per_m);
}

double cavum_wall_skin_depth_m(double frequency_hz, double conductivity_s_per_m) {
  return 1.0 / sqrt(CAVUM_PI * frequency_hz * CAVUM_MU0 * conductivity_s_per_m);
}

double cavum_wall_niobium_bcs_ohm(double frequency_hz, double temperature_k) {
  double ratio = frequency_hz / 1.5e9;
  return 2e-4 * ratio * ratio * exp(-17.67 / temperature_k) / temperature_k;
}

// Of the fit for niobium at 1.3 GHz, relative; it grows with the logarithm of the frequency.
static const double NIOBIUM_FIT_ERROR = 0.2, NIOBIUM_FIT_BEST_HZ = 1.3e9;

double cavum_wall_resistance_error_ohm(const cavum_wall *wall, double frequency_hz) {
  if (!wall || wall->kind != CAVUM_WALL_NIOBIUM) return 0.0;
  if (!(frequency_hz > 0.0 && frequency_hz < NIOBIUM_GAP_HZ)) return 0.0;
  if (!(wall->temperature_k > 0.0 && wall->temperature_k < NIOBIUM_TRANSITION_K)) return 0.0;
  double relative = NIOBIUM_FIT_ERROR * (1.0 + fabs(log(frequency_hz / NIOBIUM_FIT_BEST_HZ)));
  return relative * cavum_wall_niobium_bcs_ohm(frequency_hz, wall->temperature_k);
}

static cavum_status metal(double *resistance_ohm, char caution[256], const cavum_wall *wall,
                          double frequency_hz, cavum_error *error) {
  double sigma = wall->conductivity_s_per_m;
  if (!(sigma > 0.0) || !isfinite(sigma)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "wall conductivity of %g S/m: a positive number was expected", sigma);
  }
  *resistance_ohm = cavum_wall_skin_resistance_ohm(frequency_hz, sigma);
  double path = sigma * COPPER_RHO_TIMES_PATH_OHM_M2;
  double depth = cavum_wall_skin_depth_m(frequency_hz, sigma);
  if (caution && path > ANOMALOUS_PATH_OVER_DEPTH * depth) {
    snprintf(caution, 256,
             "a metal of %.3g S/m has an electron path (%.2g um, copper) that is not small against "
             "its skin depth (%.2g um): the skin effect is anomalous, R_s is larger than given",
             sigma, cavum_in_unit(path, CAVUM_UNIT_UM), cavum_in_unit(depth, CAVUM_UNIT_UM));
  }
  return CAVUM_OK;
}

static cavum_status niobium(double *resistance_ohm, char caution[256], const cavum_wall *wall,
                            double frequency_hz, cavum_error *error) {
  double temperature = wall->temperature_k, residual = wall->residual_resistance_ohm;
  if (!(temperature > 0.0) || temperature >= NIOBIUM_TRANSITION_K) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "niobium at %g K: a temperature above 0 and below its transition at %g K was "
                      "expected",
                      temperature, NIOBIUM_TRANSITION_K);
  }
  if (!(residual >= 0.0) || !isfinite(residual)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "residual resistance of %g ohm: a number not below 0 was expected", residual);
  }
  if (frequency_hz >= NIOBIUM_GAP_HZ) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "niobium at %g GHz: a frequency below its gap frequency of about 700 GHz was "
                      "expected",
                      cavum_in_unit(frequency_hz, CAVUM_UNIT_GHZ));
  }
  *resistance_ohm = cavum_wall_niobium_bcs_ohm(frequency_hz, temperature) + residual;
  if (caution && temperature > NIOBIUM_FIT_LIMIT_K) {
    snprintf(caution, 256,
             "the BCS fit for niobium is meant for temperatures below T_c/2 = %.1f K, not %.3g K",
             NIOBIUM_FIT_LIMIT_K, temperature);
  } else if (caution && frequency_hz > NIOBIUM_FIT_LIMIT_HZ) {
    snprintf(caution, 256,
             "the BCS fit for niobium is meant for frequencies well below 1 THz, not %.3g GHz",
             cavum_in_unit(frequency_hz, CAVUM_UNIT_GHZ));
  }
  return CAVUM_OK;
}

cavum_status cavum_wall_resistance(double *resistance_ohm, char caution[256],
                                   const cavum_wall *wall, double frequency_hz,
                                   cavum_error *error) {
  if (!resistance_ohm || !wall) return cavum_fail(error, CAVUM_ERR_USAGE, "no wall was given");
  if (caution) caution[0] = '\0';
  if (!(frequency_hz > 0.0) || !isfinite(frequency_hz)) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "frequency of %g Hz: a positive number was expected",
                      frequency_hz);
  }
  switch (wall->kind) {
    case CAVUM_WALL_METAL:
      return metal(resistance_ohm, caution, wall, frequency_hz, error);
    case CAVUM_WALL_NIOBIUM:
      return niobium(resistance_ohm, caution, wall, frequency_hz, error);
    case CAVUM_WALL_RESISTANCE:
      break;
    case CAVUM_WALL_NONE:
    default:
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "wall kind %d: expected RESISTANCE, METAL or NIOBIUM (1 to 3)",
                        (int)wall->kind);
  }
  if (!(wall->surface_resistance_ohm > 0.0) || !isfinite(wall->surface_resistance_ohm)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "surface resistance of %g ohm: a positive number was expected",
                      wall->surface_resistance_ohm);
  }
  *resistance_ohm = wall->surface_resistance_ohm;
  return CAVUM_OK;
}
