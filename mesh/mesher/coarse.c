// SPDX-License-Identifier: GPL-3.0-or-later
// The coarse triangulation. Points go to circumcentres of triangles that are too large (worst
// first) as long as they keep their distance from all others, then they are relaxed, and edges are
// flipped where the true angles, between tangents of the curves, are poor. A corner of a smooth
// wall that belongs to one triangle alone would stay an angle near 180 degrees for ever: it is
// split.
#include "mesher/coarse.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"

// A triangle is too large when its circumradius exceeds this times the size; half a square has
// 0.71.
static const double RADIUS_LIMIT = 0.95;
// A new point keeps this part of the size from other points, and from polygon edges.
static const double POINT_DISTANCE = 0.6, EDGE_DISTANCE = 0.35;
// Largest corner of a triangle that is accepted without trying to split it.
static const double WIDEST_CORNER_RAD = 2.36;
// Cosine of the turn of a corner of 110 degrees, and what dividing such a corner leaves of the
// quality: an element of 45 degrees on the axis costs digits of E_z.
static const double NARROW_COSINE = 0.34, DIVIDED_CORNER_FACTOR = 0.5;
enum { RELAXATIONS = 3, FLIP_SWEEPS = 4 };

void cavum_coarse_clear(cavum_coarse *coarse) {
  if (!coarse) return;
  cavum_delaunay_clear(&coarse->triangulation);
  free(coarse->ends);
  memset(coarse, 0, sizeof *coarse);
}

static cavum_point unit(double z, double r) {
  double length = hypot(z, r);
  return length > 0.0 ? (cavum_point){z / length, r / length} : (cavum_point){0.0, 0.0};
}

cavum_status cavum_coarse_set_segments(cavum_coarse *coarse, const cavum_contour *contour,
                                       const cavum_segments *segments, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = segments->num_segments;
  cavum_coarse_clear(coarse);
  coarse->contour = contour;
  coarse->segments = segments;
  coarse->ends = cavum_alloc(n, sizeof *coarse->ends);
  cavum_point *points = cavum_alloc(n, sizeof *points);
  if (!coarse->ends || !points) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index k = 0; k < n; k++) {
    const cavum_segment *segment = &segments->segments[k];
    const cavum_curve *curve = &contour->curves[segment->curve];
    points[k] = cavum_curve_point(curve, segment->t[0]);
    cavum_point a = cavum_curve_derivative(curve, segment->t[0]);
    cavum_point b = cavum_curve_derivative(curve, segment->t[2]);
    coarse->ends[k] = (cavum_segment_ends){unit(a.z_m, a.r_m), unit(b.z_m, b.r_m)};
  }
  CAVUM_TRY(cavum_delaunay_set_polygon(&coarse->triangulation, n, points, error));
done:
  free(points);
  return status;
}

cavum_index cavum_coarse_segment(const cavum_coarse *coarse, cavum_index t, int k) {
  const cavum_triangle *triangle = &coarse->triangulation.triangles[t];
  return triangle->neighbour[k] < 0 ? triangle->vertex[k] : -1;
}

static cavum_point direction_out(const cavum_coarse *coarse, cavum_index t, int k) {
  cavum_index segment = cavum_coarse_segment(coarse, t, k);
  if (segment >= 0) return coarse->ends[segment].start;
  const cavum_triangle *triangle = &coarse->triangulation.triangles[t];
  cavum_point a = coarse->triangulation.points[triangle->vertex[k]];
  cavum_point b = coarse->triangulation.points[triangle->vertex[(k + 1) % 3]];
  return (cavum_point){b.z_m - a.z_m, b.r_m - a.r_m};
}

static cavum_point direction_back(const cavum_coarse *coarse, cavum_index t, int k) {
  cavum_index segment = cavum_coarse_segment(coarse, t, k);
  if (segment >= 0) {
    return (cavum_point){-coarse->ends[segment].end.z_m, -coarse->ends[segment].end.r_m};
  }
  const cavum_triangle *triangle = &coarse->triangulation.triangles[t];
  cavum_point a = coarse->triangulation.points[triangle->vertex[k]];
  cavum_point b = coarse->triangulation.points[triangle->vertex[(k + 1) % 3]];
  return (cavum_point){a.z_m - b.z_m, a.r_m - b.r_m};
}

