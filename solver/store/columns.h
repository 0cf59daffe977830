// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/columns.h
 * Groups of equally long arrays in a result file.
 */
#ifndef CAVUM_STORE_COLUMNS_H
#define CAVUM_STORE_COLUMNS_H

#include "cavum/mesh.h"
#include "hdf5/hdf5_file.h"

/** One column of a group of equally long arrays; all borrowed, no dataset when data is NULL. */
typedef struct cavum_store_column {
  const char *name;
  cavum_hdf5_type type;
  const void *data;
  const char *units, *long_name;
} cavum_store_column;

/**
 * Writes columns into a group, shape [num_rows] each.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused.
 */
cavum_status cavum_store_write_columns(cavum_hdf5_file *file, const char *group,
                                       cavum_index num_rows, int num_columns,
                                       const cavum_store_column *columns, cavum_error *error);

#endif
