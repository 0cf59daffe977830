// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_series_file.h
 * Decay traces, surface resistance against temperature and predictions of a cold test, as HDF5.
 */
#ifndef CAVUM_STORE_COLDTEST_SERIES_FILE_H
#define CAVUM_STORE_COLDTEST_SERIES_FILE_H

#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"

/** Writes /traces/1, 2, ... */
cavum_status cavum_coldtest_file_write_traces(cavum_hdf5_file *file,
                                              const cavum_coldtest_report *report,
                                              cavum_error *error);

/** Writes /surface_resistance where it was asked for. */
cavum_status cavum_coldtest_file_write_fit(cavum_hdf5_file *file,
                                           const cavum_coldtest_report *report, cavum_error *error);

#endif
