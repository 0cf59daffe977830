// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape against closed forms.
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "inner_shape.h"
#include "optimum/outcome.h"
#include "slow_shape.h"
#include "solving.h"
#include "test_cell.h"

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
  "starts: 1\n"                                            \
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
#define INNER_CELL INNER_SHAPE_TUNED

#define INNER_GOAL                                                          \
  "vary:\n"                                                                 \
  "  equator_ellipse.axial_mm: {from: 30, to: 54}\n"                        \
  "  equator_ellipse.radial_mm: {from: 20, to: 60}\n"                       \
  "  iris_ellipse.axial_mm: {from: 6, to: 20}\n"                            \
  "  iris_ellipse.radial_mm: {from: 8, to: 40}\n"                           \
  "  iris_radius_mm: {from: 30, to: 40}\n"                                  \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"

#define INNER_LIMITS(epk)                 \
  "limits:\n  epk_over_eacc: {most: " epk \
  "}\n"                                   \
  "  wall_angle_deg: {least: 5}\n  aperture_radius_mm: {least: 35}\n"

static const cavum_optimum_limit *limit_of(const cavum_optimum *optimum, const char *key) {
  for (int i = 0; i < optimum->num_limits; i++) {
    if (strcmp(optimum->limits[i].what.key, key) == 0) return &optimum->limits[i];
  }
  ck_abort_msg("no limit %s", key);
}

