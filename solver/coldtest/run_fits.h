// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/run_fits.h
 * The fits of each run of a test.
 */
#ifndef CAVUM_COLDTEST_RUN_FITS_H
#define CAVUM_COLDTEST_RUN_FITS_H

#include "cavum/coldtest_report.h"

/**
 * Fits each run of a report by itself: what its test file asks for the whole test, where the
 * readings of the run are enough.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coldtest_fit_runs(cavum_coldtest_report *report, cavum_error *error);

#endif
