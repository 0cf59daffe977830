// SPDX-License-Identifier: GPL-3.0-or-later
// Running a scan: what is stored already, worker processes for the rest, and an eye on them.
//
// The batches of a part are handed out by one shared counter. When all workers have ended, what is
// on disk is read again and whatever is missing (a worker was killed) gets another pass, so that
// the records alone decide what counts as done.
#include <errno.h>
#include <sched.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "base/base.h"
#include "base/sized.h"
#include "scan/claim.h"
#include "scan/records.h"
#include "scan/team.h"

// Passes in a row without a new batch before the scan gives up: something kills every worker.
enum { MOST_IDLE_PASSES = 3, MOST_LOST_WORKERS = 10000 };
static const struct timespec LOOK_AGAIN = {.tv_nsec = 5000000};  // 5 ms
static const double SECONDS_BETWEEN_REPORTS = 0.1;

/** The watching process. */
typedef struct watch_state {
  cavum_team *team;
  cavum_scan_progress progress;
  int64_t stored_before;  // batches of earlier passes and runs
  int64_t shapes_before;
  int64_t shapes_left;  // computed in batches that were left
  double started, reported;
  cavum_error error;  // first of a worker
} watch_state;

static const cavum_sized SIZED = {.name = "scan options",
                                  .maker = "cavum_scan_options_default()",
                                  .first = sizeof(cavum_scan_options),
                                  .full = sizeof(cavum_scan_options)};

static const cavum_sized PROGRESS = {.name = "scan progress",
                                     .first = sizeof(cavum_scan_progress),
                                     .full = sizeof(cavum_scan_progress)};

void cavum_scan_options_set_defaults(cavum_scan_options *options, size_t struct_size) {
  const cavum_scan_options defaults = {.num_parts = 1, .watched_column = -1};
  if (options) cavum_sized_give(options, struct_size, &defaults, &SIZED);
}

__attribute__((format(printf, 3, 4))) static void tell(const cavum_scan_options *options,
                                                       cavum_log_severity severity,
                                                       const char *format, ...) {
  char line[CAVUM_MESSAGE_SIZE];
  va_list arguments;
  if (!options->log) return;
  va_start(arguments, format);
  (void)vsnprintf(line, sizeof line, format, arguments);
  va_end(arguments);
  options->log(severity, "scan", line, options->log_data);
}

// What a program hears once it is known what there is to do.
static void tell_start(const cavum_team *team, const cavum_scan_progress *progress) {
  const cavum_scan_options *options = team->options;
  const char *note = cavum_study_note(team->study);
  if (options->log && *note) options->log(CAVUM_LOG_NOTE, "cell", note, options->log_data);
  if (progress->no_locks) {
    tell(options, CAVUM_LOG_NOTE,
         "the file system has no locks: a second run of the same part is not refused");
  }
  tell(options, CAVUM_LOG_PROGRESS, "%lld of %lld batches stored, %d workers for the others",
       (long long)progress->batches_before, (long long)progress->num_batches, team->num_workers);
}

static int usable_cores(void) {
  cpu_set_t set;
  CPU_ZERO(&set);
  if (sched_getaffinity(0, sizeof set, &set) != 0) return 1;
  int count = CPU_COUNT(&set);
  return count > 0 ? count : 1;
}

static cavum_status check_options(const cavum_scan_options *options, const cavum_study *study,
                                  cavum_error *error) {
  int num_columns = 0;
  (void)cavum_study_columns(&num_columns, study);
  if (options->watched_column < -1 || options->watched_column >= num_columns) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "watched_column %d: expected -1 to %d",
                      options->watched_column, num_columns - 1);
  }
  if (options->workers < 0 || options->workers > CAVUM_TEAM_MOST_WORKERS) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "%d workers: expected 1 to %d", options->workers,
                      CAVUM_TEAM_MOST_WORKERS);
  }
  if (options->num_parts < 1 || options->part < 0 || options->part >= options->num_parts) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "part %lld of %lld: expected 0 to one below the number of parts",
                      (long long)options->part, (long long)options->num_parts);
  }
  return CAVUM_OK;
}