// The file of the best cell, solved from the start, is what the search says of it.
static void check_text(const cavum_optimum *optimum) {
  cavum_cell cell = solving_read(optimum->cell_text);
  cavum_result *result = solving_solve(&cell, NULL);
  cavum_figure b = result->modes[0].figures[CAVUM_FIGURE_BPK_OVER_EACC];
  cavum_figure e = result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
  cavum_figure f = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  printf("B %.6g E %.6f f %.9g\n", b.value, e.value, f.value);
  CAVUM_CHECK_NEAR(b.value, optimum->terms[0].value, b.uncertainty + optimum->terms[0].uncertainty);
  // Held to a tenth of the accuracies asked for, known to the uncertainties.
  CAVUM_CHECK_NEAR(f.value, 1.3e9, 1e-7 * 1.3e9 + f.uncertainty);
  ck_assert(e.value <= 2.0 * (1.0 + 2e-5) + e.uncertainty);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

// The lowest magnetic peak for an electric one of 2 at 1300 MHz and an aperture of 35 mm, with a
// wall that leans by 5 degrees: three limits hold, the frequency is held, peaks compete.
START_TEST(lowest_magnetic_peak) {
  cavum_optimum *optimum = optimise(INNER_CELL, INNER_GOAL INNER_LIMITS("2.0") "starts: 2\n");
  ck_assert(optimum->met);
  ck_assert_int_eq(optimum->num_optima, 1);
  for (int i = 0; i < optimum->num_starts; i++) {
    const cavum_optimum_start *start = &optimum->starts[i];
    printf("start %d: %s, %d solves, residual %.2g\n", i, cavum_optimum_end_word(start->end),
           start->num_solves, start->residual);
    ck_assert(start->is_best && start->num_solves <= 40);
  }
  ck_assert_int_eq(limit_of(optimum, "epk_over_eacc")->active, 1);
  ck_assert_int_eq(limit_of(optimum, "wall_angle_deg")->active, -1);
  ck_assert_int_eq(limit_of(optimum, "aperture_radius_mm")->active, -1);
  check_text(optimum);
  cavum_optimum_destroy(&optimum);
}
END_TEST

// An active limit holds to a tenth of the accuracy asked for in a solve that knows better, not only
// in the solves of the search; so whoever solves the best cell finds it met, or undecided.
START_TEST(limits_hold_in_better_solves) {
  cavum_optimum *o =
      optimise(SLOW_SHAPE, SLOW_SHAPE_VARIED
               "limits: {epk_over_eacc: {most: 2.3}, wall_angle_deg: {least: 3}}\nstarts: 1\n");
  cavum_cell cell = solving_read(o->cell_text);
  cell.accuracy_frequency = 1e-9;
  cell.accuracy_other_figures = 1e-6;
  cavum_result *result = solving_solve(&cell, NULL);
  cavum_figure e = result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
  cavum_figure f = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  cavum_figure table = o->result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
  const cavum_optimum_limit *limit = limit_of(o, "epk_over_eacc");
  printf("E %.7f +- %.1g, in the table %.6f +- %.1g, of the limit %.7f +- %.1g\n", e.value,
         e.uncertainty, table.value, table.uncertainty, limit->value, limit->uncertainty);
  ck_assert_int_eq(limit->active, 1);
  CAVUM_CHECK_NEAR(e.value, 2.3, 0.1 * 1e-4 * 2.3 + e.uncertainty);
  CAVUM_CHECK_NEAR(f.value, 650e6, 0.1 * 1e-6 * 650e6 + f.uncertainty);
  CAVUM_CHECK_NEAR(limit->value, table.value, limit->uncertainty + table.uncertainty);
  ck_assert_int_eq(o->steps[o->num_steps - 1].accepted, 1);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  cavum_optimum_destroy(&o);
}
END_TEST

// A tube that is stated as wide as its iris follows it in the search as in the file that is
// written: a held frequency was that of shapes with the tube left behind, 1 MHz off here.
START_TEST(a_stated_tube_follows_its_iris) {
  cavum_optimum *o =
      optimise(TEST_CELL_CONTOUR
               "ends:\n  left: {kind: magnetic}\n"
               "  right: {kind: tube, length_mm: 120, radius_mm: 35, close: electric}\n",
               "vary: {right.iris_radius_mm: {from: 34, to: 40}}\n"
               "hold: {frequency_MHz: 1295, by: equator_radius_mm, from: 98, to: 110}\n"
               "minimise: loss_factor_V_per_C\nstarts: 1\n");
  cavum_figure f = o->result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  cavum_cell cell = solving_read(o->cell_text);
  printf("iris %.6f mm, f %.6f MHz\n", cell.right.iris_radius_m * 1e3, f.value * 1e-6);
  ck_assert(o->met);
  CAVUM_CHECK_NEAR(cell.right_end.tube_radius_m, cell.right.iris_radius_m, 0.0);
  ck_assert_double_gt(cell.right.iris_radius_m, 38e-3);  // a wider iris has less of it
  CAVUM_CHECK_NEAR(f.value, 1295e6, 0.1 * 1e-6 * 1295e6 + f.uncertainty);
  cavum_cell_clear(&cell);
  cavum_optimum_destroy(&o);
}
END_TEST

// Multipliers are what the objective changes by when a limit gives way: the mean of those of two
// limits times their distance, to the square of the distance.
START_TEST(multipliers_are_what_limits_cost) {
  cavum_optimum *tight = optimise(INNER_CELL, INNER_GOAL INNER_LIMITS("2.0") "starts: 1\n");
  cavum_optimum *wide = optimise(INNER_CELL, INNER_GOAL INNER_LIMITS("2.04") "starts: 1\n");
  double mean = 0.5 * (limit_of(tight, "epk_over_eacc")->multiplier +
                       limit_of(wide, "epk_over_eacc")->multiplier);
  double gain = tight->objective - wide->objective;
  printf("gain %.6g, multipliers say %.6g\n", gain, 0.04 * mean);
  // The trapezoidal rule leaves a few percent of the change of the multiplier, a tenth; each
  // objective is known to 1e-5.
  CAVUM_CHECK_NEAR(gain, 0.04 * mean, 0.01 * gain + 2e-5);
  cavum_optimum_destroy(&tight);
  cavum_optimum_destroy(&wide);
}
END_TEST

// Curvature that is too large in directions without a step makes every step short: without a size
// of each step's own this start took 24 solves to the same end, with it 11.
START_TEST(steps_are_not_short) {
  cavum_optimum *optimum = optimise(INNER_CELL,
                                    "vary:\n"
                                    "  equator_ellipse.axial_mm: {from: 30, to: 54}\n"
                                    "  equator_ellipse.radial_mm: {from: 20, to: 60}\n"
                                    "  iris_ellipse.axial_mm: {from: 6, to: 20}\n"
                                    "  iris_ellipse.radial_mm: {from: 8, to: 40}\n"
                                    "  iris_radius_mm: {from: 30, to: 40}\n"
                                    "hold: {frequency_MHz: 1300, by: equator_radius_mm, "
                                    "from: 90, to: 115}\n"
                                    "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
                                    "limits:\n  wall_angle_deg: {least: -5}\n"
                                    "  aperture_radius_mm: {least: 35}\n"
                                    "  epk_over_eacc: {most: 2.1}\n"
                                    "starts: 1\nsolves: 16\n");
  printf("%d solves, residual %.2g\n", optimum->num_solves, optimum->residual);
  ck_assert(optimum->met);
  cavum_optimum_destroy(&optimum);
}
END_TEST

// Published for inner cells of two ellipses with this aperture and re-entrant walls: 3.78 mT/(MV/m)
// at an electric peak of 2.4 (NIM A 496 (2003) 1, not checked against the source, known to 1 %).
// Here the straight wall ends at its limit, where it vanishes as a root does, and the electric peak
// stands at an end of an element: searches stalled on either.
START_TEST(published_magnetic_peak_of_reentrant_cells) {
  cavum_optimum *optimum = optimise(INNER_CELL,
                                    "vary:\n"
                                    "  equator_ellipse.axial_mm: {from: 30, to: 54}\n"
                                    "  equator_ellipse.radial_mm: {from: 20, to: 60}\n"
                                    "  iris_ellipse.axial_mm: {from: 3, to: 20}\n"
                                    "  iris_ellipse.radial_mm: {from: 4, to: 40}\n"
                                    "hold: {frequency_MHz: 1300, by: equator_radius_mm, "
                                    "from: 90, to: 115}\n"
                                    "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
                                    "limits: {epk_over_eacc: {most: 2.4}}\n"
                                    "starts: 2\n");
  double peak = 1e9 * optimum->terms[0].value;
  printf("B_pk/E_acc %.6f mT/(MV/m), 3.78 published\n", peak);
  ck_assert_double_eq_tol(peak, 3.78, 0.01 * 3.78);
  ck_assert_int_eq(optimum->num_optima, 1);
  for (int i = 0; i < optimum->num_starts; i++) {
    const cavum_optimum_start *start = &optimum->starts[i];
    printf("start %d: %s, %d solves, residual %.2g\n", i, cavum_optimum_end_word(start->end),
           start->num_solves, start->residual);
    ck_assert(start->is_best && start->num_solves <= 40);
  }
  ck_assert_int_eq(limit_of(optimum, "epk_over_eacc")->active, 1);
  ck_assert_int_eq(limit_of(optimum, "straight_length_mm")->active, -1);
  cavum_optimum_destroy(&optimum);
}
END_TEST

#define TUBES                                                 \
  "contour:\n"                                                \
  "  kind: two-ellipse\n"                                     \
  "  half_length_mm: 19.1\n"                                  \
  "  iris_radius_mm: 15.3\n"                                  \
  "  equator_radius_mm: 35.9\n"                               \
  "  equator_ellipse: {axial_mm: 13.2, radial_mm: 14.1}\n"    \
  "  iris_ellipse: {axial_mm: 4.4, radial_mm: 6.3}\n"         \
  "ends:\n"                                                   \
  "  left: {kind: tube, length_mm: 55.0, close: electric}\n"  \
  "  right: {kind: tube, length_mm: 55.0, close: electric}\n" \
  "modes: {count: 1}\n"

#define FLAT_GOAL                                                         \
  "vary:\n"                                                               \
  "  equator_ellipse.axial_mm: {from: 9.0, to: 15.0}\n"                   \
  "  equator_ellipse.radial_mm: {from: 8.0, to: 18.0}\n"                  \
  "  iris_ellipse.axial_mm: {from: 2.5, to: 6.0}\n"                       \
  "  iris_ellipse.radial_mm: {from: 4, to: 10}\n"                         \
  "hold: {frequency_MHz: 3900, by: equator_radius_mm}\n"                  \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                             \
  "limits: {epk_over_eacc: {most: 1.80}, wall_angle_deg: {least: 8.0}}\n" \
  "starts: 2\n"

// Where the objective is flat a search may stall. A frequency that the last step left a few
// accuracies off is no reason to call the shape infeasible: it ends at one that keeps the limits.
START_TEST(stalled_searches_end_within_limits) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_cell cell = solving_read(TUBES);
  cavum_goal *goal = NULL;
  cavum_optimum *o = NULL;
  ck_assert_int_eq(cavum_goal_open_text(&goal, FLAT_GOAL, strlen(FLAT_GOAL), NULL, &cell, NULL),
                   CAVUM_OK);
  cavum_optimise(&o, goal, NULL, NULL);
  ck_assert_ptr_nonnull(o);
  for (int i = 0; i < o->num_starts; i++) {
    printf("start %d: %s, violation %.2g\n", i + 1, cavum_optimum_end_word(o->starts[i].end),
           o->starts[i].violation);
    ck_assert_int_ne(o->starts[i].end, CAVUM_OPTIMUM_INFEASIBLE);
  }
  ck_assert(o->within_limits);
  cavum_optimum_destroy(&o);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

// Starts on several threads, of which some are no shapes: the same starts with the same ends.
START_TEST(threads_change_nothing) {
  static const char text[] = GAP "maximise: r_over_q_linac_ohm\n";
  cavum_optimum *of[2] = {NULL, NULL};
  for (int k = 0; k < 2; k++) {
    cavum_cell cell = solving_read(PILLBOX);
    cavum_goal *goal = NULL;
    char *own = strdup(text);
    strstr(own, "starts: 1")[strlen("starts: ")] = '5';
    ck_assert_int_eq(cavum_goal_open_text(&goal, own, strlen(own), NULL, &cell, NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_goal_set_threads(goal, 0, NULL), CAVUM_ERR_USAGE);
    ck_assert_int_eq(cavum_goal_set_threads(goal, k == 0 ? 1 : 3, NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_optimise(&of[k], goal, NULL, NULL), CAVUM_OK);
    cavum_goal_close(&goal);
    cavum_cell_clear(&cell);
    free(own);
  }
  ck_assert_int_eq(of[0]->num_starts, 5);
  ck_assert_int_eq(of[1]->num_starts, 5);
  ck_assert_int_eq(of[0]->num_solves, of[1]->num_solves);
  ck_assert_str_eq(of[0]->cell_text, of[1]->cell_text);
  for (int i = 0; i < 5; i++) {
    ck_assert_double_eq(of[0]->starts[i].first[0], of[1]->starts[i].first[0]);
    ck_assert_double_eq(of[0]->starts[i].last[0], of[1]->starts[i].last[0]);
    ck_assert_double_eq(of[0]->starts[i].residual, of[1]->starts[i].residual);
    ck_assert_int_eq(of[0]->starts[i].num_solves, of[1]->starts[i].num_solves);
  }
  cavum_optimum_destroy(&of[0]);
  cavum_optimum_destroy(&of[1]);
}
END_TEST

static bool is_stopped(void *data) { return ++*(int *)data > 2; }

START_TEST(threads_stop) {
  cavum_cell cell = solving_read(PILLBOX);
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  int asked = 0;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = is_stopped;
  options.stop_data = &asked;
  char text[] = GAP "maximise: r_over_q_linac_ohm\n";
  strstr(text, "starts: 1")[strlen("starts: ")] = '5';
  ck_assert_int_eq(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_goal_set_threads(goal, 3, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_optimise(&optimum, goal, &options, NULL), CAVUM_ERR_STOPPED);
  // The other threads may have come to a shape meanwhile.
  if (optimum) ck_assert_int_eq(optimum->end, CAVUM_OPTIMUM_STOPPED);
  cavum_optimum_destroy(&optimum);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

// A multiplier that cannot be told from 0 makes no limit active that the figure is away from, and
// none makes one active that it is far away from.
START_TEST(active_limits) {
  static const struct {
    double least, most, room;
    int side;
  } cases[] = {{0.0, 0.0, 0.0, 0},    {0.3, 0.0, 1e-7, -1},  {0.0, 0.3, 1e-7, 1},
               {0.3, 0.0, 0.5, 0},    {7e-6, 0.0, 17.0, 0},  {0.0, 7e-6, 17.0, 0},
               {7e-6, 0.0, 1e-6, -1}, {0.0, 7e-6, -1e-6, 1}, {-0.2, -0.1, 0.0, 0},
               {0.0, 6e-3, 0.15, 0}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    ck_assert_int_eq(cavum_outcome_side(cases[i].least, cases[i].most, cases[i].room, 1e-4),
                     cases[i].side);
  }
}
END_TEST

// The last steps use limits up: what multipliers say that their room is worth is a tenth of the
// tolerance, where the conditions alone leave all of it (1.3e-5 of this objective were left).
START_TEST(limits_are_used_up) {
  static const char cell[] =
      "beta: 0.62\ncontour:\n  kind: two-ellipse\n  half_length_mm: 71.71\n  iris_radius_mm: 48\n"
      "  equator_radius_mm: 204.2357494819\n  equator_ellipse: {axial_mm: 42, radial_mm: 46}\n"
      "  iris_ellipse: {axial_mm: 17, radial_mm: 30}\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\nmodes: {count: 3}\n";
  static const char goal[] =
      "vary:\n  iris_radius_mm: {from: 44, to: 56}\n"
      "  equator_ellipse.axial_mm: {from: 30.0, to: 60.0}\n"
      "  iris_ellipse.axial_mm: {from: 8.0, to: 26.0}\n"
      "  iris_ellipse.radial_mm: {from: 10.0, to: 50.0}\n"
      "hold: {frequency_MHz: 648.0, by: equator_radius_mm, from: 180.0, to: 230.0}\n"
      "minimise: bpk_over_eacc_mT_per_MV_per_m\ncoupling: yes\nstarts: 1\n"
      "limits: {wall_angle_deg: {least: 5.0}, epk_over_eacc: {most: 2.5}, k_cc: {least: 0.011}}\n";
  cavum_optimum *optimum = optimise(cell, goal);
  double worth = 0.0;
  for (int i = 0; i < optimum->num_limits; i++) {
    const cavum_optimum_limit *limit = &optimum->limits[i];
    if (limit->active == 0 || limit->what.least == limit->what.most) continue;
    double room =
        limit->active > 0 ? limit->what.most - limit->value : limit->value - limit->what.least;
    printf("%s: room %.2e, multiplier %.3g\n", limit->what.key, room, limit->multiplier);
    worth += fmax(room * limit->multiplier, 0.0);
  }
  printf("%.2e of the objective are left, residual %.2e\n", worth, optimum->residual);
  ck_assert(optimum->met);
  ck_assert(worth <= 1e-5);
  cavum_optimum_destroy(&optimum);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, limits_are_used_up);
  tcase_add_test(tests, active_limits);
  tcase_add_test(tests, a_stated_tube_follows_its_iris);
  tcase_add_test(tests, stalled_searches_end_within_limits);
  tcase_add_test(tests, threads_change_nothing);
  tcase_add_test(tests, threads_stop);
  tcase_add_test(tests, gap_of_a_pillbox);
  tcase_add_test(tests, lowest_magnetic_peak);
  tcase_add_test(tests, limits_hold_in_better_solves);
  tcase_add_test(tests, multipliers_are_what_limits_cost);
  tcase_add_test(tests, steps_are_not_short);
  tcase_add_test(tests, published_magnetic_peak_of_reentrant_cells);
}

CAVUM_TEST_MAIN("optimise", add)
