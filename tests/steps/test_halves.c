// SPDX-License-Identifier: GPL-3.0-or-later
// Halves between conducting plates: pillboxes in closed form, the coupling of a published mid cell,
// and what measured modes say about a trim.
#include "cavum/solve.h"
#include "step_chain.h"

static const double C0 = 299792458.0;

// A side between planes, 100 mm long: its halves have plates where these are.
static void set_up(void) {
  char text[640];
  double r = step_chain_radius_mm();
  step_chain_set_up();
  snprintf(text, sizeof text,
           "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 50, r_mm: %.17g}, boundary: electric}\n"
           "    - {line_to: {z_mm: -50, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n"
           "accuracy: {frequency: 1e-10}\n",
           r, r);
  program_write_text(step_chain_folder, "side.yaml", text);
  ck_assert_int_eq(program_run(step_chain_folder, "cp $CELLS/mid-cell.yaml $CELLS/end-cell.yaml ."),
                   0);
}

// E_z ~ J0(x01 r / R) cos(k_z z), z from the equator: k_z = 0, or a quarter wave on the half.
static double pi_mode_hz(double radius_m, double half_length_m) {
  return C0 / (2.0 * CAVUM_PI) * hypot(STEP_CHAIN_X01 / radius_m, CAVUM_PI / (2.0 * half_length_m));
}

START_TEST(halves_of_a_pillbox_have_their_closed_forms) {
  double radius_m = 1e-3 * step_chain_radius_mm(), f = 1.3e9;
  for (int right = 0; right < 2; right++) {
    char text[256];
    snprintf(text, sizeof text,
             "dumb_bell: {half: %s}\nsteps:\n"
             "  - trim: {at: equator, each_side_mm: 0.5, uncertainty_mm: 0.02}\n"
             "  - remove: {depth_um: 100, uncertainty_um: 10}\n"
             "  - air: {gas: stated, refractivity_ppm: 300}\n",
             right ? "right" : "left");
    cavum_steps_result *result = step_chain_run("side.yaml", text);
    const cavum_step *const *steps = (const cavum_step *const *)result->steps;
    CAVUM_CHECK_NEAR(steps[0]->zero_hz, f, 1.0);
    CAVUM_CHECK_NEAR(steps[0]->pi_hz, pi_mode_hz(radius_m, 0.05), 2.0);
    CAVUM_CHECK_NEAR(steps[1]->zero_hz, f, 1.0);
    double trimmed = pi_mode_hz(radius_m, 0.0495);
    CAVUM_CHECK_NEAR(steps[1]->pi_hz, trimmed, 2.0);
    // d f / d L = -(c / 4)^2 / (L^3 f), from the wall, f to 1e-10.
    double slope = -C0 * C0 / (16.0 * pow(0.0495, 3) * trimmed);
    CAVUM_CHECK_RELATIVE(steps[1]->pi_uncertainty_hz, fabs(slope) * 2e-5, 1e-8);
    CAVUM_CHECK_NEAR(steps[1]->zero_uncertainty_hz, 0.0, 10.0);
    CAVUM_CHECK_NEAR(steps[2]->zero_hz, f * radius_m / (radius_m + 1e-4), 1.0);
    CAVUM_CHECK_NEAR(steps[2]->pi_hz, pi_mode_hz(radius_m + 1e-4, 0.0495), 2.0);
    CAVUM_CHECK_RELATIVE(steps[2]->zero_uncertainty_hz,
                         steps[2]->zero_hz / (radius_m + 1e-4) * 1e-5, 1e-6);
    CAVUM_CHECK_RELATIVE(steps[3]->pi_hz, steps[2]->pi_hz / (1.0 + 300e-6), 1e-15);
    cavum_steps_result_destroy(&result);
  }
}
END_TEST

// The solver's own 0 and pi modes of the whole cell, with planes at its irises.
START_TEST(halves_of_a_cell_have_its_coupling) {
  char path[192];
  cavum_cell cell;
  cavum_result *solved = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = true;
  snprintf(path, sizeof path, "%s/mid-cell.yaml", step_chain_folder);
  ck_assert_int_eq(cavum_cell_read_file(&cell, path, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&solved, &cell, &options, &error), CAVUM_OK);
  cavum_steps_result *result = step_chain_run(
      "mid-cell.yaml", "dumb_bell: {half: left}\nsteps:\n  - remove: {depth_um: 100}\n");
  const cavum_step *step = result->steps[0];
  // Both to 1e-6 of the frequency; k_cc is a difference of frequencies over half their sum.
  CAVUM_CHECK_RELATIVE(step->zero_hz, solved->zero_mode_hz, 2e-6);
  CAVUM_CHECK_RELATIVE(step->pi_hz, solved->pi_mode_hz, 2e-6);
  CAVUM_CHECK_NEAR(step->coupling, solved->coupling.value, 4e-6);
  // A larger iris couples more.
  ck_assert(result->steps[1]->coupling > step->coupling + 1e-5);
  cavum_steps_result_destroy(&result);
  cavum_result_destroy(&solved);
  cavum_cell_clear(&cell);
}
END_TEST

