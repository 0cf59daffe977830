// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_load_series.h
 * Reads back what a cold-test file holds beside points and budgets: limits, traces, predictions,
 * surface resistance against field, frequency, Monte Carlo intervals.
 */
#ifndef CAVUM_STORE_COLDTEST_LOAD_SERIES_H
#define CAVUM_STORE_COLDTEST_LOAD_SERIES_H

#include "hdf5/hdf5_file.h"
#include "store/coldtest_load.h"

/** Reads what the file has of these; parts that it lacks stay empty. */
cavum_status cavum_stored_coldtest_read_series(cavum_stored_coldtest *test,
                                               const cavum_hdf5_file *file, cavum_error *error);

/** Frees them. */
void cavum_stored_coldtest_clear_series(cavum_stored_coldtest *test);

#endif