double cavum_coarse_angle(const cavum_coarse *coarse, cavum_index out_edge, cavum_index in_edge) {
  cavum_point a = direction_out(coarse, out_edge / 3, out_edge % 3);
  cavum_point b = direction_back(coarse, in_edge / 3, in_edge % 3);
  double angle = atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m);
  return angle < 0.0 ? angle + 2.0 * CAVUM_PI : angle;
}

static double triangle_angle(const cavum_coarse *coarse, cavum_index t, int corner) {
  return cavum_coarse_angle(coarse, 3 * t + corner, 3 * t + (corner + 2) % 3);
}

bool cavum_coarse_is_narrow_corner(const cavum_coarse *coarse, cavum_index point) {
  cavum_index n = coarse->triangulation.num_boundary;
  if (point >= n) return false;
  cavum_point a = coarse->ends[point > 0 ? point - 1 : n - 1].end, b = coarse->ends[point].start;
  bool left = a.z_m * b.r_m - a.r_m * b.z_m > 0.0;
  return left && a.z_m * b.z_m + a.r_m * b.r_m < NARROW_COSINE;
}

// True when a triangle has only a part of a narrow corner.
static bool divides_corner(const cavum_coarse *coarse, cavum_index t, int corner) {
  const cavum_triangle *triangle = &coarse->triangulation.triangles[t];
  if (triangle->neighbour[corner] < 0 && triangle->neighbour[(corner + 2) % 3] < 0) return false;
  return cavum_coarse_is_narrow_corner(coarse, triangle->vertex[corner]);
}

// 1 for 60 degrees everywhere, 0 for 0 or 180 degrees anywhere, negative beyond.
static double triangle_quality(const cavum_coarse *coarse, cavum_index t) {
  double quality = 1.0, factor = 1.0;
  for (int k = 0; k < 3; k++) {
    double angle = triangle_angle(coarse, t, k);
    quality = cavum_min(quality, angle * 3.0 / CAVUM_PI);
    quality = cavum_min(quality, (CAVUM_PI - angle) * 1.5 / CAVUM_PI);
    if (divides_corner(coarse, t, k)) factor = DIVIDED_CORNER_FACTOR;
  }
  return quality > 0.0 ? factor * quality : quality;
}

// Circumcentre and circumradius.
static double circumcircle(cavum_point *centre, const cavum_triangulation *mesh, cavum_index t) {
  const cavum_index *v = mesh->triangles[t].vertex;
  cavum_point a = mesh->points[v[0]];
  double bz = mesh->points[v[1]].z_m - a.z_m, br = mesh->points[v[1]].r_m - a.r_m;
  double cz = mesh->points[v[2]].z_m - a.z_m, cr = mesh->points[v[2]].r_m - a.r_m;
  double d = 2.0 * (bz * cr - br * cz), b2 = bz * bz + br * br, c2 = cz * cz + cr * cr;
  double uz = (cr * b2 - br * c2) / d, ur = (bz * c2 - cz * b2) / d;
  *centre = (cavum_point){a.z_m + uz, a.r_m + ur};
  return hypot(uz, ur);
}

static cavum_point centroid(const cavum_triangulation *mesh, cavum_index t) {
  const cavum_index *v = mesh->triangles[t].vertex;
  cavum_point a = mesh->points[v[0]], b = mesh->points[v[1]], c = mesh->points[v[2]];
  return (cavum_point){(a.z_m + b.z_m + c.z_m) / 3.0, (a.r_m + b.r_m + c.r_m) / 3.0};
}

static double oversize(const cavum_coarse *coarse, const cavum_size_field *field, cavum_index t) {
  cavum_point centre;
  double radius = circumcircle(&centre, &coarse->triangulation, t);
  double size = cavum_size_field_at(field, centroid(&coarse->triangulation, t));
  return radius / (RADIUS_LIMIT * size);
}

