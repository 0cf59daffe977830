// SPDX-License-Identifier: GPL-3.0-or-later
// A search that is stopped hands out the best shape so far, and says what was left out.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "solving.h"
#include "test_cell.h"

#define CELL TEST_CELL "tolerances: {iris_ellipse.axial_mm: {normal: 0.05}}\n"

#define GOAL                                             \
  "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n" \
  "  iris_ellipse.radial_mm: {from: 15, to: 24}\n"       \
  "hold: {frequency_MHz: 1310, by: equator_radius_mm}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"            \
  "limits: {wall_angle_deg: {least: 5}, epk_over_eacc: {most: 2.1}}\n"

// Ends after so many steps of solves: questions are asked by the clock, but once a solve at least.
typedef struct patience {
  int64_t steps, most;
} patience;

static void count_step(const cavum_solve_progress *progress, void *data) {
  (void)progress;
  ((patience *)data)->steps++;
}

static bool is_over(void *data) {
  const patience *p = data;
  return p->steps >= p->most;
}

static cavum_solve_options options_of(patience *p) {
  cavum_solve_options options = cavum_solve_options_default();
  options.watcher = count_step;
  options.stop = is_over;
  options.watcher_data = options.stop_data = p;
  return options;
}

static cavum_status search(cavum_optimum **optimum, const char *text, int threads, patience *p) {
  cavum_cell cell = solving_read(CELL);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  cavum_solve_options options = options_of(p);
  *optimum = NULL;
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error);
  ck_assert_int_eq(status, CAVUM_OK);
  ck_assert_int_eq(cavum_goal_set_threads(goal, threads, NULL), CAVUM_OK);
  status = cavum_optimise(optimum, goal, &options, &error);
  printf("%lld steps: %s\n", (long long)p->steps, error.message);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
  return status;
}

// The shape that was handed out has the figures that are said of it, by a solve of its own.
static void check_shape(const cavum_optimum *o) {
  cavum_cell cell = solving_read(o->cell_text);
  cavum_result *result = solving_solve(&cell, NULL);
  double f = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value;
  double epk = result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].value;
  double said = o->result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value;
  // Both are known to a millionth.
  CAVUM_CHECK_NEAR(f / said, 1.0, 2e-6);
  bool keeps = fabs(f / 1.31e9 - 1.0) <= 2e-6 && epk <= 2.1 * (1.0 + 2e-4);
  printf("f %.9g E_pk %.6g, within limits %d\n", f, epk, o->within_limits);
  if (o->within_limits) ck_assert(keeps);
  if (!o->within_limits) ck_assert(o->violation > 1e-7);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

static int64_t count_steps(const char *text, double *objective, int *num_starts) {
  patience p = {.most = INT64_MAX};
  cavum_optimum *o = NULL;
  cavum_status status = search(&o, text, 1, &p);
  ck_assert_int_eq(status, CAVUM_OK);
  *objective = o->objective;
  *num_starts = o->num_starts;
  cavum_optimum_destroy(&o);
  return p.steps;
}

// Wherever a search is stopped: before the first shape there is nothing, behind it always one, and
// behind the first start that converged one within the limits, as good as that start.
START_TEST(the_best_so_far_is_handed_out) {
  static const char text[] = GOAL "starts: 3\n";
  double best = 0.0;
  int num_starts = 0, shapes = 0, within = 0, converged = 0;
  int64_t all = count_steps(text, &best, &num_starts);
  ck_assert_int_eq(num_starts, 3);
  for (int part = 0; part < 12; part++) {
    patience p = {.most = part * all / 12};
    cavum_optimum *o = NULL;
    ck_assert_int_eq(search(&o, text, 1, &p), CAVUM_ERR_STOPPED);
    ck_assert(part > 0 || !o);
    ck_assert(shapes == 0 || o);
    if (!o) continue;
    shapes++;
    within += o->within_limits;
    ck_assert_int_eq(o->end, CAVUM_OPTIMUM_STOPPED);
    ck_assert(within == 0 || o->within_limits);
    int done = 0;
    for (int i = 0; i < o->num_starts; i++) {
      done += o->starts[i].end == CAVUM_OPTIMUM_CONVERGED;
    }
    ck_assert_int_ge(done, converged);
    converged = done;
    ck_assert_int_eq(o->met, done > 0);
    if (done > 0) CAVUM_CHECK_NEAR(o->objective, best, 2e-4);
    const char *label = o->within_limits ? "# cavum optimise: NOT PROVEN BEST: stopped"
                                         : "# cavum optimise: NO BEST SHAPE: stopped";
    ck_assert_int_eq(strncmp(o->cell_text, label, strlen(label)), 0);
    check_shape(o);
    cavum_optimum_destroy(&o);
  }
  ck_assert_int_ge(shapes, 10);
  ck_assert_int_ge(within, 4);
  ck_assert_int_ge(shapes - within, 1);
}
END_TEST

