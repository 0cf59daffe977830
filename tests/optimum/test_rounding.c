// SPDX-License-Identifier: GPL-3.0-or-later
// Which way each dimension is rounded, against all ways there are.
#include "base/base.h"
#include "cavum/optimum.h"
#include "inner_shape.h"
#include "optimum/rounding.h"
#include "optimum/search.h"
#include "optimum/starts.h"
#include "solving.h"

#define VARY                                                                \
  "vary:\n"                                                                 \
  "  equator_ellipse.axial_mm: {from: 38, to: 50}\n"                        \
  "  equator_ellipse.radial_mm: {from: 28, to: 50}\n"                       \
  "  iris_ellipse.axial_mm: {from: 8, to: 18}\n"                            \
  "  iris_ellipse.radial_mm: {from: 12, to: 30}\n"                          \
  "  iris_radius_mm: {from: 30, to: 38}\n"                                  \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n" \
  "starts: 1\n"

#define STEPS(step)                                                                            \
  "steps: {equator_ellipse.axial_mm: " step ", equator_ellipse.radial_mm: " step               \
  ", iris_ellipse.axial_mm: " step ", iris_ellipse.radial_mm: " step ", iris_radius_mm: " step \
  "}\n"

// Limits that compete in a step of rounding: the coupling, a peak, the lean of the wall.
static const char *const goals[] = {
    "coupling: yes\nmaximise: r_over_q_linac_ohm\n"
    "limits: {k_cc: {least: 0.01237}, epk_over_eacc: {most: 2.1}, wall_angle_deg: {least: "
    "5}}\n" STEPS("0.5"),
    "coupling: yes\nminimise: {epk_over_eacc: 1, bpk_over_eacc_mT_per_MV_per_m: 1}\n"
    "limits: {k_cc: {least: 0.01237}, wall_angle_deg: {least: 5}}\n" STEPS("0.25")};

// A way that keeps the limits has one variable left, which holds the frequency: some three solves.
enum { MOST_SOLVES = 6 };

static cavum_goal *open_goal_of(const char *cell_text, const char *text) {
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  cavum_cell cell = solving_read(cell_text);
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_cell_clear(&cell);
  return goal;
}

static cavum_goal *open_goal(const char *limits) {
  char text[2000];
  snprintf(text, sizeof text, VARY "%s", limits);
  return open_goal_of(INNER_SHAPE, text);
}

// Up or down by the bits of a way.
static void round_place(double *place, const cavum_search *best, unsigned bits) {
  const cavum_goal *goal = best->solving->goal;
  int k = 0;
  for (int j = 0; j < goal->num_variables; j++) {
    double range = goal->high[j] - goal->low[j];
    place[j] = best->here->place[j];
    if (goal->step[j] == 0.0) continue;
    double parts = (goal->low[j] + place[j] * range) / goal->step[j];
    double value = (bits >> k++ & 1U ? ceil(parts) : floor(parts)) * goal->step[j];
    place[j] = (value - goal->low[j]) / range;
  }
}

