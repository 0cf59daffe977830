// SPDX-License-Identifier: GPL-3.0-or-later
// Two cells over each other: outlines to scale, E_z on the axis, surface fields.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/picture.h"
#include "picture/curves.h"
#include "picture/draw.h"
#include "picture/outline.h"
#include "picture/page.h"

static const double PAGE_WIDTH = 820.0, OUTLINE_HEIGHT = 300.0, CURVE_HEIGHT = 170.0;
static const double LEFT_ROOM = 58.0, RIGHT_ROOM = 18.0, BELOW_ROOM = 40.0, PAD = 8.0;

// One of the two cells.
typedef struct compared_mode {
  const char *name;
  cavum_scene scene;
  cavum_axis_curve axis;
  cavum_wall_curve wall;
} compared_mode;

static const cavum_ink inks[2] = {CAVUM_INK_FIRST, CAVUM_INK_SECOND};
static const cavum_dash dashes[2] = {CAVUM_DASH_NONE, CAVUM_DASH_LONG};

static cavum_status open_side(compared_mode *side, const cavum_result *result, int mode,
                              const char *name, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  side->name = name;
  CAVUM_TRY(cavum_scene_create(&side->scene, result, mode, error));
  CAVUM_TRY(cavum_axis_curve_create(&side->axis, &side->scene, error));
  CAVUM_TRY(cavum_wall_curve_create(&side->wall, &side->scene, error));
done:
  return status;
}

static void close_side(compared_mode *side) {
  cavum_axis_curve_clear(&side->axis);
  cavum_wall_curve_clear(&side->wall);
  cavum_scene_clear(&side->scene);
}

static cavum_plot make_plot(const cavum_page *page, double height) {
  double x = CAVUM_PAGE_MARGIN + LEFT_ROOM;
  return (cavum_plot){.x = x,
                      .y = page->y + 8.0,
                      .width = page->width - x - CAVUM_PAGE_MARGIN - RIGHT_ROOM,
                      .height = height};
}

static void draw_outlines(cavum_page *page, const compared_mode *sides) {
  double low = cavum_min(sides[0].scene.z_low_m, sides[1].scene.z_low_m);
  double high = cavum_max(sides[0].scene.z_high_m, sides[1].scene.z_high_m);
  double top = cavum_max(sides[0].scene.r_high_m, sides[1].scene.r_high_m);
  cavum_plot plot = make_plot(page, OUTLINE_HEIGHT);
  double scale = cavum_min((plot.width - 2.0 * PAD) / (high - low), (OUTLINE_HEIGHT - PAD) / top);
  double middle = 0.5 * (low + high), half = 0.5 * plot.width / scale;
  plot.height = top * scale + PAD;
  plot.horizontal = (cavum_plot_axis){
      .low = cavum_in_mm(middle - half), .high = cavum_in_mm(middle + half), .label = "z in mm"};
  plot.vertical = (cavum_plot_axis){.high = cavum_in_mm(plot.height / scale), .label = "r in mm"};
  cavum_plot_draw_frame(page->canvas, &plot);
  cavum_plot_clip(page->canvas, &plot);
  for (int k = 0; k < 2; k++) {
    const cavum_field_frame frame = {cavum_plot_at_x(&plot, 0.0), plot.y + plot.height, scale,
                                     scale, false};
    cavum_outline_add(page->canvas, &sides[k].scene, &frame);
    cavum_canvas_stroke(page->canvas, inks[k], 1.6, dashes[k]);
  }
  cavum_canvas_unclip(page->canvas);
  page->y += 8.0 + plot.height + BELOW_ROOM;
}

// Two curves in one frame; `x` and `y` of each.
typedef struct compared_pair {
  int count[2];
  const double *x[2], *y[2];
  const char *x_label, *y_label;
  double high;  // Of y; 0: from the values.
} compared_pair;

static void draw_pair(cavum_page *page, const compared_pair *pair) {
  double left = HUGE_VAL, right = -HUGE_VAL, low = 0.0, high = 0.0;
  for (int k = 0; k < 2; k++) {
    for (int i = 0; i < pair->count[k]; i++) {
      left = cavum_min(left, pair->x[k][i]);
      right = cavum_max(right, pair->x[k][i]);
      if (!isfinite(pair->y[k][i])) continue;
      low = cavum_min(low, pair->y[k][i]);
      high = cavum_max(high, pair->y[k][i]);
    }
  }
  if (!(right > left)) return;
  double span = high > low ? high - low : 1.0;
  cavum_plot plot = make_plot(page, CURVE_HEIGHT);
  plot.horizontal = (cavum_plot_axis){.low = left, .high = right, .label = pair->x_label};
  plot.vertical = (cavum_plot_axis){.low = low < -1e-3 * span ? low - 0.08 * span : 0.0,
                                    .high = pair->high > 0.0 ? pair->high : high + 0.1 * span,
                                    .label = pair->y_label};
  cavum_plot_draw_frame(page->canvas, &plot);
  cavum_plot_clip(page->canvas, &plot);
  for (int k = 0; k < 2; k++) {
    cavum_plot_draw_line(page->canvas, &plot, pair->count[k], pair->x[k], pair->y[k], inks[k], 1.6,
                         dashes[k]);
  }
  cavum_canvas_unclip(page->canvas);
  page->y += 8.0 + CURVE_HEIGHT + BELOW_ROOM;
}

