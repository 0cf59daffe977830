// SPDX-License-Identifier: GPL-3.0-or-later
// Which charts a cold test has.
#include "picture/coldtest_charts.h"

#include "base/base.h"
#include "picture/coldtest_emission.h"
#include "picture/coldtest_plan.h"
#include "picture/coldtest_quality.h"
#include "picture/coldtest_series.h"

enum { MOST_CHARTS = 64 };

static cavum_chart *next(cavum_test_charts *charts, cavum_picture_view view) {
  if (charts->count >= MOST_CHARTS) return NULL;
  charts->view[charts->count] = view;
  return &charts->chart[charts->count++];
}

// A chart without content is taken back; what failed is kept, so that it is found.
static void settle(cavum_test_charts *charts) {
  cavum_chart *last = &charts->chart[charts->count - 1];
  if (cavum_chart_has_content(last) || last->failed) return;
  cavum_chart_clear(last);
  *last = (cavum_chart){0};
  charts->count--;
}

cavum_status cavum_test_charts_make(cavum_test_charts *charts, const cavum_stored_coldtest *test,
                                    cavum_error *error) {
  static const struct {
    cavum_picture_view view;
    void (*make)(cavum_chart *chart, const cavum_stored_coldtest *test);
  } makers[] = {{CAVUM_VIEW_QUALITY, cavum_test_chart_quality},
                {CAVUM_VIEW_PLAN, cavum_test_chart_plan},
                {CAVUM_VIEW_PLAN, cavum_test_chart_plan_meters},
                {CAVUM_VIEW_PLAN, cavum_test_chart_plan_powers},
                {CAVUM_VIEW_PLAN, cavum_test_chart_plan_expected},
                {CAVUM_VIEW_PLAN, cavum_test_chart_plan_decay},
                {CAVUM_VIEW_LOADED, cavum_test_chart_loaded},
                {CAVUM_VIEW_RADIATION, cavum_test_chart_radiation},
                {CAVUM_VIEW_RADIATION, cavum_test_chart_fowler_nordheim},
                {CAVUM_VIEW_RADIATION, cavum_test_chart_electron_power},
                {CAVUM_VIEW_RESISTANCE, cavum_test_chart_resistance},
                {CAVUM_VIEW_FIELD, cavum_test_chart_field},
                {CAVUM_VIEW_FREQUENCY, cavum_test_chart_lorentz},
                {CAVUM_VIEW_FREQUENCY, cavum_test_chart_pressure}};
  *charts = (cavum_test_charts){0};
  charts->chart = cavum_alloc(MOST_CHARTS, sizeof *charts->chart);
  charts->view = cavum_alloc(MOST_CHARTS, sizeof *charts->view);
  if (!charts->chart || !charts->view) return cavum_fail_memory(error);
  for (size_t i = 0; i < sizeof makers / sizeof *makers; i++) {
    makers[i].make(next(charts, makers[i].view), test);
    settle(charts);
  }
  for (int i = 0; i < test->num_traces; i++) {
    cavum_test_chart_trace(next(charts, CAVUM_VIEW_TRACES), test, i);
    settle(charts);
    cavum_test_chart_residuals(next(charts, CAVUM_VIEW_TRACES), test, i);
    settle(charts);
  }
  for (int i = 0; i < charts->count; i++) {
    cavum_status status = cavum_chart_check(&charts->chart[i], error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

void cavum_test_charts_clear(cavum_test_charts *charts) {
  for (int i = 0; i < charts->count; i++) cavum_chart_clear(&charts->chart[i]);
  free(charts->chart);
  free(charts->view);
  *charts = (cavum_test_charts){0};
}
