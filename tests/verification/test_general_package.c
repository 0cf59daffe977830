// SPDX-License-Identifier: GPL-3.0-or-later
// One cell against an independent general-purpose finite-element package (FreeFEM, Debian package
// freefem++): quadratic elements on straight triangles, another mesh, another assembly, another
// solver.
#include "general_package.h"
#include "solving.h"
#include "support.h"

START_TEST(mid_cell_in_the_pi_mode) {
  double coarse = general_package_frequency_hz(10), fine = general_package_frequency_hz(20);
  ck_assert_msg(coarse > 0.0, "FreeFem++ gave nothing; scripts/install-packages installs it");
  cavum_result *result = solving_solve_text(
      "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
      "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
      "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n",
      1e-6, 1e-4);
  double ours = solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY);
  // Straight sides make the error fall as h^2, so it is extrapolated away; what is left is the next
  // term, about the square of the relative error of the finer mesh over the first, 1e-6 with
  // margin.
  CAVUM_CHECK_RELATIVE(fine + (fine - coarse) / 3.0, ours, 2e-6);
  ck_assert_double_gt(coarse, fine);  // an inscribed polygon raises the frequency
  ck_assert_double_gt(fine, ours);
  cavum_result_destroy(&result);
}
END_TEST

static void add_tests(TCase *tests) { tcase_add_test(tests, mid_cell_in_the_pi_mode); }

CAVUM_TEST_MAIN("general package", add_tests)
