// SPDX-License-Identifier: GPL-3.0-or-later
// Colours where they are wanted.
#include "cli/colour.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool is_set(const char *name) {
  const char *value = getenv(name);
  return value && *value;
}

static bool is_on(const char *name) {
  const char *value = getenv(name);
  return value && *value && strcmp(value, "0") != 0;
}

static bool has_colours(FILE *out) {
  if (is_set("NO_COLOR")) return false;
  if (is_on("CLICOLOR_FORCE")) return true;
  const char *terminal = getenv("TERM");
  if (!terminal || !*terminal || strcmp(terminal, "dumb") == 0) return false;
  if (is_set("CLICOLOR") && !is_on("CLICOLOR")) return false;
  int number = fileno(out);
  return number >= 0 && isatty(number);
}

const char *cavum_colour(FILE *out, cavum_print_role role) {
  static const char *const codes[] = {
      [CAVUM_PRINT_HEAD] = "\033[1m",   [CAVUM_PRINT_ASIDE] = "\033[2m",
      [CAVUM_PRINT_GOOD] = "\033[32m",  [CAVUM_PRINT_CAUTION] = "\033[33m",
      [CAVUM_PRINT_BAD] = "\033[1;31m", [CAVUM_PRINT_END] = "\033[0m",
  };
  return has_colours(out) ? codes[role] : "";
}

void cavum_colour_title(FILE *out, const char *text) {
  fprintf(out, "\n%s%s%s\n", cavum_colour(out, CAVUM_PRINT_HEAD), text,
          cavum_colour(out, CAVUM_PRINT_END));
}
