// SPDX-License-Identifier: GPL-3.0-or-later
// Budget bars: contributions are signed and add in squares, so a bar is a share of the variance.
#include "picture/coldtest_budget.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/flow.h"
#include "canvas/ticks.h"

static const double ROW_HEIGHT = 22.0, BAR_HEIGHT = 7.0, LABEL_ROOM = 316.0, RIGHT_ROOM = 34.0;
// Where less than this is left for bars, labels stand above them.
static const double LEAST_BARS = 140.0, LEFT_ROOM = 10.0, LABEL_LINE = 12.0, LABEL_INDENT = 4.0,
                    LABEL_GAP = 8.0;
enum { LABEL_LINES = 3 };

static double share_of(const cavum_stored_coldtest *test, int budget, int point, int input) {
  const double *all = test->budget[budget];
  if (!all) return 0.0;
  const double *row = all + (size_t)point * (size_t)test->num_inputs;
  double total = 0.0;
  for (int i = 0; i < test->num_inputs; i++) {
    if (isfinite(row[i])) total += row[i] * row[i];
  }
  return total > 0.0 && isfinite(row[input]) ? row[input] * row[input] / total : 0.0;
}

static double largest_share(const cavum_budget_bar *bar) {
  return cavum_max(bar->share[0], bar->share[1]);
}

static void add_shares(cavum_budget_bar *sum, const cavum_budget_bar *bar) {
  for (int k = 0; k < CAVUM_NUM_STORED_BUDGETS; k++) sum->share[k] += bar->share[k];
}

int cavum_test_budget_find(cavum_budget_bar bars[CAVUM_BUDGET_BARS_MOST],
                           const cavum_stored_coldtest *test, int point) {
  enum { KEPT = CAVUM_BUDGET_BARS_MOST - 1 };
  int count = 0;
  cavum_budget_bar rest = {.text = "all others"};
  for (int i = 0; i < test->num_inputs && point >= 0; i++) {
    cavum_budget_bar bar = {.text = test->input_texts[i]};
    for (int k = 0; k < CAVUM_NUM_STORED_BUDGETS; k++) bar.share[k] = share_of(test, k, point, i);
    if (!(largest_share(&bar) > 0.0)) continue;
    if (count == KEPT && largest_share(&bar) <= largest_share(&bars[KEPT - 1])) {
      add_shares(&rest, &bar);
      continue;
    }
    if (count == KEPT) add_shares(&rest, &bars[KEPT - 1]);
    int at = count < KEPT ? count++ : KEPT - 1;
    for (; at > 0 && largest_share(&bars[at - 1]) < largest_share(&bar); at--) {
      bars[at] = bars[at - 1];
    }
    bars[at] = bar;
  }
  if (largest_share(&rest) > 0.0) bars[count++] = rest;
  return count;
}

// How the rows of a budget stand: labels beside the bars, or above them.
typedef struct row_style {
  cavum_text_style text;
  bool above;
  double label_width;
} row_style;

// Lines of a label above its bars; words may leave a tenth of a line empty.
static int label_lines(cavum_canvas *canvas, const row_style *style, const char *label) {
  double width = cavum_canvas_measure(canvas, label, &style->text);
  if (width <= style->label_width) return 1;
  return (int)cavum_min(ceil(width / (0.85 * style->label_width)), LABEL_LINES);
}

static double row_height(cavum_canvas *canvas, const row_style *style, const char *label) {
  if (!style->above) return ROW_HEIGHT;
  return ROW_HEIGHT + LABEL_LINE * label_lines(canvas, style, label);
}

static void draw_label(cavum_canvas *canvas, const cavum_plot *plot, const row_style *style,
                       const char *label, double top) {
  if (style->above) {
    cavum_flow_write_text(canvas, plot->x + LABEL_INDENT, top + LABEL_LINE, style->label_width,
                          label, &style->text, LABEL_LINES);
    return;
  }
  cavum_canvas_text(canvas, plot->x - LABEL_GAP, top + 0.5 * ROW_HEIGHT + 3.0, label, &style->text);
}

