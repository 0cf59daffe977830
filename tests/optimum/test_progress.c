// SPDX-License-Identifier: GPL-3.0-or-later
// What a search tells of how far it is.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "solving.h"
#include "test_cell.h"

#define VARY                                             \
  "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n" \
  "  iris_ellipse.radial_mm: {from: 15, to: 24}\n"       \
  "hold: {frequency_MHz: 1310, by: equator_radius_mm}\n" \
  "limits: {wall_angle_deg: {least: 5}, epk_over_eacc: {most: 2.1}}\n"

/** What was told. */
typedef struct told {
  int count, wrong, most_done, stages;
  bool within;  // of a stage, so far
  double best;  // of these
  cavum_optimum_progress last;
} told;

static void watch(const cavum_optimum_progress *p, void *data) {
  told *so_far = data;
  bool anew =
      so_far->count == 0 || p->stage != so_far->last.stage || p->point != so_far->last.point;
  if (anew) so_far->within = false;
  // A shape within the limits is followed by better ones alone.
  bool good = p->has_best && p->num_solves >= so_far->last.num_solves && p->num_solves > 0 &&
              p->seconds >= so_far->last.seconds && isfinite(p->objective) &&
              p->num_done <= p->num_wanted + (p->num_wanted == 0 ? INT32_MAX / 2 : 0);
  if (so_far->within) good = good && p->within_limits && p->objective <= so_far->best;
  if (!good) printf("wrong: %d solves, best %.9g\n", p->num_solves, p->objective);
  so_far->wrong += !good;
  so_far->count++;
  so_far->stages |= 1 << (int)p->stage;
  so_far->within = p->within_limits;
  so_far->best = p->objective;
  if (p->num_done > so_far->most_done) so_far->most_done = p->num_done;
  so_far->last = *p;
}

static cavum_goal *open_goal(const char *cell_text, const char *text, told *so_far) {
  cavum_cell cell = solving_read(cell_text);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cavum_goal_set_watcher(goal, watch, so_far, NULL), CAVUM_OK);
  cavum_cell_clear(&cell);
  return goal;
}

static cavum_optimum *search(const char *text, int threads, told *so_far) {
  cavum_goal *goal = open_goal(TEST_CELL, text, so_far);
  cavum_optimum *o = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_goal_set_threads(goal, threads, NULL), CAVUM_OK);
  cavum_status status = cavum_optimise(&o, goal, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("told %d times, last %d solves, %d of %d starts, %.9g; result %d solves, %.9g\n",
         so_far->count, so_far->last.num_solves, so_far->last.num_done, so_far->last.num_wanted,
         so_far->last.value, o->num_solves, o->terms[0].value);
  ck_assert_int_gt(so_far->count, 0);
  ck_assert_int_eq(so_far->wrong, 0);
  cavum_goal_close(&goal);
  return o;
}

// The last that is told is what the search came to. One thread tells after each solve.
START_TEST(starts_solves_and_the_best_so_far_are_told) {
  told so_far = {0};
  cavum_optimum *o =
      search(VARY "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 3\n", _i == 0 ? 1 : 3, &so_far);
  ck_assert_int_eq(so_far.most_done, 3);
  ck_assert_int_eq(so_far.last.num_wanted, 3);
  ck_assert_int_eq(so_far.last.num_solves, o->num_solves);
  if (_i == 0) ck_assert_int_eq(so_far.count, o->num_solves);
  ck_assert(so_far.last.within_limits);
  ck_assert_str_eq(so_far.last.what->key, "bpk_over_eacc_mT_per_MV_per_m");
  // The result is of the last solves, which are better than those that the best so far may be of.
  CAVUM_CHECK_NEAR(so_far.last.value / o->terms[0].value, 1.0, 1e-4);
  ck_assert_int_eq(so_far.stages, 1 << CAVUM_OPTIMUM_STAGE_STARTS);
  cavum_optimum_destroy(&o);
}
END_TEST

// What is to be large is so, and a product has no figure.
START_TEST(large_figures_and_products_are_told) {
  told of_figure = {0}, of_product = {0};
  cavum_optimum *o = search(VARY "maximise: r_over_q_linac_ohm\nstarts: 1\n", 1, &of_figure);
  CAVUM_CHECK_NEAR(of_figure.last.value / o->terms[0].value, 1.0, 1e-4);
  cavum_optimum_destroy(&o);
  o = search(VARY "maximise: {r_over_q_linac_ohm: 1, geometry_factor_ohm: 1}\nstarts: 1\n", 1,
             &of_product);
  ck_assert_ptr_null(of_product.last.what);
  ck_assert(isnan(of_product.last.value));
  CAVUM_CHECK_NEAR(of_product.last.objective, o->objective, 2e-4);
  cavum_optimum_destroy(&o);
}
END_TEST

START_TEST(rounding_is_a_stage) {
  told so_far = {0};
  cavum_optimum *o = search(VARY
                            "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n"
                            "steps: {iris_ellipse.axial_mm: 0.1}\n",
                            1, &so_far);
  ck_assert_int_eq(so_far.last.stage, CAVUM_OPTIMUM_STAGE_ROUNDING);
  ck_assert_int_eq(so_far.last.num_solves, o->num_solves);
  cavum_optimum_destroy(&o);
}
END_TEST

START_TEST(a_front_tells_its_points) {
  told so_far = {0};
  cavum_goal *goal = open_goal(TEST_CELL,
                               "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
                               "  iris_ellipse.radial_mm: {from: 15, to: 24}\n"
                               "hold: {frequency_MHz: 1310, by: equator_radius_mm}\n"
                               "limits: {wall_angle_deg: {least: 5}}\nstarts: 1\n"
                               "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
                               "front: {epk_over_eacc: {from: 2.05, to: 2.1, points: 3}}\n",
                               &so_far);
  cavum_front *front = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_optimise_front(&front, goal, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  int found = 0;
  for (int i = 0; i < front->num_points; i++) found += front->points[i].kind != CAVUM_FRONT_GAP;
  printf("%d of %d points found; told %d of %d, %d solves of %d\n", found, front->num_points,
         so_far.most_done, so_far.last.num_wanted, so_far.last.num_solves, front->num_solves);
  ck_assert_int_eq(so_far.wrong, 0);
  ck_assert_int_eq(so_far.most_done, found);
  ck_assert_int_eq(so_far.last.num_wanted, front->num_points);
  ck_assert_int_eq(so_far.last.num_solves, front->num_solves);
  ck_assert_int_eq(so_far.stages, 1 << CAVUM_OPTIMUM_STAGE_FRONT);
  cavum_front_destroy(&front);
  cavum_goal_close(&goal);
}
END_TEST

START_TEST(no_goal_has_no_watcher) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_goal_set_watcher(NULL, watch, NULL, &error), CAVUM_ERR_USAGE);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, starts_solves_and_the_best_so_far_are_told, 0, 2);
  tcase_add_test(tests, large_figures_and_products_are_told);
  tcase_add_test(tests, rounding_is_a_stage);
  tcase_add_test(tests, a_front_tells_its_points);
  tcase_add_test(tests, no_goal_has_no_watcher);
}

CAVUM_TEST_MAIN("optimum.progress", add_tests)
