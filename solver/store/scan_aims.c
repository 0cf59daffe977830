// SPDX-License-Identifier: GPL-3.0-or-later
// The aims that a study states, as columns of its result.
#include "store/scan_aims.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sized.h"
#include "cavum/scan_store.h"
#include "hdf5/hdf5_file.h"
#include "store/scan_read.h"

static const cavum_sized AIMS = {.name = "aims",
                                 .maker = "cavum_scan_aims_default()",
                                 .first = sizeof(cavum_scan_aims),
                                 .full = sizeof(cavum_scan_aims)};

void cavum_scan_aims_set_defaults(cavum_scan_aims *aims, size_t struct_size) {
  const cavum_scan_aims defaults = {0};
  if (aims) cavum_sized_give(aims, struct_size, &defaults, &AIMS);
}

cavum_status cavum_scan_aims_take(cavum_scan_aims *full, const cavum_scan_aims *given,
                                  cavum_error *error) {
  return cavum_sized_take(full, given, &AIMS, error);
}

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
  cavum_scan_aims given, read = cavum_scan_aims_default();
  char *text = NULL;
  cavum_status status = cavum_scan_aims_take(&given, aims, error);
  read.num_best = given.num_best;
  if (status == CAVUM_OK && cavum_hdf5_has(cavum_stored_scan_file(scan), "/input/aims")) {
    status = cavum_stored_scan_read_text(&text, scan, "/input/aims", error);
    if (status == CAVUM_OK) status = take(&read, scan, text, error);
  }
  free(text);
  if (status == CAVUM_OK) cavum_sized_give(aims, aims->struct_size, &read, &AIMS);
  return status;
}
