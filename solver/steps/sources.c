// SPDX-License-Identifier: GPL-3.0-or-later
// A table of sources by name.
#include "steps/sources.h"

#include <stdio.h>
#include <string.h>

static int find_or_add(cavum_sources *sources, const char *name) {
  for (int i = 0; i < sources->count; i++) {
    if (strcmp(sources->names[i], name) == 0) return i;
  }
  if (sources->count == CAVUM_STEP_SOURCES_MOST) return -1;
  snprintf(sources->names[sources->count], CAVUM_STEP_NAME_SIZE, "%s", name);
  return sources->count++;
}

void cavum_sources_add_shape(cavum_sources *sources, const char *name, double relative,
                             const double pair[2]) {
  // The own mode may not change at all, as that of a pillbox with its length.
  bool any = relative != 0.0 || (pair && (pair[0] != 0.0 || pair[1] != 0.0));
  int i = any ? find_or_add(sources, name) : -1;
  if (i < 0) return;
  sources->shape[i] += relative;
  for (int k = 0; k < 2; k++) sources->pair[k][i] += pair ? pair[k] : relative;
}

void cavum_sources_add_gas(cavum_sources *sources, const char *name, double relative) {
  int i = relative != 0.0 ? find_or_add(sources, name) : -1;
  if (i >= 0) sources->gas[i] += relative;
}

void cavum_sources_change_gas(cavum_sources *sources) {
  memset(sources->gas, 0, sizeof sources->gas);
}
