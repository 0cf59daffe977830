// SPDX-License-Identifier: GPL-3.0-or-later
// Finer lattices: polynomials of the lattice's order are reproduced, in quadrilaterals, triangles
// and along edges.
#include "picture/lattice.h"
#include "support.h"

enum { LARGEST = 65 * 65 };

// High-entropy coefficients of a polynomial of total degree n in reference coordinates 0 to 1.
static double polynomial(int n, double x, double y) {
  double sum = 0.0;
  for (int i = 0; i <= n; i++) {
    for (int j = 0; i + j <= n; j++) {
      sum += sin(1.0 + 3.7 * i + 1.9 * j) * pow(x, i) * pow(y, j);
    }
  }
  return sum;
}

static void fill(double *values, int n, int corners, int divisions) {
  int at = 0;
  for (int j = 0; j <= divisions; j++) {
    for (int i = 0; i <= (corners == 4 ? divisions : divisions - j); i++) {
      values[at++] = polynomial(n, (double)i / divisions, (double)j / divisions);
    }
  }
  ck_assert_int_eq(at, cavum_element_lattice_count(corners, divisions));
}

// Equispaced interpolation of order n amplifies rounding by its Lebesgue constant, about
// 2^n / (e n log n): 540 for 16; 1e-10 leaves room for the sizes of the values.
static const double tolerance = 1e-10;

static void check_order(int n, int corners, int level) {
  cavum_lattice lattice;
  double coarse[LARGEST], fine[LARGEST], expected[LARGEST], worst = 0.0;
  ck_assert_int_eq(cavum_lattice_create(&lattice, n, NULL), CAVUM_OK);
  fill(coarse, n, corners, n);
  fill(expected, n, corners, 1 << level);
  ck_assert_int_eq(cavum_lattice_refine(fine, &lattice, coarse, corners, level, NULL), CAVUM_OK);
  for (int i = 0; i < cavum_element_lattice_count(corners, 1 << level); i++) {
    worst = fmax(worst, fabs(fine[i] - expected[i]));
  }
  printf("order %d, %d corners, level %d: ", n, corners, level);
  CAVUM_CHECK_NEAR(worst, 0.0, tolerance);
  cavum_lattice_clear(&lattice);
}

START_TEST(polynomials_are_exact) {
  const int orders[] = {1, 2, 3, 5, 8, 12, 16};
  for (int k = 0; k < 7; k++) {
    for (int corners = 3; corners <= 4; corners++) {
      check_order(orders[k], corners, 0);
      check_order(orders[k], corners, 3);
      check_order(orders[k], corners, 6);
    }
  }
}
END_TEST

START_TEST(edges) {
  static const double corner[2][4][2] = {{{0, 0}, {1, 0}, {0, 1}, {0, 0}},
                                         {{0, 0}, {1, 0}, {1, 1}, {0, 1}}};
  const int n = 6, level = 3;
  for (int corners = 3; corners <= 4; corners++) {
    cavum_lattice lattice;
    double coarse[LARGEST], fine[9];
    ck_assert_int_eq(cavum_lattice_create(&lattice, n, NULL), CAVUM_OK);
    fill(coarse, n, corners, n);
    for (int edge = 0; edge < corners; edge++) {
      const double *a = corner[corners - 3][edge], *b = corner[corners - 3][(edge + 1) % corners];
      ck_assert_int_eq(
          cavum_lattice_refine_edge(fine, &lattice, coarse, corners, edge, level, NULL), CAVUM_OK);
      for (int i = 0; i <= 8; i++) {
        double t = i / 8.0, x = a[0] + t * (b[0] - a[0]), y = a[1] + t * (b[1] - a[1]);
        CAVUM_CHECK_NEAR(fine[i], polynomial(n, x, y), tolerance);
      }
    }
    cavum_lattice_clear(&lattice);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, polynomials_are_exact);
  tcase_add_test(tests, edges);
}

CAVUM_TEST_MAIN("lattice", add)
