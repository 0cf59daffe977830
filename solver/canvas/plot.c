// SPDX-License-Identifier: GPL-3.0-or-later
// Frames with axes. Numbers never touch each other: the count of marks follows from the room.
#include "canvas/plot.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "canvas/ticks.h"

static const double MARK_LENGTH = 4.0, LABEL_GAP = 3.0;
// How far a label may reach beyond its frame in all, and from one of its lines to the next, in its
// size.
static const double LABEL_BEYOND = 8.0, LABEL_LINE = 1.4;
// Between the end of a number and that of the page.
static const double PAGE_RIM = 2.0;
// At least so wide are numbers that labels of plots above each other stand in line.
static const double LEAST_WIDTH = 22.0;
// How much longer than its frame a label across may be, and the smallest part of its size.
static const double LONGEST_OVER = 40.0, SMALLEST_LABEL = 0.6;
// Room that one number and its gap take along each axis.
static const double ROOM_ACROSS = 58.0, ROOM_UPRIGHT = 26.0;

static double share_of(const cavum_plot_axis *axis, double value) {
  if (axis->logarithmic) return log(value / axis->low) / log(axis->high / axis->low);
  return (value - axis->low) / (axis->high - axis->low);
}

double cavum_plot_at_x(const cavum_plot *plot, double value) {
  return plot->x + plot->width * share_of(&plot->horizontal, value);
}

double cavum_plot_at_y(const cavum_plot *plot, double value) {
  return plot->y + plot->height * (1.0 - share_of(&plot->vertical, value));
}

// Of a count: there is nothing between two whole numbers.
static void keep_whole(cavum_ticks *ticks) {
  int kept = 0;
  for (int i = 0; i < ticks->count; i++) {
    double whole = round(ticks->value[i]);
    if (fabs(ticks->value[i] - whole) > 1e-6) continue;
    ticks->value[kept] = whole;
    snprintf(ticks->label[kept++], sizeof ticks->label[0], "%.0f", whole);
  }
  ticks->count = kept;
}

static void find_ticks(cavum_ticks *ticks, const cavum_plot_axis *axis, double length,
                       double room) {
  int wanted = (int)cavum_max(2.0, length / room);
  if (axis->logarithmic) {
    cavum_ticks_logarithmic(ticks, axis->low, axis->high, wanted);
  } else {
    if (axis->whole) wanted = (int)cavum_min(wanted, cavum_max(1.0, axis->high - axis->low));
    cavum_ticks_linear(ticks, axis->low, axis->high, wanted);
    if (axis->whole) keep_whole(ticks);
  }
}

static const char *without_sign(const char *label) {
  static const char minus[] = "\xe2\x88\x92";
  return strncmp(label, minus, 3) == 0 ? label + 3 : label;
}

static void draw_across(cavum_canvas *canvas, const cavum_plot *plot, const cavum_ticks *ticks) {
  const cavum_text_style style = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT, .anchor = CAVUM_ANCHOR_MIDDLE};
  double bottom = plot->y + plot->height;
  for (int i = 0; i < ticks->count; i++) {
    double x = cavum_plot_at_x(plot, ticks->value[i]);
    double length = ticks->label[i][0] ? MARK_LENGTH : 0.5 * MARK_LENGTH;
    cavum_canvas_move(canvas, x, bottom);
    cavum_canvas_line(canvas, x, bottom + length);
  }
  cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, 0.7, CAVUM_DASH_NONE);
  double free_from = -1e9, page_end = cavum_canvas_width(canvas) - PAGE_RIM;
  for (int i = 0; i < ticks->count && !plot->horizontal.hide_labels; i++) {
    double half = 0.5 * cavum_canvas_measure(canvas, ticks->label[i], &style);
    // A long number at the end of a frame that reaches to the end of the page stands before it.
    double x = cavum_min(cavum_plot_at_x(plot, ticks->value[i]), page_end - half);
    if (!ticks->label[i][0] || x - half < free_from) continue;
    cavum_canvas_text(canvas, x, bottom + MARK_LENGTH + LABEL_GAP + 8.0, ticks->label[i], &style);
    free_from = x + half + 5.0;
  }
  if (!plot->horizontal.label || !plot->horizontal.label[0]) return;
  cavum_text_style label = {
      .size = CAVUM_PLOT_LABEL_SIZE, .ink = CAVUM_INK_TEXT, .anchor = CAVUM_ANCHOR_MIDDLE};
  // What is much longer than the frame is wide is written smaller: a page may end there.
  double length = cavum_canvas_measure(canvas, plot->horizontal.label, &label);
  double most = plot->width + LONGEST_OVER;
  if (length > most) label.size *= cavum_max(most / length, SMALLEST_LABEL);
  cavum_canvas_text(canvas, plot->x + 0.5 * plot->width, bottom + 30.0, plot->horizontal.label,
                    &label);
}

