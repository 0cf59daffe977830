// SPDX-License-Identifier: GPL-3.0-or-later
// The command line: a table of commands and their dispatch. This program must start fast: what
// needs libraries that load slowly is in a second one.
#include <argp.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/nearest_word.h"
#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/input_kind.h"
#include "cli/process.h"
#include "cli/second_program.h"

static const struct command {
  const char *name;
  char *shown_name;  // argv[0] of the command, for its usage lines.
  int (*run)(int argc, char **argv);
  const char *help;
} commands[] = {
    {"solve", "cavum solve", cavum_cmd_solve, "modes and figures of merit of a cell"},
    {"tune", "cavum tune", cavum_cmd_tune, "change dimensions until figures have given values"},
    {"optimise", "cavum optimise", cavum_second_program_run, "best shape for a goal within limits"},
    {"tolerances", "cavum tolerances", cavum_cmd_tolerances,
     "spread of the figures from tolerances of dimensions"},
    {"steps", "cavum steps", cavum_cmd_steps, "frequency from the drawing to the cold cavity"},
    {"as-built", "cavum as-built", cavum_cmd_as_built, "a measured wall against its drawing"},
    {"scan", "cavum scan", cavum_second_program_run, "many shapes from a study file"},
    {"mesh", "cavum mesh", cavum_cmd_mesh, "mesh of a cell as a MSH file"},
    {"coldtest", "cavum coldtest", cavum_cmd_coldtest, "gradient and Q0 from a cold test's powers"},
    {"draw", "cavum draw", cavum_second_program_run,
     "picture of a result, test or scan: PNG, SVG, PDF"},
    {"compare", "cavum compare", cavum_second_program_run, "several results side by side"},
    {"report", "cavum report", cavum_second_program_run,
     "report of a result, test or scan as one web page"},
    {"figures", "cavum figures", cavum_cmd_figures, "definitions of the figures"},
};
enum { NUM_COMMANDS = sizeof commands / sizeof commands[0] };

static const struct command *find_command(const char *name) {
  for (int i = 0; i < NUM_COMMANDS; i++) {
    if (strcmp(commands[i].name, name) == 0) return &commands[i];
  }
  return NULL;
}

static void refuse(const char *argument, struct argp_state *state) {
  char hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  for (int i = 0; i < NUM_COMMANDS; i++) {
    cavum_nearest_offer(&nearest, argument, commands[i].name);
  }
  cavum_nearest_offer(&nearest, argument, "help");
  cavum_nearest_write(hint, &nearest, "");
  // A file in place of a command: which commands take it.
  const char *kind = cavum_input_kind_text(argument);
  if (kind) argp_error(state, "%.400s: %s", argument, kind);
  argp_error(state, "%s: no such command%s", argument, hint);
}

// Stops at the first word that is no option: it names the command, the rest belongs to it.
static error_t parse(int key, char *argument, struct argp_state *state) {
  int *command_index = state->input;
  switch (key) {
    case ARGP_KEY_ARG:
      if (!find_command(argument)) refuse(argument, state);
      *command_index = state->next - 1;
      state->next = state->argc;
      return 0;
    case ARGP_KEY_NO_ARGS:
      argp_error(state, "expected a command");
      return EINVAL;
    default:
      return ARGP_ERR_UNKNOWN;
  }
}

// Puts the table of commands behind the options; argp frees the text.
static char *list_commands(int key, const char *text, void *input) {
  (void)input;
  if (key != ARGP_KEY_HELP_POST_DOC) return (char *)text;
  char *list = NULL;
  size_t size = 0;
  FILE *out = open_memstream(&list, &size);
  if (!out) return NULL;
  fputs("Commands:\n", out);
  for (int i = 0; i < NUM_COMMANDS; i++) {
    fprintf(out, "  %-10s %s\n", commands[i].name, commands[i].help);
  }
  fprintf(out, "  %-10s %s\n", "help", "options and examples of a command");
  fputs(
      "\nExamples:\n"
      "  cavum solve cell.yaml                figures of merit of a cell\n"
      "  cavum solve cell.yaml -o cell.hdf    everything in one file\n"
      "  cavum draw cell.hdf -o cell.png      its picture\n"
      "  cavum help solve                     options and examples of solve",
      out);
  return fclose(out) == 0 ? list : NULL;
}

// `cavum help COMMAND` is `cavum COMMAND --help`, of whichever program has the command.
static int take_help(int argc, char **argv) {
  static char help[] = "--help";
  if (argc < 2 || strcmp(argv[1], "help") != 0) return argc;
  // `cavum help help` is what it asks for.
  bool of_command = argc > 2 && argv[2][0] != '-' && strcmp(argv[2], "help") != 0;
  argv[1] = of_command ? argv[2] : help;
  if (argv[1] == help) return 2;
  argv[2] = help;
  return 3;
}

int main(int argc, char **argv) {
  const struct argp argp = {.parser = parse,
                            .args_doc = "COMMAND [ARGUMENT...]",
                            .doc =
                                "Figures of merit of axisymmetric accelerating cavities."
                                "\vCommands",
                            .help_filter = list_commands};
  int command_index = 0;
  cavum_process_start();
  cavum_command_line_take_short_help(argc, argv, 1);
  argc = take_help(argc, argv);
  argv[0] = "cavum";  // messages start with the name, not with the path it was started by
  argp_parse(&argp, argc, argv, ARGP_IN_ORDER, NULL, &command_index);
  const struct command *command = find_command(argv[command_index]);
  argv[command_index] = command->shown_name;
  return command->run(argc - command_index, argv + command_index);
}
