// SPDX-License-Identifier: GPL-3.0-or-later
// Columns between the axis and the wall. The feet of the columns on the axis are spread between the
// places where the wall is closest to the axis and farthest from it, by how far the wall runs along
// z and, with less weight, in r; so the feet keep their order also where a wall leans past
// vertical.
#include "mesher/columns.h"

#include <string.h>

#include "base/base.h"

enum { COLUMNS_MOST = 400, ROWS_MOST = 8 };
// Height of the row at the axis over the smallest radius of the wall.
static const double AXIS_ROW = 0.6;
// Where the second of three rows ends, between the axis row and the wall.
static const double MIDDLE_ROW = 0.6;
// Weight of radial travel of the wall in the spread of the feet.
static const double RADIAL_WEIGHT = 0.35;
// Column widths along a tube over its radius: first, growth, most.
static const double TUBE_FIRST = 0.8, TUBE_GROWTH = 2.0, TUBE_MOST = 2.2;
// Longest straight piece of a wall over its distance from the axis.
static const double STRAIGHT_MOST = 0.9;

// One column line: from the foot on the axis to a point of the wall.
typedef struct column {
  cavum_index curve[2];  // curves that arrive at and leave the wall point, in order of travel
  double t[2];           // and their parameters there
  cavum_point wall;
  double spread;  // travel of the wall since the first point, weighted
  double foot_z_m;
} column;

typedef struct columns {
  const cavum_contour *contour;
  int count;
  column line[COLUMNS_MOST];
} columns;

static bool is_vertical(const cavum_curve *curve) {
  double length = hypot(curve->end.z_m - curve->start.z_m, curve->end.r_m - curve->start.r_m);
  return curve->kind == CAVUM_CURVE_LINE &&
         fabs(curve->end.z_m - curve->start.z_m) <= 1e-12 * length;
}

static bool is_columnar(const cavum_contour *contour) {
  cavum_index last = contour->num_curves - 1;
  if (last < 3 || contour->curves[0].boundary != CAVUM_BOUNDARY_AXIS) return false;
  for (cavum_index i = 1; i <= last; i++) {
    if (contour->curves[i].boundary == CAVUM_BOUNDARY_AXIS) return false;
  }
  return is_vertical(&contour->curves[1]) && is_vertical(&contour->curves[last]);
}

static double turn_of(const cavum_curve *curve) {
  cavum_point a = cavum_curve_derivative(curve, 0.0), b = cavum_curve_derivative(curve, 1.0);
  return fabs(atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m));
}

static bool add_line(columns *c, cavum_index curve, double t) {
  if (c->count == COLUMNS_MOST) return false;
  column *line = &c->line[c->count++];
  *line = (column){.curve = {curve, curve}, .t = {t, t}};
  line->wall = cavum_curve_point(&c->contour->curves[curve], t);
  if (c->count == 1) return true;
  const column *before = line - 1;
  double dr = fabs(line->wall.r_m - before->wall.r_m);
  line->spread = before->spread + fabs(line->wall.z_m - before->wall.z_m) + RADIAL_WEIGHT * dr;
  return true;
}

// Widths of the columns of a tube grow away from the cell, which lies at its start (from_start) or
// at its end.
static bool split_tube(columns *c, cavum_index k, bool from_start, double refinement) {
  const cavum_curve *curve = &c->contour->curves[k];
  double length = fabs(curve->end.z_m - curve->start.z_m), radius = curve->start.r_m;
  double width[64], sum = 0.0, next = TUBE_FIRST * radius / refinement;
  int count = 0;
  while (sum < length * 0.999 && count < 64) {
    width[count++] = next;
    sum += next;
    next = cavum_min(next * TUBE_GROWTH, TUBE_MOST * radius / refinement);
  }
  if (sum < length * 0.999) return false;
  // A short rest joins the column before it.
  if (count > 1 && length - (sum - width[count - 1]) < 0.4 * width[count - 1]) {
    sum -= width[--count];
  }
  double at = 0.0;
  for (int i = 0; i < count; i++) {
    at += width[from_start ? i : count - 1 - i] / sum;
    if (!add_line(c, k, i == count - 1 ? 1.0 : at)) return false;
  }
  return true;
}

