// SPDX-License-Identifier: GPL-3.0-or-later
// Loops that threads share: every step is done once, by a worker that is there, and a request to
// stop ends them.
#include <check.h>
#include <stdatomic.h>
#include <stdbool.h>

#include "base/stop.h"
#include "base/threads.h"
#include "support.h"

enum { STEPS = 1000, PIECE = 7 };

typedef struct seen {
  atomic_int done[STEPS], of_worker[CAVUM_THREADS_MOST], wrong;
  int workers;
} seen;

static void see(void *context, int64_t from, int64_t end, int worker) {
  seen *all = context;
  bool good = from % PIECE == 0 && end > from && end - from <= PIECE && worker >= 0 &&
              worker < all->workers && cavum_threads_count() == 1;
  if (!good) atomic_fetch_add(&all->wrong, 1);
  atomic_fetch_add(&all->of_worker[worker], 1);
  for (int64_t i = from; i < end; i++) atomic_fetch_add(&all->done[i], 1);
}

START_TEST(every_step_is_done_once) {
  static const int workers[] = {1, 2, 5, CAVUM_THREADS_MOST};
  for (size_t k = 0; k < sizeof workers / sizeof *workers; k++) {
    seen all = {.workers = workers[k]};
    cavum_threads_run(see, &all, STEPS, PIECE, workers[k]);
    ck_assert_int_eq(all.wrong, 0);
    for (int i = 0; i < STEPS; i++) ck_assert_int_eq(all.done[i], 1);
  }
}
END_TEST

START_TEST(a_loop_of_no_steps_does_nothing) {
  seen all = {.workers = 4};
  cavum_threads_run(see, &all, 0, PIECE, 4);
  for (int w = 0; w < CAVUM_THREADS_MOST; w++) ck_assert_int_eq(all.of_worker[w], 0);
}
END_TEST

START_TEST(the_number_belongs_to_a_thread) {
  seen all = {.workers = 3};
  ck_assert_int_eq(cavum_threads_count(), 1);
  ck_assert_int_eq(cavum_threads_set(3), 1);
  ck_assert_int_eq(cavum_threads_count(), 3);
  cavum_threads_run(see, &all, STEPS, PIECE, 3);  // 1 inside
  ck_assert_int_eq(all.wrong, 0);
  ck_assert_int_eq(cavum_threads_set(CAVUM_THREADS_MOST + 1), 3);
  ck_assert_int_eq(cavum_threads_count(), CAVUM_THREADS_MOST);
  ck_assert_int_eq(cavum_threads_set(0), CAVUM_THREADS_MOST);
  ck_assert_int_eq(cavum_threads_count(), 1);
}
END_TEST

static bool at_once(void *data) {
  (void)data;
  return true;
}

START_TEST(a_request_to_stop_ends_it) {
  cavum_stop stop = {.ask = at_once};
  seen all = {.workers = 1};
  cavum_stop *before = cavum_stop_set(&stop);
  cavum_threads_run(see, &all, STEPS, PIECE, 1);
  cavum_stop_set(before);
  ck_assert_int_eq(all.of_worker[0], 0);
  ck_assert(stop.stopped);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, every_step_is_done_once);
  tcase_add_test(tests, a_loop_of_no_steps_does_nothing);
  tcase_add_test(tests, the_number_belongs_to_a_thread);
  tcase_add_test(tests, a_request_to_stop_ends_it);
}

CAVUM_TEST_MAIN("base.threads", add_tests)