// The best of all ways to round is what comes out.
START_TEST(the_best_of_all_ways) {
  static cavum_optimum_solving solving;  // large
  cavum_goal *goal = open_goal(goals[_i]);
  cavum_starts sequence = {.goal = goal};
  double place[CAVUM_GOAL_MOST_VARIABLES] = {0.0}, least = HUGE_VAL;
  bool fixed[CAVUM_GOAL_MOST_VARIABLES];
  int num_met = 0, count = 0;
  solving = (cavum_optimum_solving){0};
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  cavum_search best = {.solving = &solving, .most_solves = goal->most_solves}, rounded = {0};
  ck_assert(cavum_starts_next(place, &sequence));
  ck_assert_int_eq(cavum_search_run(&best, place, NULL), CAVUM_OK);
  ck_assert_int_eq(best.end, CAVUM_OPTIMUM_CONVERGED);
  int before = solving.num_solves;
  ck_assert_int_eq(cavum_rounding_search(&rounded, &best, NULL), CAVUM_OK);
  int solves = solving.num_solves - before;
  for (int j = 0; j < goal->num_variables; j++) {
    fixed[j] = goal->step[j] > 0.0;
    count += fixed[j];
  }
  for (unsigned bits = 0; bits < 1U << count; bits++) {
    cavum_search way = {.solving = &solving, .most_solves = MOST_SOLVES, .fixed = fixed};
    round_place(place, &best, bits);
    cavum_status status = cavum_search_run(&way, place, NULL);
    bool met = status == CAVUM_OK && way.end == CAVUM_OPTIMUM_CONVERGED;
    printf("way %2u: costs %+.2e, breaks a limit by %.1e, %d solves\n", bits,
           way.objective - best.objective, way.violation, way.num_solves);
    num_met += met;
    if (met) least = cavum_min(least, way.objective);
    cavum_search_clear(&way);
  }
  printf("%d of %d ways within the limits, the best costs %.3e, taken %.3e after %d solves\n",
         num_met, 1 << count, least - best.objective, rounded.objective - best.objective, solves);
  ck_assert(num_met > 0 && num_met < 1 << count);
  ck_assert_int_eq(rounded.end, CAVUM_OPTIMUM_CONVERGED);
  // Two ways that differ by less than peaks are known to are one.
  ck_assert_double_le(rounded.objective, least + 1e-4);
  cavum_search_clear(&best);
  cavum_search_clear(&rounded);
  cavum_optimum_solving_clear(&solving);
  cavum_goal_close(&goal);
}
END_TEST

// Half a millimetre of the iris radius moves the best shape of all other dimensions by several of
// their steps: no way about the best shape without steps keeps the limits, but shapes do.
START_TEST(a_coarse_step_moves_the_others) {
  static const char cell[] =
      "beta: 0.62\ncontour:\n  kind: two-ellipse\n  half_length_mm: 71.71\n  iris_radius_mm: 49.7\n"
      "  equator_radius_mm: 204.13\n  equator_ellipse: {axial_mm: 48.8, radial_mm: 75}\n"
      "  iris_ellipse: {axial_mm: 18.2, radial_mm: 35.1}\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n";
  static const char text[] =
      "vary:\n  iris_radius_mm: {from: 44, to: 58}\n  equator_ellipse.axial_mm: {from: 30, to: "
      "60}\n"
      "  iris_ellipse.axial_mm: {from: 8, to: 26}\n  iris_ellipse.radial_mm: {from: 10, to: 50}\n"
      "hold: {frequency_MHz: 648, by: equator_radius_mm, from: 180, to: 230}\n"
      "minimise: bpk_over_eacc_mT_per_MV_per_m\ncoupling: yes\n"
      "limits: {epk_over_eacc: {most: 2.4}, wall_angle_deg: {least: 5}, k_cc: {least: 0.0115}}\n"
      "steps: {iris_radius_mm: 0.5, equator_ellipse.axial_mm: 0.1, iris_ellipse.axial_mm: 0.1, "
      "iris_ellipse.radial_mm: 0.1}\nstarts: 1\n";
  cavum_goal *goal = open_goal_of(cell, text);
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_optimise(&optimum, goal, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert(optimum->within_limits && !optimum->not_rounded);
  double cost = expm1(optimum->objective - optimum->objective_exact);
  printf("rounding costs %.2e after %d solves\n", cost, optimum->num_solves);
  for (int j = 0; j + 1 < optimum->num_variables; j++) {
    const cavum_optimum_variable *v = &optimum->variables[j];
    double step = j == 0 ? 0.5 : 0.1, parts = v->value / step;
    printf("%s %.12g\n", v->key, v->value);
    CAVUM_CHECK_NEAR(parts, round(parts), 1e-6);
  }
  // A shape of these steps that was found by hand is 1 % worse than the best without.
  ck_assert_double_lt(cost, 0.01);
  ck_assert_double_gt(cost, 0.0);
  // The search takes some twenty solves, twenty ways and what is searched anew beside the coarse
  // step six each at most.
  ck_assert_int_lt(optimum->num_solves, 400);
  cavum_optimum_destroy(&optimum);
  cavum_goal_close(&goal);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_coarse_step_moves_the_others);
  tcase_add_loop_test(tests, the_best_of_all_ways, 0, sizeof goals / sizeof *goals);
}

CAVUM_TEST_MAIN("rounding", add)