static bool split_evenly(columns *c, cavum_index k, int parts) {
  for (int i = 1; i <= parts; i++) {
    if (!add_line(c, k, i == parts ? 1.0 : (double)i / parts)) return false;
  }
  return true;
}

static bool split_wall(columns *c, const cavum_mesh_options *options) {
  const cavum_contour *contour = c->contour;
  cavum_index first = 2, last = contour->num_curves - 2;
  if (!add_line(c, first, 0.0)) return false;
  for (cavum_index k = first; k <= last; k++) {
    const cavum_curve *curve = &contour->curves[k];
    bool tube = curve->kind == CAVUM_CURVE_LINE && curve->start.r_m == curve->end.r_m;
    bool added;
    if (tube && (k == first || k == last) && first != last) {
      added = split_tube(c, k, k == last, options->refinement);
    } else {
      double parts = options->refinement * turn_of(curve) / options->largest_turn_rad - 1e-6;
      double radius = cavum_max(curve->start.r_m, curve->end.r_m);
      double length = hypot(curve->end.z_m - curve->start.z_m, curve->end.r_m - curve->start.r_m);
      parts = cavum_max(parts, options->refinement * length / (STRAIGHT_MOST * radius) - 0.2);
      added = parts < COLUMNS_MOST && split_evenly(c, k, parts > 1.0 ? (int)ceil(parts) : 1);
    }
    if (!added) return false;
    if (k < last) {  // the next piece leaves from here
      c->line[c->count - 1].curve[1] = k + 1;
      c->line[c->count - 1].t[1] = 0.0;
    }
  }
  return true;
}

// Feet: at the wall's own z at the ends, at extrema of the radius and along horizontal walls;
// spread by the travel of the wall in between.
static bool is_anchor(const columns *c, int i) {
  if (i == 0 || i == c->count - 1) return true;
  double r = c->line[i].wall.r_m, before = c->line[i - 1].wall.r_m, after = c->line[i + 1].wall.r_m;
  return (r >= before && r >= after) || (r <= before && r <= after);
}

static bool place_feet(columns *c) {
  for (int i = 0; i < c->count;) {
    c->line[i].foot_z_m = c->line[i].wall.z_m;
    int next = i + 1;
    while (next < c->count && !is_anchor(c, next)) next++;
    if (next == c->count) break;
    const column *a = &c->line[i], *b = &c->line[next];
    for (int k = i + 1; k < next; k++) {
      double part = (c->line[k].spread - a->spread) / (b->spread - a->spread);
      c->line[k].foot_z_m = a->wall.z_m + part * (b->wall.z_m - a->wall.z_m);
    }
    i = next;
  }
  for (int i = 1; i < c->count; i++) {  // travel is from right to left
    if (!(c->line[i].foot_z_m < c->line[i - 1].foot_z_m)) return false;
  }
  return true;
}

static double smallest_radius(const columns *c) {
  double radius = HUGE_VAL;
  for (int i = 0; i < c->count; i++) radius = cavum_min(radius, c->line[i].wall.r_m);
  return radius;
}

// Outward normal of the wall at a column: the mean of the pieces that meet there.
static cavum_point outward_normal(const columns *c, const column *line) {
  cavum_point sum = {0.0, 0.0};
  for (int i = 0; i < 2; i++) {
    cavum_point along = cavum_curve_derivative(&c->contour->curves[line->curve[i]], line->t[i]);
    double length = hypot(along.z_m, along.r_m);
    sum.z_m += along.r_m / length;  // to the right of travel
    sum.r_m -= along.z_m / length;
  }
  double length = hypot(sum.z_m, sum.r_m);
  if (length < 1e-6) return (cavum_point){0.0, 1.0};
  return (cavum_point){sum.z_m / length, sum.r_m / length};
}