static void *map_shared(size_t size) {
  void *shared = mmap(NULL, size, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  return shared == MAP_FAILED ? NULL : shared;
}

static void reset_slot(cavum_team_slot *slot) {
  atomic_store(&slot->current_shape, -1);
  atomic_store(&slot->shapes_in_flight, 0);
}

static cavum_status assemble(cavum_team *team, cavum_error *error) {
  int64_t all = cavum_study_num_batches(team->study);
  cavum_division division = team->division;
  team->num_batches = all < division.part ? 0 : (all - division.part) / division.num_parts + 1;
  int wanted = team->options->workers ? team->options->workers : usable_cores();
  team->num_workers = wanted < team->num_batches ? wanted : (int)team->num_batches;
  team->stored = cavum_alloc(team->num_batches / 8 + 1, 1);
  team->board_size =
      sizeof *team->board + (size_t)(team->num_workers + 1) * sizeof(cavum_team_slot);
  team->board = map_shared(team->board_size);
  if (!team->stored || !team->board) return cavum_fail_memory(error);
  for (int i = 0; i < team->num_workers; i++) {
    reset_slot(&team->board->slots[i]);
    atomic_store(&team->board->slots[i].best_shape, -1);
  }
  return CAVUM_OK;
}

static void dismiss(cavum_team *team) {
  free(team->stored);
  if (team->board) munmap(team->board, team->board_size);
}

// Marks what is on disk.
static cavum_status take_stock(watch_state *w, cavum_error *error) {
  cavum_team *team = w->team;
  cavum_scan_records *records = NULL;
  cavum_status status =
      cavum_records_open_part(&records, team->study, team->output, team->division, error);
  if (status != CAVUM_OK) return status;
  w->stored_before = w->shapes_before = 0;
  for (int64_t k = 0; k < team->num_batches; k++) {
    int64_t batch = cavum_team_batch(team, k);
    if (!cavum_records_has(records, batch)) continue;
    team->stored[k / 8] = (unsigned char)(team->stored[k / 8] | 1 << (k % 8));
    w->stored_before++;
    w->shapes_before += cavum_study_batch_rows(team->study, batch);
  }
  cavum_scan_records_close(&records);
  return CAVUM_OK;
}

// Makes the process of a slot. A worker whose watcher has died ends with it, in the middle of its
// batch: what a killed process leaves in the folder is whole records, and part of one that does not
// count.
static bool start_worker(cavum_team *team, cavum_team_slot *slot) {
  pid_t watcher = getpid();
  reset_slot(slot);
  pid_t process = fork();
  if (process == 0) {
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    int code = getppid() == watcher ? (int)cavum_team_work(team, slot) : CAVUM_WORKER_FINISHED;
    _exit(code);
  }
  slot->process = process > 0 ? process : 0;
  return process > 0;
}

static bool is_own_fault(int signal_number) {
  return signal_number == SIGSEGV || signal_number == SIGABRT || signal_number == SIGFPE ||
         signal_number == SIGBUS || signal_number == SIGILL;
}

static void tell_death(const cavum_scan_options *options, long long shape, int wait_status) {
  int number = WTERMSIG(wait_status);
  if (shape >= 0 && is_own_fault(number)) {
    tell(options, CAVUM_LOG_WARNING, "shape %lld ended its worker by signal %d", shape, number);
  } else {
    tell(options, CAVUM_LOG_NOTE, "a worker was ended by signal %d; its batch is computed again",
         number);
  }
}

// A worker has ended; one that died is replaced, and a shape that killed it is noted.
static void take_leave(watch_state *w, cavum_team_slot *slot, int wait_status) {
  cavum_team_board *board = w->team->board;
  slot->process = 0;
  if (WIFEXITED(wait_status) && WEXITSTATUS(wait_status) == CAVUM_WORKER_FINISHED) {
    w->shapes_left += atomic_exchange(&slot->shapes_in_flight, 0);
    return;
  }
  if (WIFEXITED(wait_status)) {
    if (w->error.status == CAVUM_OK) w->error = slot->error;
    if (w->error.status == CAVUM_OK) {
      (void)cavum_fail(&w->error, CAVUM_ERR_LIBRARY, "a worker ended with exit status %d",
                       WEXITSTATUS(wait_status));
    }
    atomic_store(&board->stop, 1);
    return;
  }
  w->progress.workers_lost++;
  int64_t shape = atomic_load(&slot->current_shape);
  int crashes = atomic_load(&board->num_crashes);
  tell_death(w->team->options, shape, wait_status);
  if (shape >= 0 && is_own_fault(WTERMSIG(wait_status)) && crashes < CAVUM_TEAM_MOST_CRASHES) {
    atomic_store(&board->crashed[crashes], shape);
    atomic_store(&board->num_crashes, crashes + 1);
  }
  reset_slot(slot);
  if (atomic_load(&board->stop) || w->progress.workers_lost > MOST_LOST_WORKERS) return;
  (void)start_worker(w->team, slot);  // if it cannot be made, the next pass will see
}

static void gather_progress(watch_state *w) {
  const cavum_team *team = w->team;
  cavum_scan_progress *p = &w->progress;
  bool smallest = team->options->watch_smallest;
  memset(p->by_status, 0, sizeof p->by_status);
  p->num_solves = 0;
  p->batches_done = p->batches_before;
  p->shapes_done = p->shapes_before;
  p->best_shape = -1;
  for (int i = 0; i < team->num_workers; i++) {
    cavum_team_slot *slot = &team->board->slots[i];
    p->batches_done += atomic_load(&slot->batches_stored);
    p->shapes_done += atomic_load(&slot->shapes_stored) + atomic_load(&slot->shapes_in_flight);
    p->num_solves += atomic_load(&slot->num_solves);
    for (int k = 0; k < CAVUM_NUM_SHAPE_STATUSES; k++) {
      p->by_status[k] += atomic_load(&slot->by_status[k]);
    }
    int64_t shape = atomic_load(&slot->best_shape);
    double value = atomic_load(&slot->best_value);
    bool better = smallest ? value < p->best_value : value > p->best_value;
    if (shape >= 0 && (p->best_shape < 0 || better)) {
      p->best_shape = shape;
      p->best_value = value;
    }
  }
  // A clock that goes back takes nothing back.
  p->seconds = cavum_max(p->seconds, cavum_seconds() - w->started);
}

static void report(watch_state *w, bool always) {
  const cavum_scan_options *options = w->team->options;
  double now = cavum_seconds();
  bool early = now >= w->reported && now - w->reported < SECONDS_BETWEEN_REPORTS;
  if (!options->watcher || (!always && early)) return;
  w->reported = now;
  gather_progress(w);
  options->watcher(&w->progress, options->watcher_data);
}

// Waits for the workers of one pass.
static void watch(watch_state *w) {
  cavum_team *team = w->team;
  for (bool working = true; working;) {
    working = false;
    if (team->options->stop && team->options->stop(team->options->stop_data))
      atomic_store(&team->board->stop, 1);
    for (int i = 0; i < team->num_workers; i++) {
      cavum_team_slot *slot = &team->board->slots[i];
      int wait_status = 0;
      if (slot->process && waitpid(slot->process, &wait_status, WNOHANG) == slot->process) {
        take_leave(w, slot, wait_status);
      }
      working = working || slot->process != 0;
    }
    report(w, false);
    if (working) (void)nanosleep(&LOOK_AGAIN, NULL);
  }
}

static cavum_status run_pass(watch_state *w, cavum_error *error) {
  cavum_team *team = w->team;
  int started = 0;
  atomic_store(&team->board->next, 0);
  for (int i = 0; i < team->num_workers; i++) {
    started += start_worker(team, &team->board->slots[i]);
  }
  if (started == 0 && team->num_workers > 0) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "no process can be made: %s", strerror(errno));
  }
  watch(w);
  return CAVUM_OK;
}

