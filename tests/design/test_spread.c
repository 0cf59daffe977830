// SPDX-License-Identifier: GPL-3.0-or-later
// Spreads by tolerances: against a closed form with known curvature, linear against sampled,
// shares, correlations, the reverse, and what is refused.
#include <gsl/gsl_cdf.h>
#include <string.h>

#include "cavum/tolerance.h"
#include "solving.h"
#include "test_cell.h"

// A closed cylinder whose side wall moves as a whole: f = c 2.40483 / (2 pi R).
#define CYLINDER(width)                                            \
  "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n" \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"        \
  "    - {line_to: {z_mm: 100, r_mm: 90}, boundary: metal}\n"      \
  "    - {line_to: {z_mm: 0, r_mm: 90}, boundary: metal}\n"        \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"         \
  "tolerances:\n"                                                  \
  "  path[2].line_to.r_mm: {normal: " width                        \
  "}\n"                                                            \
  "  path[3].line_to.r_mm: {normal: " width                        \
  "}\n"                                                            \
  "  correlations:\n"                                              \
  "    - {of: [\"path[2].line_to.r_mm\", \"path[3].line_to.r_mm\"], coefficient: 1}\n"
static const double RADIUS_MM = 90.0;

static cavum_spread *spread_of(const char *text, int num_samples) {
  cavum_cell cell = solving_read(text);
  cavum_tolerances *tolerances = NULL;
  cavum_spread *spread = NULL;
  cavum_error error = {0};
  cavum_spread_options choices = cavum_spread_options_default();
  choices.num_samples = num_samples;
  cavum_status status =
      cavum_tolerances_read_text(&tolerances, &cell, text, strlen(text), "test.yaml", &error);
  if (status == CAVUM_OK) {
    status = cavum_spread_make(&spread, &cell, tolerances, &choices, NULL, &error);
  }
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_tolerances_destroy(&tolerances);
  cavum_cell_clear(&cell);
  return spread;
}

// s^2 of n samples with variance v: (n - 1) s^2 / v is chi-square with n - 1 degrees of freedom; it
// leaves these limits once in ten thousand seeds, and the seed is fixed.
static void check_chi_square(double deviation, double expected, int count, const char *what) {
  double free = count - 1.0, observed = free * pow(deviation / expected, 2);
  double low = gsl_cdf_chisq_Pinv(5e-5, free), high = gsl_cdf_chisq_Qinv(5e-5, free);
  printf("%s: chi-square %.4g of %g, limits %.4g and %.4g\n", what, observed, free, low, high);
  ck_assert_msg(observed > low && observed < high, "%s: %.6g sampled, %.6g expected", what,
                deviation, expected);
}

// Small: linear, f s / R. The slope is good to the uncertainty of a derivative, far below 1e-6.
START_TEST(a_closed_form_of_small_tolerances) {
  enum { COUNT = 200 };
  const double width = 0.01;
  cavum_spread *spread = spread_of(CYLINDER("0.01"), COUNT);
  const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
  CAVUM_CHECK_RELATIVE(f->deviation, f->value * width / RADIUS_MM, 1e-6);
  CAVUM_CHECK_NEAR(f->share[0], 0.5, 1e-9);  // both ends of the wall do the same
  CAVUM_CHECK_NEAR(f->share[1], 0.5, 1e-9);
  ck_assert(f->has_linear && !f->is_curved);
  check_chi_square(f->sampled_deviation, f->deviation, COUNT, "f");
  cavum_spread_destroy(&spread);
}
END_TEST

