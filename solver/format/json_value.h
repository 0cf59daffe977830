// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/json_value.h
 * Values of a JSON tree as it is made. jansson accepts NULL and reports it, so that one check at
 * the end of a group finds any failed allocation.
 */
#ifndef CAVUM_FORMAT_JSON_VALUE_H
#define CAVUM_FORMAT_JSON_VALUE_H

#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>

/** Takes a new value over as a member of an object; true on success. */
static inline bool cavum_json_set(json_t *object, const char *key, json_t *value) {
  return json_object_set_new(object, key, value) == 0;
}

/** A number as a member of an object, left out where JSON cannot hold it; true on success. */
static inline bool cavum_json_set_finite(json_t *object, const char *key, double value) {
  return !isfinite(value) || cavum_json_set(object, key, json_real(value));
}

/** A count or an index as a member of an object: an integer in the text, too; true on success. */
static inline bool cavum_json_set_count(json_t *object, const char *key, int64_t count) {
  return cavum_json_set(object, key, json_integer((json_int_t)count));
}

/** A number; null where JSON cannot hold it. */
static inline json_t *cavum_json_number(double value) {
  return isfinite(value) ? json_real(value) : json_null();
}

#endif
