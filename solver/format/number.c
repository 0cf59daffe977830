// SPDX-License-Identifier: GPL-3.0-or-later
// The shortest decimal text of a double that reads back as the same double.
#include "format/number.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// A program that embeds the library may have chosen a decimal comma, of one byte or of several.
static void use_decimal_point(char *text) {
  const char *mark = localeconv()->decimal_point;
  size_t length = strlen(mark);
  char *found = length > 0 && strcmp(mark, ".") != 0 ? strstr(text, mark) : NULL;
  if (!found) return;
  *found = '.';
  memmove(found + 1, found + length, strlen(found + length) + 1);
}

void cavum_store_format_number(char text[CAVUM_STORE_NUMBER_SIZE], double value) {
  if (!isfinite(value)) {
    snprintf(text, CAVUM_STORE_NUMBER_SIZE, "null");
    return;
  }
  // 17 digits always suffice; most results need 15 to 17, round inputs need few.
  for (int digits = 1; digits <= 17; digits++) {
    snprintf(text, CAVUM_STORE_NUMBER_SIZE, "%.*g", digits, value);
    if (strtod(text, NULL) == value) break;
  }
  use_decimal_point(text);
}
