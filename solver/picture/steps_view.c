// SPDX-License-Identifier: GPL-3.0-or-later
// One row a step; halves between plates have waterfalls of their own. Frequencies are in kHz from
// that of the drawing, since changes are small parts of it.
#include "picture/steps_view.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/flow.h"
#include "canvas/plot.h"
#include "canvas/ticks.h"

static const double PAGE_WIDTH = 820.0, ROW_HEIGHT = 28.0, BAR_HEIGHT = 12.0;
static const double HEAD_ROOM = 10.0, FOOT_ROOM = 46.0, LEAST_LABEL_ROOM = 80.0;
static const double BELOW_LAST_AIM = 6.0;  // Its mark does not touch the frame.
static const double MARK_RADIUS = 4.0, NAME_GAP = 8.0, VALUE_ROOM = 92.0;
static const double SUBJECT_ROOM = 24.0;

/** What a waterfall is of: the cell, or halves joined at the iris between plates. */
typedef enum subject { OF_CELL, OF_ZERO_MODE, OF_PI_MODE, NUM_SUBJECTS } subject;

/** One waterfall. */
typedef struct waterfall {
  const cavum_steps_result *result;
  subject of;
} waterfall;

/** What one row has of its subject; NAN: not there. */
typedef struct row_values {
  double hz, uncertainty_hz, aim_hz, tolerance_hz, measured_hz;
} row_values;

static row_values row_of(const waterfall *w, int i) {
  const cavum_step *s = w->result->steps[i];
  switch (w->of) {
    case OF_ZERO_MODE:
      return (row_values){s->zero_hz, s->zero_uncertainty_hz, s->zero_aim_hz, NAN,
                          s->measured_zero_hz};
    case OF_PI_MODE:
      return (row_values){s->pi_hz, s->pi_uncertainty_hz, s->pi_aim_hz, NAN, s->measured_pi_hz};
    default:
      return (row_values){s->frequency_hz, s->uncertainty_hz, s->aim_hz, s->tolerance_hz,
                          s->measured_hz};
  }
}

static bool is_there(const waterfall *w) { return isfinite(row_of(w, 0).hz); }

static double from_drawing_khz(const waterfall *w, double hz) {
  return cavum_in_unit(hz - row_of(w, 0).hz, CAVUM_UNIT_KHZ);
}

static void widen(double *low, double *high, double value) {
  if (!isfinite(value)) return;
  *low = cavum_min(*low, value);
  *high = cavum_max(*high, value);
}

// All frequencies with their uncertainties and tolerances.
static cavum_plot_axis axis_of(const waterfall *w) {
  double low = 0.0, high = 0.0;
  for (int i = 0; i < w->result->num_steps; i++) {
    row_values r = row_of(w, i);
    double tolerance_hz = fmax(r.tolerance_hz, 0.0);
    widen(&low, &high, from_drawing_khz(w, r.hz - r.uncertainty_hz));
    widen(&low, &high, from_drawing_khz(w, r.hz + r.uncertainty_hz));
    widen(&low, &high, from_drawing_khz(w, r.aim_hz - tolerance_hz));
    widen(&low, &high, from_drawing_khz(w, r.aim_hz + tolerance_hz));
    widen(&low, &high, from_drawing_khz(w, r.measured_hz));
  }
  double room = 0.07 * cavum_max(high - low, 1.0);
  return (cavum_plot_axis){
      .low = low - room, .high = high + room, .label = "frequency from that of the drawing in kHz"};
}

static double label_room(cavum_page *page, const cavum_steps_result *result) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .plain = true};
  double most = LEAST_LABEL_ROOM;
  for (int i = 0; i < result->num_steps; i++) {
    most = cavum_max(most, cavum_canvas_measure(page->canvas, result->steps[i]->name, &style));
  }
  return cavum_min(most, 0.35 * page->width) + NAME_GAP;
}

static double middle_of(const cavum_plot *plot, int row) {
  return plot->y + ROW_HEIGHT * (row + 0.5);
}

