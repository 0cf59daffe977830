// SPDX-License-Identifier: GPL-3.0-or-later
// Numbering, continuity, embedding, and the two products against integrals evaluated here.
#include <string.h>

#include "base/threads.h"
#include "element/element_map.h"
#include "fem/apply.h"
#include "fem/quadrature.h"
#include "field_problem.h"

static const double PI = 3.14159265358979323846;

static cavum_point trapezium(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s, 0.02 + t * (0.06 + 0.03 * s)};
}

static cavum_point to_axis(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s, t * 0.08};
}

// A grid with triangles or quadrilaterals.
static cavum_mesh make_grid(cavum_point (*map)(double, double, const void *), bool triangles) {
  return field_problem_two_regions(map, 4, triangles,
                                   map == to_axis ? CAVUM_BOUNDARY_AXIS : CAVUM_BOUNDARY_METAL);
}

// w (or u) and its gradient at a reference point.
static cavum_map_point evaluate(double *value, double *d_z, double *d_r, const field_problem *p,
                                cavum_index e, const double *local, double xi, double eta) {
  static double n[CAVUM_SHAPES_MOST], n_xi[CAVUM_SHAPES_MOST], n_eta[CAVUM_SHAPES_MOST];
  int corners = p->mesh.elements[e].num_corners, degree = p->reference.degree;
  double a = 0.0, b = 0.0;
  cavum_shape_element(n, n_xi, n_eta, corners, degree, xi, eta);
  *value = 0.0;
  for (int i = 0; i < cavum_shape_count(corners, degree); i++) {
    *value += local[i] * n[i];
    a += local[i] * n_xi[i];
    b += local[i] * n_eta[i];
  }
  cavum_map_point m = cavum_element_map_at(&p->mesh, e, xi, eta);
  double det = cavum_map_jacobian(&m);
  *d_z = (a * m.r_eta - b * m.r_xi) / det;
  *d_r = (b * m.z_xi - a * m.z_eta) / det;
  return m;
}

START_TEST(functions_are_continuous_across_edges) {
  for (int triangles = 0; triangles < 2; triangles++) {
    field_problem p;
    field_problem_create(&p, make_grid(to_axis, triangles), 7);
    double *x = field_problem_random(&p, 3);
    for (cavum_index i = 0; i < p.mesh.num_edges; i++) {
      const cavum_edge *edge = &p.mesh.edges[i];
      if (edge->element[1] < 0) continue;
      for (int k = 0; k < 5; k++) {
        double value[2], skip[2], s = -0.9 + 0.4 * k;
        cavum_map_point at[2];
        for (int side = 0; side < 2; side++) {
          static double local[CAVUM_SHAPES_MOST];
          double xi, eta;
          cavum_index e = edge->element[side];
          // The two elements run along the edge in opposite directions.
          cavum_element_edge_point(&xi, &eta, &p.mesh.elements[e], edge->local[side],
                                   side == 0 ? s : -s);
          cavum_space_gather(local, &p.discretisation.space, e, x);
          at[side] = evaluate(&value[side], &skip[0], &skip[1], &p, e, local, xi, eta);
        }
        ck_assert_double_eq_tol(at[0].z, at[1].z, 1e-15);
        ck_assert_double_eq_tol(value[0], value[1], 1e-13);
      }
    }
    free(x);
    field_problem_clear(&p);
  }
}
END_TEST

START_TEST(numbering_is_complete) {
  for (int triangles = 0; triangles < 2; triangles++) {
    for (int degree = 1; degree <= 6; degree++) {
      field_problem p;
      field_problem_create(&p, make_grid(to_axis, triangles), degree);
      // Euler: vertices - edges + elements = 1 for a region without holes.
      ck_assert_int_eq(p.mesh.num_vertices - p.mesh.num_edges + p.mesh.num_elements, 1);
      int inside = triangles ? (degree - 1) * (degree - 2) / 2 : (degree - 1) * (degree - 1);
      int64_t all =
          p.mesh.num_vertices + p.mesh.num_edges * (degree - 1) + p.mesh.num_elements * inside;
      ck_assert_int_eq(cavum_space_size(&p.mesh, degree), all);
      bool *seen = calloc((size_t)field_problem_size(&p), sizeof *seen);
      for (cavum_index e = 0; e < p.mesh.num_elements; e++) {
        cavum_index index[4 * CAVUM_DEGREE_MOST];
        double sign[4 * CAVUM_DEGREE_MOST];
        int count = cavum_shape_count_skeleton(p.mesh.elements[e].num_corners, degree);
        cavum_space_skeleton(index, sign, &p.discretisation.space, e);
        for (int i = 0; i < count; i++) {
          ck_assert_int_lt(index[i], p.discretisation.space.num_skeleton);
          ck_assert(fabs(sign[i]) == 1.0);
          seen[index[i]] = true;
        }
        for (int i = 0; i < inside; i++) {
          cavum_index at =
              p.discretisation.space.first_interior[e] + i * p.discretisation.space.stride;
          ck_assert_int_lt(at, field_problem_size(&p));
          ck_assert(!seen[at]);
          seen[at] = true;
        }
      }
      for (cavum_index i = 0; i < field_problem_size(&p); i++) all -= seen[i];
      ck_assert_int_eq(all, 0);
      free(seen);
      field_problem_clear(&p);
    }
  }
}
END_TEST

