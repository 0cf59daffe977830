// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of shapes, taken one after the other by whichever thread is free.
#include "design/drawn.h"

#include <pthread.h>
#include <sched.h>
#include <stdatomic.h>
#include <time.h>

#include "base/base.h"
#include "solve/solver.h"

// The first solve of a row costs as much as some ten of the others: shapes of a row, at least.
enum { ROWS_MOST = 16, ROW_LEAST = 60 };
// Nanoseconds between two questions of the calling thread while it waits for the others.
enum { WAIT_NS = 1000000 };

typedef struct job job;

// Neighbours that one solver solves in turn.
typedef struct row {
  int first, count;
  cavum_status status;
  cavum_error error;
} row;

struct job {
  const cavum_drawn *drawn;
  const double *values;
  double *figures;
  row rows[ROWS_MOST];
  int num_rows;
  atomic_int next;    // row that nobody took yet
  atomic_bool ended;  // one of them failed, or somebody said stop
};

// What no other shape would mend.
static bool is_final(cavum_status status) {
  return status == CAVUM_ERR_MEMORY || status == CAVUM_ERR_STOPPED ||
         status == CAVUM_ERR_INTERNAL || status == CAVUM_ERR_USAGE || status == CAVUM_ERR_FILE;
}

static cavum_status solve_at(cavum_result **result, cavum_solver *solver, const cavum_trial *trial,
                             const double *values, cavum_error *error) {
  cavum_cell cell;
  bool owned = false;
  cavum_status status = cavum_trial_make_cell(&cell, &owned, trial, values, error);
  if (status != CAVUM_OK) return status;
  status = cavum_solver_solve(result, solver, &cell, error);
  if (owned) cavum_cell_clear(&cell);
  return status;
}

cavum_status cavum_drawn_solve_one(double figures[CAVUM_NUM_FIGURES], cavum_solver *solver,
                                   const cavum_drawn *drawn, const double *values,
                                   cavum_error *error) {
  cavum_error what = {0};
  cavum_result *result = NULL;
  cavum_status status = solve_at(&result, solver, drawn->trial, values, &what);
  if (is_final(status)) {
    if (error) *error = what;
    return status;
  }
  bool good = result && result->num_modes > drawn->mode;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure f = {.state = CAVUM_FIGURE_ABSENT};
    if (good) f = cavum_mode_figure(&result->modes[drawn->mode], (cavum_figure_id)id);
    figures[id] = f.state == CAVUM_FIGURE_PRESENT ? f.value : NAN;
  }
  cavum_result_destroy(&result);
  return CAVUM_OK;
}

// Begins with the cell itself: all rows then have its mesh, which moves with the shape.
static cavum_status solve_row(const job *j, const row *r, const cavum_solve_options *options,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solver *solver = NULL;
  double unused[CAVUM_NUM_FIGURES];
  int num_dimensions = j->drawn->trial->num_dimensions;
  CAVUM_TRY(cavum_solver_create(&solver, options, error));
  cavum_solver_use_one_degree(solver);
  CAVUM_TRY(cavum_drawn_solve_one(unused, solver, j->drawn, j->drawn->nominal, error));
  for (int i = r->first; i < r->first + r->count && !atomic_load(&j->ended); i++) {
    CAVUM_TRY(cavum_drawn_solve_one(j->figures + (int64_t)i * CAVUM_NUM_FIGURES, solver, j->drawn,
                                    j->values + (int64_t)i * num_dimensions, error));
  }
done:
  cavum_solver_destroy(&solver);
  return status;
}

static void take_rows(job *j, const cavum_solve_options *options) {
  for (;;) {
    int k = atomic_fetch_add(&j->next, 1);
    if (k >= j->num_rows || atomic_load(&j->ended)) return;
    row *r = &j->rows[k];
    r->status = solve_row(j, r, options, &r->error);
    if (r->status != CAVUM_OK) atomic_store(&j->ended, true);
  }
}

static bool has_ended(void *data) { return atomic_load(&((job *)data)->ended); }

// What a program gave to be called is called in its own thread alone.
static void *work(void *data) {
  job *j = data;
  cavum_solve_options options = *j->drawn->options;
  options.watcher = NULL;
  options.log = NULL;
  options.stop = has_ended;
  options.stop_data = j;
  take_rows(j, &options);
  return NULL;
}

static int count_processors(void) {
  cpu_set_t set;
  return sched_getaffinity(0, sizeof set, &set) == 0 ? CPU_COUNT(&set) : 1;
}

static void make_rows(job *j, int count) {
  int rows = 1 + count / ROW_LEAST;
  j->num_rows = rows < ROWS_MOST ? rows : ROWS_MOST;
  for (int k = 0; k < j->num_rows; k++) {
    int first = (int)((int64_t)count * k / j->num_rows);
    int behind = (int)((int64_t)count * (k + 1) / j->num_rows);
    j->rows[k] = (row){.first = first, .count = behind - first};
  }
}

// The program is asked whether to stop while its thread waits, too.
static void join(job *j, pthread_t thread) {
  const cavum_solve_options *options = j->drawn->options;
  const struct timespec pause = {.tv_nsec = WAIT_NS};
  // Not a join with a time limit, which sanitizers of threads do not know.
  while (pthread_tryjoin_np(thread, NULL) != 0) {
    nanosleep(&pause, NULL);
    if (options->stop && !atomic_load(&j->ended) && options->stop(options->stop_data)) {
      atomic_store(&j->ended, true);
    }
  }
}

// Rows that ended because another one did are not the reason.
static cavum_status find_status(const job *j, cavum_error *error) {
  const row *found = NULL;
  for (int k = 0; k < j->num_rows; k++) {
    const row *r = &j->rows[k];
    bool better = !found || found->status == CAVUM_ERR_STOPPED;
    if (r->status != CAVUM_OK && better && (!found || r->status != CAVUM_ERR_STOPPED)) found = r;
  }
  if (found) {
    if (error) *error = found->error;
    return found->status;
  }
  if (!atomic_load(&j->ended)) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_STOPPED, "stopped on request");
}

cavum_status cavum_drawn_solve(double *figures, const cavum_drawn *drawn, const double *values,
                               int count, cavum_error *error) {
  job j = {.drawn = drawn, .values = values, .figures = figures};
  pthread_t threads[ROWS_MOST];
  int started = 0;
  make_rows(&j, count);
  int wanted = drawn->num_threads > 0 ? drawn->num_threads : count_processors();
  if (wanted > j.num_rows) wanted = j.num_rows;
  // With fewer threads than wanted the others do their work.
  while (started < wanted - 1 && pthread_create(&threads[started], NULL, work, &j) == 0) started++;
  take_rows(&j, drawn->options);
  for (int i = 0; i < started; i++) join(&j, threads[i]);
  return find_status(&j, error);
}