static cavum_status fail_stopped(const watch_state *w, cavum_error *error) {
  char left[96] = "";
  if (w->shapes_left > 0) {
    snprintf(left, sizeof left, "; it computes %lld shapes of unfinished batches again",
             (long long)w->shapes_left);
  }
  return cavum_fail(
      error, CAVUM_ERR_STOPPED,
      "stopped with %lld of %lld batches stored; the same command goes on from there%s",
      (long long)w->stored_before, (long long)w->team->num_batches, left);
}

// Passes until everything is stored, or there is a reason to end.
static cavum_status run_passes(watch_state *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_team *team = w->team;
  for (int idle = 0; w->stored_before < team->num_batches;) {
    int64_t before = w->stored_before;
    int crashes = atomic_load(&team->board->num_crashes);
    CAVUM_TRY(run_pass(w, error));
    CAVUM_TRY(take_stock(w, error));
    if (w->error.status != CAVUM_OK) {
      if (error) *error = w->error;
      return w->error.status;
    }
    if (w->stored_before == team->num_batches) break;
    if (atomic_load(&team->board->stop)) return fail_stopped(w, error);
    bool moved = w->stored_before > before || atomic_load(&team->board->num_crashes) > crashes;
    idle = moved ? 0 : idle + 1;
    if (idle == MOST_IDLE_PASSES) {
      return cavum_fail(error, CAVUM_ERR_LIBRARY,
                        "the workers were killed %d times without finishing a batch (out of "
                        "memory?)",
                        w->progress.workers_lost);
    }
  }
done:
  return status;
}

