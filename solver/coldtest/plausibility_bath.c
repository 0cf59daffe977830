// SPDX-License-Identifier: GPL-3.0-or-later
// Bath temperature against bath pressure: a helium bath boils at its pressure.
#include "base/units.h"
#include "coldtest/coldtest_private.h"

// Vapour pressure of helium 4, T(p) with p in Pa [PrestonThomas1990], table 3 and eq. 3.
enum { NUM_TERMS = 9 };
typedef struct range {
  double lowest_k, lowest_pa, b, c, a[NUM_TERMS];
} range;
static const range RANGES[] = {
    {1.25,
     114.7,
     5.6,
     2.9,
     {1.392408, 0.527153, 0.166756, 0.050988, 0.026514, 0.001975, -0.017976, 0.005409, 0.013259}},
    {2.1768,
     5041.8,
     10.3,
     1.9,
     {3.146631, 1.357655, 0.413923, 0.091159, 0.016349, 0.001826, -0.004325, -0.004973, 0.0}}};
static const double HIGHEST_K = 5.0, HIGHEST_PA = 196e3;
// 5 % of the temperature are some 30 % of the pressure: a column of liquid, or a line to the gauge,
// make less of a difference.
static const double LARGEST_DIFFERENCE = 0.05;

// Where helium boils, and the end of the formula where it boils beyond it.
static double boiling_k(double pressure_pa) {
  if (pressure_pa <= RANGES[0].lowest_pa) return RANGES[0].lowest_k;
  if (pressure_pa >= HIGHEST_PA) return HIGHEST_K;
  const range *r = &RANGES[pressure_pa >= RANGES[1].lowest_pa];
  double x = (log(pressure_pa) - r->b) / r->c, sum = 0.0;
  for (int i = NUM_TERMS - 1; i >= 0; i--) sum = sum * x + r->a[i];
  return sum;
}

// A bath outside the formula on the same side agrees with it.
static bool agrees(double temperature_k, double pressure_pa) {
  double boils_k = boiling_k(pressure_pa);
  if (boils_k <= RANGES[0].lowest_k && temperature_k < boils_k) return true;
  if (boils_k >= HIGHEST_K && temperature_k > boils_k) return true;
  return fabs(temperature_k - boils_k) <= LARGEST_DIFFERENCE * boils_k;
}

void cavum_coldtest_remark_on_bath(cavum_coldtest *test) {
  int64_t first = -1, count = 0, both = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    const cavum_coldtest_reading *reading = &test->readings.items[i];
    if (!(reading->bath_temperature_k > 0.0) || !(reading->bath_pressure_pa > 0.0)) continue;
    both++;
    if (agrees(reading->bath_temperature_k, reading->bath_pressure_pa)) continue;
    if (first < 0) first = i;
    count++;
  }
  if (count == 0) return;
  const cavum_coldtest_reading *reading = &test->readings.items[first];
  double pressure_pa = reading->bath_pressure_pa, boils_k = boiling_k(pressure_pa);
  bool beyond = pressure_pa <= RANGES[0].lowest_pa || pressure_pa >= HIGHEST_PA;
  cavum_coldtest_remark(
      test,
      "reading %lld%s: a bath of %.4g K at %.4g mbar, where helium boils %s%.3g K: the unit of the "
      "pressure, a thermometer or gauge that is off, or a bath under pressure? (%lld of %lld)",
      (long long)first + 1, count > 1 ? " and more" : "", reading->bath_temperature_k,
      cavum_in_unit(pressure_pa, CAVUM_UNIT_MBAR),
      !beyond                ? "at "
      : boils_k == HIGHEST_K ? "above "
                             : "below ",
      boils_k, (long long)count, (long long)both);
}
