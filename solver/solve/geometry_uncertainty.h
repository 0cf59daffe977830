// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/geometry_uncertainty.h
 * What the geometry of a mesh file leaves uncertain.
 */
#ifndef CAVUM_SOLVE_GEOMETRY_UNCERTAINTY_H
#define CAVUM_SOLVE_GEOMETRY_UNCERTAINTY_H

#include "solve/problem.h"

/**
 * Adds to the uncertainties of all modes what the geometry of a mesh file leaves open: all figures
 * are computed once more, at the last degree, on the mesh bent to the curves that are guessed
 * behind its sides (element/curve_guess.h).
 *
 * A multiple of the change of a figure is added, and a multiple of what it may have been but for
 * luck: the relative change of the frequency without what cancels, or of the geometry factor if
 * that is larger by more than the iteration left, magnified where a voltage cancels. Where elements
 * would fold, sides are bent by a part of the way and the changes are scaled. Where even a small
 * part folds them nothing is known: every figure then has itself as its uncertainty. Both this and
 * sides that keep a figure from the accuracy asked for give a warning. Does nothing on exact
 * contours.
 */
cavum_status cavum_geometry_uncertainty_add(cavum_problem *problem, cavum_error *error);

#endif
