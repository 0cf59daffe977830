// SPDX-License-Identifier: GPL-3.0-or-later
// Profiles of a mode in shown units.
#include "picture/curves.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/quantile.h"

// More lines than these, of junctions, are a hatch.
enum { MOST_JUNCTIONS = 24 };
// Where a sharp corner makes a peak unbounded, an axis ends above what this share of the wall has.
static const double SHOWN_SHARE = 0.995, ROOM_ABOVE = 1.12;
// The spike of an unbounded peak leaves its frame: no more of it is shown than this.
static const double SHOWN_OF_SPIKE = 0.9;
// Room that a frame has at its left.
static const double LEFT_ROOM = 52.0;
// Frames narrower than this have a short label.
static const double SHORT_LABEL_BELOW = 270.0;
// Turn of the wall, in radians, that is a corner and not a curve seen through its points.
static const double LEAST_TURN = 0.05;
// Of the range of radii, what is clearly more; relative, what rounding is.
static const double OF_AN_IRIS = 0.02, ROUNDING = 1e-9;

const char *cavum_axis_curve_label(const cavum_scene *scene) {
  return scene->per_gradient ? "E_{z} / E_{acc}" : "E_{z} at 1 J in MV/m";
}

// Metal on the axis, as a bead has it. Where two edges meet the profile has the same point twice,
// and steps along an edge are alike.
static bool is_axis_gap(const cavum_profile *axis, int i) {
  const double *z = axis->z_m;
  double before = i > 1 ? z[i - 1] - z[i - 2] : 0.0;
  double after = i + 1 < axis->num_points ? z[i + 1] - z[i] : 0.0;
  return before > 0.0 && after > 0.0 && z[i] - z[i - 1] > 1.5 * cavum_max(before, after);
}

cavum_status cavum_axis_curve_create(cavum_axis_curve *curve, const cavum_scene *scene,
                                     cavum_error *error) {
  const cavum_profile *axis = &scene->mode->axis;
  int n = axis->num_points;
  memset(curve, 0, sizeof *curve);
  if (n == 0) return CAVUM_OK;
  curve->z_mm = cavum_alloc(2 * (int64_t)n, sizeof(double));  // every point may follow a gap
  curve->e_z = cavum_alloc(2 * (int64_t)n, sizeof(double));
  if (!curve->z_mm || !curve->e_z) return cavum_fail_memory(error);
  double largest = 0.0;
  for (int i = 0; i < n; i++) {
    if (fabs(axis->e_v_per_m[i]) > fabs(largest) * (1.0 + 1e-9)) largest = axis->e_v_per_m[i];
  }
  double factor = largest < 0.0 ? -scene->e_factor : scene->e_factor;
  for (int i = 0; i < n; i++) {
    if (i > 0 && is_axis_gap(axis, i)) {
      curve->z_mm[curve->num_points] = cavum_in_mm(axis->z_m[i - 1]);
      curve->e_z[curve->num_points++] = NAN;
    }
    curve->z_mm[curve->num_points] = cavum_in_mm(axis->z_m[i]);
    curve->e_z[curve->num_points++] = factor * axis->e_v_per_m[i];
  }
  return CAVUM_OK;
}

void cavum_axis_curve_clear(cavum_axis_curve *curve) {
  if (!curve) return;
  free(curve->z_mm);
  free(curve->e_z);
  memset(curve, 0, sizeof *curve);
}

static bool reserve(cavum_wall_plot *curve, int64_t count) {
  curve->s_mm = cavum_alloc(count, sizeof(double));
  curve->e = cavum_alloc(count, sizeof(double));
  curve->b = cavum_alloc(count, sizeof(double));
  curve->z_mm = cavum_alloc(count, sizeof(double));
  curve->r_mm = cavum_alloc(count, sizeof(double));
  curve->junction_mm = cavum_alloc(count, sizeof(double));
  return curve->s_mm && curve->e && curve->b && curve->z_mm && curve->r_mm && curve->junction_mm;
}

// State while points are added in the order of the picture.
typedef struct point_adder {
  cavum_wall_plot *curve;
  const cavum_scene *scene;
  int last;  // Index of the profile point before, or -1.
  double length_m;
} point_adder;

