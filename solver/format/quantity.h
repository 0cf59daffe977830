// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/quantity.h
 * Numbers for people: only the digits that mean something, the uncertainty in parentheses; and the
 * conversions from SI to the units of the screen.
 */
#ifndef CAVUM_FORMAT_QUANTITY_H
#define CAVUM_FORMAT_QUANTITY_H

#include "cavum/figures.h"

/** Bytes that hold any text of cavum_quantity_format(). */
enum { CAVUM_QUANTITY_SIZE = 64 };

/**
 * A value with its uncertainty in units of its last digit: 1288.12567(31) means 1288.12567 +-
 * 0.00031.
 *
 * One digit of uncertainty is shown, two when the first is 1 or 2. It is rounded up, by the
 * rounding of the value too, so the interval shown contains the interval computed. Values of 1e7 or
 * more and below 1e-3 have an exponent: 1.812(3)e10. An uncertainty of zero (a given number) shows
 * up to 12 digits and no parentheses; one that is not known shows six digits and "(?)"; a value
 * that is no number "-".
 *
 * @param[out] text         Zero-terminated.
 * @param[in]  value        Any unit.
 * @param[in]  uncertainty  Same unit, >= 0.
 */
void cavum_quantity_format(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty);

/** A unit of the screen: number on the screen = factor * number in the figure's own unit. */
typedef struct cavum_quantity_unit {
  const char *name; /**< Static; "" for pure numbers. */
  double factor;
} cavum_quantity_unit;

/** Unit in which a figure is shown; a resistance has the prefix that suits its value. */
cavum_quantity_unit cavum_quantity_unit_of(cavum_figure_id id, double value);

/** Megahertz from hertz. */
static inline double cavum_quantity_mhz(double frequency_hz) { return frequency_hz * 1e-6; }

/** Millimetres from metres. */
static inline double cavum_quantity_mm(double length_m) { return length_m * 1e3; }

#endif
