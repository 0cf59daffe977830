// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_emission_file.h
 * Field emission of a cold test as HDF5.
 */
#ifndef CAVUM_STORE_COLDTEST_EMISSION_FILE_H
#define CAVUM_STORE_COLDTEST_EMISSION_FILE_H

#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"

/** Writes /field_emission where it was asked for, with the names of the JSON. */
cavum_status cavum_coldtest_file_write_emission(cavum_hdf5_file *file,
                                                const cavum_coldtest_report *report,
                                                cavum_error *error);

#endif
