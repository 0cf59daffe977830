// SPDX-License-Identifier: GPL-3.0-or-later
// cavum steps: the frequency from the drawing to the cold cavity, both ways.
#include <argp.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/cores.h"
#include "cli/input_kind.h"
#include "cli/interrupt.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/table_steps.h"

typedef struct steps_arguments {
  cavum_common_arguments common;
  const char *path, *cell_path, *behind;
} steps_arguments;

enum { KEY_CELL = 256, KEY_BEHIND };

static const struct argp_option option_table[] = {
    {"output", 'o', "STEPS.hdf", 0,
     "Write everything to an HDF5 file, which cavum draw and report take", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write everything as JSON ('-': to standard output, in place of the table)", 0},
    {"cell", KEY_CELL, "CELL.yaml", 0,
     "Write the shape after the last step as a cell file, with its exact curves", 0},
    {"behind", KEY_BEHIND, "NAME", 0, "With --cell: the shape after this step instead", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {0},
};

static void check(const steps_arguments *arguments, struct argp_state *state) {
  cavum_option_require(arguments->path, "a step file", state);
  if (arguments->behind && !arguments->cell_path) argp_error(state, "--behind goes with --cell");
  cavum_common_check(&arguments->common, arguments->cell_path, state);
}

static error_t parse(int key, char *value, struct argp_state *state) {
  steps_arguments *arguments = state->input;
  switch (key) {
    case KEY_CELL:
      cavum_option_set_file(&arguments->cell_path, "--cell", value, state);
      break;
    case KEY_BEHIND:
      arguments->behind = value;
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->path, value, "step file", state);
      break;
    case ARGP_KEY_END:
      check(arguments, state);
      break;
    default:
      return cavum_common_take(&arguments->common, key, value, state) ? 0 : ARGP_ERR_UNKNOWN;
  }
  return 0;
}

// A shape has no gas and none of the changes that are of the frequency alone, which the table has.
static char *add_remark(const char *text, const cavum_step *step) {
  return cavum_format_text(
      "# The shape after the step '%s', in vacuum and without the steps that change the frequency "
      "alone\n# (air, change, anneal, coefficients). With these cavum steps has %.4f MHz after "
      "this step.\n%s",
      step->name, cavum_in_mhz(step->frequency_hz), text);
}

static cavum_status write_shape(const steps_arguments *arguments, const cavum_steps *steps,
                                const cavum_steps_result *result, cavum_error *error) {
  cavum_cell cell;
  char *text = NULL, *remarked = NULL;
  int last = result->num_steps - 1;
  int step = arguments->behind ? cavum_steps_find(steps, arguments->behind) : last;
  cavum_status status = cavum_steps_shape(&cell, steps, step, error);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_to_text(&text, &cell, error);
  if (status == CAVUM_OK) {
    remarked = add_remark(text, result->steps[step]);
    status = remarked ? cavum_store_write_text(arguments->cell_path, remarked, error)
                      : cavum_fail_memory(error);
  }
  free(remarked);
  free(text);
  cavum_cell_clear(&cell);
  return status;
}

static cavum_status write_all(const steps_arguments *arguments, const cavum_steps *steps,
                              const cavum_steps_result *result, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *json = NULL;
  if (arguments->common.output_path) {
    status = cavum_store_write_steps(arguments->common.output_path, result, error);
  }
  if (status == CAVUM_OK && arguments->common.json_path) {
    status = cavum_store_steps_to_json(&json, result, error);
    status = cavum_common_write_json(&arguments->common, status, &json, error);
  }
  if (status == CAVUM_OK && arguments->cell_path) {
    status = write_shape(arguments, steps, result, error);
  }
  if (status == CAVUM_OK && cavum_common_prints(&arguments->common)) {
    cavum_table_steps_print(stdout, result);
  }
  return status;
}

static cavum_status open_steps(cavum_steps **steps, const steps_arguments *arguments,
                               cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  cavum_process_reserve_memory();
  cavum_interrupt_catch();
  cavum_status status = cavum_steps_open(steps, arguments->path, error);
  status = cavum_input_explain(status, arguments->path, CAVUM_INPUT_CHAIN, error);
  if (status == CAVUM_OK) cavum_process_note(cavum_steps_note(*steps));
  if (status == CAVUM_OK && arguments->behind && cavum_steps_find(*steps, arguments->behind) < 0) {
    error->status = status = CAVUM_ERR_USAGE;
    snprintf(error->message, sizeof error->message, "--behind %.200s: no step has this name",
             arguments->behind);
  }
  if (status != CAVUM_OK) return status;
  cavum_outputs_read_all(&outputs, cavum_steps_files(*steps));
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_STEPS, "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_STEPS_JSON, "--json", arguments->common.json_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_TUNED_CELL, "--cell", arguments->cell_path);
  return cavum_outputs_check(&outputs, error);
}

static int run(const steps_arguments *arguments) {
  cavum_error error = {0};
  cavum_steps *steps = NULL;
  cavum_steps_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = cavum_interrupt_came;
  cavum_status status = open_steps(&steps, arguments, &error);
  if (status == CAVUM_OK) status = cavum_steps_run(&result, steps, &options, &error);
  if (cavum_interrupt_came(NULL)) {
    status = cavum_interrupt_check(&error);
  } else if (status == CAVUM_OK) {
    status = write_all(arguments, steps, result, &error);
  }
  int exit_status = cavum_process_report(status, &error);
  cavum_steps_result_destroy(&result);
  cavum_steps_close(&steps);
  return exit_status;
}

int cavum_cmd_steps(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "STEPS.yaml",
      .doc =
          "Computes the frequency after each step from the drawing to the cold cavity, and, back "
          "from the target after the last step, the frequency to aim for at each step, with "
          "uncertainties. Measured frequencies are entered in the same file.\vExamples:\n  cavum "
          "steps steps.yaml\n  cavum steps steps.yaml -o steps.hdf --json steps.json\n  cavum draw "
          "steps.hdf -o steps.png\n  cavum steps steps.yaml --cell etched.yaml --behind bulk\n\nIt "
          "computes numbers and is no safety function: acids, cryogens and vessels under pressure "
          "are handled by the rules of the site.\n\nExit status: 0 done, 1 the computation failed, "
          "2 bad input or usage, 3 stopped by a signal, nothing written."};
  steps_arguments arguments = {0};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  cavum_cores_use_one();
  return run(&arguments);
}
