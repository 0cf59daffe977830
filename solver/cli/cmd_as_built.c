// SPDX-License-Identifier: GPL-3.0-or-later
// cavum as-built: a measured wall against its drawing.
#include <argp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/units.h"
#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/cores.h"
#include "cli/interrupt.h"
#include "cli/open_cell.h"
#include "cli/options.h"
#include "cli/process.h"
#include "cli/table_as_built.h"

typedef struct as_built_arguments {
  cavum_common_arguments common;
  const char *path;
  cavum_as_built_choices choices;
} as_built_arguments;

enum { KEY_DRAWS = 256, KEY_SEED, KEY_SECTION, KEY_MODE };

static const struct argp_option option_table[] = {
    {"output", 'o', "BUILT.hdf", 0,
     "Write everything to an HDF5 file, which cavum draw and report take", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write the comparison as JSON ('-': to standard output, in place of the table)", 0},
    {"mode", KEY_MODE, "N", 0, "Mode whose figures are compared, from 1 (default: 1)", 0},
    {"section", KEY_SECTION, "MM", 0,
     "Length of the pieces of wall in the table (default: a twentieth of the wall)", 0},
    {"draws", KEY_DRAWS, "N", 0,
     "Also solve N random walls, each with another noise of the points and another error of the "
     "probe: gives the peak fields an uncertainty, and checks the other uncertainties",
     0},
    {"seed", KEY_SEED, "N", 0, "Seed of the random walls (default: 1)", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {0},
};

static void check(const as_built_arguments *arguments, struct argp_state *state) {
  cavum_option_require(arguments->path, "a cell file of kind measured", state);
  cavum_common_check(&arguments->common, NULL, state);
}

static void set_section(as_built_arguments *arguments, const char *text, struct argp_state *state) {
  char *end = NULL;
  double mm = strtod(text, &end);
  if (end == text || *end || !(mm > 0.0) || !(mm < 1e6)) {
    argp_error(state, "--section %s: expected a length in mm above 0", text);
  }
  arguments->choices.section_m = cavum_from_unit(mm, CAVUM_UNIT_MM);
}

static void set_seed(as_built_arguments *arguments, const char *text, struct argp_state *state) {
  int seed = 0;
  cavum_option_set_integer(&seed, "seed", text, 1, 2147483647, state);
  arguments->choices.seed = (uint64_t)seed;
}

static error_t parse(int key, char *value, struct argp_state *state) {
  as_built_arguments *arguments = state->input;
  switch (key) {
    case KEY_MODE:
      cavum_option_set_mode(&arguments->choices.mode, value, state);
      arguments->choices.mode--;  // people count from 1
      break;
    case KEY_SECTION:
      set_section(arguments, value, state);
      break;
    case KEY_DRAWS:
      cavum_option_set_integer(&arguments->choices.num_draws, "draws", value, 2,
                               CAVUM_AS_BUILT_DRAWS_MOST, state);
      break;
    case KEY_SEED:
      set_seed(arguments, value, state);
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->path, value, "cell file", state);
      break;
    case ARGP_KEY_END:
      check(arguments, state);
      break;
    default:
      return cavum_common_take(&arguments->common, key, value, state) ? 0 : ARGP_ERR_UNKNOWN;
  }
  return 0;
}

// The wall is read once more by what solves it: what it is read from must be known before.
static cavum_status check_outputs(const as_built_arguments *arguments, cavum_error *error) {
  cavum_cell cell;
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_AS_BUILT, "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_AS_BUILT_JSON, "--json", arguments->common.json_path);
  cavum_status status = cavum_open_cell(&cell, NULL, arguments->path, &outputs, error);
  cavum_cell_clear(&cell);
  return status;
}

static cavum_status write_all(const as_built_arguments *arguments, const cavum_as_built *built,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *json = NULL;
  if (arguments->common.output_path) {
    status = cavum_store_write_as_built(arguments->common.output_path, built, error);
  }
  if (status == CAVUM_OK && arguments->common.json_path) {
    status = cavum_store_as_built_to_json(&json, built, error);
    status = cavum_common_write_json(&arguments->common, status, &json, error);
  }
  if (status == CAVUM_OK && cavum_common_prints(&arguments->common)) {
    cavum_table_as_built_print(stdout, built);
  }
  return status;
}

// A comparison that did not reach its accuracy is written and printed too; it carries the label.
static int run(const as_built_arguments *arguments) {
  cavum_error error = {0}, output_error = {0};
  cavum_as_built *built = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = cavum_interrupt_came;
  cavum_status status = check_outputs(arguments, &error);
  if (status == CAVUM_OK) {
    status = cavum_as_built_run(&built, arguments->path, &arguments->choices, &options, &error);
  }
  if (cavum_interrupt_came(NULL)) {
    status = cavum_interrupt_check(&error);
  } else if (built) {
    cavum_status written = write_all(arguments, built, &output_error);
    if (written != CAVUM_OK) {
      status = written;
      error = output_error;
    }
  }
  int exit_status = cavum_process_report(status, &error);
  cavum_as_built_destroy(&built);
  return exit_status;
}

int cavum_cmd_as_built(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "CELL.yaml",
      .doc =
          "Solves a measured wall (contour: {kind: measured, ...}) and its drawing: the figures of "
          "both with the uncertainties of the measurement, and how much of the frequency change "
          "each piece of the wall causes.\vExamples:\n  cavum as-built built.yaml\n  cavum "
          "as-built built.yaml --draws 200 -o built.hdf\n  cavum draw built.hdf -o "
          "built.png\n\nExit status: 0 done, 1 the computation failed or its accuracy was not "
          "reached (the best comparison is written and labelled), 2 bad input or usage, 3 stopped "
          "by a signal, nothing written."};
  as_built_arguments arguments = {.choices = cavum_as_built_choices_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  cavum_cores_use_one();
  return run(&arguments);
}
