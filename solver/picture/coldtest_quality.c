// SPDX-License-Identifier: GPL-3.0-or-later
// Charts over the gradient.
#include "picture/coldtest_quality.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/ticks.h"
#include "picture/coldtest_emission.h"
#include "picture/coldtest_limits.h"
#include "picture/coldtest_readings.h"

// More points than this are hidden below each other: every n-th is shown.
enum { MOST_SHOWN = 20000 };

static double at(const double *column, int i) { return column ? column[i] : NAN; }

static double gradient(const cavum_stored_coldtest *test, int i) {
  return cavum_in_mv_per_m(at(test->column[CAVUM_STORED_GRADIENT], i));
}

static double gradient_uncertainty(const cavum_stored_coldtest *test, int i) {
  return cavum_in_mv_per_m(at(test->column[CAVUM_STORED_GRADIENT_U], i));
}

static double find_highest(const cavum_stored_coldtest *test) {
  double highest = 0.0;
  for (int i = 0; i < test->num_points; i++) {
    double e = gradient(test, i);
    if (isfinite(e)) highest = cavum_max(highest, e);
  }
  return highest;
}

// Styles of the kinds of readings.
static const struct {
  const char *text;
  cavum_plot_mark mark;
  cavum_ink ink;
} STYLES[CAVUM_NUM_TEST_KINDS] = {
    [CAVUM_TEST_PICKUP] = {"by pickup", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND},
    [CAVUM_TEST_DECAY] = {"by decay time", CAVUM_MARK_DIAMOND, CAVUM_INK_FIRST},
    [CAVUM_TEST_OTHER_BATH] = {"other bath temperature", CAVUM_MARK_SQUARE, CAVUM_INK_FRAME}};

static int run_of(const cavum_stored_coldtest *test, int i) {
  double run = at(test->column[CAVUM_STORED_RUN], i);
  return run >= 1.0 && run <= test->runs.count ? (int)run : 0;
}

// What is drawn over the gradient, and of which readings.
typedef struct choice {
  const cavum_stored_coldtest *test;
  const double *y, *u;
  double usual_k;
  int run, kind;
} choice;

static bool is_chosen(const choice *c, int i) {
  return c->y[i] > 0.0 && run_of(c->test, i) == c->run &&
         cavum_test_view_kind(c->test, i, c->usual_k) == c->kind;
}

static void describe(char text[CAVUM_CHART_TEXT_SIZE], const choice *c) {
  char run[CAVUM_CHART_TEXT_SIZE / 2] = "", bath[32] = "";
  if (c->run > 0) cavum_chart_quote(run, sizeof run, c->test->runs.name[c->run - 1]);
  if (c->kind != CAVUM_TEST_OTHER_BATH && isfinite(c->usual_k)) {
    snprintf(bath, sizeof bath, ", %.2f K", c->usual_k);
  }
  snprintf(text, CAVUM_CHART_TEXT_SIZE, "%s%s%s%s", run, run[0] ? ": " : "", STYLES[c->kind].text,
           bath);
}

static cavum_ink ink_of(const choice *c) {
  return c->run > 0 ? cavum_test_run_ink(c->run) : STYLES[c->kind].ink;
}

// Readings of a run by the pickup are one curve, in the order in which they were taken, and as long
// as the bath stays.
static void add_curve(cavum_chart *chart, const choice *c) {
  bool other_bath = false;
  cavum_chart_series *line = cavum_chart_add(chart, c->test->num_points, "");
  if (!line) return;
  line->guide = true;
  line->ink = ink_of(c);
  line->width = 0.6;
  for (int i = 0; i < c->test->num_points; i++) {
    if (run_of(c->test, i) != c->run) continue;
    if (!is_chosen(c, i)) {
      other_bath =
          other_bath || cavum_test_view_kind(c->test, i, c->usual_k) == CAVUM_TEST_OTHER_BATH;
      continue;
    }
    if (other_bath && line->count > 0) cavum_chart_put(line, NAN, NAN, 0.0, 0.0);
    other_bath = false;
    cavum_chart_put(line, gradient(c->test, i), c->y[i], 0.0, 0.0);
  }
}

