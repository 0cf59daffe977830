// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/coldtest_table.h
 * A cold test as text for people.
 */
#ifndef CAVUM_CLI_COLDTEST_TABLE_H
#define CAVUM_CLI_COLDTEST_TABLE_H

#include <stdbool.h>
#include <stdio.h>

#include "base/nearest_word.h"
#include "cavum/coldtest_report.h"

/** Parts of the text that are printed on request: name, word, what it is. */
#define CAVUM_COLDTEST_PART_TABLE(X)                            \
  X(POINTS, "readings", "the other results of every reading")   \
  X(INTERVALS, "intervals", "linear and Monte Carlo intervals") \
  X(COUPLINGS, "couplings", "the coupling by each method")      \
  X(BOUNDS, "bounds", "bounds by the directional coupler")      \
  X(BUDGETS, "budgets", "uncertainty budgets")                  \
  X(NOTES, "notes", "notes of the readings")                    \
  X(RUNS, "runs", "fits of each run alone")                     \
  X(TRACES, "traces", "Q0 along the decay traces")

/** Bits: 1 << CAVUM_COLDTEST_PART_... */
typedef enum cavum_coldtest_part {
#define CAVUM_COLDTEST_PART_ENUM(name, word, text) CAVUM_COLDTEST_PART_##name,
  CAVUM_COLDTEST_PART_TABLE(CAVUM_COLDTEST_PART_ENUM)
#undef CAVUM_COLDTEST_PART_ENUM
      CAVUM_NUM_COLDTEST_PARTS
} cavum_coldtest_part;

/** What is printed. */
typedef struct cavum_coldtest_table_options {
  int64_t most_rows;    /**< Points in each table; the rest is counted. */
  int64_t most_budgets; /**< Points whose budget is printed. */
  unsigned parts;       /**< Bits of cavum_coldtest_part that are wanted. */
} cavum_coldtest_table_options;

/**
 * Parts named in a list of words with commas between them; "all" is every one.
 * @return false: a word that is none; *parts is untouched.
 */
bool cavum_coldtest_parts_read(unsigned *parts, const char *list);

/** ", did you mean WORD?" for the word of a list that is no part, or "". */
void cavum_coldtest_parts_suggest(char text[CAVUM_NEAREST_SIZE], const char *list);

/**
 * Prints a report: first the calibration, the limits and what the results are to be read with, then
 * the points, the series and the parts that are wanted, the cautions last.
 */
void cavum_coldtest_table_print(FILE *out, const cavum_coldtest_report *report,
                                const cavum_coldtest_table_options *options);

#endif