START_TEST(embedding_keeps_the_function) {
  for (int triangles = 0; triangles < 2; triangles++) {
    static double n[CAVUM_SHAPES_MOST], skip[2][CAVUM_SHAPES_MOST];
    static double a[CAVUM_SHAPES_MOST], b[CAVUM_SHAPES_MOST];
    field_problem p;
    cavum_space high;
    field_problem_create(&p, make_grid(to_axis, triangles), 4);
    ck_assert_int_eq(cavum_space_create(&high, &p.mesh, 9, NULL), CAVUM_OK);
    double *x = field_problem_random(&p, 5);
    double *y = malloc((size_t)high.num_unknowns * sizeof *y);
    cavum_space_embed(y, &high, x, &p.discretisation.space);
    for (cavum_index e = 0; e < p.mesh.num_elements; e++) {
      int corners = p.mesh.elements[e].num_corners;
      double low_value = 0.0, high_value = 0.0;
      cavum_space_gather(a, &p.discretisation.space, e, x);
      cavum_space_gather(b, &high, e, y);
      cavum_shape_element(n, skip[0], skip[1], corners, 4, 0.27, 0.41);
      for (int i = 0; i < cavum_shape_count(corners, 4); i++) low_value += a[i] * n[i];
      cavum_shape_element(n, skip[0], skip[1], corners, 9, 0.27, 0.41);
      for (int i = 0; i < cavum_shape_count(corners, 9); i++) high_value += b[i] * n[i];
      ck_assert_double_eq_tol(low_value, high_value, 1e-14);
    }
    free(x);
    free(y);
    cavum_space_clear(&high);
    field_problem_clear(&p);
  }
}
END_TEST

// a(x, x) and b(x, x) straight from their definitions with 24 points a direction; for w
// a = int (1/eps) [r^3 w_z^2 + r (2 w + r w_r)^2], b = int r^3 w^2; for u = r H_phi
// a = int (1/(eps r)) |grad u|^2, b = int u^2 / r. No integration by parts here.
static void integrate(double *a, double *b, const field_problem *p, const double *x) {
  enum { POINTS = 24 };
  double point[POINTS], weight[POINTS];
  cavum_quadrature_gauss(point, weight, POINTS);
  *a = *b = 0.0;
  for (cavum_index e = 0; e < p->mesh.num_elements; e++) {
    static double local[CAVUM_SHAPES_MOST];
    bool quad = p->mesh.elements[e].num_corners == 4;
    double eps = p->mesh.regions[p->mesh.elements[e].region].eps_r;
    cavum_space_gather(local, &p->discretisation.space, e, x);
    for (int n = 0; n < POINTS * POINTS; n++) {
      double xi = point[n % POINTS], eta = point[n / POINTS], value, d_z, d_r;
      double w = weight[n % POINTS] * weight[n / POINTS];
      if (!quad) {  // collapsed square
        double s = 0.5 * (1 + xi), t = 0.5 * (1 + eta);
        xi = s * (1 - t), eta = t, w *= 0.25 * (1 - t);
      }
      cavum_map_point m = evaluate(&value, &d_z, &d_r, p, e, local, xi, eta);
      w *= cavum_map_jacobian(&m);
      double r = m.r, divergence = 2 * value + r * d_r;
      if (p->discretisation.unknown == CAVUM_UNKNOWN_H_OVER_R) {
        *a += w / eps * (r * r * r * d_z * d_z + r * divergence * divergence);
        *b += w * r * r * r * value * value;
      } else {
        *a += w / (eps * r) * (d_z * d_z + d_r * d_r);
        *b += w * value * value / r;
      }
    }
  }
}

