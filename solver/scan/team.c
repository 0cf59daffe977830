// SPDX-License-Identifier: GPL-3.0-or-later
// The life of a worker process: take a batch, compute it from cold, append it, until none is left.
#include "scan/team.h"

#include <string.h>

#include "base/base.h"
#include "scan/grace.h"

int64_t cavum_team_batch(const cavum_team *team, int64_t k) {
  return team->division.part - 1 + k * team->division.num_parts;
}

bool cavum_team_has(const cavum_team *team, int64_t k) {
  return (team->stored[k / 8] >> (k % 8) & 1) != 0;
}

/** One worker. */
typedef struct worker_state {
  const cavum_team *team;
  cavum_team_slot *slot;
  cavum_scan_worker shapes;
  cavum_record_writer writer;
  char **reasons;     // owned texts, shape [batch_size]
  cavum_grace grace;  // of the present batch
} worker_state;

static bool is_told_to_stop(const cavum_team *team) {
  return atomic_load(&team->board->stop) != 0 ||
         (team->options->stop && team->options->stop(team->options->stop_data));
}

// Asked between shapes and within solves: whether the batch is left.
static bool leaves_batch(void *data) {
  worker_state *w = data;
  return is_told_to_stop(w->team) && cavum_grace_is_over(&w->grace, cavum_seconds());
}

// A shape that killed a worker is not tried again. One is skipped in the same way each time, so
// what the shapes after it in the batch see does not depend on when that was found out.
static bool has_crashed(const cavum_team_board *board, int64_t shape) {
  int count = atomic_load(&board->num_crashes);
  for (int i = 0; i < count; i++) {
    if (atomic_load(&board->crashed[i]) == shape) return true;
  }
  return false;
}

static cavum_status compute_shape(worker_state *w, unsigned char *row, int64_t shape, int place,
                                  cavum_error *error) {
  char reason[CAVUM_MESSAGE_SIZE] = "";
  cavum_status status;
  if (has_crashed(w->team->board, shape)) {
    cavum_scan_worker_forget(&w->shapes);
    status = cavum_scan_fill_crashed(row, reason, w->team->study, shape, error);
  } else {
    atomic_store(&w->slot->current_shape, shape);
    status = cavum_scan_compute(row, reason, &w->shapes, shape, error);
    atomic_store(&w->slot->current_shape, -1);
  }
  free(w->reasons[place]);
  w->reasons[place] = NULL;
  if (status == CAVUM_OK && reason[0]) {
    w->reasons[place] = cavum_copy_text(reason);
    if (!w->reasons[place]) status = cavum_fail_memory(error);
  }
  return status;
}

// Counts what was stored, and looks for a better shape.
static void publish(worker_state *w, const unsigned char *rows, int num_rows) {
  const cavum_study *study = w->team->study;
  const cavum_scan_options *options = w->team->options;
  const cavum_row_layout *layout = &study->layout;
  cavum_team_slot *slot = w->slot;
  for (int i = 0; i < num_rows; i++) {
    const unsigned char *row = rows + (size_t)i * layout->row_size;
    cavum_shape_status status = cavum_scan_status_of(row, study);
    atomic_fetch_add(&slot->by_status[status], 1);
    double solves = cavum_column_value(&layout->columns[layout->solves], row);
    atomic_fetch_add(&slot->num_solves, (long long)solves);
    if (options->watched_column < 0 || status != CAVUM_SHAPE_DONE) continue;
    double value = cavum_column_value(&layout->columns[options->watched_column], row);
    double best = atomic_load(&slot->best_value);
    bool better = options->watch_smallest ? value < best : value > best;
    if (!isfinite(value) || (atomic_load(&slot->best_shape) >= 0 && !better)) continue;
    atomic_store(&slot->best_value, value);
    atomic_store(&slot->best_shape,
                 (long long)cavum_column_value(&layout->columns[layout->shape], row));
  }
  atomic_store(&slot->shapes_in_flight, 0);
  atomic_fetch_add(&slot->shapes_stored, num_rows);
  atomic_fetch_add(&slot->batches_stored, 1);
}

// Stores a batch, or leaves it: CAVUM_ERR_STOPPED.
static cavum_status compute_batch(worker_state *w, int64_t batch, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_study *study = w->team->study;
  int num_rows = cavum_study_batch_rows(study, batch);
  unsigned char *rows = cavum_record_writer_begin(&w->writer, num_rows);
  if (!rows) return cavum_fail_memory(error);
  cavum_scan_worker_forget(&w->shapes);
  w->grace = (cavum_grace){.num_rows = num_rows, .batch_started_s = cavum_seconds()};
  for (int i = 0; i < num_rows; i++) {
    w->grace.shape_started_s = cavum_seconds();
    w->grace.num_done = i;
    if (leaves_batch(w)) return CAVUM_ERR_STOPPED;
    int64_t shape = batch * study->batch_size + i;
    CAVUM_TRY(compute_shape(w, rows + (size_t)i * study->layout.row_size, shape, i, error));
    atomic_store(&w->slot->shapes_in_flight, i + 1);
  }
  CAVUM_TRY(cavum_record_writer_append(&w->writer, batch, num_rows, w->reasons, error));
  publish(w, w->writer.buffer + CAVUM_RECORD_HEADER, num_rows);
done:
  return status;
}

static cavum_status work(worker_state *w, cavum_error *error) {
  const cavum_team *team = w->team;
  while (!is_told_to_stop(team)) {
    int64_t k = atomic_fetch_add(&team->board->next, 1);
    if (k >= team->num_batches) break;
    if (cavum_team_has(team, k)) continue;
    cavum_status status = compute_batch(w, cavum_team_batch(team, k), error);
    if (status == CAVUM_ERR_STOPPED) break;
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

cavum_worker_exit cavum_team_work(const cavum_team *team, cavum_team_slot *slot) {
  cavum_error error = {0}, close_error = {0};
  worker_state w = {.team = team, .slot = slot};
  w.reasons = cavum_alloc(team->study->batch_size, sizeof *w.reasons);
  cavum_record_writer_open(&w.writer, team->study, team->output, team->division);
  cavum_status status =
      w.reasons ? cavum_scan_worker_open(&w.shapes, team->study, leaves_batch, &w, &error)
                : cavum_fail_memory(&error);
  if (status == CAVUM_OK) status = work(&w, &error);
  cavum_status closed = cavum_record_writer_close(&w.writer, &close_error);
  if (status == CAVUM_OK && closed != CAVUM_OK) {
    status = closed;
    error = close_error;
  }
  if (status != CAVUM_OK) {
    error.status = status;
    slot->error = error;
    atomic_store(&team->board->stop, 1);  // what stops one (a full disk) stops all
  }
  for (int i = 0; w.reasons && i < team->study->batch_size; i++) free(w.reasons[i]);
  free(w.reasons);
  cavum_scan_worker_clear(&w.shapes);
  return status == CAVUM_OK ? CAVUM_WORKER_FINISHED : CAVUM_WORKER_FAILED;
}
