// SPDX-License-Identifier: GPL-3.0-or-later
// cavum tune: changes dimensions of a cell until its figures are what was asked for.
#include <argp.h>
#include <string.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/cores.h"
#include "cli/interrupt.h"
#include "cli/open_cell.h"
#include "cli/options.h"
#include "cli/process.h"
#include "cli/solve_progress.h"
#include "cli/table_tune.h"
#include "store/tune_json.h"

typedef struct tune_arguments {
  cavum_common_arguments common;
  const char *cell_path;
  int mode;
  int num_aims, num_shape_aims, num_dimensions;
  cavum_tune_aim aims[CAVUM_TUNE_MOST_FIGURES];
  cavum_tune_shape_aim shape_aims[CAVUM_TUNE_MOST_FIGURES];
  cavum_tune_dimension dimensions[CAVUM_TUNE_MOST_DIMENSIONS];
} tune_arguments;

enum { KEY_SET = 256, KEY_BY, KEY_MODE };

static const struct argp_option option_table[] = {
    {"set", KEY_SET, "FIGURE=VALUE", 0,
     "Value that a figure is to have, for example frequency_MHz=1300. Names are the keys of JSON "
     "with their units, also those of the shape: wall_angle_deg=8. Separate several by commas, or "
     "repeat the option",
     0},
    {"by", KEY_BY, "NAME[=LOW:HIGH]", 0,
     "Dimension that may change, by its name in the cell file, with bounds (default: half to twice "
     "its value). Give at least as many dimensions as figures; with more, the smallest change is "
     "taken",
     0},
    {"mode", KEY_MODE, "N", 0, "Mode whose figures are meant, from 1 (default: 1)", 0},
    {"output", 'o', "TUNED.yaml", 0,
     "Write the tuned cell file: the old file with the new numbers in it", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write dimensions and figures before and after as JSON, also where the figures were not "
     "reached ('-': to standard output, in place of the table)",
     0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {0},
};

// KEY=VALUE of a figure of the shape; false: another key.
static bool take_shape_aim(tune_arguments *arguments, const char *text, struct argp_state *state) {
  const char *sign = strchr(text, '=');
  size_t length = sign ? (size_t)(sign - text) : 0;
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES && sign; id++) {
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
    double value;
    if (strlen(info.key) != length || strncmp(info.key, text, length) != 0) continue;
    if (!cavum_process_read_number(&value, sign + 1)) {
      argp_error(state, "--set %s: expected FIGURE=VALUE with a number", text);
    }
    arguments->shape_aims[arguments->num_shape_aims++] =
        (cavum_tune_shape_aim){(cavum_geometry_id)id, value * info.unit_si};
    return true;
  }
  return false;
}

static bool is_sign(char c) { return c == '\0' || c == '=' || c == ':'; }

// Blanks at the ends and about a sign, as they are typed between quotes, mean nothing; others stay.
static void close_up(char *text) {
  char *to = text;
  for (const char *from = text; *from; from++) {
    bool behind = to == text || is_sign(to[-1]);
    if (*from == ' ' && (behind || is_sign(from[strspn(from, " ")]))) continue;
    *to++ = *from;
  }
  *to = '\0';
}

static void add_aim(void *data, char *text, struct argp_state *state) {
  tune_arguments *arguments = data;
  close_up(text);
  cavum_tune_aim aim = {0};
  if (arguments->num_aims + arguments->num_shape_aims == CAVUM_TUNE_MOST_FIGURES) {
    argp_error(state, "--set: at most %d figures", (int)CAVUM_TUNE_MOST_FIGURES);
  }
  if (take_shape_aim(arguments, text, state)) return;
  if (strncmp(text, "k_cc=", strlen("k_cc=")) == 0) {
    argp_error(state,
               "--set k_cc: is of the cell and not of a mode, and is not tuned; a goal file of "
               "cavum optimise may hold it within limits");
  }
  cavum_option_set_figure(&aim.figure, &aim.value, "set", "FIGURE=VALUE with a number", text, false,
                          state);
  arguments->aims[arguments->num_aims++] = aim;
}

// NAME or NAME=LOW:HIGH; `text` is cut and kept.
static void add_dimension(void *data, char *text, struct argp_state *state) {
  tune_arguments *arguments = data;
  close_up(text);
  cavum_tune_dimension dimension = {.key = text};
  char *sign = strchr(text, '='), *colon = sign ? strchr(sign, ':') : NULL;
  if (colon) *colon = '\0';
  if (text[0] == '\0' || sign == text ||
      (sign && (!colon || !cavum_process_read_number(&dimension.low, sign + 1) ||
                !cavum_process_read_number(&dimension.high, colon + 1)))) {
    if (colon) *colon = ':';
    argp_error(state, "--by %s: expected NAME, or NAME=LOW:HIGH with two numbers", text);
  }
  if (colon && !(dimension.low < dimension.high)) {
    *colon = ':';
    argp_error(state, "--by %s: expected LOW below HIGH", text);
  }
  if (sign) *sign = '\0';
  if (arguments->num_dimensions == CAVUM_TUNE_MOST_DIMENSIONS) {
    argp_error(state, "--by: at most %d dimensions", (int)CAVUM_TUNE_MOST_DIMENSIONS);
  }
  arguments->dimensions[arguments->num_dimensions++] = dimension;
}

