// SPDX-License-Identifier: GPL-3.0-or-later
// Units with the letters of print.
#include "picture/unit_letters.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

static const char SQUARED[] = "\xc2\xb2", CUBED[] = "\xc2\xb3";

// "cm^2", or "m2" as keys of files have it: the unit without its power, and that as one letter.
static int find_power(const char **power, const char *unit) {
  size_t length = strlen(unit);
  *power = "";
  if (length < 2 || !strchr("23", unit[length - 1])) return (int)length;
  bool marked = unit[length - 2] == '^';
  if (!marked && (length != 2 || unit[0] != 'm')) return (int)length;
  *power = unit[length - 1] == '2' ? SQUARED : CUBED;
  return (int)length - (marked ? 2 : 1);
}

void cavum_unit_letters(char letters[CAVUM_UNIT_LETTERS], const char *unit) {
  const char *ohm = strstr(unit, "ohm"), *squared = ohm ? strstr(ohm, "^2") : NULL, *power;
  if (!ohm) {
    int length = find_power(&power, unit);
    snprintf(letters, CAVUM_UNIT_LETTERS, "%.*s%s", strcmp(unit, "1") == 0 ? 0 : length, unit,
             power);
    return;
  }
  const char *prefix = unit[0] == 'u' ? "\xc2\xb5" : "";
  int skipped = unit[0] == 'u';
  snprintf(letters, CAVUM_UNIT_LETTERS, "%s%.*s\xce\xa9%s", prefix, (int)(ohm - unit) - skipped,
           unit + skipped, squared ? SQUARED : ohm + 3);
}
