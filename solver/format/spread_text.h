// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/spread_text.h
 * What people must know about a spread by tolerances, as sentences.
 */
#ifndef CAVUM_FORMAT_SPREAD_TEXT_H
#define CAVUM_FORMAT_SPREAD_TEXT_H

#include "cavum/tolerance.h"

/** Bytes that hold any of these texts. */
enum { CAVUM_SPREAD_TEXT_SIZE = 320 };

/** Bytes that hold a list of correlations; more are cut off with an ellipsis. */
enum { CAVUM_SPREAD_LIST_SIZE = 1200 };

/** Bytes that hold a value of cavum_spread_write_value(). */
enum { CAVUM_SPREAD_VALUE_SIZE = 40 };

/** A value with the digits that matter beside its standard deviation: as far as four of that; six
 * digits where it is not known. Both in one unit. */
void cavum_spread_write_value(char text[CAVUM_SPREAD_VALUE_SIZE], double value, double deviation);

/**
 * Why the linear spread of a figure does not hold, "the nonlinear part is 35 % of the deviation",
 * and in how many of the random shapes the figure is not, as where a peak has no bound: "332 of the
 * 500 random shapes do not have it", also of a figure without a linear spread. "" where there is
 * nothing to say.
 * @param[in] f       One of the spread's.
 * @param[in] spread  That it belongs to.
 */
void cavum_spread_write_why_curved(char text[CAVUM_SPREAD_TEXT_SIZE], const cavum_figure_spread *f,
                                   const cavum_spread *spread);

/** The correlation of two dimensions of a spread; 0 where there is none. */
double cavum_spread_correlation(const cavum_spread *spread, int i, int k);

/** Which dimensions are correlated: "A and B 0.6, C and D -0.2"; "" where none are. */
void cavum_spread_write_correlations(char text[CAVUM_SPREAD_LIST_SIZE], const cavum_spread *spread);

/** What the widths that keep a band leave out: that the linear spread does not hold, and how much
 * further the random shapes spread; correlations that are not counted. "" where it is nothing. */
void cavum_spread_write_band_caution(char text[CAVUM_SPREAD_TEXT_SIZE],
                                     const cavum_figure_spread *f, const cavum_spread *spread);

/** Of correlated dimensions, what a share below 0 is. */
#define CAVUM_SPREAD_CORRELATED_SHARES                                                          \
  "Each correlated dimension has its part of what they do together, which is below 0 where it " \
  "takes off what another one does."

/** Row of what no dimension makes of a variance by itself. */
#define CAVUM_SPREAD_TOGETHER "several dimensions together"

/**
 * Where the shares of a figure come from, if not from a linear spread that holds; else empty.
 * @param[in] name  Of the figure.
 */
void cavum_spread_write_shares(char text[CAVUM_SPREAD_TEXT_SIZE], const char *name,
                               const cavum_figure_spread *f);

/** How far the drawn shapes can be trusted: what their degree changes, and to what part a deviation
 * of so many is known; "" where there is nothing to say. */
void cavum_spread_write_trust(char text[CAVUM_SPREAD_TEXT_SIZE], const cavum_spread *spread);

#endif
