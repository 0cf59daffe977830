// SPDX-License-Identifier: GPL-3.0-or-later
// cavum optimise: the best shape for a goal.
#include <argp.h>
#include <stdlib.h>
#include <string.h>

#include "base/utf8.h"
#include "cavum/cavum.h"
#include "cell/limits.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/cores.h"
#include "cli/input_kind.h"
#include "cli/interrupt.h"
#include "cli/optimise_front.h"
#include "cli/optimise_progress.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/stopped.h"
#include "cli/table_optimum.h"

typedef struct optimise_arguments {
  cavum_common_arguments common;
  const char *goal_path, *best_path;
  int workers;
  int64_t part, num_parts;  // num_parts 0: no part
  bool gather, keep_parts;
} optimise_arguments;

enum { KEY_CELL = 256, KEY_WORKERS, KEY_PART, KEY_GATHER, KEY_KEEP_PARTS, MOST_WORKERS = 64 };

static const struct argp_option option_table[] = {
    {"output", 'o', "BEST.hdf", 0,
     "Write the result of the best cell, as cavum solve --derivatives does, and the search that "
     "led to it; of a front all its cells, as cavum scan does",
     0},
    {"cell", KEY_CELL, "BEST.yaml", 0,
     "Write the best cell file: the base cell with the new numbers. Other cells that share the "
     "dimensions are written to BEST-NAME.yaml, and with a free wall the best two ellipses to "
     "BEST-two-ellipse.yaml",
     0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write everything as JSON: dimensions, limits with their multipliers, starts, the path of the "
     "search; '-' prints it in place of the table",
     0},
    {"workers", KEY_WORKERS, "N", 0,
     "Threads that search from the starts (default: one for each core, at most 64)", 0},
    {"part", KEY_PART, "K/N", 0,
     "Compute only part K of N (its starts, or its segment of a front), store it beside the file "
     "of -o, and gather nothing",
     0},
    {"gather", KEY_GATHER, NULL, 0, "Only gather the parts into the best shape or the front", 0},
    {"keep-parts", KEY_KEEP_PARTS, NULL, 0, "Keep the parts after they are gathered", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Show no progress, print no table", 0},
    {0},
};

// Parts stand beside the file that they become; only what is gathered has results.
static void check_parts(const optimise_arguments *a, struct argp_state *state) {
  bool part = a->num_parts > 0;
  if (part && a->gather) argp_error(state, "--part and --gather exclude each other");
  if ((part || a->gather) && !a->common.output_path) argp_error(state, "expected -o BEST.hdf");
  if (a->num_parts > CAVUM_OPTIMISE_MOST_PARTS) {
    argp_error(state, "--part: at most %d parts", CAVUM_OPTIMISE_MOST_PARTS);
  }
  if (part && (a->best_path || a->common.json_path)) {
    argp_error(state, "--%s: is for a whole search or --gather only",
               a->best_path ? "cell" : "json");
  }
  if (a->keep_parts && !a->gather) argp_error(state, "--keep-parts: is for --gather only");
}

static error_t parse(int key, char *value, struct argp_state *state) {
  optimise_arguments *arguments = state->input;
  switch (key) {
    case KEY_CELL:
      cavum_option_set_file(&arguments->best_path, "--cell", value, state);
      break;
    case KEY_WORKERS:
      cavum_option_set_integer(&arguments->workers, "workers", value, 1, MOST_WORKERS, state);
      break;
    case KEY_PART:
      cavum_option_set_part(&arguments->part, &arguments->num_parts, value, state);
      break;
    case KEY_GATHER:
      arguments->gather = true;
      break;
    case KEY_KEEP_PARTS:
      arguments->keep_parts = true;
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->goal_path, value, "goal file", state);
      break;
    case ARGP_KEY_END:
      cavum_option_require(arguments->goal_path, "a goal file", state);
      cavum_common_check(&arguments->common, arguments->best_path, state);
      check_parts(arguments, state);
      break;
    default:
      return cavum_common_take(&arguments->common, key, value, state) ? 0 : ARGP_ERR_UNKNOWN;
  }
  return 0;
}

