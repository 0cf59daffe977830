// SPDX-License-Identifier: GPL-3.0-or-later
// The outline of a cell on a page.
#include "picture/outline.h"

#include <math.h>

#include "base/base.h"

// Hatch of metal, in points: from one stroke to the next, and its length.
static const double HATCH_STEP = 6.0, HATCH_LENGTH = 7.0;
// Strokes shorter than this share are left out, and those that end so near to each other; pieces of
// the outline that strokes are held against, in points.
static const double LEAST_SHARE = 0.3, LEAST_GAP = 2.4, WALL_PIECE = 2.0;
// Shares of a stroke: what is still where it starts, and what is off its own wall.
static const double OF_OWN_WALL = 1e-6, OFF_OWN_WALL = 0.1;

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
  return frame->x0 + z_m * frame->scale_z;
}

static double page_y(const cavum_field_frame *frame, double r_m) {
  return frame->y0 - (frame->flipped ? -r_m : r_m) * frame->scale_r;
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

// What strokes of the hatch must not touch: the outline, in pieces that are long enough to be
// looked through once a stroke, and the strokes before.
typedef struct hatch_stroke {
  double x0, y0, x1, y1;
} hatch_stroke;

typedef struct hatch_work {
  hatch_stroke *wall;     // Owned: the outline.
  hatch_stroke *strokes;  // Owned.
  int num_wall, num_strokes;
  int64_t room_wall, room_strokes;
  double axis_y;
  double side;  // Sign of what crosses a piece of the outline into the metal.
  bool failed;
} hatch_work;

static void keep(hatch_stroke **list, int *count, int64_t *room, hatch_work *work,
                 hatch_stroke stroke) {
  void *grown = *list;
  work->failed = work->failed || !cavum_grow(&grown, room, *count + 1, sizeof stroke);
  *list = grown;
  if (!work->failed) (*list)[(*count)++] = stroke;
}

// A place where the outline turns by more than 30 degrees, which no piece may cut off.
static bool is_corner(const cavum_scene_loop *loop, int i) {
  int n = loop->num_points, before = (i + n - 1) % n, behind = (i + 1) % n;
  double ax = loop->z_m[i] - loop->z_m[before], ay = loop->r_m[i] - loop->r_m[before];
  double bx = loop->z_m[behind] - loop->z_m[i], by = loop->r_m[behind] - loop->r_m[i];
  return ax * bx + ay * by < cos(CAVUM_PI / 6.0) * hypot(ax, ay) * hypot(bx, by);
}

static void collect_wall(hatch_work *work, const cavum_scene *scene,
                         const cavum_field_frame *frame) {
  for (int l = 0; l < scene->num_loops; l++) {
    const cavum_scene_loop *loop = &scene->loops[l];
    double x = page_x(frame, loop->z_m[0]), y = page_y(frame, loop->r_m[0]);
    for (int i = 1; i <= loop->num_points; i++) {
      int k = i % loop->num_points;
      double to_x = page_x(frame, loop->z_m[k]), to_y = page_y(frame, loop->r_m[k]);
      bool is_short = hypot(to_x - x, to_y - y) < WALL_PIECE;
      if (i < loop->num_points && is_short && !is_corner(loop, k)) continue;
      keep(&work->wall, &work->num_wall, &work->room_wall, work, (hatch_stroke){x, y, to_x, to_y});
      x = to_x;
      y = to_y;
    }
  }
}

static double cross_of(double ax, double ay, double bx, double by) { return ax * by - ay * bx; }

// Share of a stroke, from its start, that is free of another; 1 or more: all of it.
static double free_share(const hatch_stroke *stroke, const hatch_stroke *other) {
  double dx = stroke->x1 - stroke->x0, dy = stroke->y1 - stroke->y0;
  double ox = other->x1 - other->x0, oy = other->y1 - other->y0;
  double across = cross_of(dx, dy, ox, oy);
  if (fabs(across) < 1e-12) return 1.0;
  double gap_x = other->x0 - stroke->x0, gap_y = other->y0 - stroke->y0;
  double t = cross_of(gap_x, gap_y, ox, oy) / across;
  double u = cross_of(gap_x, gap_y, dx, dy) / across;
  return t > 0.0 && u >= 0.0 && u <= 1.0 ? t : 1.0;
}

// Shortens a stroke to half the way to the wall opposite or to the axis; false when too little is
// left, or when it would touch another stroke.
static bool fit_stroke(hatch_stroke *stroke, const hatch_work *work) {
  double dx = stroke->x1 - stroke->x0, dy = stroke->y1 - stroke->y0, share = 1.0;
  // Twice as long, and from a bit off its own wall.
  const hatch_stroke reach = {stroke->x0 + OFF_OWN_WALL * dx, stroke->y0 + OFF_OWN_WALL * dy,
                              stroke->x0 + 2.1 * dx, stroke->y0 + 2.1 * dy};
  for (int i = 0; i < work->num_wall; i++) {
    // Next to a sharp corner it would leave the metal at once, by the other wall of the corner.
    // Where the metal bulges, as at an iris, it starts a bit in front of the piece and enters the
    // metal.
    const hatch_stroke *wall = &work->wall[i];
    double t = free_share(stroke, wall);
    bool leaves = work->side * cross_of(dx, dy, wall->x1 - wall->x0, wall->y1 - wall->y0) < 0.0;
    if (leaves && t > OF_OWN_WALL && t < OFF_OWN_WALL) return false;
    share = cavum_min(share, free_share(&reach, &work->wall[i]));
  }
  const hatch_stroke axis = {-1e5, work->axis_y, 1e5, work->axis_y};
  share = cavum_min(share, free_share(&reach, &axis));
  if (share < LEAST_SHARE) return false;
  stroke->x1 = stroke->x0 + share * dx;
  stroke->y1 = stroke->y0 + share * dy;
  for (int i = work->num_strokes - 1; i >= 0; i--) {
    const hatch_stroke *other = &work->strokes[i];
    if (free_share(stroke, other) < 1.0) return false;
    if (hypot(other->x1 - stroke->x1, other->y1 - stroke->y1) < LEAST_GAP) return false;
  }
  return true;
}

// One run of a kind: strokes at 45 degrees on the right of the direction of travel, which is
// outside.
static void add_hatch(cavum_canvas *canvas, const cavum_scene_loop *loop,
                      const cavum_field_frame *frame, hatch_work *work) {
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
      hatch_stroke stroke = {hx, hy, hx + 0.7 * HATCH_LENGTH * (nx + dx / length),
                             hy + 0.7 * HATCH_LENGTH * (ny + dy / length)};
      if (!fit_stroke(&stroke, work)) continue;
      keep(&work->strokes, &work->num_strokes, &work->room_strokes, work, stroke);
      cavum_canvas_move(canvas, stroke.x0, stroke.y0);
      cavum_canvas_line(canvas, stroke.x1, stroke.y1);
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

static cavum_status draw_hatch(cavum_canvas *canvas, const cavum_scene *scene,
                               const cavum_field_frame *frame, cavum_error *error) {
  hatch_work work = {.axis_y = frame->y0, .side = frame->flipped ? 1.0 : -1.0};
  collect_wall(&work, scene, frame);
  for (int l = 0; l < scene->num_loops && !work.failed; l++) {
    add_hatch(canvas, &scene->loops[l], frame, &work);
  }
  cavum_canvas_stroke(canvas, CAVUM_INK_METAL, 0.6, CAVUM_DASH_NONE);
  free(work.wall);
  free(work.strokes);
  return work.failed ? cavum_fail_memory(error) : CAVUM_OK;
}

cavum_status cavum_outline_draw(cavum_canvas *canvas, const cavum_scene *scene,
                                const cavum_field_frame *frame, bool hatched, cavum_error *error) {
  static const cavum_boundary order[] = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_SYMMETRY,
                                         CAVUM_BOUNDARY_ELECTRIC, CAVUM_BOUNDARY_MAGNETIC,
                                         CAVUM_BOUNDARY_METAL};
  cavum_status status = hatched ? draw_hatch(canvas, scene, frame, error) : CAVUM_OK;
  if (status != CAVUM_OK) return status;
  for (size_t k = 0; k < sizeof order / sizeof order[0]; k++) {
    cavum_outline_style style = cavum_outline_style_of(order[k]);
    for (int l = 0; l < scene->num_loops; l++) {
      add_runs(canvas, &scene->loops[l], frame, order[k]);
    }
    cavum_canvas_stroke(canvas, style.ink, style.width, style.dash);
  }
  return CAVUM_OK;
}
