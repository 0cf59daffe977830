// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_readings.h
 * What pictures and reports ask of the readings of a cold test.
 */
#ifndef CAVUM_PICTURE_COLDTEST_READINGS_H
#define CAVUM_PICTURE_COLDTEST_READINGS_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** The reading of the largest gradient; -1 without points. */
int cavum_test_view_choose_point(const cavum_stored_coldtest *test);

/** "over", "under" or a dash, with "(open)" where the readings do not decide; shape [96]. */
void cavum_test_view_branch(char text[96], const cavum_stored_coldtest *test, int point);

/** Branches of all readings in words: "overcoupled", "over- and undercoupled", "" when unknown. */
void cavum_test_view_branches(char text[96], const cavum_stored_coldtest *test);

/** The bath temperature of most readings, in K; NAN without temperatures. */
double cavum_test_view_find_temperature(const cavum_stored_coldtest *test);

/** Kinds of readings in plots of Q0. */
enum { CAVUM_TEST_PICKUP, CAVUM_TEST_DECAY, CAVUM_TEST_OTHER_BATH, CAVUM_NUM_TEST_KINDS };

/** Kind of a reading; usual_k: cavum_test_view_find_temperature(). */
int cavum_test_view_kind(const cavum_stored_coldtest *test, int point, double usual_k);

/** True when a reading belongs to the fit of the surface resistance. */
bool cavum_test_view_is_fitted(const cavum_stored_coldtest *test, int point);

/** R_s of the fit in ohm. */
double cavum_test_view_fitted_ohm(const cavum_stored_fit *fit, double temperature_k);

/** Ink of a run, number from 1, in turn; a test without runs has those of its kinds. */
cavum_ink cavum_test_run_ink(int run);

#endif
