// SPDX-License-Identifier: GPL-3.0-or-later
// What argp does not know is looked at before argp sees it.
#include "cli/command_line.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/nearest_word.h"

static const char *const ITS_OWN[] = {"help", "usage", "version"};
enum { NUM_ITS_OWN = sizeof ITS_OWN / sizeof *ITS_OWN };

void cavum_command_line_take_short_help(int argc, char **argv, int until_command) {
  static char help[] = "--help";
  for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++) {
    if (until_command && argv[i][0] != '-') return;
    if (strcmp(argv[i], "-h") == 0) argv[i] = help;
  }
}

// Whole names and the beginnings of names are left to argp, which takes those that are unique.
static bool begins_a_name(const struct argp_option *options, const char *text, size_t length) {
  for (int i = 0; i < NUM_ITS_OWN; i++) {
    if (strncmp(ITS_OWN[i], text, length) == 0) return true;
  }
  for (const struct argp_option *o = options; o && (o->name || o->key || o->doc); o++) {
    if (o->name && strncmp(o->name, text, length) == 0) return true;
  }
  return false;
}

static void check_option(const struct argp_option *options, const char *argument,
                         const char *command) {
  char text[64], hint[CAVUM_NEAREST_SIZE];
  size_t length = strcspn(argument, "=");
  cavum_nearest nearest = {0};
  if (length == 0 || begins_a_name(options, argument, length)) return;
  snprintf(text, sizeof text, "%.*s", (int)(length < sizeof text ? length : sizeof text - 1),
           argument);
  for (int i = 0; i < NUM_ITS_OWN; i++) cavum_nearest_offer(&nearest, text, ITS_OWN[i]);
  for (const struct argp_option *o = options; o && (o->name || o->key || o->doc); o++) {
    if (o->name && !(o->flags & OPTION_HIDDEN)) cavum_nearest_offer(&nearest, text, o->name);
  }
  if (!*nearest.word) return;  // argp says that there is no such option
  cavum_nearest_write(hint, &nearest, "--");
  fprintf(stderr, "%s: --%s: no such option%s\n'%s --help' lists them.\n", command, text, hint,
          command);
  exit(argp_err_exit_status);
}

void cavum_command_line_parse(const struct argp *argp, int argc, char **argv, void *input) {
  cavum_command_line_take_short_help(argc, argv, 0);
  for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++) {
    if (strncmp(argv[i], "--", 2) == 0) check_option(argp->options, argv[i] + 2, argv[0]);
  }
  argp_parse(argp, argc, argv, 0, NULL, input);
}