static void draw_names(cavum_page *page, const cavum_plot *plot, const waterfall *w) {
  const cavum_text_style name = {.size = CAVUM_PLOT_TICK_SIZE,
                                 .ink = CAVUM_INK_TEXT,
                                 .anchor = CAVUM_ANCHOR_END,
                                 .plain = true};
  const cavum_text_style value = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_MUTED, .plain = true};
  for (int i = 0; i < w->result->num_steps; i++) {
    char text[32];
    double y = middle_of(plot, i) + 3.5, hz = row_of(w, i).hz;
    if (i == 0) {
      snprintf(text, sizeof text, "%.4f MHz", cavum_in_mhz(hz));
    } else {
      double change_hz = hz - row_of(w, i - 1).hz;
      snprintf(text, sizeof text, "%s%.1f kHz", cavum_ticks_sign(change_hz),
               fabs(cavum_in_unit(change_hz, CAVUM_UNIT_KHZ)));
    }
    cavum_canvas_text(page->canvas, plot->x - NAME_GAP, y, w->result->steps[i]->name, &name);
    cavum_canvas_text(page->canvas, plot->x + plot->width + NAME_GAP, y, text, &value);
  }
}

// From the frequency before to that behind, and on to the next row.
static void draw_bar(cavum_page *page, const cavum_plot *plot, const waterfall *w, int i) {
  row_values own = row_of(w, i), before = row_of(w, i > 0 ? i - 1 : i);
  double from = cavum_plot_at_x(plot, from_drawing_khz(w, before.hz));
  double to = cavum_plot_at_x(plot, from_drawing_khz(w, own.hz));
  double spread = cavum_plot_at_x(plot, from_drawing_khz(w, own.hz + own.uncertainty_hz)) - to;
  double y = middle_of(plot, i);
  cavum_canvas_rectangle(page->canvas, cavum_min(from, to), y - 0.5 * BAR_HEIGHT,
                         cavum_max(fabs(to - from), 1.0), BAR_HEIGHT);
  cavum_canvas_fill(page->canvas, to >= from ? CAVUM_INK_SECOND : CAVUM_INK_FIRST);
  if (i + 1 < w->result->num_steps) {
    cavum_canvas_move(page->canvas, to, y);
    cavum_canvas_line(page->canvas, to, y + ROW_HEIGHT);
    cavum_canvas_stroke(page->canvas, CAVUM_INK_MUTED, 0.8, CAVUM_DASH_NONE);
  }
  cavum_canvas_move(page->canvas, to - spread, y);
  cavum_canvas_line(page->canvas, to + spread, y);
  cavum_canvas_stroke(page->canvas, CAVUM_INK_TEXT, 1.2, CAVUM_DASH_NONE);
}

static void draw_aim(cavum_page *page, const cavum_plot *plot, const waterfall *w, int i) {
  row_values own = row_of(w, i);
  double y = middle_of(plot, i);
  if (isfinite(own.aim_hz)) {
    double width_hz = fmax(own.tolerance_hz, 0.0);
    bool is_lost = own.tolerance_hz == 0.0;
    double a = cavum_plot_at_x(plot, from_drawing_khz(w, own.aim_hz - width_hz));
    double b = cavum_plot_at_x(plot, from_drawing_khz(w, own.aim_hz + width_hz));
    cavum_canvas_move(page->canvas, a, y + 0.4 * ROW_HEIGHT);
    cavum_canvas_line(page->canvas, b, y + 0.4 * ROW_HEIGHT);
    cavum_canvas_stroke(page->canvas, CAVUM_INK_THIRD, 2.0, CAVUM_DASH_NONE);
    cavum_plot_draw_mark(page->canvas, 0.5 * (a + b), y + 0.4 * ROW_HEIGHT, 0.8 * MARK_RADIUS,
                         is_lost ? CAVUM_MARK_TRIANGLE : CAVUM_MARK_DIAMOND,
                         is_lost ? CAVUM_INK_MUTED : CAVUM_INK_THIRD);
  }
  if (isfinite(own.measured_hz)) {
    double x = cavum_plot_at_x(plot, from_drawing_khz(w, own.measured_hz));
    cavum_plot_draw_mark(page->canvas, x, y, MARK_RADIUS, CAVUM_MARK_CIRCLE, CAVUM_INK_TEXT);
  }
}

static bool has(const waterfall *w, size_t offset) {
  for (int i = 0; i < w->result->num_steps; i++) {
    double value;
    const row_values own = row_of(w, i);
    memcpy(&value, (const char *)&own + offset, sizeof value);
    if (isfinite(value)) return true;
  }
  return false;
}

