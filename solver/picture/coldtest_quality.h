// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_quality.h
 * Charts over the gradient: Q0 with limits, loaded Q, radiation.
 */
#ifndef CAVUM_PICTURE_COLDTEST_QUALITY_H
#define CAVUM_PICTURE_COLDTEST_QUALITY_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** Q0 against gradient: readings, decays, predictions, Monte Carlo intervals, limits as lines. */
void cavum_test_chart_quality(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Loaded Q against gradient. */
void cavum_test_chart_loaded(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Radiation dose rate against gradient. */
void cavum_test_chart_radiation(cavum_chart *chart, const cavum_stored_coldtest *test);

#endif
