// SPDX-License-Identifier: GPL-3.0-or-later
// Charts on a page: frame, limits, lines, bars, marks, key.
#include "picture/chart_draw.h"

#include <stdio.h>

#include "base/base.h"
#include "canvas/flow.h"
#include "canvas/ticks.h"

static const double LEFT_ROOM = 58.0, RIGHT_ROOM = 34.0, TOP_ROOM = 16.0, BELOW_ROOM = 40.0;
static const double PAGE_WIDTH = 820.0, PAGE_HEIGHT = 280.0;
enum { REMARK_LINES = 12 };  // Whole remarks also in one column of a journal.
// More points than this are a cloud: lines are drawn over it, else below the marks.
enum { DENSE = 200 };
// A rule this far beyond the data still belongs on the page, in lengths of their range.
static const double RULE_REACH = 0.5;

typedef struct range {
  double low, high;
} range;

static void widen(range *r, double low, double high) {
  r->low = cavum_min(r->low, low);
  r->high = cavum_max(r->high, high);
}

static void close_logarithmic(range *r) {
  if (!(r->low > 0.0) || !(r->high >= r->low)) *r = (range){1.0, 10.0};
  double margin = cavum_max(0.12 * log10(r->high / r->low), 0.06);
  r->low = pow(10.0, log10(r->low) - margin);
  r->high = pow(10.0, log10(r->high) + margin);
}

static void find_ranges(range *x, range *y, const cavum_chart *chart) {
  *x = *y = (range){HUGE_VAL, -HUGE_VAL};
  for (int k = 0; k < chart->num_series; k++) {
    const cavum_chart_series *s = &chart->series[k];
    for (int i = 0; i < s->count && !s->beside; i++) {
      if (!isfinite(s->x[i]) || !isfinite(s->y[i])) continue;
      if (chart->logarithmic && !(s->y[i] > 0.0)) continue;
      double low = s->y[i] - s->dy[i];
      if (chart->logarithmic) low = cavum_max(low, 0.1 * s->y[i]);
      widen(x, s->x[i] - s->dx[i], s->x[i] + s->dx[i]);
      widen(y, low, s->y[i] + s->dy[i]);
    }
  }
  if (chart->x_reach > 0.0 && x->low <= x->high) widen(x, chart->x_reach, chart->x_reach);
  range reach = *x;
  if (chart->from_zero) reach.low = 0.0;
  for (int k = 0; k < chart->num_rules; k++) {
    const cavum_chart_rule *rule = &chart->rules[k];
    if (!rule->upright) continue;
    double most = reach.high + RULE_REACH * (reach.high - reach.low);
    if (rule->at > reach.high && rule->at <= most) widen(x, rule->at, rule->at);
  }
}

void cavum_chart_frame(cavum_plot *plot, const cavum_chart *chart) {
  range x, y;
  find_ranges(&x, &y, chart);
  if (chart->from_zero) {
    x = (range){0.0, x.high > 0.0 ? 1.08 * x.high : 1.0};
  } else if (chart->counts) {
    double beside = cavum_max(0.5, 0.05 * (x.high - x.low));
    x = (range){x.low - beside, x.high + beside};
  } else {
    cavum_ticks_widen(&x.low, &x.high, 0.05);
  }
  if (chart->logarithmic) {
    close_logarithmic(&y);
  } else {
    cavum_ticks_widen(&y.low, &y.high, 0.08);
  }
  plot->horizontal = (cavum_plot_axis){
      .low = x.low, .high = x.high, .whole = chart->counts, .label = chart->x_label};
  plot->vertical = (cavum_plot_axis){
      .low = y.low, .high = y.high, .logarithmic = chart->logarithmic, .label = chart->y_label};
}

static bool is_inside(const cavum_plot *plot, double x, double y) {
  const cavum_plot_axis *h = &plot->horizontal, *v = &plot->vertical;
  return x >= h->low && x <= h->high && y >= v->low && y <= v->high;
}

// Where a line leaves the frame, its text is written: above the upper edge, or at the right.
// `taken` is how far texts above the edge reach: none is written on another.
static void write_end(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart_series *s,
                      double *taken) {
  const cavum_text_style style = {.size = 8.5, .ink = CAVUM_INK_MUTED};
  int last = -1;
  for (int i = 0; i < s->count; i++) {
    if (is_inside(plot, s->x[i], s->y[i])) last = i;
  }
  if (!s->end[0] || last < 0) return;
  double x = cavum_plot_at_x(plot, s->x[last]), y = cavum_plot_at_y(plot, s->y[last]);
  if (last + 1 < s->count && s->y[last + 1] > plot->vertical.high) {
    double next_y = cavum_plot_at_y(plot, s->y[last + 1]);
    x += (cavum_plot_at_x(plot, s->x[last + 1]) - x) * (y - plot->y) / (y - next_y);
    // A text in the corner would stand on the numbers of the axis.
    if (x - plot->x < 0.04 * plot->width || x > plot->x + 0.98 * plot->width) return;
    if (x - 8.0 < *taken) return;
    *taken = x - 8.0 + cavum_canvas_measure(canvas, s->end, &style) + 4.0;
    cavum_canvas_text(canvas, x - 8.0, plot->y - 4.0, s->end, &style);
  } else {
    cavum_canvas_text(canvas, plot->x + plot->width + 4.0, y + 3.0, s->end, &style);
  }
}

