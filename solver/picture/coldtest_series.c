// SPDX-License-Identifier: GPL-3.0-or-later
// Charts of series and traces.
#include "picture/coldtest_series.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/ticks.h"
#include "format/quantity.h"
#include "picture/coldtest_readings.h"

enum { LINE_POINTS = 96, MOST_SAMPLES = 2000 };

#define MINUS "\xe2\x88\x92"

static double at(const double *column, int i) { return column ? column[i] : NAN; }

// A number with its uncertainty and unit.
static void quantity(char text[64], double value, double uncertainty, cavum_unit unit) {
  char number[CAVUM_QUANTITY_SIZE];
  cavum_quantity_format(number, cavum_in_unit(value, unit),
                        isfinite(uncertainty) ? cavum_in_unit(uncertainty, unit) : 0.0);
  const char *symbol = unit == CAVUM_UNIT_HZ_PER_MV2 ? "Hz/(MV/m)^{2}" : cavum_unit_symbol(unit);
  bool negative = number[0] == '-';
  // Nothing is left of a value beside its uncertainty: 0 +- 0.5.
  const char *nothing = strstr(number, "+- ");
  if (nothing) {
    snprintf(text, 64, "0 \xc2\xb1 %.40s %s", nothing + 3, symbol);
    return;
  }
  snprintf(text, 64, "%s%.40s %s", negative ? MINUS : "", number + negative, symbol);
}

static void add_fit(cavum_chart *chart, const cavum_stored_fit *fit, double low, double high) {
  char gap[24], text[CAVUM_CHART_TEXT_SIZE], residual[24];
  cavum_ticks_format(gap, fit->gap_k, 4);
  cavum_ticks_format(residual, cavum_in_nohm(fit->residual_ohm), 3);
  snprintf(text, sizeof text, "fit A exp(" MINUS "\xce\x94/kT)/T + R_{res} with \xce\x94/k = %s K",
           gap);
  cavum_chart_series *whole = cavum_chart_add(chart, LINE_POINTS, text);
  cavum_chart_series *thermal = cavum_chart_add(chart, LINE_POINTS, "its first term");
  snprintf(text, sizeof text, "R_{res} = %s n\xce\xa9", residual);
  cavum_chart_series *rest = cavum_chart_add(chart, LINE_POINTS, text);
  if (!whole || !thermal || !rest) return;
  whole->ink = CAVUM_INK_THIRD;
  whole->width = 1.6;
  thermal->ink = rest->ink = CAVUM_INK_FRAME;
  thermal->dash = CAVUM_DASH_LONG;
  rest->dash = CAVUM_DASH_DOT;
  thermal->width = rest->width = 1.0;
  thermal->beside = true;  // It falls without end; the residual belongs into the frame.
  for (int i = 0; i < LINE_POINTS; i++) {
    double x = low + (high - low) * i / (LINE_POINTS - 1.0);
    double ohm = cavum_test_view_fitted_ohm(fit, 1.0 / x);
    cavum_chart_put(whole, x, cavum_in_nohm(ohm), 0.0, 0.0);
    cavum_chart_put(thermal, x, cavum_in_nohm(ohm - fit->residual_ohm), 0.0, 0.0);
    if (fit->residual_ohm > 0.0) {
      cavum_chart_put(rest, x, cavum_in_nohm(fit->residual_ohm), 0.0, 0.0);
    }
  }
}

// Curves of the runs' own fits, in the inks of the runs.
static void add_run_fits(cavum_chart *chart, const cavum_stored_runs *runs, double low,
                         double high) {
  for (int run = 0; run < runs->count; run++) {
    double amplitude = at(runs->fit[CAVUM_RUN_AMPLITUDE].value, run);
    cavum_stored_fit fit = {.gap_k = at(runs->fit[CAVUM_RUN_GAP].value, run),
                            .residual_ohm = at(runs->fit[CAVUM_RUN_RESIDUAL].value, run),
                            .amplitude_ohm_k = amplitude};
    char text[CAVUM_CHART_TEXT_SIZE], name[CAVUM_CHART_TEXT_SIZE];
    if (!isfinite(amplitude)) continue;
    cavum_chart_quote(name, sizeof name, runs->name[run]);
    snprintf(text, sizeof text, "fit of %.60s alone", name);
    cavum_chart_series *line = cavum_chart_add(chart, LINE_POINTS, text);
    if (!line) return;
    line->ink = cavum_test_run_ink(run + 1);
    line->width = 1.0;
    line->beside = true;
    for (int i = 0; i < LINE_POINTS; i++) {
      double x = low + (high - low) * i / (LINE_POINTS - 1.0);
      cavum_chart_put(line, x, cavum_in_nohm(cavum_test_view_fitted_ohm(&fit, 1.0 / x)), 0.0, 0.0);
    }
  }
}

