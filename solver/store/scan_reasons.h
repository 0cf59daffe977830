// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_reasons.h
 * The reasons of a gathered scan, one after the other, by rising shape.
 */
#ifndef CAVUM_STORE_SCAN_REASONS_H
#define CAVUM_STORE_SCAN_REASONS_H

#include "hdf5/hdf5_columns.h"

enum { CAVUM_SCAN_REASONS_BLOCK = CAVUM_HDF5_TEXT_BLOCK };

/** A place in the list of reasons. Zero-initialise. */
typedef struct cavum_scan_reasons {
  const cavum_hdf5_file *file; /**< Borrowed. */
  int64_t num_reasons, first, count, next;
  double shapes[CAVUM_SCAN_REASONS_BLOCK]; /**< Of the block in memory. */
  char *texts;                             /**< Owned: of the block in memory. */
  size_t width;
} cavum_scan_reasons;

/** Starts at the first reason; a file without any has none. */
void cavum_scan_reasons_open(cavum_scan_reasons *reasons, const cavum_hdf5_file *file);

/**
 * The next reason.
 * @param[in,out] reasons  Open.
 * @param[out]    shape    Number of the shape; -1 behind the last.
 * @param[out]    text     Borrowed until the next call.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_INPUT  damaged.
 */
cavum_status cavum_scan_reasons_next(cavum_scan_reasons *reasons, int64_t *shape, const char **text,
                                     cavum_error *error);

/** Frees what it owns. */
void cavum_scan_reasons_close(cavum_scan_reasons *reasons);

#endif
