// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/ticks.h
 * Where the marks of an axis stand and what is written at them.
 */
#ifndef CAVUM_CANVAS_TICKS_H
#define CAVUM_CANVAS_TICKS_H

#include <stdbool.h>

/** Most marks of one axis. */
enum { CAVUM_TICKS_MOST = 64 };

/** Marks of an axis. */
typedef struct cavum_ticks {
  int count;
  double value[CAVUM_TICKS_MOST];
  char label[CAVUM_TICKS_MOST][24]; /**< Mark-up of cavum_canvas_text(); "" for a mark between. */
} cavum_ticks;

/**
 * Marks at multiples of 1, 2 or 5 times a power of ten inside [low, high].
 * @param[out] ticks   At least two marks when low < high.
 * @param[in]  low     Finite.
 * @param[in]  high    Finite, larger than low.
 * @param[in]  wanted  About how many.
 */
void cavum_ticks_linear(cavum_ticks *ticks, double low, double high, int wanted);

/**
 * Marks of a logarithmic axis: labelled powers of ten, or 1, 2 and 5 times them on a short range,
 * and unlabelled marks between. At least three have labels: on part of a decade they are round
 * numbers as of a linear axis, where there are not as many others.
 */
void cavum_ticks_logarithmic(cavum_ticks *ticks, double low, double high, int wanted);

/** A range around values with a margin, as a plot shows it; widens an empty one. */
void cavum_ticks_widen(double *low, double *high, double margin);

/** The sign of a change: plus, or the minus of mathematics. Static. */
const char *cavum_ticks_sign(double change);

/** A number with a few significant digits: plain from 1e-4 to 1e6, else m x 10^{n}. */
void cavum_ticks_format(char text[24], double value, int digits);

#endif
