// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/told_apart.h
 * Two numbers in one sentence that must not look alike.
 */
#ifndef CAVUM_BASE_TOLD_APART_H
#define CAVUM_BASE_TOLD_APART_H

enum { CAVUM_TOLD_APART_SIZE = 32 };

/**
 * Two numbers with as many digits as tell them apart, at least two: 1.00e-04 and 1.02e-04.
 * @param[out] a, b  Shape [CAVUM_TOLD_APART_SIZE] each.
 * @param[in]  x, y  Equal ones have sixteen digits.
 */
void cavum_told_apart_write(char a[CAVUM_TOLD_APART_SIZE], char b[CAVUM_TOLD_APART_SIZE], double x,
                            double y);

#endif
