// SPDX-License-Identifier: GPL-3.0-or-later
// Measured walls: closed forms of a pillbox between conducting plates, whose side alone is
// measured; a wave on an inner cell; draws and coverage.
#include "as_built/built_points.h"
#include "cavum/as_built.h"
#include "measured_wall.h"
#include "step_chain.h"

// TM010 of radius R, between plates that are no metal: f = c x01 / (2 pi R), G = eta0 x01 / 2 for
// any R, R/Q = 2 eta0 T^2 L / (pi x01 J1^2 R) with T = sin(x) / x, x = k L / 2 at beta = 1.
static const double LENGTH_M = 0.1, SCATTER_M = 2e-6, PROBE_M = 3e-6, DEVIATION_M = 30e-6;
enum { NUM_POINTS = 400 };

static void write_pillbox(const char *accuracy) {
  char text[640];
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\n"
           "contour:\n  kind: path\n  start: {z_mm: -50, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 50, r_mm: %.17g}, boundary: electric}\n"
           "    - {line_to: {z_mm: -50, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: electric}\n",
           step_chain_radius_mm(), step_chain_radius_mm());
  program_write_text(step_chain_folder, "side.yaml", text);
  snprintf(text, sizeof text,
           "title: Pillbox 3\naccelerating_length_mm: 100\n"
           "contour: {kind: measured, file: points.csv, drawing: side.yaml, "
           "scatter_um: 2, probe_uncertainty_um: 3, best_fit: none}\n"
           "wall: {kind: metal, conductivity_S_per_m: 5.8e7}\naccuracy: %s\n",
           accuracy);
  program_write_text(step_chain_folder, "built.yaml", text);
}

// Even points of the side, all off by the same.
static void write_points(void) {
  char path[192];
  snprintf(path, sizeof path, "%s/points.csv", step_chain_folder);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs("z_mm,r_mm\n", file);
  for (int i = 0; i < NUM_POINTS; i++) {
    fprintf(file, "%.17g,%.17g\n", 100.0 * (i + 0.5) / NUM_POINTS - 50.0,
            step_chain_radius_mm() + 1e3 * DEVIATION_M);
  }
  fclose(file);
}

static void set_up(void) {
  temporary_folder_make(step_chain_folder);
  write_pillbox("{frequency: 1e-9, other_figures: 1e-5}");
  write_points();
}