// Whether an upright label is longer than the frame beside it is high, so that its name and its
// unit have a line each: another frame may be near.
static bool takes_two_lines(cavum_canvas *canvas, const char *label, double height,
                            const cavum_text_style *style) {
  return strstr(label, " in ") &&
         cavum_canvas_measure(canvas, label, style) > height + LABEL_BEYOND;
}

static void draw_upright_label(cavum_canvas *canvas, const cavum_plot *plot, double x,
                               const cavum_text_style *style) {
  const char *label = plot->vertical.label, *unit = strstr(label, " in ");
  double middle = plot->y + 0.5 * plot->height;
  if (!takes_two_lines(canvas, label, plot->height, style)) {
    cavum_canvas_text(canvas, x, middle, label, style);
    return;
  }
  char name[256];
  snprintf(name, sizeof name, "%.*s", (int)(unit - label), label);
  // What is much longer than the frame is high is written smaller: a heading may stand above.
  cavum_text_style small = *style;
  double length = cavum_canvas_measure(canvas, name, style), most = plot->height + LABEL_BEYOND;
  if (length > most) small.size *= cavum_max(most / length, SMALLEST_LABEL);
  cavum_canvas_text(canvas, x - LABEL_LINE * style->size, middle, name, &small);
  cavum_canvas_text(canvas, x, middle, unit + 1, &small);
}

static void draw_upright(cavum_canvas *canvas, const cavum_plot *plot, const cavum_ticks *ticks) {
  const cavum_text_style style = {
      .size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT, .anchor = CAVUM_ANCHOR_END};
  if (plot->no_upright_marks) return;
  for (int i = 0; i < ticks->count; i++) {
    double y = cavum_plot_at_y(plot, ticks->value[i]);
    double length = ticks->label[i][0] ? MARK_LENGTH : 0.5 * MARK_LENGTH;
    cavum_canvas_move(canvas, plot->x, y);
    cavum_canvas_line(canvas, plot->x - length, y);
  }
  cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, 0.7, CAVUM_DASH_NONE);
  double widest = LEAST_WIDTH, free_below = 1e9;
  for (int i = 0; i < ticks->count && !plot->vertical.hide_labels; i++) {
    const char *text = plot->vertical.size_only ? without_sign(ticks->label[i]) : ticks->label[i];
    double y = cavum_plot_at_y(plot, ticks->value[i]);
    if (!text[0] || y > free_below) continue;
    free_below = y - CAVUM_PLOT_TICK_SIZE - 1.0;
    widest = cavum_max(widest, cavum_canvas_measure(canvas, text, &style));
    cavum_canvas_text(canvas, plot->x - MARK_LENGTH - LABEL_GAP, y + 3.4, text, &style);
  }
  if (!plot->vertical.label || !plot->vertical.label[0]) return;
  const cavum_text_style label = {.size = CAVUM_PLOT_LABEL_SIZE,
                                  .ink = CAVUM_INK_TEXT,
                                  .anchor = CAVUM_ANCHOR_MIDDLE,
                                  .upward = true};
  draw_upright_label(canvas, plot, plot->x - MARK_LENGTH - LABEL_GAP - widest - 8.0, &label);
}

static double widest_number(cavum_canvas *canvas, const cavum_ticks *ticks, double least) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE};
  double widest = least;
  for (int i = 0; i < ticks->count; i++) {
    widest = cavum_max(widest, cavum_canvas_measure(canvas, ticks->label[i], &style));
  }
  return widest;
}

