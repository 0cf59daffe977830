// SPDX-License-Identifier: GPL-3.0-or-later
// Frequency against field and bath pressure, and the radiation pressure behind it.
#include <gsl/gsl_integration.h>
#include <math.h>

#include "cavum/coldtest_frequency.h"
#include "coverage_field.h"

static const double X01 = 2.4048255576958, MU0_TEST = 4e-7 * CAVUM_PI;

/** Wall of a closed pillbox, TM010 at 1 J: H = a J1(x), E = a eta0 J0(x), x = k r. */
typedef struct pillbox {
  field_wall wall;
  double e[FIELD_WALL_MOST], h[FIELD_WALL_MOST];
  double radius_m, length_m, amplitude_a_per_m;
} pillbox;

static void make_pillbox(pillbox *p, int side) {
  const double k = 2.0 * CAVUM_PI * 1.3e9 / 299792458.0, eta0 = MU0_TEST * 299792458.0;
  double j1 = gsl_sf_bessel_J1(X01);
  field_make_wall(&p->wall, side);
  p->radius_m = X01 / k;
  p->length_m = CAVUM_PI / k;
  // U = mu0/2 times the integral of H^2 dV = mu0 pi d R^2 a^2 J1(x01)^2 / 2 = 1 J.
  p->amplitude_a_per_m =
      sqrt(2.0 / (MU0_TEST * CAVUM_PI * p->length_m * p->radius_m * p->radius_m * j1 * j1));
  for (int i = 0; i < p->wall.count; i++) {
    p->h[i] = p->amplitude_a_per_m * p->wall.h[i];
    // On the side, the middle third of the samples, E has no part across the wall.
    bool plate = i <= side || i >= 2 * (side + 1);
    p->e[i] = plate ? p->amplitude_a_per_m * eta0 * gsl_sf_bessel_J0(k * p->wall.r_m[i]) : 0.0;
  }
}

static double plate_integrand(double x, void *data) {
  (void)data;
  double j0 = gsl_sf_bessel_J0(x), j1 = gsl_sf_bessel_J1(x), p = j1 * j1 - j0 * j0;
  return p * p * x;
}

// A wall that moves out everywhere by u lowers f by f u / R (plates do nothing), so by Slater's
// theorem the integral of p dA over U is 1/R. The square is that of the side, 1/(2 pi d R^3), and
// of the plates. Trapezoidal rule with 1,000 steps a side: some 1e-6.
START_TEST(the_radiation_pressure_of_a_pillbox) {
  static pillbox box;
  cavum_wall_pressure pressure = {0};
  make_pillbox(&box, 1000);
  const field_wall *wall = &box.wall;
  ck_assert_int_eq(
      cavum_wall_integrate_pressure(&pressure, wall->count, field_wall_arc_length(wall), wall->r_m,
                                    box.e, box.h, 0.0, NULL),
      CAVUM_OK);
  ck_assert(pressure.known);
  CAVUM_CHECK_RELATIVE(pressure.force_n, 1.0 / box.radius_m, 5e-6);
  double plates, error, p0 = 0.25 * MU0_TEST * box.amplitude_a_per_m * box.amplitude_a_per_m;
  gsl_function function = {plate_integrand, NULL};
  size_t evaluations;
  gsl_integration_qng(&function, 0.0, X01, 0.0, 1e-10, &plates, &error, &evaluations);
  double scale = box.radius_m / X01;
  double square = 1.0 / (2.0 * CAVUM_PI * box.length_m * pow(box.radius_m, 3)) +
                  4.0 * CAVUM_PI * p0 * p0 * scale * scale * plates;
  CAVUM_CHECK_RELATIVE(pressure.square_pa2m2, square, 5e-6);
}
END_TEST

