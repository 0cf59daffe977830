// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_series.h
 * Charts of what a cold test says beyond single readings: surface resistance against temperature
 * and field, frequency against field and pressure, decay traces.
 */
#ifndef CAVUM_PICTURE_COLDTEST_SERIES_H
#define CAVUM_PICTURE_COLDTEST_SERIES_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** R_s against 1/T with its fit and predictions. */
void cavum_test_chart_resistance(cavum_chart *chart, const cavum_stored_coldtest *test);

/** BCS part and residual against B, averaged over the wall and at a place of it. */
void cavum_test_chart_field(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Frequency, freed from the bath pressure, against E_acc^2. */
void cavum_test_chart_lorentz(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Frequency, freed from the field, against the bath pressure. */
void cavum_test_chart_pressure(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Power of one decay with its exponential; index from 0. */
void cavum_test_chart_trace(cavum_chart *chart, const cavum_stored_coldtest *test, int index);

/** What is left of it without the exponential. */
void cavum_test_chart_residuals(cavum_chart *chart, const cavum_stored_coldtest *test, int index);

#endif
