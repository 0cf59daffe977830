// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/one_shape.h
 * One shape: from its inputs to its row.
 */
#ifndef CAVUM_SCAN_ONE_SHAPE_H
#define CAVUM_SCAN_ONE_SHAPE_H

#include "cavum/solver.h"
#include "scan/hold.h"
#include "scan/study.h"

/** What one process needs to compute shapes. Zero-initialise. */
typedef struct cavum_scan_worker {
  cavum_study *study;     /**< Borrowed. */
  cavum_solver *solver;   /**< Owned. */
  cavum_solver *scout;    /**< Owned: frequencies on the way to a held one; no coupling. */
  cavum_hold_memory hold; /**< Owned: what the shapes of this batch have shown. */
} cavum_scan_worker;

/**
 * Makes a worker.
 * @param[out] worker     Release with cavum_scan_worker_clear().
 * @param[in]  study      Borrowed.
 * @param[in]  stop       Asked in the middle of solves whether to stop; NULL: nobody is asked.
 * @param[in]  stop_data  Handed on to it.
 * @param[out] error      May be NULL.
 */
cavum_status cavum_scan_worker_open(cavum_scan_worker *worker, cavum_study *study,
                                    cavum_stop_question *stop, void *stop_data, cavum_error *error);

/** Frees what a worker owns. */
void cavum_scan_worker_clear(cavum_scan_worker *worker);

/** Forgets all shapes before, so that the next are those of a fresh worker, bit for bit. */
void cavum_scan_worker_forget(cavum_scan_worker *worker);

/**
 * Computes one shape; what goes wrong with the shape is in its row.
 * @param[out]    row     Shape [row size], all of it written.
 * @param[out]    reason  Why the shape has no full row, "" when it has.
 * @param[in,out] worker  Open.
 * @param[in]     shape   Number.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_MEMORY  the computation itself cannot go on.
 * @retval CAVUM_ERR_FILE    the table cannot be read.
 * @retval CAVUM_ERR_STOPPED the question of the worker said so; the row is not written.
 */
cavum_status cavum_scan_compute(unsigned char *row, char reason[CAVUM_MESSAGE_SIZE],
                                cavum_scan_worker *worker, int64_t shape, cavum_error *error);

/** The row of a shape whose process died. */
cavum_status cavum_scan_fill_crashed(unsigned char *row, char reason[CAVUM_MESSAGE_SIZE],
                                     cavum_study *study, int64_t shape, cavum_error *error);

/** Status in a row. */
cavum_shape_status cavum_scan_status_of(const unsigned char *row, const cavum_study *study);

#endif
