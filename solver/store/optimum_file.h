// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/optimum_file.h
 * What a search for the best shape tells, beside the result of that shape.
 */
#ifndef CAVUM_STORE_OPTIMUM_FILE_H
#define CAVUM_STORE_OPTIMUM_FILE_H

#include "cavum/optimum.h"
#include "hdf5/hdf5_file.h"

/** Adds the group /optimum to a file of a result. */
cavum_status cavum_optimum_write(cavum_hdf5_file *file, const cavum_optimum *optimum,
                                 const cavum_goal *goal, cavum_error *error);

/** Whether a file has that group. */
bool cavum_optimum_is_in(const cavum_hdf5_file *file);

/**
 * Reads the group, without the results of the cells.
 * @param[out] optimum  Owned by the caller (cavum_optimum_destroy()); untouched unless CAVUM_OK.
 *                      `before` has the figures of its mode alone, `result` is NULL.
 * @param[out] title    Owned by the caller; untouched unless CAVUM_OK; may be NULL.
 * @param[in]  file     Open, with the group.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT   damaged: lengths that do not agree, unknown words.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_optimum_read(cavum_optimum **optimum, char **title, const cavum_hdf5_file *file,
                                cavum_error *error);

#endif