// How far the wall turns to the left from profile point i - 1 to i, which stand at one place where
// two curves meet; 0 elsewhere. The cell is on the left of the profile.
static double turn_at(const cavum_profile *wall, int i) {
  if (i < 2 || i + 1 >= wall->num_points || wall->curve[i] == wall->curve[i - 1]) return 0.0;
  double ax = wall->z_m[i - 1] - wall->z_m[i - 2], ay = wall->r_m[i - 1] - wall->r_m[i - 2];
  double bx = wall->z_m[i + 1] - wall->z_m[i], by = wall->r_m[i + 1] - wall->r_m[i];
  double jump = hypot(wall->z_m[i] - wall->z_m[i - 1], wall->r_m[i] - wall->r_m[i - 1]);
  if (jump > 0.1 * cavum_min(hypot(ax, ay), hypot(bx, by))) return 0.0;
  return atan2(ax * by - ay * bx, ax * bx + ay * by);
}

// In a corner that is narrower than 180 degrees, seen from the cell, E goes to 0 like a power of
// the distance (J. D. Jackson, Classical Electrodynamics, 3rd ed. 1998, section 2.11): so steeply
// near 180 degrees that no point beside the corner shows it.
static bool is_in_corner(const cavum_profile *wall, int i) {
  return cavum_max(turn_at(wall, i), turn_at(wall, i + 1)) > LEAST_TURN;
}

static void add_point(point_adder *adder, int i) {
  const cavum_profile *wall = &adder->scene->mode->wall;
  cavum_wall_plot *curve = adder->curve;
  double s = adder->length_m - wall->arc_length_m[i];
  int last = adder->last;
  if (last >= 0 && last != i) {
    double step = fabs(wall->arc_length_m[i] - wall->arc_length_m[last]);
    double jump = hypot(wall->z_m[i] - wall->z_m[last], wall->r_m[i] - wall->r_m[last]);
    if (jump > 1e-6 * adder->length_m + 1.5 * step) {
      int n = curve->num_points++;
      curve->s_mm[n] = cavum_in_mm(s);
      curve->e[n] = curve->b[n] = curve->z_mm[n] = curve->r_mm[n] = NAN;
    } else if (wall->curve[i] != wall->curve[last] && wall->curve[i] >= 0) {
      curve->junction_mm[curve->num_junctions++] = cavum_in_mm(s);
    }
  }
  int n = curve->num_points++;
  curve->s_mm[n] = cavum_in_mm(s);
  curve->e[n] = is_in_corner(wall, i) ? 0.0 : adder->scene->e_factor * fabs(wall->e_v_per_m[i]);
  curve->b[n] = adder->scene->h_factor * fabs(wall->h_a_per_m[i]);
  curve->z_mm[n] = cavum_in_mm(wall->z_m[i]);
  curve->r_mm[n] = cavum_in_mm(wall->r_m[i]);
  adder->last = i;
}

// Upper end of an axis: above the largest value, or above what nearly all of the length stays
// below.
static cavum_status find_high(double *high, const cavum_wall_plot *curve, const double *values,
                              bool unbounded, cavum_error *error) {
  int count = curve->num_points;
  double largest = 0.0, *lengths = cavum_alloc(count, sizeof *lengths);
  if (!lengths) return cavum_fail_memory(error);
  for (int i = 1; i < count; i++) lengths[i] = curve->s_mm[i] - curve->s_mm[i - 1];
  cavum_status status =
      cavum_quantile_find(&largest, values, lengths, count, unbounded ? SHOWN_SHARE : 1.0, error);
  free(lengths);
  if (status != CAVUM_OK) return status;
  *high = largest > 0.0 ? ROOM_ABOVE * largest * (unbounded ? ROOM_ABOVE : 1.0) : 1.0;
  double top = 0.0;
  for (int i = 0; i < count; i++) top = cavum_max(top, isfinite(values[i]) ? values[i] : 0.0);
  if (unbounded && top > 0.0) *high = cavum_min(*high, SHOWN_OF_SPIKE * top);
  return CAVUM_OK;
}

static double radius_range(const cavum_wall_plot *curve) {
  double low = HUGE_VAL, high = 0.0;
  for (int i = 0; i < curve->num_points; i++) {
    if (!isfinite(curve->r_mm[i])) continue;
    low = cavum_min(low, curve->r_mm[i]);
    high = cavum_max(high, curve->r_mm[i]);
  }
  return high > low ? high - low : 0.0;
}

