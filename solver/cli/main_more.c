// SPDX-License-Identifier: GPL-3.0-or-later
// The second program (second_program.h): the commands whose libraries take long to load.
#include <stdio.h>
#include <string.h>
#include <sys/prctl.h>

#include "cli/commands.h"
#include "cli/process.h"

static const struct command {
  const char *shown_name;  // argv[0], as the first program sets it.
  int (*run)(int argc, char **argv);
} commands[] = {
    {"cavum scan", cavum_cmd_scan},     {"cavum coldtest", cavum_cmd_coldtest_draw},
    {"cavum draw", cavum_cmd_draw},     {"cavum compare", cavum_cmd_compare},
    {"cavum report", cavum_cmd_report}, {"cavum optimise", cavum_cmd_optimise},
};
enum { NUM_COMMANDS = sizeof commands / sizeof commands[0], EXIT_BAD_USAGE = 2 };

int main(int argc, char **argv) {
  cavum_process_start();
  // Lists of processes show the program that the user started.
  (void)prctl(PR_SET_NAME, "cavum");
  for (int i = 0; argc > 0 && i < NUM_COMMANDS; i++) {
    if (strcmp(commands[i].shown_name, argv[0]) == 0) return commands[i].run(argc, argv);
  }
  fputs("cavum-more: this is a part of the program cavum, which starts it\n", stderr);
  return EXIT_BAD_USAGE;
}
