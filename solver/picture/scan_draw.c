// SPDX-License-Identifier: GPL-3.0-or-later
// Draws the points of a scan: as marks while they are few, else as one image.
#include "picture/scan_draw.h"

#include <stdio.h>

#include "base/base.h"
#include "canvas/flow.h"
#include "canvas/ticks.h"
#include "store/scan_mode.h"

static const double PAGE_WIDTH = 780.0, FRAME_HEIGHT = 440.0, LEFT_ROOM = 58.0, RIGHT_ROOM = 92.0;
// Pages too narrow for a colour scale beside the frame have it below.
static const double COLOURS_GAP = 14.0;
static const double NARROW = 420.0, NARROW_RIGHT_ROOM = 14.0, SCALE_ROOM = 52.0;
// Most of the height of a frame, in its widths.
static const double TALLEST = 0.9;
static const double BELOW_ROOM = 40.0, MARK_RADIUS = 2.4, DOT_RADIUS = 1.3, RING_RADIUS = 4.0;
// Points that are drawn one by one: more would make vector files large.
enum { MOST_MARKS = 2000 };
// Numbers of shapes: how far from their points, and between two of them; no page has room for more.
static const double NUMBER_AWAY = 5.0, NUMBER_ROOM = 3.0;
enum { MOST_NUMBERS = 100 };

static void fill_disc(cavum_image *image, double x, double y, double radius, int index) {
  int top = (int)floor(y - radius), bottom = (int)ceil(y + radius);
  int left = (int)floor(x - radius), right = (int)ceil(x + radius);
  for (int j = top; j <= bottom; j++) {
    for (int i = left; i <= right; i++) {
      bool inside = i >= 0 && j >= 0 && i < image->width && j < image->height;
      if (!inside || hypot(i + 0.5 - x, j + 0.5 - y) > radius) continue;
      image->indices[(size_t)j * (size_t)image->width + (size_t)i] = (uint8_t)index;
    }
  }
}

static cavum_status draw_image(cavum_canvas *canvas, const cavum_plot *plot,
                               const cavum_scan_view *view, cavum_error *error) {
  double zoom = cavum_canvas_scale(canvas);
  cavum_image image = {.width = (int)ceil(plot->width * zoom),
                       .height = (int)ceil(plot->height * zoom),
                       .palette = view->palette};
  image.indices = cavum_alloc((int64_t)image.width * image.height, 1);
  if (!image.indices) return cavum_fail_memory(error);
  for (int i = 0; i < view->num_points; i++) {
    double x = (cavum_plot_at_x(plot, view->value[0][i]) - plot->x) * zoom;
    double y = (cavum_plot_at_y(plot, view->value[1][i]) - plot->y) * zoom;
    fill_disc(&image, x, y, DOT_RADIUS * zoom, cavum_scan_view_colour(view, i));
  }
  cavum_canvas_image(canvas, plot->x, plot->y, image.width / zoom, image.height / zoom, &image);
  free(image.indices);
  return CAVUM_OK;
}

static void draw_marks(cavum_canvas *canvas, const cavum_plot *plot, const cavum_scan_view *view) {
  for (int i = 0; i < view->num_points; i++) {
    cavum_canvas_circle(canvas, cavum_plot_at_x(plot, view->value[0][i]),
                        cavum_plot_at_y(plot, view->value[1][i]), MARK_RADIUS);
    cavum_canvas_fill_colour(canvas, view->palette[cavum_scan_view_colour(view, i)]);
  }
}

// What the best shapes reach together: steps from each to the next.
static void draw_steps(cavum_canvas *canvas, const cavum_plot *plot, const cavum_scan_view *view) {
  double before_x = 0.0, before_y = 0.0;
  for (int k = 0; k < view->num_front; k++) {
    double x = cavum_plot_at_x(plot, view->value[0][view->front[k]]);
    double y = cavum_plot_at_y(plot, view->value[1][view->front[k]]);
    if (k == 0) {
      cavum_canvas_move(canvas, x, y);
    } else if (view->axis[0].smaller) {
      cavum_canvas_line(canvas, x, before_y);
    } else {
      cavum_canvas_line(canvas, before_x, y);
    }
    if (k > 0) cavum_canvas_line(canvas, x, y);
    before_x = x;
    before_y = y;
  }
  if (view->num_front > 1) cavum_canvas_stroke(canvas, CAVUM_INK_FIRST, 0.8, CAVUM_DASH_NONE);
}

