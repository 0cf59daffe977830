// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_write.h
 * What the parts of a cold-test file are written with: numbers, columns and texts with their units.
 */
#ifndef CAVUM_STORE_COLDTEST_WRITE_H
#define CAVUM_STORE_COLDTEST_WRITE_H

#include "cavum/coldtest.h"
#include "hdf5/hdf5_file.h"

/** Longest path of a dataset. */
enum { CAVUM_COLDTEST_PATH_SIZE = 192 };

/** A column of doubles. */
cavum_status cavum_coldtest_write_column(cavum_hdf5_file *file, const char *path, int64_t count,
                                         const double *data, const char *units,
                                         const char *long_name, cavum_error *error);

/** A number; NaN is written too: it says that there is none. */
cavum_status cavum_coldtest_write_number(cavum_hdf5_file *file, const char *path, double value,
                                         const char *units, const char *long_name,
                                         cavum_error *error);

/** A number with its standard uncertainty as an attribute; nothing where it is no number, no
 * attribute where the uncertainty is none. */
cavum_status cavum_coldtest_write_estimate(cavum_hdf5_file *file, const char *path,
                                           cavum_estimate estimate, const char *units,
                                           const char *long_name, cavum_error *error);

/** Two columns, `path` and `path`_uncertainty; nothing where none is a number. */
cavum_status cavum_coldtest_write_estimates(cavum_hdf5_file *file, const char *path, int count,
                                            const cavum_estimate *estimates, const char *units,
                                            const char *long_name, cavum_error *error);

/** A text. */
cavum_status cavum_coldtest_write_text(cavum_hdf5_file *file, const char *path, const char *text,
                                       const char *long_name, cavum_error *error);

/** An estimate of a setup, where a value of 0 says that it was not stated: NaN then. */
cavum_estimate cavum_coldtest_stated(cavum_estimate estimate);

#endif