// Point of a column at the lower end of a row; row 0 gives the foot, `rows` the wall. Above the
// axis row the column is the cubic that leaves upward and meets the wall along its normal.
static cavum_point row_point(const columns *c, int i, int row, int rows, double axis_row_m) {
  const column *line = &c->line[i];
  if (row == 0) return (cavum_point){line->foot_z_m, 0.0};
  if (row == rows) return line->wall;
  double t = rows == 3 && row == 2 ? MIDDLE_ROW : (double)(row - 1) / (rows - 1);
  cavum_point n = outward_normal(c, line);
  bool at_end = i == 0 || i == c->count - 1;  // on the plane at an end
  if (at_end) n = (cavum_point){0.0, 1.0};
  double z = line->wall.z_m - line->foot_z_m, r = line->wall.r_m - axis_row_m;
  double reach = hypot(z, r), w = t * t * (3.0 - 2.0 * t);
  double leave = t * (1.0 - t) * (1.0 - t) * reach, meet = -t * t * (1.0 - t) * reach;
  return (cavum_point){line->foot_z_m + w * z + meet * n.z_m,
                       axis_row_m + w * r + leave + meet * n.r_m};
}

// Sides on the planes at the two ends and on the axis are lines: their parameter is a proportion.
static double line_parameter(const cavum_curve *curve, cavum_point p) {
  double z = curve->end.z_m - curve->start.z_m, r = curve->end.r_m - curve->start.r_m;
  return ((p.z_m - curve->start.z_m) * z + (p.r_m - curve->start.r_m) * r) / (z * z + r * r);
}

static void set_line_side(cavum_quad *quad, int side, const cavum_quads *quads, cavum_index curve) {
  quad->curve[side] = curve;
  for (int end = 0; end < 2; end++) {
    double t = line_parameter(&quads->contour->curves[curve],
                              quads->vertices[quad->vertex[(side + end) % 4]]);
    quad->t[side][end] = t < 1e-12 ? 0.0 : (t > 1.0 - 1e-12 ? 1.0 : t);
  }
}

// Quadrilateral between columns i (right) and i + 1 (left) and levels j, j + 1.
static bool add_quad(cavum_quads *quads, const columns *c, int i, int j, int rows) {
  int stride = rows + 1;
  cavum_quad quad = {.vertex = {(i + 1) * stride + j, i * stride + j, i * stride + j + 1,
                                (i + 1) * stride + j + 1},
                     .curve = {-1, -1, -1, -1}};
  if (j == 0) set_line_side(&quad, 0, quads, 0);
  if (i == 0) set_line_side(&quad, 1, quads, 1);
  if (i == c->count - 2) set_line_side(&quad, 3, quads, c->contour->num_curves - 1);
  if (j == rows - 1) {
    quad.curve[2] = c->line[i].curve[1];
    quad.t[2][0] = c->line[i].t[1];
    quad.t[2][1] = c->line[i + 1].t[0];
  }
  return cavum_quads_add(quads, &quad);
}

static bool fill_quads(cavum_quads *quads, const columns *c, int rows) {
  double axis_row = AXIS_ROW * smallest_radius(c);
  for (int i = 0; i < c->count; i++) {
    for (int j = 0; j <= rows; j++) {
      if (cavum_quads_add_vertex(quads, row_point(c, i, j, rows, axis_row)) < 0) {
        return false;
      }
    }
  }
  for (int i = 0; i + 1 < c->count; i++) {
    for (int j = 0; j < rows; j++) {
      if (!add_quad(quads, c, i, j, rows)) return false;
    }
  }
  return true;
}

cavum_status cavum_columns_build(cavum_quads *quads, const cavum_contour *contour,
                                 const cavum_mesh_options *options, cavum_error *error) {
  quads->contour = contour;
  quads->num_vertices = quads->num_quads = 0;
  if (!is_columnar(contour)) return CAVUM_OK;
  columns *c = cavum_alloc(1, sizeof *c);
  if (!c) return cavum_fail_memory(error);
  c->contour = contour;
  cavum_status status = CAVUM_OK;
  int rows = (int)lround(3.0 * options->refinement);
  rows = rows < 3 ? 3 : (rows > ROWS_MOST ? ROWS_MOST : rows);
  if (split_wall(c, options) && place_feet(c) && smallest_radius(c) > 0.0) {
    if (!fill_quads(quads, c, rows)) status = cavum_fail_memory(error);
  }
  free(c);
  return status;
}
