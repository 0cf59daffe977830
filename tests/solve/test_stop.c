// SPDX-License-Identifier: GPL-3.0-or-later
// A solve ends when its caller says so, wherever it is, and leaves nothing behind.
#include <string.h>
#include <time.h>

#include "cavum/cavum.h"
#include "solving.h"
#include "support.h"
#include "test_cell.h"

/** Who is asked. */
typedef struct asked {
  int count, stop_at;  // Says yes at this question; 0: never.
  double last_s, longest_s;
} asked;

// Seconds of this thread's work, so that a busy machine does not count.
static double work_seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static bool ask(void *data) {
  asked *who = data;
  double now_s = work_seconds();
  if (who->count > 0 && now_s - who->last_s > who->longest_s) {
    who->longest_s = now_s - who->last_s;
  }
  who->last_s = now_s;
  who->count++;
  return who->stop_at > 0 && who->count >= who->stop_at;
}

static cavum_solve_options with_question(asked *who) {
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = ask;
  options.stop_data = who;
  return options;
}

START_TEST(nobody_says_stop) {
  asked who = {0};
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_solve_options options = with_question(&who);
  cavum_result *plain = solving_solve(&cell, NULL), *watched = solving_solve(&cell, &options);
  ck_assert_int_ge(who.count, 1);
  ck_assert_mem_eq(plain->modes[0].figures, watched->modes[0].figures,
                   sizeof plain->modes[0].figures);
  cavum_result_destroy(&plain);
  cavum_result_destroy(&watched);
  cavum_cell_clear(&cell);
}
END_TEST

// A heavy problem: many modes on a fine mesh. Stopped at each of its questions in turn.
START_TEST(stops_at_any_question) {
  enum { TRIES = 12 };
  asked all = {0};
  cavum_cell cell = solving_read(TEST_CELL);
  cell.num_modes = 20;
  cavum_solve_options options = with_question(&all);
  options.refinement = 2.0;
  options.profiles = true;
  options.field_order = 8;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_status whole = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(whole == CAVUM_OK || whole == CAVUM_ERR_NOT_CONVERGED, "%s", error.message);
  cavum_result_destroy(&result);
  printf("%d questions, at most %.1f ms of work between two\n", all.count, 1e3 * all.longest_s);
  int num_stopped = 0;
  for (int i = 0; i < TRIES; i++) {
    asked who = {.stop_at = 1 + i * all.count / (2 * TRIES)};
    options.stop_data = &who;
    cavum_status status = cavum_solve(&result, &cell, &options, &error);
    // Questions are asked by the clock: on a machine that is less busy now there are fewer.
    bool was_asked = who.count >= who.stop_at;
    ck_assert_int_eq(status, was_asked ? CAVUM_ERR_STOPPED : whole);
    num_stopped += was_asked;
    if (was_asked) {
      ck_assert_int_eq(error.status, CAVUM_ERR_STOPPED);
      ck_assert_ptr_null(result);
      ck_assert_int_eq(who.count, who.stop_at);  // the answer is final
    }
    cavum_result_destroy(&result);
  }
  ck_assert_int_ge(num_stopped, 1);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_stopped_solver_is_as_good_as_new) {
  asked who = {.stop_at = 1};
  cavum_error error = {0};
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_solve_options options = with_question(&who);
  cavum_solver *solver = NULL;
  cavum_result *result = NULL, *fresh = solving_solve(&cell, NULL);
  ck_assert_int_eq(cavum_solver_create(&solver, &options, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_solver_solve(&result, solver, &cell, &error), CAVUM_ERR_STOPPED);
  ck_assert_ptr_null(result);
  who.stop_at = 0;
  ck_assert_int_eq(cavum_solver_solve(&result, solver, &cell, &error), CAVUM_OK);
  ck_assert_mem_eq(result->modes[0].figures, fresh->modes[0].figures,
                   sizeof fresh->modes[0].figures);
  cavum_result_destroy(&result);
  cavum_result_destroy(&fresh);
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(the_mesher_stops) {
  asked who = {.stop_at = 1};
  cavum_error error = {0};
  cavum_mesh mesh = {0};
  cavum_contour contour = {0};
  cavum_cell cell = solving_read(TEST_CELL);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  cavum_mesh_options options = cavum_mesh_options_default();
  options.largest_size_m = 1e-3;
  options.stop = ask;
  options.stop_data = &who;
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &contour, &options, &error), CAVUM_ERR_STOPPED);
  ck_assert_ptr_null(mesh.elements);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, nobody_says_stop);
  tcase_add_test(tests, stops_at_any_question);
  tcase_add_test(tests, a_stopped_solver_is_as_good_as_new);
  tcase_add_test(tests, the_mesher_stops);
}

CAVUM_TEST_MAIN("solve.stop", add_tests)
