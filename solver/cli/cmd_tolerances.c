// SPDX-License-Identifier: GPL-3.0-or-later
// cavum tolerances: what tolerances of the dimensions of a cell make of its figures.
#include <argp.h>
#include <string.h>

#include "cavum/cavum.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/cores.h"
#include "cli/input_kind.h"
#include "cli/interrupt.h"
#include "cli/open_cell.h"
#include "cli/options.h"
#include "cli/process.h"
#include "cli/table_spread.h"

enum { MOST_SAMPLES = 1000000, MOST_SEED = 2147483647 };
enum { MOST_BANDS = CAVUM_SPREAD_BANDS_MOST };

typedef struct spread_arguments {
  cavum_common_arguments common;
  const char *cell_path, *tolerances_path;
  int mode, seed, num_bands;
  cavum_spread_band bands[MOST_BANDS];
  cavum_spread_options choices;
} spread_arguments;

enum { KEY_FROM = 256, KEY_SAMPLES, KEY_SEED, KEY_BAND, KEY_MODE };

static const struct argp_option option_table[] = {
    {"from", KEY_FROM, "TOLERANCES.yaml", 0,
     "File with the section tolerances (default: the cell file itself)", 0},
    {"band", KEY_BAND, "FIGURE=WIDTH", 0,
     "Also compute tolerances that keep two standard deviations of a figure within +- WIDTH, for "
     "example frequency_MHz=0.1. Separate several by commas, or repeat the option",
     0},
    {"samples", KEY_SAMPLES, "N", 0,
     "Solve N random shapes, 0 for none (default: 1000 where the linear spread is not accurate)",
     0},
    {"seed", KEY_SEED, "N", 0, "Seed of the random shapes (default: 0)", 0},
    {"mode", KEY_MODE, "N", 0, "Mode whose figures are meant, from 1 (default: 1)", 0},
    {"output", 'o', "SPREAD.hdf", 0,
     "Write everything to an HDF5 file, which cavum draw and report take", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write the spread as JSON ('-': to standard output, in place of the table)", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {0},
};

static void refuse_shape(const char *text, struct argp_state *state) {
  size_t length = strcspn(text, "=");
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    const char *key = cavum_geometry_describe((cavum_geometry_id)id).key;
    if (strlen(key) != length || strncmp(key, text, length) != 0) continue;
    argp_error(state, "--band: %s is a figure of the shape; a figure of a mode was expected", key);
  }
}

static void add_band(void *data, char *text, struct argp_state *state) {
  spread_arguments *arguments = data;
  cavum_spread_band band = {0};
  refuse_shape(text, state);
  if (arguments->num_bands == MOST_BANDS) {
    argp_error(state, "--band: at most %d figures", (int)MOST_BANDS);
  }
  cavum_option_set_figure(&band.figure, &band.band, "band", "FIGURE=WIDTH with a number above 0",
                          text, true, state);
  arguments->bands[arguments->num_bands++] = band;
}

static void check(const spread_arguments *arguments, struct argp_state *state) {
  cavum_option_require(arguments->cell_path, "a cell file", state);
  cavum_common_check(&arguments->common, NULL, state);
}

static error_t parse(int key, char *value, struct argp_state *state) {
  spread_arguments *arguments = state->input;
  switch (key) {
    case KEY_FROM:
      arguments->tolerances_path = value;
      break;
    case KEY_BAND:
      cavum_option_take_list(arguments, value, state, add_band);
      break;
    case KEY_SAMPLES:
      cavum_option_set_integer(&arguments->choices.num_samples, "samples", value, 0, MOST_SAMPLES,
                               state);
      break;
    case KEY_SEED:
      cavum_option_set_integer(&arguments->seed, "seed", value, 0, MOST_SEED, state);
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

static cavum_status read_tolerances(cavum_tolerances **tolerances,
                                    const spread_arguments *arguments, const cavum_cell *cell,
                                    cavum_error *error) {
  const char *path = arguments->tolerances_path;
  if (!path) {
    return cavum_tolerances_read_text(tolerances, cell, cell->text, strlen(cell->text),
                                      arguments->cell_path, error);
  }
  cavum_status status = cavum_tolerances_read_file(tolerances, cell, path, error);
  return cavum_input_explain(status, path, CAVUM_INPUT_SHOP | CAVUM_INPUT_CELL, error);
}

static cavum_status write_spread(const spread_arguments *arguments, const cavum_cell *cell,
                                 const cavum_spread *spread, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *json = NULL;
  if (arguments->common.output_path) {
    status = cavum_store_write_spread(arguments->common.output_path, spread, cell->title,
                                      arguments->bands, arguments->num_bands, error);
  }
  if (status == CAVUM_OK && arguments->common.json_path) {
    status = cavum_store_spread_bands_to_json(&json, spread, arguments->bands, arguments->num_bands,
                                              error);
    status = cavum_common_write_json(&arguments->common, status, &json, error);
  }
  if (status == CAVUM_OK && cavum_common_prints(&arguments->common)) {
    cavum_table_spread_print(stdout, cell->title, arguments->mode - 1, spread, arguments->bands,
                             arguments->num_bands);
  }
  return status;
}

static int run(const spread_arguments *arguments) {
  cavum_error error = {0};
  cavum_cell cell;
  cavum_tolerances *tolerances = NULL;
  cavum_spread *spread = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = cavum_interrupt_came;
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  cavum_outputs_read(&outputs, arguments->tolerances_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SPREAD, "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SPREAD_JSON, "--json", arguments->common.json_path);
  cavum_status status = cavum_open_cell(&cell, NULL, arguments->cell_path, &outputs, &error);
  if (status == CAVUM_OK) status = read_tolerances(&tolerances, arguments, &cell, &error);
  if (status == CAVUM_OK) {
    status = cavum_spread_make(&spread, &cell, tolerances, &arguments->choices, &options, &error);
  }
  if (cavum_interrupt_came(NULL)) {
    status = cavum_interrupt_check(&error);
  } else if (status == CAVUM_OK) {
    status = write_spread(arguments, &cell, spread, &error);
  }
  int exit_status = cavum_process_report(status, &error);
  cavum_spread_destroy(&spread);
  cavum_tolerances_destroy(&tolerances);
  cavum_cell_clear(&cell);
  return exit_status;
}

int cavum_cmd_tolerances(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "CELL.yaml",
      .doc =
          "Computes the spread of the figures of a cell from the tolerances of its dimensions, the "
          "share of each dimension in it, and tolerances that keep a figure within a band."
          "\vExamples:\n"
          "  cavum tolerances cell.yaml --band frequency_MHz=0.5\n"
          "  cavum tolerances cell.yaml --from shop.yaml --samples 1000\n"
          "  cavum tolerances cell.yaml -o spread.hdf\n\n"
          "Exit status: 0 done, 1 the computation failed, 2 bad input or usage, 3 stopped by a "
          "signal, nothing written."};
  spread_arguments arguments = {.mode = 1, .choices = cavum_spread_options_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  arguments.choices.mode = arguments.mode - 1;
  arguments.choices.seed = (uint64_t)arguments.seed;
  cavum_cores_use_one();
  return run(&arguments);
}
