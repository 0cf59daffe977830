// SPDX-License-Identifier: GPL-3.0-or-later
// One row a step. Frequencies are in kHz from that of the drawing, since changes are small parts of
// it.
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
static const double HEAD_ROOM = 10.0, FOOT_ROOM = 46.0, KEY_ROOM = 26.0, LEAST_LABEL_ROOM = 80.0;
static const double BELOW_LAST_AIM = 6.0;  // Its mark does not touch the frame.
static const double MARK_RADIUS = 4.0, NAME_GAP = 8.0, VALUE_ROOM = 92.0;
static const double KEY_WIDTH = 14.0, KEY_STEP = 170.0;

static double from_drawing_khz(const cavum_steps_result *result, double hz) {
  return cavum_in_unit(hz - result->steps[0]->frequency_hz, CAVUM_UNIT_KHZ);
}

static void widen(double *low, double *high, double value) {
  if (!isfinite(value)) return;
  *low = cavum_min(*low, value);
  *high = cavum_max(*high, value);
}

// All frequencies with their uncertainties and tolerances.
static cavum_plot_axis axis_of(const cavum_steps_result *result) {
  double low = 0.0, high = 0.0;
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    double own_hz = step->frequency_hz, tolerance_hz = fmax(step->tolerance_hz, 0.0);
    widen(&low, &high, from_drawing_khz(result, own_hz - step->uncertainty_hz));
    widen(&low, &high, from_drawing_khz(result, own_hz + step->uncertainty_hz));
    widen(&low, &high, from_drawing_khz(result, step->aim_hz - tolerance_hz));
    widen(&low, &high, from_drawing_khz(result, step->aim_hz + tolerance_hz));
    widen(&low, &high, from_drawing_khz(result, step->measured_hz));
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

static void draw_names(cavum_page *page, const cavum_plot *plot, const cavum_steps_result *result) {
  const cavum_text_style name = {.size = CAVUM_PLOT_TICK_SIZE,
                                 .ink = CAVUM_INK_TEXT,
                                 .anchor = CAVUM_ANCHOR_END,
                                 .plain = true};
  const cavum_text_style value = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_MUTED, .plain = true};
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    char text[32];
    double y = middle_of(plot, i) + 3.5;
    if (i == 0) {
      snprintf(text, sizeof text, "%.4f MHz", cavum_in_mhz(step->frequency_hz));
    } else {
      snprintf(text, sizeof text, "%s%.1f kHz", cavum_ticks_sign(step->change_hz),
               fabs(cavum_in_unit(step->change_hz, CAVUM_UNIT_KHZ)));
    }
    cavum_canvas_text(page->canvas, plot->x - NAME_GAP, y, step->name, &name);
    cavum_canvas_text(page->canvas, plot->x + plot->width + NAME_GAP, y, text, &value);
  }
}

// From the frequency before to that behind, and on to the next row.
static void draw_bar(cavum_page *page, const cavum_plot *plot, const cavum_steps_result *result,
                     int row) {
  const cavum_step *step = result->steps[row];
  const cavum_step *before = row > 0 ? result->steps[row - 1] : step;
  double from = cavum_plot_at_x(plot, from_drawing_khz(result, before->frequency_hz));
  double to = cavum_plot_at_x(plot, from_drawing_khz(result, step->frequency_hz));
  double spread =
      cavum_plot_at_x(plot, from_drawing_khz(result, step->frequency_hz + step->uncertainty_hz)) -
      to;
  double y = middle_of(plot, row);
  cavum_canvas_rectangle(page->canvas, cavum_min(from, to), y - 0.5 * BAR_HEIGHT,
                         cavum_max(fabs(to - from), 1.0), BAR_HEIGHT);
  cavum_canvas_fill(page->canvas, to >= from ? CAVUM_INK_SECOND : CAVUM_INK_FIRST);
  if (row + 1 < result->num_steps) {
    cavum_canvas_move(page->canvas, to, y);
    cavum_canvas_line(page->canvas, to, y + ROW_HEIGHT);
    cavum_canvas_stroke(page->canvas, CAVUM_INK_MUTED, 0.8, CAVUM_DASH_NONE);
  }
  cavum_canvas_move(page->canvas, to - spread, y);
  cavum_canvas_line(page->canvas, to + spread, y);
  cavum_canvas_stroke(page->canvas, CAVUM_INK_TEXT, 1.2, CAVUM_DASH_NONE);
}

