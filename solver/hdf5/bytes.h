// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/bytes.h
 * Bytes to a file, whole or not at all.
 */
#ifndef CAVUM_HDF5_BYTES_H
#define CAVUM_HDF5_BYTES_H

#include <stddef.h>

#include "base/base.h"

/**
 * Writes bytes to a file through a temporary name in the same folder, fsync and rename.
 *
 * A path that exists and is no regular file (a pipe, a terminal, /dev/null) is written to as it is:
 * it cannot be half a file, and a rename would replace the device.
 *
 * @param[in]  path   "-" is standard output.
 * @param[in]  data   Shape [size].
 * @param[in]  size   Bytes.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE    cannot be created, written or renamed; an old file is left as it was.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_store_write_bytes(const char *path, const void *data, size_t size,
                                                   cavum_error *error);

#endif
