// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/air.h
 * Derivatives of the refractivity of air.
 */
#ifndef CAVUM_STEPS_AIR_H
#define CAVUM_STEPS_AIR_H

#include "cavum/steps.h"

/** Derivatives of N by the temperature (1/K), the pressure (1/Pa) and the humidity (1/%). */
void cavum_air_slopes(double slopes_ppm[3], const cavum_air *air);

#endif
