// SPDX-License-Identifier: GPL-3.0-or-later
// Deflection tables for pressure, and the radiation pressure of the mode on what gives way, against
// closed forms of a pillbox.
#include "cavum/solve.h"
#include "step_chain.h"

static const double EPS0 = 8.8541878128e-12;  // CODATA 2018

// 10 nm inwards by mbar, everywhere: 1000 mbar make the pillbox smaller by 10 um.
#define SHRINKS "deflection: [{z_mm: -60, um_per_mbar: -0.01}, {z_mm: 60, um_per_mbar: -0.01}]"

START_TEST(a_pillbox_pressed_alike_is_a_smaller_one) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml", "steps:\n  - pressure: {change_mbar: 1000, uncertainty_percent: 10, " SHRINKS
                      "}\n"
                      "  - pressure: {change_mbar: -1000, " SHRINKS "}\n");
  double radius = 1e-3 * step_chain_radius_mm(), pressed = radius - 10e-6;
  CAVUM_CHECK_NEAR(result->steps[1]->frequency_hz, 1.3e9 * radius / pressed, 1.0);
  // d f / d R = -f / R, and a tenth of 10 um.
  CAVUM_CHECK_RELATIVE(result->steps[1]->uncertainty_hz,
                       result->steps[1]->frequency_hz / pressed * 1e-6, 1e-6);
  CAVUM_CHECK_RELATIVE(result->steps[2]->frequency_hz, 1.3e9, 1e-9);  // and back
  cavum_steps_result_destroy(&result);
}
END_TEST

// The side alone gives way where the table has only it: linear in z, so by its mean.
START_TEST(a_table_that_changes_along_the_wall_counts_by_its_mean) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml",
      "steps:\n  - pressure: {change_mbar: 100, deflection: [{z_mm: -50, um_per_mbar: 0}, "
      "{z_mm: 50, um_per_mbar: 0.02}]}\n");
  double radius = 1e-3 * step_chain_radius_mm();
  // 1 um in the mean; of the second order are f (d / R)^2 = 0.2 Hz and the bend of the side.
  CAVUM_CHECK_NEAR(result->steps[1]->change_hz, -1.3e9 * 1e-6 / radius, 20.0);
  cavum_steps_result_destroy(&result);
}
END_TEST

// int_0^1 (J1^2 - J0^2)^2 s ds by Simpson's rule, J of x01 s.
static double plate_integral(void) {
  enum { PANELS = 2000 };
  double sum = 0.0;
  for (int i = 0; i <= PANELS; i++) {
    double s = (double)i / PANELS, x = STEP_CHAIN_X01 * s;
    double difference = j1(x) * j1(x) - j0(x) * j0(x);
    double weight = i == 0 || i == PANELS ? 1.0 : i % 2 ? 4.0 : 2.0;
    sum += weight * difference * difference * s;
  }
  return sum / (3.0 * PANELS);
}

// E_z = E0 J0, H = E0 J1 / eta0: P = eps0 (E0^2 / 4) (J1^2 - J0^2), and the same over U in d f.
START_TEST(radiation_pressure_on_a_compliant_pillbox) {
  const double compliance = 3e-9 / 100.0, gradient = 20e6, length = 0.1;  // m/Pa: 3 nm by mbar
  double radius = 1e-3 * step_chain_radius_mm(), x = 0.5 * STEP_CHAIN_X01 * length / radius;
  double e0 = gradient / (sin(x) / x), j = j1(STEP_CHAIN_X01);
  double walls = 2.0 * CAVUM_PI * radius * length * pow(j, 4) +
                 4.0 * CAVUM_PI * radius * radius * plate_integral();
  double change = -1.3e9 * compliance * EPS0 * e0 * e0 * walls /
                  (8.0 * CAVUM_PI * radius * radius * length * j * j);
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml",
      "steps:\n  - lorentz: {gradient_MV_per_m: 20, uncertainty_percent: 20, compliance: [{z_mm: "
      "-60, um_per_mbar: 0.003}, {z_mm: 60, um_per_mbar: 0.003}]}\n"
      "  - cool: {contraction: 1e-3}\n"
      "  - lorentz: {gradient_MV_per_m: 20, stiffness_N_per_mm: 3000}\n");
  printf("%g Hz at 20 MV/m\n", change);
  CAVUM_CHECK_RELATIVE(result->steps[1]->change_hz, change, 1e-5);
  CAVUM_CHECK_RELATIVE(result->steps[1]->change_uncertainty_hz, 0.2 * fabs(change), 1e-4);
  // TM010 does not know its length.
  CAVUM_CHECK_NEAR(result->steps[3]->change_hz, 0.0, 1e-3);
  cavum_steps_result_destroy(&result);
}
END_TEST