double cavum_plot_room_left(cavum_canvas *canvas, const cavum_plot *plot) {
  cavum_ticks ticks;
  find_ticks(&ticks, &plot->vertical, plot->height, ROOM_UPRIGHT);
  double widest = widest_number(canvas, &ticks, LEAST_WIDTH);
  const cavum_text_style label = {.size = CAVUM_PLOT_LABEL_SIZE, .upward = true};
  bool two = takes_two_lines(canvas, plot->vertical.label, plot->height, &label);
  return MARK_LENGTH + LABEL_GAP + widest + 8.0 +
         (two ? 1.0 + LABEL_LINE : 1.0) * CAVUM_PLOT_LABEL_SIZE;
}

void cavum_plot_draw_frame(cavum_canvas *canvas, const cavum_plot *plot) {
  cavum_ticks across, upright;
  find_ticks(&across, &plot->horizontal, plot->width, ROOM_ACROSS);
  find_ticks(&upright, &plot->vertical, plot->height, ROOM_UPRIGHT);
  for (int i = 0; i < across.count && !plot->no_grid; i++) {
    double x = cavum_plot_at_x(plot, across.value[i]);
    if (!across.label[i][0]) continue;
    cavum_canvas_move(canvas, x, plot->y);
    cavum_canvas_line(canvas, x, plot->y + plot->height);
  }
  for (int i = 0; i < upright.count && !plot->no_grid && !plot->no_upright_marks; i++) {
    double y = cavum_plot_at_y(plot, upright.value[i]);
    if (!upright.label[i][0]) continue;
    cavum_canvas_move(canvas, plot->x, y);
    cavum_canvas_line(canvas, plot->x + plot->width, y);
  }
  cavum_canvas_stroke(canvas, CAVUM_INK_GRID, 0.6, CAVUM_DASH_NONE);
  cavum_canvas_rectangle(canvas, plot->x, plot->y, plot->width, plot->height);
  cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, 0.8, CAVUM_DASH_NONE);
  draw_across(canvas, plot, &across);
  draw_upright(canvas, plot, &upright);
}

void cavum_plot_clip(cavum_canvas *canvas, const cavum_plot *plot) {
  cavum_canvas_rectangle(canvas, plot->x, plot->y, plot->width, plot->height);
  cavum_canvas_clip(canvas);
}

void cavum_plot_draw_line(cavum_canvas *canvas, const cavum_plot *plot, int count, const double *x,
                          const double *y, cavum_ink ink, double width, cavum_dash dash) {
  bool drawing = false;
  double last_x = 0.0, last_y = 0.0;
  for (int i = 0; i < count; i++) {
    double px = cavum_plot_at_x(plot, x[i]), py = cavum_plot_at_y(plot, y[i]);
    if (!isfinite(px) || !isfinite(py)) {
      drawing = false;
      continue;
    }
    // Far outside, where only the direction matters: keeps numbers small in files.
    py = cavum_max(plot->y - 1e4, cavum_min(plot->y + plot->height + 1e4, py));
    bool last = i + 1 == count;
    if (drawing && !last && hypot(px - last_x, py - last_y) < 0.25) continue;
    if (drawing) cavum_canvas_line(canvas, px, py);
    if (!drawing) cavum_canvas_move(canvas, px, py);
    drawing = true;
    last_x = px;
    last_y = py;
  }
  cavum_canvas_stroke(canvas, ink, width, dash);
}

void cavum_plot_draw_upright(cavum_canvas *canvas, const cavum_plot *plot, double x, cavum_ink ink,
                             cavum_dash dash) {
  double px = cavum_plot_at_x(plot, x);
  cavum_canvas_move(canvas, px, plot->y);
  cavum_canvas_line(canvas, px, plot->y + plot->height);
  cavum_canvas_stroke(canvas, ink, 0.8, dash);
}

void cavum_plot_draw_level(cavum_canvas *canvas, const cavum_plot *plot, double y, cavum_ink ink,
                           cavum_dash dash) {
  double py = cavum_plot_at_y(plot, y);
  cavum_canvas_move(canvas, plot->x, py);
  cavum_canvas_line(canvas, plot->x + plot->width, py);
  cavum_canvas_stroke(canvas, ink, 0.8, dash);
}

