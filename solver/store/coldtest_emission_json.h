// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_emission_json.h
 * Field emission of a cold test as JSON.
 */
#ifndef CAVUM_STORE_COLDTEST_EMISSION_JSON_H
#define CAVUM_STORE_COLDTEST_EMISSION_JSON_H

#include <jansson.h>
#include <stdbool.h>

#include "cavum/coldtest_report.h"

/** Adds `field_emission` where it was asked for; false: no memory. */
bool cavum_coldtest_json_add_emission(json_t *root, const cavum_coldtest_report *report);

#endif
