// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/grace.h
 * How long a worker goes on with its batch after it was told to stop.
 *
 * A batch that is left is lost: its later shapes profit from those before, so that its rows have
 * their bytes only when one process computes it from its first shape. So a batch that is complete
 * within a few seconds, at the pace of its shapes so far, is finished and stored; any other one is
 * left at once, in the middle of a solve.
 */
#ifndef CAVUM_SCAN_GRACE_H
#define CAVUM_SCAN_GRACE_H

#include <stdbool.h>

/** Seconds from the request to stop until the last batch is stored or left. */
#define CAVUM_GRACE_S 5.0

/** A batch that is being computed. Times are those of one clock, in seconds. */
typedef struct cavum_grace {
  int num_rows;           /**< Shapes of the batch. */
  int num_done;           /**< Shapes that are computed. */
  double batch_started_s; /**< When its first shape was begun. */
  double shape_started_s; /**< When the present shape was begun. */
  bool told;              /**< To stop. */
  double told_s;          /**< When; of use after that. */
} cavum_grace;

/** Whether the batch is left now, having been told to stop; the first call notes when that was. */
bool cavum_grace_is_over(cavum_grace *grace, double now_s);

#endif