static void check(const tune_arguments *arguments, struct argp_state *state) {
  cavum_option_require(arguments->cell_path, "a cell file", state);
  if (arguments->num_aims + arguments->num_shape_aims == 0)
    argp_error(state, "expected --set with a figure and its value");
  if (arguments->num_dimensions == 0) argp_error(state, "expected --by with a dimension");
  cavum_common_check(&arguments->common, NULL, state);
}

static error_t parse(int key, char *value, struct argp_state *state) {
  tune_arguments *arguments = state->input;
  switch (key) {
    case KEY_SET:
      cavum_option_take_list(arguments, value, state, add_aim);
      break;
    case KEY_BY:
      cavum_option_take_list(arguments, value, state, add_dimension);
      break;
    case KEY_MODE:
      cavum_option_set_mode(&arguments->mode, value, state);
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->cell_path, value, "cell file", state);
      break;
    case ARGP_KEY_END:
      check(arguments, state);
      break;
    default:
      return cavum_common_take(&arguments->common, key, value, state) ? 0 : ARGP_ERR_UNKNOWN;
  }
  return 0;
}

static cavum_tune_plan plan_of(const tune_arguments *arguments) {
  cavum_tune_plan plan = cavum_tune_plan_default();
  plan.mode = arguments->mode - 1;
  plan.num_aims = arguments->num_aims;
  plan.aims = arguments->aims;
  plan.num_shape_aims = arguments->num_shape_aims;
  plan.shape_aims = arguments->shape_aims;
  plan.num_dimensions = arguments->num_dimensions;
  plan.dimensions = arguments->dimensions;
  plan.name = arguments->cell_path;
  return plan;
}

static cavum_status tune(cavum_tune_outcome **outcome, const tune_arguments *arguments,
                         const cavum_cell *cell, cavum_error *error) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_tune_plan plan = plan_of(arguments);
  options.watcher = cavum_solve_progress_tell;
  options.stop = cavum_interrupt_came;
  if (!arguments->common.quiet) cavum_solve_progress_begin();
  cavum_status status = cavum_tune_figures(outcome, cell, &plan, &options, error);
  cavum_solve_progress_end();
  return status;
}

// What came nearest is told, but it is no tuned cell: no file of it is written.
static cavum_status write_outcome(const tune_arguments *arguments, const cavum_cell *cell,
                                  const cavum_tune_outcome *outcome, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (outcome->met && arguments->common.output_path) {
    status = cavum_store_write_text(arguments->common.output_path, outcome->cell_text, error);
  }
  cavum_tune_plan plan = plan_of(arguments);
  if (status == CAVUM_OK && arguments->common.json_path) {
    char *json = NULL;
    status = cavum_tune_json_write(&json, outcome, &plan, error);
    status = cavum_common_write_json(&arguments->common, status, &json, error);
  }
  if (status != CAVUM_OK || !cavum_common_prints(&arguments->common)) return status;
  cavum_table_tune_print(stdout, outcome, &plan, cell);
  return CAVUM_OK;
}

static int run(const tune_arguments *arguments) {
  cavum_error error = {0}, output_error = {0};
  cavum_cell cell;
  cavum_tune_outcome *outcome = NULL;
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_TUNED_CELL, "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_TUNE_JSON, "--json", arguments->common.json_path);
  cavum_status status = cavum_open_cell(&cell, NULL, arguments->cell_path, &outputs, &error);
  if (status == CAVUM_OK) status = tune(&outcome, arguments, &cell, &error);
  if (cavum_interrupt_came(NULL)) {
    status = cavum_interrupt_check(&error);
  } else if (outcome) {
    cavum_status written = write_outcome(arguments, &cell, outcome, &output_error);
    if (written != CAVUM_OK) {
      status = written;
      error = output_error;
    }
  }
  int exit_status = cavum_process_report(status, &error);
  cavum_tune_outcome_destroy(&outcome);
  cavum_cell_clear(&cell);
  return exit_status;
}

int cavum_cmd_tune(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "CELL.yaml",
      .doc =
          "Changes dimensions of a cell until its figures have the values asked for, within their "
          "uncertainties, and prints what else changed."
          "\vExamples:\n"
          "  cavum tune cell.yaml --set frequency_MHz=1300 \\\n"
          "    --by equator_radius_mm -o tuned.yaml\n"
          "  cavum tune cell.yaml --set frequency_MHz=1300,geometry_factor_ohm=270 \\\n"
          "    --by equator_radius_mm=95:130,iris_radius_mm\n"
          "  cavum tune cell.yaml --set frequency_MHz=1300 --by equator_radius_mm --json -\n\n"
          "Exit status: 0 done, 1 the figures cannot be reached within the bounds (what came "
          "nearest "
          "is printed, no cell file is written) or the accuracy asked for was not reached, 2 bad "
          "input "
          "or usage, 3 stopped by a signal, nothing written."};
  tune_arguments arguments = {.mode = 1};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  cavum_cores_use_one();
  return run(&arguments);
}
