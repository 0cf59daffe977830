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
#include "optimum/search_watch.h"
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
  const cavum_parts *parts;  // where each search is kept; NULL: in `many`
  const int *own;            // of a part: the only points that it takes, shape [num_own]
  int num_own, next_own;
  int wanted, under_way, done;
  int *index;  // owned, shape [wanted]: of each search, by which they are put in order
  atomic_bool ended;
  cavum_status status;
  cavum_error error;
} job;

static bool next_point(double *place, int *index, job *j) {
  if (j->own && j->next_own >= j->num_own) return false;
  if (j->own) j->sequence.next = j->own[j->next_own++];
  *index = (int)j->sequence.next;
  return cavum_starts_next(place, &j->sequence);
}

// The next point, when one is wanted. A thread that may wait does so while searches are under way
// that may be no shapes.
static bool take_point(double *place, int *index, job *j, bool waits) {
  bool taken = false;
  pthread_mutex_lock(&j->mutex);
  while (!atomic_load(&j->ended)) {
    if (j->done >= j->wanted) break;
    if (j->done + j->under_way < j->wanted) {
      taken = next_point(place, index, j);
      if (taken) j->under_way++;
      if (taken || j->under_way == 0) break;
    }
    if (!waits) break;
    pthread_cond_wait(&j->changed, &j->mutex);
  }
  pthread_mutex_unlock(&j->mutex);
  return taken;
}

static bool is_no_shape(const cavum_search *search, cavum_status status) {
  return status != CAVUM_OK && search->num_steps == 0 && cavum_optimum_is_no_shape(status);
}

// A search that ended, or was stopped on its way.
static void take_search(job *j, int index, const double *place, cavum_search *search,
                        const cavum_optimum_solving *solving) {
  cavum_started *started = &j->many->started[j->done];
  memcpy(started->place, place, sizeof started->place);
  memcpy(started->factor, solving->factor, sizeof started->factor);
  started->search = *search;
  *search = (cavum_search){0};
  j->index[j->done++] = index;
}

static void give_back(job *j, int index, const double *place, cavum_search *search,
                      const cavum_optimum_solving *solving, cavum_status status,
                      const cavum_error *what) {
  bool no_shape = is_no_shape(search, status);
  bool stopped = status == CAVUM_ERR_STOPPED && search->num_steps > 0;
  pthread_mutex_lock(&j->mutex);
  j->under_way--;
  if (no_shape) j->many->last = *what;
  if (!no_shape && status != CAVUM_OK && !atomic_exchange(&j->ended, true)) {
    j->status = status;
    j->error = *what;
  }
  if (j->parts) {
    j->done += status == CAVUM_OK;
  } else if (status == CAVUM_OK || stopped) {
    take_search(j, index, place, search, solving);
  }
  pthread_cond_broadcast(&j->changed);
  pthread_mutex_unlock(&j->mutex);
  if (status == CAVUM_OK) cavum_search_watch_start_done(j->goal);
}

/** A start as its file has it. */
typedef struct kept {
  int num_solves;  // of all cells
  bool no_shape;
  cavum_error what;  // why it is none
  double place[CAVUM_GOAL_MOST_VARIABLES], factor[CAVUM_GOAL_MOST_QUANTITIES];
} kept;

static void pass_kept(cavum_record_bytes *bytes, kept *k, cavum_search *search,
                      const cavum_goal *goal) {
  int status = (int)k->what.status;
  cavum_record_pass_int(bytes, &k->num_solves, 0, INT32_MAX);
  cavum_record_pass_bool(bytes, &k->no_shape);
  cavum_record_pass_int(bytes, &status, 0, CAVUM_ERR_INTERNAL);
  k->what.status = (cavum_status)status;
  cavum_record_pass(bytes, k->what.message, sizeof k->what.message);
  cavum_record_pass(bytes, k->place, (size_t)goal->num_variables * sizeof(double));
  cavum_record_pass(bytes, k->factor, (size_t)goal->num_quantities * sizeof(double));
  if (!k->no_shape) cavum_record_pass_search(bytes, search, goal);
  k->what.message[sizeof k->what.message - 1] = '\0';
}

