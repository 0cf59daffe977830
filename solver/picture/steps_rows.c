// SPDX-License-Identifier: GPL-3.0-or-later
// Frequencies are in kHz from that of the drawing, since changes are small parts of it.
#include "picture/steps_rows.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/plot.h"
#include "canvas/ticks.h"
#include "picture/chart.h"

static const double ROW_HEIGHT = 28.0, MEASURED_ROW_HEIGHT = 42.0, BAR_HEIGHT = 12.0;
// Below that, texts of a row would touch.
static const double LEAST_ROW = 16.0, LEAST_MEASURED_ROW = 30.0;
// Parts of the height of a row: without measurements, and with them.
static const double BAR_AT = 0.38, AIM_AT = 0.8;
static const double UPPER_BAR_AT = 0.22, MEASURED_AT = 0.54, LOWER_AIM_AT = 0.84;
static const double BOX_HEIGHT = 13.0, CAP_HEIGHT = 7.0;
static const double HEAD_ROOM = 10.0, FOOT_ROOM = 46.0, LEAST_LABEL_ROOM = 80.0;
static const double BELOW_LAST_AIM = 6.0;  // Its mark does not touch the frame.
static const double MARK_RADIUS = 3.6, MEASURED_RADIUS = 2.3, CROSS_RADIUS = 4.4, NAME_GAP = 8.0,
                    VALUE_ROOM = 92.0, BESIDE_FRAME = 6.0, LETTER = 3.5;
static const double LINE = 11.0;
// A name takes this part of the width at most.
static const double WIDEST_NAME = 0.35;

/** What one row has of its subject; NAN: not there. */
typedef struct row_values {
  double hz, uncertainty_hz, aim_hz, tolerance_hz;
  double measured_hz, measured_uncertainty_hz, expected_hz, expected_uncertainty_hz;
  bool contradicts;
} row_values;

static row_values row_of(const cavum_waterfall *w, int i) {
  const cavum_step *s = w->result->steps[i];
  row_values row = {.measured_uncertainty_hz = s->measured_uncertainty_hz, .tolerance_hz = NAN};
  switch (w->of) {
    case CAVUM_STEPS_OF_ZERO_MODE:
      row.hz = s->zero_hz, row.uncertainty_hz = s->zero_uncertainty_hz;
      row.aim_hz = s->zero_aim_hz, row.measured_hz = s->measured_zero_hz;
      row.expected_hz = s->zero_expected_hz;
      row.expected_uncertainty_hz = s->zero_expected_uncertainty_hz;
      row.contradicts = s->zero_contradicts;
      break;
    case CAVUM_STEPS_OF_PI_MODE:
      row.hz = s->pi_hz, row.uncertainty_hz = s->pi_uncertainty_hz;
      row.aim_hz = s->pi_aim_hz, row.measured_hz = s->measured_pi_hz;
      row.expected_hz = s->pi_expected_hz;
      row.expected_uncertainty_hz = s->pi_expected_uncertainty_hz;
      row.contradicts = s->pi_contradicts;
      break;
    default:
      row.hz = s->frequency_hz, row.uncertainty_hz = s->uncertainty_hz;
      row.aim_hz = s->aim_hz, row.tolerance_hz = s->tolerance_hz;
      row.measured_hz = s->measured_hz;
      row.expected_hz = s->expected_hz;
      row.expected_uncertainty_hz = s->expected_uncertainty_hz;
      row.contradicts = s->contradicts;
  }
  return row;
}

bool cavum_waterfall_is_there(const cavum_waterfall *w) { return isfinite(row_of(w, 0).hz); }

// Whether anything of the chain is measured: then each row has what it says there.
static bool is_measured(const cavum_steps_result *result) {
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *s = result->steps[i];
    if (isfinite(s->measured_hz) || isfinite(s->measured_zero_hz) || isfinite(s->measured_pi_hz)) {
      return true;
    }
  }
  return false;
}

void cavum_waterfall_add_parts(cavum_waterfall_parts *parts, const cavum_waterfall *w) {
  parts->measured = parts->measured || is_measured(w->result);
  for (int i = 0; i < w->result->num_steps; i++) {
    row_values r = row_of(w, i);
    double change_hz = i > 0 ? r.hz - row_of(w, i - 1).hz : 0.0;
    parts->raises = parts->raises || change_hz > 0.0;
    parts->lowers = parts->lowers || change_hz < 0.0;
    parts->aim = parts->aim || isfinite(r.aim_hz);
    parts->tolerance = parts->tolerance || isfinite(r.tolerance_hz);
    parts->lost_aim = parts->lost_aim || (isfinite(r.aim_hz) && r.tolerance_hz == 0.0);
    parts->contradicting = parts->contradicting || r.contradicts;
  }
}