static void add_mark(cavum_canvas *canvas, double x, double y, double radius,
                     cavum_plot_mark mark) {
  enum { CORNERS_MOST = 12 };
  static const struct {
    int count;
    double corners[CORNERS_MOST][2];
  } shapes[] = {[CAVUM_MARK_DIAMOND] = {4, {{0, -1.25}, {1.25, 0}, {0, 1.25}, {-1.25, 0}}},
                [CAVUM_MARK_TRIANGLE] = {3, {{0, -1.3}, {1.15, 0.85}, {-1.15, 0.85}}},
                [CAVUM_MARK_SQUARE] = {4, {{-0.9, -0.9}, {0.9, -0.9}, {0.9, 0.9}, {-0.9, 0.9}}},
                [CAVUM_MARK_CROSS] = {CORNERS_MOST,
                                      {{0, -0.45},
                                       {0.85, -1.3},
                                       {1.3, -0.85},
                                       {0.45, 0},
                                       {1.3, 0.85},
                                       {0.85, 1.3},
                                       {0, 0.45},
                                       {-0.85, 1.3},
                                       {-1.3, 0.85},
                                       {-0.45, 0},
                                       {-1.3, -0.85},
                                       {-0.85, -1.3}}}};
  if (mark == CAVUM_MARK_CIRCLE) {
    cavum_canvas_circle(canvas, x, y, radius);
    return;
  }
  for (int i = 0; i < shapes[mark].count; i++) {
    const double *corner = shapes[mark].corners[i];
    double px = x + radius * corner[0], py = y + radius * corner[1];
    if (i == 0) cavum_canvas_move(canvas, px, py);
    if (i > 0) cavum_canvas_line(canvas, px, py);
  }
  cavum_canvas_close(canvas);
}

void cavum_plot_draw_mark(cavum_canvas *canvas, double x, double y, double radius,
                          cavum_plot_mark mark, cavum_ink ink) {
  add_mark(canvas, x, y, radius, mark);
  cavum_canvas_stroke(canvas, CAVUM_INK_HALO, 2.4, CAVUM_DASH_NONE);
  add_mark(canvas, x, y, radius, mark);
  cavum_canvas_fill(canvas, ink);
}

void cavum_plot_draw_key(cavum_canvas *canvas, double x, double y, cavum_ink ink, cavum_dash dash,
                         double width) {
  cavum_canvas_move(canvas, x, y - 3.2);
  cavum_canvas_line(canvas, x + 20.0, y - 3.2);
  cavum_canvas_stroke(canvas, ink, width, dash);
}

void cavum_plot_draw_mark_key(cavum_canvas *canvas, double x, double y, cavum_plot_mark mark,
                              cavum_ink ink) {
  cavum_plot_draw_mark(canvas, x + 4.0, y - 3.2, 3.4, mark, ink);
}

static const double STRIP_WIDTH = 11.0, TIP_HEIGHT = 9.0;

void cavum_plot_draw_colours_across(cavum_canvas *canvas, const cavum_plot_colours *c,
                                    double width) {
  enum { STEPS = 255, ROWS = 4 };
  uint8_t indices[STEPS * ROWS];
  for (int i = 0; i < STEPS * ROWS; i++) indices[i] = (uint8_t)(1 + i % STEPS);
  const cavum_image image = {
      .width = STEPS, .height = ROWS, .indices = indices, .palette = c->palette};
  cavum_canvas_image(canvas, c->x, c->y, width, STRIP_WIDTH, &image);
  cavum_plot frame = {
      .x = c->x, .y = c->y, .width = width, .height = STRIP_WIDTH, .no_upright_marks = true};
  frame.horizontal = (cavum_plot_axis){.low = c->low, .high = c->high, .label = c->label};
  frame.vertical = (cavum_plot_axis){.high = 1.0, .label = ""};
  frame.no_grid = true;
  cavum_plot_draw_frame(canvas, &frame);
}

