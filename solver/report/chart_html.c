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
  char ink[16];
  bool any = false;
  for (int i = 0; i < t->count; i++) {
    bool mine = t->rows[i].series == k;
    any = any || mine;
    y[i] = mine ? t->rows[i].y : NAN;
    dx[i] = mine ? t->rows[i].dx : 0.0;
    dy[i] = mine ? t->rows[i].dy : 0.0;
  }
  snprintf(ink, sizeof ink, "--i%d", (int)s->ink);
  const cavum_html_line line = {.label = s->text,
                                .unit = chart->y_unit,
                                .ink = ink,
                                .y = y,
                                .dx = s->points ? dx : NULL,
                                .dy = s->points ? dy : NULL,
                                .dots = s->points,
                                .ends = s->intervals,
                                .mark = s->mark,
                                .dash = s->dash != CAVUM_DASH_NONE,
                                .span = !s->points};
  if (any) cavum_html_add_line(html, &line, t->count);
}

// Rules have letters, as in the still picture.
static char letter_of(const cavum_chart *chart, const cavum_chart_rule *rule) {
  return cavum_chart_letter(chart, (int)(rule - chart->rules));
}

static void add_level(cavum_html *html, const cavum_chart *chart, const table *t,
                      const cavum_chart_rule *rule) {
  double *y = t->work + t->count;
  char label[CAVUM_CHART_TEXT_SIZE + 8], ink[16];
  for (int i = 0; i < t->count; i++) y[i] = rule->at;
  snprintf(label, sizeof label, "%c: %s", letter_of(chart, rule), rule->text);
  snprintf(ink, sizeof ink, "--i%d", (int)rule->ink);
  const cavum_html_line line = {
      .label = label, .unit = chart->y_unit, .ink = ink, .y = y, .dash = true};
  cavum_html_add_line(html, &line, t->count);
}

static void write_caption(char *caption, size_t size, const cavum_chart *chart,
                          const cavum_plot *frame) {
  size_t n = (size_t)snprintf(caption, size, "%s", chart->caption);
  const char *before = " Vertical lines, by their letters: ";
  for (int k = 0; k < chart->num_rules && n < size; k++) {
    const cavum_chart_rule *rule = &chart->rules[k];
    char text[CAVUM_CHART_TEXT_SIZE];
    if (!rule->upright) continue;
    cavum_chart_plain(text, sizeof text, rule->text);
    n += (size_t)snprintf(caption + n, size - n, "%s%c: %s%s", before, letter_of(chart, rule), text,
                          rule->at > frame->horizontal.high ? " (outside)" : "");
    before = "; ";
  }
  if (chart->num_rules > 0 && n < size && strcmp(before, "; ") == 0) {
    n += (size_t)snprintf(caption + n, size - n, ".");
  }
  if (chart->remark[0] && n < size) snprintf(caption + n, size - n, " %s", chart->remark);
}

// Upright rules within the frame, and lines that guide the eye.
static void end_plot(cavum_html *html, const cavum_chart *chart, const cavum_plot *frame) {
  cavum_html_upright uprights[CAVUM_CHART_RULES_MOST];
  cavum_html_guide guides[CAVUM_CHART_SERIES_MOST];
  char inks[CAVUM_NUM_INKS][8];
  int num_uprights = 0, num_guides = 0;
  for (int i = 0; i < CAVUM_NUM_INKS; i++) snprintf(inks[i], sizeof inks[i], "--i%d", i % 100);
  for (int k = 0; k < chart->num_rules; k++) {
    const cavum_chart_rule *rule = &chart->rules[k];
    if (!rule->upright || rule->at > frame->horizontal.high) continue;
    uprights[num_uprights++] = (cavum_html_upright){
        .at = rule->at, .letter = letter_of(chart, rule), .ink = inks[rule->ink]};
  }
  for (int k = 0; k < chart->num_series; k++) {
    const cavum_chart_series *s = &chart->series[k];
    if (!s->guide || s->count == 0) continue;
    guides[num_guides++] = (cavum_html_guide){.count = s->count,
                                              .x = s->x,
                                              .y = s->y,
                                              .ink = inks[s->ink],
                                              .text = s->text,
                                              .end = s->end,
                                              .width = s->width,
                                              .dash = s->dash != CAVUM_DASH_NONE};
  }
  cavum_html_end_plot(html, num_uprights, uprights, num_guides, guides);
}

static void write_plot(cavum_html *html, const cavum_chart *chart, const table *t,
                       const cavum_plot *frame, const char *still) {
  char caption[4096];
  write_caption(caption, sizeof caption, chart, frame);
  const cavum_html_plot plot = {.x_label = chart->x_label,
                                .x_name = chart->x_name,
                                .x_unit = chart->x_unit,
                                .y_label = chart->y_label,
                                .logarithmic = chart->logarithmic,
                                .counts = chart->counts,
                                .still = still,
                                .caption = caption};
  for (int i = 0; i < t->count; i++) t->work[i] = t->rows[i].x;
  cavum_html_begin_plot(html, &plot, t->count, t->work);
  for (int k = 0; k < chart->num_series; k++) add_series(html, chart, t, k);
  for (int k = 0; k < chart->num_rules; k++) {
    if (!chart->rules[k].upright) add_level(html, chart, t, &chart->rules[k]);
  }
  end_plot(html, chart, frame);
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
  CAVUM_TRY(cavum_chart_draw_page(&still, &size, chart, NULL, &request, error));
  write_plot(html, chart, &t, &frame, still);
done:
  free(still);
  free(t.rows);
  free(t.work);
  return status;
}
