// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures of a cold test.
#include "picture/coldtest_view.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/ticks.h"
#include "picture/chart_draw.h"
#include "picture/coldtest_budget.h"
#include "picture/coldtest_charts.h"
#include "picture/coldtest_plan.h"
#include "picture/coldtest_readings.h"

static const double PAGE_WIDTH = 820.0, MAIN_HEIGHT = 300.0, SMALL_HEIGHT = 190.0, GUTTER = 14.0;
// Charts narrower than this do not stand beside each other.
static const double LEAST_HALF = 260.0;

// What a page is drawn from.
typedef struct test_content {
  const cavum_stored_coldtest *test;
  const cavum_test_charts *charts;
  int point;
} test_content;

static bool is_wanted(const cavum_page *page, const test_content *content, int chart) {
  cavum_picture_view view = page->request->view;
  return view == CAVUM_VIEW_SHEET || view == content->charts->view[chart];
}

// The first chart of a page has its whole width, the others of a sheet stand two by two.
static bool is_many(cavum_picture_view view) {
  return view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_PLAN;
}

static void draw_charts(cavum_page *page, const test_content *content) {
  const double all = page->width - 2.0 * CAVUM_PAGE_MARGIN, half = 0.5 * (all - GUTTER);
  double left = CAVUM_PAGE_MARGIN, behind = page->y;
  bool first = true, right = false;
  for (int i = 0; i < content->charts->count; i++) {
    if (!is_wanted(page, content, i)) continue;
    bool whole = first || half < LEAST_HALF || !is_many(page->request->view);
    double end = cavum_chart_draw(
        page->canvas, &content->charts->chart[i], right ? left + half + GUTTER : left, page->y,
        whole ? all : half, first || (whole && half >= LEAST_HALF) ? MAIN_HEIGHT : SMALL_HEIGHT);
    behind = cavum_max(behind, end);
    if (whole || right) page->y = behind;
    right = !whole && !right;
    first = false;
  }
  page->y = behind;
}

static void draw_heading(cavum_page *page, const cavum_stored_coldtest *test) {
  char line[256], cavity[96] = "", branches[96], r_over_q[24], length[24], what[64];
  cavum_test_view_branches(branches, test);
  snprintf(what, sizeof what, "cold test, %d readings", test->num_points);
  if (test->num_points == 0) {
    snprintf(what, sizeof what, "plan of a cold test, %d states", test->num_plans);
  }
  if (test->r_over_q_linac_ohm > 0.0) {
    cavum_ticks_format(r_over_q, test->r_over_q_linac_ohm, 5);
    cavum_ticks_format(length, cavum_in_mm(test->accelerating_length_m), 4);
    snprintf(cavity, sizeof cavity, ", R/Q %s \xce\xa9 (linac), L_{acc} %s mm", r_over_q, length);
  }
  snprintf(line, sizeof line, "%s%s%s%s", what, branches[0] ? ", " : "", branches, cavity);
  cavum_page_draw_heading(page, test->title, line);
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const test_content *content = data;
  cavum_picture_view view = page->request->view;
  draw_heading(page, content->test);
  double before = page->y;
  if (view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_PLAN) {
    cavum_test_plan_draw_table(page, content->test);
  }
  draw_charts(page, content);
  if (view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_BUDGET) {
    cavum_test_budget_draw(page, content->test, content->point);
  }
  if (page->y > before) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "the test has nothing to draw for this view");
}

static bool is_view(cavum_picture_view view) {
  return view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_QUALITY || view == CAVUM_VIEW_RESISTANCE ||
         view == CAVUM_VIEW_BUDGET || (view >= CAVUM_VIEW_LOADED && view <= CAVUM_VIEW_PLAN);
}

// All views of a test on one slide have letters that nobody reads: it gets the first of them.
static cavum_picture_view choose_view(const cavum_draw_request *request,
                                      const cavum_stored_coldtest *test) {
  bool crowded = request->view == CAVUM_VIEW_SHEET && request->size == CAVUM_SIZE_SLIDE;
  return crowded && test->num_points > 0 ? CAVUM_VIEW_QUALITY : request->view;
}

cavum_status cavum_test_view_draw(char **bytes, size_t *size, const cavum_stored_coldtest *test,
                                  int point, const cavum_draw_request *request,
                                  cavum_error *error) {
  cavum_test_charts charts = {0};
  test_content content = {test, &charts, point >= 0 ? point : cavum_test_view_choose_point(test)};
  if (!is_view(request->view)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "views of a cold test: sheet, quality, loaded, radiation, resistance, field, "
                      "frequency, traces, budget or plan");
  }
  if (point >= 0 && point >= test->num_points) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no reading %d: the test has %d", point + 1,
                      test->num_points);
  }
  cavum_status status = cavum_test_charts_make(&charts, test, error);
  if (status == CAVUM_OK) {
    cavum_draw_request chosen = *request;
    chosen.view = choose_view(request, test);
    status = cavum_page_make(bytes, size, &chosen, PAGE_WIDTH, test->title,
                             "Cold test: quality factor, series, traces and uncertainty budget",
                             draw_content, &content, error);
  }
  cavum_test_charts_clear(&charts);
  return status;
}
