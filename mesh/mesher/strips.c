// SPDX-License-Identifier: GPL-3.0-or-later
// Along a thin conductor the field goes as 1 / r, but hardly changes along it: elements may be
// long, and must be thin. A quadrilateral A B C D with the side A B on the conductor becomes
// A B Q P and P Q C D; one that has only a corner A there is divided as at a corner of the outline
// (grade.h). P and Q stand at a fixed part of the sides that leave the conductor, so neighbours fit
// together. This is repeated on A B Q P.
#include "mesher/strips.h"

#include "base/base.h"
#include "element/thin_conductor.h"
#include "mesher/grade.h"

// Way from the conductor to the new vertices over the whole side: radii of a strip then differ by
// up to 2. With 4 the second and third strip beside a wire of 3 um were not felt below degree 12.
static const double STRIP_FRACTION = 0.5;
// Degree at which strips lack no more than this; some hundredth of it at two degrees more.
enum { STRIP_DEGREE = 8 };
static const double STRIP_LACK = 1e-2;
// Wave number of the lowest mode of a pillbox times its radius, the first zero of J0.
static const double LOWEST = 2.405;
// A conductor of 1e-6 of the cell needs some 20.
enum { MOST_STRIPS = 24 };

// One run over all quadrilaterals.
typedef struct strips {
  cavum_quads *quads;
  double k2_per_m2, axis_m;  // radii up to axis_m are on the axis
  bool *marked;              // vertices on thin conductors, shape [num_marked]
  cavum_index num_marked;    // vertices before the first strip
  cavum_grade_spokes made;
} strips;

static bool is_conductor(const cavum_curve *curve) {
  return curve->boundary == CAVUM_BOUNDARY_METAL || curve->boundary == CAVUM_BOUNDARY_ELECTRIC;
}

// Distance from the nearest place where a conductor meets the axis.
static double distance_from_tip(const strips *run, cavum_point from) {
  const cavum_contour *contour = run->quads->contour;
  double least = HUGE_VAL;
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    if (!is_conductor(&contour->curves[c])) continue;
    for (int end = 0; end < 2; end++) {
      cavum_point at = cavum_curve_point(&contour->curves[c], (double)end);
      if (at.r_m > run->axis_m) continue;
      least = cavum_min(least, hypot(at.z_m - from.z_m, at.r_m - from.r_m));
    }
  }
  return least;
}

// Whether the element reaches too far out at the end `a` of a side on a conductor.
static bool is_coarse(const strips *run, cavum_point a, cavum_point outer, double length_m) {
  if (a.r_m <= run->axis_m) return false;
  cavum_thin_place place = {a.r_m, outer.r_m, distance_from_tip(run, a), length_m};
  return cavum_thin_lack(&place, STRIP_DEGREE, run->k2_per_m2) > STRIP_LACK;
}

static bool is_thin_side(const strips *run, const cavum_quad *quad, int k) {
  const cavum_quads *quads = run->quads;
  if (quad->curve[k] < 0) return false;
  const cavum_curve *curve = &quads->contour->curves[quad->curve[k]];
  if (!is_conductor(curve) || curve->kind != CAVUM_CURVE_LINE) return false;
  cavum_point a = quads->vertices[quad->vertex[k]], b = quads->vertices[quad->vertex[(k + 1) % 4]];
  if (!cavum_thin_faces_away(a, b)) return false;
  double length_m = hypot(b.z_m - a.z_m, b.r_m - a.r_m);
  return is_coarse(run, a, quads->vertices[quad->vertex[(k + 3) % 4]], length_m) ||
         is_coarse(run, b, quads->vertices[quad->vertex[(k + 2) % 4]], length_m);
}

// Marks the ends of all sides that need a strip. @return Whether there are any.
static bool mark(strips *run) {
  bool any = false;
  for (cavum_index q = 0; q < run->quads->num_quads; q++) {
    const cavum_quad *quad = &run->quads->quads[q];
    for (int k = 0; k < 4; k++) {
      if (!is_thin_side(run, quad, k)) continue;
      any = run->marked[quad->vertex[k]] = run->marked[quad->vertex[(k + 1) % 4]] = true;
    }
  }
  return any;
}

static bool is_marked(const strips *run, const cavum_quad *quad, int k) {
  cavum_index vertex = quad->vertex[k % 4];
  return vertex < run->num_marked && run->marked[vertex];
}

// Whether the last strip is too thick somewhere.
static bool needs_more(const strips *run) {
  for (cavum_index q = 0; q < run->quads->num_quads; q++) {
    const cavum_quad *quad = &run->quads->quads[q];
    for (int k = 0; k < 4; k++) {
      if (is_marked(run, quad, k) && is_marked(run, quad, k + 1) && is_thin_side(run, quad, k)) {
        return true;
      }
    }
  }
  return false;
}

// How a quadrilateral is divided.
typedef enum pattern { PATTERN_NONE, PATTERN_CORNER, PATTERN_SIDE, PATTERN_OTHER } pattern;