static void draw_key(cavum_page *page, const compared_mode *sides) {
  const cavum_text_style style = {.size = 10.0, .ink = CAVUM_INK_TEXT, .plain = true};
  for (int k = 0; k < 2; k++) {
    double y = page->y + 14.0;
    char mode[256];
    cavum_canvas_move(page->canvas, CAVUM_PAGE_MARGIN, y - 3.5);
    cavum_canvas_line(page->canvas, CAVUM_PAGE_MARGIN + 24.0, y - 3.5);
    cavum_canvas_stroke(page->canvas, inks[k], 1.8, dashes[k]);
    cavum_draw_describe_mode(mode, sides[k].scene.result, sides[k].scene.mode_number);
    char text[640];
    snprintf(text, sizeof text, "%.120s: %.200s, %.250s", sides[k].name,
             sides[k].scene.result->title ? sides[k].scene.result->title : "", mode);
    cavum_flow_write_text(page->canvas, CAVUM_PAGE_MARGIN + 32.0, y,
                          page->width - 2.0 * CAVUM_PAGE_MARGIN - 32.0, text, &style, 1);
    page->y += 16.0;
  }
  page->y += 6.0;
}

static cavum_status draw_content(cavum_page *page, void *data, cavum_error *error) {
  const compared_mode *sides = data;
  const cavum_wall_curve *a = &sides[0].wall, *b = &sides[1].wall;
  (void)error;
  draw_key(page, sides);
  draw_outlines(page, sides);
  const compared_pair axis = {{sides[0].axis.num_points, sides[1].axis.num_points},
                              {sides[0].axis.z_mm, sides[1].axis.z_mm},
                              {sides[0].axis.e_z, sides[1].axis.e_z},
                              "z in mm",
                              cavum_axis_curve_label(&sides[0].scene),
                              0.0};
  draw_pair(page, &axis);
  const compared_pair electric = {{a->num_points, b->num_points},
                                  {a->s_mm, b->s_mm},
                                  {a->e, b->e},
                                  "arc length along the wall from its left end in mm",
                                  cavum_scene_e_label(&sides[0].scene),
                                  cavum_max(a->e_high, b->e_high)};
  draw_pair(page, &electric);
  const compared_pair magnetic = {{a->num_points, b->num_points},
                                  {a->s_mm, b->s_mm},
                                  {a->b, b->b},
                                  "arc length along the wall from its left end in mm",
                                  cavum_scene_h_label(&sides[0].scene),
                                  cavum_max(a->b_high, b->b_high)};
  draw_pair(page, &magnetic);
  return CAVUM_OK;
}

cavum_status cavum_picture_compare_results(char **bytes, size_t *size,
                                           const cavum_result *const results[2],
                                           const char *const names[2], const int modes[2],
                                           const cavum_picture_options *options,
                                           cavum_error *error) {
  if (!bytes || !size || !results || !names || !modes) return cavum_fail_null(error, __func__);
  const cavum_picture_options chosen = options ? *options : cavum_picture_options_default();
  const cavum_draw_request request = cavum_page_request(&chosen);
  cavum_status status = CAVUM_OK;
  compared_mode *sides = cavum_alloc(2, sizeof *sides);
  if (!sides) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_picture_check_options(&chosen, error));
  for (int k = 0; k < 2; k++) {
    CAVUM_TRY(open_side(&sides[k], results[k], cavum_mode_number(modes[k]), names[k], error));
  }
  if (sides[0].scene.per_gradient != sides[1].scene.per_gradient) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                         "only one of the two modes has a gradient to show its fields over"));
  }
  CAVUM_TRY(cavum_page_make(bytes, size, &request, PAGE_WIDTH, results[0]->title,
                            "Outlines, axial field and surface fields of two cells", draw_content,
                            sides, error));
done:
  for (int k = 0; k < 2; k++) close_side(&sides[k]);
  free(sides);
  return status;
}
