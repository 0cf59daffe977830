// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/team.h
 * The worker processes of a scan and the memory that they share with the process that watches them.
 */
#ifndef CAVUM_SCAN_TEAM_H
#define CAVUM_SCAN_TEAM_H

#include <stdatomic.h>
#include <sys/types.h>

#include "scan/one_shape.h"
#include "scan/record_writer.h"

/** Shapes that may each kill their worker before a scan gives up. */
enum { CAVUM_TEAM_MOST_CRASHES = 1000, CAVUM_TEAM_MOST_WORKERS = 1024 };

/** How a worker ended by itself. */
typedef enum cavum_worker_exit {
  CAVUM_WORKER_FINISHED = 0, /**< Nothing is left, or it was told to stop. */
  CAVUM_WORKER_FAILED = 1    /**< Its slot has the error. */
} cavum_worker_exit;

/** What one worker tells; written by it alone. */
typedef struct cavum_team_slot {
  atomic_llong batches_stored, shapes_stored, num_solves;
  atomic_llong shapes_in_flight; /**< Computed of the present batch, or of one that was left. */
  atomic_llong current_shape;    /**< -1 between shapes. */
  atomic_llong by_status[CAVUM_NUM_SHAPE_STATUSES];
  atomic_llong best_shape; /**< -1: none. */
  _Atomic double best_value;
  cavum_error error; /**< Read after the worker has ended. */
  pid_t process;     /**< 0: none; used by the watching process. */
} cavum_team_slot;

/** The shared memory. */
typedef struct cavum_team_board {
  atomic_llong next; /**< Batch of the part to take next, counted within the part. */
  atomic_int stop;
  atomic_int num_crashes;
  atomic_llong crashed[CAVUM_TEAM_MOST_CRASHES]; /**< Shapes that killed a worker. */
  cavum_team_slot slots[];
} cavum_team_board;

/** All that a worker works from. */
typedef struct cavum_team {
  cavum_study *study;
  const char *output;
  cavum_division division;
  const cavum_scan_options *options;
  int num_workers;
  cavum_team_board *board; /**< Shared mapping. */
  size_t board_size;
  unsigned char *stored; /**< Owned: bit k is set when batch k of the part is stored. */
  int64_t num_batches;   /**< Of the part. */
} cavum_team;

/** Batch k of a part, in the numbering of the study. */
int64_t cavum_team_batch(const cavum_team *team, int64_t k);

/** True when batch k of the part is stored. */
bool cavum_team_has(const cavum_team *team, int64_t k);

/** Computes batches until none is left or it is told to stop; the whole life of a worker. */
cavum_worker_exit cavum_team_work(const cavum_team *team, cavum_team_slot *slot);

#endif
