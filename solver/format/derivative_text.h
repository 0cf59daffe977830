// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/derivative_text.h
 * Derivatives of figures by dimensions for people: which columns and rows there are, and their
 * texts.
 */
#ifndef CAVUM_FORMAT_DERIVATIVE_TEXT_H
#define CAVUM_FORMAT_DERIVATIVE_TEXT_H

#include <stdbool.h>

#include "cavum/solve.h"
#include "format/quantity.h"

/** A column: a figure, as its head names it, and the unit of its change. */
typedef struct cavum_derivative_column {
  cavum_figure_id id;
  const char *head, *unit; /**< Static; the unit is MHz of f, % of what is relative. */
} cavum_derivative_column;

/** Most columns. */
enum { CAVUM_DERIVATIVE_COLUMNS = 6 };

/** Columns of a mode, counted from 0: of the figures that it has. @return How many. */
int cavum_derivative_find_columns(cavum_derivative_column columns[CAVUM_DERIVATIVE_COLUMNS],
                                  const cavum_result *result, int mode);

/** In place of a mode: the rows are those of k_cc. */
enum { CAVUM_DERIVATIVE_OF_COUPLING = -1 };

/**
 * The dimension behind another when those come first that change f, or k_cc, most per unit.
 * @param[in] last  The dimension before; -1: the first is wanted.
 * @return -1 at the end.
 */
int cavum_derivative_next_row(const cavum_result *result, int mode, int last);

/** A text has room for both sides. */
enum { CAVUM_DERIVATIVE_TEXT_SIZE = 2 * CAVUM_QUANTITY_SIZE + 1 };

/**
 * A derivative per unit of the dimension: of f in MHz, of other figures in percent of themselves;
 * "a|b" where it is a as the dimension grows and b as it shrinks, "-" where there is none.
 * @param[in] all_digits  All digits that mean something, not only five.
 */
void cavum_derivative_write(char text[CAVUM_DERIVATIVE_TEXT_SIZE], const cavum_result *result,
                            int mode, int dimension, cavum_figure_id id, bool all_digits);

/** The same of k_cc, in percent of itself. */
void cavum_derivative_write_coupling(char text[CAVUM_QUANTITY_SIZE], const cavum_result *result,
                                     int dimension, bool all_digits);

/** Why entries of a table are absent or have two sides. */
typedef struct cavum_derivative_reasons {
  int count;
  const char *absent[8]; /**< Static, each once. */
  const char *two_sided; /**< Static; NULL: none is. */
} cavum_derivative_reasons;

/** Finds them for the columns of a mode. */
cavum_derivative_reasons cavum_derivative_find_reasons(const cavum_result *result, int mode);

#endif
