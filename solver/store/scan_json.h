// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/scan_json.h
 * Studies side by side as JSON.
 */
#ifndef CAVUM_STORE_SCAN_JSON_H
#define CAVUM_STORE_SCAN_JSON_H

#include "cavum/scan_store.h"

/** Keys in which files differ, with the text of each. All is borrowed. */
typedef struct cavum_compared_keys {
  int count;
  const char *const *names;  /**< Shape [count]. */
  const char *const *values; /**< Shape [count, studies]. */
} cavum_compared_keys;

/** What is compared. All is borrowed. */
typedef struct cavum_compared_scans {
  int count;                /**< Studies. */
  const char *const *paths; /**< Shape [count], as all that follow. */
  const cavum_stored_scan *const *scans;
  const cavum_scan_summary *const *summaries;
  const cavum_scan_aims *const *aims;
  cavum_compared_keys study_keys, cell_keys;
} cavum_compared_scans;

/**
 * The summary of each study, and the keys of study and cell files that differ.
 * @param[out] text   Released with free(); untouched unless CAVUM_OK.
 * @param[in]  all    What is compared.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_compared_scans_json_write(char **text, const cavum_compared_scans *all,
                                             cavum_error *error);

#endif