static double from_drawing_khz(const cavum_waterfall *w, double hz) {
  return cavum_in_unit(hz - row_of(w, 0).hz, CAVUM_UNIT_KHZ);
}

// A value and how far it may be off to both sides, of which nothing may be known.
static void widen(double *low, double *high, const cavum_waterfall *w, double hz, double off_hz) {
  double off = isfinite(off_hz) ? fmax(off_hz, 0.0) : 0.0;
  if (!isfinite(hz)) return;
  *low = cavum_min(*low, from_drawing_khz(w, hz - off));
  *high = cavum_max(*high, from_drawing_khz(w, hz + off));
}

// All frequencies with their uncertainties and tolerances.
static cavum_plot_axis axis_of(const cavum_waterfall *w) {
  double low = 0.0, high = 0.0;
  bool measured = is_measured(w->result);
  for (int i = 0; i < w->result->num_steps; i++) {
    row_values r = row_of(w, i);
    widen(&low, &high, w, r.hz, r.uncertainty_hz);
    widen(&low, &high, w, r.aim_hz, r.tolerance_hz);
    widen(&low, &high, w, r.measured_hz, r.measured_uncertainty_hz);
    if (measured) widen(&low, &high, w, r.expected_hz, r.expected_uncertainty_hz);
  }
  double room = 0.07 * cavum_max(high - low, 1.0);
  return (cavum_plot_axis){.low = low - room, .high = high + room};
}

/** A waterfall on its page. */
typedef struct rows {
  cavum_page *page;
  const cavum_waterfall *w;
  cavum_plot plot;
  double height; /**< Of a row. */
  bool measured;
} rows;

static double across(const rows *r, double hz) {
  return cavum_plot_at_x(&r->plot, from_drawing_khz(r->w, hz));
}

static double down(const rows *r, int row, double part) {
  return r->plot.y + r->height * (row + part);
}

static double bar_y(const rows *r, int row) {
  return down(r, row, r->measured ? UPPER_BAR_AT : BAR_AT);
}

// A name with a change below it stands as much higher.
static double name_lift(const rows *r) { return r->w->narrow && !r->measured ? 0.5 * LINE : 0.0; }

double cavum_waterfall_name_room(cavum_page *page, const cavum_waterfall *w) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .plain = true};
  double width = w->right - w->left, most = cavum_min(LEAST_LABEL_ROOM, WIDEST_NAME * width);
  for (int i = 0; i < w->result->num_steps; i++) {
    most = cavum_max(most, cavum_canvas_measure(page->canvas, w->result->steps[i]->name, &style));
  }
  return cavum_min(most, WIDEST_NAME * width) + NAME_GAP;
}

// What of a name fits, with an ellipsis behind it where that is not all.
static void fit_name(char fitted[CAVUM_STEP_NAME_SIZE + 4], cavum_page *page, const char *name,
                     double room, const cavum_text_style *style) {
  size_t length = strlen(name);
  snprintf(fitted, CAVUM_STEP_NAME_SIZE + 4, "%s", name);
  while (length > 1 && cavum_canvas_measure(page->canvas, fitted, style) > room) {
    length--;
    while (length > 1 && ((unsigned char)name[length] & 0xc0) == 0x80) length--;
    snprintf(fitted, CAVUM_STEP_NAME_SIZE + 4, "%.*s\xe2\x80\xa6", (int)length, name);
  }
}

void cavum_waterfall_add_cut_names(cavum_flow *flow, cavum_page *page, const cavum_waterfall *w) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .plain = true};
  for (int i = 0; i < w->result->num_steps; i++) {
    char fitted[CAVUM_STEP_NAME_SIZE + 4], text[2 * CAVUM_STEP_NAME_SIZE + 8], quoted[sizeof text];
    const char *name = w->result->steps[i]->name;
    fit_name(fitted, page, name, w->name_room - NAME_GAP, &style);
    if (w->name_room <= 0.0 || strcmp(fitted, name) == 0) continue;
    snprintf(text, sizeof text, "%s: %s", fitted, name);
    cavum_chart_quote(quoted, sizeof quoted, text);
    cavum_flow_break(flow);
    cavum_flow_add_text(flow, quoted);
  }
}

