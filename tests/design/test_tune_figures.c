// SPDX-License-Identifier: GPL-3.0-or-later
// Tuned cells: against closed forms, against a solve of the file that was written, within bounds.
#include <gsl/gsl_sf_bessel.h>
#include <string.h>

#include "cavum/tune.h"
#include "solving.h"
#include "test_cell.h"

static const double C_M_PER_S = 299792458.0;

// A closed cylinder of length 100 mm; its radius stands in two places.
#define CYLINDER                                                         \
  "beta: 0.8  # of the bunch\n"                                          \
  "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"       \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"              \
  "    - {line_to: {z_mm: 100, r_mm: 90.0}, boundary: metal}  # right\n" \
  "    - {line_to: {z_mm: 0, r_mm: 90.0}, boundary: metal}\n"            \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"

static cavum_status tune(cavum_tune_outcome **outcome, const char *text, int num_aims,
                         const cavum_tune_aim *aims, int num_dimensions,
                         const cavum_tune_dimension *dimensions, cavum_error *error) {
  cavum_cell cell = solving_read(text);
  cavum_tune_plan plan = cavum_tune_plan_default();
  plan.num_aims = num_aims;
  plan.aims = aims;
  plan.num_dimensions = num_dimensions;
  plan.dimensions = dimensions;
  cavum_status status = cavum_tune_figures(outcome, &cell, &plan, NULL, error);
  cavum_cell_clear(&cell);
  return status;
}

