// SPDX-License-Identifier: GPL-3.0-or-later
// Charts as plots. The lines of a plot share one abscissa: every point of every series is a row of
// it, in which the other series have nothing.
#include "report/chart_html.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "picture/chart_draw.h"

typedef struct row {
  double x, y, dx, dy;
  int series;  // -1: a rule, which widens the axis.
} row;

typedef struct table {
  row *rows;     // Owned.
  double *work;  // Owned, shape [4, count]: x and one series.
  int count;
} table;

static int compare_rows(const void *left, const void *right) {
  const row *a = left, *b = right;
  if (a->x != b->x) return a->x > b->x ? 1 : -1;
  return (a->series > b->series) - (a->series < b->series);
}

static bool is_plotted(const cavum_chart_series *series) {
  return !series->guide && series->count > 0;
}

static cavum_status collect(table *t, const cavum_chart *chart, const cavum_plot *frame,
                            cavum_error *error) {
  int64_t most = chart->num_rules;
  for (int k = 0; k < chart->num_series; k++) most += chart->series[k].count;
  t->rows = cavum_alloc(most, sizeof *t->rows);
  t->work = cavum_alloc(most, 4 * sizeof *t->work);
  if (!t->rows || !t->work) return cavum_fail_memory(error);
  for (int k = 0; k < chart->num_series; k++) {
    const cavum_chart_series *s = &chart->series[k];
    for (int i = 0; i < s->count && is_plotted(s); i++) {
      if (!isfinite(s->x[i]) || !isfinite(s->y[i])) continue;
      if (chart->logarithmic && !(s->y[i] > 0.0)) continue;
      if (s->beside && (s->x[i] > frame->horizontal.high || s->y[i] > frame->vertical.high ||
                        s->y[i] < frame->vertical.low)) {
        continue;
      }
      t->rows[t->count++] = (row){s->x[i], s->y[i], s->dx[i], s->dy[i], k};
    }
  }
  for (int k = 0; k < chart->num_rules; k++) {
    const cavum_chart_rule *rule = &chart->rules[k];
    if (!rule->upright || rule->at > frame->horizontal.high) continue;
    t->rows[t->count++] = (row){.x = rule->at, .series = -1};
  }
  qsort(t->rows, (size_t)t->count, sizeof *t->rows, compare_rows);
  return CAVUM_OK;
}

static void add_series(cavum_html *html, const cavum_chart *chart, const table *t, int k) {
  const cavum_chart_series *s = &chart->series[k];
  double *y = t->work + t->count, *dx = y + t->count, *dy = dx + t->count;
  char label[CAVUM_CHART_TEXT_SIZE], ink[16];
  bool any = false;
  for (int i = 0; i < t->count; i++) {
    bool mine = t->rows[i].series == k;
    any = any || mine;
    y[i] = mine ? t->rows[i].y : NAN;
    dx[i] = mine ? t->rows[i].dx : 0.0;
    dy[i] = mine ? t->rows[i].dy : 0.0;
  }
  cavum_chart_plain(label, sizeof label, s->text);
  snprintf(ink, sizeof ink, "--i%d", (int)s->ink);
  const cavum_html_line line = {.label = label,
                                .unit = chart->y_unit,
                                .ink = ink,
                                .y = y,
                                .dx = s->points ? dx : NULL,
                                .dy = s->points ? dy : NULL,
                                .dots = s->points,
                                .dash = s->dash != CAVUM_DASH_NONE,
                                .span = !s->points};
  if (any) cavum_html_add_line(html, &line, t->count);
}

static void add_level(cavum_html *html, const cavum_chart *chart, const table *t,
                      const cavum_chart_rule *rule) {
  double *y = t->work + t->count;
  char label[CAVUM_CHART_TEXT_SIZE], ink[16];
  for (int i = 0; i < t->count; i++) y[i] = rule->at;
  cavum_chart_plain(label, sizeof label, rule->text);
  snprintf(ink, sizeof ink, "--i%d", (int)rule->ink);
  const cavum_html_line line = {
      .label = label, .unit = chart->y_unit, .ink = ink, .y = y, .dash = true};
  cavum_html_add_line(html, &line, t->count);
}

static void write_caption(char *caption, size_t size, const cavum_chart *chart) {
  size_t n = (size_t)snprintf(caption, size, "%s", chart->caption);
  const char *before = " Upright lines: ";
  for (int k = 0; k < chart->num_rules && n < size; k++) {
    char text[CAVUM_CHART_TEXT_SIZE];
    if (!chart->rules[k].upright) continue;
    cavum_chart_plain(text, sizeof text, chart->rules[k].text);
    n += (size_t)snprintf(caption + n, size - n, "%s%s", before, text);
    before = "; ";
  }
  if (chart->num_rules > 0 && n < size && strcmp(before, "; ") == 0) {
    n += (size_t)snprintf(caption + n, size - n, ".");
  }
  if (chart->remark[0] && n < size) snprintf(caption + n, size - n, " %s", chart->remark);
}

static void write_plot(cavum_html *html, const cavum_chart *chart, const table *t,
                       const char *still) {
  char caption[4096], x_label[96], y_label[96];
  double uprights[CAVUM_CHART_RULES_MOST];
  int num_uprights = 0;
  cavum_chart_plain(x_label, sizeof x_label, chart->x_label);
  cavum_chart_plain(y_label, sizeof y_label, chart->y_label);
  write_caption(caption, sizeof caption, chart);
  const cavum_html_plot plot = {.x_label = x_label,
                                .x_name = chart->x_name,
                                .x_unit = chart->x_unit,
                                .y_label = y_label,
                                .logarithmic = chart->logarithmic,
                                .still = still,
                                .caption = caption};
  for (int i = 0; i < t->count; i++) t->work[i] = t->rows[i].x;
  cavum_html_begin_plot(html, &plot, t->count, t->work);
  for (int k = 0; k < chart->num_series; k++) add_series(html, chart, t, k);
  for (int k = 0; k < chart->num_rules; k++) {
    if (chart->rules[k].upright) {
      uprights[num_uprights++] = chart->rules[k].at;
    } else {
      add_level(html, chart, t, &chart->rules[k]);
    }
  }
  cavum_html_end_plot(html, num_uprights, uprights);
}

cavum_status cavum_html_write_chart(cavum_html *html, const cavum_chart *chart,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_plot frame = {0};
  table t = {0};
  char *still = NULL, prefix[32];
  size_t size = 0;
  snprintf(prefix, sizeof prefix, "chart%d", html->num_plots);
  const cavum_draw_request request = {
      .kind = CAVUM_CANVAS_SVG_FRAGMENT, .image_scale = 2.0, .no_heading = true, .prefix = prefix};
  cavum_chart_frame(&frame, chart);
  CAVUM_TRY(collect(&t, chart, &frame, error));
  CAVUM_TRY(cavum_chart_draw_page(&still, &size, chart, &request, error));
  write_plot(html, chart, &t, still);
done:
  free(still);
  free(t.rows);
  free(t.work);
  return status;
}