cavum_status cavum_scan_run_sized(cavum_scan_progress *outcome, size_t struct_size,
                                  cavum_study *study, const char *output,
                                  const cavum_scan_options *options, cavum_error *error) {
  if (!study || !output) return cavum_fail_null(error, __func__);
  cavum_scan_options full = cavum_scan_options_default();
  cavum_status status = options ? cavum_sized_take(&full, options, &SIZED, error) : CAVUM_OK;
  if (status != CAVUM_OK) return status;
  options = &full;
  cavum_team team = {.study = study, .output = output, .options = options};
  int claim = -1;
  watch_state w = {.team = &team, .started = cavum_seconds()};
  w.progress.struct_size = sizeof w.progress;
  w.progress.best_shape = -1;
  CAVUM_TRY(check_options(options, study, error));
  team.division = (cavum_division){options->part + 1, options->num_parts};
  CAVUM_TRY(assemble(&team, error));
  CAVUM_TRY(cavum_records_make_folder(output, team.division, error));
  CAVUM_TRY(cavum_scan_claim_take(&claim, output, team.division, error));
  w.progress.no_locks = claim < 0;
  CAVUM_TRY(take_stock(&w, error));
  w.progress.num_batches = team.num_batches;
  w.progress.batches_before = w.stored_before;
  w.progress.shapes_before = w.shapes_before;
  for (int64_t k = 0; k < team.num_batches; k++) {
    w.progress.num_shapes += cavum_study_batch_rows(study, cavum_team_batch(&team, k));
  }
  tell_start(&team, &w.progress);
  status = run_passes(&w, error);
  gather_progress(&w);
  report(&w, true);
  if (outcome) cavum_sized_give(outcome, struct_size, &w.progress, &PROGRESS);
done:
  dismiss(&team);
  cavum_scan_claim_drop(claim);
  return status;
}

/** What the measuring process tells. */
typedef struct measurement {
  int64_t shapes;
  double seconds;
  cavum_status status;
  cavum_error error;
} measurement;

// Batches spread over the study, whole ones while time lasts: in a held scan the first shapes of a
// batch cost more than the others.
static cavum_status measure(measurement *m, cavum_study *study, double seconds) {
  enum { PLACES = 16 };
  cavum_scan_worker worker = {0};
  cavum_status status = CAVUM_OK;
  char reason[CAVUM_MESSAGE_SIZE];
  int64_t batches = cavum_study_num_batches(study);
  unsigned char *row = cavum_alloc((int64_t)study->layout.row_size, 1);
  if (!row) return cavum_fail_memory(&m->error);
  double start = cavum_seconds();
  CAVUM_TRY(cavum_scan_worker_open(&worker, study, NULL, NULL, &m->error));
  for (int i = 0; i < PLACES && m->seconds < seconds; i++) {
    int64_t batch = batches < PLACES ? i : batches / PLACES * i;
    if (batch >= batches) break;
    cavum_scan_worker_forget(&worker);
    int rows = cavum_study_batch_rows(study, batch);
    for (int k = 0; k < rows && m->seconds < 2.0 * seconds; k++) {
      CAVUM_TRY(cavum_scan_compute(row, reason, &worker, batch * study->batch_size + k, &m->error));
      m->shapes++;
      m->seconds = cavum_max(m->seconds, cavum_seconds() - start);
    }
  }
done:
  cavum_scan_worker_clear(&worker);
  free(row);
  return status;
}

cavum_status cavum_scan_measure(cavum_scan_estimate *estimate, cavum_study *study, double seconds,
                                cavum_error *error) {
  if (!estimate || !study) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  struct rusage usage;
  int wait_status = 0;
  measurement *m = map_shared(sizeof *m);
  if (!m) return cavum_fail_memory(error);
  pid_t watcher = getpid(), process = fork();
  if (process == 0) {
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (getppid() != watcher) _exit(0);
    m->status = measure(m, study, seconds);
    _exit(0);
  }
  while (process > 0 && wait4(process, &wait_status, 0, &usage) < 0 && errno == EINTR) continue;
  if (process < 0 || !WIFEXITED(wait_status)) {
    status = cavum_fail(error, CAVUM_ERR_LIBRARY, "the process that measures %s",
                        process < 0 ? "cannot be made" : "died");
  } else if (m->status != CAVUM_OK) {
    status = m->status;
    if (error) *error = m->error;
  } else {
    *estimate = (cavum_scan_estimate){
        .shapes_measured = m->shapes,
        .seconds_per_shape = m->shapes > 0 ? m->seconds / (double)m->shapes : 0.0,
        .memory_bytes = 1024.0 * (double)usage.ru_maxrss,
        .row_bytes = (double)study->layout.row_size +
                     (double)CAVUM_RECORD_HEADER / (double)study->batch_size};
  }
  munmap(m, sizeof *m);
  return status;
}
