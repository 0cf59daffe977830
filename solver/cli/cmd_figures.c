// SPDX-License-Identifier: GPL-3.0-or-later
// cavum figures: what the figures of merit are, without a cell.
#include <argp.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/process.h"
#include "cli/table.h"
#include "store/figure_json.h"

enum { KEY_JSON = 256 };

static const struct argp_option option_table[] = {
    {"json", KEY_JSON, NULL, 0, "Print key, unit, name and definition of each as JSON", 0}, {0}};

static error_t parse(int key, char *value, struct argp_state *state) {
  bool *json = state->input;
  if (key == KEY_JSON) {
    *json = true;
    return 0;
  }
  if (key != ARGP_KEY_ARG) return ARGP_ERR_UNKNOWN;
  argp_error(state, "%s: no argument was expected", value);
  return EINVAL;
}

static int print_json(void) {
  char *text = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_figures_json_write(&text, &error);
  if (status == CAVUM_OK) fputs(text, stdout);
  free(text);
  return cavum_process_report(status, &error);
}

int cavum_cmd_figures(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .doc =
          "Lists the figures of merit with their definitions and their keys in "
          "JSON and HDF5."
          "\vExamples:\n"
          "  cavum figures\n"
          "  cavum figures --json"};
  bool json = false;
  cavum_command_line_parse(&argp, argc, argv, &json);
  if (json) return print_json();
  cavum_table_print_figures(stdout);
  return 0;
}
