// SPDX-License-Identifier: GPL-3.0-or-later
// A conductor much thinner than the elements beside it is not felt: polynomials cannot carry the
// 1 / r^2 that w = H / r has there, all degrees leave it out alike, and what the degrees change
// tells nothing of it. How much they lack follows from radii and degree alone.
#include "element/thin_conductor.h"

#include <float.h>
#include <math.h>

#include "base/base.h"
#include "contour/gauss.h"

enum { POINTS = 2 * CAVUM_HALF_RULE };

// Elements that are looked at one above the other.
enum { MOST_OUTWARD = 40 };

// Part of the normal of a wall that faces away from the axis which is along r, at least.
static const double FACING_AWAY = 0.3;
// An element of this ratio of radii lacks less than 1e-6 at degree 5 already unless it is smaller
// than a thousandth of the wave length.
static const double SMALL_RATIO = 1.2;
// Least exponent nu of a tip (element/singular_exponent.h).
static const double LEAST_EXPONENT = 0.2;
// Radius over the distance from the tip, at most: around wider cones the field has no part that
// goes as 1 / r far out, and what degrees change there tells how much is missing.
static const double SLENDER = 0.25;

// A polynomial and the one of a degree less at the points of a rule with weight r.
typedef struct sampled {
  double r[POINTS], weight[POINTS];  // the latter with r
  double now[POINTS], before[POINTS];
} sampled;

static void set_points(sampled *s, double from, double to) {
  for (int i = 0; i < POINTS; i++) {
    int k = i / 2;
    double x = i % 2 ? cavum_gauss_abscissa[k] : -cavum_gauss_abscissa[k];
    s->r[i] = 0.5 * (from + to) + 0.5 * (to - from) * x;
    s->weight[i] = 0.5 * (to - from) * cavum_gauss_weight[k] * s->r[i];
    s->now[i] = 1.0;
    s->before[i] = 0.0;
  }
}

// The next polynomial of the recurrence, not yet of norm 1.
static void step(sampled *s, double mean, double last_norm) {
  for (int i = 0; i < POINTS; i++) {
    double next = (s->r[i] - mean) * s->now[i] - last_norm * s->before[i];
    s->before[i] = s->now[i];
    s->now[i] = next;
  }
}

static void divide(sampled *s, double norm) {
  for (int i = 0; i < POINTS; i++) s->now[i] /= norm;
}

static double norm_of(const sampled *s) {
  double sum = 0.0;
  for (int i = 0; i < POINTS; i++) sum += s->weight[i] * s->now[i] * s->now[i];
  return sqrt(sum);
}

static double mean_of(const sampled *s) {
  double sum = 0.0;
  for (int i = 0; i < POINTS; i++) sum += s->weight[i] * s->r[i] * s->now[i] * s->now[i];
  return sum;
}

static double integral_of(const sampled *s) {
  double sum = 0.0;
  for (int i = 0; i < POINTS; i++) sum += s->weight[i] * s->now[i];
  return sum;
}

// Orthonormal polynomials by their recurrence (Stieltjes), on the element and below it, where all
// have one sign: nothing cancels.
double cavum_thin_misfit(double ratio, int degree) {
  sampled element, below;
  set_points(&element, 1.0, ratio);
  set_points(&below, 0.0, 1.0);
  double sum = 0.0, norm = 0.0;
  degree = degree < CAVUM_MISFIT_DEGREE_MOST ? degree : CAVUM_MISFIT_DEGREE_MOST;
  for (int n = 0; n <= degree; n++) {
    if (n > 0) {
      double mean = mean_of(&element);
      step(&element, mean, norm);
      step(&below, mean, norm);
    }
    norm = norm_of(&element);
    divide(&element, norm);
    divide(&below, norm);
    double integral = integral_of(&below);
    sum += integral * integral;
  }
  return 1.0 / (sum * log(ratio));
}

static bool is_conducting(cavum_boundary boundary) {
  return boundary == CAVUM_BOUNDARY_METAL || boundary == CAVUM_BOUNDARY_ELECTRIC;
}

bool cavum_thin_faces_away(cavum_point a, cavum_point b) {
  return b.z_m - a.z_m > FACING_AWAY * hypot(b.z_m - a.z_m, b.r_m - a.r_m);
}

// Side k of an element that is a conductor and faces away from the axis.
static bool faces_away(const cavum_mesh *mesh, const cavum_element *element, int k) {
  if (!is_conducting(mesh->edges[element->edge[k]].boundary)) return false;
  return cavum_thin_faces_away(mesh->vertices[element->vertex[k]],
                               mesh->vertices[element->vertex[(k + 1) % element->num_corners]]);
}

static double largest_radius(const cavum_mesh *mesh) {
  double largest = 0.0;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    largest = cavum_max(largest, mesh->vertices[i].r_m);
  }
  return largest;
}