// Half of the wall counts for all of it where the integral of H^2 is given.
START_TEST(half_a_wall_counts_for_all_of_it) {
  static pillbox box;
  cavum_wall_pressure whole = {0}, half = {0};
  make_pillbox(&box, 1000);
  const field_wall *wall = &box.wall;
  double square = 0.0;
  for (int i = 0; i + 1 < wall->count; i++) {
    double step = hypot(wall->z_m[i + 1] - wall->z_m[i], wall->r_m[i + 1] - wall->r_m[i]);
    square += CAVUM_PI * step *
              (wall->r_m[i] * box.h[i] * box.h[i] + wall->r_m[i + 1] * box.h[i + 1] * box.h[i + 1]);
  }
  ck_assert_int_eq(cavum_wall_integrate_pressure(&whole, wall->count, field_wall_arc_length(wall),
                                                 wall->r_m, box.e, box.h, square, NULL),
                   CAVUM_OK);
  // The first plate and half of the side.
  ck_assert_int_eq(cavum_wall_integrate_pressure(&half, 1502, field_wall_arc_length(wall),
                                                 wall->r_m, box.e, box.h, square, NULL),
                   CAVUM_OK);
  CAVUM_CHECK_RELATIVE(half.force_n, whole.force_n, 1e-9);
  CAVUM_CHECK_RELATIVE(half.square_pa2m2, whole.square_pa2m2, 1e-9);
}
END_TEST

static cavum_coldtest *exact_test(bool with_pressure) {
  static field_wall wall;
  static field_test drawn;
  field_make_wall(&wall, 100);
  field_draw_test(&drawn, &wall, NULL, true);
  for (int i = 0; i < FIELD_GRADIENTS * FIELD_TEMPERATURES && !with_pressure; i++) {
    drawn.readings[i].bath_pressure_pa = NAN;
  }
  return scenario_evaluate(&drawn.setup, drawn.readings, FIELD_GRADIENTS * FIELD_TEMPERATURES);
}

// E_acc comes back to 1e-12 or so and f to 1e-16 of 1.3 GHz, 2e-7 Hz of a shift of 440 Hz.
START_TEST(exact_readings_give_both_slopes_back) {
  cavum_coldtest *test = exact_test(true);
  cavum_frequency_fit fit;
  cavum_frequency_options options = field_frequency_options();
  ck_assert_int_eq(cavum_frequency_make_fit(&fit, test, &options, NULL, NULL), CAVUM_OK);
  ck_assert(fit.has_pressure);
  CAVUM_CHECK_RELATIVE(fit.lorentz_hz_m2_per_v2.value, FIELD_LORENTZ, 1e-8);
  CAVUM_CHECK_RELATIVE(fit.pressure_hz_per_pa.value, FIELD_DF_DP, 1e-8);
  CAVUM_CHECK_NEAR(fit.frequency_hz.value, 1.3e9 + FIELD_DF_DP * (fit.mean_pressure_pa - 2000.0),
                   1e-5);
  // The error of E_acc is common and does not fall with the number of readings: two relative ones
  // of it at least.
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  double relative = point->uncertainty[CAVUM_QUANTITY_E_ACC] / point->value[CAVUM_QUANTITY_E_ACC];
  ck_assert(fit.lorentz_hz_m2_per_v2.uncertainty > 1.8 * relative * -FIELD_LORENTZ);
  // The gauge's 1 % is 1 % of the slope.
  ck_assert(fit.pressure_hz_per_pa.uncertainty > FIELD_GAUGE * -FIELD_DF_DP);
  ck_assert(isnan(fit.expected_lorentz_hz_m2_per_v2));
  cavum_coldtest_destroy(&test);
}
END_TEST

