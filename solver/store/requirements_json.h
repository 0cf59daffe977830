// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/requirements_json.h
 * Requirements of a cell and what became of them as JSON.
 */
#ifndef CAVUM_STORE_REQUIREMENTS_JSON_H
#define CAVUM_STORE_REQUIREMENTS_JSON_H

#include <jansson.h>

#include "store/requirements_file.h"

/** {KEY: {least, most, verdict, value, uncertainty, margin, mended_by, change, breaks}}, what there
 * is, of a result and its cell; NULL when memory runs out. */
json_t *cavum_requirements_json_make(const cavum_stored_requirements *requirements,
                                     const cavum_cell *cell, const cavum_result *result);

#endif
