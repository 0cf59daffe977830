// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_merge_rows.h
 * The rows of two scans in one order.
 */
#ifndef CAVUM_STORE_SCAN_MERGE_ROWS_H
#define CAVUM_STORE_SCAN_MERGE_ROWS_H

#include "cavum/scan_store.h"

/** Rows of both files, those of the first in front; which of them are kept, and in what order. */
typedef struct cavum_merge_rows {
  const cavum_stored_scan *scans[2]; /**< Borrowed. */
  int64_t num_rows;                  /**< Of both. */
  int num_keys;                      /**< Varied inputs. */
  double *keys;                      /**< Owned, shape [num_rows, num_keys]. */
  double *status;                    /**< Owned, shape [num_rows]. */
  uint64_t *digests;                 /**< Owned, shape [num_rows]: of all else in a row. */
  int64_t num_kept;
  int64_t *kept; /**< Owned, shape [num_rows]: rows in the order of the merged file. */
} cavum_merge_rows;

/**
 * Sorts the rows of two files by their varied numbers; of equal shapes one is kept.
 * @param[out] rows   Release with cavum_merge_rows_clear(), also after a failure.
 * @param[in]  scans  Shape [2], open files with the same columns.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT   damaged, or nothing varies.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_merge_rows_sort(cavum_merge_rows *rows, const cavum_stored_scan *const scans[2],
                                   cavum_error *error);

/** Frees what it owns. */
void cavum_merge_rows_clear(cavum_merge_rows *rows);

/** Path of a column in the file. */
const char *cavum_merge_column_path(char path[CAVUM_COLUMN_KEY_SIZE + 16], const char *key);

/** Reads a whole column of both files, shape [num_rows]. */
cavum_status cavum_merge_rows_read(double *values, const cavum_merge_rows *rows, int column,
                                   cavum_error *error);

#endif