static double distance(cavum_point a, cavum_point b) { return hypot(a.z_m - b.z_m, a.r_m - b.r_m); }

static double distance_to_edge(cavum_point p, cavum_point a, cavum_point b) {
  double dz = b.z_m - a.z_m, dr = b.r_m - a.r_m, square = dz * dz + dr * dr;
  double along = square > 0.0 ? ((p.z_m - a.z_m) * dz + (p.r_m - a.r_m) * dr) / square : 0.0;
  along = cavum_max(0.0, cavum_min(1.0, along));
  return hypot(p.z_m - a.z_m - along * dz, p.r_m - a.r_m - along * dr);
}

static bool keeps_distance_in(const cavum_triangulation *mesh, cavum_index t, cavum_point place,
                              double size) {
  const cavum_triangle *triangle = &mesh->triangles[t];
  for (int k = 0; k < 3; k++) {
    cavum_point a = mesh->points[triangle->vertex[k]];
    cavum_point b = mesh->points[triangle->vertex[(k + 1) % 3]];
    if (distance(place, a) < POINT_DISTANCE * size) return false;
    if (triangle->neighbour[k] < 0 && distance_to_edge(place, a, b) < EDGE_DISTANCE * size) {
      return false;
    }
  }
  return true;
}

static bool keeps_distance(const cavum_triangulation *mesh, cavum_index t, cavum_point place,
                           double size) {
  if (!keeps_distance_in(mesh, t, place, size)) return false;
  for (int k = 0; k < 3; k++) {
    cavum_index neighbour = mesh->triangles[t].neighbour[k];
    if (neighbour >= 0 && !keeps_distance_in(mesh, neighbour, place, size)) return false;
  }
  return true;
}

// A place for a new point that makes triangle t smaller, and the triangle that holds it, or -1.
static cavum_index find_place(cavum_point *place, const cavum_coarse *coarse,
                              const cavum_size_field *field, cavum_index t) {
  const cavum_triangulation *mesh = &coarse->triangulation;
  circumcircle(place, mesh, t);
  cavum_index host = cavum_delaunay_locate(mesh, t, *place);
  if (host >= 0 && keeps_distance(mesh, host, *place, cavum_size_field_at(field, *place))) {
    return host;
  }
  *place = centroid(mesh, t);
  host = cavum_delaunay_locate(mesh, t, *place);
  if (host >= 0 && keeps_distance(mesh, host, *place, cavum_size_field_at(field, *place))) {
    return host;
  }
  return -1;
}

// Sizes of triangles against the field, kept beside the triangulation.
typedef struct scores {
  int64_t capacity;
  double *of;
} scores;

static cavum_status score_star(scores *list, const cavum_coarse *coarse,
                               const cavum_size_field *field, cavum_index point, cavum_index start,
                               cavum_error *error) {
  if (!cavum_grow((void **)&list->of, &list->capacity, coarse->triangulation.num_triangles,
                  sizeof *list->of)) {
    return cavum_fail_memory(error);
  }
  cavum_index t = start;
  do {
    list->of[t] = oversize(coarse, field, t);
    t = cavum_delaunay_next_around(&coarse->triangulation, t, point);
  } while (t != start);
  return CAVUM_OK;
}

static cavum_status add_points(cavum_coarse *coarse, const cavum_size_field *field,
                               cavum_index most, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_triangulation *mesh = &coarse->triangulation;
  scores list = {0, NULL};
  if (!cavum_grow((void **)&list.of, &list.capacity, mesh->num_triangles, sizeof *list.of)) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  for (cavum_index t = 0; t < mesh->num_triangles; t++) list.of[t] = oversize(coarse, field, t);
  for (;;) {
    cavum_index worst = 0;
    for (cavum_index t = 1; t < mesh->num_triangles; t++) {
      if (list.of[t] > list.of[worst]) worst = t;
    }
    if (list.of[worst] <= 1.0) break;
    CAVUM_TRY(cavum_stop_check(error));
    list.of[worst] = 0.0;  // not to be tried again unless it changes
    cavum_point place;
    cavum_index host = find_place(&place, coarse, field, worst);
    if (host < 0) continue;
    if (mesh->num_points >= most) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_MESH,
                           "the sizes asked for need more than %d points inside", (int)most));
    }
    bool added;
    CAVUM_TRY(cavum_delaunay_insert(mesh, &added, host, place, error));
    if (!added) continue;
    CAVUM_TRY(score_star(&list, coarse, field, mesh->num_points - 1, host, error));
  }
