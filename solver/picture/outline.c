// SPDX-License-Identifier: GPL-3.0-or-later
// The outline of a cell on a page.
#include "picture/outline.h"

#include "base/base.h"

// Hatch of metal, in points: from one stroke to the next, and its length.
static const double HATCH_STEP = 6.0, HATCH_LENGTH = 7.0;

cavum_outline_style cavum_outline_style_of(cavum_boundary boundary) {
  switch (boundary) {
    case CAVUM_BOUNDARY_METAL:
      return (cavum_outline_style){CAVUM_INK_METAL, CAVUM_DASH_NONE, 1.8};
    case CAVUM_BOUNDARY_ELECTRIC:
      return (cavum_outline_style){CAVUM_INK_ELECTRIC, CAVUM_DASH_LONG, 2.0};
    case CAVUM_BOUNDARY_MAGNETIC:
      return (cavum_outline_style){CAVUM_INK_MAGNETIC, CAVUM_DASH_DOT, 2.4};
    case CAVUM_BOUNDARY_AXIS:
      return (cavum_outline_style){CAVUM_INK_AXIS, CAVUM_DASH_AXIS, 0.9};
    case CAVUM_BOUNDARY_SYMMETRY:
    case CAVUM_BOUNDARY_NONE:
      break;
  }
  return (cavum_outline_style){CAVUM_INK_MUTED, CAVUM_DASH_DOT, 0.8};
}

static double page_x(const cavum_field_frame *frame, double z_m) {
  return frame->x0 + z_m * frame->scale;
}

static double page_y(const cavum_field_frame *frame, double r_m) {
  return frame->y0 - (frame->flipped ? -r_m : r_m) * frame->scale;
}

void cavum_outline_add(cavum_canvas *canvas, const cavum_scene *scene,
                       const cavum_field_frame *frame) {
  for (int l = 0; l < scene->num_loops; l++) {
    const cavum_scene_loop *loop = &scene->loops[l];
    for (int i = 0; i < loop->num_points; i++) {
      double x = page_x(frame, loop->z_m[i]), y = page_y(frame, loop->r_m[i]);
      if (i == 0) cavum_canvas_move(canvas, x, y);
      if (i > 0) cavum_canvas_line(canvas, x, y);
    }
    cavum_canvas_close(canvas);
  }
}

bool cavum_outline_has(const cavum_scene *scene, cavum_boundary boundary) {
  for (int l = 0; l < scene->num_loops; l++) {
    for (int i = 0; i < scene->loops[l].num_points; i++) {
      if (scene->loops[l].boundary[i] == (unsigned char)boundary) return true;
    }
  }
  return false;
}

// One run of a kind: strokes at 45 degrees on the right of the direction of travel, which is
// outside.
static void add_hatch(cavum_canvas *canvas, const cavum_scene_loop *loop,
                      const cavum_field_frame *frame) {
  double done = 0.0, next = 0.5 * HATCH_STEP;
  for (int i = 0; i < loop->num_points; i++) {
    int k = (i + 1) % loop->num_points;
    if (loop->boundary[i] != CAVUM_BOUNDARY_METAL) continue;
    double x = page_x(frame, loop->z_m[i]), y = page_y(frame, loop->r_m[i]);
    double dx = page_x(frame, loop->z_m[k]) - x, dy = page_y(frame, loop->r_m[k]) - y;
    double length = hypot(dx, dy);
    if (length == 0.0) continue;
    // Outside of a counterclockwise outline, on a page whose y runs down; mirrored when flipped.
    double side = frame->flipped ? 1.0 : -1.0;
    double nx = side * dy / length, ny = -side * dx / length;
    for (; next < done + length; next += HATCH_STEP) {
      double t = (next - done) / length, hx = x + t * dx, hy = y + t * dy;
      cavum_canvas_move(canvas, hx, hy);
      cavum_canvas_line(canvas, hx + 0.7 * HATCH_LENGTH * (nx + dx / length),
                        hy + 0.7 * HATCH_LENGTH * (ny + dy / length));
    }
    done += length;
  }
}

static void add_runs(cavum_canvas *canvas, const cavum_scene_loop *loop,
                     const cavum_field_frame *frame, cavum_boundary boundary) {
  bool drawing = false;
  for (int i = 0; i < loop->num_points; i++) {
    int k = (i + 1) % loop->num_points;
    if (loop->boundary[i] != (unsigned char)boundary) {
      drawing = false;
      continue;
    }
    if (!drawing) {
      cavum_canvas_move(canvas, page_x(frame, loop->z_m[i]), page_y(frame, loop->r_m[i]));
    }
    cavum_canvas_line(canvas, page_x(frame, loop->z_m[k]), page_y(frame, loop->r_m[k]));
    drawing = true;
  }
}

void cavum_outline_draw(cavum_canvas *canvas, const cavum_scene *scene,
                        const cavum_field_frame *frame) {
  static const cavum_boundary order[] = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_SYMMETRY,
                                         CAVUM_BOUNDARY_ELECTRIC, CAVUM_BOUNDARY_MAGNETIC,
                                         CAVUM_BOUNDARY_METAL};
  for (int l = 0; l < scene->num_loops; l++) add_hatch(canvas, &scene->loops[l], frame);
  cavum_canvas_stroke(canvas, CAVUM_INK_METAL, 0.6, CAVUM_DASH_NONE);
  for (size_t k = 0; k < sizeof order / sizeof order[0]; k++) {
    cavum_outline_style style = cavum_outline_style_of(order[k]);
    for (int l = 0; l < scene->num_loops; l++) {
      add_runs(canvas, &scene->loops[l], frame, order[k]);
    }
    cavum_canvas_stroke(canvas, style.ink, style.width, style.dash);
  }
}