static void add_predicted(cavum_chart *chart, const cavum_stored_predictions *p) {
  if (p->count == 0) return;
  cavum_chart_series *series = cavum_chart_add(chart, p->count, "predicted");
  if (!series) return;
  series->points = true;
  series->mark = CAVUM_MARK_TRIANGLE;
  series->ink = CAVUM_INK_FOURTH;
  for (int i = 0; i < p->count; i++) {
    cavum_chart_put(series, 1.0 / p->temperature_k.value[i],
                    cavum_in_nohm(p->resistance_ohm.value[i]), 0.0,
                    cavum_in_nohm(at(p->resistance_ohm.uncertainty, i)));
  }
}

static void add_fitted_readings(cavum_chart *chart, const cavum_stored_coldtest *test) {
  cavum_chart_series *series = cavum_chart_add(chart, test->num_points, "readings");
  if (!series) return;
  series->points = true;
  for (int i = 0; i < test->num_points; i++) {
    if (!cavum_test_view_is_fitted(test, i)) continue;
    cavum_chart_put(series, 1.0 / test->column[CAVUM_STORED_TEMPERATURE][i],
                    cavum_in_nohm(test->column[CAVUM_STORED_RESISTANCE][i]), 0.0,
                    cavum_in_nohm(at(test->column[CAVUM_STORED_RESISTANCE_U], i)));
  }
}

void cavum_test_chart_resistance(cavum_chart *chart, const cavum_stored_coldtest *test) {
  double low = HUGE_VAL, high = 0.0;
  chart->name = "resistance";
  chart->caption = "Surface resistance against 1/T with its fit.";
  chart->x_name = "1/T";
  chart->x_unit = "1/K";
  chart->x_label = "1/T in 1/K";
  chart->y_unit = "n\xce\xa9";
  chart->y_label = "R_{s} in n\xce\xa9";
  chart->logarithmic = true;
  for (int i = 0; i < test->num_points; i++) {
    if (!cavum_test_view_is_fitted(test, i)) continue;
    low = cavum_min(low, 1.0 / test->column[CAVUM_STORED_TEMPERATURE][i]);
    high = cavum_max(high, 1.0 / test->column[CAVUM_STORED_TEMPERATURE][i]);
  }
  if (!(high > low)) return;
  for (int i = 0; i < test->predictions.count; i++) {
    low = cavum_min(low, 1.0 / test->predictions.temperature_k.value[i]);
    high = cavum_max(high, 1.0 / test->predictions.temperature_k.value[i]);
  }
  if (test->fit.present) add_fit(chart, &test->fit, low, high);
  add_fitted_readings(chart, test);
  add_run_fits(chart, &test->runs, low, high);
  add_predicted(chart, &test->predictions);
}

// Parts of R_s: text, mark and dash; averages are pale, what holds at a place is full.
static const struct {
  const char *text;
  cavum_plot_mark mark;
  cavum_ink ink;
  cavum_dash dash;
} PARTS[CAVUM_NUM_STORED_PARTS] = {
    [CAVUM_STORED_BCS] = {"BCS, mean over the wall", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND,
                          CAVUM_DASH_LONG},
    [CAVUM_STORED_RESIDUAL] = {"residual, mean over the wall", CAVUM_MARK_SQUARE, CAVUM_INK_FIRST,
                               CAVUM_DASH_LONG},
    [CAVUM_STORED_LOCAL_BCS] = {"BCS at a place of the wall", CAVUM_MARK_DIAMOND, CAVUM_INK_THIRD,
                                CAVUM_DASH_NONE},
    [CAVUM_STORED_LOCAL_RESIDUAL] = {"residual at a place of the wall", CAVUM_MARK_TRIANGLE,
                                     CAVUM_INK_FOURTH, CAVUM_DASH_NONE}};

