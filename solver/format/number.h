// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/number.h
 * Numbers as text for machines.
 */
#ifndef CAVUM_FORMAT_NUMBER_H
#define CAVUM_FORMAT_NUMBER_H

/** Bytes that hold any number of cavum_store_format_number(). */
enum { CAVUM_STORE_NUMBER_SIZE = 32 };

/**
 * Fewest significant digits that read back as the same double, with a decimal point in any locale.
 * @param[out] text   As JSON writes numbers; "null" when the value is not finite.
 * @param[in]  value  Any.
 */
void cavum_store_format_number(char text[CAVUM_STORE_NUMBER_SIZE], double value);

/** The same text, found by printing more and more digits and reading them: thirty times slower. */
void cavum_store_format_number_by_trial(char text[CAVUM_STORE_NUMBER_SIZE], double value);

#endif
