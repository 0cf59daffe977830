// SPDX-License-Identifier: GPL-3.0-or-later
// Threads with objects of their own: what they solve, write, read, draw and evaluate at once is, to
// the bit, what one thread gets alone.
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cavum/cavum.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

enum { NUM_THREADS = 8, NUM_SHAPES = 3, NUM_MODES = 5 };

/** What one thread does, and what it found. */
typedef struct work {
  int number;
  bool same_file;
  char folder[128];
  double frequency_hz[NUM_SHAPES][NUM_MODES], cold_hz;
  char *json;  // owned
  char failed[CAVUM_MESSAGE_SIZE];
} work;

static void note(work *w, const char *where, const cavum_error *error) {
  if (!*w->failed) snprintf(w->failed, sizeof w->failed, "%.40s: %.500s", where, error->message);
}

static void keep(double *frequency_hz, const cavum_result *result) {
  for (int m = 0; m < NUM_MODES && m < result->num_modes; m++) {
    frequency_hz[m] = result->modes[m].figures[CAVUM_FIGURE_FREQUENCY].value;
  }
}

// Writes a result to a file of the thread and reads it back, and writes one that all threads share.
static void store(work *w, const cavum_cell *cell, const cavum_result *result,
                  const cavum_solve_options *options) {
  char path[192], shared[192];
  cavum_error error = {0};
  cavum_stored_mode mode;
  cavum_result *read = NULL;
  snprintf(path, sizeof path, "%s/thread-%d.hdf", w->folder, w->number);
  snprintf(shared, sizeof shared, "%s/shared.hdf", w->folder);
  if (cavum_store_write_result(path, result, cell, options, &error) != CAVUM_OK ||
      cavum_store_write_result(shared, result, cell, options, &error) != CAVUM_OK ||
      cavum_store_read_mode(&mode, path, 0, &error) != CAVUM_OK ||
      cavum_store_read_result(&read, NULL, path, &error) != CAVUM_OK ||
      cavum_store_result_to_json(&w->json, read, &error) != CAVUM_OK) {
    note(w, "store", &error);
  }
  cavum_result_destroy(&read);
}

static void *solve_all(void *data) {
  work *w = data;
  cavum_error error = {0};
  cavum_cell cell;
  cavum_solver *solver = NULL;
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  options.field_order = 4;
  cavum_cell_set_defaults(&cell);
  if (cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, &error) != CAVUM_OK ||
      cavum_solver_create(&solver, &options, &error) != CAVUM_OK) {
    note(w, "begin", &error);
  }
  cell.num_modes = NUM_MODES;
  for (int i = 0; i < NUM_SHAPES && !*w->failed; i++) {
    cell.left.iris_radius_m = cell.right.iris_radius_m = 0.035 - 1e-4 * i;
    cavum_result_destroy(&result);
    if (cavum_solver_solve(&result, solver, &cell, &error) != CAVUM_OK) {
      note(w, "warm", &error);
    } else {
      keep(w->frequency_hz[i], result);
    }
  }
  if (!*w->failed) store(w, &cell, result, &options);
  cavum_result_destroy(&result);
  if (!*w->failed && cavum_solve(&result, &cell, NULL, &error) != CAVUM_OK) {
    note(w, "cold", &error);
  } else if (result) {
    w->cold_hz = result->modes[NUM_MODES - 1].figures[CAVUM_FIGURE_FREQUENCY].value;
  }
  cavum_result_destroy(&result);
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
  return NULL;
}

// All threads at once: each gets what one gets alone.
static void work_together(const work *alone, const char *folder) {
  pthread_t threads[NUM_THREADS];
  static work together[NUM_THREADS];
  memset(together, 0, sizeof together);
  for (int i = 0; i < NUM_THREADS; i++) {
    together[i].number = i;
    snprintf(together[i].folder, sizeof together[i].folder, "%s", folder);
    ck_assert_int_eq(pthread_create(&threads[i], NULL, solve_all, &together[i]), 0);
  }
  for (int i = 0; i < NUM_THREADS; i++) pthread_join(threads[i], NULL);
  for (int i = 0; i < NUM_THREADS; i++) {
    const work *w = &together[i];
    ck_assert_msg(!*w->failed, "thread %d: %s", i, w->failed);
    ck_assert_mem_eq(w->frequency_hz, alone->frequency_hz, sizeof w->frequency_hz);
    ck_assert_mem_eq(&w->cold_hz, &alone->cold_hz, sizeof w->cold_hz);
    ck_assert_str_eq(w->json, alone->json);
    free(w->json);
  }
}

