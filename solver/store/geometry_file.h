// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/geometry_file.h
 * Figures of the shape of a cell in result files, in the units of their keys; derivatives per unit
 * of the dimension as its key names that.
 */
#ifndef CAVUM_STORE_GEOMETRY_FILE_H
#define CAVUM_STORE_GEOMETRY_FILE_H

#include "cavum/geometry.h"
#include "hdf5/hdf5_file.h"

/**
 * Writes /geometry/KEY and /geometry/derivatives/DIMENSION/KEY, scalars with an uncertainty each.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_geometry_file_write(cavum_hdf5_file *file, const cavum_geometry *geometry,
                                       cavum_error *error);

#endif