done:
  free(list.of);
  return status;
}

// Moves inner points to the middle of their neighbours, then restores the Delaunay property.
static void relax_points(cavum_triangulation *mesh) {
  for (int sweep = 0; sweep < RELAXATIONS; sweep++) {
    for (cavum_index t = 0; t < mesh->num_triangles && !cavum_stop_asked(); t++) {
      for (int k = 0; k < 3; k++) {
        cavum_index point = mesh->triangles[t].vertex[k];
        // Each point is moved from the triangle that names it first around it.
        if (point < mesh->num_boundary) continue;
        cavum_index u = t, first = t;
        double z = 0.0, r = 0.0;
        int count = 0;
        do {
          const cavum_index *v = mesh->triangles[u].vertex;
          int corner = v[0] == point ? 0 : v[1] == point ? 1 : 2;
          cavum_point next = mesh->points[v[(corner + 1) % 3]];
          z += next.z_m, r += next.r_m, count++;
          if (u < first) first = u;
          u = cavum_delaunay_next_around(mesh, u, point);
        } while (u != t);
        if (first < t) continue;
        cavum_delaunay_move(mesh, point, (cavum_point){z / count, r / count}, t);
      }
    }
    cavum_delaunay_legalize_all(mesh);
  }
}

// Flips edges where that helps the worse of the two triangles, by their true angles.
static void flip_poor_edges(cavum_coarse *coarse) {
  cavum_triangulation *mesh = &coarse->triangulation;
  for (int sweep = 0; sweep < FLIP_SWEEPS; sweep++) {
    bool changed = false;
    for (cavum_index t = 0; t < mesh->num_triangles && !cavum_stop_asked(); t++) {
      for (int k = 0; k < 3; k++) {
        cavum_index u = mesh->triangles[t].neighbour[k];
        if (u < t || !cavum_delaunay_can_flip(mesh, t, k)) continue;
        double before = cavum_min(triangle_quality(coarse, t), triangle_quality(coarse, u));
        cavum_delaunay_flip(mesh, t, k);
        double after = cavum_min(triangle_quality(coarse, t), triangle_quality(coarse, u));
        if (after > before + 1e-3) {
          changed = true;
          continue;
        }
        cavum_delaunay_flip(mesh, t, 1);  // the new edge is edge 1 of t: this brings the old back
      }
    }
    if (!changed) return;
  }
}

static cavum_status split_wide_corners(cavum_coarse *coarse, cavum_error *error) {
  cavum_triangulation *mesh = &coarse->triangulation;
  cavum_index count = mesh->num_triangles;
  for (cavum_index t = 0; t < count; t++) {
    double widest = 0.0;
    for (int k = 0; k < 3; k++) widest = cavum_max(widest, triangle_angle(coarse, t, k));
    if (widest < WIDEST_CORNER_RAD) continue;
    bool added;
    cavum_point place = centroid(mesh, t);
    cavum_index host = cavum_delaunay_locate(mesh, t, place);
    if (host < 0) continue;
    cavum_status status = cavum_delaunay_insert(mesh, &added, host, place, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

cavum_status cavum_coarse_fill(cavum_coarse *coarse, const cavum_size_field *field,
                               cavum_index most, cavum_error *error) {
  cavum_status status = cavum_delaunay_triangulate(&coarse->triangulation, error);
  if (status == CAVUM_OK) status = add_points(coarse, field, most, error);
  if (status != CAVUM_OK) return status;
  relax_points(&coarse->triangulation);
  flip_poor_edges(coarse);
  status = split_wide_corners(coarse, error);
  if (status != CAVUM_OK) return status;
  flip_poor_edges(coarse);
  return cavum_stop_check(error);
}
