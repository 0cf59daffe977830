// SPDX-License-Identifier: GPL-3.0-or-later
// Non-dominated points against the definition, pair by pair, and sets whose answer is known.
#include <math.h>
#include <stdlib.h>

#include "grid_msh.h"
#include "scan/non_dominated.h"
#include "support.h"

enum { MOST_VALUES = 6, MOST_POINTS = 700 };

// The definition: no other point is at most as large in every value and smaller in one.
static bool is_beaten(const double *values, int count, int num_values, int point) {
  for (int other = 0; other < count; other++) {
    bool larger = false, smaller = false;
    for (int i = 0; i < num_values; i++) {
      double a = values[other * num_values + i], b = values[point * num_values + i];
      larger = larger || a > b;
      smaller = smaller || a < b;
    }
    if (!larger && smaller) return true;
  }
  return false;
}

static void check_set(const double *values, int count, int num_values, const char *what) {
  bool *marks = calloc((size_t)count, sizeof *marks);
  cavum_error error = {0};
  ck_assert_msg(cavum_non_dominated_mark(marks, values, count, num_values, &error) == CAVUM_OK,
                "%s", error.message);
  for (int i = 0; i < count; i++) {
    bool expected = !is_beaten(values, count, num_values, i);
    ck_assert_msg(marks[i] == expected, "%s: point %d of %d with %d values: %d, expected %d", what,
                  i, count, num_values, marks[i], expected);
  }
  free(marks);
}

static double uniform(uint64_t *state) { return (double)(grid_random(state) >> 11) * 0x1p-53; }

// How a set is drawn: free, on few levels (ties and repeated points), near a plane on which nothing
// beats anything (large fronts), and that on levels.
typedef enum set_kind { FREE, LEVELS, PLANE, PLANE_LEVELS, NUM_KINDS } set_kind;

static void draw(double *point, int num_values, set_kind kind, uint64_t *state) {
  const int levels = 5;
  bool plane = kind == PLANE || kind == PLANE_LEVELS;
  double sum = 0.0;
  for (int i = 0; i < num_values; i++) {
    point[i] = uniform(state);
    if (kind == LEVELS || kind == PLANE_LEVELS) point[i] = floor(levels * point[i]) - 2.0;
    if (plane && i == num_values - 1) point[i] = -sum + (uniform(state) < 0.1 ? 1.0 : 0.0);
    sum += point[i];
  }
}

START_TEST(members_are_those_of_the_definition) {
  static const int sizes[] = {1, 2, 3, 9, 40, 150, MOST_POINTS};
  static double values[MOST_POINTS * MOST_VALUES];
  uint64_t state = 20 + (uint64_t)_i;
  for (int num_values = 1; num_values <= MOST_VALUES; num_values++) {
    for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
      for (int i = 0; i < sizes[s]; i++) {
        draw(values + i * num_values, num_values, (set_kind)_i, &state);
      }
      check_set(values, sizes[s], num_values, "random");
    }
  }
}
END_TEST

START_TEST(equal_points_stay_together) {
  static const double same[] = {2, 2, 2, 2, 2, 2, 2, 2, 2};
  static const double zeros[] = {0.0, 1, 0, -0.0, 1, 0, -0.0, 1, 1};
  check_set(same, 3, 3, "three equal points");
  check_set(zeros, 3, 3, "zeros of both signs");
  check_set(same, 9, 1, "nine equal values");
}
END_TEST

// Points of which none beats another, and the same with one that beats all.
START_TEST(large_sets_are_done) {
  enum { COUNT = 30000 };
  double *values = calloc(3 * COUNT, sizeof *values);
  bool *marks = calloc(COUNT, sizeof *marks);
  int64_t found = 0;
  for (int i = 0; i < COUNT; i++) {
    values[3 * i] = i;
    values[3 * i + 1] = -i;
    values[3 * i + 2] = i % 7;
  }
  ck_assert_int_eq(cavum_non_dominated_mark(marks, values, COUNT, 3, NULL), CAVUM_OK);
  for (int i = 0; i < COUNT; i++) found += marks[i];
  ck_assert_int_eq(found, COUNT);
  for (int i = 0; i < COUNT; i++) values[3 * i + 2] = sin(i);
  ck_assert_int_eq(cavum_non_dominated_mark(marks, values, COUNT, 3, NULL), CAVUM_OK);
  for (int i = 0; i < COUNT; i++) ck_assert(marks[i]);
  for (int i = 0; i < COUNT; i++) {
    values[3 * i + 1] = i / 3;
    values[3 * i + 2] = i % 7;
  }
  ck_assert_int_eq(cavum_non_dominated_mark(marks, values, COUNT, 3, NULL), CAVUM_OK);
  for (int i = 0; i < COUNT; i++) ck_assert_int_eq(marks[i], i == 0);
  free(values);
  free(marks);
}
END_TEST

START_TEST(nothing_is_no_error) {
  ck_assert_int_eq(cavum_non_dominated_mark(NULL, NULL, 0, 3, NULL), CAVUM_OK);
  ck_assert_int_ne(cavum_non_dominated_mark(NULL, NULL, 1, 3, NULL), CAVUM_OK);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, members_are_those_of_the_definition, 0, NUM_KINDS);
  tcase_add_test(tests, equal_points_stay_together);
  tcase_add_test(tests, large_sets_are_done);
  tcase_add_test(tests, nothing_is_no_error);
}

CAVUM_TEST_MAIN("non-dominated", add_tests)
