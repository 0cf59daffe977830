// SPDX-License-Identifier: GPL-3.0-or-later
// Steps of a tuning against functions whose answers are known: linear figures, cubics, bounds.
#include <string.h>

#include "design/tune_step.h"
#include "support.h"

static cavum_tune_task make_task(int figures, int dimensions) {
  cavum_tune_task task = {.num_figures = figures, .num_dimensions = dimensions};
  for (int i = 0; i < CAVUM_TUNE_MOST; i++) {
    task.size[i] = task.scale[i] = 1.0;
    task.low[i] = -1e3;
    task.high[i] = 1e3;
  }
  return task;
}

// f = 2 x + y, g = x - y: f = 7, g = -1 at x = 2, y = 3.
START_TEST(two_linear_figures_by_two_dimensions) {
  cavum_tune_task task = make_task(2, 2);
  cavum_tune_point here = {.x = {0.5, 0.25}, .figure = {1.25, 0.25}, .slope = {{2, 1}, {1, -1}}};
  double next[2];
  task.target[0] = 7.0;
  task.target[1] = -1.0;
  ck_assert(cavum_tune_step(next, &task, &here, NULL));
  CAVUM_CHECK_NEAR(next[0], 2.0, 1e-13);  // rounding of a two by two system
  CAVUM_CHECK_NEAR(next[1], 3.0, 1e-13);
}
END_TEST

// One figure by three dimensions: the least sum of (change / scale)^2 has changes in proportion to
// slope scale^2 (Lagrange); counted from the origin, not from here.
START_TEST(more_dimensions_change_least) {
  cavum_tune_task task = make_task(1, 3);
  const double slope[3] = {1.0, -2.0, 0.5}, scale[3] = {1.0, 0.5, 4.0};
  const double origin[3] = {10.0, 20.0, 30.0};
  cavum_tune_point here = {.x = {10.5, 20.0, 29.0}};
  double next[3], norm = 0.0, wanted = 3.0;
  for (int j = 0; j < 3; j++) {
    task.scale[j] = scale[j];
    task.origin[j] = origin[j];
    here.slope[0][j] = slope[j];
    here.figure[0] += slope[j] * (here.x[j] - origin[j]);
    norm += slope[j] * slope[j] * scale[j] * scale[j];
  }
  task.target[0] = wanted;
  ck_assert(cavum_tune_step(next, &task, &here, NULL));
  for (int j = 0; j < 3; j++) {
    CAVUM_CHECK_NEAR(next[j] - origin[j], wanted * slope[j] * scale[j] * scale[j] / norm, 1e-12);
  }
}
END_TEST

// The dimension that would do most stops at its bound, the other takes the rest.
START_TEST(bounds_are_kept) {
  cavum_tune_task task = make_task(1, 2);
  cavum_tune_point here = {.slope = {{2.0, 1.0}}};
  double next[2];
  task.target[0] = 5.0;
  task.high[0] = 0.5;
  ck_assert(cavum_tune_step(next, &task, &here, NULL));
  CAVUM_CHECK_NEAR(next[0], 0.5, 0.0);  // the bound itself
  CAVUM_CHECK_NEAR(next[1], 4.0, 1e-13);
  task.high[1] = 1.0;
  ck_assert(!cavum_tune_step(next, &task, &here, NULL));
  CAVUM_CHECK_NEAR(next[1], 1.0, 0.0);
}
END_TEST

// Figures that change together cannot be told apart: no step blows up.
START_TEST(dependent_figures_are_said_so) {
  cavum_tune_task task = make_task(2, 2);
  cavum_tune_point here = {.slope = {{1.0, 2.0}, {2.0, 4.0}}};
  double next[2];
  task.target[0] = 1.0;
  task.target[1] = 0.0;
  ck_assert(!cavum_tune_step(next, &task, &here, NULL));
  ck_assert(fabs(next[0]) < 1.0 && fabs(next[1]) < 1.0);
}
END_TEST

// A cubic in one dimension is known from two places: the step ends on its root.
START_TEST(a_cubic_is_met_at_once) {
  cavum_tune_task task = make_task(1, 1);
  const double root = 0.31;
  const double at[2] = {0.0, 0.3};
  cavum_tune_point points[2];
  double next[1];
  memset(points, 0, sizeof points);
  for (int i = 0; i < 2; i++) {
    double x = at[i];
    points[i].x[0] = x;
    points[i].figure[0] = 3.0 * x + 0.8 * x * x - 0.5 * x * x * x;
    points[i].slope[0][0] = 3.0 + 1.6 * x - 1.5 * x * x;
  }
  task.target[0] = 3.0 * root + 0.8 * root * root - 0.5 * root * root * root;
  ck_assert(cavum_tune_step(next, &task, &points[1], &points[0]));
  CAVUM_CHECK_NEAR(next[0], root, 1e-14);  // rounding
  // Newton's step alone errs by f'' d^2 / 2 f' with d = 0.01.
  (void)cavum_tune_step(next, &task, &points[1], NULL);
  ck_assert(fabs(next[0] - root) > 1e-6);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, two_linear_figures_by_two_dimensions);
  tcase_add_test(tests, more_dimensions_change_least);
  tcase_add_test(tests, bounds_are_kept);
  tcase_add_test(tests, dependent_figures_are_said_so);
  tcase_add_test(tests, a_cubic_is_met_at_once);
}

CAVUM_TEST_MAIN("tune step", add)
