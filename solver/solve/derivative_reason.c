// SPDX-License-Identifier: GPL-3.0-or-later
#include "solve/derivative_reason.h"

#include <string.h>

const char *cavum_derivative_reason_find(const char *text) {
  static const char *const reasons[] = {CAVUM_REASON_TWO_PLACES, CAVUM_REASON_SHAPE,
                                        CAVUM_REASON_NOT_ASKED,  CAVUM_REASON_CLOSE,
                                        CAVUM_REASON_DEGENERATE, CAVUM_REASON_NOT_DIFFERENTIATED};
  for (size_t i = 0; i < sizeof reasons / sizeof *reasons; i++) {
    if (strcmp(reasons[i], text) == 0) return reasons[i];
  }
  return NULL;
}