static void draw_bars(cavum_canvas *canvas, const cavum_plot *plot, const cavum_budget_bar *bars,
                      int count, const row_style *style) {
  double below = plot->y;
  for (int i = 0; i < count; i++) {
    draw_label(canvas, plot, style, bars[i].text, below);
    below += row_height(canvas, style, bars[i].text);
    double top = below - 0.5 * (ROW_HEIGHT + 2.0 * BAR_HEIGHT + 1.0);
    for (int k = 0; k < CAVUM_NUM_STORED_BUDGETS; k++) {
      double width = cavum_plot_at_x(plot, cavum_in_percent(bars[i].share[k])) - plot->x;
      cavum_canvas_rectangle(canvas, plot->x, top + k * (BAR_HEIGHT + 1.0), cavum_max(width, 0.5),
                             BAR_HEIGHT);
      cavum_canvas_fill(canvas, k == 0 ? CAVUM_INK_SECOND : CAVUM_INK_FIRST);
    }
  }
}

// Room of labels beside the bars: that of the longest, so that none begins outside the margin.
static double label_room(cavum_canvas *canvas, const cavum_text_style *style,
                         const cavum_budget_bar *bars, int count) {
  double room = LABEL_ROOM;
  for (int i = 0; i < count; i++) {
    room = cavum_max(room, LABEL_GAP + cavum_canvas_measure(canvas, bars[i].text, style));
  }
  return room;
}

void cavum_test_budget_draw(cavum_page *page, const cavum_stored_coldtest *test, int point) {
  cavum_budget_bar bars[CAVUM_BUDGET_BARS_MOST];
  int count = cavum_test_budget_find(bars, test, point);
  double largest = 0.0;
  if (count == 0) return;
  for (int i = 0; i < count; i++) largest = cavum_max(largest, largest_share(&bars[i]));
  double room = page->width - 2.0 * CAVUM_PAGE_MARGIN - RIGHT_ROOM;
  row_style style = {.text = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT, .plain = true}};
  double beside = label_room(page->canvas, &style.text, bars, count);
  style.above = room - beside < LEAST_BARS;
  double left = style.above ? LEFT_ROOM : beside;
  style.label_width = room - left - 2.0 * LABEL_INDENT;
  if (!style.above) style.text.anchor = CAVUM_ANCHOR_END;
  cavum_plot plot = {.x = CAVUM_PAGE_MARGIN + left,
                     .y = page->y + 12.0,
                     .width = room - left,
                     .no_upright_marks = true};
  for (int i = 0; i < count; i++) plot.height += row_height(page->canvas, &style, bars[i].text);
  plot.horizontal = (cavum_plot_axis){.high = cavum_min(100.0, 108.0 * largest),
                                      .label = "share of the variance in %"};
  plot.vertical = (cavum_plot_axis){.high = 1.0};
  cavum_plot_draw_frame(page->canvas, &plot);
  draw_bars(page->canvas, &plot, bars, count, &style);
  page->y += 12.0 + plot.height + 40.0;
  char text[128], gradient[24];
  cavum_ticks_format(gradient, cavum_in_mv_per_m(test->column[CAVUM_STORED_GRADIENT][point]), 3);
  cavum_flow flow =
      cavum_flow_start(page->canvas, plot.x, page->width - CAVUM_PAGE_MARGIN, page->y + 6.0);
  snprintf(text, sizeof text, "E_{acc} of reading %d, %s MV/m", point + 1, gradient);
  cavum_flow_add_mark(&flow, text, CAVUM_MARK_SQUARE, CAVUM_INK_SECOND);
  cavum_flow_add_mark(&flow, "Q_{0} of the same reading", CAVUM_MARK_SQUARE, CAVUM_INK_FIRST);
  cavum_flow_break(&flow);
  page->y = flow.y - 2.0;
}
