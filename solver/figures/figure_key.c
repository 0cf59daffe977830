// SPDX-License-Identifier: GPL-3.0-or-later
#include "figures/figure_key.h"

#include <stdlib.h>
#include <string.h>

// Reads `modes[N].` in front of a key; NULL: it is there, but with no number.
static const char *pass_mode(int *mode, const char *key) {
  static const char before[] = "modes[", after[] = "].";
  static const long most = 999;  // as many modes as a cell may have
  *mode = -1;
  if (strncmp(key, before, strlen(before)) != 0) return key;
  const char *digits = key + strlen(before);
  char *end = NULL;
  long number = *digits >= '0' && *digits <= '9' ? strtol(digits, &end, 10) : -1;
  if (number < 0 || number > most || strncmp(end, after, strlen(after)) != 0) return NULL;
  *mode = (int)number;
  return end + strlen(after);
}

cavum_figure_id cavum_figure_of_key(int *mode, const char *key) {
  int found = -1;
  const char *name = pass_mode(&found, key);
  for (int id = 0; name && id < CAVUM_NUM_FIGURES; id++) {
    if (strcmp(name, cavum_figure_describe((cavum_figure_id)id).key) != 0) continue;
    if (mode) *mode = found;
    return (cavum_figure_id)id;
  }
  return CAVUM_NUM_FIGURES;
}