// The mean force of both ends over the stiffness is a length; what that does is known from a
// stretch.
START_TEST(radiation_pressure_pulls_a_cell_longer) {
  char path[192];
  cavum_cell cell;
  cavum_result *solved = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  ck_assert_int_eq(program_run(step_chain_folder, "cp $CELLS/mid-cell.yaml ."), 0);
  snprintf(path, sizeof path, "%s/mid-cell.yaml", step_chain_folder);
  ck_assert_int_eq(cavum_cell_read_file(&cell, path, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&solved, &cell, &options, &error), CAVUM_OK);
  const cavum_mode_result *mode = &solved->modes[0];
  const cavum_wall_density *d = &mode->wall_density;
  double force_n = 0.0;  // at one joule
  for (cavum_index i = 0; i < d->num_points; i++) {
    force_n += 0.5 * d->pressure_pa[i] * d->area_m2[i] * d->normal_z[i] * (d->z_m[i] > 0 ? 1 : -1);
  }
  double joules = pow(20e6 / mode->figures[CAVUM_FIGURE_EACC_AT_1_J].value, 2.0);
  double stretch_mm = joules * force_n / 3000.0;
  cavum_steps_result *lorentz = step_chain_run(
      "mid-cell.yaml", "steps:\n  - lorentz: {gradient_MV_per_m: 20, stiffness_N_per_mm: 3000}\n");
  cavum_steps_result *stretch =
      step_chain_run("mid-cell.yaml", "steps:\n  - stretch: {length_mm: 1e-3}\n");
  printf("%g N, %g nm, %g Hz\n", joules * force_n, 1e6 * stretch_mm, lorentz->steps[1]->change_hz);
  // Two solves to 1e-6 of the frequency and other figures to 1e-4.
  CAVUM_CHECK_RELATIVE(lorentz->steps[1]->change_hz,
                       stretch->steps[1]->estimate_hz * stretch_mm / 1e-3, 1e-3);
  ck_assert(fabs(lorentz->steps[1]->change_hz) > 0.01);
  cavum_steps_result_destroy(&lorentz);
  cavum_steps_result_destroy(&stretch);
  cavum_result_destroy(&solved);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(forces_that_say_too_little_or_too_much_are_refused) {
  static const struct {
    const char *step, *message;
  } cases[] = {
      {"pressure: {change_mbar: 5}", "expected sensitivity_Hz_per_mbar or deflection"},
      {"pressure: {change_mbar: 5, sensitivity_Hz_per_mbar: 2, " SHRINKS "}",
       "expected sensitivity_Hz_per_mbar or deflection"},
      {"pressure: {change_mbar: 5, deflection: [{z_mm: 0, um_per_mbar: 1}]}", "2 to 200 places"},
      {"pressure: {change_mbar: 5, deflection: [{z_mm: 0, um_per_mbar: 1}, {z_mm: 0, um_per_mbar: "
       "1}]}",
       "z_mm must rise"},
      {"lorentz: {gradient_MV_per_m: 5}", "coefficient_Hz_per_MV_per_m_squared, or compliance"},
      {"lorentz: {gradient_MV_per_m: 5, stiffness_N_per_mm: 0}", "stiffness_N_per_mm"}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char text[512];
    cavum_steps *steps = NULL;
    cavum_error error = {0};
    snprintf(text, sizeof text, "steps: [{%s}]\n", cases[i].step);
    ck_assert_int_eq(step_chain_open(&steps, "pillbox.yaml", text, &error), CAVUM_ERR_INPUT);
    printf("%s\n", error.message);
    ck_assert_ptr_nonnull(strstr(error.message, cases[i].message));
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, step_chain_set_up, step_chain_tear_down);
  tcase_add_test(tests, a_pillbox_pressed_alike_is_a_smaller_one);
  tcase_add_test(tests, a_table_that_changes_along_the_wall_counts_by_its_mean);
  tcase_add_test(tests, radiation_pressure_on_a_compliant_pillbox);
  tcase_add_test(tests, radiation_pressure_pulls_a_cell_longer);
  tcase_add_test(tests, forces_that_say_too_little_or_too_much_are_refused);
}

CAVUM_TEST_MAIN("forces", add)