// What lies behind the struct of a program that knows less of it stays as it was.
START_TEST(options_and_results_have_sizes) {
  static field_wall wall;
  static field_test drawn;
  struct {
    cavum_frequency_fit fit;
    char behind[8];
  } place;
  cavum_error error = {0};
  field_make_wall(&wall, 100);
  field_draw_test(&drawn, &wall, NULL, true);
  cavum_coldtest *test =
      scenario_evaluate(&drawn.setup, drawn.readings, FIELD_GRADIENTS * FIELD_TEMPERATURES);
  memset(&place, 0x5a, sizeof place);
  cavum_frequency_options options = field_frequency_options();
  ck_assert_int_eq(cavum_frequency_make_fit(&place.fit, test, &options, NULL, &error), CAVUM_OK);
  ck_assert_uint_eq(place.fit.struct_size, sizeof place.fit);
  for (int i = 0; i < 8; i++) ck_assert_int_eq(place.behind[i], 0x5a);
  size_t less = offsetof(cavum_frequency_fit, expected_pressure_hz_per_pa);
  double sentinel = place.fit.expected_pressure_hz_per_pa = 42.0;
  ck_assert_int_eq(cavum_frequency_make_fit_sized(&place.fit, less, test, &options, NULL, &error),
                   CAVUM_OK);
  ck_assert_uint_eq(place.fit.struct_size, less);
  ck_assert_double_eq(place.fit.expected_pressure_hz_per_pa, sentinel);
  const struct {
    size_t offset;
    const char *name;
  } members[] = {{offsetof(cavum_frequency_options, reading_hz), "reading_hz"},
                 {offsetof(cavum_frequency_options, pressure_pa), "pressure_pa"},
                 {offsetof(cavum_frequency_options, pressure_scale), "pressure_scale"},
                 {offsetof(cavum_frequency_options, stiffness_pa_per_m), "stiffness_pa_per_m"},
                 {offsetof(cavum_frequency_options, highest_e_acc_v_per_m), "highest_e_acc"}};
  for (size_t i = 0; i < sizeof members / sizeof *members; i++) {
    options = cavum_frequency_options_default();
    *(double *)((char *)&options + members[i].offset) = -1.0;
    ck_assert_int_eq(cavum_frequency_make_fit(&place.fit, test, &options, NULL, &error),
                     CAVUM_ERR_USAGE);
    ck_assert_ptr_nonnull(strstr(error.message, members[i].name));
  }
  memset(&options, 0, sizeof options);
  ck_assert_int_eq(cavum_frequency_make_fit(&place.fit, test, &options, NULL, &error),
                   CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "cavum_frequency_options_default()"));
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(without_pressures_there_is_one_slope) {
  cavum_coldtest *test = exact_test(false);
  cavum_frequency_fit fit;
  ck_assert_int_eq(cavum_frequency_make_fit(&fit, test, NULL, NULL, NULL), CAVUM_OK);
  ck_assert(!fit.has_pressure);
  ck_assert(isnan(fit.pressure_hz_per_pa.value) && isnan(fit.mean_pressure_pa));
  ck_assert(isnan(fit.chi_squared));  // No uncertainty of a reading: the scatter is taken.
  ck_assert(fit.scatter_hz > 10.0 && fit.lorentz_hz_m2_per_v2.uncertainty > 0.0);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A wall of springs under the radiation pressure of a pillbox: f p / (s R) by a bath pressure.
START_TEST(a_stated_stiffness_gives_what_to_expect) {
  static pillbox box;
  cavum_wall_pressure pressure = {0};
  make_pillbox(&box, 1000);
  ck_assert_int_eq(
      cavum_wall_integrate_pressure(&pressure, box.wall.count, field_wall_arc_length(&box.wall),
                                    box.wall.r_m, box.e, box.h, 0.0, NULL),
      CAVUM_OK);
  cavum_coldtest *test = exact_test(true);
  cavum_frequency_fit fit;
  cavum_frequency_options options = field_frequency_options();
  options.stiffness_pa_per_m = 1e11;
  ck_assert_int_eq(cavum_frequency_make_fit(&fit, test, &options, &pressure, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(fit.expected_pressure_hz_per_pa, 1.3e9 / (1e11 * box.radius_m), 1e-5);
  double square = 105.0 * 2.0 * CAVUM_PI * 1.3e9 / (0.1153 * 0.1153);
  CAVUM_CHECK_RELATIVE(fit.expected_lorentz_hz_m2_per_v2,
                       -1.3e9 / 1e11 * pressure.square_pa2m2 / square, 1e-5);
  options.highest_e_acc_v_per_m = 6e6;  // One field is left: no slope.
  cavum_error error = {0};
  ck_assert_int_eq(cavum_frequency_make_fit(&fit, test, &options, &pressure, &error),
                   CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  cavum_coldtest_destroy(&test);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, the_radiation_pressure_of_a_pillbox);
  tcase_add_test(tests, half_a_wall_counts_for_all_of_it);
  tcase_add_test(tests, exact_readings_give_both_slopes_back);
  tcase_add_test(tests, without_pressures_there_is_one_slope);
  tcase_add_test(tests, options_and_results_have_sizes);
  tcase_add_test(tests, a_stated_stiffness_gives_what_to_expect);
}

CAVUM_TEST_MAIN("frequency against field", add_tests)
