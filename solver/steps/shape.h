// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/shape.h
 * The shape of a cell as it goes through the steps, and what a wall that moves does to a mode.
 */
#ifndef CAVUM_STEPS_SHAPE_H
#define CAVUM_STEPS_SHAPE_H

#include "steps/chain.h"

/**
 * A cell as a path of the same contour.
 * @param[out] shape  Owned by the caller (cavum_cell_clear()); untouched unless CAVUM_OK.
 * @param[in]  cell   Two-ellipse or path.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT     a cell from a mesh file: it has no exact contour.
 * @retval CAVUM_ERR_GEOMETRY  no contour.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_shape_start(cavum_cell *shape, const cavum_cell *cell, cavum_error *error);

/** Change of the frequency when all metal of a shape is moved out by a depth, times its shape along
 * the wall, in Hz/m; the mode has its densities along the wall. */
double cavum_shape_slope_of_depth(const cavum_mode_result *mode, const cavum_cell *shape,
                                  const cavum_depth_shape *along);

/**
 * Change of the frequency with the logarithm of lengths along z, in Hz: all lengths change it by
 * -f, and those across the axis by what the metal does that moves with r.
 */
double cavum_shape_slope_of_stretch(const cavum_mode_result *mode, double frequency_hz);

/**
 * Change of the frequency with a length that is cut off each side at a place, in Hz/m. What is
 * beyond the cut moves towards it and takes with it the metal there and the plane at its end. How
 * the plane counts follows from two facts: a cell that is moved along z has the frequency it had,
 * and one that is enlarged has it less in proportion.
 */
double cavum_shape_slope_of_cut(const cavum_mode_result *mode, double frequency_hz,
                                const cavum_cell *shape, cavum_wall_place place);

/** The same of a length cut off at one end of a shape; ends_m: where both are, left and right. */
double cavum_shape_slope_of_end(const cavum_mode_result *mode, double frequency_hz,
                                const double ends_m[2], bool at_right);

/**
 * Whether slopes before and behind a cut go with its change, as good ones do: half their sum leaves
 * of it what the frequencies leave, a small part of it, and what an uneven rise of the slope makes.
 * @param[in] slopes      Before and behind, Hz/m.
 * @param[in] amount_m    Of the cut.
 * @param[in] change_hz   By the cut.
 * @param[in] unsure_hz   Uncertainty of the change.
 */
bool cavum_shape_slopes_add_up(const double slopes[2], double amount_m, double change_hz,
                               double unsure_hz);

/** Part of an amount that differences go by, where slopes do not add up. */
#define CAVUM_SHAPE_DIFFERENCE_PART 0.02

/**
 * Change of the frequency by the radiation pressure (mu0 H^2 - eps0 E^2) / 4 of a mode, peak
 * phasors, in Hz to first order: on a wall that gives way by a table, at each place by the pressure
 * there, and on a cell that its ends pull longer, by their mean force over the stiffness.
 * @param[in] mode         With its densities and pressures, at one joule.
 * @param[in] frequency_hz Of it.
 * @param[in] shape        As it was solved.
 * @param[in] equator_m    Where its halves meet.
 * @param[in] step         With a compliance or a stiffness.
 * @return at one joule.
 */
double cavum_shape_radiation_change_hz(const cavum_mode_result *mode, double frequency_hz,
                                       const cavum_cell *shape, double equator_m,
                                       const cavum_chain_step *step);

#endif
