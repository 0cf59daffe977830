// SPDX-License-Identifier: GPL-3.0-or-later
// cavum figures: what the figures of merit are, without a cell.
#include <argp.h>
#include <errno.h>
#include <stdio.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/table.h"
#include "store/figure_json.h"

static const struct argp_option option_table[] = {
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write key, unit, name and definition of each as JSON ('-': to standard output, in place of "
     "the list)",
     0},
    {"quiet", 'q', NULL, 0, "Print no list", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {0}};

static error_t parse(int key, char *value, struct argp_state *state) {
  cavum_common_arguments *common = state->input;
  if (cavum_common_take(common, key, value, state)) return 0;
  if (key == ARGP_KEY_END) cavum_common_check(common, NULL, state);
  if (key != ARGP_KEY_ARG) return ARGP_ERR_UNKNOWN;
  argp_error(state, "%s: no argument was expected", value);
  return EINVAL;
}

static cavum_status write_json(const cavum_common_arguments *common, cavum_error *error) {
  char *text = NULL;
  cavum_outputs outputs = {.overwrite = common->overwrite};
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_FIGURES_JSON, "--json", common->json_path);
  cavum_status status = cavum_outputs_check(&outputs, error);
  if (status != CAVUM_OK) return status;
  status = cavum_figures_json_write(&text, error);
  return cavum_common_write_json(common, status, &text, error);
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
          "  cavum figures --json -\n"
          "  cavum figures --json figures.json"};
  cavum_common_arguments common = {0};
  cavum_error error = {0};
  cavum_command_line_parse(&argp, argc, argv, &common);
  cavum_status status = common.json_path ? write_json(&common, &error) : CAVUM_OK;
  if (status == CAVUM_OK && cavum_common_prints(&common)) cavum_table_print_figures(stdout);
  return cavum_process_report(status, &error);
}
