// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures of a cold test.
#include "picture/coldtest_view.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/flow.h"
#include "canvas/ticks.h"
#include "picture/coldtest_budget.h"
#include "picture/coldtest_readings.h"

static const double PAGE_WIDTH = 820.0, QUALITY_HEIGHT = 300.0, RESISTANCE_HEIGHT = 250.0;
static const double LEFT_ROOM = 58.0, RIGHT_ROOM = 34.0, BELOW_ROOM = 40.0;

// What a page is drawn from.
typedef struct test_content {
  const cavum_stored_coldtest *test;
  int point;
  double usual_k;  // Bath temperature of most readings.
} test_content;

static double uncertainty_at(const double *column, int i) {
  return column && isfinite(column[i]) ? column[i] : 0.0;
}

// A cross of plus and minus one standard uncertainty.
static void add_cross(cavum_canvas *canvas, const cavum_plot *plot, double x, double y, double dx,
                      double dy) {
  double px = cavum_plot_at_x(plot, x), py = cavum_plot_at_y(plot, y);
  double low = plot->vertical.logarithmic ? cavum_max(y - dy, 0.5 * plot->vertical.low) : y - dy;
  cavum_canvas_move(canvas, cavum_plot_at_x(plot, x - dx), py);
  cavum_canvas_line(canvas, cavum_plot_at_x(plot, x + dx), py);
  cavum_canvas_move(canvas, px, cavum_plot_at_y(plot, low));
  cavum_canvas_line(canvas, px, cavum_plot_at_y(plot, y + dy));
}

static void widen_logarithmic(double *low, double *high) {
  if (!(*low > 0.0) || !(*high >= *low)) {
    *low = 1.0;
    *high = 10.0;
  }
  double margin = cavum_max(0.12 * log10(*high / *low), 0.06);
  *low = pow(10.0, log10(*low) - margin);
  *high = pow(10.0, log10(*high) + margin);
}

static cavum_plot quality_frame(const cavum_stored_coldtest *test, const cavum_page *page) {
  double high_e = 0.0, low_q = HUGE_VAL, high_q = 0.0;
  for (int i = 0; i < test->num_points; i++) {
    double e = test->column[CAVUM_STORED_GRADIENT][i], q = test->column[CAVUM_STORED_Q0][i];
    double u = uncertainty_at(test->column[CAVUM_STORED_Q0_U], i);
    if (!isfinite(e) || !(q > 0.0)) continue;
    high_e = cavum_max(high_e, cavum_in_mv_per_m(e));
    low_q = cavum_min(low_q, cavum_max(q - u, 0.1 * q));
    high_q = cavum_max(high_q, q + u);
  }
  widen_logarithmic(&low_q, &high_q);
  cavum_plot plot = {.x = CAVUM_PAGE_MARGIN + LEFT_ROOM,
                     .y = page->y + 16.0,
                     .width = page->width - 2.0 * CAVUM_PAGE_MARGIN - LEFT_ROOM - RIGHT_ROOM,
                     .height = QUALITY_HEIGHT};
  plot.horizontal =
      (cavum_plot_axis){.high = high_e > 0.0 ? 1.08 * high_e : 1.0, .label = "E_{acc} / (MV/m)"};
  plot.vertical =
      (cavum_plot_axis){.low = low_q, .high = high_q, .logarithmic = true, .label = "Q_{0}"};
  return plot;
}

// The line of one power, Q0 = (E L)^2 / (R/Q P), with its label where it leaves the frame.
static void draw_power_line(cavum_canvas *canvas, const cavum_plot *plot, double factor,
                            double power_w) {
  enum { POINTS = 64 };
  const cavum_text_style style = {.size = 8.5, .ink = CAVUM_INK_MUTED};
  double right = plot->horizontal.high, x[POINTS], q[POINTS];
  double end = factor * right * right / power_w;
  double leaves = right * sqrt(plot->vertical.high / end);  // Where it meets the upper edge.
  bool at_top = end > plot->vertical.high;
  if (end < plot->vertical.low || (at_top && leaves < 0.04 * right)) return;
  double first = right * sqrt(plot->vertical.low / end), last = cavum_min(right, 1.05 * leaves);
  for (int i = 0; i < POINTS; i++) {
    x[i] = first + (last - first) * i / (POINTS - 1.0);
    q[i] = factor * x[i] * x[i] / power_w;
  }
  cavum_plot_clip(canvas, plot);
  cavum_plot_draw_line(canvas, plot, POINTS, x, q, CAVUM_INK_FRAME, 0.7, CAVUM_DASH_LONG);
  cavum_canvas_unclip(canvas);
  char text[32];
  snprintf(text, sizeof text, "%g W", power_w);
  double px = at_top ? cavum_plot_at_x(plot, leaves) - 8.0 : plot->x + plot->width + 4.0;
  double py = at_top ? plot->y - 4.0 : cavum_plot_at_y(plot, end) + 3.0;
  cavum_canvas_text(canvas, px, py, text, &style);
}