// Once, or again and again for CAVUM_THREADS_SECONDS of the environment.
START_TEST(solving_and_storing) {
  char folder[128];
  const char *seconds = getenv("CAVUM_THREADS_SECONDS");
  time_t end = time(NULL) + (seconds ? atoi(seconds) : 0);
  int rounds = 0;
  static work alone;
  temporary_folder_make(folder);
  snprintf(alone.folder, sizeof alone.folder, "%s", folder);
  alone.number = NUM_THREADS;
  solve_all(&alone);
  ck_assert_msg(!*alone.failed, "%s", alone.failed);
  do {
    work_together(&alone, folder);
    rounds++;
  } while (time(NULL) < end);
  printf("%d threads, %d shapes of %d modes each, %d times: %.9g Hz in all\n", NUM_THREADS,
         NUM_SHAPES, NUM_MODES, rounds, alone.cold_hz);
  free(alone.json);
  temporary_folder_delete(folder);
}
END_TEST

/** A solver that is asked again while it solves. */
typedef struct asked_again {
  cavum_solver *solver;
  const cavum_cell *cell;
  int refused;
  char message[CAVUM_MESSAGE_SIZE];
} asked_again;

static void *ask_again(void *data) {
  asked_again *a = data;
  cavum_error error = {0};
  cavum_result *result = NULL;
  if (cavum_solver_solve(&result, a->solver, a->cell, &error) == CAVUM_ERR_USAGE && !result) {
    a->refused++;
    snprintf(a->message, sizeof a->message, "%s", error.message);
  }
  cavum_result_destroy(&result);
  return NULL;
}

// From the callback itself, and from another thread meanwhile.
static void ask_twice(const cavum_solve_progress *progress, void *data) {
  (void)progress;
  pthread_t other;
  ask_again(data);
  ck_assert_int_eq(pthread_create(&other, NULL, ask_again, data), 0);
  pthread_join(other, NULL);
}

START_TEST(one_solver_is_for_one_thread) {
  cavum_error error = {0};
  cavum_cell cell;
  cavum_result *result = NULL, *alone = NULL;
  asked_again a = {.cell = &cell};
  cavum_solve_options options = cavum_solve_options_default();
  options.watcher = ask_twice;
  options.watcher_data = &a;
  ck_assert_int_eq(cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solver_create(&a.solver, &options, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solver_solve(&result, a.solver, &cell, &error), CAVUM_OK);
  ck_assert_int_ge(a.refused, 2);
  ck_assert_int_eq(a.refused % 2, 0);
  ck_assert_str_eq(a.message,
                   "the solver is solving already: each thread needs a solver of its own");
  // What went on has the bits of a solve that nobody disturbed, and the solver is free again.
  ck_assert_int_eq(cavum_solve(&alone, &cell, NULL, NULL), CAVUM_OK);
  ck_assert(result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value ==
            alone->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value);
  cavum_result_destroy(&result);
  ck_assert_int_eq(cavum_solver_solve(&result, a.solver, &cell, &error), CAVUM_OK);
  cavum_result_destroy(&result);
  // Also after a solve that failed.
  cell.beta = 2.0;
  ck_assert_int_eq(cavum_solver_solve(&result, a.solver, &cell, &error), CAVUM_ERR_INPUT);
  ck_assert_int_eq(cavum_solver_solve(&result, a.solver, &cell, &error), CAVUM_ERR_INPUT);
  cavum_result_destroy(&alone);
  cavum_solver_destroy(&a.solver);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_set_timeout(tests, 300);
  tcase_add_test(tests, solving_and_storing);
  tcase_add_test(tests, one_solver_is_for_one_thread);
}

CAVUM_TEST_MAIN("interface.threads", add_tests)
