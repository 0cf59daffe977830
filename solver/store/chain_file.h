// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/chain_file.h
 * Chains of steps in files, read back for pictures and reports.
 */
#ifndef CAVUM_STORE_CHAIN_FILE_H
#define CAVUM_STORE_CHAIN_FILE_H

#include "base/base.h"
#include "cavum/steps.h"

/** Attribute `format` of such a file. */
#define CAVUM_STORE_STEPS_FORMAT "cavum steps 1"

/**
 * Reads a file of cavum_store_write_steps(). Figures of the shapes that the file has beside the
 * frequency are not read.
 * @param[out] result  Owned by the caller (cavum_steps_result_destroy()); untouched unless
 * CAVUM_OK.
 * @param[in]  path    File name.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  no such file, or damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_stored_steps_read(cavum_steps_result **result, const char *path,
                                                   cavum_error *error);

#endif
