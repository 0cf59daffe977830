// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_field_file.h
 * What a cold test says against the field, as HDF5.
 */
#ifndef CAVUM_STORE_COLDTEST_FIELD_FILE_H
#define CAVUM_STORE_COLDTEST_FIELD_FILE_H

#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"

/** Writes /frequency and /surface_resistance_against_field where they were asked for. */
cavum_status cavum_coldtest_file_write_field(cavum_hdf5_file *file,
                                             const cavum_coldtest_report *report,
                                             cavum_error *error);

#endif
