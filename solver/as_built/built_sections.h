// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file as_built/built_sections.h
 * Which piece of the wall is responsible for which part of the change of the frequency.
 */
#ifndef CAVUM_AS_BUILT_BUILT_SECTIONS_H
#define CAVUM_AS_BUILT_BUILT_SECTIONS_H

#include "as_built/built_points.h"
#include "cavum/as_built.h"

/** The walls that a comparison is between. */
typedef struct cavum_built_pair {
  const cavum_survey *survey;
  double probe_uncertainty_m;
  cavum_built_points drawn, built;
} cavum_built_pair;

/**
 * Fills the sections: no section goes over a corner of the drawing.
 * @param[in,out] made       Its sections are not there yet.
 * @param[in]     section_m  About; 0: a twentieth of the wall.
 * @retval CAVUM_ERR_RANGE  a length that makes more than 10000 sections.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_built_sections_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                       double section_m, cavum_error *error);

/**
 * Fills the curves along the wall.
 * @param[in,out] made  Its places are not there yet.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_built_places_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                     cavum_error *error);

#endif
