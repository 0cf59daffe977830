// SPDX-License-Identifier: GPL-3.0-or-later
// Fields on grids of an element against the same fields point by point.
#include "field_problem.h"

static cavum_point slanted(double s, double t, const void *context) {
  (void)context;
  return (cavum_point){0.1 * s + 0.02 * t, t * (0.06 + 0.03 * s)};
}

static int halves(int i, int j, const void *context) {
  (void)j;
  (void)context;
  return i >= 1 ? 1 : 0;
}

// A mesh file of two materials whose edges run both ways.
static cavum_mesh make_grid(int order) {
  static const double s[3] = {0.0, 0.4, 1.0}, t[3] = {0.0, 0.3, 1.0}, eps_r[2] = {1.0, 4.5};
  grid_msh grid = {.num_s = 2,
                   .num_t = 2,
                   .s = s,
                   .t = t,
                   .order = order,
                   .shuffle = 13,
                   .unit_m = 1.0,
                   .map = slanted,
                   .region = halves,
                   .region_names = {"left", "right"},
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, eps_r);
}

static double difference(const cavum_field_point *a, const cavum_field_point *b) {
  return fmax(fabs(a->h_phi_a_per_m - b->h_phi_a_per_m) * 376.73,  // as an electric field
              fmax(fabs(a->e_z_v_per_m - b->e_z_v_per_m), fabs(a->e_r_v_per_m - b->e_r_v_per_m)));
}

static double size_of(const cavum_field_point *a) {
  static const cavum_field_point zero = {0};
  return difference(a, &zero);
}

// Any coefficients will do: nothing here needs a mode.
static void compare(const char *what, cavum_mesh mesh, int degree, int count) {
  static cavum_field_point grid[CAVUM_FIELD_GRID_MOST * CAVUM_FIELD_GRID_MOST];
  field_problem p;
  double x[CAVUM_FIELD_GRID_MOST], worst = 0.0, largest = 0.0, away = 0.0;
  field_problem_create(&p, mesh, degree);
  double *vector = field_problem_random(&p, 17);
  cavum_field field = cavum_field_create(&p.discretisation, vector, 500.0);
  // From one end to the other, unevenly; a single abscissa is the first corner.
  for (int i = 0; i < count; i++) x[i] = -1.0 + 2.0 * pow(i / fmax(1.0, count - 1), 1.3);
  for (cavum_index e = 0; e < p.mesh.num_elements; e++) {
    double local[CAVUM_SHAPES_MOST];
    cavum_field_gather(local, &field, e);
    cavum_field_on_grid(grid, &field, e, local, count, x);
    for (int n = 0; n < count * count; n++) {
      cavum_field_point at = cavum_field_at(&field, e, local, x[n % count], x[n / count]);
      away = fmax(away, hypot(grid[n].z_m - at.z_m, grid[n].r_m - at.r_m));
      worst = fmax(worst, difference(&grid[n], &at));
      largest = fmax(largest, size_of(&at));
    }
  }
  printf("%s, degree %d, %d abscissae\n", what, degree, count);
  // Coordinates of 0.1 m. Sums of (degree + 1)^2 terms whose derivatives are up to degree^2 times
  // the coefficients, and as many roundings: 1e-13 of the largest field at degree 16.
  CAVUM_CHECK_NEAR(away, 0.0, 1e-15);
  CAVUM_CHECK_NEAR(worst, 0.0, 1e-13 * largest);
  free(vector);
  field_problem_clear(&p);
}

START_TEST(grids_are_the_points) {
  static const int counts[] = {1, 2, 5, 13, CAVUM_FIELD_GRID_MOST};
  for (int i = 0; i < 5; i++) {
    compare("rectangles", field_problem_mesh(draw_pillbox), 5, counts[i]);
    compare("curved", field_problem_mesh(draw_sphere), 8, counts[i]);
    compare("ring", field_problem_mesh(draw_coax), 4, counts[i]);
    compare("mesh file", make_grid(1), 7, counts[i]);
    compare("mesh file of order 3", make_grid(3), 3, counts[i]);
  }
  compare("lowest degree", field_problem_mesh(draw_sphere), 1, 9);
  compare("highest degree", field_problem_mesh(draw_sphere), CAVUM_DEGREE_MOST, 9);
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, grids_are_the_points); }

CAVUM_TEST_MAIN("field", add_tests)
