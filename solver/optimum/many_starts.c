// SPDX-License-Identifier: GPL-3.0-or-later
// Starts are independent of each other. A point of the sequence is taken while fewer searches have
// come out or are under way than are wanted, so that exactly the first ones that are shapes are
// run, by any number of threads.
#include "optimum/many_starts.h"

#include <pthread.h>
#include <stdatomic.h>
#include <string.h>
#include <time.h>

#include "base/base.h"
#include "optimum/starts.h"
#include "solve/options.h"

enum { THREADS_MOST = 64 };
// Nanoseconds between two questions of the calling thread while it waits for the others.
enum { WAIT_NS = 1000000 };

/** What threads share. */
typedef struct job {
  cavum_many_starts *many;
  cavum_goal *goal;  // of the calling thread
  const cavum_solve_options *options;
  pthread_mutex_t mutex;
  pthread_cond_t changed;
  cavum_starts sequence;
  int under_way, done, next_index;
  int *index;  // owned, shape [wanted]: of each search, by which they are put in order
  atomic_bool ended;
  cavum_status status;
  cavum_error error;
} job;

// The next point, when one is wanted. A thread that may wait does so while searches are under way
// that may be no shapes.
static bool take_point(double *place, int *index, job *j, bool waits) {
  bool taken = false;
  pthread_mutex_lock(&j->mutex);
  while (!atomic_load(&j->ended)) {
    if (j->done >= j->goal->num_starts) break;
    if (j->done + j->under_way < j->goal->num_starts) {
      taken = cavum_starts_next(place, &j->sequence);
      if (taken) *index = j->next_index++;
      if (taken) j->under_way++;
      if (taken || j->under_way == 0) break;
    }
    if (!waits) break;
    pthread_cond_wait(&j->changed, &j->mutex);
  }
  pthread_mutex_unlock(&j->mutex);
  return taken;
}

static void give_back(job *j, int index, const double *place, cavum_search *search,
                      const cavum_optimum_solving *solving, cavum_status status,
                      const cavum_error *what) {
  bool no_shape = status != CAVUM_OK && search->num_steps == 0 && cavum_optimum_is_no_shape(status);
  pthread_mutex_lock(&j->mutex);
  j->under_way--;
  if (no_shape) {
    j->many->last = *what;
  } else if (status != CAVUM_OK) {
    if (!atomic_exchange(&j->ended, true)) {
      j->status = status;
      j->error = *what;
    }
  } else {
    cavum_started *started = &j->many->started[j->done];
    memcpy(started->place, place, sizeof started->place);
    memcpy(started->factor, solving->factor, sizeof started->factor);
    started->search = *search;
    *search = (cavum_search){0};
    j->index[j->done++] = index;
  }
  pthread_cond_broadcast(&j->changed);
  pthread_mutex_unlock(&j->mutex);
}

static void run_starts(job *j, cavum_optimum_solving *solving, bool waits) {
  double place[CAVUM_GOAL_MOST_VARIABLES];
  int index = 0;
  while (take_point(place, &index, j, waits)) {
    cavum_search search = {.solving = solving, .most_solves = j->goal->most_solves};
    cavum_error what = {0};
    // A start depends on nothing before it.
    cavum_optimum_solving_forget(solving);
    cavum_status status = cavum_search_run(&search, place, &what);
    give_back(j, index, place, &search, solving, status, &what);
    cavum_search_clear(&search);
  }
}

static bool is_ended(void *data) { return atomic_load((atomic_bool *)data); }

