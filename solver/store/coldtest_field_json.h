// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_field_json.h
 * What a cold test says against the field, as JSON.
 */
#ifndef CAVUM_STORE_COLDTEST_FIELD_JSON_H
#define CAVUM_STORE_COLDTEST_FIELD_JSON_H

#include <jansson.h>
#include <stdbool.h>

#include "cavum/coldtest_report.h"

/** Adds `surface_resistance_against_field` where it was asked for; false: no memory. */
bool cavum_coldtest_json_add_field(json_t *root, const cavum_coldtest_report *report);

#endif