// Cuts of half a micrometre have their slopes from the wall: of differences nothing would be left.
START_TEST(small_cuts_have_slopes) {
  double radius_m = 1e-3 * step_chain_radius_mm(), half_m = 0.05 - 0.5e-6;
  for (int right = 0; right < 2; right++) {
    char text[256];
    snprintf(text, sizeof text,
             "dumb_bell: {half: %s}\nsteps:\n"
             "  - {name: a, trim: {at: equator, each_side_mm: 5e-4, uncertainty_mm: 0.02}}\n",
             right ? "right" : "left");
    cavum_steps_result *result = step_chain_run("side.yaml", text);
    double f = pi_mode_hz(radius_m, half_m);
    double slope = -C0 * C0 / (16.0 * pow(half_m, 3) * f);
    CAVUM_CHECK_RELATIVE(result->steps[1]->pi_uncertainty_hz, fabs(slope) * 2e-5, 1e-7);
    CAVUM_CHECK_NEAR(result->steps[1]->zero_uncertainty_hz, 0.0, 1.0);
    cavum_steps_result_destroy(&result);
  }
}
END_TEST

static cavum_steps_result *trim_mid_cell(double each_side_mm, const char *half, const char *place) {
  char text[192];
  snprintf(text, sizeof text,
           "dumb_bell: {half: %s}\nsteps:\n"
           "  - {name: a, trim: {at: %s, each_side_mm: %.17g, uncertainty_mm: 0.02}}\n",
           half, place, each_side_mm);
  return step_chain_run("mid-cell.yaml", text);
}

// Slopes are taken for good where they add up to a thousandth of the change.
static const double SLOPE_PART = 1e-3;

// A cut into the ellipse leaves an edge of 6 degrees at the plate or 33 in the iris. Differences of
// chains over 20 um; what bends leaves some 1e-6 of them. The other half has no such iris.
START_TEST(cuts_that_leave_an_edge_have_slopes) {
  static const char *const places[] = {"equator", "left iris", "iris", "right iris"};
  for (int i = 0; i < 8; i++) {
    const char *half = i % 2 ? "right" : "left", *place = places[i / 2];
    bool other = i == 3 || i == 6;
    cavum_steps_result *less = trim_mid_cell(2.19, half, place);
    cavum_steps_result *more = trim_mid_cell(2.21, half, place);
    cavum_steps_result *at = trim_mid_cell(2.2, half, place);
    double zero = (more->steps[1]->zero_hz - less->steps[1]->zero_hz) / 20e-6;
    double pi = (more->steps[1]->pi_hz - less->steps[1]->pi_hz) / 20e-6;
    double cell = (more->steps[1]->frequency_hz - less->steps[1]->frequency_hz) / 20e-6;
    printf("%s half, %s: %g and %g Hz/m\n", half, place, zero, pi);
    CAVUM_CHECK_RELATIVE(at->steps[1]->slope_hz_per_m, cell, SLOPE_PART);
    // f of each is known to 1e-6, as the cell file has it, and far better by what the iteration
    // does.
    CAVUM_CHECK_NEAR(at->steps[1]->zero_uncertainty_hz, fabs(zero) * 2e-5,
                     other ? 1.0 : SLOPE_PART * fabs(zero) * 2e-5);
    CAVUM_CHECK_NEAR(at->steps[1]->pi_uncertainty_hz, fabs(pi) * 2e-5,
                     other ? 1.0 : SLOPE_PART * fabs(pi) * 2e-5);
    cavum_steps_result_destroy(&less);
    cavum_steps_result_destroy(&more);
    cavum_steps_result_destroy(&at);
  }
}
END_TEST

