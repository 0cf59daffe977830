// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/axis_speed.h
 * The particle speed of the largest voltage.
 */
#ifndef CAVUM_FIGURES_AXIS_SPEED_H
#define CAVUM_FIGURES_AXIS_SPEED_H

#include "figures/axis.h"

/**
 * The beta in [from, 1] at which |V| is largest, to about 1e-8.
 * @param[out] size  |V| there.
 * @param[in]  hint  Where it was at another degree: the search stays around it when |V| falls to
 *                   both sides; 0: look everywhere.
 */
double cavum_axis_best_beta(double *size, const cavum_axis_field *axis, double k_per_m, double from,
                            double hint);

#endif
