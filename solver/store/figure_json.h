// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/figure_json.h
 * A figure as JSON, as results, tunings and comparisons have it, and what all figures are.
 */
#ifndef CAVUM_STORE_FIGURE_JSON_H
#define CAVUM_STORE_FIGURE_JSON_H

#include <jansson.h>

#include "cavum/figures.h"

/** {value, uncertainty, basis, at_m}, or {value: null, reason} where it is unbounded; NULL when
 * memory runs out. The figure is in the unit of its key (cavum_stored_figure_make()). */
json_t *cavum_figure_json_make(const cavum_figure *stored);

/**
 * What all figures are: {cavum, figures: {KEY: {unit, name, definition}}}.
 * @param[out] text   Released with free(); untouched unless CAVUM_OK.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_figures_json_write(char **text, cavum_error *error);

#endif
