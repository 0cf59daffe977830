// SPDX-License-Identifier: GPL-3.0-or-later
// Cells over each other: outlines to scale, E_z on the axis, surface fields.
#include "picture/compare_view.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/picture.h"
#include "picture/curves.h"
#include "picture/draw.h"
#include "picture/outline.h"
#include "picture/overlay_shift.h"
#include "picture/page.h"

static const double PAGE_WIDTH = 820.0, OUTLINE_HEIGHT = 300.0, CURVE_HEIGHT = 170.0;
static const double LEFT_ROOM = 58.0, RIGHT_ROOM = 18.0, BELOW_ROOM = 40.0, PAD = 8.0;
// Of the page: outlines have a frame at least so wide.
static const double LEAST_SHARE = 0.45;

enum { MOST = CAVUM_PICTURE_FILES_MOST, LABEL_SIZE = 96 };
// Pages narrower than this have a short label.
static const double SHORT_BELOW = 420.0;
// A spike that leaves its frame reaches so many times as high.
static const double BEYOND = 2.0;

// One of the cells.
typedef struct compared_mode {
  const char *name;
  cavum_scene scene;
  cavum_axis_curve axis;
  cavum_wall_plot wall;
  double shift_m;  // Of its z on the page.
} compared_mode;

// All of them.
typedef struct compared_modes {
  int count;
  const char *from;      // What z and arc length count from; NULL: as drawn.
  compared_mode *sides;  // Owned, shape [count].
} compared_modes;

static const cavum_ink inks[MOST] = {CAVUM_INK_FIRST,  CAVUM_INK_SECOND, CAVUM_INK_THIRD,
                                     CAVUM_INK_FOURTH, CAVUM_INK_TEXT,   CAVUM_INK_MUTED};
static const cavum_dash dashes[MOST] = {CAVUM_DASH_NONE, CAVUM_DASH_LONG, CAVUM_DASH_DOT,
                                        CAVUM_DASH_AXIS, CAVUM_DASH_NONE, CAVUM_DASH_LONG};

// Positions along axis and wall, counted from the equator.
static void shift_curves(compared_mode *side) {
  cavum_point equator = {.z_m = -side->shift_m, .r_m = side->scene.r_high_m};
  int at = cavum_wall_plot_find(&side->wall, equator);
  double start_mm = at < 0 ? 0.0 : side->wall.s_mm[at];
  for (int i = 0; i < side->wall.num_points; i++) side->wall.s_mm[i] -= start_mm;
  for (int i = 0; i < side->axis.num_points; i++) side->axis.z_mm[i] += cavum_in_mm(side->shift_m);
}

static cavum_status open_side(compared_mode *sides, const cavum_overlay *overlay, int k,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  compared_mode *side = &sides[k];
  side->name = overlay->names[k];
  CAVUM_TRY(cavum_scene_create(&side->scene, overlay->results[k],
                               cavum_mode_number(overlay->modes[k]), error));
  CAVUM_TRY(cavum_axis_curve_create(&side->axis, &side->scene, error));
  CAVUM_TRY(cavum_wall_plot_create(&side->wall, &side->scene, error));
  if (overlay->align == CAVUM_ALIGN_EQUATOR) {
    side->shift_m = cavum_overlay_shift_m(&side->scene, k > 0 ? &sides[0].scene : NULL);
    shift_curves(side);
  }
done:
  return status;
}

static void close_side(compared_mode *side) {
  cavum_axis_curve_clear(&side->axis);
  cavum_wall_plot_clear(&side->wall);
  cavum_scene_clear(&side->scene);
}

static cavum_plot make_plot(const cavum_page *page, double height) {
  double x = CAVUM_PAGE_MARGIN + LEFT_ROOM;
  return (cavum_plot){.x = x,
                      .y = page->y + 8.0,
                      .width = page->width - x - CAVUM_PAGE_MARGIN - RIGHT_ROOM,
                      .height = height};
}

// All parts are lower in the same way where the outlines have a height that is asked for.
static double height_of(const cavum_page *page, double usual) {
  double asked = page->request->section_height;
  return cavum_page_height(page, asked > 0.0 ? usual * asked / OUTLINE_HEIGHT : usual);
}

static const char *z_label(char label[LABEL_SIZE], const compared_modes *modes) {
  snprintf(label, LABEL_SIZE, "z%s%s in mm", modes->from ? " from " : "",
           modes->from ? modes->from : "");
  return label;
}