// A thread of its own goal and solvers, since neither may be shared.
static void *work(void *data) {
  job *j = data;
  const cavum_study *study = j->goal->study;
  cavum_goal *goal = NULL;
  cavum_optimum_solving *solving = cavum_alloc(1, sizeof *solving);
  cavum_solve_options own = *j->options;
  own.watcher = NULL;
  own.stop = is_ended;
  own.stop_data = &j->ended;
  // Without memory for one the others do its work.
  if (!solving) return NULL;
  const cavum_cell *cell = study->cell_in_memory ? &study->cell : NULL;
  cavum_status status =
      cavum_goal_open_text(&goal, study->text, strlen(study->text), study->path, cell, NULL);
  if (status == CAVUM_OK) status = cavum_optimum_solving_open(solving, goal, &own, NULL);
  if (status == CAVUM_OK) run_starts(j, solving, true);
  pthread_mutex_lock(&j->mutex);
  j->many->num_solves += solving->num_solves;
  pthread_mutex_unlock(&j->mutex);
  cavum_optimum_solving_clear(solving);
  cavum_goal_close(&goal);
  free(solving);
  return NULL;
}

// The program is asked whether to stop while its thread waits, too.
static void join(job *j, pthread_t thread) {
  const struct timespec pause = {.tv_nsec = WAIT_NS};
  while (pthread_tryjoin_np(thread, NULL) != 0) {
    nanosleep(&pause, NULL);
    if (!j->options->stop || atomic_load(&j->ended)) continue;
    if (!j->options->stop(j->options->stop_data)) continue;
    pthread_mutex_lock(&j->mutex);
    if (!atomic_exchange(&j->ended, true)) {
      j->status = cavum_fail(&j->error, CAVUM_ERR_STOPPED, "stopped");
    }
    pthread_cond_broadcast(&j->changed);
    pthread_mutex_unlock(&j->mutex);
  }
}

// In the order of the sequence.
static void sort(job *j) {
  for (int i = 1; i < j->done; i++) {
    for (int k = i; k > 0 && j->index[k] < j->index[k - 1]; k--) {
      cavum_started other = j->many->started[k];
      int index = j->index[k];
      j->many->started[k] = j->many->started[k - 1];
      j->many->started[k - 1] = other;
      j->index[k] = j->index[k - 1];
      j->index[k - 1] = index;
    }
  }
}

static cavum_status run(job *j, cavum_optimum_solving *solving, cavum_error *error) {
  pthread_t threads[THREADS_MOST];
  int started = 0, first = solving->num_solves;
  int wanted =
      j->goal->num_threads < j->goal->num_starts ? j->goal->num_threads : j->goal->num_starts;
  if (wanted > THREADS_MOST) wanted = THREADS_MOST;
  while (started < wanted - 1 && pthread_create(&threads[started], NULL, work, j) == 0) started++;
  // The calling thread does not wait there: it asks whether to stop meanwhile.
  run_starts(j, solving, false);
  for (int i = 0; i < started; i++) join(j, threads[i]);
  j->many->num_solves += solving->num_solves - first;
  j->many->num_started = j->done;
  sort(j);
  for (int i = 0; i < j->done; i++) j->many->started[i].search.solving = solving;
  if (j->status != CAVUM_OK && error) *error = j->error;
  return j->status;
}

cavum_status cavum_many_starts_run(cavum_many_starts *many, cavum_goal *goal,
                                   cavum_optimum_solving *solving,
                                   const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options own;
  cavum_status status = cavum_solve_options_take(&own, options, error);
  if (status != CAVUM_OK) return status;
  job j = {.many = many, .goal = goal, .options = &own, .sequence = {.goal = goal}};
  many->started = cavum_alloc(goal->num_starts, sizeof *many->started);
  j.index = cavum_alloc(goal->num_starts, sizeof *j.index);
  if (many->started && j.index) {
    pthread_mutex_init(&j.mutex, NULL);
    pthread_cond_init(&j.changed, NULL);
    status = run(&j, solving, error);
    pthread_cond_destroy(&j.changed);
    pthread_mutex_destroy(&j.mutex);
  } else {
    status = cavum_fail_memory(error);
  }
  free(j.index);
  return status;
}

void cavum_many_starts_clear(cavum_many_starts *many) {
  for (int i = 0; i < many->num_started; i++) cavum_search_clear(&many->started[i].search);
  free(many->started);
  many->started = NULL;
  many->num_started = 0;
}
