// SPDX-License-Identifier: GPL-3.0-or-later
// Exponents where materials meet. Off the axis: the least root of tan(lambda a) / eps + tan(lambda
// (pi - a)) = 0 for a dielectric at the angle a to a smooth metal wall. On the axis: that of e1
// P'(x) P(-x) + e2 P(x) P'(-x) = 0 with P = P_nu [Olver2010] 14, x the cosine of the half angle of
// the cone between e1 and e2, found with mpmath 1.3 by P_nu(x) = 2F1(-nu, nu + 1; 1; (1 - x) / 2).
#include <math.h>

#include "base/base.h"
#include "element/sector_exponent.h"
#include "element/singular_exponent.h"
#include "support.h"

static const double DEGREE_RAD = CAVUM_PI / 180.0;

START_TEST(dielectrics_on_a_wall) {
  static const struct {
    double angle_deg, eps_r, exponent;
  } rows[] = {{135, 10, 0.7316917786997524},
              {120, 4, 0.8461413252734624},
              {100, 10, 0.917109544241097},
              {100, 2.2, 0.960619671516055}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    double angle = rows[i].angle_deg * DEGREE_RAD;
    const cavum_sector sectors[] = {{angle, rows[i].eps_r}, {CAVUM_PI - angle, 1.0}};
    double found = cavum_sector_corner_exponent(sectors, 2, false, false);
    ck_assert_double_eq_tol(found, rows[i].exponent, 1e-12);
  }
  // A sharp dielectric makes E smaller, and an upright one leaves it as it is.
  const cavum_sector sharp[] = {{CAVUM_PI / 3.0, 10.0}, {CAVUM_PI / 1.5, 1.0}};
  ck_assert_double_gt(cavum_sector_corner_exponent(sharp, 2, false, false), 1.1);
  const cavum_sector upright[] = {{0.5 * CAVUM_PI, 10.0}, {0.5 * CAVUM_PI, 1.0}};
  ck_assert_double_eq_tol(cavum_sector_corner_exponent(upright, 2, false, false), 1.0, 1e-12);
}
END_TEST

// Of one material they are those of a plain corner, and a magnetic pair has those of a natural one.
START_TEST(one_material_has_the_plain_exponent) {
  for (int i = 0; i < 2; i++) {
    double angle = (i == 0 ? 200.0 : 300.0) * DEGREE_RAD;
    const cavum_sector sectors[] = {{0.3 * angle, 3.0}, {0.7 * angle, 3.0}};
    double natural = cavum_sector_corner_exponent(sectors, 2, false, false);
    double mixed = cavum_sector_corner_exponent(sectors, 2, true, false);
    double magnetic = cavum_sector_corner_exponent(sectors, 2, true, true);
    ck_assert_double_eq_tol(natural, cavum_corner_exponent(angle, false), 1e-12);
    ck_assert_double_eq_tol(magnetic, natural, 1e-12);
    ck_assert_double_eq_tol(mixed, cavum_corner_exponent(angle, true), 1e-12);
    ck_assert_double_eq(mixed, cavum_sector_corner_exponent(sectors, 2, false, true));
  }
}
END_TEST

// Inside: a wedge is its own mirror image, so that its exponents are those of half of it with
// natural or with magnetic sides. Of four quarters in turns tan(lambda pi / 4)^2 is the ratio of
// the permittivities, by symmetry about both diagonals [Grisvard1985]. Beside nothing the field is
// smooth.
START_TEST(dielectrics_inside) {
  static const double wedges[][2] = {{90, 10}, {270, 10}, {30, 2.1}, {120, 38}};
  for (size_t i = 0; i < sizeof wedges / sizeof *wedges; i++) {
    double half = 0.5 * wedges[i][0] * DEGREE_RAD, eps = wedges[i][1];
    const cavum_sector ring[] = {{2.0 * half, eps}, {2.0 * (CAVUM_PI - half), 1.0}};
    const cavum_sector one_half[] = {{half, eps}, {CAVUM_PI - half, 1.0}};
    double natural = cavum_sector_corner_exponent(one_half, 2, false, false);
    double magnetic = cavum_sector_corner_exponent(one_half, 2, true, true);
    double found = cavum_sector_ring_exponent(ring, 2);
    ck_assert_double_eq_tol(found, cavum_min(natural, magnetic), 1e-12);
    ck_assert_double_lt(found, 0.99);
  }
  const double quarter = 0.5 * CAVUM_PI;
  const cavum_sector turns[] = {{quarter, 9}, {quarter, 1}, {quarter, 9}, {quarter, 1}};
  ck_assert_double_eq_tol(cavum_sector_ring_exponent(turns, 4), 4.0 / CAVUM_PI * atan(1.0 / 3.0),
                          1e-12);
  const cavum_sector straight[] = {{CAVUM_PI, 9}, {CAVUM_PI, 1}};
  ck_assert_double_eq_tol(cavum_sector_ring_exponent(straight, 2), 1.0, 1e-7);
  const cavum_sector one[] = {{2.0, 3}, {2.0 * CAVUM_PI - 2.0, 3}};
  ck_assert_double_eq_tol(cavum_sector_ring_exponent(one, 2), 1.0, 1e-7);
}
END_TEST

// The shooting has steps of 64th parts of a sector: 1e-6 is what they leave.
START_TEST(dielectric_cones_on_the_axis) {
  static const struct {
    double half_angle_deg, eps_inside, eps_outside, exponent;
  } rows[] = {{60, 10, 1, 0.680245409991122},
              {120, 10, 1, 1.32753855103071},
              {83.6, 1, 6.3712, 1.084962679725},
              {96.4, 1, 6.3712, 0.922914605219773},
              {90, 4, 1, 1.0},
              {40, 3, 3, 1.0}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    double angle = rows[i].half_angle_deg * DEGREE_RAD;
    const cavum_sector there[] = {{angle, rows[i].eps_inside},
                                  {CAVUM_PI - angle, rows[i].eps_outside}};
    const cavum_sector back[] = {there[1], there[0]};
    double nu = cavum_sector_tip_exponent(there, 2, CAVUM_SECTOR_END_AXIS);
    ck_assert_double_eq_tol(nu, rows[i].exponent, 1e-6);
    nu = cavum_sector_tip_exponent(back, 2, CAVUM_SECTOR_END_AXIS);
    ck_assert_double_eq_tol(nu, rows[i].exponent, 1e-6);
  }
}
END_TEST

// Tips of metal: roots of P_nu(cos alpha), as in test_singular_exponent.c.
START_TEST(tips_of_metal) {
  const cavum_sector blunt = {120.0 * DEGREE_RAD, 2.0};
  double nu = cavum_sector_tip_exponent(&blunt, 1, CAVUM_SECTOR_END_METAL);
  ck_assert_double_eq_tol(nu, 0.6015, 1e-4);
  nu = cavum_sector_tip_exponent(&blunt, 1, CAVUM_SECTOR_END_MAGNETIC);
  ck_assert_double_eq_tol(nu, 1.4241, 1e-4);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, dielectrics_on_a_wall);
  tcase_add_test(tests, one_material_has_the_plain_exponent);
  tcase_add_test(tests, dielectrics_inside);
  tcase_add_test(tests, dielectric_cones_on_the_axis);
  tcase_add_test(tests, tips_of_metal);
}

CAVUM_TEST_MAIN("sector exponents", add_tests)
