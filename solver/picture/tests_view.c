// SPDX-License-Identifier: GPL-3.0-or-later
// Several cold tests in one picture: Q0 over each other, and ratios to the first.
#include "picture/tests_view.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/picture.h"
#include "picture/chart_draw.h"
#include "picture/page.h"

static const double PAGE_WIDTH = 820.0, HEIGHT = 300.0;
static const double SAME_BATH_K = 0.02;

static const struct {
  cavum_plot_mark mark;
  cavum_ink ink;
} STYLES[] = {{CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND},
              {CAVUM_MARK_DIAMOND, CAVUM_INK_FIRST},
              {CAVUM_MARK_SQUARE, CAVUM_INK_THIRD},
              {CAVUM_MARK_TRIANGLE, CAVUM_INK_FOURTH}};

static cavum_chart_series *add(cavum_chart *chart, const cavum_tests_content *content, int number,
                               int64_t most) {
  char name[64], text[CAVUM_CHART_TEXT_SIZE];
  cavum_comparison_name(name, content->reports[number], number + 1);
  cavum_chart_quote(text, sizeof text, name);
  cavum_chart_series *series = cavum_chart_add(chart, (int)most, text);
  if (!series) return NULL;
  series->points = true;
  series->mark = STYLES[number % 4].mark;
  series->ink = STYLES[number % 4].ink;
  return series;
}

// Bath temperature that a test is compared at; not finite: any.
static double bath_of(const cavum_tests_content *content, int i) {
  const cavum_coldtest_pair *pair = &content->comparison->pairs[i > 0 ? i - 1 : 0];
  return i > 0 ? pair->later_bath_k : pair->first_bath_k;
}

static bool is_compared(const cavum_coldtest *test, int64_t k, double bath_k) {
  double here = cavum_coldtest_get_reading(test, k)->bath_temperature_k;
  return !isfinite(bath_k) || fabs(here - bath_k) <= SAME_BATH_K;
}

// The largest gradient with its bar: both charts have one axis.
static double find_reach(const cavum_tests_content *content) {
  double most = 0.0;
  for (int i = 0; i < content->count; i++) {
    const cavum_coldtest *test = content->reports[i]->test;
    for (int64_t k = 0; k < cavum_coldtest_num_points(test); k++) {
      const cavum_coldtest_point *point = cavum_coldtest_get_point(test, k);
      double high = point->value[CAVUM_QUANTITY_E_ACC] + point->uncertainty[CAVUM_QUANTITY_E_ACC];
      if (isfinite(high) && isfinite(point->value[CAVUM_QUANTITY_Q0]) &&
          is_compared(test, k, bath_of(content, i))) {
        most = cavum_max(most, cavum_in_mv_per_m(high));
      }
    }
  }
  return most;
}

static void start(cavum_chart *chart, const cavum_tests_content *content) {
  cavum_chart_over_gradient(chart);
  chart->x_reach = find_reach(content);
  chart->y_unit = "";
  chart->from_zero = true;
  snprintf(chart->remark, sizeof chart->remark, "Bars: standard uncertainties, k = 1.");
}

static void make_quality(cavum_chart *chart, const cavum_tests_content *content) {
  start(chart, content);
  chart->name = "quality";
  chart->caption = "Quality factor of all tests against gradient.";
  chart->y_label = "Q_{0}";
  chart->logarithmic = true;
  for (int i = 0; i < content->count; i++) {
    const cavum_coldtest *test = content->reports[i]->test;
    double bath_k = bath_of(content, i);
    int64_t count = cavum_coldtest_num_points(test);
    cavum_chart_series *series = add(chart, content, i, count);
    for (int64_t k = 0; series && k < count; k++) {
      const cavum_coldtest_point *point = cavum_coldtest_get_point(test, k);
      if (!is_compared(test, k, bath_k)) continue;
      cavum_chart_put(series, cavum_in_mv_per_m(point->value[CAVUM_QUANTITY_E_ACC]),
                      point->value[CAVUM_QUANTITY_Q0],
                      cavum_in_mv_per_m(point->uncertainty[CAVUM_QUANTITY_E_ACC]),
                      point->uncertainty[CAVUM_QUANTITY_Q0]);
    }
  }
}

static void make_ratio(cavum_chart *chart, const cavum_tests_content *content) {
  start(chart, content);
  chart->name = "ratio";
  chart->caption = "Q0 over that of the first test at the same gradient; what both share cancels.";
  chart->y_label = "Q_{0} / Q_{0} of the first";
  for (int i = 1; i < content->count; i++) {
    const cavum_coldtest_pair *pair = &content->comparison->pairs[i - 1];
    cavum_chart_series *series = add(chart, content, i, pair->num_ratios);
    for (int64_t k = 0; series && k < pair->num_ratios; k++) {
      const cavum_coldtest_ratio *r = &pair->ratios[k];
      cavum_chart_put(series, cavum_in_mv_per_m(r->e_acc_v_per_m.value), r->q0_ratio.value, 0.0,
                      r->q0_ratio.uncertainty);
    }
  }
}

cavum_status cavum_tests_each_chart(const cavum_tests_content *content, cavum_chart_taker take,
                                    void *data, cavum_error *error) {
  static void (*const makers[])(cavum_chart *, const cavum_tests_content *) = {make_quality,
                                                                               make_ratio};
  cavum_status status = CAVUM_OK;
  cavum_chart *chart = cavum_alloc(1, sizeof *chart);
  if (!chart) return cavum_fail_memory(error);
  for (size_t k = 0; k < sizeof makers / sizeof *makers && status == CAVUM_OK; k++) {
    *chart = (cavum_chart){0};
    makers[k](chart, content);
    status = cavum_chart_check(chart, error);
    if (status == CAVUM_OK && cavum_chart_has_content(chart)) status = take(chart, data, error);
    cavum_chart_clear(chart);
  }
  free(chart);
  return status;
}

static cavum_status draw_chart(const cavum_chart *chart, void *data, cavum_error *error) {
  cavum_page *page = data;
  (void)error;
  page->y = cavum_chart_draw(page->canvas, chart, CAVUM_PAGE_MARGIN, page->y,
                             page->width - 2.0 * CAVUM_PAGE_MARGIN, HEIGHT);
  return CAVUM_OK;
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_tests_content *content = data;
  char line[96];
  snprintf(line, sizeof line, "%d cold tests, against the first", content->count);
  cavum_page_draw_heading(page, content->reports[0]->file.setup.title, line);
  return cavum_tests_each_chart(content, draw_chart, page, error);
}

cavum_status cavum_picture_draw_comparison(char **bytes, size_t *size,
                                           const cavum_coldtest_comparison *comparison, int count,
                                           const cavum_coldtest_report *const *reports,
                                           const cavum_picture_options *options,
                                           cavum_error *error) {
  if (!bytes || !size || !comparison || !reports) return cavum_fail_null(error, __func__);
  if (count < 2 || count != comparison->num_pairs + 1) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%d cold tests to draw, expected %d, as compared",
                      count, comparison->num_pairs + 1);
  }
  cavum_picture_options chosen;
  cavum_tests_content content = {comparison, count, reports};
  cavum_status status = cavum_picture_take_options(&chosen, options, error);
  if (status != CAVUM_OK) return status;
  const cavum_draw_request request = cavum_page_request(&chosen, NULL);
  return cavum_page_make(bytes, size, &request, PAGE_WIDTH, reports[0]->file.setup.title,
                         "Quality factors of several cold tests, and their ratios", draw_content,
                         &content, error);
}
