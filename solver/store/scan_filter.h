// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_filter.h
 * Which rows of a scan are wanted.
 */
#ifndef CAVUM_STORE_SCAN_FILTER_H
#define CAVUM_STORE_SCAN_FILTER_H

#include "cavum/scan_store.h"

/**
 * Tells which rows of a block are wanted.
 * @param[out]    wanted  Shape [count].
 * @param[in,out] filter  NULL: all are. Its memory is used.
 * @param[in]     scan    The open file that the filter was made for.
 * @param[in]     first   First row.
 * @param[in]     count   Rows, at most CAVUM_HDF5_COLUMN_BLOCK.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_INPUT  a damaged file.
 */
cavum_status cavum_scan_filter_mark(bool *wanted, const cavum_scan_filter *filter,
                                    const cavum_stored_scan *scan, int64_t first, int64_t count,
                                    cavum_error *error);

#endif