// What the result is of, from the title of the base cell.
static cavum_status name_result(cavum_cell *cell, const cavum_optimum *optimum,
                                cavum_error *error) {
  const char *what = optimum->end == CAVUM_OPTIMUM_STOPPED ? "Best shape so far"
                     : optimum->met                        ? "Best shape"
                     : optimum->within_limits              ? "Best shape found, not proven best,"
                                                           : "On the way to the best shape";
  // A title that fills its room is cut: a search is not lost by its name.
  char of[CAVUM_TITLE_LONGEST + 1];
  size_t size = strlen(cell->title) + 64;
  char *title = malloc(size);
  if (!title) return cavum_process_fail(error, CAVUM_ERR_MEMORY, "title", "out of memory");
  cavum_utf8_cut(of, sizeof of - strlen(what) - strlen(" of "), cell->title);
  snprintf(title, size, "%s%s%s", what, of[0] ? " of " : "", of);
  free(cell->title);
  cell->title = title;
  return CAVUM_OK;
}

// The best cell solved again with everything that a result file holds.
static cavum_status write_result(const char *path, const cavum_goal *goal,
                                 const cavum_optimum *optimum, cavum_error *error) {
  cavum_cell cell;
  cavum_result *result = NULL;
  // One solve, which a stop does not keep from being written.
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = options.profiles = true;
  options.coupling = optimum->result->coupling.state == CAVUM_FIGURE_PRESENT;
  options.coupling_of_inner_cell = options.coupling && optimum->result->coupling_without_tubes;
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  cavum_status status = cavum_cell_read_text(&cell, optimum->cell_text, strlen(optimum->cell_text),
                                             cavum_goal_cell_path(goal), error);
  if (status != CAVUM_OK) return status;
  status = name_result(&cell, optimum, error);
  if (status == CAVUM_OK) status = cavum_solve(&result, &cell, &options, error);
  // As of solve, what did not reach its accuracy is written as well.
  if (status == CAVUM_OK || (status == CAVUM_ERR_NOT_CONVERGED && result)) {
    cavum_status written =
        cavum_store_write_optimum(path, optimum, goal, result, &cell, &options, error);
    if (written != CAVUM_OK) status = written;
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return status;
}

enum { PATH_SIZE = 4096 };
// What the file of the best two ellipses is called beside that of a free wall.
static const char TWO_ELLIPSE[] = "two-ellipse";

// Where the file of another cell goes: its name before the ending of that of the first.
static void write_other_path(char path[PATH_SIZE], const char *first, const char *name) {
  const char *slash = strrchr(first, '/'), *dot = strrchr(first, '.');
  size_t length = dot && (!slash || dot > slash) ? (size_t)(dot - first) : strlen(first);
  snprintf(path, PATH_SIZE, "%.*s-%s%s", (int)length, first, name, first + length);
}

static cavum_status write_cells(const char *path, const cavum_optimum *optimum,
                                cavum_error *error) {
  cavum_status status = cavum_store_write_text(path, optimum->cell_text, error);
  for (int c = 0; c < optimum->num_others && status == CAVUM_OK; c++) {
    char other[PATH_SIZE];
    write_other_path(other, path, optimum->others[c].name);
    status = cavum_store_write_text(other, optimum->others[c].cell_text, error);
  }
  if (status == CAVUM_OK && optimum->free_wall.two_ellipse_text) {
    char other[PATH_SIZE];
    write_other_path(other, path, TWO_ELLIPSE);
    status = cavum_store_write_text(other, optimum->free_wall.two_ellipse_text, error);
  }
  return status;
}

// A shape within the limits is written, also where it is not proven to be the best: its files say
// so, and so is where a search ran out of solves or was stopped, from which another one can go on.
// Where no shape within the limits was found, what breaks them is told, but no cell or result of it
// is written.
static bool is_file(const cavum_optimum *optimum) {
  return optimum->met || optimum->within_limits || optimum->end == CAVUM_OPTIMUM_OUT_OF_SOLVES ||
         optimum->end == CAVUM_OPTIMUM_STOPPED;
}

static cavum_status write_optimum(const optimise_arguments *arguments, const cavum_goal *goal,
                                  const cavum_optimum *optimum, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool is_shape = is_file(optimum);
  // The cells first: they are what cost the time.
  if (is_shape && arguments->best_path) status = write_cells(arguments->best_path, optimum, error);
  if (status == CAVUM_OK && is_shape && arguments->common.output_path) {
    status = write_result(arguments->common.output_path, goal, optimum, error);
  }
  if (status == CAVUM_OK && arguments->common.json_path) {
    char *json = NULL;
    status = cavum_store_optimum_to_json(&json, optimum, error);
    status = cavum_common_write_json(&arguments->common, status, &json, error);
  }
  if (status != CAVUM_OK || !cavum_common_prints(&arguments->common)) return status;
  cavum_table_optimum_print(stdout, optimum, cavum_goal_title(goal));
  return CAVUM_OK;
}

static cavum_status check_files(const optimise_arguments *arguments, const cavum_goal *goal,
                                cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite};
  char others[CAVUM_GOAL_CELLS_MOST][PATH_SIZE];
  bool front = cavum_goal_is_front(goal);
  if (front && (arguments->best_path || arguments->common.json_path)) {
    return cavum_process_fail(error, CAVUM_ERR_USAGE, arguments->best_path ? "--cell" : "--json",
                              "a front has many best cells: -o writes them");
  }
  cavum_outputs_write(&outputs, front ? CAVUM_OUTPUT_FRONT : CAVUM_OUTPUT_OPTIMUM, "-o",
                      arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_TUNED_CELL, "--cell", arguments->best_path);
  for (int c = 1; arguments->best_path && c < cavum_goal_num_cells(goal); c++) {
    write_other_path(others[c], arguments->best_path, cavum_goal_cell_name(goal, c));
    cavum_outputs_write(&outputs, CAVUM_OUTPUT_TUNED_CELL, "--cell", others[c]);
  }
  if (arguments->best_path && cavum_goal_has_free_wall(goal)) {
    write_other_path(others[0], arguments->best_path, TWO_ELLIPSE);
    cavum_outputs_write(&outputs, CAVUM_OUTPUT_TUNED_CELL, "--cell", others[0]);
  }
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_OPTIMUM_JSON, "--json", arguments->common.json_path);
  cavum_outputs_read_all(&outputs, cavum_goal_files(goal));
  return cavum_outputs_check(&outputs, error);
}

