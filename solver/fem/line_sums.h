// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/line_sums.h
 * Functions along the lines of a tensor grid: from their coefficients to the points, and back.
 *
 * The segment functions are even or odd about the middle, and so is the rule: the values at two
 * points that mirror each other are the sum and the difference of what the even and the odd
 * functions make of one of them. That is half of the products of a full table. The two functions of
 * the corners are neither; their half sum and half difference, 1 / 2 and s / 2 of
 * cavum_line_turn(), are.
 */
#ifndef CAVUM_FEM_LINE_SUMS_H
#define CAVUM_FEM_LINE_SUMS_H

#include "fem/reference.h"

/** The lines of a grid of lanes: how many, and how far they and what is on them lie apart. */
typedef struct cavum_lines {
  int count;
  int apart_in, apart_out; /**< First numbers of two lines. */
  int step_in, step_out;   /**< Two numbers of a line. */
} cavum_lines;

/** What is wanted of the functions. */
typedef enum cavum_line_part { CAVUM_LINE_VALUE, CAVUM_LINE_DERIVATIVE } cavum_line_part;

/**
 * Turns a tensor of coefficients [n][n] in place, in both directions: those of the corner functions
 * to those of the constant and of s.
 */
void cavum_line_turn(cavum_lanes *tensor, int n);

/** The transpose of cavum_line_turn(). */
void cavum_line_turn_back(cavum_lanes *tensor, int n);

/**
 * At the q points of each line from its n coefficients, which are turned.
 * @param[out] out  No part of in.
 * @param[in]  n    At most that of the reference: of a function of a lower degree less.
 */
void cavum_line_to_points(cavum_lanes *out, const cavum_lanes *in, const cavum_lines *lines,
                          const cavum_reference *reference, int n, cavum_line_part part);

/** The transpose: n sums over the points of each line. */
void cavum_line_from_points(cavum_lanes *out, const cavum_lanes *in, const cavum_lines *lines,
                            const cavum_reference *reference, int n, cavum_line_part part);

#endif