static void add_part(cavum_chart *chart, const cavum_stored_field *field, int part) {
  const cavum_stored_column *value = &field->part[part];
  if (!value->value) return;
  cavum_chart_series *series = cavum_chart_add(chart, field->num_points, PARTS[part].text);
  if (!series) return;
  series->points = true;
  series->mark = PARTS[part].mark;
  series->ink = PARTS[part].ink;
  for (int i = 0; i < field->num_points; i++) {
    cavum_chart_put(series, cavum_in_unit(field->b_peak_t.value[i], CAVUM_UNIT_MILLITESLA),
                    cavum_in_nohm(value->value[i]), 0.0, cavum_in_nohm(at(value->uncertainty, i)));
  }
}

static void add_polynomial(cavum_chart *chart, const cavum_stored_field *field, int part,
                           double high_t) {
  static const double unit_t = 0.1;
  const double *a = field->polynomial[part].value;
  if (!a) return;
  cavum_chart_series *line = cavum_chart_add(chart, LINE_POINTS, "");
  if (!line) return;
  line->ink = PARTS[part].ink;
  line->dash = PARTS[part].dash;
  for (int i = 0; i < LINE_POINTS; i++) {
    double b = high_t * i / (LINE_POINTS - 1.0), ohm = 0.0;
    for (int n = field->num_terms - 1; n >= 0; n--) ohm = ohm * b / unit_t + a[n];
    cavum_chart_put(line, cavum_in_unit(b, CAVUM_UNIT_MILLITESLA), cavum_in_nohm(ohm), 0.0, 0.0);
  }
}

void cavum_test_chart_field(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_field *field = &test->field;
  double high_t = 0.0;
  chart->name = "field";
  chart->caption =
      "Surface resistance against magnetic field: parts averaged over the wall over the peak "
      "field, and parts at a place of the wall over the field there, with their polynomials.";
  chart->x_name = "B";
  chart->x_unit = "mT";
  chart->x_label = "B in mT";
  chart->y_unit = "n\xce\xa9";
  chart->y_label = "R_{s} in n\xce\xa9";
  chart->from_zero = true;
  for (int i = 0; i < field->num_points; i++) {
    high_t = cavum_max(high_t, field->b_peak_t.value[i]);
  }
  for (int k = 0; k < CAVUM_NUM_STORED_PARTS; k++) {
    add_part(chart, field, k);
    add_polynomial(chart, field, k, high_t);
  }
  if (field->num_points > 0) {
    snprintf(chart->remark, sizeof chart->remark,
             "BCS part at %.4g K. Bars: standard uncertainties, k = 1.", field->reference_k);
  }
}

static double mv2(const cavum_stored_coldtest *test, int i) {
  double e = cavum_in_mv_per_m(at(test->column[CAVUM_STORED_GRADIENT], i));
  return e * e;
}

// Frequency of a reading less that without field, in Hz; NAN: not one of the fit.
static double shift_hz(const cavum_stored_coldtest *test, int i) {
  const cavum_stored_frequency *f = &test->frequency;
  double e = at(test->column[CAVUM_STORED_GRADIENT], i);
  if (f->highest_v_per_m > 0.0 && !(e <= f->highest_v_per_m)) return NAN;
  return at(test->column[CAVUM_STORED_FREQUENCY], i) - f->frequency_hz;
}

static double pressure_shift_hz(const cavum_stored_coldtest *test, int i) {
  const cavum_stored_frequency *f = &test->frequency;
  if (!isfinite(f->pressure)) return 0.0;
  return f->pressure * (at(test->column[CAVUM_STORED_PRESSURE], i) - f->mean_pressure_pa);
}

static double lorentz_shift_hz(const cavum_stored_coldtest *test, int i) {
  double e = at(test->column[CAVUM_STORED_GRADIENT], i);
  return test->frequency.lorentz * e * e;
}

// Two ends of a line are enough for a straight one.
static void add_straight(cavum_chart *chart, const char *text, double low, double high,
                         double origin, double slope, cavum_ink ink, cavum_dash dash) {
  cavum_chart_series *line = cavum_chart_add(chart, 2, text);
  if (!line) return;
  line->ink = ink;
  line->dash = dash;
  line->beside = dash != CAVUM_DASH_NONE;
  cavum_chart_put(line, low, slope * (low - origin), 0.0, 0.0);
  cavum_chart_put(line, high, slope * (high - origin), 0.0, 0.0);
}

static cavum_chart_series *add_shifts(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_frequency *f = &test->frequency;
  chart->x_unit = chart->y_unit = "Hz";
  if (!f->present || !test->column[CAVUM_STORED_FREQUENCY]) return NULL;
  cavum_chart_series *series = cavum_chart_add(chart, test->num_points, "readings");
  if (series) series->points = true;
  return series;
}