// The written cell, solved from the start, has the figures that were asked for within what both
// solves are uncertain by.
static void check_text(const cavum_tune_outcome *outcome, int num_aims,
                       const cavum_tune_aim *aims) {
  cavum_cell cell = solving_read(outcome->cell_text);
  cavum_result *result = solving_solve(&cell, NULL);
  for (int i = 0; i < num_aims; i++) {
    cavum_figure solved = result->modes[0].figures[aims[i].figure];
    cavum_figure tuned = outcome->after->modes[0].figures[aims[i].figure];
    CAVUM_CHECK_NEAR(tuned.value, aims[i].value, tuned.uncertainty + 1e-12 * fabs(tuned.value));
    CAVUM_CHECK_NEAR(solved.value, aims[i].value, solved.uncertainty + tuned.uncertainty);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

// TM010 of a cylinder: k R = 2.40483, T = sin(x) / x with x = k L / (2 beta) [closed forms, as in
// any textbook]. The change is the smallest when both ends of the side wall move alike.
START_TEST(a_cylinder_by_radius_and_speed) {
  const double frequency_hz = 1.3e9, factor = 0.5, length_m = 0.1;
  const cavum_tune_aim aims[] = {{CAVUM_FIGURE_FREQUENCY, frequency_hz},
                                 {CAVUM_FIGURE_TRANSIT_TIME_FACTOR, factor}};
  const cavum_tune_dimension dimensions[] = {
      {.key = "path[2].line_to.r_mm"}, {.key = "path[3].line_to.r_mm"}, {.key = "beta"}};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  cavum_status status = tune(&outcome, CYLINDER, 2, aims, 3, dimensions, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert(outcome->met);
  double k = 2.0 * M_PI * frequency_hz / C_M_PER_S;
  double radius_mm = 1e3 * gsl_sf_bessel_zero_J0(1) / k, x = 1.8955;
  for (int i = 0; i < 50; i++) x -= (sin(x) - factor * x) / (cos(x) - factor);
  const cavum_mode_result *mode = &outcome->after->modes[0];
  // Of a radius the uncertainty of f says how far off it may be, of beta that of T: dT/dbeta is
  // (T - cos x) / beta there.
  double df = mode->figures[CAVUM_FIGURE_FREQUENCY].uncertainty / frequency_hz + 1e-12;
  double dt = mode->figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR].uncertainty / (factor - cos(x));
  CAVUM_CHECK_RELATIVE(outcome->values_after[0], radius_mm, 4.0 * df + 1e-9);
  CAVUM_CHECK_RELATIVE(outcome->values_after[1], radius_mm, 4.0 * df + 1e-9);
  CAVUM_CHECK_RELATIVE(outcome->values_after[2], 0.5 * k * length_m / x, 4.0 * dt + 1e-9);
  check_text(outcome, 2, aims);
  ck_assert_ptr_nonnull(strstr(outcome->cell_text, "  # of the bunch\n"));
  ck_assert_ptr_nonnull(strstr(outcome->cell_text, "boundary: metal}  # right\n"));
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

START_TEST(one_dimension_takes_three_solves) {
  const cavum_tune_aim aim = {CAVUM_FIGURE_FREQUENCY, 1.3e9};
  const char *const keys[] = {"equator_radius_mm", "contour.iris_radius_mm", "half_length_mm"};
  for (int i = 0; i < 3; i++) {
    const cavum_tune_dimension dimension = {.key = keys[i]};
    cavum_tune_outcome *outcome = NULL;
    cavum_error error = {0};
    cavum_status status = tune(&outcome, TEST_CELL, 1, &aim, 1, &dimension, &error);
    ck_assert_msg(status == CAVUM_OK, "%s: %s", keys[i], error.message);
    printf("%s: %.12g after %d solves\n", keys[i], outcome->values_after[0], outcome->num_solves);
    ck_assert_int_le(outcome->num_solves, 3);
    check_text(outcome, 1, &aim);
    cavum_tune_outcome_destroy(&outcome);
  }
}
END_TEST

// R/Q is met to its uncertainty long before f is to its own, which is 1e5 times smaller: the noise
// of the one must not hide what is left of the other.
START_TEST(an_inaccurate_figure_does_not_hide_an_accurate_one) {
  const char *cell =
      "contour: {kind: two-ellipse, half_length_mm: 66.9, iris_radius_mm: 38.0,\n"
      "  equator_radius_mm: 119.2, equator_ellipse: {axial_mm: 49.0, radial_mm: 53.0},\n"
      "  iris_ellipse: {axial_mm: 13.0, radial_mm: 21.0}}\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n";
  const cavum_tune_aim aims[] = {{CAVUM_FIGURE_FREQUENCY, 1.12e9},
                                 {CAVUM_FIGURE_R_OVER_Q_LINAC, 121.0}};
  const cavum_tune_dimension dimensions[] = {{.key = "equator_radius_mm"},
                                             {.key = "iris_radius_mm"}};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  cavum_status status = tune(&outcome, cell, 2, aims, 2, dimensions, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_le(outcome->num_solves, 6);
  check_text(outcome, 2, aims);
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

START_TEST(two_figures_by_two_dimensions) {
  const cavum_tune_aim aims[] = {{CAVUM_FIGURE_FREQUENCY, 1.3e9},
                                 {CAVUM_FIGURE_R_OVER_Q_LINAC, 105.0}};
  const cavum_tune_dimension dimensions[] = {{.key = "equator_radius_mm"},
                                             {.key = "iris_radius_mm"}};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  cavum_status status = tune(&outcome, TEST_CELL, 2, aims, 2, dimensions, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  check_text(outcome, 2, aims);
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

// A half that follows the contour section gets a number of its own.
START_TEST(one_half_alone) {
  const cavum_tune_aim aim = {CAVUM_FIGURE_FREQUENCY, 1.302e9};
  const cavum_tune_dimension dimension = {.key = "right.half_length_mm"};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  cavum_status status = tune(&outcome, TEST_CELL, 1, &aim, 1, &dimension, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  check_text(outcome, 1, &aim);
  ck_assert_ptr_nonnull(strstr(outcome->cell_text, "  right: {half_length_mm: "));
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

// What came nearest is given, and the message has it.
START_TEST(bounds_end_it) {
  const cavum_tune_aim aim = {CAVUM_FIGURE_FREQUENCY, 1.33e9};
  const cavum_tune_dimension dimension = {.key = "equator_radius_mm", .low = 103.0, .high = 104.0};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 1, &aim, 1, &dimension, &error),
                   CAVUM_ERR_NOT_CONVERGED);
  ck_assert_ptr_nonnull(outcome);
  ck_assert(!outcome->met);
  CAVUM_CHECK_NEAR(outcome->values_after[0], 103.0, 0.0);
  ck_assert_ptr_nonnull(strstr(error.message, "equator_radius_mm = 103 (103 to 104)"));
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

// The ellipses overlap below 54 mm: steps to there are halved, and what it ends with is a
// shape.
// A peak field that no shape of the bounds has, and a frequency that they do: the message has the
// peak first, not the kilohertz that the search left of the frequency.
START_TEST(what_cannot_be_reached_is_named_first) {
  const cavum_tune_aim aims[] = {{CAVUM_FIGURE_FREQUENCY, 1.3e9},
                                 {CAVUM_FIGURE_GEOMETRY_FACTOR, 400.0}};
  const cavum_tune_dimension dimensions[] = {
      {.key = "equator_radius_mm", .low = 101.0, .high = 106.0},
      {.key = "iris_ellipse.axial_mm", .low = 11.0, .high = 13.0}};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  cavum_status status = tune(&outcome, TEST_CELL, 2, aims, 2, dimensions, &error);
  ck_assert_msg(status == CAVUM_ERR_NOT_CONVERGED, "%s", error.message);
  ck_assert_msg(strstr(error.message, "not reached: geometry_factor_ohm = ") == error.message, "%s",
                error.message);
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

// A closed coaxial line of 100 mm: c / (2 length) = 1.499 GHz. Its start is its last point, too.
#define LINE                                                                                     \
  "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 20}\n  path:\n" \
  "    - {line_to: {z_mm: 100, r_mm: 20}, boundary: metal}\n"                                    \
  "    - {line_to: {z_mm: 100, r_mm: 60}, boundary: metal}\n"                                    \
  "    - {line_to: {z_mm: 0, r_mm: 60}, boundary: metal}\n"                                      \
  "    - {line_to: {z_mm: 0, r_mm: 20}, boundary: metal}\n"

// Where the start is 0 it has no size of its own: what steps are measured by comes from the bounds.
// A step that ends at a bound does a part of what is missing only, and is taken all the same.
START_TEST(the_start_of_a_path_is_a_dimension) {
  const cavum_tune_aim aim = {CAVUM_FIGURE_FREQUENCY, 1.51e9};
  cavum_tune_dimension dimension = {.key = "start.z_mm", .low = -5.0, .high = 5.0};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  cavum_status status = tune(&outcome, LINE, 1, &aim, 1, &dimension, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  // At least what shortens all of the line by 0.7 %: the slanted plate does that on one side.
  ck_assert_double_gt(outcome->values_after[0], 0.7);
  check_text(outcome, 1, &aim);
  cavum_tune_outcome_destroy(&outcome);
  dimension.low = -0.25, dimension.high = 0.25;
  ck_assert_int_eq(tune(&outcome, LINE, 1, &aim, 1, &dimension, &error), CAVUM_ERR_NOT_CONVERGED);
  printf("%s\n", error.message);
  CAVUM_CHECK_NEAR(outcome->values_after[0], 0.25, 0.0);
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

START_TEST(shapes_that_cannot_exist_are_left) {
  const cavum_tune_aim aim = {CAVUM_FIGURE_FREQUENCY, 1.25e9};
  const cavum_tune_dimension dimension = {.key = "half_length_mm"};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 1, &aim, 1, &dimension, &error),
                   CAVUM_ERR_NOT_CONVERGED);
  ck_assert_msg(outcome && outcome->num_halved > 0, "%s", error.message);
  double before = solving_value(&outcome->before->modes[0], CAVUM_FIGURE_FREQUENCY);
  ck_assert(solving_value(&outcome->after->modes[0], CAVUM_FIGURE_FREQUENCY) < before);
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

// A wall angle and a frequency by two dimensions: the written cell measures and solves to both.
START_TEST(figures_of_the_shape_are_aims) {
  const double angle_rad = 8.0 * M_PI / 180.0;
  const cavum_tune_aim aim = {CAVUM_FIGURE_FREQUENCY, 1.3e9};
  const cavum_tune_shape_aim shape = {CAVUM_GEOMETRY_WALL_ANGLE, angle_rad};
  const cavum_tune_dimension dimensions[] = {{.key = "equator_radius_mm"},
                                             {.key = "iris_ellipse.axial_mm"}};
  cavum_tune_plan plan = cavum_tune_plan_default();
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_tune_outcome *outcome = NULL;
  cavum_geometry *geometry = NULL;
  cavum_error error = {0};
  plan.num_aims = plan.num_shape_aims = 1;
  plan.aims = &aim;
  plan.shape_aims = &shape;
  plan.num_dimensions = 2;
  plan.dimensions = dimensions;
  cavum_status status = cavum_tune_figures(&outcome, &cell, &plan, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%d solves\n", outcome->num_solves);
  ck_assert_int_le(outcome->num_solves, 6);
  check_text(outcome, 1, &aim);
  cavum_cell tuned = solving_read(outcome->cell_text);
  ck_assert_int_eq(cavum_geometry_measure(&geometry, &tuned, false, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(geometry->value[CAVUM_GEOMETRY_WALL_ANGLE], angle_rad, 1e-9);
  cavum_geometry_destroy(&geometry);
  cavum_cell_clear(&tuned);
  cavum_cell_clear(&cell);
  cavum_tune_outcome_destroy(&outcome);
}
END_TEST

static const struct {
  const char *key;
  double low, high, value;
  cavum_figure_id figure;
  cavum_status status;
  const char *words;
} refused[] = {
    {"equator_radus_mm", 0, 0, 1.3e9, CAVUM_FIGURE_FREQUENCY, CAVUM_ERR_INPUT, "did you mean"},
    {"equator_radius_mm", 104, 110, 1.3e9, CAVUM_FIGURE_FREQUENCY, CAVUM_ERR_INPUT, "103.3 now"},
    {"equator_radius_mm", -5, 110, 1.3e9, CAVUM_FIGURE_FREQUENCY, CAVUM_ERR_INPUT, "within"},
    {"equator_radius_mm", 0, 0, NAN, CAVUM_FIGURE_FREQUENCY, CAVUM_ERR_USAGE, "number"},
    {"equator_radius_mm", 0, 0, 1.0, CAVUM_NUM_FIGURES, CAVUM_ERR_USAGE, "figure"},
    {"equator_radius_mm", 0, 0, 1e10, CAVUM_FIGURE_Q0, CAVUM_ERR_INPUT, "no q0"},
    {"equator_radius_mm", 0, 0, 0.9, CAVUM_FIGURE_BETA_OPTIMUM, CAVUM_ERR_INPUT, "no derivative"},
    {NULL, 0, 0, 1.3e9, CAVUM_FIGURE_FREQUENCY, CAVUM_ERR_USAGE, "key"},
};

START_TEST(what_makes_no_sense_is_refused) {
  const cavum_tune_aim aim = {refused[_i].figure, refused[_i].value};
  const cavum_tune_dimension dimension = {refused[_i].key, refused[_i].low, refused[_i].high};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 1, &aim, 1, &dimension, &error), refused[_i].status);
  ck_assert_ptr_null(outcome);
  ck_assert_msg(strstr(error.message, refused[_i].words) != NULL, "%s", error.message);
}
END_TEST

START_TEST(plans_are_checked) {
  const cavum_tune_aim aims[] = {{CAVUM_FIGURE_FREQUENCY, 1.3e9}, {CAVUM_FIGURE_FREQUENCY, 1.2e9}};
  const cavum_tune_dimension same[] = {{.key = "iris_radius_mm"}, {.key = "left.iris_radius_mm"}};
  cavum_tune_outcome *outcome = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 2, aims, 2, same, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 1, aims, 2, same, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "twice"));
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 2, aims, 1, same, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(tune(&outcome, TEST_CELL, 0, NULL, 0, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_tune_figures(&outcome, NULL, NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(outcome);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_cylinder_by_radius_and_speed);
  tcase_add_test(tests, one_dimension_takes_three_solves);
  tcase_add_test(tests, two_figures_by_two_dimensions);
  tcase_add_test(tests, an_inaccurate_figure_does_not_hide_an_accurate_one);
  tcase_add_test(tests, figures_of_the_shape_are_aims);
  tcase_add_test(tests, one_half_alone);
  tcase_add_test(tests, bounds_end_it);
  tcase_add_test(tests, what_cannot_be_reached_is_named_first);
  tcase_add_test(tests, the_start_of_a_path_is_a_dimension);
  tcase_add_test(tests, shapes_that_cannot_exist_are_left);
  tcase_add_loop_test(tests, what_makes_no_sense_is_refused, 0, sizeof refused / sizeof *refused);
  tcase_add_test(tests, plans_are_checked);
}

CAVUM_TEST_MAIN("tune figures", add)
