// SPDX-License-Identifier: GPL-3.0-or-later
// Charts of field emission: dose rate as fitted, Fowler-Nordheim plot, power of electrons.
#include "picture/coldtest_emission.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "format/quantity.h"

enum { SAMPLES = 160 };
// Where the fitted emission is below so many uncertainties of a reading, its logarithm says
// nothing.
static const double SEEN = 2.0;

static double microsieverts(double sv_per_h) {
  return cavum_in_unit(sv_per_h, CAVUM_UNIT_MICROSIEVERT_PER_H);
}

// Emission of a fit, 1 at the reference.
static double shape(double e, double reference, double slope) {
  double x = e / reference;
  return x * x * sqrt(x) * exp(-slope * (1.0 / e - 1.0 / reference));
}

static void find_range(double *low, double *high, const cavum_stored_coldtest *test) {
  *low = INFINITY;
  *high = 0.0;
  for (int i = 0; i < test->num_points; i++) {
    double e = test->column[CAVUM_STORED_GRADIENT][i];
    if (!isfinite(e) || !isfinite(test->emission.excess_sv_per_h.value[i])) continue;
    *low = cavum_min(*low, e);
    *high = cavum_max(*high, e);
  }
}

void cavum_test_add_emission(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_emission *e = &test->emission;
  double low, high;
  if (!e->present || !isfinite(e->slope_v_per_m)) return;
  find_range(&low, &high, test);
  if (!(high > low)) return;
  cavum_chart_series *series = cavum_chart_add(chart, SAMPLES, "background and emission, fitted");
  if (!series) return;
  series->ink = CAVUM_INK_THIRD;
  series->width = 1.6;
  for (int i = 0; i < SAMPLES; i++) {
    double at = low + (high - low) * i / (SAMPLES - 1.0);
    double dose = e->background_sv_per_h +
                  e->level_sv_per_h * shape(at, e->reference_v_per_m, e->slope_v_per_m);
    cavum_chart_put(series, cavum_in_mv_per_m(at), microsieverts(dose), 0.0, 0.0);
  }
  char text[CAVUM_CHART_TEXT_SIZE], number[CAVUM_QUANTITY_SIZE];
  cavum_quantity_format(number, cavum_in_mv_per_m(e->onset_v_per_m),
                        cavum_in_mv_per_m(e->onset_uncertainty_v_per_m));
  snprintf(text, sizeof text, "onset of field emission, %s MV/m", number);
  cavum_chart_add_rule(chart, true, cavum_in_mv_per_m(e->onset_v_per_m), CAVUM_INK_FOURTH, text);
}

// Field on the wall where its ratio is known, else the gradient; the unit in which 1/E is shown.
static double field_of(const cavum_stored_coldtest *test, double e_acc) {
  double ratio = test->epk_over_eacc > 0.0 ? test->epk_over_eacc : 1.0;
  return cavum_in_mv_per_m(ratio * e_acc);
}

static double logarithm(double signal, double field) {
  return log(signal / (field * field * sqrt(field)));
}

static void add_emitted(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_emission *e = &test->emission;
  cavum_chart_series *series =
      cavum_chart_add(chart, test->num_points, "dose rate less background");
  if (!series) return;
  series->points = true;
  series->mark = CAVUM_MARK_TRIANGLE;
  for (int i = 0; i < test->num_points; i++) {
    double excess = e->excess_sv_per_h.value[i], u = e->excess_sv_per_h.uncertainty[i];
    double field = field_of(test, test->column[CAVUM_STORED_GRADIENT][i]);
    double e_acc = test->column[CAVUM_STORED_GRADIENT][i];
    double fitted = e->level_sv_per_h * shape(e_acc, e->reference_v_per_m, e->slope_v_per_m);
    if (!(fitted > SEEN * u) || !(excess > 0.0) || !(field > 0.0)) continue;
    cavum_chart_put(series, 1.0 / field, logarithm(microsieverts(excess), field), 0.0, u / excess);
  }
}