static void draw_aim(cavum_page *page, const cavum_plot *plot, const cavum_steps_result *result,
                     int row) {
  const cavum_step *step = result->steps[row];
  double y = middle_of(plot, row);
  if (isfinite(step->aim_hz)) {
    double width_hz = fmax(step->tolerance_hz, 0.0);
    double a = cavum_plot_at_x(plot, from_drawing_khz(result, step->aim_hz - width_hz));
    double b = cavum_plot_at_x(plot, from_drawing_khz(result, step->aim_hz + width_hz));
    cavum_canvas_move(page->canvas, a, y + 0.4 * ROW_HEIGHT);
    cavum_canvas_line(page->canvas, b, y + 0.4 * ROW_HEIGHT);
    cavum_canvas_stroke(page->canvas, CAVUM_INK_THIRD, 2.0, CAVUM_DASH_NONE);
    cavum_plot_draw_mark(page->canvas, 0.5 * (a + b), y + 0.4 * ROW_HEIGHT, 0.8 * MARK_RADIUS,
                         CAVUM_MARK_DIAMOND, CAVUM_INK_THIRD);
  }
  if (isfinite(step->measured_hz)) {
    double x = cavum_plot_at_x(plot, from_drawing_khz(result, step->measured_hz));
    cavum_plot_draw_mark(page->canvas, x, y, MARK_RADIUS, CAVUM_MARK_CIRCLE, CAVUM_INK_TEXT);
  }
}

static bool has(const cavum_steps_result *result, size_t offset) {
  for (int i = 0; i < result->num_steps; i++) {
    double value;
    memcpy(&value, (const char *)result->steps[i] + offset, sizeof value);
    if (isfinite(value)) return true;
  }
  return false;
}

static void draw_key(cavum_page *page, double x, double y, cavum_plot_mark mark, cavum_ink ink,
                     const char *text) {
  const cavum_text_style style = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT, .plain = true};
  cavum_plot_draw_mark_key(page->canvas, x, y, mark, ink);
  cavum_canvas_text(page->canvas, x + KEY_WIDTH, y, text, &style);
}

static void draw_keys(cavum_page *page, const cavum_steps_result *result, double x, double y) {
  if (has(result, offsetof(cavum_step, aim_hz))) {
    draw_key(page, x, y, CAVUM_MARK_DIAMOND, CAVUM_INK_THIRD, "aim and its tolerance");
    x += KEY_STEP;
  }
  if (has(result, offsetof(cavum_step, measured_hz))) {
    draw_key(page, x, y, CAVUM_MARK_CIRCLE, CAVUM_INK_TEXT, "measured");
  }
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_steps_result *result = data;
  char line[192];
  (void)error;
  snprintf(line, sizeof line, "%s%sfrequency through the steps, with its standard uncertainty",
           result->label, result->label[0] ? ": " : "");
  cavum_page_draw_heading(page, result->title, line);
  double left = CAVUM_PAGE_MARGIN + label_room(page, result);
  cavum_plot plot = {.x = left,
                     .y = page->y + HEAD_ROOM,
                     .width = page->width - CAVUM_PAGE_MARGIN - VALUE_ROOM - left,
                     .height = ROW_HEIGHT * result->num_steps + BELOW_LAST_AIM,
                     .no_upright_marks = true};
  plot.horizontal = axis_of(result);
  plot.vertical = (cavum_plot_axis){.high = 1.0, .label = ""};
  cavum_plot_draw_frame(page->canvas, &plot);
  for (int i = 0; i < result->num_steps; i++) draw_bar(page, &plot, result, i);
  for (int i = 0; i < result->num_steps; i++) draw_aim(page, &plot, result, i);
  draw_names(page, &plot, result);
  draw_keys(page, result, left, plot.y + plot.height + FOOT_ROOM + 8.0);
  page->y = plot.y + plot.height + FOOT_ROOM + KEY_ROOM;
  return CAVUM_OK;
}

cavum_status cavum_steps_view_draw(char **bytes, size_t *size, const cavum_steps_result *result,
                                   const cavum_draw_request *request, cavum_error *error) {
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, result->title,
                         "Frequency behind each step from the drawing to the cold cavity, as bars.",
                         draw_content, (void *)result, error);
}