// Large: f = f0 / (1 + x) with x = s z is f0 (1 - x + x^2 - ...): what is not linear is x^2 to the
// lowest order, of mean s^2, and its root mean square over the deviation sqrt(3) s, here 0.12 and
// so above a tenth; the variance is s^2 + 8 s^4 (terms to fourth order, moments of a normal
// variable).
START_TEST(known_curvature_is_noticed_and_sampled) {
  const double s = 6.3 / RADIUS_MM;
  cavum_spread *spread = spread_of(CYLINDER("6.3"), -1);
  const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
  ck_assert(f->is_curved);
  ck_assert_int_eq(spread->num_samples, 1000);
  ck_assert_int_eq(spread->num_failed, 0);
  // 32 draws of z^2 have a root mean square that scatters by sqrt(Var z^4) / (2 E z^4) / sqrt(32) =
  // sqrt(96) / 6 / sqrt(32) = 29 %; three of these, and a tenth for higher orders.
  CAVUM_CHECK_RELATIVE(f->departure, sqrt(3.0) * s, 1.0);
  // The mean of 1000 scatters by s / sqrt(1000); four of these.
  CAVUM_CHECK_NEAR(f->sampled_mean / f->value - 1.0, s * s + 3.0 * pow(s, 4), 4.0 * s / sqrt(1e3));
  check_chi_square(f->sampled_deviation, f->value * sqrt(s * s + 8.0 * pow(s, 4)), 1000,
                   "curved f");
  ck_assert(f->sampled_low < f->value && f->sampled_high > f->value);
  cavum_spread_destroy(&spread);
}
END_TEST

// R_s of niobium is no less curved than the frequency that it comes from, whatever the fit is known
// to: of a f^p, what is not linear is (p + 1) / 2 times that of f, here with p from 1 to 2; 32
// shapes, the same for both, and a fifth for higher orders.
START_TEST(a_fit_hides_no_curvature) {
  cavum_spread *spread = spread_of(
      "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 2.0}\n" CYLINDER("6.3"), 0);
  const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
  const cavum_figure_spread *r = &spread->figures[CAVUM_FIGURE_SURFACE_RESISTANCE];
  CAVUM_CHECK_RELATIVE(r->departure, 1.25 * f->departure, 0.4);
  ck_assert(f->is_curved && r->is_curved);
  cavum_spread_destroy(&spread);
}
END_TEST

// What one dimension makes is made by no several, however little a fit follows it.
START_TEST(one_dimension_makes_all) {
  cavum_spread *spread =
      spread_of(TEST_CELL "tolerances: {equator_radius_mm: {normal: 12}}\n", 100);
  const cavum_figure_spread *b = &spread->figures[CAVUM_FIGURE_BPK_OVER_EACC];
  ck_assert(b->is_curved && b->has_sampled_shares);
  ck_assert(b->share[0] == 1.0 && b->share_together == 0.0);
  cavum_spread_destroy(&spread);
}
END_TEST

// A fillet whose end moves off the tangent is a sharp corner one way, where E has no bound.
START_TEST(shapes_without_a_figure_are_counted) {
  enum { COUNT = 40 };
  cavum_spread *spread = spread_of(
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 72, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 72, r_mm: 12}, boundary: electric}\n"
      "    - {line_to: {z_mm: 37, r_mm: 12}, boundary: metal}\n"
      "    - {arc_to: {z_mm: 30, r_mm: 19}, centre: {z_mm: 37, r_mm: 19}, turn: right, "
      "boundary: metal}\n"
      "    - {line_to: {z_mm: 30, r_mm: 42}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 42}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"
      "tolerances: {'path[3].line_to.r_mm': {normal: 0.5}}\n",
      COUNT);
  int missing = spread->num_missing[CAVUM_FIGURE_EPK_OVER_EACC];
  printf("%d of %d without a peak of E\n", missing, COUNT);
  ck_assert(spread->figures[CAVUM_FIGURE_EPK_OVER_EACC].is_curved);
  // The corner points inwards at one end of the arc or at the other: nearly always.
  ck_assert_int_ge(missing, COUNT / 4);
  ck_assert_int_le(missing, COUNT);
  ck_assert_int_eq(spread->num_failed, 0);
  ck_assert_int_eq(spread->num_missing[CAVUM_FIGURE_FREQUENCY], 0);
  cavum_spread_destroy(&spread);
}
END_TEST

