// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/estimate_json.h
 * Numbers of a cold test as JSON: what there is none of has no key.
 */
#ifndef CAVUM_STORE_ESTIMATE_JSON_H
#define CAVUM_STORE_ESTIMATE_JSON_H

#include <jansson.h>
#include <stdbool.h>

#include "cavum/coldtest.h"

/** A value with its uncertainty as a member of an object, left out where the value is no finite
 * number; true on success. */
bool cavum_estimate_json_set(json_t *object, const char *key, cavum_estimate estimate);

#endif
