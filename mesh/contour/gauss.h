// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/gauss.h
 * The 16-point Gauss-Legendre rule on [-1, 1], for integrals along curves.
 */
#ifndef CAVUM_CONTOUR_GAUSS_H
#define CAVUM_CONTOUR_GAUSS_H

/** Points of half the rule: the other half has the signs turned. */
enum { CAVUM_HALF_RULE = 8 };

/** Abscissae of the positive half. */
static const double cavum_gauss_abscissa[CAVUM_HALF_RULE] = {
    0.095012509837637441, 0.28160355077925892, 0.45801677765722737, 0.61787624440264377,
    0.755404408355003,    0.86563120238783176, 0.9445750230732326,  0.98940093499164994};

/** Their weights. */
static const double cavum_gauss_weight[CAVUM_HALF_RULE] = {
    0.1894506104550685,  0.18260341504492358,  0.16915651939500254,  0.14959598881657674,
    0.12462897125553388, 0.095158511682492786, 0.062253523938647894, 0.027152459411754096};

#endif