START_TEST(linear_agrees_with_sampled) {
  enum { COUNT = 300 };
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_GEOMETRY_FACTOR};
  cavum_spread *spread = spread_of(TEST_CELL
                                   "accuracy: {frequency: 1.0e-7, other_figures: 1.0e-5}\n"
                                   "tolerances:\n"
                                   "  equator_radius_mm: {normal: 0.05}\n"
                                   "  iris_radius_mm: {uniform: 0.05}\n"
                                   "  half_length_mm: {normal: 0.05}\n",
                                   COUNT);
  for (int i = 0; i < 2; i++) {
    const cavum_figure_spread *f = &spread->figures[ids[i]];
    double sum = 0.0, squares = 0.0;
    ck_assert(f->has_linear && !f->is_curved);
    check_chi_square(f->sampled_deviation, f->deviation, COUNT, cavum_figure_describe(ids[i]).key);
    for (int j = 0; j < 3; j++) {
      double width = j == 1 ? 0.05 / sqrt(3.0) : 0.05;
      sum += f->share[j];
      squares += pow(f->slope[j] * width, 2);
    }
    CAVUM_CHECK_NEAR(sum, 1.0, 1e-12);
    CAVUM_CHECK_RELATIVE(f->deviation, sqrt(squares), 1e-12);  // rounding
  }
  cavum_spread_destroy(&spread);
}
END_TEST

// Drawn shapes are solved at a lower degree than the cell. Against the same shapes at the degree of
// the cell: what is left out of a spread is what was stated, or a little more, since that is from
// four shapes.
START_TEST(drawn_shapes_have_a_degree_that_is_enough) {
  enum { COUNT = 60 };
  static const char text[] = TEST_CELL
      "tolerances:\n  equator_radius_mm: {normal: 0.05}\n  iris_radius_mm: {normal: 0.05}\n"
      "  iris_ellipse.axial_mm: {normal: 0.05}\n";
  cavum_cell cell = solving_read(text);
  cavum_tolerances *tolerances = NULL;
  cavum_spread *chosen = spread_of(text, COUNT), *high = NULL;
  cavum_error error = {0};
  cavum_spread_options choices = cavum_spread_options_default();
  cavum_solve_options options = cavum_solve_options_default();
  choices.num_samples = COUNT;
  options.degree = 9;
  ck_assert_int_eq(
      cavum_tolerances_read_text(&tolerances, &cell, text, strlen(text), "test.yaml", &error),
      CAVUM_OK);
  ck_assert_int_eq(cavum_spread_make(&high, &cell, tolerances, &choices, &options, &error),
                   CAVUM_OK);
  ck_assert_int_ge(chosen->samples_degree, 4);
  ck_assert_int_lt(chosen->samples_degree, 7);  // that of the cell
  ck_assert(chosen->samples_error > 0.0 && chosen->samples_error <= 0.03);
  ck_assert_int_eq(high->samples_degree, 9);
  ck_assert(high->samples_error == 0.0);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *low = &chosen->figures[id], *true_one = &high->figures[id];
    if (low->state != CAVUM_FIGURE_PRESENT || isnan(true_one->sampled_deviation)) continue;
    printf("%s: ", cavum_figure_describe((cavum_figure_id)id).key);
    CAVUM_CHECK_RELATIVE(low->sampled_deviation, true_one->sampled_deviation,
                         2.0 * chosen->samples_error);
  }
  cavum_tolerances_destroy(&tolerances);
  cavum_spread_destroy(&chosen);
  cavum_spread_destroy(&high);
  cavum_cell_clear(&cell);
}
END_TEST

// An end of an arc takes its centre along, also where the cell has more modes than the spread
// solves for.
START_TEST(ends_of_arcs_have_tolerances) {
  enum { COUNT = 60 };
  cavum_spread *spread = spread_of(
      "contour:\n  kind: path\n  start: {z_mm: -40, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 90, r_mm: 0}, boundary: axis}\n"
      "    - {arc_to: {z_mm: 30, r_mm: 60}, centre: {z_mm: 30, r_mm: 0}, turn: left, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: -40, r_mm: 60}, boundary: metal}\n"
      "    - {line_to: {z_mm: -40, r_mm: 0}, boundary: metal}\n"
      "modes: {count: 2}\n"
      "tolerances: {'path[2].arc_to.r_mm': {normal: 0.02}, 'path[2].arc_to.z_mm': {normal: "
      "0.02}}\n",
      COUNT);
  const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
  ck_assert(f->has_linear);
  ck_assert_int_eq(spread->num_failed, 0);
  check_chi_square(f->sampled_deviation, f->deviation, COUNT, "frequency_Hz");
  cavum_spread_destroy(&spread);
}
END_TEST