static bool is_on_straight_conductor(const strips *run, const cavum_quad *quad, int k) {
  if (quad->curve[k] < 0) return false;
  const cavum_curve *curve = &run->quads->contour->curves[quad->curve[k]];
  return is_conductor(curve) && curve->kind == CAVUM_CURVE_LINE;
}

// *corner: the marked corner, or where the marked side begins.
static pattern pattern_of(int *corner, const strips *run, const cavum_quad *quad) {
  int count = 0;
  *corner = -1;
  for (int k = 0; k < 4; k++) {
    if (!is_marked(run, quad, k)) continue;
    count++;
    if (*corner < 0 || is_marked(run, quad, k + 1)) *corner = k;
  }
  if (count < 2) return count == 0 ? PATTERN_NONE : PATTERN_CORNER;
  bool adjacent = count == 2 && is_marked(run, quad, *corner + 1);
  return adjacent && is_on_straight_conductor(run, quad, *corner) ? PATTERN_SIDE : PATTERN_OTHER;
}

static bool can_divide_all(const strips *run) {
  int corner;
  for (cavum_index q = 0; q < run->quads->num_quads; q++) {
    if (pattern_of(&corner, run, &run->quads->quads[q]) == PATTERN_OTHER) return false;
  }
  return true;
}

// A B C D with A at corner k: A B Q P and P Q C D.
static cavum_status divide_side(strips *run, cavum_index q, int k, cavum_error *error) {
  cavum_quads *quads = run->quads;
  cavum_quad old = quads->quads[q];
  int k1 = (k + 1) % 4, k2 = (k + 2) % 4, k3 = (k + 3) % 4;
  double tq = old.t[k1][0] + STRIP_FRACTION * (old.t[k1][1] - old.t[k1][0]);
  double tp = old.t[k3][1] + STRIP_FRACTION * (old.t[k3][0] - old.t[k3][1]);
  cavum_index a = old.vertex[k], b = old.vertex[k1], c = old.vertex[k2], d = old.vertex[k3];
  cavum_index p =
      cavum_grade_spoke_vertex(&run->made, quads, a, d, old.curve[k3], tp, STRIP_FRACTION);
  cavum_index m =
      p < 0 ? -1
            : cavum_grade_spoke_vertex(&run->made, quads, b, c, old.curve[k1], tq, STRIP_FRACTION);
  if (m < 0) return cavum_fail_memory(error);
  quads->quads[q] =
      (cavum_quad){{a, b, m, p},
                   {old.curve[k], old.curve[k1], -1, old.curve[k3]},
                   {{old.t[k][0], old.t[k][1]}, {old.t[k1][0], tq}, {0}, {tp, old.t[k3][1]}}};
  cavum_quad outer = {{p, m, c, d},
                      {-1, old.curve[k1], old.curve[k2], old.curve[k3]},
                      {{0}, {tq, old.t[k1][1]}, {old.t[k2][0], old.t[k2][1]}, {old.t[k3][0], tp}}};
  return cavum_quads_add(quads, &outer) ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status divide_all(strips *run, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index count = run->quads->num_quads;
  int corner;
  for (cavum_index q = 0; q < count && status == CAVUM_OK; q++) {
    pattern found = pattern_of(&corner, run, &run->quads->quads[q]);
    if (found == PATTERN_SIDE) status = divide_side(run, q, corner, error);
    if (found == PATTERN_CORNER) {
      status = cavum_grade_quad(&run->made, run->quads, q, corner, STRIP_FRACTION, error);
    }
  }
  return status;
}

// Strips along all marked conductors, as many as the one that needs most: they end together, at
// elements that are not yet thin.
static cavum_status add_strips(strips *run, cavum_error *error) {
  for (int i = 0; i < MOST_STRIPS && can_divide_all(run); i++) {
    cavum_status status = divide_all(run, error);
    cavum_grade_spokes_clear(&run->made);
    if (status != CAVUM_OK || !needs_more(run)) return status;
  }
  return CAVUM_OK;
}

cavum_status cavum_strips_add(cavum_quads *quads, cavum_error *error) {
  double least = HUGE_VAL, largest = 0.0;
  for (cavum_index i = 0; i < quads->num_vertices; i++) {
    least = cavum_min(least, quads->vertices[i].r_m);
    largest = cavum_max(largest, quads->vertices[i].r_m);
  }
  strips run = {.quads = quads, .axis_m = CAVUM_ON_AXIS * largest};
  if (least > run.axis_m || quads->num_vertices == 0) return CAVUM_OK;
  run.k2_per_m2 = LOWEST * LOWEST / (largest * largest);
  run.num_marked = quads->num_vertices;
  run.marked = cavum_alloc(run.num_marked, sizeof *run.marked);
  if (!run.marked) return cavum_fail_memory(error);
  cavum_status status = mark(&run) ? add_strips(&run, error) : CAVUM_OK;
  free(run.marked);
  return status;
}
