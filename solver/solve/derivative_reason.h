// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/derivative_reason.h
 * Why a figure has no derivative although it is there itself. The texts stand in result files.
 */
#ifndef CAVUM_SOLVE_DERIVATIVE_REASON_H
#define CAVUM_SOLVE_DERIVATIVE_REASON_H

#include <stddef.h>

#define CAVUM_REASON_TWO_PLACES "the peak stands at two places"
#define CAVUM_REASON_SHAPE "the contour does not change smoothly with it"
#define CAVUM_REASON_NOT_ASKED "it was not asked for"
#define CAVUM_REASON_CLOSE "another mode is too close"
#define CAVUM_REASON_DEGENERATE "another mode has the same frequency"
#define CAVUM_REASON_NOT_DIFFERENTIATED "it is not differentiated"

/** The reason with that text, static; NULL: there is no such reason. */
const char *cavum_derivative_reason_find(const char *text);

#endif
