// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/built_scatter.h
 * What is said of the scatter of a measured wall's points.
 */
#ifndef CAVUM_FORMAT_BUILT_SCATTER_H
#define CAVUM_FORMAT_BUILT_SCATTER_H

#include <math.h>

#include "cavum/as_built.h"

/** Whether the points scatter less than is stated, by more than chance explains: three standard
 * deviations of a scatter that half of the points are left for. */
static inline bool cavum_built_scatter_is_less(const cavum_as_built *built) {
  double chance = 3.0 / sqrt((double)built->num_used);
  return built->found_scatter_m < (1.0 - chance) * built->stated_scatter_m;
}

#endif