static void draw_front(cavum_canvas *canvas, const cavum_plot *plot, const cavum_scan_view *view) {
  for (int k = 0; k < view->num_front; k++) {
    int i = view->front[k];
    cavum_canvas_circle(canvas, cavum_plot_at_x(plot, view->value[0][i]),
                        cavum_plot_at_y(plot, view->value[1][i]), RING_RADIUS);
    cavum_canvas_stroke(canvas, CAVUM_INK_FIRST, 1.3, CAVUM_DASH_NONE);
  }
}

/** Where a number stands: its text from left to right, above a base line. */
typedef struct number_place {
  double left, right, base;
} number_place;

/** Numbers beside rings that have a place so far. */
typedef struct number_places {
  int count;
  number_place list[MOST_NUMBERS];
} number_places;

/** One of the corners of a ring. */
typedef struct ring_corner {
  bool leftward, downward;
} ring_corner;

static bool overlap(const number_place *a, const number_place *b) {
  bool beside = a->right + NUMBER_ROOM < b->left || a->left - NUMBER_ROOM > b->right;
  return !beside && fabs(a->base - b->base) < CAVUM_PLOT_TICK_SIZE;
}

// Whether a number would stand on the disc or the ring of a point.
static bool touches(const number_place *place, const cavum_plot *plot, const cavum_scan_view *view,
                    int point, double radius) {
  double x = cavum_plot_at_x(plot, view->value[0][point]);
  double y = cavum_plot_at_y(plot, view->value[1][point]);
  double dx = cavum_max(cavum_max(place->left - x, x - place->right), 0.0);
  double dy = cavum_max(cavum_max(place->base - CAVUM_PLOT_TICK_SIZE - y, y - place->base), 0.0);
  return hypot(dx, dy) < radius;
}

static bool has_room(const number_place *place, const number_places *places, const cavum_plot *plot,
                     const cavum_scan_view *view, int point) {
  for (int i = 0; i < places->count; i++) {
    if (overlap(place, &places->list[i])) return false;
  }
  for (int k = 0; k < view->num_front; k++) {
    bool other = view->front[k] != point;
    if (other && touches(place, plot, view, view->front[k], RING_RADIUS + NUMBER_ROOM))
      return false;
  }
  return places->count < MOST_NUMBERS;
}

static bool stands_on_marks(const number_place *place, const cavum_plot *plot,
                            const cavum_scan_view *view, int point) {
  for (int i = 0; i < view->num_points; i++) {
    if (i != point && touches(place, plot, view, i, MARK_RADIUS)) return true;
  }
  return false;
}

// Writes the number of a shape at one corner of its ring; false where another number or ring
// stands, where it would leave the frame, or, in the direction of the cloud, where marks stand.
static bool try_number(cavum_canvas *canvas, const cavum_plot *plot, const cavum_scan_view *view,
                       int point, ring_corner corner, number_places *places) {
  char text[32];
  const cavum_text_style style = {
      .size = CAVUM_PLOT_TICK_SIZE,
      .ink = CAVUM_INK_TEXT,
      .anchor = corner.leftward ? CAVUM_ANCHOR_END : CAVUM_ANCHOR_START};
  snprintf(text, sizeof text, "%.0f", view->shape[point]);
  double width = cavum_canvas_measure(canvas, text, &style);
  double x =
      cavum_plot_at_x(plot, view->value[0][point]) + (corner.leftward ? -NUMBER_AWAY : NUMBER_AWAY);
  double y = cavum_plot_at_y(plot, view->value[1][point]) +
             (corner.downward ? NUMBER_AWAY + 0.5 * CAVUM_PLOT_TICK_SIZE : -NUMBER_AWAY);
  double left = corner.leftward ? x - width : x;
  const number_place place = {left, left + width, y};
  bool inside = left > plot->x && left + width < plot->x + plot->width &&
                y < plot->y + plot->height && y - CAVUM_PLOT_TICK_SIZE > plot->y;
  if (!inside || !has_room(&place, places, plot, view, point)) return false;
  bool to_cloud = corner.downward != view->axis[1].smaller;
  bool dense = view->num_points > MOST_MARKS;
  if (to_cloud && (dense || stands_on_marks(&place, plot, view, point))) return false;
  places->list[places->count++] = place;
  cavum_canvas_text(canvas, x, y, text, &style);
  return true;
}

