// SPDX-License-Identifier: GPL-3.0-or-later
// Gauss rules on the segment and the triangle rule of the reference tables: polynomial exactness.
#include "fem/quadrature.h"
#include "fem/reference.h"
#include "support.h"

// A rule of n points integrates powers up to 2 n - 1 exactly, and not the next.
START_TEST(gauss_rules_are_exact_up_to_twice_their_points) {
  double x[CAVUM_QUADRATURE_MOST], w[CAVUM_QUADRATURE_MOST];
  for (int count = 1; count <= CAVUM_QUADRATURE_MOST; count++) {
    double worst = 0.0;
    cavum_quadrature_gauss(x, w, count);
    for (int power = 0; power <= 2 * count - 1; power++) {
      double sum = 0.0, exact = power % 2 == 0 ? 2.0 / (power + 1) : 0.0;
      for (int i = 0; i < count; i++) sum += w[i] * pow(x[i], power);
      worst = fmax(worst, fabs(sum - exact));
    }
    for (int i = 0; i < count; i++) {
      ck_assert_double_gt(w[i], 0.0);
      ck_assert_double_lt(fabs(x[i]), 1.0);
      if (i > 0) ck_assert_double_gt(x[i], x[i - 1]);
    }
    // Sums of up to 64 terms of size one: a few times 1e-15.
    ck_assert_msg(worst < 2e-14, "%d points: %.2e", count, worst);
    if (count > 12) continue;  // beyond, the miss is too small to be told from rounding
    double sum = 0.0;
    for (int i = 0; i < count; i++) sum += w[i] * pow(x[i], 2 * count);
    ck_assert_msg(fabs(sum - 2.0 / (2 * count + 1)) > 1e-9, "%d points are too good", count);
  }
}
END_TEST

// Roots of P3 = (5 x^3 - 3 x) / 2 and weights 2 / ((1 - x^2) P3'(x)^2), P3' = (15 x^2 - 3) / 2: 3
// and -3/2 there. A few units of the last place.
START_TEST(three_points_have_the_known_places) {
  double x[3], w[3];
  cavum_quadrature_gauss(x, w, 3);
  CAVUM_CHECK_NEAR(x[2], sqrt(0.6), 1e-15);
  CAVUM_CHECK_NEAR(x[1], 0.0, 1e-15);
  CAVUM_CHECK_NEAR(w[2], 5.0 / 9.0, 1e-15);
  CAVUM_CHECK_NEAR(w[1], 8.0 / 9.0, 1e-15);
}
END_TEST

// With the point at 1, whose weight 2 / (n + 1)^2 [AbramowitzStegun1964, 25.4.31] is not in the
// rule, powers up to 2 n are integrated exactly, and not the next.
START_TEST(radau_rules_are_exact_with_their_end) {
  double x[CAVUM_QUADRATURE_MOST], w[CAVUM_QUADRATURE_MOST];
  for (int count = 1; count <= CAVUM_QUADRATURE_MOST; count++) {
    double worst = 0.0, end = 2.0 / ((count + 1.0) * (count + 1.0));
    cavum_quadrature_radau(x, w, count);
    for (int power = 0; power <= 2 * count + 1; power++) {
      double sum = end, exact = power % 2 == 0 ? 2.0 / (power + 1) : 0.0;
      for (int i = 0; i < count; i++) sum += w[i] * pow(x[i], power);
      if (power <= 2 * count) worst = fmax(worst, fabs(sum - exact));
      // Beyond 12 points the miss is too small to be told from rounding.
      if (power > 2 * count && count <= 12) ck_assert_double_gt(fabs(sum - exact), 1e-9);
    }
    for (int i = 0; i < count; i++) {
      ck_assert_double_gt(w[i], 0.0);
      ck_assert_double_lt(fabs(x[i]), 1.0);
      if (i > 0) ck_assert_double_gt(x[i], x[i - 1]);
    }
    // Sums of up to 64 terms of size one, the last weights of which have the rounding of a root
    // over its distance from 1.
    ck_assert_msg(worst < 1e-13, "%d points: %.2e", count, worst);
  }
}
END_TEST

// int xi^a eta^b over the unit triangle = a! b! / (a + b + 2)!. The tables of degree p have to
// carry products of two functions of degree p with the factor r^3 of a straight element: 2 p + 3.
START_TEST(triangle_rules_are_exact) {
  for (int degree = 1; degree <= CAVUM_DEGREE_MOST; degree++) {
    cavum_reference reference;
    double worst = 0.0;
    ck_assert_int_eq(cavum_reference_create(&reference, degree, 0, true, NULL), CAVUM_OK);
    for (int a = 0; a <= 2 * degree + 3; a++) {
      for (int b = 0; a + b <= 2 * degree + 3; b++) {
        double sum = 0.0, exact = exp(lgamma(a + 1.0) + lgamma(b + 1.0) - lgamma(a + b + 3.0));
        for (int i = 0; i < reference.triangle_points; i++) {
          sum += reference.triangle_weight[i] * pow(reference.triangle_xi[i], a) *
                 pow(reference.triangle_eta[i], b);
        }
        worst = fmax(worst, fabs(sum - exact) / exact);
      }
    }
    cavum_reference_clear(&reference);
    // lgamma and a few hundred terms: rounding, relative to integrals down to 1e-20.
    ck_assert_msg(worst < 1e-11, "degree %d: %.2e", degree, worst);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, gauss_rules_are_exact_up_to_twice_their_points);
  tcase_add_test(tests, three_points_have_the_known_places);
  tcase_add_test(tests, radau_rules_are_exact_with_their_end);
  tcase_add_test(tests, triangle_rules_are_exact);
}

CAVUM_TEST_MAIN("quadrature", add_tests)