void cavum_test_chart_lorentz(cavum_chart *chart, const cavum_stored_coldtest *test) {
  static const double per_mv2 = 1e12;  // (MV/m)^2 in (V/m)^2.
  const cavum_stored_frequency *f = &test->frequency;
  chart->name = "lorentz";
  chart->caption =
      "Frequency less that without field, freed from the bath pressure, against the square of the "
      "gradient.";
  chart->x_name = "E_acc\xc2\xb2";
  chart->x_label = "E_{acc}^{2} in (MV/m)^{2}";
  chart->y_label = "f " MINUS " f_{0} in Hz";
  chart->from_zero = true;
  cavum_chart_series *series = add_shifts(chart, test);
  chart->x_unit = "(MV/m)\xc2\xb2";
  if (!series) return;
  double high = 0.0;
  for (int i = 0; i < test->num_points; i++) {
    double shift = shift_hz(test, i) - pressure_shift_hz(test, i);
    if (!isfinite(shift)) continue;
    cavum_chart_put(series, mv2(test, i), shift, 0.0, f->scatter_hz);
    high = cavum_max(high, mv2(test, i));
  }
  char number[64], text[CAVUM_CHART_TEXT_SIZE];
  quantity(number, f->lorentz, f->lorentz_uncertainty, CAVUM_UNIT_HZ_PER_MV2);
  snprintf(text, sizeof text, "df/d(E_{acc}^{2}) = %s", number);
  add_straight(chart, text, 0.0, high, 0.0, f->lorentz * per_mv2, CAVUM_INK_THIRD, CAVUM_DASH_NONE);
  if (isfinite(f->expected_lorentz)) {
    add_straight(chart, "radiation pressure on a wall of the stated stiffness", 0.0, high, 0.0,
                 f->expected_lorentz * per_mv2, CAVUM_INK_FRAME, CAVUM_DASH_LONG);
  }
  for (int run = 0; run < test->runs.count; run++) {
    double slope = at(test->runs.fit[CAVUM_RUN_LORENTZ].value, run);
    double off = at(test->runs.fit[CAVUM_RUN_LORENTZ].uncertainty, run);
    char name[CAVUM_CHART_TEXT_SIZE];
    // A run at one gradient has no lever: its line would be anywhere.
    if (!isfinite(slope) || off > fabs(slope)) continue;
    cavum_chart_quote(name, sizeof name, test->runs.name[run]);
    snprintf(text, sizeof text, "slope of %.60s alone", name);
    add_straight(chart, text, 0.0, high, 0.0, slope * per_mv2, cavum_test_run_ink(run + 1),
                 CAVUM_DASH_DOT);
  }
  snprintf(chart->remark, sizeof chart->remark,
           "f\xe2\x82\x80 = %.10g MHz; bars are the scatter of the readings, %.3g Hz.",
           cavum_in_mhz(f->frequency_hz), f->scatter_hz);
}

void cavum_test_chart_pressure(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_frequency *f = &test->frequency;
  chart->name = "pressure";
  chart->caption =
      "Frequency less that without field, freed from the field, against the bath pressure.";
  chart->x_name = "p";
  chart->x_label = "bath pressure in mbar";
  chart->y_label = "f " MINUS " f_{0} in Hz";
  if (!isfinite(f->pressure) || !test->column[CAVUM_STORED_PRESSURE]) return;
  cavum_chart_series *series = add_shifts(chart, test);
  chart->x_unit = "mbar";
  if (!series) return;
  double low = HUGE_VAL, high = -HUGE_VAL, pa_per_mbar = cavum_from_unit(1.0, CAVUM_UNIT_MBAR);
  for (int i = 0; i < test->num_points; i++) {
    double p = cavum_in_unit(test->column[CAVUM_STORED_PRESSURE][i], CAVUM_UNIT_MBAR);
    double shift = shift_hz(test, i) - lorentz_shift_hz(test, i);
    if (!isfinite(p) || !isfinite(shift)) continue;
    cavum_chart_put(series, p, shift, 0.0, f->scatter_hz);
    low = cavum_min(low, p);
    high = cavum_max(high, p);
  }
  if (!(high > low)) return;
  char number[64], text[CAVUM_CHART_TEXT_SIZE];
  double mean = cavum_in_unit(f->mean_pressure_pa, CAVUM_UNIT_MBAR);
  quantity(number, f->pressure, f->pressure_uncertainty, CAVUM_UNIT_HZ_PER_MBAR);
  snprintf(text, sizeof text, "df/dp = %s", number);
  add_straight(chart, text, low, high, mean, f->pressure * pa_per_mbar, CAVUM_INK_THIRD,
               CAVUM_DASH_NONE);
  if (isfinite(f->expected_pressure)) {
    add_straight(chart, "bath on a wall of the stated stiffness", low, high, mean,
                 f->expected_pressure * pa_per_mbar, CAVUM_INK_FRAME, CAVUM_DASH_LONG);
  }
}

