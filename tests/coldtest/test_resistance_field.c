// SPDX-License-Identifier: GPL-3.0-or-later
// Surface resistance against field: the wall's weighting, and a known local R_s(B) that is
// integrated over a wall and comes back.
#include <gsl/gsl_integration.h>
#include <math.h>

#include "cavum/cell.h"
#include "cavum/solve.h"
#include "coldtest/linear_fit.h"
#include "coverage_field.h"

static double integrand(double r, void *data) {
  const int *power = data;
  return pow(fabs(gsl_sf_bessel_J1(r)), *power) * r;
}

// Of the whole wall of a pillbox of length lambda/2, in units of 1/k: both plates and the side,
// radius x01, length pi.
static double pillbox_integral(int power) {
  double result, error;
  const double x01 = 2.4048255576958;
  gsl_integration_workspace *workspace = gsl_integration_workspace_alloc(200);
  gsl_function function = {integrand, &power};
  gsl_integration_qag(&function, 0.0, x01, 0.0, 1e-12, 200, GSL_INTEG_GAUSS31, workspace, &result,
                      &error);
  gsl_integration_workspace_free(workspace);
  return 2.0 * result + x01 * CAVUM_PI * pow(gsl_sf_bessel_J1(x01), power);
}

// The trapezoidal rule of 1,000 steps a side is off by some h^2/12 times changes of slope: 1e-6.
START_TEST(weights_are_the_integrals_over_the_wall) {
  static field_wall wall;
  cavum_wall_weighting weighting = {0};
  field_make_wall(&wall, 1000);
  ck_assert_int_eq(cavum_wall_weigh(&weighting, wall.count, field_wall_arc_length(&wall), wall.r_m,
                                    wall.h, NULL),
                   CAVUM_OK);
  ck_assert(weighting.known);
  for (int n = 0; n < CAVUM_NUM_FIELD_TERMS; n++) {
    double exact = pillbox_integral(n + 2) / pillbox_integral(2) / pow(0.5818652243, n);
    CAVUM_CHECK_RELATIVE(weighting.moment[n], exact, 2e-6);
  }
}
END_TEST

START_TEST(a_wall_without_field_is_an_error) {
  const double z[] = {0.0, 1.0}, r[] = {1.0, 1.0}, none[] = {0.0, 0.0};
  cavum_wall_weighting weighting = {0};
  ck_assert_int_eq(cavum_wall_weigh(&weighting, 2, z, r, none, NULL), CAVUM_ERR_INPUT);
  ck_assert_int_eq(cavum_wall_weigh(&weighting, 1, z, r, z, NULL), CAVUM_ERR_INPUT);
  ck_assert(!weighting.known);
}
END_TEST

static void check_exact(const cavum_resistance_field *field, double tolerance) {
  for (int part = 0; part < CAVUM_NUM_FIELD_PARTS; part++) {
    for (int n = 0; n < 3; n++) {
      double truth = field_true_coefficient(part, n);
      CAVUM_CHECK_NEAR(field->local_ohm[part][n].value, truth, tolerance * 1e-8);
    }
    ck_assert(isnan(field->local_ohm[part][3].value));
  }
}

// Evaluates an exact test over a wall.
static void recover(cavum_resistance_field *field, const field_wall *wall, bool local) {
  static field_test drawn;
  cavum_wall_weighting weighting = {0};
  cavum_error error = {0};
  cavum_resistance_field_options options = field_options();
  if (local) {
    ck_assert_int_eq(cavum_wall_weigh(&weighting, wall->count, field_wall_arc_length(wall),
                                      wall->r_m, wall->h, NULL),
                     CAVUM_OK);
  }
  field_draw_test(&drawn, wall, NULL, true);
  cavum_coldtest *test =
      scenario_evaluate(&drawn.setup, drawn.readings, FIELD_GRADIENTS * FIELD_TEMPERATURES);
  ck_assert_msg(cavum_resistance_make_field(field, test, &options, &weighting, &error) == CAVUM_OK,
                "%s", error.message);
  cavum_coldtest_destroy(&test);
}

