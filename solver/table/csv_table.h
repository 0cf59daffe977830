// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file table/csv_table.h
 * A CSV file of numbers as a table, each row with its line, each column with a quantity and a unit.
 */
#ifndef CAVUM_TABLE_CSV_TABLE_H
#define CAVUM_TABLE_CSV_TABLE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/units.h"
#include "cavum/status.h"

enum {
  CAVUM_CSV_MAX_COLUMNS = 64,
  CAVUM_CSV_HEADER_SIZE = 64,
  CAVUM_CSV_IGNORED = -1, /**< Quantity of a column whose cells are not read. */
  CAVUM_CSV_NOTED = -2,   /**< Of a column whose cells are kept as texts. */
  CAVUM_CSV_NAMED = -3,   /**< Likewise: texts that name something. */
  CAVUM_CSV_REASON_SIZE = 512
};

/** A unit as columns spell it; decibels over a milliwatt are no multiple. Without a name: yes or
 * no, 1 or 0. */
typedef struct cavum_csv_unit {
  const char *name;
  cavum_unit unit;
  bool is_dbm;
} cavum_csv_unit;

/** A kind of column: header = name, "_", unit. */
typedef struct cavum_csv_column {
  const char *name;
  int quantity;                /**< The caller's number, >= 0, or one of those above. */
  const cavum_csv_unit *units; /**< Ends with a NULL name; NULL for an ignored or noted column. */
} cavum_csv_column;

/** Units of power: W, mW, uW, dBm. */
extern const cavum_csv_unit cavum_csv_power_units[];

/** Of a column without a unit whose cells are yes or no, 1 or 0. */
extern const cavum_csv_unit cavum_csv_switch[];

/** Of a column without a unit whose cells are over (1) or under (0). */
extern const cavum_csv_unit cavum_csv_side[];

/** A row that could not be read. */
typedef struct cavum_csv_rejected {
  int64_t line;
  bool half_written;                  /**< The last row of a file that is still being written. */
  char reason[CAVUM_CSV_REASON_SIZE]; /**< `file:line: column N (header): what is wrong`. */
} cavum_csv_rejected;

/** A table, read. */
typedef struct cavum_csv_table {
  int num_columns;
  int quantity[CAVUM_CSV_MAX_COLUMNS];
  const cavum_csv_unit *unit[CAVUM_CSV_MAX_COLUMNS];
  char header[CAVUM_CSV_MAX_COLUMNS][CAVUM_CSV_HEADER_SIZE];
  int64_t num_rows, row_capacity, line_capacity;
  double *values; /**< Owned, SI, NAN for empty cells, shape [num_rows, num_columns]. Of a noted
                       or named column where its text begins in `notes`. */
  char *notes;    /**< Owned: zero-terminated texts of one line each; NULL: none. */
  int64_t notes_used, notes_capacity;
  char *text; /**< Owned: the file as it was read, zero-terminated. */
  size_t text_length;
  int64_t *lines;       /**< Owned, shape [num_rows]. */
  bool last_unfinished; /**< The last row that was read has no line end. */
  int64_t num_rejected, rejected_capacity;
  cavum_csv_rejected *rejected; /**< Owned, shape [num_rejected]. */
} cavum_csv_table;

/** Frees a table and empties it. */
void cavum_csv_table_clear(cavum_csv_table *table);

/**
 * Reads a CSV file. Columns are separated by commas, or by semicolons or tabs where the header has
 * these alone or a first line `sep=;` says so; numbers have a decimal point or, where commas do not
 * separate, a comma in all of the file. Lines that start with # are comments. Columns without a
 * name must be empty. Rows that cannot be read are listed apart; when no row can, the
 * first of their reasons is the error.
 * @param[out] table    Release with cavum_csv_table_clear(); untouched unless CAVUM_OK.
 * @param[in]  path     File name.
 * @param[in]  columns  Known columns; ends with a NULL name.
 * @param[out] error    `file:line: column N (header): what is wrong, what was expected`.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT, CAVUM_ERR_MEMORY
 */
cavum_status cavum_csv_table_read(cavum_csv_table *table, const char *path,
                                  const cavum_csv_column *columns, cavum_error *error);

/** The same of text in memory, shape [length]; `name` stands for the file in messages. */
cavum_status cavum_csv_table_read_text(cavum_csv_table *table, const char *text, size_t length,
                                       const char *name, const cavum_csv_column *columns,
                                       cavum_error *error);

/** Column that holds a quantity, or -1. */
int cavum_csv_table_find(const cavum_csv_table *table, int quantity);

#endif
