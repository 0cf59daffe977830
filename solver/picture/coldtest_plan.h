// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_plan.h
 * Plans of a cold test: a table of what the meters will show, and charts over the gradient.
 */
#ifndef CAVUM_PICTURE_COLDTEST_PLAN_H
#define CAVUM_PICTURE_COLDTEST_PLAN_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** The expected uncertainty of a plan: by the pickup where there is one, else by the decay time;
 * NULL: neither gives a result. `way` tells which, may be NULL. */
const cavum_stored_expected *cavum_test_plan_expected(const cavum_stored_plan *plan, int *way);

/** "above bath, amplifier": limits that a plan exceeds; "" for none. */
void cavum_test_plan_exceeds(char *text, size_t size, const cavum_stored_coldtest *test,
                             const cavum_stored_plan *plan);

/** dBm of a power in W; NAN without one. */
double cavum_test_plan_dbm(double power_w);

/** Draws the table of plans; moves y behind it. */
void cavum_test_plan_draw_table(cavum_page *page, const cavum_stored_coldtest *test);

/** Planned Q0 and gradient among the limits. */
void cavum_test_chart_plan(cavum_chart *chart, const cavum_stored_coldtest *test);

/** What each meter shows, in dBm. */
void cavum_test_chart_plan_meters(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Forward power and dissipated power with their limits. */
void cavum_test_chart_plan_powers(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Uncertainties to expect. */
void cavum_test_chart_plan_expected(cavum_chart *chart, const cavum_stored_coldtest *test);

/** Decay times to expect. */
void cavum_test_chart_plan_decay(cavum_chart *chart, const cavum_stored_coldtest *test);

#endif
