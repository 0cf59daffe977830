// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_plan_file.h
 * Plans and limits of a cold test, as HDF5.
 */
#ifndef CAVUM_STORE_COLDTEST_PLAN_FILE_H
#define CAVUM_STORE_COLDTEST_PLAN_FILE_H

#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"

/** Writes /limits where some are stated. */
cavum_status cavum_coldtest_file_write_limits(cavum_hdf5_file *file,
                                              const cavum_coldtest_setup *setup,
                                              cavum_error *error);

/** Writes /plans/1, 2, ... */
cavum_status cavum_coldtest_file_write_plans(cavum_hdf5_file *file,
                                             const cavum_coldtest_report *report,
                                             cavum_error *error);

#endif
