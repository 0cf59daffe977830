// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/matrix.h
 * Columns and matrices of numbers whose shape the reader knows.
 */
#ifndef CAVUM_STORE_MATRIX_H
#define CAVUM_STORE_MATRIX_H

#include "hdf5/hdf5_file.h"

/** Where numbers stand, and what they are. */
typedef struct cavum_matrix_name {
  const char *path, *units, *long_name;
} cavum_matrix_name;

/**
 * Writes numbers.
 * @param[in,out] file     Being built.
 * @param[in]     name     Of them.
 * @param[in]     rows     How many.
 * @param[in]     columns  0: a column, shape [rows]; else a matrix, shape [rows, columns].
 * @param[in]     data     Row-major.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused.
 */
cavum_status cavum_matrix_write(cavum_hdf5_file *file, cavum_matrix_name name, int64_t rows,
                                int64_t columns, const double *data, cavum_error *error);

/** Writes one number as a scalar. @retval CAVUM_ERR_LIBRARY  HDF5 refused. */
cavum_status cavum_matrix_write_scalar(cavum_hdf5_file *file, cavum_matrix_name name, double value,
                                       cavum_error *error);

/** The error of a file whose numbers are not what the others say. */
cavum_status cavum_matrix_fail_damaged(const char *path, cavum_error *error);

/**
 * Reads exactly so many numbers.
 * @param[out] values  Shape [count]; untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_INPUT   not there, or another count.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_matrix_read(double *values, int64_t count, const cavum_hdf5_file *file,
                               const char *path, cavum_error *error);

#endif
