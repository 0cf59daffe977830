// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/rounding.h
 * The best shape with dimensions that the workshop can make.
 */
#ifndef CAVUM_OPTIMUM_ROUNDING_H
#define CAVUM_OPTIMUM_ROUNDING_H

#include "optimum/search.h"

/** Whether a goal rounds anything. */
bool cavum_rounding_is_wanted(const cavum_goal *goal);

/** The multiple of a step that is nearest to a value, with as few digits as it takes. */
double cavum_rounding_value(double value, double step);

/**
 * Rounds the dimensions that have a step, up or down, and searches with the others from there, so
 * that the frequency is held again. Of all ways to round, those that the rows of the best point say
 * are best are tried.
 * @param[out] rounded  Released with cavum_search_clear(), also after a failure; without a point
 *                      where no way to round is a shape.
 * @param[in]  best     Ended, with a point.
 */
cavum_status cavum_rounding_search(cavum_search *rounded, const cavum_search *best,
                                   cavum_error *error);

#endif