// The number of a shape where no shape is better, away from the cloud, or else at the corner that
// there is room for; left out where none will do.
static void draw_number(cavum_canvas *canvas, const cavum_plot *plot, const cavum_scan_view *view,
                        int point, number_places *places) {
  bool left = view->axis[0].smaller, down = view->axis[1].smaller;
  const ring_corner corners[] = {{left, down}, {!left, down}, {left, !down}, {!left, !down}};
  for (int i = 0; i < 4; i++) {
    if (try_number(canvas, plot, view, point, corners[i], places)) return;
  }
}

// The ends of the front first: they are the best of one figure each.
static void draw_numbers(cavum_canvas *canvas, const cavum_plot *plot,
                         const cavum_scan_view *view) {
  number_places places = {.count = 0};
  int last = view->num_front - 1;
  if (last >= 0) draw_number(canvas, plot, view, view->front[0], &places);
  if (last > 0) draw_number(canvas, plot, view, view->front[last], &places);
  for (int k = 1; k < last; k++) draw_number(canvas, plot, view, view->front[k], &places);
}

// A figure's plain name as mark-up: what follows an underscore is lowered, E_acc is E_{acc}.
static void mark_up(char *to, size_t size, const char *from, bool has_indices) {
  size_t n = 0;
  bool lowered = false;
  for (const char *c = from; *c && n + 6 < size; c++) {
    bool letter = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z');
    if (lowered && !letter) {
      to[n++] = '}';
      lowered = false;
    }
    to[n++] = *c;
    if (*c != '_' || !has_indices || lowered) continue;
    to[n++] = '{';
    lowered = true;
  }
  if (lowered) to[n++] = '}';
  to[n] = '\0';
}

static bool is_narrow(const cavum_page *page) { return page->width < NARROW; }

static double frame_height(const cavum_page *page, double width) {
  double asked = page->request->section_height;
  return cavum_min(cavum_page_height(page, asked > 0.0 ? asked : FRAME_HEIGHT), TALLEST * width);
}

static cavum_plot_colours make_colours(const cavum_scan_view *view, const cavum_plot *plot,
                                       const char *label) {
  return (cavum_plot_colours){.x = plot->x + plot->width + COLOURS_GAP,
                              .y = plot->y + 4.0,
                              .height = plot->height - 8.0,
                              .palette = view->palette,
                              .low = view->axis[2].low,
                              .high = view->axis[2].high,
                              .label = label};
}

// Wide numbers take from the frame what they need beside it.
static void make_room(cavum_plot *plot, const cavum_scan_view *view, const cavum_page *page,
                      const char labels[3][256]) {
  const cavum_plot_colours colours = make_colours(view, plot, labels[2]);
  double left = cavum_plot_room_left(page->canvas, plot) - LEFT_ROOM;
  double right = COLOURS_GAP + cavum_plot_room_colours(page->canvas, &colours) - RIGHT_ROOM;
  if (left > 0.0) {
    plot->x += left;
    plot->width -= left;
  }
  if (right > 0.0 && !is_narrow(page)) plot->width -= right;
}

static cavum_plot make_frame(const cavum_scan_view *view, const cavum_page *page,
                             const char labels[3][256]) {
  double right = is_narrow(page) ? NARROW_RIGHT_ROOM : RIGHT_ROOM;
  double width = page->width - 2.0 * CAVUM_PAGE_MARGIN - LEFT_ROOM - right;
  cavum_plot plot = {.x = CAVUM_PAGE_MARGIN + LEFT_ROOM,
                     .y = page->y + 10.0,
                     .width = width,
                     .height = frame_height(page, width)};
  cavum_plot_axis *axes[2] = {&plot.horizontal, &plot.vertical};
  for (int k = 0; k < 2; k++) {
    double low = view->axis[k].low, high = view->axis[k].high;
    cavum_ticks_widen(&low, &high, 0.04);
    *axes[k] = (cavum_plot_axis){.low = low, .high = high, .label = labels[k]};
  }
  make_room(&plot, view, page, labels);
  return plot;
}

