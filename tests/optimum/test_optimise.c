// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape against closed forms.
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "solving.h"

#define PILLBOX                                                    \
  "contour:\n"                                                     \
  "  kind: path\n"                                                 \
  "  start: {z_mm: -40.0, r_mm: 0.0}\n"                            \
  "  path:\n"                                                      \
  "    - {line_to: {z_mm: 40.0, r_mm: 0.0}, boundary: axis}\n"     \
  "    - {line_to: {z_mm: 40.0, r_mm: 100.0}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: -40.0, r_mm: 100.0}, boundary: metal}\n" \
  "    - {line_to: {z_mm: -40.0, r_mm: 0.0}, boundary: metal}\n"   \
  "modes: {count: 1}\n"                                            \
  "accuracy: {frequency: 1.0e-11, other_figures: 1.0e-8}\n"

// Both ends move: one is varied, the other points follow.
#define GAP                                                \
  "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\n" \
  "linked:\n"                                              \
  "  - path[1].line_to.z_mm = path[2].line_to.z_mm\n"      \
  "  - path[3].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "  - start.z_mm = -path[2].line_to.z_mm\n"               \
  "  - path[4].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "starts: 2\n"                                            \
  "tolerance: 1.0e-8\n"

static cavum_optimum *optimise(const char *cell_text, const char *goal_text) {
  cavum_cell cell;
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, cell_text, strlen(cell_text), NULL, &error);
  if (status == CAVUM_OK) {
    status = cavum_goal_open_text(&goal, goal_text, strlen(goal_text), NULL, &cell, &error);
  }
  if (status == CAVUM_OK) status = cavum_optimise(&optimum, goal, NULL, &error);
  if (status != CAVUM_OK) printf("%s\n", error.message);
  for (int k = 0; optimum && k < optimum->num_steps; k++) {
    const cavum_optimum_step *s = &optimum->steps[k];
    printf("  %2d %s objective %.12f violation %.2g residual %.2g radius %.2g x %.9g\n", k,
           s->accepted ? "+" : "-", s->objective, s->violation, s->residual, s->radius,
           s->values[0]);
  }
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
  ck_assert_int_eq(status, CAVUM_OK);
  return optimum;
}

// x = k d / 2 of a pillbox of 100 mm whose half gap is a value of a dimension.
static double phase_of(const cavum_optimum *optimum) {
  return 2.404825557695773 / 0.1 * optimum->variables[0].value * 1e-3;
}

// V ~ sin(x) / x per gap, U ~ gap: R/Q ~ sin^2 x / x, largest where tan x = 2 x. With G, whose
// losses are those of two plates and a side, ~ x / (x + x01 / 2): where tan x = 2 (x + x01 / 2).
// With L_acc = lambda / 2 the peaks over E_acc go as 1 / sin x.
START_TEST(gap_of_a_pillbox) {
  static const struct {
    const char *objective;
    double phase;
  } cases[] = {{"maximise: r_over_q_linac_ohm\n", 1.165561185},
               {"maximise: {r_over_q_linac_ohm: 1, geometry_factor_ohm: 1}\n", 1.379509944},
               {"minimise: epk_over_eacc\n", 1.570796327},
               {"minimise: bpk_over_eacc_mT_per_MV_per_m\n", 1.570796327}};
  char text[2000];
  for (int i = 0; i < 4; i++) {
    snprintf(text, sizeof text, GAP "%s", cases[i].objective);
    cavum_optimum *optimum = optimise(PILLBOX, text);
    printf("%s: x = %.9f, %d solves\n", cases[i].objective, phase_of(optimum), optimum->num_solves);
    ck_assert_double_eq_tol(phase_of(optimum), cases[i].phase, 1e-6 * cases[i].phase);
    ck_assert_int_eq(optimum->num_optima, 1);
    cavum_optimum_destroy(&optimum);
  }
}
END_TEST

// An inner cell of two ellipses that repeats along the beam.
#define INNER_CELL                                               \
  "contour:\n"                                                   \
  "  kind: two-ellipse\n"                                        \
  "  half_length_mm: 57.652\n"                                   \
  "  iris_radius_mm: 35.0\n"                                     \
  "  equator_radius_mm: 103.3\n"                                 \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"       \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"          \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n" \
  "modes: {count: 1}\n"

#define INNER_GOAL                                                          \
  "vary:\n"                                                                 \
  "  equator_ellipse.axial_mm: {from: 30, to: 54}\n"                        \
  "  equator_ellipse.radial_mm: {from: 20, to: 60}\n"                       \
  "  iris_ellipse.axial_mm: {from: 6, to: 20}\n"                            \
  "  iris_ellipse.radial_mm: {from: 8, to: 40}\n"                           \
  "  iris_radius_mm: {from: 30, to: 40}\n"                                  \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"

START_TEST(lowest_magnetic_peak) {
  const char *most = getenv("EPK") ? getenv("EPK") : "2.0",
             *angle = getenv("ANGLE") ? getenv("ANGLE") : "5";
  char text[2000];
  snprintf(text, sizeof text,
           INNER_GOAL
           "limits:\n  epk_over_eacc: {most: %s}\n  wall_angle_deg: {least: %s}\n  "
           "aperture_radius_mm: {least: 35}\nstarts: %s\nsolves: 100\n",
           most, angle, getenv("STARTS") ? getenv("STARTS") : "1");
  cavum_optimum *optimum = optimise(INNER_CELL, text);
  for (int j = 0; j < optimum->num_variables; j++) {
    const cavum_optimum_variable *v = &optimum->variables[j];
    printf("%s %.6f bound %d mult %g\n", v->key, v->value, v->at_bound, v->multiplier);
  }
  for (int j = 0; j < optimum->num_limits; j++) {
    const cavum_optimum_limit *v = &optimum->limits[j];
    printf("%s %.9g active %d mult %g\n", v->what.key, v->value, v->active, v->multiplier);
  }
  for (int j = 0; j < optimum->num_starts; j++) {
    const cavum_optimum_start *v = &optimum->starts[j];
    printf("start %d %s solves %d B %.6f viol %.2g residual %.2g best %d\n", j,
           cavum_optimum_end_word(v->end), v->num_solves, 1e9 * exp(v->objective), v->violation,
           v->residual, v->is_best);
  }
  printf("B %.6f, optima %d\n", 1e9 * optimum->terms[0].value, optimum->num_optima);
  cavum_optimum_destroy(&optimum);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, gap_of_a_pillbox);
  tcase_add_test(tests, lowest_magnetic_peak);
}

CAVUM_TEST_MAIN("optimise", add)
