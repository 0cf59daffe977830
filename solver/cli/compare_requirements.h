// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_requirements.h
 * What became of the requirements of several results.
 */
#ifndef CAVUM_CLI_COMPARE_REQUIREMENTS_H
#define CAVUM_CLI_COMPARE_REQUIREMENTS_H

#include "cavum/cavum.h"
#include "cli/compare_table.h"

/**
 * Adds one row for each requirement that any of the results has: met or not, and by how much.
 * @param[in,out] table    As many values as results.
 * @param[in]     origins  Shape [count].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_compare_add_requirements(cavum_compare_table *table,
                                            const cavum_stored_origin *const *origins, int count,
                                            cavum_error *error);

#endif
