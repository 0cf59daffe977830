// SPDX-License-Identifier: GPL-3.0-or-later
// Mistyped names of columns: one way for conditions, aims and pictures.
#include "store/scan_nearest.h"

#include <string.h>

const char *cavum_stored_scan_nearest(char text[CAVUM_NEAREST_SIZE], const cavum_stored_scan *scan,
                                      const char *typed) {
  static const char section[] = "contour.";  // may be left out
  cavum_nearest nearest = {0};
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    const char *key = cavum_stored_scan_key(scan, i);
    cavum_nearest_offer(&nearest, typed, key);
    if (strncmp(key, section, sizeof section - 1) != 0) continue;
    cavum_nearest_offer(&nearest, typed, key + sizeof section - 1);
  }
  return cavum_nearest_write(text, &nearest, "");
}
