// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_file.h
 * A cold-test file in memory, before it is written or instead.
 */
#ifndef CAVUM_STORE_COLDTEST_FILE_H
#define CAVUM_STORE_COLDTEST_FILE_H

#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"

/** Builds the file of a report; release with cavum_hdf5_destroy(), untouched unless CAVUM_OK. */
cavum_status cavum_coldtest_file_build(cavum_hdf5_file **file, const cavum_coldtest_report *report,
                                       cavum_error *error);

#endif