// Mid-point sums of the model against trapezoidal weights: both are right to 1e-6 of R_s.
START_TEST(the_local_resistance_comes_back) {
  static field_wall wall;
  cavum_resistance_field field;
  field_make_wall(&wall, 1000);
  recover(&field, &wall, true);
  check_exact(&field, 2e-5);
  // The average hides the field dependence: the means of h and h^2 are 0.908 and 0.830 here.
  const cavum_estimate *mean = field.average_ohm[CAVUM_FIELD_RESIDUAL];
  CAVUM_CHECK_RELATIVE(mean[1].value, 0.908388 * field_true_coefficient(CAVUM_FIELD_RESIDUAL, 1),
                       2e-5);
  CAVUM_CHECK_RELATIVE(mean[2].value, 0.829991 * field_true_coefficient(CAVUM_FIELD_RESIDUAL, 2),
                       2e-5);
}
END_TEST

START_TEST(without_a_wall_there_are_averages_alone) {
  static field_wall wall;
  cavum_resistance_field field;
  field_make_wall(&wall, 300);
  recover(&field, &wall, false);
  for (int g = 0; g < FIELD_GRADIENTS; g++) {
    ck_assert(isnan(field.points[g].local_bcs_ohm.value));
    ck_assert(isnan(field.points[g].local_residual_ohm.uncertainty));
    ck_assert(field.points[g].residual_ohm.uncertainty > 0.0);
  }
  ck_assert(isnan(field.local_ohm[0][0].value) && isfinite(field.average_ohm[0][0].value));
}
END_TEST

// The same over the wall of a solved cell. The weights are a trapezoidal rule over its samples, the
// truth a mid-point rule over them; they differ by the square of the steps, 1e-3 here.
START_TEST(the_wall_of_a_solved_cell_gives_it_back) {
  static field_wall wall;
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_resistance_field field;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  cavum_cell_set_defaults(&cell);
  ck_assert_msg(
      cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/mid-cell.yaml", &error) == CAVUM_OK &&
          cavum_solve(&result, &cell, &options, &error) == CAVUM_OK,
      "%s", error.message);
  const cavum_profile *profile = &cavum_result_mode(result, 0)->wall;
  ck_assert_int_le(profile->num_points, FIELD_WALL_MOST);
  wall.count = (int)profile->num_points;
  for (int i = 0; i < wall.count; i++) {
    wall.z_m[i] = profile->z_m[i];
    wall.r_m[i] = profile->r_m[i];
    wall.h[i] = profile->h_a_per_m[i];
  }
  recover(&field, &wall, true);
  check_exact(&field, 3e-3);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// 300 draws: the limits are four standard deviations of a count about 94 to 96 %.
START_TEST(intervals_hold_the_truth_as_often_as_stated) {
  ck_assert_int_eq(field_coverage_run(300, false), 0);
}
END_TEST

static void refuse_usage(const cavum_coldtest *test, const cavum_resistance_field_options *options,
                         const char *words) {
  static cavum_resistance_field field;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_resistance_make_field(&field, test, options, NULL, &error),
                   CAVUM_ERR_USAGE);
  ck_assert_msg(strstr(error.message, words), "%s", error.message);
}