// Keeps an ended search, and that a start is no shape. Another failure keeps nothing.
static cavum_status keep(const job *j, int index, const double *place, cavum_search *search,
                         const cavum_optimum_solving *solving, int num_solves, cavum_status status,
                         cavum_error *what) {
  char name[CAVUM_PARTS_NAME_SIZE];
  cavum_record_bytes bytes = {.writing = true};
  kept k = {.num_solves = num_solves, .no_shape = is_no_shape(search, status)};
  if (!j->parts || (status != CAVUM_OK && !k.no_shape)) return status;
  if (k.no_shape) k.what = *what;
  memcpy(k.place, place, sizeof k.place);
  memcpy(k.factor, solving->factor, sizeof k.factor);
  pass_kept(&bytes, &k, search, j->goal);
  cavum_parts_name_start(name, index);
  cavum_status written = cavum_parts_write(j->parts, name, &bytes, what);
  free(bytes.data);
  return written == CAVUM_OK ? status : written;
}

static void run_starts(job *j, cavum_optimum_solving *solving, bool waits) {
  double place[CAVUM_GOAL_MOST_VARIABLES] = {0.0};
  int index = 0;
  while (take_point(place, &index, j, waits)) {
    cavum_search search = {.solving = solving, .most_solves = j->goal->most_solves};
    cavum_error what = {0};
    // A start depends on nothing before it.
    cavum_optimum_solving_forget(solving);
    int before = solving->num_solves;
    cavum_status status = cavum_search_run(&search, place, &what);
    status = keep(j, index, place, &search, solving, solving->num_solves - before, status, &what);
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
  if (status == CAVUM_OK) goal->watch = j->goal->watch;
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
    cavum_search_watch_waits(j->goal);
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
  int started = 0, first = solving->num_solves, left = j->wanted - j->done;
  int wanted = j->goal->num_threads < left ? j->goal->num_threads : left;
  if (wanted > THREADS_MOST) wanted = THREADS_MOST;
  while (started < wanted - 1 && pthread_create(&threads[started], NULL, work, j) == 0) started++;
  // The calling thread does not wait there: it asks whether to stop meanwhile.
  run_starts(j, solving, false);
  for (int i = 0; i < started; i++) join(j, threads[i]);
  j->many->num_solves += solving->num_solves - first;
  j->many->num_started = j->parts ? 0 : j->done;
  if (!j->parts) sort(j);
  for (int i = 0; i < j->many->num_started; i++) j->many->started[i].search.solving = solving;
  if (j->status != CAVUM_OK && error) *error = j->error;
  return j->status;
}

static cavum_status run_job(job *j, cavum_optimum_solving *solving,
                            const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options own;
  cavum_status status = cavum_solve_options_take(&own, options, error);
  if (status != CAVUM_OK) return status;
  j->options = &own;
  pthread_mutex_init(&j->mutex, NULL);
  pthread_cond_init(&j->changed, NULL);
  status = run(j, solving, error);
  pthread_cond_destroy(&j->changed);
  pthread_mutex_destroy(&j->mutex);
  return status;
}

static bool allocate(job *j) {
  j->many->started = cavum_alloc(j->wanted, sizeof *j->many->started);
  j->index = cavum_alloc(j->wanted, sizeof *j->index);
  return j->many->started && j->index;
}

cavum_status cavum_many_starts_run(cavum_many_starts *many, cavum_goal *goal,
                                   cavum_optimum_solving *solving,
                                   const cavum_solve_options *options, cavum_error *error) {
  job j = {.many = many, .goal = goal, .wanted = goal->num_starts, .sequence = {.goal = goal}};
  cavum_status status =
      allocate(&j) ? run_job(&j, solving, options, error) : cavum_fail_memory(error);
  free(j.index);
  return status;
}

// ---- parts

// The points of the sequence that are dealt: the first ones that have contours.
static cavum_status deal(int **dealt, int *count, cavum_goal *goal, cavum_error *error) {
  cavum_starts sequence = {.goal = goal};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  cavum_status status = CAVUM_OK;
  int *list = cavum_alloc(goal->num_starts, sizeof *list);
  int found = 0;
  if (!list) return cavum_fail_memory(error);
  while (found < goal->num_starts && cavum_starts_next(place, &sequence)) {
    status = cavum_optimum_try_contours(goal, place, error);
    if (status == CAVUM_OK) list[found++] = (int)sequence.next - 1;
    if (status != CAVUM_OK && !cavum_optimum_is_no_shape(status)) break;
    status = CAVUM_OK;
  }
  if (status != CAVUM_OK) {
    free(list);
    return status;
  }
  *dealt = list;
  *count = found;
  return CAVUM_OK;
}

cavum_status cavum_many_starts_run_part(const cavum_parts *parts, cavum_goal *goal,
                                        cavum_optimum_solving *solving,
                                        const cavum_solve_options *options, cavum_error *error) {
  cavum_many_starts many = {0};
  int *dealt = NULL, num_dealt = 0, num_own = 0;
  cavum_status status = deal(&dealt, &num_dealt, goal, error);
  if (status != CAVUM_OK) return status;
  for (int i = 0; i < num_dealt && status == CAVUM_OK; i++) {
    char name[CAVUM_PARTS_NAME_SIZE];
    bool found = false;
    cavum_record_bytes bytes = {0};
    if (i % parts->division.num_parts != parts->division.part - 1) continue;
    cavum_parts_name_start(name, dealt[i]);
    status = cavum_parts_read(&bytes, &found, parts, name, 0, error);
    if (!found) dealt[num_own++] = dealt[i];
    free(bytes.data);
  }
  job j = {.many = &many,
           .goal = goal,
           .parts = parts,
           .own = dealt,
           .num_own = num_own,
           .wanted = num_own,
           .sequence = {.goal = goal}};
  cavum_search_watch_stage(goal, CAVUM_OPTIMUM_STAGE_STARTS, num_own);
  if (status == CAVUM_OK) status = run_job(&j, solving, options, error);
  free(dealt);
  return status;
}

// Takes a kept search into its place; what is no shape tells why.
static cavum_status take_kept(job *j, bool *found, const cavum_parts *parts, int index,
                              cavum_error *error) {
  char name[CAVUM_PARTS_NAME_SIZE];
  cavum_record_bytes bytes = {0};
  kept k = {0};
  cavum_started *started = &j->many->started[j->done];
  cavum_parts_name_start(name, index);
  cavum_status status = cavum_parts_read(&bytes, found, parts, name, 0, error);
  if (status == CAVUM_OK && *found) {
    pass_kept(&bytes, &k, &started->search, j->goal);
    if (bytes.status != CAVUM_OK || (!k.no_shape && !started->search.here)) {
      cavum_search_clear(&started->search);
      status = cavum_parts_fail(parts, name, bytes.status, error);
    }
  }
  free(bytes.data);
  if (status != CAVUM_OK || !*found) return status;
  j->many->num_solves += k.num_solves;
  if (k.no_shape) {
    j->many->last = k.what;
    return CAVUM_OK;
  }
  memcpy(started->place, k.place, sizeof started->place);
  memcpy(started->factor, k.factor, sizeof started->factor);
  started->search.most_solves = j->goal->most_solves;
  j->index[j->done++] = index;
  cavum_search_watch_start_done(j->goal);
  return CAVUM_OK;
}

static cavum_status gather(job *j, const cavum_parts *parts, const int *dealt, int num_dealt,
                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int missing = 0;
  for (int i = 0; i < num_dealt && status == CAVUM_OK; i++) {
    bool found = false;
    status = take_kept(j, &found, parts, dealt[i], error);
    missing += !found;
  }
  j->many->num_started = j->done;
  if (status != CAVUM_OK || missing == 0) return status;
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "%d of %d starts are missing: run the parts again to compute them", missing,
                    num_dealt);
}

cavum_status cavum_many_starts_gather(cavum_many_starts *many, const cavum_parts *parts,
                                      cavum_goal *goal, cavum_optimum_solving *solving,
                                      const cavum_solve_options *options, cavum_error *error) {
  job j = {.many = many, .goal = goal, .wanted = goal->num_starts, .sequence = {.goal = goal}};
  int *dealt = NULL, num_dealt = 0;
  cavum_status status = CAVUM_OK;
  if (!allocate(&j)) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(deal(&dealt, &num_dealt, goal, error));
  CAVUM_TRY(gather(&j, parts, dealt, num_dealt, error));
  // From the point behind the last that was dealt.
  j.sequence.next = num_dealt > 0 ? dealt[num_dealt - 1] + 1 : 0;
  CAVUM_TRY(run_job(&j, solving, options, error));
done:
  free(j.index);
  free(dealt);
  return status;
}

void cavum_many_starts_clear(cavum_many_starts *many) {
  for (int i = 0; i < many->num_started; i++) cavum_search_clear(&many->started[i].search);
  free(many->started);
  many->started = NULL;
  many->num_started = 0;
}
