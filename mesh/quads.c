// SPDX-License-Identifier: GPL-3.0-or-later
// Storage and shape of quadrilaterals with curved sides. The map is the transfinite one of
// [GordonHall1973]: opposite sides blended linearly, corners counted once.
#include "quads.h"

#include <string.h>

#include "base.h"

enum { MOST_SAMPLES = 9 };

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

cavum_quad_shape cavum_quads_measure(const cavum_quads *quads, const cavum_quad *quad, int n) {
  CAVUM_ASSERT(n >= 2 && n <= MOST_SAMPLES);
  side_point samples[4][MOST_SAMPLES];
  cavum_point corner[4], by_xi, by_eta;
  get_corners(corner, quads, quad);
  bool straight = true;
  for (int k = 0; k < 4; k++) straight = straight && quad->curve[k] < 0;
  if (straight) n = 2;  // det J of a bilinear map is extreme at corners
  for (int k = 0; k < 4; k++) {
    for (int i = 0; i < n; i++) {
      samples[k][i] = evaluate_along(quads, quad, k, -1.0 + 2.0 * i / (n - 1));
    }
  }
  double least = INFINITY, most = -INFINITY, sine = 1.0;
  for (int j = 0; j < n; j++) {
    for (int i = 0; i < n; i++) {
      side_point side[4] = {samples[0][i], samples[1][j], samples[2][i], samples[3][j]};
      blend(&by_xi, &by_eta, side, corner, -1.0 + 2.0 * i / (n - 1), -1.0 + 2.0 * j / (n - 1));
      double det = by_xi.z_m * by_eta.r_m - by_xi.r_m * by_eta.z_m;
      double norm = sqrt((by_xi.z_m * by_xi.z_m + by_xi.r_m * by_xi.r_m) *
                         (by_eta.z_m * by_eta.z_m + by_eta.r_m * by_eta.r_m));
      least = cavum_min(least, det);
      most = cavum_max(most, det);
      sine = cavum_min(sine, norm > 0.0 ? det / norm : -1.0);
    }
  }
  return (cavum_quad_shape){most > 0.0 ? least / most : -1.0, sine};
}
