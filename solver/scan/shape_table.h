// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/shape_table.h
 * A CSV table of shapes, of any length: only the places of its blocks are kept in memory.
 */
#ifndef CAVUM_SCAN_SHAPE_TABLE_H
#define CAVUM_SCAN_SHAPE_TABLE_H

#include <stdint.h>

#include "cavum/status.h"

/** Rows between two places that are kept. */
enum { CAVUM_SHAPE_TABLE_BLOCK = 64 };

/** An open table. Zero-initialise. */
typedef struct cavum_shape_table {
  char *path; /**< Owned; NULL: rows of the study file itself, all of them in memory. */
  int num_columns;
  char **names;     /**< Owned, shape [num_columns]: the first row. */
  int64_t num_rows; /**< Without the first. */
  int64_t *offsets; /**< Owned: byte where each block of rows starts. */
  int64_t offsets_capacity;
  char digest[65]; /**< SHA-256 of its numbers, row by row. */
  int64_t block;   /**< Block in memory; -1: none. */
  double *values;  /**< Owned, shape [CAVUM_SHAPE_TABLE_BLOCK, num_columns], or of all rows. */
} cavum_shape_table;

/**
 * Reads a table once from end to end: names in the first row, numbers in all others.
 * @param[out] table  Release with cavum_shape_table_clear(); untouched unless CAVUM_OK.
 * @param[in]  path   CSV file.
 * @param[out] error  May be NULL; `file:line: what is wrong`.
 * @retval CAVUM_ERR_FILE   cannot be read.
 * @retval CAVUM_ERR_INPUT  no numbers, rows of different lengths, nothing in it.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_shape_table_open(cavum_shape_table *table, const char *path, cavum_error *error);

/** Frees what a table owns and zeroes it. */
void cavum_shape_table_clear(cavum_shape_table *table);

/**
 * The numbers of one row.
 * @param[out]    values  Shape [num_columns].
 * @param[in,out] table   Open; reads a block when the row is not in memory.
 * @param[in]     row     From 0.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_FILE  the file cannot be read or is no longer what it was.
 */
cavum_status cavum_shape_table_row(double *values, cavum_shape_table *table, int64_t row,
                                   cavum_error *error);

#endif
