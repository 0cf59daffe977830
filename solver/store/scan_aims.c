// SPDX-License-Identifier: GPL-3.0-or-later
// The aims that a study states, as columns of its result.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "hdf5/hdf5_file.h"
#include "store/scan_read.h"

static cavum_status take(cavum_scan_aims *aims, const cavum_stored_scan *scan, char *text,
                         cavum_error *error) {
  char *place = NULL;
  for (char *key = strtok_r(text, ",", &place); key; key = strtok_r(NULL, ",", &place)) {
    char *direction = strrchr(key, ':');
    if (direction) *direction++ = '\0';
    int column = cavum_stored_scan_find(scan, key);
    bool smaller = direction && strcmp(direction, "smaller") == 0;
    if (column < 0 || !direction || (!smaller && strcmp(direction, "larger") != 0) ||
        aims->count == CAVUM_SUMMARY_MOST_AIMS) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "%s: /input/aims is not understood",
                        cavum_stored_scan_path(scan));
    }
    aims->columns[aims->count] = column;
    aims->smaller[aims->count++] = smaller;
  }
  return CAVUM_OK;
}

cavum_status cavum_stored_scan_aims(cavum_scan_aims *aims, const cavum_stored_scan *scan,
                                    cavum_error *error) {
  if (!aims || !scan) return cavum_fail_null(error, __func__);
  cavum_scan_aims read = {.count = 0, .num_best = aims->num_best};
  char *text = NULL;
  cavum_status status = CAVUM_OK;
  if (cavum_hdf5_has(cavum_stored_scan_file(scan), "/input/aims")) {
    status = cavum_stored_scan_read_text(&text, scan, "/input/aims", error);
    if (status == CAVUM_OK) status = take(&read, scan, text, error);
  }
  free(text);
  if (status == CAVUM_OK) *aims = read;
  return status;
}
