// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/stopped.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

static void add(cavum_error *error, const char *before, const char *text, const char *after) {
  size_t length = strlen(error->message);
  snprintf(error->message + length, sizeof error->message - length, "%s%s%s", before, text, after);
}

static bool is_file(const char *name) { return name && strcmp(name, "-") != 0; }

void cavum_stopped_tell_files(const char **const *names, int count, bool overwrite,
                              cavum_error *error) {
  const char *before = "; written: ";
  for (int i = 0; i < count; i++) {
    const char **name = names[i];
    if (!is_file(*name) || overwrite || access(*name, F_OK) != 0) continue;
    add(error, "; the older ", *name, " stays without --overwrite");
    *name = NULL;
  }
  for (int i = 0; i < count; i++) {
    if (!is_file(*names[i])) continue;
    add(error, before, *names[i], "");
    before = ", ";
  }
  if (before[0] == ';') add(error, "; no file is written", "", "");
}