static void check_products(const char *what, cavum_mesh mesh, int degree, double tolerance) {
  field_problem p;
  field_problem_create(&p, mesh, degree);
  cavum_index size = field_problem_size(&p);
  double *x = field_problem_random(&p, 11), *y = field_problem_random(&p, 12), a, b;
  double *kx = malloc((size_t)size * sizeof *kx), *mx = malloc((size_t)size * sizeof *mx);
  double *ky = malloc((size_t)size * sizeof *ky);
  printf("%s, degree %d\n", what, degree);
  cavum_discretisation_apply_stiffness(kx, &p.discretisation, x);
  cavum_discretisation_apply_mass(mx, &p.discretisation, x);
  cavum_discretisation_apply_stiffness(ky, &p.discretisation, y);
  integrate(&a, &b, &p, x);
  CAVUM_CHECK_RELATIVE(field_problem_dot(x, kx, size), a, tolerance);
  CAVUM_CHECK_RELATIVE(field_problem_dot(x, mx, size), b, tolerance);
  // Symmetric: sums of a few thousand terms.
  double scale = sqrt(field_problem_dot(x, kx, size) * field_problem_dot(y, ky, size));
  CAVUM_CHECK_NEAR(field_problem_dot(y, kx, size), field_problem_dot(x, ky, size), 1e-12 * scale);
  free(x);
  free(y);
  free(kx);
  free(ky);
  free(mx);
  field_problem_clear(&p);
}

START_TEST(products_are_the_integrals) {
  // The Gauss rules carry degree 2 p + 5 and more: exact on straight grids for w, rounding remains.
  for (int triangles = 0; triangles < 2; triangles++) {
    check_products("rectangles on the axis", make_grid(to_axis, triangles), 1, 1e-12);
    check_products("rectangles on the axis", make_grid(to_axis, triangles), 8, 1e-12);
  }
  // 1 / r over a ratio of radii of 1.9 in the first row is no polynomial. A rule exact to degree 15
  // that meets random functions of degree 12 leaves 3 in this expansion: (0.155)^4 of 1.2e-3 of
  // them.
  check_products("trapezia off the axis", make_grid(trapezium, false), 6, 1e-6);
  check_products("trapezia off the axis", make_grid(trapezium, true), 6, 1e-6);
  // Curved elements on exact contours, random coefficients up to the highest function.
  check_products("sphere", field_problem_mesh(draw_sphere), 6, 1e-4);
  check_products("sphere", field_problem_mesh(draw_sphere), 12, 1e-5);
}
END_TEST

