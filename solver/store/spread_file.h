// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/spread_file.h
 * Spreads by tolerances in files, read back for pictures and reports.
 */
#ifndef CAVUM_STORE_SPREAD_FILE_H
#define CAVUM_STORE_SPREAD_FILE_H

#include "base/base.h"
#include "cavum/tolerance.h"

/** Attribute `format` of such a file. */
#define CAVUM_STORE_SPREAD_FORMAT "cavum spread 1"

/** What such a file holds. */
typedef struct cavum_stored_spread {
  char *title;          /**< Owned: of the cell. */
  cavum_spread *spread; /**< Owned. */
  int num_bands;
  cavum_spread_band *bands; /**< Owned, shape [num_bands]: what tolerances were asked for. */
} cavum_stored_spread;

/** Frees what it owns; NULL is accepted. */
CAVUM_BETWEEN void cavum_stored_spread_clear(cavum_stored_spread *stored);

/**
 * Reads a file of cavum_store_write_spread().
 * @param[out] stored  Release with cavum_stored_spread_clear(); untouched unless CAVUM_OK.
 * @param[in]  path    File name.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  no such file, or damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_stored_spread_read(cavum_stored_spread *stored, const char *path,
                                                    cavum_error *error);

#endif