// Every number of an arc that has a derivative has shapes as well: an arc that misses its ends is
// fitted to them, which is what the derivative is of.
START_TEST(numbers_of_arcs_have_tolerances) {
  enum { COUNT = 30 };
  static const char *const numbers[] = {"path[4].centre.z_mm", "path[4].axial_mm",
                                        "path[4].radial_mm"};
  char text[1024];
  snprintf(text, sizeof text,
           "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: 72, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 72, r_mm: 12}, boundary: electric}\n"
           "    - {line_to: {z_mm: 37, r_mm: 12}, boundary: metal}\n"
           "    - {ellipse_to: {z_mm: 31, r_mm: 20}, centre: {z_mm: 37, r_mm: 20}, axial_mm: 6, "
           "radial_mm: 8, turn: right, boundary: metal}\n"
           "    - {line_to: {z_mm: 31, r_mm: 42}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 42}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"
           "tolerances: {'%s': {normal: 0.01}}\n",
           numbers[_i]);
  cavum_spread *spread = spread_of(text, COUNT);
  const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
  ck_assert_int_eq(spread->num_failed, 0);
  ck_assert(f->has_linear);
  check_chi_square(f->sampled_deviation, f->deviation, COUNT, "frequency_Hz");
  cavum_spread_destroy(&spread);
}
END_TEST

// Volume and aperture of a cell of two ellipses: pi r^2 L of the closed cylinder is a closed form.
START_TEST(figures_of_the_shape_have_spreads) {
  cavum_spread *spread = spread_of(CYLINDER("0.1"), 0);
  const cavum_figure_spread *volume = &spread->shape[CAVUM_GEOMETRY_VOLUME];
  const cavum_figure_spread *area = &spread->shape[CAVUM_GEOMETRY_WALL_AREA];
  const double radius_m = 0.09, length_m = 0.1, width_m = 1e-4;
  ck_assert(volume->has_linear && !volume->is_curved);
  CAVUM_CHECK_RELATIVE(volume->deviation, 2.0 * M_PI * radius_m * length_m * width_m, 1e-9);
  CAVUM_CHECK_RELATIVE(area->deviation, 2.0 * M_PI * (length_m + 2.0 * radius_m) * width_m, 1e-9);
  ck_assert_int_eq(spread->shape[CAVUM_GEOMETRY_WALL_ANGLE].state, CAVUM_FIGURE_ABSENT);
  cavum_spread_destroy(&spread);
  // The aperture is the smaller of two irises: by one of them it has no derivative, and is sampled.
  spread = spread_of(TEST_CELL
                     "tolerances: {left.iris_radius_mm: {uniform: 0.1}, half_length_mm: {normal: "
                     "0.05}}\n",
                     200);
  const cavum_figure_spread *aperture = &spread->shape[CAVUM_GEOMETRY_APERTURE_RADIUS];
  ck_assert(!aperture->has_linear && aperture->reason);
  // min(x, 0) of a uniform x in +- a has the mean -a / 4; three deviations of the mean of 200.
  CAVUM_CHECK_NEAR(aperture->sampled_mean - 35e-3, -0.025e-3, 3.0 * 0.033e-3 / sqrt(200.0));
  const cavum_figure_spread *length = &spread->shape[CAVUM_GEOMETRY_TOTAL_LENGTH];
  CAVUM_CHECK_RELATIVE(length->deviation, 2.0 * 0.05e-3, 1e-12);
  cavum_spread_destroy(&spread);
  // It does not hang on the length of a half: by the radius of both it is linear.
  spread = spread_of(TEST_CELL
                     "tolerances: {iris_radius_mm: {uniform: 0.1}, left.half_length_mm: {normal: "
                     "0.05}}\n",
                     0);
  aperture = &spread->shape[CAVUM_GEOMETRY_APERTURE_RADIUS];
  ck_assert(aperture->has_linear);
  CAVUM_CHECK_RELATIVE(aperture->deviation, 0.1e-3 / sqrt(3.0), 1e-12);
  cavum_spread_destroy(&spread);
}
END_TEST

