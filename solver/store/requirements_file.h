// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/requirements_file.h
 * Requirements of a cell and what became of them, in result files.
 */
#ifndef CAVUM_STORE_REQUIREMENTS_FILE_H
#define CAVUM_STORE_REQUIREMENTS_FILE_H

#include "cavum/store.h"
#include "hdf5/hdf5_file.h"

/** Requirements with their verdicts. */
typedef struct cavum_stored_requirements {
  int count;
  cavum_stored_requirement *list; /**< Owned, shape [count]. */
} cavum_stored_requirements;

/** Frees the list; NULL is accepted. */
void cavum_stored_requirements_clear(cavum_stored_requirements *requirements);

/**
 * Judges a result by the requirements in the text of its cell, in the first mode; none where there
 * is no text.
 * @param[out] requirements  Release with cavum_stored_requirements_clear(); untouched unless
 * CAVUM_OK.
 * @param[in]  result        Solved result.
 * @param[in]  cell          The cell it came from.
 * @param[out] error         May be NULL.
 * @retval CAVUM_ERR_INPUT   a section `requirements` that makes no sense.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_requirements_judge(cavum_stored_requirements *requirements,
                                             const cavum_result *result, const cavum_cell *cell,
                                             cavum_error *error);

/**
 * Writes /requirements: one row of columns each.
 * @param[in] result, cell  That were judged.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_requirements_write(cavum_hdf5_file *file,
                                             const cavum_stored_requirements *requirements,
                                             const cavum_result *result, const cavum_cell *cell,
                                             cavum_error *error);

/**
 * Reads the requirements of a result file; none where it has none.
 * @param[out] requirements  Release with cavum_stored_requirements_clear(); untouched unless
 * CAVUM_OK.
 * @param[in]  file          Result file, open.
 * @param[out] error         May be NULL.
 * @retval CAVUM_ERR_INPUT  damaged: columns of different lengths.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_requirements_read(cavum_stored_requirements *requirements,
                                            const cavum_hdf5_file *file, cavum_error *error);

#endif