// Many junctions hide the curve: of many cells the irises between them are left, the places of
// least radius with clearly more on both sides; a wall of many pieces that has none keeps no line.
static void thin_junctions(cavum_wall_plot *curve) {
  if (curve->num_junctions <= MOST_JUNCTIONS) return;
  double clearly = OF_AN_IRIS * radius_range(curve), high = -HUGE_VAL;
  int low = -1, last = -1;  // of the least radius since the wall has clearly fallen; -1: it has not
  curve->num_junctions = 0;
  curve->of_irises = true;
  for (int i = 0; i < curve->num_points; i++) {
    double r = curve->r_mm[i];
    if (!isfinite(r)) {
      low = -1;
      high = -HUGE_VAL;
    } else if (low < 0) {
      high = cavum_max(high, r);
      if (r < high - clearly) low = last = i;
    } else if (r < curve->r_mm[low] * (1.0 - ROUNDING)) {
      low = last = i;
    } else if (r <= curve->r_mm[low] * (1.0 + ROUNDING)) {
      last = i;
    } else if (r > curve->r_mm[low] + clearly) {
      // The middle of a straight piece.
      curve->junction_mm[curve->num_junctions++] = 0.5 * (curve->s_mm[low] + curve->s_mm[last]);
      low = -1;
      high = r;
    }
  }
}

cavum_status cavum_wall_plot_create(cavum_wall_plot *curve, const cavum_scene *scene,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_profile *wall = &scene->mode->wall;
  const cavum_figure *figures = scene->mode->figures;
  int n = wall->num_points;
  memset(curve, 0, sizeof *curve);
  if (n == 0) return CAVUM_OK;
  // Every point may bring a gap before it.
  if (!reserve(curve, 2 * (int64_t)n)) return cavum_fail_memory(error);
  point_adder adder = {curve, scene, -1, wall->arc_length_m[n - 1]};
  for (int i = n - 1; i >= 0; i--) add_point(&adder, i);
  thin_junctions(curve);
  CAVUM_TRY(find_high(&curve->e_high, curve, curve->e,
                      figures[CAVUM_FIGURE_EPK_OVER_EACC].state == CAVUM_FIGURE_UNBOUNDED, error));
  CAVUM_TRY(find_high(&curve->b_high, curve, curve->b,
                      figures[CAVUM_FIGURE_BPK_OVER_EACC].state == CAVUM_FIGURE_UNBOUNDED, error));
done:
  return status;
}

void cavum_wall_plot_clear(cavum_wall_plot *curve) {
  if (!curve) return;
  free(curve->s_mm);
  free(curve->e);
  free(curve->b);
  free(curve->z_mm);
  free(curve->r_mm);
  free(curve->junction_mm);
  memset(curve, 0, sizeof *curve);
}

int cavum_wall_plot_find(const cavum_wall_plot *curve, cavum_point place) {
  int best = -1;
  double nearest = HUGE_VAL;
  for (int i = 0; i < curve->num_points; i++) {
    double distance =
        hypot(curve->z_mm[i] - cavum_in_mm(place.z_m), curve->r_mm[i] - cavum_in_mm(place.r_m));
    if (!(distance < nearest)) continue;
    nearest = distance;
    best = i;
  }
  return best;
}

void cavum_axis_curve_draw(cavum_canvas *canvas, const cavum_scene *scene,
                           const cavum_axis_curve *curve, cavum_plot plot) {
  double low = 0.0, high = 0.0;
  for (int i = 0; i < curve->num_points; i++) {
    if (!isfinite(curve->e_z[i])) continue;
    low = cavum_min(low, curve->e_z[i]);
    high = cavum_max(high, curve->e_z[i]);
  }
  double span = high > low ? high - low : 1.0;
  plot.vertical = (cavum_plot_axis){.low = low < -1e-3 * span ? low - 0.08 * span : 0.0,
                                    .high = high + 0.1 * span,
                                    .label = cavum_axis_curve_label(scene)};
  cavum_plot_draw_frame(canvas, &plot);
  cavum_plot_clip(canvas, &plot);
  cavum_plot_draw_level(canvas, &plot, 0.0, CAVUM_INK_FRAME, CAVUM_DASH_NONE);
  cavum_plot_draw_line(canvas, &plot, curve->num_points, curve->z_mm, curve->e_z, CAVUM_INK_FIRST,
                       1.6, CAVUM_DASH_NONE);
  cavum_canvas_unclip(canvas);
}

// One of the two frames of the wall.
typedef struct wall_part {
  const double *values;
  double high;
  const cavum_figure *peak;
  cavum_ink ink;
  cavum_plot_mark mark;
} wall_part;