// Halves of a mirror-symmetric cell: alike they are one dimension of both, against each other they
// do nothing to first order.
START_TEST(halves_may_be_correlated) {
#define HALVES(c)                                                                              \
  TEST_CELL                                                                                    \
  "tolerances:\n  left.half_length_mm: {normal: 0.1}\n  right.half_length_mm: {normal: 0.1}\n" \
  "  correlations: [{of: [left.half_length_mm, right.half_length_mm], coefficient: " c "}]\n"
  cavum_spread *both = spread_of(TEST_CELL "tolerances: {half_length_mm: {normal: 0.1}}\n", 0);
  cavum_spread *alike = spread_of(HALVES("1"), 0), *against = spread_of(HALVES("-1"), 0);
  cavum_spread *alone = spread_of(HALVES("0"), 0);
  double whole = both->figures[CAVUM_FIGURE_FREQUENCY].deviation;
  // The cell is its own mirror image: to first order each half does half of what both do.
  CAVUM_CHECK_RELATIVE(alike->figures[CAVUM_FIGURE_FREQUENCY].deviation, whole, 1e-12);
  CAVUM_CHECK_RELATIVE(alone->figures[CAVUM_FIGURE_FREQUENCY].deviation, whole / sqrt(2.0), 1e-12);
  CAVUM_CHECK_NEAR(against->figures[CAVUM_FIGURE_FREQUENCY].deviation, 0.0, 1e-7 * whole);
  cavum_spread_destroy(&both);
  cavum_spread_destroy(&alike);
  cavum_spread_destroy(&against);
  cavum_spread_destroy(&alone);
}
END_TEST

// Equal parts keep the band with the correlations that there are, and without them.
START_TEST(correlated_parts_keep_a_band) {
  static const struct {
    const char *text;
    double coefficient;
  } halves[] = {{HALVES("0"), 0.0}, {HALVES("0.6"), 0.6}, {HALVES("-0.6"), -0.6}};
  for (size_t i = 0; i < sizeof halves / sizeof *halves; i++) {
    double alone[2], shared[2], factor = 0.0, band = 1e5, c = halves[i].coefficient;
    cavum_spread *spread = spread_of(halves[i].text, 0);
    const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
    ck_assert(cavum_spread_allow(alone, shared, &factor, spread, CAVUM_FIGURE_FREQUENCY, band));
    double a = f->slope[0] * shared[0], b = f->slope[1] * shared[1];
    double deviation = sqrt(a * a + b * b + 2.0 * cavum_max(c, 0.0) * a * b);
    CAVUM_CHECK_RELATIVE(a, b, 1e-9);  // the cell is its own mirror image
    CAVUM_CHECK_RELATIVE(2.0 * deviation, band, 1e-12);
    cavum_spread_destroy(&spread);
  }
}
END_TEST

// B_pk of a cell that is its own mirror image stands on both sides of the equator. Halves that are
// correlated fully are one dimension of both; where each half has its own, the larger of two peaks
// counts, which is not linear and noticed.
START_TEST(peaks_at_mirrored_places_have_a_linear_spread) {
  cavum_spread *both = spread_of(
      TEST_CELL "tolerances:\n  half_length_mm: {normal: 0.1}\n  iris_radius_mm: {normal: 0.1}\n",
      0);
  cavum_spread *alike = spread_of(
      TEST_CELL
      "tolerances:\n  left.half_length_mm: {normal: 0.1}\n  right.half_length_mm: {normal: 0.1}\n"
      "  iris_radius_mm: {normal: 0.1}\n"
      "  correlations: [{of: [left.half_length_mm, right.half_length_mm], coefficient: 1}]\n",
      0);
  cavum_spread *mixed = spread_of(
      TEST_CELL
      "tolerances:\n  left.half_length_mm: {normal: 0.1}\n  right.iris_radius_mm: {normal: 0.1}\n",
      0);
  const cavum_figure_spread *b = &both->figures[CAVUM_FIGURE_BPK_OVER_EACC];
  const cavum_figure_spread *a = &alike->figures[CAVUM_FIGURE_BPK_OVER_EACC];
  const cavum_figure_spread *m = &mixed->figures[CAVUM_FIGURE_BPK_OVER_EACC];
  ck_assert(b->has_linear && !b->is_curved);
  ck_assert(a->has_linear && !a->is_curved);
  CAVUM_CHECK_RELATIVE(a->deviation, b->deviation, 1e-12);  // the same solve
  ck_assert(m->has_linear && m->is_curved);
  CAVUM_CHECK_RELATIVE(m->deviation, 0.5 * b->deviation, 1e-12);
  cavum_spread_destroy(&both);
  cavum_spread_destroy(&alike);
  cavum_spread_destroy(&mixed);
}
END_TEST

