// SPDX-License-Identifier: GPL-3.0-or-later
// Storage and shape of quadrilaterals with curved sides. The map is the transfinite one of
// [GordonHall1973]: opposite sides blended linearly, corners counted once.
#include "mesher/quads.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"

enum { MOST_SAMPLES = CAVUM_LANES };

void cavum_quads_clear(cavum_quads *quads) {
  if (!quads) return;
  free(quads->vertices);
  free(quads->quads);
  memset(quads, 0, sizeof *quads);
}

cavum_index cavum_quads_add_vertex(cavum_quads *quads, cavum_point point) {
  if (!cavum_grow((void **)&quads->vertices, &quads->vertex_capacity,
                  (int64_t)quads->num_vertices + 1, sizeof *quads->vertices)) {
    return -1;
  }
  quads->vertices[quads->num_vertices] = point;
  return quads->num_vertices++;
}

bool cavum_quads_add(cavum_quads *quads, const cavum_quad *quad) {
  if (!cavum_grow((void **)&quads->quads, &quads->quad_capacity, (int64_t)quads->num_quads + 1,
                  sizeof *quads->quads)) {
    return false;
  }
  quads->quads[quads->num_quads++] = *quad;
  return true;
}

// A point of a side and its derivative by the side's own coordinate in [-1, 1].
typedef struct side_point {
  cavum_point at, slope;
} side_point;

static side_point evaluate_side(const cavum_quads *quads, const cavum_quad *quad, int k, double s) {
  cavum_point a = quads->vertices[quad->vertex[k]];
  cavum_point b = quads->vertices[quad->vertex[(k + 1) % 4]];
  double wa = 0.5 * (1.0 - s), wb = 0.5 * (1.0 + s);
  if (quad->curve[k] < 0) {
    return (side_point){{wa * a.z_m + wb * b.z_m, wa * a.r_m + wb * b.r_m},
                        {0.5 * (b.z_m - a.z_m), 0.5 * (b.r_m - a.r_m)}};
  }
  const cavum_curve *curve = &quads->contour->curves[quad->curve[k]];
  double t = wa * quad->t[k][0] + wb * quad->t[k][1];
  double rate = 0.5 * (quad->t[k][1] - quad->t[k][0]);
  cavum_point at = cavum_curve_point(curve, t), slope = cavum_curve_derivative(curve, t);
  return (side_point){at, {rate * slope.z_m, rate * slope.r_m}};
}

// Sides seen along increasing xi or eta: sides 2 and 3 run backwards.
static side_point evaluate_along(const cavum_quads *quads, const cavum_quad *quad, int k,
                                 double x) {
  if (k < 2) return evaluate_side(quads, quad, k, x);
  side_point point = evaluate_side(quads, quad, k, -x);
  point.slope = (cavum_point){-point.slope.z_m, -point.slope.r_m};
  return point;
}

// Blends the four sides and takes the bilinear part off; also the two derivatives.
static cavum_point blend(cavum_point *by_xi, cavum_point *by_eta, const side_point side[4],
                         const cavum_point corner[4], double xi, double eta) {
  double bottom = 0.5 * (1.0 - eta), top = 0.5 * (1.0 + eta);
  double left = 0.5 * (1.0 - xi), right = 0.5 * (1.0 + xi);
  double w[4] = {left * bottom, right * bottom, right * top, left * top};
  double w_xi[4] = {-0.5 * bottom, 0.5 * bottom, 0.5 * top, -0.5 * top};
  double w_eta[4] = {-0.5 * left, -0.5 * right, 0.5 * right, 0.5 * left};
  cavum_point at = {bottom * side[0].at.z_m + top * side[2].at.z_m + left * side[3].at.z_m +
                        right * side[1].at.z_m,
                    bottom * side[0].at.r_m + top * side[2].at.r_m + left * side[3].at.r_m +
                        right * side[1].at.r_m};
  *by_xi = (cavum_point){bottom * side[0].slope.z_m + top * side[2].slope.z_m +
                             0.5 * (side[1].at.z_m - side[3].at.z_m),
                         bottom * side[0].slope.r_m + top * side[2].slope.r_m +
                             0.5 * (side[1].at.r_m - side[3].at.r_m)};
  *by_eta = (cavum_point){left * side[3].slope.z_m + right * side[1].slope.z_m +
                              0.5 * (side[2].at.z_m - side[0].at.z_m),
                          left * side[3].slope.r_m + right * side[1].slope.r_m +
                              0.5 * (side[2].at.r_m - side[0].at.r_m)};
  for (int k = 0; k < 4; k++) {
    at.z_m -= w[k] * corner[k].z_m, at.r_m -= w[k] * corner[k].r_m;
    by_xi->z_m -= w_xi[k] * corner[k].z_m, by_xi->r_m -= w_xi[k] * corner[k].r_m;
    by_eta->z_m -= w_eta[k] * corner[k].z_m, by_eta->r_m -= w_eta[k] * corner[k].r_m;
  }
  return at;
}