// Returns the frame: the field on the axis stands below it, z in line.
static cavum_plot draw_outlines(cavum_page *page, const compared_modes *modes) {
  char label[LABEL_SIZE];
  double low = HUGE_VAL, high = -HUGE_VAL, top = 0.0;
  for (int k = 0; k < modes->count; k++) {
    const compared_mode *side = &modes->sides[k];
    low = cavum_min(low, side->scene.z_low_m + side->shift_m);
    high = cavum_max(high, side->scene.z_high_m + side->shift_m);
    top = cavum_max(top, side->scene.r_high_m);
  }
  double room = height_of(page, OUTLINE_HEIGHT);
  cavum_plot plot = make_plot(page, room);
  double scale = cavum_min((plot.width - 2.0 * PAD) / (high - low), (room - PAD) / top);
  // No wider than it needs, but for the numbers below.
  plot.width =
      cavum_min(plot.width, cavum_max((high - low) * scale + 2.0 * PAD, LEAST_SHARE * plot.width));
  double middle = 0.5 * (low + high), half = 0.5 * plot.width / scale;
  plot.height = top * scale + PAD;
  plot.horizontal = (cavum_plot_axis){.low = cavum_in_mm(middle - half),
                                      .high = cavum_in_mm(middle + half),
                                      .label = z_label(label, modes)};
  plot.vertical = (cavum_plot_axis){.high = cavum_in_mm(plot.height / scale), .label = "r in mm"};
  cavum_plot_draw_frame(page->canvas, &plot);
  cavum_plot_clip(page->canvas, &plot);
  for (int k = 0; k < modes->count; k++) {
    const compared_mode *side = &modes->sides[k];
    const cavum_field_frame frame = {cavum_plot_at_x(&plot, cavum_in_mm(side->shift_m)),
                                     plot.y + plot.height, scale, scale, false};
    cavum_outline_add(page->canvas, &side->scene, &frame);
    cavum_canvas_stroke(page->canvas, inks[k], 1.6, dashes[k]);
  }
  cavum_canvas_unclip(page->canvas);
  page->y += 8.0 + plot.height + BELOW_ROOM;
  return plot;
}

// Curves in one frame; `x` and `y` of each.
typedef struct compared_curves {
  int count;
  int points[MOST];
  const double *x[MOST], *y[MOST];
  const char *x_label, *y_label;
  double high;              // Of y; 0: from the values.
  const cavum_plot *above;  // Frame that x is in line with; NULL: none.
} compared_curves;

static void draw_curves(cavum_page *page, const compared_curves *curves) {
  double left = HUGE_VAL, right = -HUGE_VAL, low = 0.0, high = 0.0;
  for (int k = 0; k < curves->count; k++) {
    for (int i = 0; i < curves->points[k]; i++) {
      left = cavum_min(left, curves->x[k][i]);
      right = cavum_max(right, curves->x[k][i]);
      if (!isfinite(curves->y[k][i])) continue;
      low = cavum_min(low, curves->y[k][i]);
      high = cavum_max(high, curves->y[k][i]);
    }
  }
  if (!(right > left)) return;
  double span = high > low ? high - low : 1.0, height = height_of(page, CURVE_HEIGHT);
  cavum_plot plot = make_plot(page, height);
  plot.horizontal = (cavum_plot_axis){.low = left, .high = right, .label = curves->x_label};
  plot.vertical = (cavum_plot_axis){.low = low < -1e-3 * span ? low - 0.08 * span : 0.0,
                                    .high = curves->high > 0.0 ? curves->high : high + 0.1 * span,
                                    .label = curves->y_label};
  if (curves->above) {
    plot.width = curves->above->width;
    plot.horizontal = curves->above->horizontal;
    plot.horizontal.label = curves->x_label;
  }
  cavum_plot_draw_frame(page->canvas, &plot);
  cavum_plot_clip(page->canvas, &plot);
  for (int k = 0; k < curves->count; k++) {
    cavum_plot_draw_line(page->canvas, &plot, curves->points[k], curves->x[k], curves->y[k],
                         inks[k], 1.6, dashes[k]);
  }
  cavum_canvas_unclip(page->canvas);
  page->y += 8.0 + height + BELOW_ROOM;
}

static void draw_key(cavum_page *page, const compared_modes *modes) {
  const cavum_text_style style = {.size = 10.0, .ink = CAVUM_INK_TEXT, .plain = true};
  for (int k = 0; k < modes->count; k++) {
    const compared_mode *side = &modes->sides[k];
    double y = page->y + 14.0;
    char mode[256], text[800];
    cavum_canvas_move(page->canvas, CAVUM_PAGE_MARGIN, y - 3.5);
    cavum_canvas_line(page->canvas, CAVUM_PAGE_MARGIN + 24.0, y - 3.5);
    cavum_canvas_stroke(page->canvas, inks[k], 1.8, dashes[k]);
    cavum_draw_describe_mode_plainly(mode, side->scene.result, side->scene.mode_number);
    const char *title = side->scene.result->title ? side->scene.result->title : "";
    snprintf(text, sizeof text, "%.300s: %.200s%s%.250s", side->name, title, title[0] ? ", " : "",
             mode);
    double next =
        cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN + 32.0, y,
                              page->width - 2.0 * CAVUM_PAGE_MARGIN - 32.0, text, &style, 6);
    page->y = next - 14.0 + 3.5;
  }
  page->y += 6.0;
}