// Enough elements for several threads.
static cavum_mesh make_fine_grid(bool triangles) {
  enum { CELLS = 30 };
  static double break_point[CELLS + 1];
  static const double eps_r[2] = {1.0, 2.0};
  for (int i = 0; i <= CELLS; i++) break_point[i] = (double)i / CELLS;
  grid_msh grid = {.num_s = CELLS,
                   .num_t = CELLS,
                   .s = break_point,
                   .t = break_point,
                   .order = 1,
                   .triangles = triangles,
                   .shuffle = 7,
                   .unit_m = 1.0,
                   .map = to_axis,
                   .region = field_problem_half,
                   .region_names = {"left", "right"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, eps_r);
}

// The two products of one function on one thread, each by itself.
static void multiply_alone(double *mx, double *kx, const field_problem *p, const double *x) {
  cavum_discretisation_apply_mass(mx, &p->discretisation, x);
  cavum_discretisation_apply_stiffness(kx, &p->discretisation, x);
}

// Functions that are multiplied together, some of them with one matrix alone, have the bits that
// they have by themselves, on any number of threads.
START_TEST(products_together_are_those_alone) {
  enum { FUNCTIONS = 3 };
  for (int triangles = 0; triangles < 2; triangles++) {
    field_problem p;
    field_problem_create(&p, make_fine_grid(triangles), 4);
    ck_assert_int_gt(p.discretisation.num_batches, 64);  // enough for threads
    size_t size = (size_t)field_problem_size(&p), bytes = size * sizeof(double);
    double *x[FUNCTIONS], *mx[FUNCTIONS], *kx[FUNCTIONS], *m = malloc(bytes), *k = malloc(bytes);
    cavum_function_products of[FUNCTIONS];
    for (int i = 0; i < FUNCTIONS; i++) {
      x[i] = field_problem_random(&p, 20 + i);
      mx[i] = malloc(bytes);
      kx[i] = malloc(bytes);
      of[i] = (cavum_function_products){x[i], i == 1 ? NULL : mx[i], i == 2 ? NULL : kx[i]};
    }
    for (int threads = 1; threads <= 2; threads++) {
      int before = cavum_threads_set(threads);
      cavum_discretisation_apply(&p.discretisation, of, FUNCTIONS);
      cavum_threads_set(before);
      for (int i = 0; i < FUNCTIONS; i++) {
        multiply_alone(m, k, &p, x[i]);
        if (of[i].mass) ck_assert_int_eq(memcmp(mx[i], m, bytes), 0);
        if (of[i].stiffness) ck_assert_int_eq(memcmp(kx[i], k, bytes), 0);
      }
    }
    for (int i = 0; i < FUNCTIONS; i++) {
      free(x[i]);
      free(mx[i]);
      free(kx[i]);
    }
    free(m);
    free(k);
    field_problem_clear(&p);
  }
}
END_TEST

// w = 1 is H_phi = r, E_z constant: K(1, 1) = int 4 r dz dr, M(1, 1) = int r^3; of a cylinder
// 2 L R^2 and L R^4 / 4.
START_TEST(constant_field_in_a_cylinder) {
  field_problem p;
  field_problem_create(&p, field_problem_mesh(draw_pillbox), 3);
  cavum_index size = field_problem_size(&p);
  double *x = calloc((size_t)size, sizeof *x), *y = malloc((size_t)size * sizeof *y);
  for (cavum_index i = 0; i < p.mesh.num_vertices; i++) x[i] = 1.0;
  cavum_discretisation_apply_stiffness(y, &p.discretisation, x);
  CAVUM_CHECK_RELATIVE(field_problem_dot(x, y, size), 2.0 * 0.1 * 0.115 * 0.115, 1e-13);
  cavum_discretisation_apply_mass(y, &p.discretisation, x);
  CAVUM_CHECK_RELATIVE(field_problem_dot(x, y, size), 0.25 * 0.1 * pow(0.115, 4), 1e-13);
  free(x);
  free(y);
  field_problem_clear(&p);
}
END_TEST

// The volume of a sphere through the wall of curved elements: K(1, 1) = (2 / pi) V.
START_TEST(constant_field_in_a_sphere) {
  field_problem p;
  field_problem_create(&p, field_problem_mesh(draw_sphere), 10);
  cavum_index size = field_problem_size(&p);
  double *x = calloc((size_t)size, sizeof *x), *y = malloc((size_t)size * sizeof *y);
  for (cavum_index i = 0; i < p.mesh.num_vertices; i++) x[i] = 1.0;
  cavum_discretisation_apply_stiffness(y, &p.discretisation, x);
  double volume = 4.0 / 3.0 * PI * pow(0.08, 3);
  // Blended arcs of at most an eighth of a turn under a rule of 13 points: far below 1e-12.
  CAVUM_CHECK_RELATIVE(field_problem_dot(x, y, size), 2.0 / PI * volume, 1e-12);
  free(x);
  free(y);
  field_problem_clear(&p);
}
END_TEST

// The static field H_phi = 1 / r of a ring domain is u = 1, exactly in the kernel of K.
START_TEST(static_field_is_in_the_kernel) {
  field_problem p;
  field_problem_create(&p, field_problem_mesh(draw_coax), 5);
  ck_assert_int_eq(p.discretisation.unknown, CAVUM_UNKNOWN_R_TIMES_H);
  cavum_index size = field_problem_size(&p);
  double *x = calloc((size_t)size, sizeof *x), *y = malloc((size_t)size * sizeof *y);
  for (cavum_index i = 0; i < p.mesh.num_vertices; i++) x[i] = 1.0;
  cavum_discretisation_apply_stiffness(y, &p.discretisation, x);
  double largest = 0.0;
  for (cavum_index i = 0; i < size; i++) largest = fmax(largest, fabs(y[i]));
  // Entries of K are of the order of 1 / r = 50.
  CAVUM_CHECK_NEAR(largest, 0.0, 1e-12);
  free(x);
  free(y);
  field_problem_clear(&p);
}
END_TEST

// Coefficients that were freed to save memory come back with the same bits.
START_TEST(coefficients_come_back) {
  field_problem p;
  field_problem_create(&p, field_problem_mesh(draw_sphere), 4);
  size_t size = (size_t)field_problem_size(&p);
  double *x = malloc(size * sizeof *x), *before = malloc(size * sizeof *before);
  double *after = malloc(size * sizeof *after);
  for (size_t i = 0; i < size; i++) x[i] = cos((double)i);
  cavum_discretisation_apply_stiffness(before, &p.discretisation, x);
  cavum_discretisation_drop_coefficients(&p.discretisation);
  ck_assert_ptr_null(p.discretisation.coeff);
  ck_assert_int_eq(cavum_discretisation_refill(&p.discretisation, NULL), CAVUM_OK);
  cavum_discretisation_apply_stiffness(after, &p.discretisation, x);
  ck_assert_int_eq(memcmp(before, after, size * sizeof *before), 0);
  free(x);
  free(before);
  free(after);
  field_problem_clear(&p);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, functions_are_continuous_across_edges);
  tcase_add_test(tests, numbering_is_complete);
  tcase_add_test(tests, embedding_keeps_the_function);
  tcase_add_test(tests, products_are_the_integrals);
  tcase_add_test(tests, products_together_are_those_alone);
  tcase_add_test(tests, constant_field_in_a_cylinder);
  tcase_add_test(tests, constant_field_in_a_sphere);
  tcase_add_test(tests, static_field_is_in_the_kernel);
  tcase_add_test(tests, coefficients_come_back);
}

CAVUM_TEST_MAIN("discretisation", add_tests)
