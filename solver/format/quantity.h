// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/quantity.h
 * Numbers for people: only the digits that mean something, the uncertainty in parentheses; and the
 * units in which figures are shown.
 */
#ifndef CAVUM_FORMAT_QUANTITY_H
#define CAVUM_FORMAT_QUANTITY_H

#include "base/units.h"
#include "cavum/figures.h"

/** Bytes that hold any text of cavum_quantity_format(). */
enum { CAVUM_QUANTITY_SIZE = 64 };

/**
 * A value with its uncertainty in units of its last digit: 1288.12567(31) means 1288.12567 +-
 * 0.00031.
 *
 * One digit of uncertainty is shown, two when the first is 1 or 2. It is rounded up, by the
 * rounding of the value too, so the interval shown contains the interval computed. Values of 1e7 or
 * more and below 1e-3 have an exponent: 1.812(3)e10. A value of which nothing but the uncertainty
 * would be left has that behind its sign: 0 +- 0.018, 0 +- 1.3e-5. An uncertainty of zero (a given
 * number) shows up to 12 digits and no parentheses; one that is not known shows six digits and
 * "(?)"; a value that is no number "-".
 *
 * @param[out] text         Zero-terminated.
 * @param[in]  value        Any unit.
 * @param[in]  uncertainty  Same unit, >= 0.
 */
void cavum_quantity_format(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty);

/**
 * cavum_quantity_format() with no more digits than an accuracy asks for: 1120.0473044(5) with an
 * accuracy of 1e-6 is 1120.047(1). The last digit is worth less than the accuracy, and the
 * uncertainty covers the rounding. What is less certain, given, or not known has the digits that it
 * has.
 *
 * @param[out] text         Zero-terminated.
 * @param[in]  value        Any unit.
 * @param[in]  uncertainty  Same unit, >= 0.
 * @param[in]  accuracy     Relative, within (0, 1); 0 asks for all digits that mean something.
 */
void cavum_quantity_format_to(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty,
                              double accuracy);

/** Bytes that hold any text of cavum_quantity_bounds(). */
enum { CAVUM_BOUNDS_SIZE = 64 };

/**
 * Bounds of a requirement: "at most 2.4", "at least 6", "704.41 to 704.43".
 * @param[out] text   Zero-terminated.
 * @param[in]  least  Not finite: there is none.
 * @param[in]  most   Likewise.
 */
void cavum_quantity_bounds(char text[CAVUM_BOUNDS_SIZE], double least, double most);

/** Bytes that hold any text of cavum_quantity_basis(). */
enum { CAVUM_BASIS_SIZE = 48 };

/**
 * What a basis is called in files: "stated", "fit", "with R_s of the fit", "at the end of the
 * range"; "" of what is computed. Static.
 */
const char *cavum_basis_word(cavum_figure_basis basis);

/** The basis of that name; what is not known, or NULL, is computed. */
cavum_figure_basis cavum_basis_of_word(const char *word);

/** What people read beside a figure: its word, of a fit also how good that is, "fit, about 20 %".
 */
void cavum_quantity_basis(char text[CAVUM_BASIS_SIZE], const cavum_figure *figure);

/**
 * Uncertainty with which people are shown a figure of a mode, SI. What is made with R_s of a fit is
 * no more certain than that fit: its uncertainty is added, in quadrature. Files keep the numerical
 * part alone.
 * @param[in] figures  Of the mode, shape [CAVUM_NUM_FIGURES].
 */
double cavum_quantity_shown_uncertainty(const cavum_figure *figures, cavum_figure_id id);

/** The figure with that uncertainty. */
cavum_figure cavum_quantity_shown_figure(const cavum_figure *figures, cavum_figure_id id);

/** How the screen shows a figure, which is in SI. */
typedef struct cavum_quantity_unit {
  const char *name;      /**< Of the unit shown; static, "" for pure numbers. */
  cavum_unit conversion; /**< From SI. */
} cavum_quantity_unit;

/**
 * Unit in which a figure is shown beside others of its kind, as on an axis; a resistance has the
 * prefix that suits its value.
 */
cavum_quantity_unit cavum_quantity_unit_of(cavum_figure_id id, double value);

/** Unit of a figure by itself, with the prefix that suits its value: 0.14 Hz, 2.0 Tohm, 6.6 mW. */
cavum_quantity_unit cavum_quantity_unit_to_fit(cavum_figure_id id, double value);

/**
 * A number with as many decimals as the solver is sure of, 6 at most; from 1e7 on with an exponent.
 * @param[out] text       Zero-terminated.
 * @param[in]  value      Finite.
 * @param[in]  numerical  Its numerical uncertainty, in the same unit; 0: not known.
 */
void cavum_quantity_format_solved(char text[CAVUM_QUANTITY_SIZE], double value, double numerical);

#endif
