// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_table.h
 * Tables of a comparison: a row for each quantity, a column for each of what is compared. They go
 * to the screen and into reports.
 */
#ifndef CAVUM_CLI_COMPARE_TABLE_H
#define CAVUM_CLI_COMPARE_TABLE_H

#include <stdio.h>

#include "cavum/status.h"

/** Room for a cell, also for what each of sixteen results rests on. */
enum { CAVUM_COMPARE_CELL_SIZE = 896 };

/** One cell. */
typedef char cavum_compare_cell[CAVUM_COMPARE_CELL_SIZE];

/** A table. Zero-initialise but for what the caller sets. */
typedef struct cavum_compare_table {
  const char *head;          /**< Borrowed: what the rows are. */
  int first, num_values;     /**< The columns: 0 is A; how many. */
  int num_rows, capacity;    /**< Rows so far. */
  cavum_compare_cell *cells; /**< Owned, shape [num_rows, num_values + 2]: name, values, unit. */
} cavum_compare_table;

/**
 * Adds a row of empty cells.
 * @param[out] row  Its cells, shape [num_values + 2], borrowed until the next row is added.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_compare_table_add(cavum_compare_cell **row, cavum_compare_table *table,
                                     cavum_error *error);

/** Values that are all alike stand once: the others become "same". */
void cavum_compare_table_join(cavum_compare_cell *row, const cavum_compare_table *table);

/** Prints a table; "none" or what `empty` says where it has no rows. */
void cavum_compare_table_print(FILE *out, const cavum_compare_table *table, const char *empty);

/** Frees the cells and empties a table. */
void cavum_compare_table_clear(cavum_compare_table *table);

#endif
