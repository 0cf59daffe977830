// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_limits.h
 * Stated limits as lines in charts of Q0 against gradient.
 */
#ifndef CAVUM_PICTURE_COLDTEST_LIMITS_H
#define CAVUM_PICTURE_COLDTEST_LIMITS_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** The gradient at which a limit of gradient or peak field is reached, in V/m; NAN: another one. */
double cavum_test_limit_gradient_v_per_m(const cavum_stored_coldtest *test,
                                         const cavum_stored_limit *limit);

/**
 * Adds the limits: uprights for gradients and peak fields; for wall power (heat load of the bath)
 * the line Q0 = (E L)^2 / (R/Q P); for forward power (amplifier) the line on which the coupler
 * needs just that, P_f = w U Q_e / (4 Q_L^2). What needs more lies right of and below a line.
 * @param[in,out] chart   Gradient in MV/m, Q0.
 * @param[in]     test    Its limits, R/Q and length.
 * @param[in]     q_external  Of the input coupler; 0: no lines of forward power.
 * @param[in]     high_mv_per_m  Where lines end.
 */
void cavum_test_add_limits(cavum_chart *chart, const cavum_stored_coldtest *test, double q_external,
                           double high_mv_per_m);

/** Adds lines of constant wall power from 1 mW to 10 kW, with the power at their ends. */
void cavum_test_add_power_lines(cavum_chart *chart, const cavum_stored_coldtest *test,
                                double high_mv_per_m);

#endif
