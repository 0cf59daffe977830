// SPDX-License-Identifier: GPL-3.0-or-later
// Remarks of a test, as far as there is room.
#include <stdarg.h>
#include <stdio.h>

#include "coldtest/coldtest_private.h"

void cavum_coldtest_remark(cavum_coldtest *test, const char *format, ...) {
  va_list arguments;
  if (test->num_remarks == CAVUM_MAX_REMARKS) return;
  va_start(arguments, format);
  vsnprintf(test->remarks[test->num_remarks++], CAVUM_REMARK_SIZE, format, arguments);
  va_end(arguments);
}