static void draw_wall_part(cavum_canvas *canvas, const cavum_scene *scene,
                           const cavum_wall_plot *curve, const cavum_plot *plot,
                           const wall_part *part) {
  cavum_plot_draw_frame(canvas, plot);
  for (int i = 0; i < curve->num_junctions; i++) {
    cavum_plot_draw_upright(canvas, plot, curve->junction_mm[i], CAVUM_INK_FRAME, CAVUM_DASH_DOT);
  }
  cavum_plot_clip(canvas, plot);
  cavum_plot_draw_line(canvas, plot, curve->num_points, curve->s_mm, part->values, part->ink, 1.6,
                       CAVUM_DASH_NONE);
  cavum_canvas_unclip(canvas);
  cavum_mark_places places = cavum_scene_peak_places(scene, part->peak);
  for (int i = 0; i < places.count; i++) {
    int at = cavum_wall_plot_find(curve, places.at[i]);
    if (at < 0) continue;
    double x = cavum_plot_at_x(plot, curve->s_mm[at]);
    double y = places.unbounded ? plot->y + 6.0 : cavum_plot_at_y(plot, part->values[at]);
    cavum_plot_draw_mark(canvas, x, y, 3.4, places.unbounded ? CAVUM_MARK_TRIANGLE : part->mark,
                         part->ink);
  }
}

// By how much the numbers of the frames, as powers of ten, reach beyond the room at their left.
static double wall_excess(cavum_canvas *canvas, const cavum_scene *scene,
                          const cavum_wall_plot *curve, double height) {
  const cavum_plot electric = {
      .height = height, .vertical = {.high = curve->e_high, .label = cavum_scene_e_label(scene)}};
  const cavum_plot magnetic = {
      .height = height, .vertical = {.high = curve->b_high, .label = cavum_scene_h_label(scene)}};
  double room =
      cavum_max(cavum_plot_room_left(canvas, &electric), cavum_plot_room_left(canvas, &magnetic));
  return cavum_max(0.0, room - LEFT_ROOM);
}

void cavum_wall_curve_draw(cavum_canvas *canvas, const cavum_scene *scene,
                           const cavum_wall_plot *curve, double x, double y, double width,
                           double height) {
  const double gap = 12.0;
  double excess = wall_excess(canvas, scene, curve, 0.5 * (height - gap));
  x += excess;
  width -= excess;
  const cavum_figure *figures = scene->mode->figures;
  double end = curve->num_points > 0 ? curve->s_mm[curve->num_points - 1] : 1.0;
  cavum_plot plot = {.x = x, .y = y, .width = width, .height = 0.5 * (height - gap)};
  plot.horizontal = (cavum_plot_axis){.high = end, .hide_labels = true};
  plot.vertical = (cavum_plot_axis){.high = curve->e_high, .label = cavum_scene_e_label(scene)};
  const wall_part electric = {curve->e, curve->e_high, &figures[CAVUM_FIGURE_EPK_OVER_EACC],
                              CAVUM_INK_FIRST, CAVUM_MARK_CIRCLE};
  draw_wall_part(canvas, scene, curve, &plot, &electric);
  plot.y += plot.height + gap;
  plot.horizontal.hide_labels = false;
  plot.horizontal.label = width > SHORT_LABEL_BELOW
                              ? "arc length along the wall from its left end in mm"
                              : "arc length from the left end in mm";
  plot.vertical = (cavum_plot_axis){.high = curve->b_high, .label = cavum_scene_h_label(scene)};
  const wall_part magnetic = {curve->b, curve->b_high, &figures[CAVUM_FIGURE_BPK_OVER_EACC],
                              CAVUM_INK_SECOND, CAVUM_MARK_DIAMOND};
  draw_wall_part(canvas, scene, curve, &plot, &magnetic);
}

void cavum_wall_curve_add_keys(cavum_flow *flow, const cavum_scene *scene,
                               const cavum_wall_plot *curve) {
  cavum_flow_add_line(flow, "|E| on the wall", CAVUM_INK_FIRST, CAVUM_DASH_NONE, 1.6);
  cavum_flow_add_line(flow,
                      scene->per_gradient ? "\xc2\xb5_{0}|H| on the wall, in mT/(MV/m)"
                                          : "\xc2\xb5_{0}|H| on the wall",
                      CAVUM_INK_SECOND, CAVUM_DASH_NONE, 1.6);
  if (curve->num_junctions > 0) {
    cavum_flow_add_line(flow, curve->of_irises ? "iris between cells" : "junction of the contour",
                        CAVUM_INK_FRAME, CAVUM_DASH_DOT, 0.8);
  }
  cavum_flow_break(flow);
}
