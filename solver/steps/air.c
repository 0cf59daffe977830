// SPDX-License-Identifier: GPL-3.0-or-later
// Radio refractivity of moist air [ITU1999].
#include "steps/air.h"

#include <math.h>

#include "base/base.h"

static const double PA_PER_HPA = 100.0, KELVIN_AT_0_C = 273.15;
// Range of the saturation pressure over water, and pressures at which gases are near ideal.
static const double COLDEST_C = -20.0, WARMEST_C = 50.0, LARGEST_PRESSURE_PA = 2e5;
// Bound of the error of the formula, relative.
static const double FORMULA_BOUND = 0.005;

static double saturation_hpa(double celsius) {
  return 6.1121 * exp(17.502 * celsius / (240.97 + celsius));
}

static bool within(double value, double low, double high) { return value >= low && value <= high; }

cavum_status cavum_air_refractivity(double *refractivity_ppm, double *uncertainty_ppm,
                                    const cavum_air *air, cavum_error *error) {
  if (!refractivity_ppm || !air) return cavum_fail_null(error, __func__);
  if (!within(air->temperature_c, COLDEST_C, WARMEST_C)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "air: the formula holds from %g to %g degrees Celsius, found %g", COLDEST_C,
                      WARMEST_C, air->temperature_c);
  }
  if (!within(air->humidity_percent, 0.0, 100.0)) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "air: humidity from 0 to 100 %%, found %g",
                      air->humidity_percent);
  }
  double kelvin = air->temperature_c + KELVIN_AT_0_C, pressure_hpa = air->pressure_pa / PA_PER_HPA;
  double vapour_hpa = 0.01 * air->humidity_percent * saturation_hpa(air->temperature_c);
  if (!within(air->pressure_pa, 0.0, LARGEST_PRESSURE_PA) || vapour_hpa > pressure_hpa) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "air: pressure from that of its vapour (%.4g hPa) to %g hPa, found %g",
                      vapour_hpa, LARGEST_PRESSURE_PA / PA_PER_HPA, pressure_hpa);
  }
  double found = 77.6 / kelvin * (pressure_hpa + 4810.0 * vapour_hpa / kelvin);
  *refractivity_ppm = found;
  if (uncertainty_ppm) *uncertainty_ppm = FORMULA_BOUND * found / sqrt(3.0);
  return CAVUM_OK;
}

void cavum_air_slopes(double slopes_ppm[3], const cavum_air *air) {
  double kelvin = air->temperature_c + KELVIN_AT_0_C, pressure_hpa = air->pressure_pa / PA_PER_HPA;
  double t = air->temperature_c, saturation = saturation_hpa(t);
  double part = 0.01 * air->humidity_percent, vapour = part * saturation;
  double vapour_by_t = vapour * 17.502 * 240.97 / ((240.97 + t) * (240.97 + t));
  slopes_ppm[0] = -77.6 / (kelvin * kelvin) * (pressure_hpa + 2.0 * 4810.0 * vapour / kelvin) +
                  77.6 * 4810.0 / (kelvin * kelvin) * vapour_by_t;
  slopes_ppm[1] = 77.6 / kelvin / PA_PER_HPA;
  slopes_ppm[2] = 77.6 * 4810.0 / (kelvin * kelvin) * 0.01 * saturation;
}