static void add_line(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_emission *e = &test->emission;
  const cavum_chart_series *points = &chart->series[chart->num_series - 1];
  double first = INFINITY, last = 0.0;
  for (int i = 0; i < points->count; i++) {
    first = cavum_min(first, points->x[i]);
    last = cavum_max(last, points->x[i]);
  }
  char text[CAVUM_CHART_TEXT_SIZE] = "fit", number[CAVUM_QUANTITY_SIZE];
  if (isfinite(e->enhancement)) {
    cavum_quantity_format(number, e->enhancement, e->enhancement_uncertainty);
    snprintf(text, sizeof text, "Fowler-Nordheim, \xce\xb2_{FN} = %s for %.3g eV", number,
             e->work_function_ev);
  }
  if (!(last > first)) return;
  cavum_chart_series *line = cavum_chart_add(chart, 2, text);
  if (!line) return;
  line->ink = CAVUM_INK_THIRD;
  line->width = 1.6;
  for (int i = 0; i < 2; i++) {
    double at = i == 0 ? first : last, unit = field_of(test, 1.0);
    double e_acc = 1.0 / (at * unit);
    double dose = e->level_sv_per_h * shape(e_acc, e->reference_v_per_m, e->slope_v_per_m);
    cavum_chart_put(line, at, logarithm(microsieverts(dose), 1.0 / at), 0.0, 0.0);
  }
}

void cavum_test_chart_fowler_nordheim(cavum_chart *chart, const cavum_stored_coldtest *test) {
  bool on_wall = test->epk_over_eacc > 0.0;
  chart->name = "fowler-nordheim";
  chart->caption =
      "Fowler-Nordheim plot: radiation less background, I, over E^2.5 against 1/E; bars are "
      "standard uncertainties, k = 1.";
  chart->x_name = on_wall ? "1/E_pk" : "1/E_acc";
  chart->x_unit = "m/MV";
  chart->x_label = on_wall ? "1/E_{pk} in m/MV" : "1/E_{acc} in m/MV";
  chart->y_unit = "";
  chart->y_label = on_wall ? "ln(I / E_{pk}^{2.5})" : "ln(I / E_{acc}^{2.5})";
  if (!test->emission.present || !isfinite(test->emission.slope_v_per_m)) return;
  add_emitted(chart, test);
  if (chart->num_series > 0) add_line(chart, test);
  const char *caution = test->emission.caution ? test->emission.caution : "";
  bool misses = strstr(caution, "radiation: one Fowler-Nordheim line does not fit") != NULL;
  snprintf(
      chart->remark, sizeof chart->remark,
      "%sI in \xc2\xb5Sv/h, E in MV/m. Readings at gradients where the fitted emission is below "
      "two of their uncertainties are in the fit, not in this plot.",
      misses ? "The line does not fit the readings. " : "");
}

void cavum_test_chart_electron_power(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_emission *e = &test->emission;
  chart->name = "electron-power";
  chart->caption =
      "Power that electrons take: dissipated power less that of the Q0 curve below the onset; bars "
      "are "
      "standard uncertainties, k = 1.";
  cavum_chart_over_gradient(chart);
  chart->y_unit = "W";
  chart->y_label = "P_{el} in W";
  if (!e->present) return;
  cavum_chart_series *series = cavum_chart_add(chart, test->num_points, "power of electrons");
  if (!series) return;
  series->points = true;
  series->mark = CAVUM_MARK_CIRCLE;
  series->ink = CAVUM_INK_SECOND;
  for (int i = 0; i < test->num_points; i++) {
    if (!isfinite(e->power_w.value[i])) continue;
    cavum_chart_put(series, cavum_in_mv_per_m(test->column[CAVUM_STORED_GRADIENT][i]),
                    e->power_w.value[i], 0.0, e->power_w.uncertainty[i]);
  }
}
