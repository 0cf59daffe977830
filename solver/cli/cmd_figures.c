// SPDX-License-Identifier: GPL-3.0-or-later
// cavum figures: what the figures of merit are, without a cell.
#include <argp.h>
#include <errno.h>
#include <stdio.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/table.h"

static error_t parse(int key, char *value, struct argp_state *state) {
  if (key != ARGP_KEY_ARG) return ARGP_ERR_UNKNOWN;
  argp_error(state, "%s: no argument was expected", value);
  return EINVAL;
}

int cavum_cmd_figures(int argc, char **argv) {
  const struct argp argp = {
      .parser = parse,
      .doc =
          "Lists the figures of merit with their definitions and their keys in "
          "JSON and HDF5."
          "\vExamples:\n"
          "  cavum figures"};
  cavum_command_line_parse(&argp, argc, argv, NULL);
  cavum_table_print_figures(stdout);
  return 0;
}
