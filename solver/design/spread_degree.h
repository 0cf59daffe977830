// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/spread_degree.h
 * The degree at which drawn shapes are solved: the least that is enough for a spread.
 *
 * What a degree leaves out of a figure is the same for all drawn shapes but for a part as small as
 * their change, and is taken out with a solve of the cell itself at that degree. What is left is
 * measured against the degree of the cell, on a few of the shapes.
 */
#ifndef CAVUM_DESIGN_SPREAD_DEGREE_H
#define CAVUM_DESIGN_SPREAD_DEGREE_H

#include "cavum/tolerance.h"
#include "design/drawn.h"

/** Shapes on which degrees are compared. */
enum { CAVUM_SPREAD_CHECKS = 4 };

/** Figures count as all others do; those that are changes of figures by a cut of a tube do not. */
bool cavum_spread_is_figure(cavum_figure_id id);

/** A solver for drawn shapes. */
typedef struct cavum_spread_samples {
  cavum_solver *solver; /**< Owned: with the cell itself in its memory. */
  int degree;           /**< Of its solves. */
  double error;         /**< Largest part of the spread of a figure that it leaves out. */
  double nominal[CAVUM_NUM_FIGURES]; /**< Of the cell itself at that degree; NAN: none. */
} cavum_spread_samples;

/**
 * Finds the degree and makes the solver.
 * @param[out]    samples  Untouched unless CAVUM_OK.
 * @param[in,out] options  Of each solve; a degree of 0 is chosen and set, another one is kept.
 * @param[in]     drawn    With its nominal numbers; its options are those.
 * @param[in]     linear   With the linear spread of each figure that has one.
 * @param[in]     shapes   Shape [CAVUM_SPREAD_CHECKS, num_dimensions].
 * @param[in]     highest  Degree of the cell itself.
 * @return as cavum_drawn_solve_one(), and what cavum_solver_create() returns.
 */
cavum_status cavum_spread_degree_open(cavum_spread_samples *samples, cavum_solve_options *options,
                                      const cavum_drawn *drawn, const cavum_spread *linear,
                                      const double *shapes, int highest, cavum_error *error);

#endif
