// SPDX-License-Identifier: GPL-3.0-or-later
// Two numbers in one sentence that must not look alike.
#include "base/told_apart.h"

#include <stdio.h>
#include <string.h>

void cavum_told_apart_write(char a[CAVUM_TOLD_APART_SIZE], char b[CAVUM_TOLD_APART_SIZE], double x,
                            double y) {
  enum { MOST_DIGITS = 15 };  // behind the point
  for (int digits = 1; digits <= MOST_DIGITS; digits++) {
    snprintf(a, CAVUM_TOLD_APART_SIZE, "%.*e", digits, x);
    snprintf(b, CAVUM_TOLD_APART_SIZE, "%.*e", digits, y);
    if (strcmp(a, b) != 0) return;
  }
}