// With the tolerances that it allows, two standard deviations are the band.
// A path that is its own image, of which one nose has a tolerance: what a low degree leaves out was
// found on half the cell, drawn shapes were solved whole, and E_pk of all of them was 1.6 % less
// than that of the cell. A micrometre changes it by some 3e-5.
START_TEST(one_side_of_a_symmetric_path_may_vary) {
  static const char text[] =
      "beta: 0.06\naccelerating_length_mm: 110\n"
      "contour:\n  kind: path\n  start: {z_mm: -190, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 190, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 190, r_mm: 18}, boundary: metal}\n"
      "    - {line_to: {z_mm: 30, r_mm: 18}, boundary: metal}\n"
      "    - {arc_to: {z_mm: 30, r_mm: 42}, centre: {z_mm: 30, r_mm: 30}, turn: right, "
      "boundary: metal}\n"
      "    - {line_to: {z_mm: 120, r_mm: 80}, boundary: metal}\n"
      "    - {line_to: {z_mm: 120, r_mm: 520}, boundary: metal}\n"
      "    - {line_to: {z_mm: -120, r_mm: 520}, boundary: metal}\n"
      "    - {line_to: {z_mm: -120, r_mm: 80}, boundary: metal}\n"
      "    - {line_to: {z_mm: -30, r_mm: 42}, boundary: metal}\n"
      "    - {arc_to: {z_mm: -30, r_mm: 18}, centre: {z_mm: -30, r_mm: 30}, turn: right, "
      "boundary: metal}\n"
      "    - {line_to: {z_mm: -190, r_mm: 18}, boundary: metal}\n"
      "    - {line_to: {z_mm: -190, r_mm: 0}, boundary: metal}\n"
      "tolerances: {\"path[3].line_to.r_mm\": {uniform: 0.001}}\n";
  cavum_spread *spread = spread_of(text, 50);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *f = &spread->figures[id];
    if (f->state != CAVUM_FIGURE_PRESENT || !isfinite(f->sampled_mean)) continue;
    CAVUM_CHECK_NEAR(f->sampled_mean, f->value, 1e-4 * fabs(f->value));
  }
  const cavum_figure_spread *peak = &spread->figures[CAVUM_FIGURE_EPK_OVER_EACC];
  ck_assert(isfinite(peak->sampled_mean) && peak->sampled_deviation > 0.0);
  cavum_spread_destroy(&spread);
}
END_TEST

START_TEST(the_reverse_keeps_a_band) {
  const char text[] = TEST_CELL
      "tolerances:\n  equator_radius_mm: {normal: 0.05}\n  iris_radius_mm: {uniform: 0.05}\n";
  cavum_spread *spread = spread_of(text, 0);
  const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
  double alone[2], shared[2], factor = 0.0, band = 1e5, variance = 0.0;
  ck_assert(cavum_spread_allow(alone, shared, &factor, spread, CAVUM_FIGURE_FREQUENCY, band));
  CAVUM_CHECK_RELATIVE(2.0 * factor * f->deviation, band, 1e-12);
  CAVUM_CHECK_RELATIVE(2.0 * alone[0] * fabs(f->slope[0]), band, 1e-12);
  CAVUM_CHECK_RELATIVE(2.0 * alone[1] / sqrt(3.0) * fabs(f->slope[1]), band, 1e-12);
  for (int j = 0; j < 2; j++) {
    variance += pow(f->slope[j] * shared[j] / (j == 1 ? sqrt(3.0) : 1.0), 2);
  }
  CAVUM_CHECK_RELATIVE(2.0 * sqrt(variance), band, 1e-12);
  ck_assert(!cavum_spread_allow(alone, shared, &factor, spread, CAVUM_FIGURE_Q0, band));
  ck_assert(!cavum_spread_allow(alone, shared, &factor, spread, CAVUM_FIGURE_FREQUENCY, 0.0));
  cavum_spread_destroy(&spread);
}
END_TEST