// Searches, computes a part, or gathers.
static cavum_status optimise(cavum_optimum **optimum, const optimise_arguments *a, cavum_goal *goal,
                             cavum_error *error) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_optimise_teller teller;
  options.watcher = cavum_optimise_tell_solve;
  options.watcher_data = &teller;
  options.stop = cavum_interrupt_came;
  int workers = a->workers > 0 ? a->workers : cavum_cores_count();
  const char *output = a->common.output_path;
  cavum_status status = cavum_goal_set_threads(goal, workers, error);
  if (status != CAVUM_OK) return status;
  cavum_optimise_tell_begin(&teller, a->common.quiet);
  status = cavum_goal_set_watcher(goal, cavum_optimise_tell, &teller, error);
  if (status != CAVUM_OK) return status;
  status = a->num_parts > 0
               ? cavum_optimise_part(goal, output, a->part, a->num_parts, &options, error)
           : a->gather ? cavum_optimise_gather(optimum, goal, output, &options, error)
                       : cavum_optimise(optimum, goal, &options, error);
  cavum_optimise_tell_end(&teller);
  return status;
}

// Prints and writes what was found. Parts go once their result is written.
static cavum_status hand_over(cavum_status status, const optimise_arguments *arguments,
                              const cavum_goal *goal, const cavum_optimum *optimum,
                              cavum_error *error) {
  cavum_error output_error = {0};
  optimise_arguments own = *arguments, *a = &own;
  if (status == CAVUM_ERR_STOPPED) {
    const char **const names[] = {&a->best_path, &a->common.output_path, &a->common.json_path};
    cavum_stopped_tell_files(names, 3, a->common.overwrite, error);
  }
  cavum_status written = write_optimum(a, goal, optimum, &output_error);
  bool complete = (optimum->met || optimum->within_limits) && status != CAVUM_ERR_STOPPED;
  if (written == CAVUM_OK && complete && a->gather && !a->keep_parts) {
    written = cavum_scan_records_remove(a->common.output_path, &output_error);
  }
  if (written == CAVUM_OK) return status;
  *error = output_error;
  return written;
}

