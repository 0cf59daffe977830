// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/front_file.h
 * What the search tells of a front, beside the rows of its shapes.
 */
#ifndef CAVUM_STORE_FRONT_FILE_H
#define CAVUM_STORE_FRONT_FILE_H

#include "cavum/optimum.h"
#include "hdf5/hdf5_file.h"

/** Adds the group /front to a file of a scan. */
cavum_status cavum_front_write(cavum_hdf5_file *file, const cavum_front *front, cavum_error *error);

#endif