static void get_corners(cavum_point corner[4], const cavum_quads *quads, const cavum_quad *quad) {
  for (int k = 0; k < 4; k++) corner[k] = quads->vertices[quad->vertex[k]];
}

cavum_point cavum_quads_map(const cavum_quads *quads, const cavum_quad *quad, double xi,
                            double eta) {
  cavum_point corner[4], by_xi, by_eta;
  get_corners(corner, quads, quad);
  side_point side[4];
  for (int k = 0; k < 4; k++) side[k] = evaluate_along(quads, quad, k, k % 2 == 0 ? xi : eta);
  return blend(&by_xi, &by_eta, side, corner, xi, eta);
}

// Points and slopes of two opposite sides at all abscissae, one to a lane.
typedef struct side_lanes {
  cavum_lanes z, r, slope_z, slope_r;
} side_lanes;

static void put_lane(side_lanes *to, int lane, const side_point *point) {
  to->z[lane] = point->at.z_m;
  to->r[lane] = point->at.r_m;
  to->slope_z[lane] = point->slope.z_m;
  to->slope_r[lane] = point->slope.r_m;
}

// det J and the product of the lengths of its columns, squared, along one row of the grid: the same
// blend as above for all xi at once.
CAVUM_FAST static void measure_row(cavum_lanes *det, cavum_lanes *norm2, const side_lanes *bottom,
                                   const side_lanes *top, const side_point *left,
                                   const side_point *right, const cavum_point corner[4],
                                   const cavum_lanes *xi, double eta) {
  double low = 0.5 * (1.0 - eta), high = 0.5 * (1.0 + eta);
  cavum_lanes west = 0.5 * (1.0 - *xi), east = 0.5 * (1.0 + *xi);
  double half_z = 0.5 * (right->at.z_m - left->at.z_m) -
                  0.5 * low * (corner[1].z_m - corner[0].z_m) -
                  0.5 * high * (corner[2].z_m - corner[3].z_m);
  double half_r = 0.5 * (right->at.r_m - left->at.r_m) -
                  0.5 * low * (corner[1].r_m - corner[0].r_m) -
                  0.5 * high * (corner[2].r_m - corner[3].r_m);
  cavum_lanes z_xi = low * bottom->slope_z + high * top->slope_z + half_z;
  cavum_lanes r_xi = low * bottom->slope_r + high * top->slope_r + half_r;
  cavum_lanes z_eta = west * left->slope.z_m + east * right->slope.z_m +
                      0.5 * (top->z - bottom->z) - 0.5 * west * (corner[3].z_m - corner[0].z_m) -
                      0.5 * east * (corner[2].z_m - corner[1].z_m);
  cavum_lanes r_eta = west * left->slope.r_m + east * right->slope.r_m +
                      0.5 * (top->r - bottom->r) - 0.5 * west * (corner[3].r_m - corner[0].r_m) -
                      0.5 * east * (corner[2].r_m - corner[1].r_m);
  *det = z_xi * r_eta - r_xi * z_eta;
  *norm2 = (z_xi * z_xi + r_xi * r_xi) * (z_eta * z_eta + r_eta * r_eta);
}

cavum_quad_shape cavum_quads_measure(const cavum_quads *quads, const cavum_quad *quad, int n) {
  CAVUM_ASSERT(n >= 2 && n <= MOST_SAMPLES);
  side_lanes bottom, top;
  side_point left[MOST_SAMPLES], right[MOST_SAMPLES];
  cavum_point corner[4];
  cavum_lanes xi, det, norm2;
  get_corners(corner, quads, quad);
  bool straight = true;
  for (int k = 0; k < 4; k++) straight = straight && quad->curve[k] < 0;
  if (straight) n = 2;  // det J of a bilinear map is extreme at corners
  for (int i = 0; i < n; i++) {
    double x = -1.0 + 2.0 * i / (n - 1);
    side_point low = evaluate_along(quads, quad, 0, x), high = evaluate_along(quads, quad, 2, x);
    right[i] = evaluate_along(quads, quad, 1, x);
    left[i] = evaluate_along(quads, quad, 3, x);
    // Lanes that are left repeat the last point.
    for (int l = i; l < (i == n - 1 ? MOST_SAMPLES : i + 1); l++) {
      xi[l] = x;
      put_lane(&bottom, l, &low);
      put_lane(&top, l, &high);
    }
  }
  double least = INFINITY, most = -INFINITY, sine = 1.0;
  for (int j = 0; j < n; j++) {
    measure_row(&det, &norm2, &bottom, &top, &left[j], &right[j], corner, &xi, xi[j]);
    for (int i = 0; i < n; i++) {
      least = cavum_min(least, det[i]);
      most = cavum_max(most, det[i]);
      sine = cavum_min(sine, norm2[i] > 0.0 ? det[i] / sqrt(norm2[i]) : -1.0);
    }
  }
  return (cavum_quad_shape){most > 0.0 ? least / most : -1.0, sine};
}
