// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/geometry_json.h
 * Figures of the shape of a cell as JSON, in the units of their keys.
 */
#ifndef CAVUM_STORE_GEOMETRY_JSON_H
#define CAVUM_STORE_GEOMETRY_JSON_H

#include <jansson.h>

#include "store/geometry_file.h"

/** {KEY: {value, uncertainty}, derivatives: {DIMENSION: {KEY: {value, uncertainty}}}}; NULL when
 * memory runs out. */
json_t *cavum_geometry_json_make(const cavum_geometry *geometry);

#endif
