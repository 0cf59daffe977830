// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/phases.h
 * Cosines and sines of many angles at once.
 */
#ifndef CAVUM_FIGURES_PHASES_H
#define CAVUM_FIGURES_PHASES_H

#include "base/lanes.h"

/**
 * Cosines and sines, good to rounding for angles up to a million.
 * @param[out] cosine, sine  Shape [count].
 * @param[in]  angle         In radians, shape [count].
 */
void cavum_phases(cavum_lanes *restrict cosine, cavum_lanes *restrict sine,
                  const cavum_lanes *restrict angle, int count);

#endif
