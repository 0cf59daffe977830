// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_json.h
 * The comparison of results as JSON.
 */
#ifndef CAVUM_CLI_COMPARE_JSON_H
#define CAVUM_CLI_COMPARE_JSON_H

#include "cli/compare_table.h"
#include "store/compared_json.h"

/**
 * Writes all figures, also those that the table leaves out, and the inputs that differ.
 * @param[in]  path    The file; "-": standard output.
 * @param[in]  all     Results; the inputs are taken from the table.
 * @param[in]  inputs  Rows of inputs that differ, a value for each result.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_MEMORY
 * @retval CAVUM_ERR_INPUT   it cannot be written.
 */
cavum_status cavum_compare_write_json(const char *path, const cavum_compared_results *all,
                                      const cavum_compare_table *inputs, cavum_error *error);

#endif
