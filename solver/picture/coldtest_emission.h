// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_emission.h
 * Charts of field emission.
 */
#ifndef CAVUM_PICTURE_COLDTEST_EMISSION_H
#define CAVUM_PICTURE_COLDTEST_EMISSION_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** Adds background with emission as fitted, and the onset, to a chart of the dose rate. */
void cavum_test_add_emission(cavum_chart *chart, const cavum_stored_coldtest *test);

/** ln(I / E^2.5) against 1/E: a straight line by Fowler and Nordheim. */
void cavum_test_chart_fowler_nordheim(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Power of electrons against gradient. */
void cavum_test_chart_electron_power(cavum_chart *chart, const cavum_stored_coldtest *test);

#endif