// Samples of a trace, thinned where they would hide each other; y is a sample or a residual in %.
static void add_samples(cavum_chart *chart, const cavum_stored_trace *trace, bool residuals) {
  int step = (trace->num_samples + MOST_SAMPLES - 1) / MOST_SAMPLES;
  cavum_chart_series *series = cavum_chart_add(chart, trace->num_samples, "samples");
  if (!series) return;
  series->points = true;
  for (int i = 0; i < trace->num_samples; i += step) {
    double age = trace->time_s[i] - trace->time_s[0];
    double power_w = trace->start_w * exp(trace->residual[i] - age / trace->decay_time_s);
    double y = residuals ? cavum_in_percent(trace->residual[i])
                         : cavum_in_unit(power_w, CAVUM_UNIT_MILLIWATT);
    cavum_chart_put(series, trace->time_s[i], y, 0.0, 0.0);
  }
  if (step > 1) {
    snprintf(chart->remark, sizeof chart->remark, "One of %d samples is shown. ", step);
  }
}

static void add_remark(cavum_chart *chart, const cavum_stored_trace *trace) {
  size_t length = strlen(chart->remark);
  const char *name = trace->file ? strrchr(trace->file, '/') : NULL;
  name = name ? name + 1 : trace->file;
  snprintf(chart->remark + length, sizeof chart->remark - length, "%.200s", name ? name : "");
}

// Both charts of a trace are over the time; false when it has too little to be drawn.
static bool start_trace(cavum_chart *chart, const cavum_stored_trace *trace) {
  chart->x_name = "t";
  chart->x_unit = "s";
  chart->x_label = "t in s";
  return trace->num_samples >= 2 && trace->decay_time_s > 0.0;
}

void cavum_test_chart_trace(cavum_chart *chart, const cavum_stored_coldtest *test, int index) {
  const cavum_stored_trace *trace = &test->traces[index];
  chart->name = "trace";
  chart->caption = "A recorded decay: power at the pickup port, with one exponential through it.";
  chart->y_unit = "mW";
  chart->y_label = "P_{t} in mW";
  chart->logarithmic = true;
  if (!start_trace(chart, trace) || !(trace->start_w > 0.0)) return;
  char number[64], text[CAVUM_CHART_TEXT_SIZE];
  quantity(number, trace->decay_time_s, trace->decay_time_uncertainty_s, CAVUM_UNIT_S);
  snprintf(text, sizeof text, "one exponential, energy decay time %s%s", number,
           fabs(trace->curvature) < 3.0 ? "" : "; one decay time does not describe it");
  add_samples(chart, trace, false);
  cavum_chart_series *line = cavum_chart_add(chart, 2, text);
  if (!line) return;
  line->ink = CAVUM_INK_THIRD;
  line->width = 0.8;  // The samples below it stay visible.
  double first = trace->time_s[0], last = trace->time_s[trace->num_samples - 1];
  double start = cavum_in_unit(trace->start_w, CAVUM_UNIT_MILLIWATT);
  cavum_chart_put(line, first, start, 0.0, 0.0);
  cavum_chart_put(line, last, start * exp((first - last) / trace->decay_time_s), 0.0, 0.0);
  add_remark(chart, trace);
}

void cavum_test_chart_residuals(cavum_chart *chart, const cavum_stored_coldtest *test, int index) {
  const cavum_stored_trace *trace = &test->traces[index];
  chart->name = "residuals";
  chart->caption = "The decay less its exponential; a bend is a Q0 that changes with field.";
  chart->y_unit = "%";
  chart->y_label = "residual of P_{t} in %";
  if (!start_trace(chart, trace)) return;
  add_samples(chart, trace, true);
  cavum_chart_add_rule(chart, false, 0.0, CAVUM_INK_MUTED, "the exponential");
  add_remark(chart, trace);
}