START_TEST(bad_questions_are_refused) {
  static field_wall wall;
  static field_test drawn;
  cavum_resistance_field field;
  cavum_error error = {0};
  field_make_wall(&wall, 100);
  field_draw_test(&drawn, &wall, NULL, true);
  cavum_coldtest *test =
      scenario_evaluate(&drawn.setup, drawn.readings, FIELD_GRADIENTS * FIELD_TEMPERATURES);
  cavum_resistance_field_options options = field_options();
  options.num_gradients = 1;
  ck_assert_int_eq(cavum_resistance_make_field(&field, test, &options, NULL, &error),
                   CAVUM_ERR_INPUT);
  options = field_options();
  options.num_gradients = 2;
  ck_assert_int_eq(cavum_resistance_make_field(&field, test, &options, NULL, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "degree 2 with 2 gradients"));
  options.degree = -1;
  ck_assert_int_eq(cavum_resistance_make_field(&field, test, &options, NULL, &error), CAVUM_OK);
  ck_assert_int_eq(field.degree, 1);
  const cavum_resistance_field_options good = options;
  options.e_acc_v_per_m[1] = 0.0;
  refuse_usage(test, &options, "a gradient (e_acc_v_per_m) is 0, expected a finite number above 0");
  options.e_acc_v_per_m[1] = -5e6;
  refuse_usage(test, &options, "a gradient (e_acc_v_per_m) is -5e+06");
  options.e_acc_v_per_m[1] = NAN;
  refuse_usage(test, &options, "a gradient (e_acc_v_per_m) is nan");
  options = good;
  options.reference_k = 0.0;
  refuse_usage(test, &options, "reference_k is 0, expected a finite number above 0");
  options = good;
  options.degree = -2;
  refuse_usage(test, &options, "degree is -2");
  options = good;
  options.e_acc_tolerance = -0.1;
  refuse_usage(test, &options, "e_acc_tolerance is -0.1");
  options = good;
  options.struct_size = 0;
  refuse_usage(test, &options, "cavum_resistance_field_options_default()");
  options = good;
  options.e_acc_v_per_m[1] = 6e6;
  ck_assert_int_eq(cavum_resistance_make_field(&field, test, &options, NULL, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "5 and 6 MV/m share readings"));
  options.e_acc_v_per_m[1] = 30e6;
  ck_assert_int_eq(cavum_resistance_make_field(&field, test, &options, NULL, &error),
                   CAVUM_ERR_INPUT);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Three rows at x = -1, 0, 1 and a line: the mean and half the difference of the ends; an error of
// 0.3 that all share moves the mean by as much, the slope not at all.
START_TEST(shared_errors_are_not_averaged_away) {
  const double term[] = {1, -1, 1, 0, 1, 1}, value[] = {1.0, 2.0, 3.0}, own[] = {0.1, 0.1, 0.1};
  const double shared[] = {0.3, 0.3, 0.3};
  const cavum_linear_rows rows = {3, 2, term, value, own, 1, shared};
  cavum_linear_fit fit;
  ck_assert_int_eq(cavum_linear_fit_rows(&fit, &rows, "line", NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(fit.coefficient[0], 2.0, 1e-14);
  CAVUM_CHECK_NEAR(fit.coefficient[1], 1.0, 1e-14);
  CAVUM_CHECK_RELATIVE(fit.covariance[0][0], 0.01 / 3.0 + 0.09, 1e-13);
  CAVUM_CHECK_RELATIVE(fit.covariance[1][1], 0.005, 1e-13);
  CAVUM_CHECK_NEAR(fit.chi_squared, 0.0, 1e-25);
  const double same[] = {1, 1, 1, 1, 1, 1};
  const cavum_linear_rows alike = {3, 2, same, value, own, 0, NULL};
  ck_assert_int_eq(cavum_linear_fit_rows(&fit, &alike, "line", NULL), CAVUM_ERR_INPUT);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, weights_are_the_integrals_over_the_wall);
  tcase_add_test(tests, a_wall_without_field_is_an_error);
  tcase_add_test(tests, the_local_resistance_comes_back);
  tcase_add_test(tests, without_a_wall_there_are_averages_alone);
  tcase_add_test(tests, the_wall_of_a_solved_cell_gives_it_back);
  tcase_add_test(tests, intervals_hold_the_truth_as_often_as_stated);
  tcase_add_test(tests, bad_questions_are_refused);
  tcase_add_test(tests, shared_errors_are_not_averaged_away);
}

CAVUM_TEST_MAIN("surface resistance against field", add_tests)
