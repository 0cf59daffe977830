// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesh_check.h
 * What every mesh of a contour must be: valid, exact in area, conforming, on the curves.
 */
#ifndef CAVUM_TEST_MESH_CHECK_H
#define CAVUM_TEST_MESH_CHECK_H

#include "base/base.h"
#include "cavum/mesh.h"
#include "element/element_map.h"
#include "mesh_svg.h"
#include "support.h"

// 12-point Gauss-Legendre rule on [-1, 1], positive half; not checked against a table.
static const double mesh_gauss_x[6] = {0.1252334085114689, 0.3678314989981802, 0.5873179542866175,
                                       0.7699026741943047, 0.9041172563704749, 0.9815606342467193};
static const double mesh_gauss_w[6] = {0.2491470458134028, 0.2334925365383548, 0.2031674267230659,
                                       0.1600783285433462, 0.1069393259953184, 0.0471753363865118};

// Area by Green's theorem, oint z dr, each curve in 16 parts.
static inline double contour_area(const cavum_contour *contour) {
  double area = 0.0;
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    for (int part = 0; part < 16; part++) {
      for (int i = 0; i < 12; i++) {
        double x = i < 6 ? mesh_gauss_x[i] : -mesh_gauss_x[i - 6], w = mesh_gauss_w[i % 6];
        double t = (part + 0.5 * (1.0 + x)) / 16.0;
        area += w / 32.0 * cavum_curve_point(&contour->curves[c], t).z_m *
                cavum_curve_derivative(&contour->curves[c], t).r_m;
      }
    }
  }
  return area;
}

static inline double mesh_area(const cavum_mesh *mesh) {
  double area = 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    for (int i = 0; i < 144; i++) {
      int a = i % 12, b = i / 12;
      double x = a < 6 ? mesh_gauss_x[a] : -mesh_gauss_x[a - 6],
             y = b < 6 ? mesh_gauss_x[b] : -mesh_gauss_x[b - 6];
      cavum_map_point point = cavum_element_map_at(mesh, e, x, y);
      area += mesh_gauss_w[a % 6] * mesh_gauss_w[b % 6] * cavum_map_jacobian(&point);
    }
  }
  return area;
}

// Least over largest det J of an element on an 11 x 11 grid.
static inline double scaled_jacobian(const cavum_mesh *mesh, cavum_index e) {
  double least = INFINITY, most = -INFINITY;
  for (int i = 0; i < 121; i++) {
    cavum_map_point p =
        cavum_element_map_at(mesh, e, -1.0 + 0.2 * (i % 11), -1.0 + 0.2 * (double)(i / 11));
    double det = cavum_map_jacobian(&p);
    least = fmin(least, det);
    most = fmax(most, det);
  }
  return least / most;
}

static inline double worst_element(const cavum_mesh *mesh) {
  double worst = 1.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    worst = fmin(worst, scaled_jacobian(mesh, e));
  }
  return worst;
}

// Boundary edges follow their curves, in one piece from t = 0 to 1, and their ends are its points.
static inline void check_edges(const cavum_mesh *mesh, const cavum_contour *contour) {
  double *covered = calloc((size_t)contour->num_curves, sizeof *covered);
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    ck_assert_int_eq(edge->element[1] < 0, edge->curve >= 0);
    ck_assert_int_eq(edge->boundary != CAVUM_BOUNDARY_NONE, edge->curve >= 0);
    if (edge->curve < 0) continue;
    const cavum_curve *curve = &contour->curves[edge->curve];
    covered[edge->curve] += edge->t[1] - edge->t[0];
    for (int k = 0; k < 2; k++) {
      cavum_point p = cavum_curve_point(curve, edge->t[k]);
      cavum_point v = mesh->vertices[edge->vertex[k]];
      // The end of a curve and the start of the next agree to rounding only in drawn contours.
      ck_assert_double_lt(hypot(p.z_m - v.z_m, p.r_m - v.r_m), 1e-15);
    }
  }
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    // Sums of a few dozen parameters, each rounded to 1e-16.
    ck_assert_double_lt(fabs(covered[c] - 1.0), 1e-12);
  }
  free(covered);
}

// Euler's formula for a disc: vertices - edges + elements = 1; it fails for hanging vertices.
static inline void check_disc(const cavum_mesh *mesh) {
  ck_assert_int_eq(mesh->num_vertices - mesh->num_edges + mesh->num_elements, 1);
}

static inline cavum_index check_contour(const char *name, const cavum_contour *contour,
                                        const cavum_mesh_options *options, double least_jacobian) {
  cavum_mesh mesh = {0};
  cavum_error error = {0};
  double start = cavum_seconds();
  cavum_status status = cavum_mesh_from_contour(&mesh, contour, options, &error);
  double seconds = cavum_seconds() - start;
  if (status != CAVUM_OK) svg_write_contour(name, contour);
  ck_assert_msg(status == CAVUM_OK, "%s: %s", name, error.message);
  svg_write_mesh(name, &mesh);
  double worst = worst_element(&mesh);
  printf("%s: %d elements, scaled Jacobian %.3f (at least %.2f), %.2f ms\n", name,
         mesh.num_elements, worst, least_jacobian, 1e3 * seconds);
  ck_assert_msg(worst >= least_jacobian, "%s: scaled Jacobian %g", name, worst);
  check_edges(&mesh, contour);
  check_disc(&mesh);
  // Both are quadratures of analytic integrands far above what 12 points per part need.
  CAVUM_CHECK_RELATIVE(mesh_area(&mesh), contour_area(contour), 1e-10);
  cavum_index count = mesh.num_elements;
  cavum_mesh_clear(&mesh);
  return count;
}

#endif
