// SPDX-License-Identifier: GPL-3.0-or-later
// The mesher on every kind of contour: validity, exact area, conformity, counts, determinism.
#include <string.h>

#include "base.h"
#include "cavum/mesh.h"
#include "element_map.h"
#include "mesh_cases.h"
#include "mesh_svg.h"

// 12-point Gauss-Legendre rule on [-1, 1], positive half; from memory of any table.
static const double gauss_x[6] = {0.1252334085114689, 0.3678314989981802, 0.5873179542866175,
                                  0.7699026741943047, 0.9041172563704749, 0.9815606342467193};
static const double gauss_w[6] = {0.2491470458134028, 0.2334925365383548, 0.2031674267230659,
                                  0.1600783285433462, 0.1069393259953184, 0.0471753363865118};

// Area by Green's theorem, oint z dr, each curve in 16 parts.
static double contour_area(const cavum_contour *contour) {
  double area = 0.0;
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    for (int part = 0; part < 16; part++) {
      for (int i = 0; i < 12; i++) {
        double x = i < 6 ? gauss_x[i] : -gauss_x[i - 6], w = gauss_w[i % 6];
        double t = (part + 0.5 * (1.0 + x)) / 16.0;
        area += w / 32.0 * cavum_curve_point(&contour->curves[c], t).z_m *
                cavum_curve_derivative(&contour->curves[c], t).r_m;
      }
    }
  }
  return area;
}

static double mesh_area(const cavum_mesh *mesh) {
  double area = 0.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    for (int i = 0; i < 144; i++) {
      int a = i % 12, b = i / 12;
      double x = a < 6 ? gauss_x[a] : -gauss_x[a - 6], y = b < 6 ? gauss_x[b] : -gauss_x[b - 6];
      cavum_map_point point = cavum_element_map_at(mesh, e, x, y);
      area += gauss_w[a % 6] * gauss_w[b % 6] * cavum_map_jacobian(&point);
    }
  }
  return area;
}

// Least over largest det J of an element on an 11 x 11 grid.
static double scaled_jacobian(const cavum_mesh *mesh, cavum_index e) {
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

static double worst_element(const cavum_mesh *mesh) {
  double worst = 1.0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    worst = fmin(worst, scaled_jacobian(mesh, e));
  }
  return worst;
}

// Boundary edges follow their curves, in one piece from t = 0 to 1, and their ends are its points.
static void check_edges(const cavum_mesh *mesh, const cavum_contour *contour) {
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
static void check_disc(const cavum_mesh *mesh) {
  ck_assert_int_eq(mesh->num_vertices - mesh->num_edges + mesh->num_elements, 1);
}

static cavum_index check_contour(const char *name, const cavum_contour *contour,
                                 const cavum_mesh_options *options, double least_jacobian) {
  cavum_mesh mesh = {0};
  cavum_error error = {0};
  double start = cavum_seconds();
  cavum_status status = cavum_mesh_from_contour(&mesh, contour, options, &error);
  double seconds = cavum_seconds() - start;
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

START_TEST(every_shape_meshes) {
  const cavum_mesh_case *shape = &cavum_mesh_cases[_i];
  cavum_pen pen, image;
  shape->draw(&pen);
  cavum_contour contour = pen_contour(&pen);
  cavum_index count = check_contour(shape->name, &contour, NULL, 0.05);
  ck_assert_int_le(count, shape->most_elements);
  pen_mirror(&image, &contour);
  cavum_contour mirrored = {image.count, image.curves};
  char name[64];
  snprintf(name, sizeof name, "%s_mirrored", shape->name);
  ck_assert_int_le(check_contour(name, &mirrored, NULL, 0.05), shape->most_elements);
}
END_TEST

static const struct cell_case {
  const char *name;
  double length, iris, equator, big_z, big_r, small_z, small_r, tube;
  int most_half, most_whole;
} cell_cases[] = {
    {"cell", 57.7, 35.0, 103.3, 42.0, 42.0, 12.0, 19.0, 0.0, 40, 80},
    {"cell_tube150", 57.7, 35.0, 103.3, 42.0, 42.0, 12.0, 19.0, 150.0, 50, 100},
    {"cell_tube200", 57.7, 39.0, 103.3, 40.0, 50.0, 10.0, 15.0, 200.0, 50, 100},
    {"thin_iris", 57.7, 35.0, 103.3, 50.0, 42.0, 2.0, 3.0, 0.0, 60, 120},
    {"leaning", 57.7, 35.0, 103.3, 46.0, 30.0, 14.0, 16.0, 150.0, 60, 120},
};

START_TEST(two_ellipse_cells_mesh) {
  const struct cell_case *c = &cell_cases[_i];
  cavum_cell cell = two_ellipse_cell(c->length, c->iris, c->equator, c->big_z, c->big_r, c->small_z,
                                     c->small_r, c->tube);
  cavum_contour contour = {0};
  cavum_error error = {0};
  char name[64];
  for (int part = 0; part < 2; part++) {
    cavum_status status = cavum_cell_make_contour(
        &contour, &cell, part ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE, &error);
    ck_assert_msg(status == CAVUM_OK, "%s: %s", c->name, error.message);
    snprintf(name, sizeof name, "%s_%s", c->name, part ? "half" : "whole");
    cavum_index count = check_contour(name, &contour, NULL, 0.05);
    ck_assert_int_le(count, part ? c->most_half : c->most_whole);
    cavum_contour_clear(&contour);
  }
}
END_TEST

static bool same_mesh(const cavum_mesh *a, const cavum_mesh *b) {
  return a->num_vertices == b->num_vertices && a->num_elements == b->num_elements &&
         a->num_edges == b->num_edges &&
         memcmp(a->vertices, b->vertices, (size_t)a->num_vertices * sizeof *a->vertices) == 0 &&
         memcmp(a->elements, b->elements, (size_t)a->num_elements * sizeof *a->elements) == 0 &&
         memcmp(a->edges, b->edges, (size_t)a->num_edges * sizeof *a->edges) == 0;
}

START_TEST(same_contour_gives_same_bits) {
  for (int i = 0; i < CAVUM_NUM_MESH_CASES; i++) {
    cavum_pen pen;
    cavum_mesh first = {0}, second = {0};
    cavum_mesh_cases[i].draw(&pen);
    cavum_contour contour = pen_contour(&pen);
    ck_assert_int_eq(cavum_mesh_from_contour(&first, &contour, NULL, NULL), CAVUM_OK);
    void *shift = malloc(12345);  // another layout of the heap
    ck_assert_int_eq(cavum_mesh_from_contour(&second, &contour, NULL, NULL), CAVUM_OK);
    free(shift);
    ck_assert_msg(same_mesh(&first, &second), "%s differs", cavum_mesh_cases[i].name);
    cavum_mesh_clear(&first);
    cavum_mesh_clear(&second);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, every_shape_meshes, 0, CAVUM_NUM_MESH_CASES);
  tcase_add_loop_test(tests, two_ellipse_cells_mesh, 0, sizeof cell_cases / sizeof cell_cases[0]);
  tcase_add_test(tests, same_contour_gives_same_bits);
}

CAVUM_TEST_MAIN("mesher", add_tests)
