// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/mend.h
 * By how much a requirement is met or missed, and what would mend it, in words.
 */
#ifndef CAVUM_FORMAT_MEND_H
#define CAVUM_FORMAT_MEND_H

#include "cavum/requirement.h"

/** Bytes for any text. */
enum { CAVUM_MEND_SIZE = 192 };

/**
 * By how much a requirement is met or missed, in the unit of its key: "0.942"; "at the bound"
 * where the two differ by rounding alone.
 * @param[out] text  "" where it is not known.
 */
void cavum_margin_write_amount(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict);

/** The same with the word: "by 0.942". */
void cavum_margin_write(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict);

/**
 * The change of a dimension, as "-0.0661"; where it is more than a twentieth of the dimension,
 * which is beyond what a derivative tells, also that: "-56.6 (-28 %), beyond what a derivative
 * tells".
 * @param[out] text   "" without a dimension.
 * @param[in]  value  The dimension as it is, in the unit of its key; NAN: not known.
 * @return true where the derivative tells enough.
 */
bool cavum_mend_write(char text[CAVUM_MEND_SIZE], const cavum_verdict *verdict, double value);

#endif
