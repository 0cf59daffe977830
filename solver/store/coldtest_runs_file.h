// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_runs_file.h
 * Runs of a cold test, as HDF5.
 */
#ifndef CAVUM_STORE_COLDTEST_RUNS_FILE_H
#define CAVUM_STORE_COLDTEST_RUNS_FILE_H

#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"

/** Writes /runs where readings name some: columns by run, with the fits of each. */
cavum_status cavum_coldtest_file_write_runs(cavum_hdf5_file *file,
                                            const cavum_coldtest_report *report,
                                            cavum_error *error);

#endif
