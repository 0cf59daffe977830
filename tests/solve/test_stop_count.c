// SPDX-License-Identifier: GPL-3.0-or-later
// Where a solve asks whether to stop. The clock of the library is replaced by one that goes on by a
// second at each look, so that every place that may ask does ask: counts do not depend on the
// machine, and each place in turn can be the one that is told to stop.
#include "cavum/cavum.h"
#include "random_cells.h"
#include "solving.h"
#include "support.h"
#include "test_cell.h"

double __wrap_cavum_seconds(void);

double __wrap_cavum_seconds(void) {
  static double now_s = 0.0;
  return now_s += 1.0;
}

/** Who is asked, and says yes at the question `stop_at`; 0: never. */
typedef struct asked {
  int count, stop_at;
} asked;

static bool ask(void *data) {
  asked *who = data;
  who->count++;
  return who->stop_at > 0 && who->count >= who->stop_at;
}

static cavum_status solve(cavum_result **result, const cavum_cell *cell, asked *who) {
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = ask;
  options.stop_data = who;
  return cavum_solve(result, cell, &options, NULL);
}

static int count_questions(cavum_cell *cell, int num_modes) {
  asked who = {0, 0};
  cavum_result *result = NULL;
  cell->num_modes = num_modes;
  ck_assert_int_eq(solve(&result, cell, &who), CAVUM_OK);
  cavum_result_destroy(&result);
  return who.count;
}

// Stopped at each question in turn: the status says so, there is no result, nobody is asked again.
static void stop_everywhere(cavum_cell *cell, int num_modes) {
  int all = count_questions(cell, num_modes);
  ck_assert_int_ge(all, 10);
  for (int i = 1; i <= all; i++) {
    asked who = {0, i};
    cavum_result *result = NULL;
    ck_assert_int_eq(solve(&result, cell, &who), CAVUM_ERR_STOPPED);
    ck_assert_ptr_null(result);
    ck_assert_int_eq(who.count, i);
  }
  printf("%d modes: stopped at each of %d questions\n", num_modes, all);
}

START_TEST(each_question_can_be_the_last) {
  cavum_cell cell = solving_read(TEST_CELL);
  stop_everywhere(&cell, 1);
  stop_everywhere(&cell, 8);
  cavum_cell_clear(&cell);
}
END_TEST

// Right-hand sides are solved for six at a time: more modes are more questions.
START_TEST(more_modes_are_more_questions) {
  random_state state = {1};
  cavum_cell cell = random_path(&state, 0);
  int few = count_questions(&cell, 5), many = count_questions(&cell, 20);
  printf("5 modes: %d questions, 20 modes: %d\n", few, many);
  ck_assert_int_ge(many, few + 6);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, each_question_can_be_the_last);
  tcase_add_test(tests, more_modes_are_more_questions);
}

CAVUM_TEST_MAIN("solve.stop_count", add_tests)