// What conductors are looked at with.
typedef struct look {
  const cavum_mesh *mesh;
  int degree;
  double k2_per_m2, lack_most, axis_m, largest_m;  // radii up to axis_m are on the axis
  cavum_point surface;                             // of the conductor
} look;

// Distance from the nearest place where a conductor meets the axis.
static double distance_from_tip(const cavum_mesh *mesh, cavum_point from, double axis_m) {
  double least = HUGE_VAL;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (!is_conducting(edge->boundary)) continue;
    for (int end = 0; end < 2; end++) {
      cavum_point at = mesh->vertices[edge->vertex[end]];
      if (at.r_m > axis_m) continue;
      least = cavum_min(least, hypot(at.z_m - from.z_m, at.r_m - from.r_m));
    }
  }
  return least;
}

double cavum_thin_lack(const cavum_thin_place *place, int degree, double k2_per_m2) {
  double a = place->radius_m, s = place->side_m + place->from_tip_m;
  if (place->outer_m < SMALL_RATIO * a || a > SLENDER * place->from_tip_m) return 0.0;
  return cavum_thin_misfit(place->outer_m / a, degree) / (a * a) / (k2_per_m2 + 1.0 / (s * s));
}

// Whether a place is so near to a slender conductor that its current counts.
static bool is_near(const look *with, cavum_point a) {
  return a.r_m <= SLENDER * distance_from_tip(with->mesh, a, with->axis_m);
}

// At the end `a` of a side that is a conductor, of which `length_m` leads to the other end, the
// element reaches to the radius `outer_m`. At a tip itself the field is that of a cone, which
// layers are for.
static void look_at(cavum_thin_conductor *worst, const look *with, cavum_point a, double outer_m,
                    double length_m) {
  if (a.r_m <= with->axis_m || outer_m < SMALL_RATIO * a.r_m) return;
  double from_tip = distance_from_tip(with->mesh, a, with->axis_m);
  cavum_thin_place place = {a.r_m, outer_m, from_tip, length_m};
  double lack = cavum_thin_lack(&place, with->degree, with->k2_per_m2);
  if (lack == 0.0) return;
  double square = with->k2_per_m2 * (length_m + from_tip) * (length_m + from_tip);
  double part = square < 1.0 ? pow(square, 0.5 + LEAST_EXPONENT) : 1.0;
  double radii = with->largest_m / a.r_m;
  worst->rounding = cavum_max(worst->rounding, part * DBL_EPSILON * radii * radii);
  if (lack < with->lack_most || part <= worst->part) return;
  worst->part = part;
  worst->place = with->surface;
}

// The element across side k of one, and which side of that it is; NULL where there is none.
static const cavum_element *across(int *its, const cavum_mesh *mesh, const cavum_element *element,
                                   int k) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *other = &mesh->elements[e];
    for (int i = 0; i < other->num_corners && other != element; i++) {
      if (other->edge[i] != element->edge[k]) continue;
      *its = i;
      return other;
    }
  }
  return NULL;
}

// The element on side k, a conductor, and those above it as far as the field is that of the
// current below them.
static void look_outward(cavum_thin_conductor *worst, look *with, const cavum_element *element,
                         int k) {
  const cavum_point *vertices = with->mesh->vertices;
  with->surface = vertices[element->vertex[k]];
  for (int step = 0; element && step < MOST_OUTWARD; step++) {
    int n = element->num_corners;
    cavum_point a = vertices[element->vertex[k]], b = vertices[element->vertex[(k + 1) % n]];
    double length_m = hypot(b.z_m - a.z_m, b.r_m - a.r_m);
    look_at(worst, with, a, vertices[element->vertex[(k + n - 1) % n]].r_m, length_m);
    look_at(worst, with, b, vertices[element->vertex[(k + 2) % n]].r_m, length_m);
    if (n < 4 || !is_near(with, a) || !is_near(with, b)) return;
    element = across(&k, with->mesh, element, (k + 2) % n);
  }
}

cavum_thin_conductor cavum_thin_conductor_find(const cavum_mesh *mesh, int degree, double k2_per_m2,
                                               double lack_most) {
  cavum_thin_conductor worst = {0};
  double largest = largest_radius(mesh);
  look with = {mesh, degree, k2_per_m2, lack_most, CAVUM_ON_AXIS * largest, largest, {0.0, 0.0}};
  double least = HUGE_VAL;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    least = cavum_min(least, mesh->vertices[i].r_m);
  }
  if (least > with.axis_m) return worst;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    for (int k = 0; k < element->num_corners; k++) {
      if (faces_away(mesh, element, k)) look_outward(&worst, &with, element, k);
    }
  }
  return worst;
}