// Styles of the kinds of readings.
static const struct {
  const char *text;
  cavum_plot_mark mark;
  cavum_ink ink;
} styles[CAVUM_NUM_TEST_KINDS] = {
    [CAVUM_TEST_PICKUP] = {"by pickup", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND},
    [CAVUM_TEST_DECAY] = {"by decay time", CAVUM_MARK_DIAMOND, CAVUM_INK_FIRST},
    [CAVUM_TEST_OTHER_BATH] = {"other bath temperature", CAVUM_MARK_SQUARE, CAVUM_INK_FRAME}};

static void draw_readings(cavum_canvas *canvas, const cavum_plot *plot, const test_content *content,
                          int kind) {
  const cavum_stored_coldtest *test = content->test;
  const double *e = test->column[CAVUM_STORED_GRADIENT], *q = test->column[CAVUM_STORED_Q0];
  double radius = test->num_points > 300 ? 1.5 : 2.8;
  for (int pass = 0; pass < 2; pass++) {  // All bars first, so that they lie below the marks.
    for (int i = 0; i < test->num_points; i++) {
      if (cavum_test_view_kind(test, i, content->usual_k) != kind) continue;
      if (!isfinite(e[i]) || !(q[i] > 0.0)) continue;
      if (pass == 0) {
        add_cross(canvas, plot, cavum_in_mv_per_m(e[i]), q[i],
                  cavum_in_mv_per_m(uncertainty_at(test->column[CAVUM_STORED_GRADIENT_U], i)),
                  uncertainty_at(test->column[CAVUM_STORED_Q0_U], i));
      } else {
        cavum_plot_draw_mark(canvas, cavum_plot_at_x(plot, cavum_in_mv_per_m(e[i])),
                             cavum_plot_at_y(plot, q[i]), radius, styles[kind].mark,
                             styles[kind].ink);
      }
    }
    if (pass == 0) cavum_canvas_stroke(canvas, styles[kind].ink, 1.0, CAVUM_DASH_NONE);
  }
}

static void add_quality_keys(cavum_flow *flow, const test_content *content) {
  const cavum_stored_coldtest *test = content->test;
  bool seen[CAVUM_NUM_TEST_KINDS] = {false};
  for (int i = 0; i < test->num_points; i++) {
    seen[cavum_test_view_kind(test, i, content->usual_k)] = true;
  }
  for (int k = 0; k < CAVUM_NUM_TEST_KINDS; k++) {
    char text[96];
    if (!seen[k]) continue;
    snprintf(text, sizeof text, "%s", styles[k].text);
    if (k != CAVUM_TEST_OTHER_BATH && isfinite(content->usual_k)) {
      snprintf(text, sizeof text, "%s, %.2f K", styles[k].text, content->usual_k);
    }
    cavum_flow_add_mark(flow, text, styles[k].mark, styles[k].ink);
  }
  if (test->r_over_q_linac_ohm > 0.0) {
    cavum_flow_add_line(flow, "constant wall power", CAVUM_INK_FRAME, CAVUM_DASH_LONG, 0.7);
  }
  cavum_flow_add_line(flow, "standard uncertainty, k = 1", CAVUM_INK_SECOND, CAVUM_DASH_NONE, 1.0);
  cavum_flow_break(flow);
}

