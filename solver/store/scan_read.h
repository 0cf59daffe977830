// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_read.h
 * What the files about scans share.
 */
#ifndef CAVUM_STORE_SCAN_READ_H
#define CAVUM_STORE_SCAN_READ_H

#include "base/base.h"
#include "cavum/scan_store.h"
#include "hdf5/hdf5_file.h"

/** The open file behind a scan; borrowed. */
const cavum_hdf5_file *cavum_stored_scan_file(const cavum_stored_scan *scan);

/** Its name as it was opened; borrowed. */
const char *cavum_stored_scan_path(const cavum_stored_scan *scan);

/** True when a column is a number that the study set: varied, linked or held. */
CAVUM_BETWEEN bool cavum_stored_scan_is_input(const cavum_stored_scan *scan, int column);

/** True when a column holds the codes of labels (cavum_label_of_code()). */
bool cavum_stored_scan_is_label(const cavum_stored_scan *scan, int column);

/**
 * Reads one text of the file.
 * @param[out] text   New memory, release with free(); untouched unless CAVUM_OK.
 * @param[in]  scan   Open file.
 * @param[in]  path   Object, for example "/input/cell_file".
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT  missing or damaged.
 */
cavum_status cavum_stored_scan_read_text(char **text, const cavum_stored_scan *scan,
                                         const char *path, cavum_error *error);

#endif