static void draw_strip(cavum_canvas *canvas, const cavum_plot_colours *c) {
  enum { STEPS = 255, COLUMNS = 4 };
  uint8_t indices[STEPS * COLUMNS];
  for (int i = 0; i < STEPS * COLUMNS; i++) indices[i] = (uint8_t)(STEPS - i / COLUMNS);
  const cavum_image image = {
      .width = COLUMNS, .height = STEPS, .indices = indices, .palette = c->palette};
  cavum_canvas_image(canvas, c->x, c->y, STRIP_WIDTH, c->height, &image);
  if (c->goes_on) {
    cavum_canvas_move(canvas, c->x, c->y);
    cavum_canvas_line(canvas, c->x + 0.5 * STRIP_WIDTH, c->y - TIP_HEIGHT);
    cavum_canvas_line(canvas, c->x + STRIP_WIDTH, c->y);
    cavum_canvas_close(canvas);
    cavum_canvas_fill_colour(canvas, c->palette[255]);
  }
  cavum_canvas_rectangle(canvas, c->x, c->y, STRIP_WIDTH, c->height);
  cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, 0.7, CAVUM_DASH_NONE);
}

double cavum_plot_room_colours(cavum_canvas *canvas, const cavum_plot_colours *c) {
  const cavum_text_style upward = {.size = CAVUM_PLOT_LABEL_SIZE, .upward = true};
  cavum_ticks ticks;
  cavum_ticks_linear(&ticks, c->low, c->high, (int)cavum_max(2.0, c->height / ROOM_UPRIGHT));
  double widest = widest_number(canvas, &ticks, 0.0);
  bool two = takes_two_lines(canvas, c->label, c->height, &upward);
  return STRIP_WIDTH + MARK_LENGTH + LABEL_GAP + widest + 13.0 +
         (two ? LABEL_LINE : 0.0) * CAVUM_PLOT_LABEL_SIZE + 0.3 * CAVUM_PLOT_LABEL_SIZE;
}

void cavum_plot_draw_colours(cavum_canvas *canvas, const cavum_plot_colours *c) {
  const cavum_text_style style = {.size = CAVUM_PLOT_TICK_SIZE, .ink = CAVUM_INK_TEXT};
  double right = c->x + STRIP_WIDTH, widest = 0.0;
  cavum_ticks ticks;
  draw_strip(canvas, c);
  cavum_ticks_linear(&ticks, c->low, c->high, (int)cavum_max(2.0, c->height / ROOM_UPRIGHT));
  for (int i = 0; i < ticks.count; i++) {
    double at = c->y + c->height * (c->high - ticks.value[i]) / (c->high - c->low);
    cavum_canvas_move(canvas, right, at);
    cavum_canvas_line(canvas, right + MARK_LENGTH, at);
    cavum_canvas_stroke(canvas, CAVUM_INK_FRAME, 0.7, CAVUM_DASH_NONE);
    cavum_canvas_text(canvas, right + MARK_LENGTH + LABEL_GAP, at + 3.4, ticks.label[i], &style);
    widest = cavum_max(widest, cavum_canvas_measure(canvas, ticks.label[i], &style));
  }
  const cavum_text_style upward = {.size = CAVUM_PLOT_LABEL_SIZE,
                                   .ink = CAVUM_INK_TEXT,
                                   .anchor = CAVUM_ANCHOR_MIDDLE,
                                   .upward = true};
  double x = right + MARK_LENGTH + LABEL_GAP + widest + 13.0, middle = c->y + 0.5 * c->height;
  const char *unit = strstr(c->label, " in ");
  char name[64];
  snprintf(name, sizeof name, "%.*s", unit ? (int)(unit - c->label) : 60, c->label);
  if (cavum_canvas_measure(canvas, c->label, &upward) <= c->height + 8.0 || !unit) {
    cavum_canvas_text(canvas, x, middle, c->label, &upward);
    return;
  }
  // Two lines: the unit beside the name. What is longer than the strip leaves room for the label of
  // another.
  double longer = cavum_max(cavum_canvas_measure(canvas, name, &upward),
                            cavum_canvas_measure(canvas, unit + 1, &upward));
  middle += c->away * cavum_max(0.0, 0.5 * (longer - c->height));
  cavum_canvas_text(canvas, x, middle, name, &upward);
  cavum_canvas_text(canvas, x + LABEL_LINE * upward.size, middle, unit + 1, &upward);
}