static void write_change(char text[32], const cavum_waterfall *w, int i) {
  double hz = row_of(w, i).hz;
  if (i == 0) {
    snprintf(text, 32, "%.4f MHz", cavum_in_mhz(hz));
    return;
  }
  double change_hz = hz - row_of(w, i - 1).hz;
  snprintf(text, 32, "%s%.1f kHz", cavum_ticks_sign(change_hz),
           fabs(cavum_in_unit(change_hz, CAVUM_UNIT_KHZ)));
}

// A line of text about a step: beside the frame on the right, or below its name.
static void write_beside(const rows *r, int row, int line, const char *text,
                         const cavum_text_style *style) {
  cavum_text_style own = *style;
  double gap = r->measured ? LINE : LINE + 1.0, x = r->plot.x + r->plot.width + NAME_GAP;
  if (r->w->narrow) {
    own.anchor = CAVUM_ANCHOR_END;
    x = r->plot.x - NAME_GAP;
    line++;
  }
  cavum_canvas_text(r->page->canvas, x, bar_y(r, row) + LETTER + line * gap - name_lift(r), text,
                    &own);
}

static void draw_names(const rows *r) {
  const cavum_text_style name = {.size = CAVUM_PLOT_TICK_SIZE,
                                 .ink = CAVUM_INK_TEXT,
                                 .anchor = CAVUM_ANCHOR_END,
                                 .plain = true};
  const cavum_text_style value = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_MUTED, .plain = true};
  const cavum_text_style odd = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT, .bold = true};
  double left = r->plot.x - NAME_GAP;
  for (int i = 0; i < r->w->result->num_steps; i++) {
    char text[32], fitted[CAVUM_STEP_NAME_SIZE + 4];
    fit_name(fitted, r->page, r->w->result->steps[i]->name, left - r->w->left, &name);
    if (r->w->name_room > 0.0) {
      cavum_canvas_text(r->page->canvas, left, bar_y(r, i) + LETTER - name_lift(r), fitted, &name);
    }
    write_change(text, r->w, i);
    write_beside(r, i, 0, text, &value);
    if (row_of(r->w, i).contradicts) write_beside(r, i, 1, "does not fit", &odd);
  }
}

// Rows have several things each: where one ends.
static void draw_row_ends(const rows *r) {
  for (int i = 1; i < r->w->result->num_steps; i++) {
    cavum_canvas_move(r->page->canvas, r->plot.x, down(r, i, 0.0));
    cavum_canvas_line(r->page->canvas, r->plot.x + r->plot.width, down(r, i, 0.0));
  }
  cavum_canvas_stroke(r->page->canvas, CAVUM_INK_GRID, 0.8, CAVUM_DASH_NONE);
}

// From the frequency before to that behind, and on to the next row.
static void draw_bar(const rows *r, int i) {
  row_values own = row_of(r->w, i), before = row_of(r->w, i > 0 ? i - 1 : i);
  double from = across(r, before.hz), to = across(r, own.hz), y = bar_y(r, i);
  double spread = across(r, own.hz + own.uncertainty_hz) - to;
  double high = cavum_min(BAR_HEIGHT, 0.43 * r->height);
  cavum_canvas *canvas = r->page->canvas;
  if (i > 0) {  // The drawing changes nothing.
    cavum_canvas_rectangle(canvas, cavum_min(from, to), y - 0.5 * high,
                           cavum_max(fabs(to - from), 1.0), high);
    cavum_canvas_fill(canvas, to >= from ? CAVUM_INK_FIRST : CAVUM_INK_SECOND);
  }
  if (i + 1 < r->w->result->num_steps) {
    cavum_canvas_move(canvas, to, y);
    cavum_canvas_line(canvas, to, bar_y(r, i + 1));
    cavum_canvas_stroke(canvas, CAVUM_INK_MUTED, 0.8, CAVUM_DASH_NONE);
  }
  cavum_canvas_move(canvas, to - spread, y);
  cavum_canvas_line(canvas, to + spread, y);
  cavum_canvas_stroke(canvas, CAVUM_INK_TEXT, 1.2, CAVUM_DASH_NONE);
}

static void draw_aim(const rows *r, int i) {
  row_values own = row_of(r->w, i);
  double y = down(r, i, r->measured ? LOWER_AIM_AT : AIM_AT);
  if (!isfinite(own.aim_hz)) return;
  double width_hz = fmax(own.tolerance_hz, 0.0);
  bool is_lost = own.tolerance_hz == 0.0;
  cavum_canvas_move(r->page->canvas, across(r, own.aim_hz - width_hz), y);
  cavum_canvas_line(r->page->canvas, across(r, own.aim_hz + width_hz), y);
  cavum_canvas_stroke(r->page->canvas, CAVUM_INK_THIRD, 2.0, CAVUM_DASH_NONE);
  cavum_plot_draw_mark(r->page->canvas, across(r, own.aim_hz), y, 0.9 * MARK_RADIUS,
                       is_lost ? CAVUM_MARK_TRIANGLE : CAVUM_MARK_DIAMOND,
                       is_lost ? CAVUM_INK_MUTED : CAVUM_INK_THIRD);
}

