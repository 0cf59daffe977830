// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/as_built_file.h
 * Measured walls in HDF5 files.
 */
#ifndef CAVUM_STORE_AS_BUILT_FILE_H
#define CAVUM_STORE_AS_BUILT_FILE_H

#include "base/base.h"
#include "cavum/as_built.h"

/** Attribute `format` of such a file. */
#define CAVUM_STORE_AS_BUILT_FORMAT "cavum as-built 1"

/**
 * Reads a file of cavum_store_write_as_built(): title, label, figures, sections and the curves
 * along the wall.
 * @param[out] built  Owned by the caller (cavum_as_built_destroy()); untouched unless CAVUM_OK.
 * @param[in]  path   File name.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  no such file, or damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_stored_as_built_read(cavum_as_built **built, const char *path,
                                                      cavum_error *error);

#endif