static void draw_line(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart_series *s,
                      double *taken) {
  cavum_plot_clip(canvas, plot);
  cavum_plot_draw_line(canvas, plot, s->count, s->x, s->y, s->ink, s->width, s->dash);
  cavum_canvas_unclip(canvas);
  write_end(canvas, plot, s, taken);
}

static void draw_bars(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart_series *s) {
  cavum_plot_clip(canvas, plot);
  for (int i = 0; i < s->count; i++) {
    double x = s->x[i], y = s->y[i], low = y - s->dy[i];
    if (plot->vertical.logarithmic && !(y > 0.0)) continue;
    if (plot->vertical.logarithmic) low = cavum_max(low, 0.5 * plot->vertical.low);
    if (s->dx[i] > 0.0) {
      cavum_canvas_move(canvas, cavum_plot_at_x(plot, x - s->dx[i]), cavum_plot_at_y(plot, y));
      cavum_canvas_line(canvas, cavum_plot_at_x(plot, x + s->dx[i]), cavum_plot_at_y(plot, y));
    }
    if (s->dy[i] > 0.0) {
      cavum_canvas_move(canvas, cavum_plot_at_x(plot, x), cavum_plot_at_y(plot, low));
      cavum_canvas_line(canvas, cavum_plot_at_x(plot, x), cavum_plot_at_y(plot, y + s->dy[i]));
    }
  }
  cavum_canvas_stroke(canvas, s->ink, 1.0, CAVUM_DASH_NONE);
  cavum_canvas_unclip(canvas);
}

// Ends of upright bars, so that an interval is told from a standard uncertainty.
static void draw_ends(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart_series *s) {
  cavum_plot_clip(canvas, plot);
  for (int i = 0; i < s->count; i++) {
    double x = cavum_plot_at_x(plot, s->x[i]);
    for (int side = -1; side <= 1; side += 2) {
      double value = s->y[i] + side * s->dy[i];
      if (plot->vertical.logarithmic && !(value > 0.0)) continue;
      double y = cavum_plot_at_y(plot, value);
      cavum_canvas_move(canvas, x - 2.5, y);
      cavum_canvas_line(canvas, x + 2.5, y);
    }
  }
  cavum_canvas_stroke(canvas, s->ink, 1.0, CAVUM_DASH_NONE);
  cavum_canvas_unclip(canvas);
}

static void draw_marks(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart_series *s) {
  double radius = s->count > DENSE ? 1.6 : s->count > 60 ? 2.0 : 2.8;
  if (s->scale > 0.0) radius *= s->scale;
  for (int i = 0; i < s->count; i++) {
    if (!is_inside(plot, s->x[i], s->y[i])) continue;
    cavum_plot_draw_mark(canvas, cavum_plot_at_x(plot, s->x[i]), cavum_plot_at_y(plot, s->y[i]),
                         radius, s->mark, s->ink);
  }
}

static bool is_shown(const cavum_plot *plot, const cavum_chart_rule *rule) {
  const cavum_plot_axis *axis = rule->upright ? &plot->horizontal : &plot->vertical;
  return rule->at >= axis->low && rule->at <= axis->high;
}

// Rules are named by letters at their ends; those that would stand on each other take turns.
static void draw_rules(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart *chart) {
  double taken[2][CAVUM_CHART_RULES_MOST];
  for (int k = 0; k < chart->num_rules; k++) {
    const cavum_chart_rule *rule = &chart->rules[k];
    cavum_text_style style = {.size = 9.0, .ink = rule->ink, .anchor = CAVUM_ANCHOR_MIDDLE};
    double at = rule->upright ? cavum_plot_at_x(plot, rule->at) : cavum_plot_at_y(plot, rule->at);
    const char letter[] = {cavum_chart_letter(chart, k), '\0'};
    taken[rule->upright][k] = at;
    taken[!rule->upright][k] = -HUGE_VAL;
    if (!is_shown(plot, rule)) continue;
    int turn = 0;
    for (int i = 0; i < k; i++) turn += fabs(taken[rule->upright][i] - at) < 8.0;
    if (rule->upright) {
      cavum_plot_draw_upright(canvas, plot, rule->at, rule->ink, CAVUM_DASH_AXIS);
      cavum_canvas_text(canvas, at + 5.0, plot->y + 12.0 + 11.0 * turn, letter, &style);
    } else {
      cavum_plot_draw_level(canvas, plot, rule->at, rule->ink, CAVUM_DASH_AXIS);
      cavum_canvas_text(canvas, plot->x + 8.0 + 9.0 * turn, at - 3.0, letter, &style);
    }
  }
}