static void add_choice(cavum_chart *chart, const choice *c) {
  char text[CAVUM_CHART_TEXT_SIZE];
  int count = 0, step = c->test->num_points / MOST_SHOWN + 1;
  for (int i = 0; i < c->test->num_points; i++) count += is_chosen(c, i);
  if (count == 0) return;
  if (c->run > 0 && c->kind == CAVUM_TEST_PICKUP && step == 1) add_curve(chart, c);
  describe(text, c);
  cavum_chart_series *series = cavum_chart_add(chart, count, text);
  if (!series) return;
  series->points = true;
  series->mark = STYLES[c->kind].mark;
  series->ink = ink_of(c);
  for (int i = 0; i < c->test->num_points; i += step) {
    if (!is_chosen(c, i)) continue;
    cavum_chart_put(series, gradient(c->test, i), c->y[i], gradient_uncertainty(c->test, i),
                    at(c->u, i));
  }
}

// Readings of every run and kind against the gradient.
static void add_kinds(cavum_chart *chart, const cavum_stored_coldtest *test, const double *y,
                      const double *u) {
  static const int order[] = {CAVUM_TEST_OTHER_BATH, CAVUM_TEST_PICKUP, CAVUM_TEST_DECAY};
  double usual_k = cavum_test_view_find_temperature(test);
  for (int k = 0; k < CAVUM_NUM_TEST_KINDS; k++) {
    for (int run = 0; run <= test->runs.count; run++) {
      const choice c = {test, y, u, usual_k, run, order[k]};
      add_choice(chart, &c);
    }
  }
  if (!chart->remark[0]) {
    snprintf(chart->remark, sizeof chart->remark, "Bars: standard uncertainties, k = 1.");
  }
  if (test->num_points > MOST_SHOWN) {
    size_t length = strlen(chart->remark);
    snprintf(chart->remark + length, sizeof chart->remark - length, " One of %d readings is shown.",
             test->num_points / MOST_SHOWN + 1);
  }
}

static void add_intervals(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_intervals *m = &test->intervals;
  char text[96];
  if (m->count == 0) return;
  snprintf(text, sizeof text, "%.3g %% interval of Q_{0} by Monte Carlo",
           cavum_in_percent(test->coverage));
  cavum_chart_series *series = cavum_chart_add(chart, m->count, text);
  if (!series) return;
  series->points = series->intervals = true;
  series->ink = CAVUM_INK_MUTED;
  snprintf(chart->remark, sizeof chart->remark,
           "Grey bars: %.3g %% intervals. Coloured bars: standard uncertainties, k = 1, hidden "
           "where they are smaller than the mark.",
           cavum_in_percent(test->coverage));
  for (int i = 0; i < m->count; i++) {
    cavum_chart_put(series, gradient(test, i), 0.5 * (m->q0_low[i] + m->q0_high[i]), 0.0,
                    0.5 * (m->q0_high[i] - m->q0_low[i]));
  }
}

static void add_decays(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const char *text = "along a recorded decay";
  for (int k = 0; k < test->num_traces; k++) {
    const cavum_stored_trace *trace = &test->traces[k];
    const cavum_stored_column *e = &trace->gradient_v_per_m;
    if (!e->value || !trace->q0.value) continue;
    cavum_chart_series *series = cavum_chart_add(chart, trace->num_windows, text);
    if (!series) return;
    text = "";
    series->points = true;
    series->mark = CAVUM_MARK_DIAMOND;
    series->ink = CAVUM_INK_THIRD;
    for (int i = 0; i < trace->num_windows; i++) {
      cavum_chart_put(series, cavum_in_mv_per_m(e->value[i]), trace->q0.value[i],
                      cavum_in_mv_per_m(at(e->uncertainty, i)), at(trace->q0.uncertainty, i));
    }
  }
}

static void add_predictions(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const cavum_stored_predictions *p = &test->predictions;
  for (int i = 0; i < p->count; i++) {
    char text[96];
    snprintf(text, sizeof text, "predicted for %.3g K", p->temperature_k.value[i]);
    bool same = i > 0 && p->temperature_k.value[i] == p->temperature_k.value[i - 1];
    cavum_chart_series *series = cavum_chart_add(chart, 1, same ? "" : text);
    if (!series) return;
    series->points = true;
    series->mark = CAVUM_MARK_TRIANGLE;
    series->ink = CAVUM_INK_FOURTH;
    cavum_chart_put(series, cavum_in_mv_per_m(p->gradient_v_per_m.value[i]), p->q0.value[i], 0.0,
                    at(p->q0.uncertainty, i));
  }
}

