// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/compared_results.h
 * The report of several results side by side.
 */
#ifndef CAVUM_REPORT_COMPARED_RESULTS_H
#define CAVUM_REPORT_COMPARED_RESULTS_H

#include "cavum/solve.h"

/** Most results of a report. */
enum { CAVUM_REPORT_RESULTS_MOST = 16 };

/** A table of texts: a name, a value of each result, a unit. */
typedef struct cavum_report_table {
  const char *id, *head; /**< Of its heading. */
  const char *caption;
  const char *names;       /**< Head of the first column. */
  int first, num_values;   /**< The columns: 0 is A; how many. */
  int num_rows, cell_size; /**< Cells are texts of so many bytes. */
  const char *cells;       /**< Borrowed, shape [num_rows, num_values + 2, cell_size]. */
} cavum_report_table;

/** What such a report shows. Everything is borrowed. */
typedef struct cavum_report_results {
  int count; /**< Results, 1 to CAVUM_REPORT_RESULTS_MOST: A, B, ... */
  const cavum_result *results[CAVUM_REPORT_RESULTS_MOST]; /**< NULL: no picture. */
  const char *lines[CAVUM_REPORT_RESULTS_MOST];           /**< What each is. */
  const char *paths[CAVUM_REPORT_RESULTS_MOST];           /**< Its file. */
  const char *cell_texts[CAVUM_REPORT_RESULTS_MOST];      /**< The cell file of each, or NULL. */
  int modes[CAVUM_REPORT_RESULTS_MOST];                   /**< From 0. */
  int num_tables;
  cavum_report_table tables[5];
  int num_notes;
  const char *const *notes; /**< Shape [num_notes]: below the tables. */
} cavum_report_results;

/**
 * Tables, outlines and profiles over each other, cell files.
 * @param[out] bytes    The page, release with free(); untouched unless CAVUM_OK.
 * @param[out] size     Bytes.
 * @param[in]  content  What it shows. Results that cannot be drawn over each other have a line that
 *                      says why in place of the picture.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_report_compared_results(char **bytes, size_t *size,
                                           const cavum_report_results *content, cavum_error *error);

#endif