START_TEST(a_covariance_is_read) {
  const char text[] = TEST_CELL
      "tolerances:\n  covariance:\n    of: [iris_radius_mm, equator_radius_mm]\n"
      "    values: [[0.04, -0.03], [-0.03, 0.09]]\n";
  cavum_cell cell = solving_read(text);
  cavum_tolerances *t = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_tolerances_read_text(&t, &cell, text, strlen(text), NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(t->count, 2);
  ck_assert_str_eq(t->list[1].key, "equator_radius_mm");
  CAVUM_CHECK_RELATIVE(t->list[0].width, 0.2, 1e-14);
  CAVUM_CHECK_RELATIVE(t->list[1].width, 0.3, 1e-14);
  CAVUM_CHECK_RELATIVE(t->correlation[1], -0.5, 1e-14);
  CAVUM_CHECK_RELATIVE(t->correlation[3], 1.0, 0.0);
  cavum_tolerances_destroy(&t);
  cavum_cell_clear(&cell);
}
END_TEST

#define TWO "  iris_radius_mm: {normal: 0.1}\n  half_length_mm: {normal: 0.1}\n"
static const struct {
  const char *section, *words;
} refused[] = {
    {"beta: 0.9\n", "expected a section 'tolerances'"},
    {"tolerances: 5\n", "expected a section 'tolerances'"},
    {"tolerances: {}\n", "expected a dimension"},
    {"tolerances: {iris_radus_mm: {normal: 1}}\n", "did you mean 'iris_radius_mm'"},
    {"tolerances: {iris_radius_mm: 0.1}\n", "expected {normal: DEVIATION}"},
    {"tolerances: {iris_radius_mm: {triangle: 0.1}}\n", "expected {normal: DEVIATION}"},
    {"tolerances: {iris_radius_mm: {normal: 0}}\n", "must be above 0"},
    {"tolerances: {iris_radius_mm: {normal: x}}\n", "number"},
    {"tolerances: {iris_radius_mm: {normal: 1}, contour.iris_radius_mm: {normal: 1}}\n",
     "is there twice"},
    {"tolerances:\n" TWO "  correlations: 1\n", "expected a list"},
    {"tolerances:\n" TWO "  correlations: [{of: [iris_radius_mm], coefficient: 1}]\n",
     "expected {of: [DIMENSION, DIMENSION]"},
    {"tolerances:\n" TWO "  correlations: [{of: [iris_radius_mm, beta], coefficient: 1}]\n",
     "beta has no tolerance"},
    {"tolerances:\n" TWO
     "  correlations: [{of: [iris_radius_mm, half_length_mm], coefficient: 1.5}]\n",
     "from -1 to 1"},
    {"tolerances:\n" TWO
     "  beta: {uniform: 0.01}\n  correlations: [{of: [iris_radius_mm, beta], coefficient: 1}]\n",
     "same kind"},
    {"tolerances:\n" TWO
     "  beta: {normal: 0.01}\n  correlations: [{of: [iris_radius_mm, beta], coefficient: 1}, {of: "
     "[half_length_mm, beta], coefficient: 1}, {of: [half_length_mm, iris_radius_mm], coefficient: "
     "-1}]\n",
     "no dimensions can be correlated like this"},
    {"tolerances: {covariance: {of: [beta], values: [[1, 2]]}}\n", "rows of 1 values"},
    {"tolerances: {covariance: {of: [beta], values: [[-1]]}}\n", "above 0 on the diagonal"},
    {"tolerances: {covariance: {of: [iris_radius_mm, beta], values: [[1, 2], [2, 1]]}}\n",
     "correlations from -1 to 1"},
    {"tolerances: {covariance: {of: [beta]}}\n", "expected {of: [DIMENSION, ...]"},
};

START_TEST(what_makes_no_sense_is_refused) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_tolerances *t = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_tolerances_read_text(&t, &cell, refused[_i].section,
                                              strlen(refused[_i].section), "t.yaml", &error),
                   CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_null(t);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].words));
  ck_assert_int_eq(strncmp(error.message, "t.yaml:", 7), 0);
  cavum_cell_clear(&cell);
}
END_TEST

// Bit for bit, with halves of a cell that are told apart; a question whether to stop ends all.
static bool say_stop(void *data) {
  int *asked = data;
  return ++*asked > 3;
}