void cavum_test_chart_quality(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const double *q0 = test->column[CAVUM_STORED_Q0];
  double high = 1.7 * find_highest(test);
  chart->name = "quality";
  chart->caption = "Quality factor against gradient; limits are lines.";
  cavum_chart_over_gradient(chart);
  chart->y_unit = "";
  chart->y_label = "Q_{0}";
  chart->logarithmic = chart->from_zero = true;
  if (!q0) return;
  cavum_test_add_power_lines(chart, test, high);
  add_intervals(chart, test);
  add_kinds(chart, test, q0, test->column[CAVUM_STORED_Q0_U]);
  add_decays(chart, test);
  add_predictions(chart, test);
  cavum_test_add_limits(chart, test, test->q_external, high);
  if (test->ended[0]) {
    char words[120], text[CAVUM_CHART_TEXT_SIZE];
    cavum_chart_quote(words, sizeof words, test->ended);
    snprintf(text, sizeof text, "the test ended: %s", words);
    cavum_chart_add_rule(chart, true, find_highest(test), CAVUM_INK_FOURTH, text);
  }
}

void cavum_test_chart_loaded(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const double *q = test->column[CAVUM_STORED_Q_LOADED];
  chart->name = "loaded";
  chart->caption = "Loaded quality factor against gradient.";
  cavum_chart_over_gradient(chart);
  chart->y_unit = "";
  chart->y_label = "Q_{L}";
  chart->logarithmic = chart->from_zero = true;
  if (!q) return;
  add_kinds(chart, test, q, test->column[CAVUM_STORED_Q_LOADED_U]);
  if (test->q_external > 0.0) {
    char text[64], number[24];
    cavum_ticks_format(number, test->q_external, 4);
    snprintf(text, sizeof text, "external quality factor Q_{e}, %s", number);
    cavum_chart_add_rule(chart, false, test->q_external, CAVUM_INK_MUTED, text);
  }
}

static void add_doses(cavum_chart *chart, const cavum_stored_coldtest *test, const double *dose,
                      int run) {
  char name[CAVUM_CHART_TEXT_SIZE / 2] = "", text[CAVUM_CHART_TEXT_SIZE];
  if (run > 0) cavum_chart_quote(name, sizeof name, test->runs.name[run - 1]);
  snprintf(text, sizeof text, "%s%sdose rate as read", name, run > 0 ? ": " : "");
  cavum_chart_series *series = cavum_chart_add(chart, test->num_points, text);
  if (!series) return;
  series->points = true;
  series->mark = CAVUM_MARK_TRIANGLE;
  if (run > 0) series->ink = cavum_test_run_ink(run);
  for (int i = 0; i < test->num_points; i++) {
    if (!(dose[i] > 0.0) || run_of(test, i) != run) continue;
    cavum_chart_put(series, gradient(test, i),
                    cavum_in_unit(dose[i], CAVUM_UNIT_MICROSIEVERT_PER_H),
                    gradient_uncertainty(test, i), 0.0);
  }
}

void cavum_test_chart_radiation(cavum_chart *chart, const cavum_stored_coldtest *test) {
  const double *dose = test->column[CAVUM_STORED_RADIATION];
  int none = 0;
  chart->name = "radiation";
  chart->caption = "Radiation dose rate against gradient, as it was read.";
  cavum_chart_over_gradient(chart);
  chart->y_unit = "\xc2\xb5Sv/h";
  chart->y_label = "dose rate in \xc2\xb5Sv/h";
  chart->logarithmic = chart->from_zero = true;
  if (!dose) return;
  for (int i = 0; i < test->num_points; i++) none += dose[i] <= 0.0;
  for (int run = 0; run <= test->runs.count; run++) add_doses(chart, test, dose, run);
  cavum_test_add_emission(chart, test);
  if (none > 0) {
    snprintf(chart->remark, sizeof chart->remark,
             "%d readings of zero are not shown on the logarithmic axis.", none);
  }
}
