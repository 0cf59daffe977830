// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/condition.h
 * Conditions such as "epk_over_eacc < 2.1 && iris_radius_mm > 35": expressions that compare.
 */
#ifndef CAVUM_SCAN_CONDITION_H
#define CAVUM_SCAN_CONDITION_H

#include "scan/expression.h"

/**
 * Reads a condition: an expression (expression.h) with at least one comparison (< <= > >= == !=),
 * joined by && and ||. A single = is refused, since it would not compare.
 *
 * @param[out] condition  Owned by the caller (cavum_expression_destroy()).
 * @param[in]  text       Zero-terminated.
 * @param[in]  lookup     Called for each name in it.
 * @param[in]  data       For lookup.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_INPUT   no condition, or an unknown name.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_condition_create(cavum_expression **condition, const char *text,
                                    cavum_expression_lookup *lookup, const void *data,
                                    cavum_error *error);

/** True when it holds. It does not where a number that it names is missing (NAN). */
bool cavum_condition_holds(const cavum_expression *condition, const double *values);

#endif
