// SPDX-License-Identifier: GPL-3.0-or-later
// Order statistics and the JSON report.
#include "rate_report.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

double rate_quantile(double *values, int count, double share) {
  if (count == 0) return NAN;
  qsort(values, (size_t)count, sizeof *values, by_value);
  int place = (int)ceil(share * count) - 1;
  return values[place < 0 ? 0 : place];
}

void rate_report_set(json_t *report, double value, const char *format, ...) {
  char key[96];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(key, sizeof key, format, arguments);
  va_end(arguments);
  if (isfinite(value)) json_object_set_new(report, key, json_real(value));
}

bool rate_report_write(const json_t *report, const char *path) {
  if (json_dump_file(report, path, JSON_INDENT(2) | JSON_REAL_PRECISION(6)) == 0) return true;
  fprintf(stderr, "bench_rate: %s cannot be written\n", path);
  return false;
}