// What all measurements say of this step: a box of its standard uncertainty about a line.
static void draw_expected(const rows *r, int i) {
  row_values own = row_of(r->w, i);
  cavum_canvas *canvas = r->page->canvas;
  double y = down(r, i, MEASURED_AT), high = cavum_min(BOX_HEIGHT, 0.34 * r->height);
  double x = across(r, own.expected_hz);
  if (!isfinite(own.expected_hz) || !isfinite(own.expected_uncertainty_hz)) return;
  double half = across(r, own.expected_hz + own.expected_uncertainty_hz) - x;
  cavum_canvas_rectangle(canvas, x - half, y - 0.5 * high, 2.0 * half, high);
  cavum_canvas_move(canvas, x, y - 0.5 * high);
  cavum_canvas_line(canvas, x, y + 0.5 * high);
  cavum_canvas_stroke(canvas, CAVUM_INK_FOURTH, 1.0, CAVUM_DASH_NONE);
}

static void draw_measured(const rows *r, int i) {
  row_values own = row_of(r->w, i);
  cavum_canvas *canvas = r->page->canvas;
  double y = down(r, i, MEASURED_AT), x = across(r, own.measured_hz);
  if (!isfinite(own.measured_hz)) return;
  if (own.measured_uncertainty_hz > 0.0) {
    double half = across(r, own.measured_hz + own.measured_uncertainty_hz) - x;
    for (int side = -1; side <= 1; side += 2) {
      cavum_canvas_move(canvas, x, y);
      cavum_canvas_line(canvas, x + side * half, y);
      cavum_canvas_move(canvas, x + side * half, y - 0.5 * CAP_HEIGHT);
      cavum_canvas_line(canvas, x + side * half, y + 0.5 * CAP_HEIGHT);
    }
    cavum_canvas_stroke(canvas, CAVUM_INK_TEXT, 1.2, CAVUM_DASH_NONE);
  }
  cavum_plot_draw_mark(canvas, x, y, own.contradicts ? CROSS_RADIUS : MEASURED_RADIUS,
                       own.contradicts ? CAVUM_MARK_CROSS : CAVUM_MARK_CIRCLE, CAVUM_INK_TEXT);
}

// What fits below a frame.
static const char *label_of(cavum_page *page, double width) {
  static const char *const labels[] = {"frequency from that of the drawing in kHz",
                                       "f from that of the drawing in kHz"};
  const cavum_text_style style = {.size = CAVUM_PLOT_LABEL_SIZE};
  for (int i = 0; i < 2; i++) {
    if (cavum_canvas_measure(page->canvas, labels[i], &style) <= width) return labels[i];
  }
  return "from the drawing in kHz";
}

double cavum_waterfall_draw(cavum_page *page, const cavum_waterfall *w) {
  int num_rows = w->result->num_steps;
  rows r = {.page = page, .w = w, .measured = is_measured(w->result)};
  double value_room = w->narrow ? BESIDE_FRAME : VALUE_ROOM;
  double left = w->left + w->name_room;
  r.height = r.measured
                 ? cavum_max(cavum_page_height(page, MEASURED_ROW_HEIGHT), LEAST_MEASURED_ROW)
                 : cavum_max(cavum_page_height(page, ROW_HEIGHT), LEAST_ROW);
  r.plot = (cavum_plot){.x = left,
                        .y = page->y + HEAD_ROOM,
                        .width = w->right - value_room - left,
                        .height = r.height * num_rows + BELOW_LAST_AIM,
                        .horizontal = axis_of(w),
                        .vertical = {.high = 1.0, .label = ""},
                        .no_upright_marks = true};
  r.plot.horizontal.label = label_of(page, r.plot.width);
  cavum_plot_draw_frame(page->canvas, &r.plot);
  draw_row_ends(&r);
  for (int i = 0; i < num_rows; i++) draw_bar(&r, i);
  for (int i = 0; i < num_rows; i++) {
    if (r.measured) draw_expected(&r, i);
    draw_aim(&r, i);
    draw_measured(&r, i);
  }
  draw_names(&r);
  return r.plot.y + r.plot.height + FOOT_ROOM;
}
