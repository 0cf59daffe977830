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

/** Bytes that hold a value of cavum_spread_write_value(). */
enum { CAVUM_SPREAD_VALUE_SIZE = 40 };

/** A value with the digits that matter beside its standard deviation: as far as four of that; six
 * digits where it is not known. Both in one unit. */
void cavum_spread_write_value(char text[CAVUM_SPREAD_VALUE_SIZE], double value, double deviation);

/** Why the linear spread of a figure does not hold: "what is not linear is 35 % of the deviation";
 * "" where it holds or there is none. */
void cavum_spread_write_why_curved(char text[CAVUM_SPREAD_TEXT_SIZE], const cavum_figure_spread *f);

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
