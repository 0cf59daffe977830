// SPDX-License-Identifier: GPL-3.0-or-later
// Units with the letters of print.
#include "picture/unit_letters.h"

#include <stdio.h>
#include <string.h>

void cavum_unit_letters(char letters[CAVUM_UNIT_LETTERS], const char *unit) {
  const char *ohm = strstr(unit, "ohm"), *squared = ohm ? strstr(ohm, "^2") : NULL;
  if (!ohm) {
    snprintf(letters, CAVUM_UNIT_LETTERS, "%s", strcmp(unit, "1") == 0 ? "" : unit);
    return;
  }
  const char *prefix = unit[0] == 'u' ? "\xc2\xb5" : "";
  int skipped = unit[0] == 'u';
  snprintf(letters, CAVUM_UNIT_LETTERS, "%s%.*s\xce\xa9%s", prefix, (int)(ohm - unit) - skipped,
           unit + skipped, squared ? "\xc2\xb2" : ohm + 3);
}