static bool any_lost(const waterfall *w) {
  for (int i = 0; i < w->result->num_steps; i++) {
    row_values r = row_of(w, i);
    if (isfinite(r.aim_hz) && r.tolerance_hz == 0.0) return true;
  }
  return false;
}

// On as many lines as they need; returns the y behind them.
static double draw_keys(cavum_page *page, const waterfall *w, double top) {
  cavum_flow flow =
      cavum_flow_start(page->canvas, CAVUM_PAGE_MARGIN + 8.0, page->width - CAVUM_PAGE_MARGIN, top);
  cavum_flow_add_bar(&flow, "step raises f", CAVUM_INK_SECOND);
  cavum_flow_add_bar(&flow, "step lowers f", CAVUM_INK_FIRST);
  cavum_flow_add_line(&flow, "f with its standard uncertainty", CAVUM_INK_TEXT, CAVUM_DASH_NONE,
                      1.2);
  if (has(w, offsetof(row_values, aim_hz))) {
    cavum_flow_add_mark(
        &flow, has(w, offsetof(row_values, tolerance_hz)) ? "aim and its tolerance" : "aim",
        CAVUM_MARK_DIAMOND, CAVUM_INK_THIRD);
  }
  if (any_lost(w)) {
    cavum_flow_add_mark(&flow, "aim, no tolerance is left", CAVUM_MARK_TRIANGLE, CAVUM_INK_MUTED);
  }
  if (has(w, offsetof(row_values, measured_hz))) {
    cavum_flow_add_mark(&flow, "measured", CAVUM_MARK_CIRCLE, CAVUM_INK_TEXT);
  }
  cavum_flow_break(&flow);
  return flow.y;
}

static void draw_subject(cavum_page *page, const waterfall *w) {
  static const char *const subjects[] = {
      [OF_ZERO_MODE] = "Halves between plates: 0 mode of two joined at the iris, and of one alone",
      [OF_PI_MODE] = "Halves between plates: pi mode of two joined at the iris"};
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT};
  if (w->of == OF_CELL) return;
  page->y =
      cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN, page->y + SUBJECT_ROOM,
                            page->width - 2.0 * CAVUM_PAGE_MARGIN, subjects[w->of], &style, 3) -
      1.25 * style.size;
}

static void draw_waterfall(cavum_page *page, const waterfall *w) {
  double left = CAVUM_PAGE_MARGIN + label_room(page, w->result);
  int num_rows = w->result->num_steps;
  draw_subject(page, w);
  cavum_plot plot = {.x = left,
                     .y = page->y + HEAD_ROOM,
                     .width = page->width - CAVUM_PAGE_MARGIN - VALUE_ROOM - left,
                     .height = ROW_HEIGHT * num_rows + BELOW_LAST_AIM,
                     .no_upright_marks = true};
  plot.horizontal = axis_of(w);
  plot.vertical = (cavum_plot_axis){.high = 1.0, .label = ""};
  cavum_plot_draw_frame(page->canvas, &plot);
  for (int i = 0; i < num_rows; i++) draw_bar(page, &plot, w, i);
  for (int i = 0; i < num_rows; i++) draw_aim(page, &plot, w, i);
  draw_names(page, &plot, w);
  page->y = draw_keys(page, w, plot.y + plot.height + FOOT_ROOM + 8.0);
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_steps_result *result = data;
  char line[192];
  (void)error;
  snprintf(line, sizeof line, "%s%sfrequency through the steps, with its standard uncertainty",
           result->label, result->label[0] ? ": " : "");
  cavum_page_draw_heading(page, result->title, line);
  for (int of = OF_CELL; of < NUM_SUBJECTS; of++) {
    const waterfall w = {result, (subject)of};
    if (is_there(&w)) draw_waterfall(page, &w);
  }
  return CAVUM_OK;
}

cavum_status cavum_steps_view_draw(char **bytes, size_t *size, const cavum_steps_result *result,
                                   const cavum_draw_request *request, cavum_error *error) {
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, result->title,
                         "Frequency behind each step from the drawing to the cold cavity, as bars.",
                         draw_content, (void *)result, error);
}