// Searches of other threads are stopped with that of the calling one, and count.
START_TEST(threads_hand_out_theirs) {
  static const char text[] = GOAL "starts: 6\n";
  double best = 0.0;
  int num_starts = 0;
  int64_t all = count_steps(text, &best, &num_starts);
  patience p = {.most = all / 6};
  cavum_optimum *o = NULL;
  ck_assert_int_eq(search(&o, text, 3, &p), CAVUM_ERR_STOPPED);
  ck_assert_ptr_nonnull(o);
  ck_assert_int_ge(o->num_starts, 1);
  ck_assert_int_le(o->num_starts, 6);
  check_shape(o);
  cavum_optimum_destroy(&o);
}
END_TEST

// What follows the starts: rounding, and the worst case. Behind the starts there is always a shape
// within the nominal limits, and it is said what was left out.
static void check_what_follows(const char *text, double starts_end) {
  double best = 0.0;
  int num_starts = 0, left_out = 0, robust = 0, not_rounded = 0;
  int64_t all = count_steps(text, &best, &num_starts);
  for (double part = starts_end; part < 0.88; part += 0.04) {
    patience p = {.most = (int64_t)(part * (double)all)};
    cavum_optimum *o = NULL;
    ck_assert_int_eq(search(&o, text, 1, &p), CAVUM_ERR_STOPPED);
    ck_assert_ptr_nonnull(o);
    ck_assert_int_eq(o->end, CAVUM_OPTIMUM_STOPPED);
    left_out += o->robust.left_out;
    robust += o->robust.kind != CAVUM_ROBUST_NONE;
    not_rounded += o->not_rounded;
    // In the worst case limits are farther in than nominally.
    if (o->robust.kind == CAVUM_ROBUST_NONE || o->within_limits) check_shape(o);
    if (o->not_rounded) ck_assert(isnan(o->rounding_violation) || o->rounding_violation > 0.0);
    cavum_optimum_destroy(&o);
  }
  printf("left out %d, with tolerances %d, not rounded %d\n", left_out, robust, not_rounded);
  bool has_tolerances = strstr(text, "robust") != NULL;
  if (has_tolerances) ck_assert_int_ge(robust, 2);
  if (!has_tolerances) ck_assert_int_ge(not_rounded, 1);
}

START_TEST(rounding_is_left_out) {
  check_what_follows(GOAL "starts: 1\nsteps: {iris_ellipse.axial_mm: 0.7}\n", 0.3);
}
END_TEST

START_TEST(tolerances_are_left_out_or_those_of_the_shape) {
  check_what_follows(GOAL "starts: 1\nrobust: {deviations: 2}\n", 0.3);
}
END_TEST

// Of a front the points that were found; the others are gaps that say why.
START_TEST(a_front_has_what_was_found) {
  static const char text[] =
      GOAL "starts: 1\nfront: {r_over_q_linac_ohm: {from: 100, to: 112, points: 5}}\n";
  int most_found = 0;
  for (int64_t most = 0; most <= 120; most += 40) {
    cavum_cell cell = solving_read(CELL);
    cavum_goal *goal = NULL;
    cavum_front *front = NULL;
    cavum_error error = {0};
    patience p = {.most = most};
    cavum_solve_options options = options_of(&p);
    int found = 0;
    ck_assert_int_eq(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error),
                     CAVUM_OK);
    cavum_status status = cavum_optimise_front(&front, goal, &options, &error);
    printf("%s\n", error.message);
    ck_assert(status == CAVUM_ERR_STOPPED || (status == CAVUM_OK && most > 0));
    for (int i = 0; front && i < front->num_points; i++) {
      const cavum_front_point *point = &front->points[i];
      if (point->kind != CAVUM_FRONT_GAP) found++;
      if (point->kind == CAVUM_FRONT_GAP) ck_assert_int_eq(point->end, CAVUM_OPTIMUM_STOPPED);
    }
    ck_assert_int_eq(front != NULL, found > 0);
    ck_assert_int_ge(found, most_found);
    most_found = found;
    cavum_front_destroy(&front);
    cavum_goal_close(&goal);
    cavum_cell_clear(&cell);
  }
  ck_assert_int_ge(most_found, 2);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, the_best_so_far_is_handed_out);
  tcase_add_test(tests, threads_hand_out_theirs);
  tcase_add_test(tests, rounding_is_left_out);
  tcase_add_test(tests, tolerances_are_left_out_or_those_of_the_shape);
  tcase_add_test(tests, a_front_has_what_was_found);
}

CAVUM_TEST_MAIN("stopped", add)