START_TEST(threads_do_not_change_a_spread) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_tolerance of[2] = {{.key = "left.iris_radius_mm", .width = 0.1},
                           {.key = "right.iris_radius_mm", .width = 0.1}};
  double correlation[4] = {1.0, 0.5, 0.5, 1.0};
  cavum_tolerances t = {2, of, correlation};
  cavum_spread *spreads[2] = {NULL};
  cavum_spread_options choices = cavum_spread_options_default();
  choices.num_samples = 130;  // three rows of shapes
  for (int k = 0; k < 2; k++) {
    choices.num_threads = k == 0 ? 1 : 3;
    ck_assert_int_eq(cavum_spread_make(&spreads[k], &cell, &t, &choices, NULL, NULL), CAVUM_OK);
    ck_assert_int_eq(spreads[k]->num_failed, 0);
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *a = &spreads[0]->figures[id], *b = &spreads[1]->figures[id];
    if (a->state != CAVUM_FIGURE_PRESENT) continue;
    if (id == CAVUM_FIGURE_FREQUENCY) ck_assert(a->sampled_deviation > 0.0);
    ck_assert_mem_eq(&a->sampled_deviation, &b->sampled_deviation, sizeof(double));
    ck_assert_mem_eq(&a->sampled_low, &b->sampled_low, sizeof(double));
    ck_assert_mem_eq(&a->departure, &b->departure, sizeof(double));
  }
  int asked = 0;
  choices.num_samples = 5000;  // more than are done before it is asked so often
  cavum_spread *none = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = say_stop;
  options.stop_data = &asked;
  ck_assert_int_eq(cavum_spread_make(&none, &cell, &t, &choices, &options, NULL),
                   CAVUM_ERR_STOPPED);
  ck_assert_ptr_null(none);
  for (int k = 0; k < 2; k++) cavum_spread_destroy(&spreads[k]);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(wrong_calls_are_refused) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_tolerance one = {.key = "iris_radius_mm", .width = -1.0};
  double correlation = 1.0;
  cavum_tolerances t = {1, &one, &correlation};
  cavum_spread_options choices = cavum_spread_options_default();
  cavum_spread *spread = NULL;
  ck_assert_int_eq(cavum_spread_make(&spread, &cell, &t, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  one.width = 0.1;
  choices.mode = 1;
  ck_assert_int_eq(cavum_spread_make(&spread, &cell, &t, &choices, NULL, NULL), CAVUM_ERR_USAGE);
  choices.mode = 0;
  choices.num_threads = -1;
  ck_assert_int_eq(cavum_spread_make(&spread, &cell, &t, &choices, NULL, NULL), CAVUM_ERR_USAGE);
  snprintf(one.key, sizeof one.key, "wall.temperature_K");
  ck_assert_int_eq(cavum_spread_make(&spread, &cell, &t, NULL, NULL, NULL), CAVUM_ERR_INPUT);
  ck_assert_int_eq(cavum_spread_make(&spread, NULL, &t, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_tolerances_read_file(NULL, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(spread);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_closed_form_of_small_tolerances);
  tcase_add_test(tests, known_curvature_is_noticed_and_sampled);
  tcase_add_test(tests, a_fit_hides_no_curvature);
  tcase_add_test(tests, one_dimension_makes_all);
  tcase_add_test(tests, shapes_without_a_figure_are_counted);
  tcase_add_test(tests, correlated_parts_keep_a_band);
  tcase_add_test(tests, linear_agrees_with_sampled);
  tcase_add_test(tests, drawn_shapes_have_a_degree_that_is_enough);
  tcase_add_test(tests, ends_of_arcs_have_tolerances);
  tcase_add_loop_test(tests, numbers_of_arcs_have_tolerances, 0, 3);
  tcase_add_test(tests, figures_of_the_shape_have_spreads);
  tcase_add_test(tests, halves_may_be_correlated);
  tcase_add_test(tests, peaks_at_mirrored_places_have_a_linear_spread);
  tcase_add_test(tests, one_side_of_a_symmetric_path_may_vary);
  tcase_add_test(tests, the_reverse_keeps_a_band);
  tcase_add_test(tests, a_covariance_is_read);
  tcase_add_loop_test(tests, what_makes_no_sense_is_refused, 0, sizeof refused / sizeof *refused);
  tcase_add_test(tests, threads_do_not_change_a_spread);
  tcase_add_test(tests, wrong_calls_are_refused);
}

CAVUM_TEST_MAIN("spread", add)
