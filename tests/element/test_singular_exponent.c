// SPDX-License-Identifier: GPL-3.0-or-later
// Exponents at corners and tips. Those of tips are compared with the roots nu of P_nu(cos alpha)
// and P_nu^1(cos alpha) [Olver2010] 14, found with SciPy 1.10: P_nu(x) = 2F1(-nu, nu + 1; 1; (1 -
// x) / 2) and P_nu^1 as its derivative, 2F1(1 - nu, nu + 2; 2; (1 - x) / 2) but for factors, by
// bisection.
#include <math.h>

#include "base/base.h"
#include "element/singular_exponent.h"
#include "support.h"

static const double DEGREE_RAD = CAVUM_PI / 180.0;

START_TEST(corners_have_their_exponents) {
  ck_assert_double_eq_tol(cavum_corner_exponent(270.0 * DEGREE_RAD, false), 2.0 / 3.0, 1e-15);
  ck_assert_double_eq_tol(cavum_corner_exponent(180.0 * DEGREE_RAD, true), 0.5, 1e-15);
  ck_assert_double_eq_tol(cavum_corner_exponent(90.0 * DEGREE_RAD, false), 2.0, 1e-15);
}
END_TEST

START_TEST(tips_have_about_theirs) {
  static const struct {
    double angle_deg, natural, magnetic;
  } rows[] = {
      {100, 0.8423, 1.7659}, {120, 0.6015, 1.4241}, {143, 0.3988, 1.1704}, {160, 0.2745, 1.0544}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    double angle = rows[i].angle_deg * DEGREE_RAD;
    ck_assert_double_eq_tol(cavum_tip_exponent(angle, false), rows[i].natural, 0.08);
    ck_assert_double_eq_tol(cavum_tip_exponent(angle, true), rows[i].magnetic, 0.08);
  }
}
END_TEST

// Roots as above, with mpmath 1.3.
START_TEST(tips_up_to_a_right_angle) {
  static const struct {
    double angle_deg, natural;
  } rows[] = {{89, 1.01764237892724},
              {80, 1.19560627114013},
              {60, 1.77728827015895},
              {45, 2.54789919266718},
              {30, 4.08368706702812}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    double nu = cavum_tip_exponent(rows[i].angle_deg * DEGREE_RAD, false);
    ck_assert_double_eq_tol(nu, rows[i].natural, 0.022);
  }
  ck_assert_double_eq(cavum_tip_exponent(0.5 * CAVUM_PI, false), 1.0);
  ck_assert_double_eq(cavum_tip_exponent(0.5 * CAVUM_PI, true), 2.0);
  ck_assert_double_eq(cavum_tip_exponent(0.99 * CAVUM_PI, false), 0.2);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, corners_have_their_exponents);
  tcase_add_test(tests, tips_have_about_theirs);
  tcase_add_test(tests, tips_up_to_a_right_angle);
}

CAVUM_TEST_MAIN("singular exponents", add_tests)
