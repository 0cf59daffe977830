// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/tune_json.h
 * What a tuning came to, as JSON: what was asked for, dimensions and figures before and after.
 */
#ifndef CAVUM_STORE_TUNE_JSON_H
#define CAVUM_STORE_TUNE_JSON_H

#include "cavum/tune.h"

/**
 * Figures and dimensions are in the units of their keys.
 * @param[out] text     Released with free(); untouched unless CAVUM_OK.
 * @param[in]  outcome  Of a tuning, also of one that did not meet its aims.
 * @param[in]  plan     What was asked for.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_tune_json_write(char **text, const cavum_tune_outcome *outcome,
                                   const cavum_tune_plan *plan, cavum_error *error);

#endif