static void draw_quality(cavum_page *page, const test_content *content) {
  static const int order[] = {CAVUM_TEST_OTHER_BATH, CAVUM_TEST_PICKUP, CAVUM_TEST_DECAY};
  const cavum_stored_coldtest *test = content->test;
  double length = test->accelerating_length_m;
  double mv = cavum_from_unit(length, CAVUM_UNIT_MV_PER_M);  // Voltage of 1 MV/m.
  if (!test->column[CAVUM_STORED_Q0]) return;
  cavum_plot plot = quality_frame(test, page);
  cavum_plot_draw_frame(page->canvas, &plot);
  for (int exponent = -3; exponent <= 4 && length > 0.0; exponent++) {
    if (!(test->r_over_q_linac_ohm > 0.0)) break;
    draw_power_line(page->canvas, &plot, mv * mv / test->r_over_q_linac_ohm, pow(10.0, exponent));
  }
  for (int k = 0; k < CAVUM_NUM_TEST_KINDS; k++) {
    draw_readings(page->canvas, &plot, content, order[k]);
  }
  page->y += 16.0 + QUALITY_HEIGHT + BELOW_ROOM;
  cavum_flow flow =
      cavum_flow_start(page->canvas, plot.x, page->width - CAVUM_PAGE_MARGIN, page->y + 6.0);
  add_quality_keys(&flow, content);
  page->y = flow.y - 2.0;
}

static bool resistance_frame(cavum_plot *plot, const cavum_stored_coldtest *test) {
  double low = HUGE_VAL, high = 0.0, first = HUGE_VAL, last = 0.0;
  for (int i = 0; i < test->num_points; i++) {
    if (!cavum_test_view_is_fitted(test, i)) continue;
    double r = cavum_in_nohm(test->column[CAVUM_STORED_RESISTANCE][i]);
    double x = 1.0 / test->column[CAVUM_STORED_TEMPERATURE][i];
    low = cavum_min(low, r);
    high = cavum_max(high, r);
    first = cavum_min(first, x);
    last = cavum_max(last, x);
  }
  if (!(last > first)) return false;
  // The residual resistance is a line of its own.
  if (test->fit.present && test->fit.residual_ohm > 0.0) {
    low = cavum_min(low, cavum_in_nohm(test->fit.residual_ohm));
  }
  widen_logarithmic(&low, &high);
  cavum_ticks_widen(&first, &last, 0.05);
  plot->horizontal = (cavum_plot_axis){.low = first, .high = last, .label = "1/T in 1/K"};
  plot->vertical = (cavum_plot_axis){
      .low = low, .high = high, .logarithmic = true, .label = "R_{s} / n\xce\xa9"};
  return true;
}

static void draw_fit(cavum_canvas *canvas, const cavum_plot *plot, const cavum_stored_fit *fit) {
  enum { POINTS = 128 };
  double x[POINTS], whole[POINTS], thermal[POINTS], residual[POINTS];
  double span = plot->horizontal.high - plot->horizontal.low;
  for (int i = 0; i < POINTS; i++) {
    x[i] = plot->horizontal.low + span * i / (POINTS - 1.0);
    whole[i] = cavum_in_nohm(cavum_test_view_fitted_ohm(fit, 1.0 / x[i]));
    thermal[i] = whole[i] - cavum_in_nohm(fit->residual_ohm);
    residual[i] = fit->residual_ohm > 0.0 ? cavum_in_nohm(fit->residual_ohm) : NAN;
  }
  cavum_plot_clip(canvas, plot);
  cavum_plot_draw_line(canvas, plot, POINTS, x, thermal, CAVUM_INK_FRAME, 1.0, CAVUM_DASH_LONG);
  cavum_plot_draw_line(canvas, plot, POINTS, x, residual, CAVUM_INK_FRAME, 1.0, CAVUM_DASH_DOT);
  cavum_plot_draw_line(canvas, plot, POINTS, x, whole, CAVUM_INK_THIRD, 1.6, CAVUM_DASH_NONE);
  cavum_canvas_unclip(canvas);
}

static void draw_resistance_readings(cavum_canvas *canvas, const cavum_plot *plot,
                                     const cavum_stored_coldtest *test) {
  for (int pass = 0; pass < 2; pass++) {
    for (int i = 0; i < test->num_points; i++) {
      if (!cavum_test_view_is_fitted(test, i)) continue;
      double x = 1.0 / test->column[CAVUM_STORED_TEMPERATURE][i];
      double y = cavum_in_nohm(test->column[CAVUM_STORED_RESISTANCE][i]);
      double dy = cavum_in_nohm(uncertainty_at(test->column[CAVUM_STORED_RESISTANCE_U], i));
      if (pass == 0) add_cross(canvas, plot, x, y, 0.0, dy);
      if (pass == 0) continue;
      cavum_plot_draw_mark(canvas, cavum_plot_at_x(plot, x), cavum_plot_at_y(plot, y), 2.8,
                           CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND);
    }
    if (pass == 0) cavum_canvas_stroke(canvas, CAVUM_INK_SECOND, 1.0, CAVUM_DASH_NONE);
  }
}