// At sharp corners |E| leaves the frame, also where that of another cell reaches higher.
static void raise_corners(compared_mode *side, double high) {
  for (int i = 0; i < side->scene.num_corners; i++) {
    int at = cavum_wall_plot_find(&side->wall, side->scene.corners[i]);
    if (at >= 0) side->wall.e[at] = cavum_max(side->wall.e[at], BEYOND * high);
  }
}

static void draw_wall(cavum_page *page, const compared_modes *modes, bool electric) {
  const cavum_scene *first = &modes->sides[0].scene;
  char text[LABEL_SIZE];
  snprintf(text, sizeof text, "arc length%s from %s in mm",
           page->width < SHORT_BELOW ? "" : " along the wall",
           modes->from ? modes->from : "its left end");
  compared_curves curves = {
      .count = modes->count,
      .x_label = text,
      .y_label = electric ? cavum_scene_e_label(first) : cavum_scene_h_label(first)};
  for (int k = 0; k < modes->count; k++) {
    const cavum_wall_plot *wall = &modes->sides[k].wall;
    curves.points[k] = wall->num_points;
    curves.x[k] = wall->s_mm;
    curves.y[k] = electric ? wall->e : wall->b;
    curves.high = cavum_max(curves.high, electric ? wall->e_high : wall->b_high);
  }
  for (int k = 0; electric && k < modes->count; k++) raise_corners(&modes->sides[k], curves.high);
  draw_curves(page, &curves);
}

static void draw_axis(cavum_page *page, const compared_modes *modes, const cavum_plot *outlines) {
  char label[LABEL_SIZE];
  compared_curves axis = {.count = modes->count,
                          .x_label = z_label(label, modes),
                          .above = outlines,
                          .y_label = cavum_axis_curve_label(&modes->sides[0].scene)};
  for (int k = 0; k < modes->count; k++) {
    axis.points[k] = modes->sides[k].axis.num_points;
    axis.x[k] = modes->sides[k].axis.z_mm;
    axis.y[k] = modes->sides[k].axis.e_z;
  }
  draw_curves(page, &axis);
}

// The views axis and wall are the halves of a sheet.
static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const compared_modes *modes = data;
  (void)error;
  draw_key(page, modes);
  if (page->request->view != CAVUM_VIEW_WALL) {
    cavum_plot outlines = draw_outlines(page, modes);
    draw_axis(page, modes, &outlines);
  }
  if (page->request->view != CAVUM_VIEW_AXIS) {
    draw_wall(page, modes, true);
    draw_wall(page, modes, false);
  }
  return CAVUM_OK;
}

// What z is 0 at: the equator where all cells have one, else the middle of where they are widest.
static const char *origin_of(const compared_modes *modes) {
  for (int k = 0; k < modes->count; k++) {
    if (!cavum_overlay_has_equator(&modes->sides[k].scene)) return "the largest radius";
  }
  return "the equator";
}

cavum_status cavum_overlay_draw(char **bytes, size_t *size, const cavum_overlay *overlay,
                                const cavum_draw_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  compared_modes modes = {.count = overlay->count,
                          .sides = cavum_alloc(overlay->count, sizeof(compared_mode))};
  if (!modes.sides) return cavum_fail_memory(error);
  for (int k = 0; k < modes.count; k++) {
    CAVUM_TRY(open_side(modes.sides, overlay, k, error));
    if (modes.sides[k].scene.per_gradient != modes.sides[0].scene.per_gradient) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                           "only one of two modes has a gradient to show its fields over"));
    }
  }
  if (overlay->align == CAVUM_ALIGN_EQUATOR) modes.from = origin_of(&modes);
  CAVUM_TRY(cavum_page_make(bytes, size, request, PAGE_WIDTH, overlay->results[0]->title,
                            "Outlines, axial field and surface fields of several cells",
                            draw_content, &modes, error));
done:
  for (int k = 0; k < modes.count; k++) close_side(&modes.sides[k]);
  free(modes.sides);
  return status;
}

cavum_status cavum_picture_compare_results(char **bytes, size_t *size,
                                           const cavum_result *const results[2],
                                           const char *const names[2], const int modes[2],
                                           const cavum_picture_options *options,
                                           cavum_error *error) {
  if (!bytes || !size || !results || !results[0] || !results[1] || !names || !names[0] ||
      !names[1] || !modes) {
    return cavum_fail_null(error, __func__);
  }
  cavum_picture_options chosen;
  const cavum_overlay overlay = {2, results, names, modes, CAVUM_ALIGN_EQUATOR};
  cavum_status status = cavum_picture_take_options(&chosen, options, error);
  if (status != CAVUM_OK) return status;
  const cavum_draw_request request = cavum_page_request(&chosen, NULL);
  return cavum_overlay_draw(bytes, size, &overlay, &request, error);
}
