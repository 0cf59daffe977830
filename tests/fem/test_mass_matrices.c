// SPDX-License-Identifier: GPL-3.0-or-later
// M x by the matrices of the elements is M x by values at the points of the rule.
#include "fem/apply.h"
#include "fem/mass_matrices.h"
#include "field_problem.h"

static cavum_point slanted(double s, double t, const void *context) {
  const double *bottom = context;
  return (cavum_point){0.2 * s + 0.05 * t, *bottom + 0.1 * t * (1.0 + 0.2 * s)};
}

// Eleven cells, so that lanes are left.
static cavum_mesh make_mesh(bool off_axis, bool triangles) {
  static const double bottoms[2] = {0.0, 0.03};
  static const double s[12] = {0.0, 0.1, 0.15, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.85, 0.9, 1.0};
  static const double t[2] = {0.0, 1.0};
  grid_msh grid = {.num_s = 11,
                   .num_t = 1,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .triangles = triangles,
                   .shuffle = 3,
                   .unit_m = 1.0,
                   .map = slanted,
                   .context = &bottoms[off_axis],
                   .region_names = {"vacuum"},
                   .sides = {off_axis ? CAVUM_BOUNDARY_METAL : CAVUM_BOUNDARY_AXIS,
                             CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, NULL);
}

static void check_products(const field_problem *p) {
  cavum_index size = field_problem_size(p);
  double *x = field_problem_random(p, 11), *y = calloc((size_t)size, sizeof *y);
  double *z = field_problem_random(p, 12), largest = 0.0, worst = 0.0;
  cavum_mass_matrices mass = {0};
  ck_assert_int_eq(cavum_mass_matrices_create(&mass, &p->discretisation, NULL), CAVUM_OK);
  ck_assert((mass.entries != NULL) == (p->reference.degree <= 2));
  cavum_discretisation_apply_mass(y, &p->discretisation, x);
  cavum_mass_matrices_apply(z, &mass, x);  // over numbers of before
  for (cavum_index i = 0; i < size; i++) {
    largest = fmax(largest, fabs(y[i]));
    worst = fmax(worst, fabs(y[i] - z[i]));
  }
  CAVUM_CHECK_NEAR(worst / largest, 0.0, 1e-14);  // sums of some twenty terms
  cavum_mass_matrices_clear(&mass);
  ck_assert_ptr_null(mass.entries);
  free(x);
  free(y);
  free(z);
}

START_TEST(products_are_those_of_the_kernels) {
  for (int kind = 0; kind < 4; kind++) {
    for (int degree = 1; degree <= 3; degree++) {
      field_problem p;
      field_problem_create(&p, make_mesh(kind / 2, kind % 2), degree);
      check_products(&p);
      field_problem_clear(&p);
    }
  }
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, products_are_those_of_the_kernels); }

CAVUM_TEST_MAIN("fem.mass_matrices", add_tests)