static int run(const optimise_arguments *arguments) {
  cavum_error error = {0};
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  cavum_interrupt_catch();
  cavum_status status = cavum_goal_open(&goal, arguments->goal_path, &error);
  status = cavum_input_explain(status, arguments->goal_path, CAVUM_INPUT_GOAL, &error);
  if (status == CAVUM_OK) status = check_files(arguments, goal, &error);
  for (int c = 0; status == CAVUM_OK && c < cavum_goal_num_cells(goal); c++) {
    cavum_process_note(cavum_goal_note(goal, c));
  }
  bool front = status == CAVUM_OK && cavum_goal_is_front(goal) && arguments->num_parts == 0;
  if (front) {
    const cavum_optimise_front_choices choices = {.goal_path = arguments->goal_path,
                                                  .output = arguments->common.output_path,
                                                  .gather = arguments->gather,
                                                  .keep_parts = arguments->keep_parts,
                                                  .overwrite = arguments->common.overwrite,
                                                  .quiet = arguments->common.quiet};
    status = cavum_optimise_front_run(goal, &choices, &error);
  } else if (status == CAVUM_OK) {
    status = optimise(&optimum, arguments, goal, &error);
  }
  if (optimum) {
    status = hand_over(status, arguments, goal, optimum, &error);
  } else if (status == CAVUM_ERR_STOPPED && !front) {
    status = cavum_interrupt_check(&error);
  }
  int exit_status = cavum_process_report(status, &error);
  cavum_optimum_destroy(&optimum);
  cavum_goal_close(&goal);
  return exit_status;
}

int cavum_cmd_optimise(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "GOAL.yaml",
      .doc =
          "Searches for the best shape: varies dimensions within bounds to make a figure, or a "
          "product of figures, least or largest, with limits on other figures and on the shape, "
          "and with the frequency held. Prints the best dimensions and figures, which limits are "
          "active and what each costs, and how well the first-order conditions are met. A goal "
          "with a front computes the trade-off between two or three figures.\vExamples:\n  cavum "
          "optimise goal.yaml\n  cavum optimise goal.yaml -o best.hdf --cell best.yaml\n  cavum "
          "optimise front.yaml -o front.hdf\n  cavum optimise goal.yaml -o best.hdf --part 3/8   "
          "(then --gather)\n\nExit status: 0 done. 1 no proven best shape (the best shape within "
          "the limits is written and labelled, or the last one where the search ran out of solves; "
          "where the limits cannot be met, nothing is written), or no way of rounding to the steps "
          "keeps the limits (the best shape before rounding is written and labelled), or the "
          "search for a free wall failed (the best two ellipses are written), or parts are "
          "missing. 2 bad input or usage. 3 stopped by a signal: the best shape so far, or the "
          "points of a front that were found, are printed, written and labelled (an older file is "
          "kept without --overwrite); a part keeps the starts that ended, and the same command "
          "continues."};
  optimise_arguments arguments = {0};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  cavum_cores_use_one();
  return run(&arguments);
}