static void draw_keys(cavum_page *page, const cavum_scan_view *view, double left) {
  char text[192];
  cavum_flow flow =
      cavum_flow_start(page->canvas, left, page->width - CAVUM_PAGE_MARGIN, page->y + 6.0);
  if (view->num_front > 0) {
    const char *better[3];
    for (int k = 0; k < 3; k++) better[k] = view->axis[k].smaller ? "smaller" : "larger";
    if (view->in_three) {
      snprintf(
          text, sizeof text,
          "no other shape is better in all three (%s is better in x, %s in y, %s in colour): %d",
          better[0], better[1], better[2], view->num_front);
    } else {
      snprintf(text, sizeof text,
               "no other shape is better in both (%s is better in x, %s in y): %d", better[0],
               better[1], view->num_front);
    }
    cavum_flow_add_ring(&flow, text, CAVUM_INK_FIRST);
    cavum_flow_break(&flow);
    cavum_flow_add_text(&flow, "rings have the numbers of their shapes, where there is room");
    cavum_flow_break(&flow);
  }
  cavum_scan_view_write_beyond(text, view);
  if (text[0]) {
    cavum_flow_add_text(&flow, text);
    cavum_flow_break(&flow);
  }
  page->y = flow.y - 2.0;
}

// The colours: beside the frame, or below it where the page is narrow.
static void draw_scale(cavum_page *page, const cavum_scan_view *view, const cavum_plot *plot,
                       const char *label) {
  cavum_plot_colours colours = make_colours(view, plot, label);
  if (!is_narrow(page)) {
    cavum_plot_draw_colours(page->canvas, &colours);
    return;
  }
  colours.x = plot->x;
  colours.y = page->y;
  cavum_plot_draw_colours_across(page->canvas, &colours, plot->width);
  page->y += SCALE_ROOM;
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const cavum_scan_view *view = data;
  cavum_status status = CAVUM_OK;
  char line[192], mode[CAVUM_SCAN_MODE_TEXT_SIZE], *note = NULL;
  status = cavum_stored_scan_front_note(&note, view->scan, error);
  if (status != CAVUM_OK) return status;
  snprintf(line, sizeof line, "scan of %lld shapes, %d of them shown%s", (long long)view->num_rows,
           view->num_points, cavum_stored_scan_mode_text(mode, view->scan, "; figures of "));
  char marked[1024];
  mark_up(marked, sizeof marked, note, true);
  cavum_page_draw_heading(page, cavum_stored_scan_title(view->scan), note[0] ? marked : line);
  free(note);
  char labels[3][256];
  for (int k = 0; k < 3; k++)
    mark_up(labels[k], sizeof labels[k], view->axis[k].label, view->axis[k].has_indices);
  cavum_plot plot = make_frame(view, page, labels);
  cavum_plot_draw_frame(page->canvas, &plot);
  if (page->measuring) {
    // Nothing inside the frame changes the height.
  } else if (view->num_points > MOST_MARKS) {
    status = draw_image(page->canvas, &plot, view, error);
  } else {
    draw_marks(page->canvas, &plot, view);
  }
  if (status != CAVUM_OK) return status;
  if (!view->in_three) draw_steps(page->canvas, &plot, view);
  draw_front(page->canvas, &plot, view);
  draw_numbers(page->canvas, &plot, view);
  page->y += 10.0 + plot.height + BELOW_ROOM;
  draw_scale(page, view, &plot, labels[2]);
  draw_keys(page, view, plot.x);
  return CAVUM_OK;
}

cavum_status cavum_scan_view_draw(char **bytes, size_t *size, const cavum_scan_view *view,
                                  const cavum_draw_request *request, cavum_error *error) {
  char text[512];
  if (request->view != CAVUM_VIEW_SHEET && request->view != CAVUM_VIEW_SCATTER) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "views of a scan: sheet or scatter");
  }
  snprintf(text, sizeof text, "Scatter of %.120s against %.120s, coloured by %.120s",
           view->axis[1].label, view->axis[0].label, view->axis[2].label);
  // The content does not change what it is given.
  return cavum_page_make(bytes, size, request, PAGE_WIDTH, cavum_stored_scan_title(view->scan),
                         text, draw_content, (void *)(uintptr_t)view, error);
}