static cavum_as_built *run_choices(const cavum_as_built_choices *choices) {
  char path[192];
  cavum_error error = {0};
  cavum_as_built *built = NULL;
  snprintf(path, sizeof path, "%s/built.yaml", step_chain_folder);
  cavum_status status = cavum_as_built_run(&built, path, choices, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return built;
}

START_TEST(a_pillbox_has_its_closed_forms) {
  cavum_as_built *built = run_choices(NULL);
  double drawn_m = 1e-3 * step_chain_radius_mm(), r = drawn_m + DEVIATION_M;
  const cavum_as_built_figure *f = &built->figures[CAVUM_FIGURE_FREQUENCY];
  // The curves follow the points to some nanometres: 15 Hz each.
  CAVUM_CHECK_NEAR(f->value, 1.3e9 * drawn_m / r, 100.0);
  CAVUM_CHECK_NEAR(f->drawn, 1.3e9, 1.0);
  // The mean of both derivatives leaves f (d / R)^3 / 2 = 26 Hz; the curves as above.
  CAVUM_CHECK_NEAR(f->by_deviation, f->value - f->drawn, 130.0);
  CAVUM_CHECK_RELATIVE(f->by_probe, -f->value / r * PROBE_M, 1e-6);
  // The sum of fitted values is that of the measured ones: constants and lines are not smoothed.
  CAVUM_CHECK_RELATIVE(f->by_noise, f->value / r * SCATTER_M / sqrt(NUM_POINTS), 0.01);
  CAVUM_CHECK_RELATIVE(f->uncertainty, hypot(f->by_noise, f->by_probe), 1e-12);
  const cavum_as_built_figure *g = &built->figures[CAVUM_FIGURE_GEOMETRY_FACTOR];
  CAVUM_CHECK_NEAR(g->by_probe / g->value, 0.0, 1e-6 * PROBE_M / r);
  const cavum_as_built_figure *rq = &built->figures[CAVUM_FIGURE_R_OVER_Q_LINAC];
  double x = 0.5 * STEP_CHAIN_X01 / r * LENGTH_M, slope = (1.0 - 2.0 * x / tan(x)) / r;
  CAVUM_CHECK_RELATIVE(rq->by_probe, rq->value * slope * PROBE_M, 1e-5);
  // R_s goes with the root of f, Q0 with G / R_s.
  const cavum_as_built_figure *q = &built->figures[CAVUM_FIGURE_Q0];
  CAVUM_CHECK_RELATIVE(q->by_probe, q->value * 0.5 / r * PROBE_M, 1e-4);
  ck_assert(isnan(built->figures[CAVUM_FIGURE_BPK_OVER_EACC].uncertainty));
  ck_assert_int_eq(built->num_used, NUM_POINTS);
  cavum_as_built_destroy(&built);
}
END_TEST

// Each piece of the side does the same, and all together what the wall does.
START_TEST(each_piece_of_a_pillbox_does_its_part) {
  cavum_as_built_choices choices = cavum_as_built_choices_default();
  choices.section_m = 0.0125;
  cavum_as_built *built = run_choices(&choices);
  const cavum_as_built_figure *f = &built->figures[CAVUM_FIGURE_FREQUENCY];
  double sum = 0.0;
  ck_assert_int_eq(built->num_sections, 8);
  for (int k = 0; k < built->num_sections; k++) {
    const cavum_as_built_section *s = &built->sections[k];
    CAVUM_CHECK_NEAR(s->deviation_m, DEVIATION_M, 1e-8);
    CAVUM_CHECK_RELATIVE(s->change_hz, f->by_deviation / 8.0, 1e-3);
    CAVUM_CHECK_NEAR(s->from_m, k * 0.0125, 1e-9);
    // The side runs from z = 50 mm to -50 mm.
    CAVUM_CHECK_NEAR(s->from_z_m, 0.05 - k * 0.0125, 1e-9);
    CAVUM_CHECK_NEAR(s->from_r_m, 1e-3 * step_chain_radius_mm(), 1e-12);
    ck_assert(s->uncertainty_hz > fabs(f->by_probe) / 8.0);
    sum += s->change_hz;
  }
  CAVUM_CHECK_RELATIVE(sum, f->by_deviation, 1e-12);
  for (cavum_index i = 0; i < built->num_places; i++) {
    CAVUM_CHECK_RELATIVE(built->slope_hz_per_m2[i], -1.3e9 / LENGTH_M / built->r_m[i], 2e-3);
  }
  cavum_as_built_destroy(&built);
}
END_TEST

START_TEST(draws_confirm_the_derivatives) {
  cavum_as_built_choices choices = cavum_as_built_choices_default();
  enum { DRAWS = 16 };
  choices.num_draws = DRAWS;
  write_pillbox("{frequency: 1e-6}");
  cavum_as_built *built = run_choices(&choices);
  const cavum_figure_id ids[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_R_OVER_Q_LINAC,
                                 CAVUM_FIGURE_SHUNT_IMPEDANCE};
  ck_assert_int_eq(built->num_draws, DRAWS);
  for (size_t k = 0; k < sizeof ids / sizeof *ids; k++) {
    const cavum_as_built_figure *f = &built->figures[ids[k]];
    // Four standard deviations of a standard deviation of so many draws.
    CAVUM_CHECK_RELATIVE(f->sampled, f->uncertainty, 4.0 / sqrt(2.0 * DRAWS));
  }
  ck_assert(built->figures[CAVUM_FIGURE_BPK_OVER_EACC].uncertainty > 0.0);
  cavum_as_built_destroy(&built);
}
END_TEST

// ---- coverage

/** A wall with a known wave, and what it does to the frequency. */
typedef struct wave_wall {
  cavum_cell cell;
  cavum_contour drawing;
  measured_wave wave;
  cavum_mode_result *mode;  // of result
  cavum_result *result;
} wave_wall;

static void open_wave(wave_wall *w) {
  cavum_error error = {0};
  char path[192];
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  snprintf(path, sizeof path, "%s/side.yaml", step_chain_folder);
  ck_assert_int_eq(cavum_cell_read_file(&w->cell, path, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&w->drawing, &w->cell, CAVUM_PART_WHOLE, &error),
                   CAVUM_OK);
  w->wave = (measured_wave){4e-6, 0.5 * LENGTH_M};
  w->result = solving_solve(&w->cell, &options);
  w->mode = &w->result->modes[0];
}

// Frequency that a fit finds less the true one, over its standard uncertainty.
static double normal_error(const wave_wall *w, const cavum_survey *survey) {
  cavum_built_points points = {0};
  cavum_error error = {0};
  double off_hz = 0.0, uncertainty_hz = 0.0;
  ck_assert_int_eq(cavum_built_points_make(&points, w->mode, survey, &error), CAVUM_OK);
  cavum_index n = points.num_points;
  cavum_foot *places = cavum_alloc(n, sizeof *places);
  double *weights = cavum_alloc(n, sizeof *weights);
  for (cavum_index i = 0; i < n; i++) {
    const cavum_built_point *p = &points.points[i];
    const cavum_curve *curve = &w->drawing.curves[survey->wall.curves[p->foot.curve].curve];
    places[i] = p->foot;
    weights[i] = p->change[CAVUM_BUILT_FIGURE_F];
    off_hz += weights[i] * (p->deviation_m - measured_wall_wave(curve, p->foot.t, &w->wave));
  }
  ck_assert_int_eq(cavum_survey_uncertainty(&uncertainty_hz, survey, places, weights, n, &error),
                   CAVUM_OK);
  free(places);
  free(weights);
  cavum_built_points_clear(&points);
  return off_hz / uncertainty_hz;
}

// Known profile, random places, normal noise: 95 % are within 1.96. Of 400 draws the part inside
// has a standard deviation of 1.09 %; 3.5 of them to either side.
START_TEST(the_frequency_is_inside_as_often_as_it_should) {
  enum { DRAWS = 400 };
  wave_wall w = {0};
  open_wave(&w);
  measured_wall wall = {.drawing = &w.drawing,
                        .truth = {measured_wall_wave, &w.wave, CAVUM_GRADED_CLOSE_M},
                        .num_points = 300,
                        .noise_m = 5e-6};
  const cavum_survey_settings settings = {.scatter_m = 5e-6, .motion = CAVUM_MOTION_NONE};
  random_state state = {2024};
  int inside = 0;
  for (int k = 0; k < DRAWS; k++) {
    cavum_survey survey = {0};
    cavum_error error = {0};
    cavum_survey_points points = measured_wall_points(&wall, &state);
    cavum_status status =
        cavum_survey_fit(&survey, &w.drawing, &points, &settings, "points.csv", &error);
    ck_assert_msg(status == CAVUM_OK, "%s", error.message);
    inside += fabs(normal_error(&w, &survey)) <= 1.959964;
    cavum_survey_points_clear(&points);
    cavum_survey_clear(&survey);
  }
  printf("%d of %d inside\n", inside, DRAWS);
  CAVUM_CHECK_NEAR((double)inside / DRAWS, 0.95, 3.5 * 0.0109);
  cavum_result_destroy(&w.result);
  cavum_contour_clear(&w.drawing);
  cavum_cell_clear(&w.cell);
}
END_TEST

// Walls that meet at corners, and plates on the axis: G and R/Q have no densities, f has.
START_TEST(corners_and_plates_leave_the_frequency_alone) {
  char path[192];
  snprintf(path, sizeof path, "%s/points.csv", step_chain_folder);
  step_chain_tear_down();
  step_chain_set_up();
  write_pillbox("{frequency: 1e-8}");
  snprintf(path, sizeof path, "%s/points.csv", step_chain_folder);
  ck_assert_int_eq(program_run(step_chain_folder, "cp pillbox.yaml side.yaml"), 0);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  double r = step_chain_radius_mm();
  fputs("z_mm,r_mm\n", file);
  for (int i = 0; i < 200; i++) {
    fprintf(file, "%.17g,%.17g\n", 0.5 * i - 49.75, r + 0.03);
    fprintf(file, "50,%.17g\n-50,%.17g\n", r * (i + 0.5) / 200, r * (i + 0.5) / 200);
  }
  fclose(file);
  cavum_as_built *built = run_choices(NULL);
  const cavum_as_built_figure *f = &built->figures[CAVUM_FIGURE_FREQUENCY];
  CAVUM_CHECK_NEAR(f->value, 1.3e9 * r / (r + 0.03), 200.0);
  // Of the second order at the corners: plates that are larger by 30 um beside 100 mm of side.
  CAVUM_CHECK_RELATIVE(f->by_deviation, f->value - f->drawn, 2e-3);
  // The plates do not change TM010: the side alone does.
  CAVUM_CHECK_RELATIVE(f->by_probe, -f->value / (1e-3 * (r + 0.03)) * PROBE_M, 1e-3);
  ck_assert(isnan(built->figures[CAVUM_FIGURE_GEOMETRY_FACTOR].uncertainty));
  ck_assert(isnan(built->figures[CAVUM_FIGURE_R_OVER_Q_LINAC].by_deviation));
  cavum_as_built_destroy(&built);
}
END_TEST

START_TEST(what_cannot_be_is_refused) {
  char path[192];
  cavum_error error = {0};
  cavum_as_built *built = NULL;
  cavum_as_built_choices choices = cavum_as_built_choices_default();
  snprintf(path, sizeof path, "%s/side.yaml", step_chain_folder);
  ck_assert_int_eq(cavum_as_built_run(&built, path, NULL, NULL, &error), CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "contour.kind: expected measured"));
  snprintf(path, sizeof path, "%s/built.yaml", step_chain_folder);
  choices.num_draws = -1;
  ck_assert_int_eq(cavum_as_built_run(&built, path, &choices, NULL, &error), CAVUM_ERR_RANGE);
  choices.num_draws = 0;
  choices.mode = 1;
  ck_assert_int_eq(cavum_as_built_run(&built, path, &choices, NULL, &error), CAVUM_ERR_USAGE);
  choices.mode = 0;
  choices.section_m = 1e-9;
  ck_assert_int_eq(cavum_as_built_run(&built, path, &choices, NULL, &error), CAVUM_ERR_RANGE);
  choices = (cavum_as_built_choices){0};
  ck_assert_int_eq(cavum_as_built_run(&built, path, &choices, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_as_built_run(NULL, path, NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(built);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, step_chain_tear_down);
  tcase_add_test(tests, a_pillbox_has_its_closed_forms);
  tcase_add_test(tests, each_piece_of_a_pillbox_does_its_part);
  tcase_add_test(tests, draws_confirm_the_derivatives);
  tcase_add_test(tests, the_frequency_is_inside_as_often_as_it_should);
  tcase_add_test(tests, corners_and_plates_leave_the_frequency_alone);
  tcase_add_test(tests, what_cannot_be_is_refused);
}

CAVUM_TEST_MAIN("as_built", add)