// Of a cell that is larger by 1e-5 and was trimmed by 0.53 mm both modes are measured: the 0 mode
// of a pillbox tells its radius, the pi mode then its length.
START_TEST(measured_modes_tell_the_trim) {
  double radius_m = 1e-3 * step_chain_radius_mm() * (1.0 + 1e-5);
  char text[512];
  snprintf(text, sizeof text,
           "drawing: {uncertainty_kHz: 100}\ndumb_bell: {half: right}\n"
           "target: {frequency_MHz: 1300, tolerance_kHz: 500}\nsteps:\n"
           "  - name: trimmed\n    trim: {at: equator, each_side_mm: 0.5, uncertainty_mm: 0.1}\n"
           "    measured_zero_MHz: %.9f\n    measured_pi_MHz: %.9f\n"
           "    measured_uncertainty_kHz: 0.01\n"
           "  - {name: etched, remove: {depth_um: 20, uncertainty_um: 2}}\n",
           1e-6 * 1.3e9 / (1.0 + 1e-5), 1e-6 * pi_mode_hz(radius_m, 0.05 * (1.0 + 1e-5) - 0.53e-3));
  cavum_steps_result *result = step_chain_run("side.yaml", text);
  const cavum_step *trimmed = result->steps[1], *etched = result->steps[2];
  // Linear in the 0.03 mm more: the slope changes by 1.5 parts in 1000 on the way.
  CAVUM_CHECK_NEAR(trimmed->found_amount, 0.53e-3, 0.1e-6);
  ck_assert(trimmed->found_amount_uncertainty < 1e-6);
  CAVUM_CHECK_NEAR(trimmed->expected_hz, 1.3e9 / (1.0 + 1e-5), 20.0);
  CAVUM_CHECK_NEAR(trimmed->zero_expected_hz, trimmed->measured_zero_hz, 20.0);
  CAVUM_CHECK_NEAR(trimmed->pi_expected_hz, trimmed->measured_pi_hz, 20.0);
  // Two measurements of 10 Hz: each is known to that behind its step.
  CAVUM_CHECK_NEAR(trimmed->zero_expected_uncertainty_hz, 10.0, 0.1);
  CAVUM_CHECK_NEAR(trimmed->pi_expected_uncertainty_hz, 10.0, 0.1);
  // The etch adds 2 um of the radius, of both modes what is of the radius in them.
  double of_etch = 1.3e9 / radius_m * 2e-6;
  CAVUM_CHECK_RELATIVE(etched->zero_expected_uncertainty_hz, hypot(of_etch, 10.0), 1e-3);
  CAVUM_CHECK_RELATIVE(etched->pi_expected_uncertainty_hz,
                       hypot(of_etch * 1.3e9 / etched->pi_hz, 10.0), 1e-3);
  // Halves at the aim of the cell: the 0 mode is that of the cell here.
  CAVUM_CHECK_NEAR(etched->zero_aim_hz, etched->aim_hz, 1.0);
  // What leads to 1300 MHz by itself: metal put on, not taken off.
  CAVUM_CHECK_NEAR(etched->next_amount, -1e-5 * 1e-3 * step_chain_radius_mm(), 0.02e-6);
  cavum_steps_result_destroy(&result);
}
END_TEST

START_TEST(halves_that_cannot_be_are_refused) {
  static const struct {
    const char *cell, *rest, *message;
  } cases[] = {
      {"side.yaml", "dumb_bell: {half: middle}\nsteps: [{air: {gas: vacuum}}]\n", "dumb_bell.half"},
      {"side.yaml", "steps: [{air: {gas: vacuum}, measured_pi_MHz: 1300}]\n",
       "go with dumb_bell: {half: left}"},
      {"end-cell.yaml", "dumb_bell: {half: %s}\nsteps: [{air: {gas: vacuum}}]\n",
       "a tube follows this iris"},
  };
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    cavum_steps *steps = NULL;
    int refused = 0;
    for (int right = 0; right < 2; right++) {
      char rest[256];
      cavum_error error = {0};
      snprintf(rest, sizeof rest, cases[i].rest, right ? "right" : "left");
      if (step_chain_open(&steps, cases[i].cell, rest, &error) == CAVUM_OK) {
        cavum_steps_close(&steps);
        continue;
      }
      printf("%s\n", error.message);
      ck_assert_ptr_nonnull(strstr(error.message, cases[i].message));
      refused++;
    }
    ck_assert_int_ge(refused, 1);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, step_chain_tear_down);
  tcase_add_test(tests, halves_of_a_pillbox_have_their_closed_forms);
  tcase_add_test(tests, halves_of_a_cell_have_its_coupling);
  tcase_add_test(tests, small_cuts_have_slopes);
  tcase_add_test(tests, cuts_that_leave_an_edge_have_slopes);
  tcase_add_test(tests, measured_modes_tell_the_trim);
  tcase_add_test(tests, halves_that_cannot_be_are_refused);
}

CAVUM_TEST_MAIN("halves", add)