static void draw_resistance(cavum_page *page, const cavum_stored_coldtest *test) {
  const cavum_stored_fit *fit = &test->fit;
  cavum_plot plot = {.x = CAVUM_PAGE_MARGIN + LEFT_ROOM,
                     .y = page->y + 12.0,
                     .width = page->width - 2.0 * CAVUM_PAGE_MARGIN - LEFT_ROOM - RIGHT_ROOM,
                     .height = RESISTANCE_HEIGHT};
  if (!resistance_frame(&plot, test)) return;
  cavum_plot_draw_frame(page->canvas, &plot);
  if (fit->present) draw_fit(page->canvas, &plot, fit);
  draw_resistance_readings(page->canvas, &plot, test);
  page->y += 12.0 + RESISTANCE_HEIGHT + BELOW_ROOM;
  cavum_flow flow =
      cavum_flow_start(page->canvas, plot.x, page->width - CAVUM_PAGE_MARGIN, page->y + 6.0);
  cavum_flow_add_mark(&flow, "readings", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND);
  if (fit->present) {
    char text[160], gap[24], residual[24];
    cavum_ticks_format(gap, fit->gap_k, 4);
    cavum_ticks_format(residual, cavum_in_nohm(fit->residual_ohm), 3);
    snprintf(text, sizeof text,
             "fit A exp(\xe2\x88\x92\xce\x94/kT)/T + R_{res} with \xce\x94/k = %s K", gap);
    cavum_flow_add_line(&flow, text, CAVUM_INK_THIRD, CAVUM_DASH_NONE, 1.6);
    cavum_flow_add_line(&flow, "its first term", CAVUM_INK_FRAME, CAVUM_DASH_LONG, 1.0);
    snprintf(text, sizeof text, "R_{res} = %s n\xce\xa9", residual);
    cavum_flow_add_line(&flow, text, CAVUM_INK_FRAME, CAVUM_DASH_DOT, 1.0);
  }
  cavum_flow_break(&flow);
  page->y = flow.y - 2.0;
}

static void draw_heading(cavum_page *page, const cavum_stored_coldtest *test) {
  char line[256], r_over_q[24], length[24];
  char branches[96];
  cavum_test_view_branches(branches, test);
  snprintf(line, sizeof line, "cold test, %d readings%s%s", test->num_points,
           branches[0] ? ", " : "", branches);
  if (test->r_over_q_linac_ohm > 0.0) {
    cavum_ticks_format(r_over_q, test->r_over_q_linac_ohm, 5);
    cavum_ticks_format(length, cavum_in_mm(test->accelerating_length_m), 4);
    snprintf(line, sizeof line,
             "cold test, %d readings%s%s, R/Q %s \xce\xa9 (linac), L_{acc} %s mm", test->num_points,
             branches[0] ? ", " : "", branches, r_over_q, length);
  }
  cavum_page_draw_heading(page, test->title, line);
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const test_content *content = data;
  cavum_picture_view view = page->request->view;
  draw_heading(page, content->test);
  double before = page->y;
  if (view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_QUALITY) draw_quality(page, content);
  if (view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_RESISTANCE) {
    draw_resistance(page, content->test);
  }
  if (view == CAVUM_VIEW_SHEET || view == CAVUM_VIEW_BUDGET) {
    cavum_test_budget_draw(page, content->test, content->point);
  }
  if (page->y > before) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "the test has nothing to draw for this view");
}

cavum_status cavum_test_view_draw(char **bytes, size_t *size, const cavum_stored_coldtest *test,
                                  int point, const cavum_draw_request *request,
                                  cavum_error *error) {
  test_content content = {test, point >= 0 ? point : cavum_test_view_choose_point(test),
                          cavum_test_view_find_temperature(test)};
  cavum_picture_view view = request->view;
  if (view != CAVUM_VIEW_SHEET && view != CAVUM_VIEW_QUALITY && view != CAVUM_VIEW_RESISTANCE &&
      view != CAVUM_VIEW_BUDGET) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "views of a cold test: sheet, quality, resistance or budget");
  }
  if (content.point >= test->num_points) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no reading %d: the test has %d", point + 1,
                      test->num_points);
  }
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, test->title,
                         "Cold test: quality factor, surface resistance and uncertainty budget",
                         draw_content, &content, error);
}
