// SPDX-License-Identifier: GPL-3.0-or-later
// cavum solve: reads a cell, solves it, prints the table, writes JSON and the result file.
#include <argp.h>
#include <string.h>

#include "base/threads.h"
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
#include "cli/solve_progress.h"
#include "cli/table.h"
#include "cli/table_requirements.h"

enum { LEAST_DEGREE = 3, LARGEST_DEGREE = 16, LARGEST_FIELD_ORDER = 16 };

typedef struct solve_arguments {
  cavum_common_arguments common;
  const char *cell_path;
  bool timings, all_cores;
  cavum_table_choice table;
  int field_order;
  cavum_solve_options options;
} solve_arguments;

enum {
  KEY_DEGREE = 256,
  KEY_REFINE,
  KEY_COUPLING,
  KEY_DERIVATIVES,
  KEY_WALL_DERIVATIVES,
  KEY_NO_SYMMETRY,
  KEY_FIELD_ORDER,
  KEY_BRIEF,
  KEY_ALL,
  KEY_ALL_DIGITS,
  KEY_DEFINITIONS,
  KEY_TIMINGS,
  KEY_ALL_CORES,
  KEY_WORK_LIMIT,
  KEY_MEMORY
};

static const struct argp_option option_table[] = {
    {"output", 'o', "RESULT.hdf", 0, "Write everything to one HDF5 file", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write the figures as JSON ('-': to standard output, in place of the table)", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {"all", KEY_ALL, NULL, 0, "Print every figure of each mode, mesh and convergence", 0},
    {"all-digits", KEY_ALL_DIGITS, NULL, 0,
     "Print all digits that are known, not only as many as the accuracy asked for has", 0},
    {"definitions", KEY_DEFINITIONS, NULL, 0, "Print the definitions of the figures", 0},
    {"brief", KEY_BRIEF, NULL, OPTION_HIDDEN, NULL, 0},  // earlier versions; now the table is brief
    {"coupling", KEY_COUPLING, "inner-cell", OPTION_ARG_OPTIONAL,
     "Also compute the cell-to-cell coupling k_cc, by solving with both ends electric and both "
     "ends magnetic; with =inner-cell for the cell without its tubes",
     1},
    {"derivatives", KEY_DERIVATIVES, NULL, 0,
     "Also compute the derivatives of all figures by each dimension of the cell file", 1},
    {"wall-derivatives", KEY_WALL_DERIVATIVES, NULL, 0,
     "With --derivatives: write to RESULT.hdf also the derivatives of E and H at each point of the "
     "wall by each dimension",
     1},
    {"degree", KEY_DEGREE, "N", 0,
     "Use this polynomial degree only, 3 to 16 (default: chosen for the accuracy asked for)", 1},
    {"refine", KEY_REFINE, "X", 0, "Divide all element sizes by X, 1/64 to 64", 1},
    {"no-symmetry", KEY_NO_SYMMETRY, NULL, 0, "Solve the whole of a mirror-symmetric cell", 1},
    {"field-order", KEY_FIELD_ORDER, "N", 0,
     "Order of the lattice of field values in each element of the HDF5 file, 0 (none) to 16 "
     "(default: fine enough to interpolate to about 1e-6)",
     1},
    {"all-cores", KEY_ALL_CORES, NULL, 0,
     "Use all cores where a mesh is large, from some 10 000 unknowns on; the results are the same",
     1},
    {"work-limit", KEY_WORK_LIMIT, "S", 0,
     "Stop with the best result so far after S seconds of work on one core (default: 60). Work is "
     "counted in operations, so the result does not depend on the machine. What would need more is "
     "refused",
     1},
    {"memory", KEY_MEMORY, "GB", 0,
     "Refuse what is estimated to need more than GB gigabytes of memory (default: four fifths of "
     "what the machine has)",
     1},
    {"timings", KEY_TIMINGS, NULL, 0, "Print the time of each step to standard error", 1},
    {0},
};

// Options that would change nothing were meant for another command line.
static void check(const solve_arguments *arguments, struct argp_state *state) {
  cavum_option_require(arguments->cell_path, "a cell file", state);
  if (arguments->field_order != CAVUM_FIELD_ORDER_CHOSEN && !arguments->common.output_path) {
    argp_error(state, "--field-order: needs -o");
  }
  const cavum_solve_options *options = &arguments->options;
  if (options->wall_derivatives && !(options->derivatives && arguments->common.output_path)) {
    argp_error(state, "--wall-derivatives: goes with --derivatives and -o only");
  }
  const cavum_table_choice *table = &arguments->table;
  if ((table->all || table->all_digits || table->definitions) &&
      !cavum_common_prints(&arguments->common)) {
    argp_error(state, "--%s: no table is printed with %s",
               table->all          ? "all"
               : table->all_digits ? "all-digits"
                                   : "definitions",
               cavum_common_json_on_screen(&arguments->common) ? "--json -" : "--quiet");
  }
}

static error_t parse(int key, char *value, struct argp_state *state) {
  solve_arguments *arguments = state->input;
  switch (key) {
    case KEY_BRIEF:
      break;
    case KEY_ALL:
      arguments->table.all = true;
      break;
    case KEY_ALL_DIGITS:
      arguments->table.all_digits = true;
      break;
    case KEY_DEFINITIONS:
      arguments->table.definitions = true;
      break;
    case KEY_TIMINGS:
      arguments->timings = true;
      break;
    case KEY_ALL_CORES:
      arguments->all_cores = true;
      break;
    case KEY_COUPLING:
      arguments->options.coupling = true;
      arguments->options.coupling_of_inner_cell = value != NULL;
      if (value && strcmp(value, "inner-cell") != 0) {
        argp_error(state, "--coupling=%s: the one word that is known is inner-cell", value);
      }
      break;
    case KEY_DERIVATIVES:
      arguments->options.derivatives = true;
      break;
    case KEY_WALL_DERIVATIVES:
      arguments->options.wall_derivatives = true;
      break;
    case KEY_NO_SYMMETRY:
      arguments->options.use_symmetry = false;
      break;
    case KEY_DEGREE:
      cavum_option_set_integer(&arguments->options.degree, "degree", value, LEAST_DEGREE,
                               LARGEST_DEGREE, state);
      break;
    case KEY_REFINE:
      cavum_option_set_refinement(&arguments->options.refinement, value, state);
      break;
    case KEY_WORK_LIMIT:
      cavum_option_set_seconds(&arguments->options.work_limit_s, "work-limit", value, state);
      break;
    case KEY_MEMORY:
      cavum_option_set_memory(&arguments->options.memory_limit_bytes, "memory", value, state);
      break;
    case KEY_FIELD_ORDER:
      cavum_option_set_integer(&arguments->field_order, "field-order", value, 0,
                               LARGEST_FIELD_ORDER, state);
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

static double in_ms(double time_s) { return cavum_in_unit(time_s, CAVUM_UNIT_MS); }

static void print_timings(const cavum_timings *timings) {
  fprintf(stderr,
          "contour %.3f ms, mesh %.3f ms, assembly %.3f ms, eigen %.3f ms, "
          "figures %.3f ms, total %.3f ms\n",
          in_ms(timings->contour_s), in_ms(timings->mesh_s), in_ms(timings->assembly_s),
          in_ms(timings->eigen_s), in_ms(timings->figures_s), in_ms(timings->total_s));
}

// The result file first: if it cannot be written, nothing else is.
static cavum_status write_outputs(const solve_arguments *arguments, const cavum_result *result,
                                  const cavum_cell *cell, const cavum_requirements *requirements,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *json = NULL;
  if (arguments->common.output_path) {
    status = cavum_store_write_result(arguments->common.output_path, result, cell,
                                      &arguments->options, error);
  }
  if (status == CAVUM_OK && arguments->common.json_path) {
    status = cavum_store_cell_result_to_json(&json, result, cell, error);
    status = cavum_common_write_json(&arguments->common, status, &json, error);
  }
  if (status == CAVUM_OK && cavum_common_prints(&arguments->common)) {
    cavum_table_print(stdout, result, cell, &arguments->table);
    cavum_table_requirements_print(stdout, requirements, cell, result, arguments->table.all_digits);
  }
  if (status == CAVUM_OK && arguments->timings) print_timings(&result->timings);
  return status;
}

// A degree that was asked for is solved and no other, which the library takes as done; who runs a
// command asked for the accuracy of the cell file too.
static cavum_status check_accuracy(const cavum_result *result, int degree, cavum_error *error) {
  if (result->accuracy_reached) return CAVUM_OK;
  error->status = CAVUM_ERR_NOT_CONVERGED;
  snprintf(error->message, sizeof error->message,
           "the accuracy asked for was not reached with degree %d; without --degree one is chosen "
           "that does",
           degree);
  return error->status;
}

// What does nothing to the elements of a file is an error.
static cavum_status check_mesh_file(const solve_arguments *arguments, const cavum_cell *cell,
                                    cavum_error *error) {
  if (cell->kind != CAVUM_CONTOUR_MESH_FILE) return CAVUM_OK;
  const char *why = NULL;
  if (arguments->options.derivatives) {
    why = "--derivatives: a mesh file has no dimensions to differentiate by";
  } else if (arguments->options.refinement > 0.0) {
    why = "--refine: the elements of a mesh file stay as they are";
  }
  if (!why) return CAVUM_OK;
  error->status = CAVUM_ERR_USAGE;
  snprintf(error->message, sizeof error->message, "%s: %s", arguments->cell_path, why);
  return error->status;
}

// A result that did not reach its accuracy is written and printed too; it carries the label.
static int run(const solve_arguments *arguments) {
  cavum_error error = {0}, output_error = {0};
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_requirements *requirements = NULL;
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_RESULT, "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_RESULT_JSON, "--json", arguments->common.json_path);
  cavum_status status =
      cavum_open_cell(&cell, &requirements, arguments->cell_path, &outputs, &error);
  if (status == CAVUM_OK) status = check_mesh_file(arguments, &cell, &error);
  if (status == CAVUM_OK) {
    if (!arguments->common.quiet) cavum_solve_progress_begin();
    status = cavum_solve(&result, &cell, &arguments->options, &error);
    cavum_solve_progress_end();
  }
  if (status == CAVUM_OK) status = check_accuracy(result, arguments->options.degree, &error);
  // Stopped means that nothing is written, also when the signal came at the very end.
  if (cavum_interrupt_came(NULL)) {
    status = cavum_interrupt_check(&error);
  } else if (result) {
    cavum_status written = write_outputs(arguments, result, &cell, requirements, &output_error);
    if (written != CAVUM_OK) {
      status = written;
      error = output_error;
    }
  }
  int exit_status = cavum_process_report(status, &error);
  cavum_requirements_destroy(&requirements);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return exit_status;
}

int cavum_cmd_solve(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "CELL.yaml",
      .doc =
          "Computes the modes of a cell and their figures of merit, each with its numerical "
          "uncertainty."
          "\vExamples:\n"
          "  cavum solve cell.yaml\n"
          "  cavum solve cell.yaml --all --definitions\n"
          "  cavum solve cell.yaml -o cell.hdf --json cell.json\n"
          "  cavum solve mid-cell.yaml --coupling\n"
          "  cavum solve cell.yaml --derivatives\n\n"
          "Exit status: 0 done, 1 the accuracy asked for was not reached or the computation "
          "failed, 2 bad input or usage, 3 stopped by a signal, nothing written."};
  solve_arguments arguments = {.options = cavum_solve_options_default(),
                               .field_order = CAVUM_FIELD_ORDER_CHOSEN};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  arguments.options.watcher = cavum_solve_progress_tell;
  arguments.options.stop = cavum_interrupt_came;
  arguments.options.profiles = arguments.common.output_path != NULL;
  arguments.options.field_order = arguments.common.output_path ? arguments.field_order : 0;
  cavum_cores_use_one();
  if (arguments.all_cores) cavum_threads_set(cavum_cores_count());
  return run(&arguments);
}
