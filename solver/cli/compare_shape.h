// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_shape.h
 * Figures of the shape of results side by side.
 */
#ifndef CAVUM_CLI_COMPARE_SHAPE_H
#define CAVUM_CLI_COMPARE_SHAPE_H

#include "cavum/geometry.h"
#include "cli/compare_table.h"

/**
 * Adds a row for each figure of the shape that one of the cells has, and for each in which cells
 * differ from the first one.
 * @param[in,out] figures      With `count` values a row.
 * @param[in,out] differences  With count - 1 values a row.
 * @param[in]     shapes       Shape [count]; NULL: not known.
 * @param[in]     count        How many cells.
 * @param[out]    error        May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_compare_add_shapes(cavum_compare_table *figures,
                                      cavum_compare_table *differences,
                                      const cavum_geometry *const *shapes, int count,
                                      cavum_error *error);

#endif
