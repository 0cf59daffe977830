// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/accuracy.h
 * Whether a figure is as accurate as its cell asks, and how many degrees it still lacks.
 */
#ifndef CAVUM_SOLVE_ACCURACY_H
#define CAVUM_SOLVE_ACCURACY_H

#include "cavum/cell.h"
#include "figures/mode_figures.h"
#include "solve/uncertainty.h"

/** A tail needs three values: with fewer degrees the accuracy is never taken as reached. */
enum { CAVUM_DEGREES_LEAST = 3 };

/** Relative accuracy that a cell asks of a figure. */
double cavum_accuracy_wanted(cavum_figure_id id, const cavum_cell *cell);

/**
 * True when a figure of a mode is as accurate as the cell asks: relative to itself, or to what it
 * is on its natural scale (cavum_figure_policy_relaxation()), whichever is larger.
 */
bool cavum_accuracy_is_reached(const cavum_mode_values *values, cavum_figure_id id,
                               const cavum_cell *cell);

/**
 * True when more degrees are of no use to a figure: it is accurate enough, or what is left of its
 * uncertainty comes from a nearly degenerate mode (cavum_solution_mixing()).
 */
bool cavum_accuracy_is_exhausted(const cavum_mode_values *values, cavum_figure_id id,
                                 const cavum_cell *cell);

/** An uncertainty of a figure over what is asked for, or over what is attainable; 0 of figures that
 * do not hold up a solve. */
double cavum_accuracy_over_wanted(double uncertainty, const cavum_mode_values *values,
                                  cavum_figure_id id, const cavum_cell *cell);

/** Degrees that a figure is likely to need beyond the last one at its present ratio. */
int cavum_accuracy_missing_degrees(const cavum_mode_values *values, cavum_figure_id id,
                                   const cavum_cell *cell, const cavum_history *history);

/**
 * Whether no degree of the mesh will make a figure accurate enough: at a corner or a tip its
 * sequence falls as the power of the degree that the exponent says, and neither that nor going on
 * as over the last degrees is enough up to the highest. Of a sequence that falls otherwise, as
 * where layers of elements are still being used up, nothing is said.
 * @param[in] degree  Of the last value.
 * @return False with fewer than five values.
 */
bool cavum_accuracy_is_out_of_reach(const cavum_mode_values *values, cavum_figure_id id,
                                    const cavum_cell *cell, const cavum_history *history,
                                    int degree);

#endif
