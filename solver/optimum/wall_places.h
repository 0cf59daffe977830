// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/wall_places.h
 * The places along the wall where a peak field may be.
 */
#ifndef CAVUM_OPTIMUM_WALL_PLACES_H
#define CAVUM_OPTIMUM_WALL_PLACES_H

#include "cavum/tolerance.h"
#include "optimum/point.h"
#include "optimum/rates.h"

/** Places below this part of the peak are no rivals for one step. */
#define CAVUM_WALL_PLACES_ABOVE 0.8

/**
 * Lists the places of E or H: all local maxima, between the points of the profile by a parabola,
 * and the points about them.
 *
 * The value becomes that of the highest of them, which is what the derivatives are of: the figure
 * has a solution of its own about its peak, and differs a little.
 *
 * @param[in,out] value   Of the peak: places are added.
 * @param[out]    known   False where the result has no derivatives along the wall.
 * @param[in]     result  With wall derivatives.
 * @param[in]     mode    From 0.
 * @param[in]     electric  E, not H.
 * @param[in]     rates   Of the dimensions of the result.
 * @param[in]     tolerances  Of the cell: places get spreads; NULL: none.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_places_list(cavum_optimum_value *value, bool *known,
                                    const cavum_result *result, int mode, bool electric,
                                    const cavum_optimum_rates *rates,
                                    const cavum_tolerances *tolerances, int num_variables,
                                    cavum_error *error);

/**
 * Lists the field point by point of the profile where it is no less than that part of the peak,
 * with what each tolerance does there: for means.
 * @param[in,out] value  Points are added, none where tolerances are not known place by place.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_points_list(cavum_optimum_value *value, const cavum_result *result,
                                    int mode, bool electric, const cavum_optimum_rates *rates,
                                    const cavum_tolerances *tolerances, int num_variables,
                                    cavum_error *error);

#endif