static bool has_inside(const cavum_plot *plot, const cavum_chart_series *s) {
  for (int i = 0; i < s->count; i++) {
    if (is_inside(plot, s->x[i], s->y[i])) return true;
  }
  return false;
}

static void add_keys(cavum_flow *flow, const cavum_plot *plot, const cavum_chart *chart) {
  for (int k = 0; k < chart->num_series; k++) {
    const cavum_chart_series *s = &chart->series[k];
    if (!s->text[0] || s->count == 0) continue;
    if (s->points && !s->intervals) {
      cavum_flow_add_mark(flow, s->text, s->mark, s->ink);
    } else {
      char text[CAVUM_CHART_TEXT_SIZE + 32];
      snprintf(text, sizeof text, "%s%s", s->text,
               s->guide || has_inside(plot, s) ? "" : " (outside)");
      cavum_flow_add_line(flow, text, s->ink, s->dash, s->width);
    }
  }
  for (int k = 0; k < chart->num_rules; k++) {
    const cavum_chart_rule *rule = &chart->rules[k];
    char text[CAVUM_CHART_TEXT_SIZE + 32];
    snprintf(text, sizeof text, "%c: %s%s", cavum_chart_letter(chart, k), rule->text,
             is_shown(plot, rule) ? "" : " (outside)");
    cavum_flow_add_line(flow, text, rule->ink, CAVUM_DASH_AXIS, 0.8);
  }
  cavum_flow_break(flow);
}

static void draw_lines(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart *chart) {
  double taken = plot->x;
  for (int k = 0; k < chart->num_series; k++) {
    if (!chart->series[k].points) draw_line(canvas, plot, &chart->series[k], &taken);
  }
}

static void draw_points(cavum_canvas *canvas, const cavum_plot *plot, const cavum_chart *chart) {
  // All bars first, so that they lie below the marks.
  for (int k = 0; k < chart->num_series; k++) {
    if (chart->series[k].points) draw_bars(canvas, plot, &chart->series[k]);
  }
  for (int k = 0; k < chart->num_series; k++) {
    const cavum_chart_series *s = &chart->series[k];
    if (s->points) (s->intervals ? draw_ends : draw_marks)(canvas, plot, s);
  }
}

static bool is_dense(const cavum_chart *chart) {
  for (int k = 0; k < chart->num_series; k++) {
    if (chart->series[k].points && chart->series[k].count > DENSE) return true;
  }
  return false;
}

double cavum_chart_draw(cavum_canvas *canvas, const cavum_chart *chart, double x, double y,
                        double width, double height) {
  cavum_plot plot = {.x = x + LEFT_ROOM,
                     .y = y + TOP_ROOM,
                     .width = width - LEFT_ROOM - RIGHT_ROOM,
                     .height = height};
  cavum_chart_frame(&plot, chart);
  cavum_plot_draw_frame(canvas, &plot);
  draw_rules(canvas, &plot, chart);
  if (!is_dense(chart)) draw_lines(canvas, &plot, chart);
  draw_points(canvas, &plot, chart);
  if (is_dense(chart)) draw_lines(canvas, &plot, chart);
  cavum_flow flow =
      cavum_flow_start(canvas, plot.x, x + width, y + TOP_ROOM + height + BELOW_ROOM + 6.0);
  add_keys(&flow, &plot, chart);
  if (chart->remark[0]) {
    const cavum_text_style style = {.size = 9.5, .ink = CAVUM_INK_MUTED, .plain = true};
    flow.y = cavum_flow_write_text(canvas, plot.x, flow.y, x + width - plot.x, chart->remark,
                                   &style, REMARK_LINES);
  }
  return flow.y - 2.0;
}

/** A page. */
typedef struct chart_page {
  const cavum_chart *chart;
  const char *title;  // NULL: none
} chart_page;

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const chart_page *shown = data;
  (void)error;
  if (shown->title) cavum_page_draw_heading(page, shown->title, shown->chart->caption);
  page->y = cavum_chart_draw(page->canvas, shown->chart, CAVUM_PAGE_MARGIN, page->y,
                             page->width - 2.0 * CAVUM_PAGE_MARGIN, PAGE_HEIGHT);
  return CAVUM_OK;
}

cavum_status cavum_chart_draw_page(char **bytes, size_t *size, const cavum_chart *chart,
                                   const char *title, const cavum_draw_request *request,
                                   cavum_error *error) {
  chart_page shown = {chart, title};
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, title ? title : "", chart->caption,
                         draw_content, &shown, error);
}
