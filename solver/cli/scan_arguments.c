// SPDX-License-Identifier: GPL-3.0-or-later
// The options of cavum scan, and which of them go together.
#include "cli/scan_arguments.h"

#include <argp.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command_line.h"
#include "cli/options.h"

enum { LARGEST_WORKERS = 1024, LARGEST_TOP = 1000 };

enum {
  KEY_WORKERS = 256,
  KEY_PART,
  KEY_GATHER,
  KEY_ESTIMATE,
  KEY_SUMMARY,
  KEY_CSV,
  KEY_JSON,
  KEY_WATCH,
  KEY_AIMS,
  KEY_WHERE,
  KEY_MERGE,
  KEY_TOP,
  KEY_SHAPE,
  KEY_KEEP_PARTS
};

static const struct argp_option option_table[] = {
    {"output", 'o', "RESULT.hdf", 0,
     "The result file; its parts are kept beside it. With --shape: the cell file", 0},
    {"workers", KEY_WORKERS, "N", 0, "Worker processes (default: one for each core)", 0},
    {"part", KEY_PART, "K/N", 0, "Compute only part K of N, and gather nothing", 0},
    {"gather", KEY_GATHER, NULL, 0, "Only gather the parts into the result file", 0},
    {"estimate", KEY_ESTIMATE, NULL, 0,
     "Compute a few shapes and print the time and memory that the study needs, as JSON", 0},
    {"keep-parts", KEY_KEEP_PARTS, NULL, 0, "Keep the parts after they are gathered", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"csv", KEY_CSV, "FILE", 0,
     "Also write the rows as CSV; '-' is standard output, with --summary in place of the table", 1},
    {"json", KEY_JSON, "FILE", 0,
     "Write progress, estimate or summary as JSON ('-': to standard output, in place of what is "
     "printed). Progress is a line per second; a file has the newest one",
     1},
    {"watch", KEY_WATCH, "FIGURE", 0, "Show the best value so far of a figure", 1},
    {"quiet", 'q', NULL, 0, "Show no progress", 1},
    {"summary", KEY_SUMMARY, NULL, 0,
     "Summarise a result file: ranges, best shapes, non-dominated shapes", 2},
    {"aims", KEY_AIMS, "KEY,...", 0,
     "Figures by which the summary ranks shapes; KEY:smaller or KEY:larger says which is better "
     "(default: E_pk/E_acc and B_pk/E_acc smaller, G x R/Q larger)",
     2},
    {"where", KEY_WHERE, "CONDITION", 0,
     "Restrict summary and CSV to rows that meet a condition in the names of columns, for example "
     "'epk_over_eacc < 2.1 && iris_radius_mm > 35'",
     2},
    {"top", KEY_TOP, "N", 0, "Number of best shapes to list for each aim (default 5)", 2},
    {"shape", KEY_SHAPE, "N", 0, "Write the cell file of shape N of a result file", 3},
    {"merge", KEY_MERGE, "OTHER.hdf", 0,
     "Merge the results of two studies of the same cell that have the same inputs and settings. "
     "Each shape is kept once, sorted by the varied numbers",
     3},
    {0},
};

static void set_shape(cavum_scan_arguments *arguments, const char *value,
                      struct argp_state *state) {
  char *end = NULL;
  errno = 0;
  arguments->shape = strtoll(value, &end, 10);
  if (end == value || *end != '\0' || errno != 0 || arguments->shape < 0) {
    argp_error(state, "--shape %s: expected the number of a shape, from 0", value);
  }
}

static void set_text_options(cavum_scan_arguments *arguments, int key, char *value,
                             struct argp_state *state) {
  if (key == KEY_WORKERS) {
    cavum_option_set_integer(&arguments->options.workers, "workers", value, 1, LARGEST_WORKERS,
                             state);
  }
  if (key == KEY_TOP) {
    cavum_option_set_integer(&arguments->top, "top", value, 1, LARGEST_TOP, state);
  }
  if (key == KEY_PART) {
    arguments->part = true;
    cavum_option_set_part(&arguments->options.part, &arguments->options.num_parts, value, state);
  }
  if (key == KEY_SHAPE) set_shape(arguments, value, state);
  if (key == 'o') cavum_option_set_file(&arguments->output, "-o", value, state);
  if (key == KEY_CSV) arguments->csv_path = value;
  if (key == KEY_JSON) {
    if (!*value) argp_error(state, "--json: expected a file name, or '-'");
    arguments->json_path = value;
  }
  if (key == KEY_WATCH) arguments->watched_key = value;
  if (key == KEY_AIMS) arguments->aims = value;
  if (key == KEY_WHERE) arguments->where = value;
  if (key == KEY_MERGE) cavum_option_set_file(&arguments->merged, "--merge", value, state);
}

bool cavum_scan_arguments_json_on_screen(const cavum_scan_arguments *arguments) {
  return arguments->json_path && strcmp(arguments->json_path, "-") == 0;
}

// Options that would change nothing were meant for another command line.
static void check_use(const cavum_scan_arguments *a, struct argp_state *state) {
  bool reads = a->summary || a->shape >= 0 || a->merged;
  bool computes = !a->gather && !a->estimate && !reads, csv = a->csv_path != NULL;
  bool on_screen = csv && strcmp(a->csv_path, "-") == 0, hidden = computes && a->quiet;
  bool json_on_screen = cavum_scan_arguments_json_on_screen(a);
  const struct {
    bool given, used;
    const char *name, *with;
  } rules[] = {
      {a->output, !a->summary && !a->estimate, "output", "a study, --shape or --merge"},
      {a->options.workers, computes, "workers", "a study that is computed"},
      {a->watched_key, computes && !a->quiet, "watch", "progress that is shown"},
      {a->keep_parts, !reads && !a->estimate && !a->part, "keep-parts", "gathering"},
      {a->json_path, a->shape < 0 && !a->merged && !a->gather && !(hidden && json_on_screen),
       "json", "progress or a summary"},
      {csv, !a->part && !a->estimate && a->shape < 0 && !a->merged, "csv", "a whole result"},
      {on_screen, !json_on_screen, "csv -", "a screen without the JSON of --json -"},
      {a->aims, a->summary, "aims", "--summary"},
      {a->where, a->summary, "where", "--summary"},
      {a->top, a->summary, "top", "--summary"},
      {a->overwrite, !a->estimate || a->json_path, "overwrite", "files that are written"}};
  for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
    if (!rules[i].given || rules[i].used) continue;
    argp_error(state, "--%s: is for %s only", rules[i].name, rules[i].with);
  }
}

static void check(const cavum_scan_arguments *a, struct argp_state *state) {
  bool shape = a->shape >= 0;
  if (!a->input)
    argp_error(state, "expected a %s",
               a->summary || shape || a->merged ? "result file" : "study file");
  if (!a->summary && !a->estimate && !a->output) {
    argp_error(state, shape ? "expected -o CELL.yaml" : "expected -o RESULT.hdf");
  }
  if (a->gather + a->estimate + a->summary + a->part + shape + (a->merged != NULL) > 1) {
    argp_error(state,
               "--part, --gather, --estimate, --summary, --shape and --merge exclude each other");
  }
  check_use(a, state);
}

static error_t parse(int key, char *value, struct argp_state *state) {
  cavum_scan_arguments *arguments = state->input;
  switch (key) {
    case 'q':
      arguments->quiet = true;
      break;
    case KEY_GATHER:
      arguments->gather = true;
      break;
    case KEY_ESTIMATE:
      arguments->estimate = true;
      break;
    case KEY_SUMMARY:
      arguments->summary = true;
      break;
    case CAVUM_OPTION_OVERWRITE:
      arguments->overwrite = true;
      break;
    case KEY_KEEP_PARTS:
      arguments->keep_parts = true;
      break;
    case 'o':
    case KEY_WORKERS:
    case KEY_PART:
    case KEY_CSV:
    case KEY_JSON:
    case KEY_WATCH:
    case KEY_AIMS:
    case KEY_WHERE:
    case KEY_MERGE:
    case KEY_TOP:
    case KEY_SHAPE:
      set_text_options(arguments, key, value, state);
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->input, value, "file", state);
      break;
    case ARGP_KEY_END:
      check(arguments, state);
      break;
    default:
      return ARGP_ERR_UNKNOWN;
  }
  return 0;
}

cavum_scan_arguments cavum_scan_arguments_parse(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc =
          "STUDY.yaml -o RESULT.hdf\n--summary RESULT.hdf\n"
          "--shape N RESULT.hdf -o CELL.yaml\n--merge OTHER.hdf RESULT.hdf -o MERGED.hdf",
      .doc =
          "Computes the figures of many shapes, which one study file describes, and writes them to "
          "one HDF5 file, one row per shape. An interrupted scan continues with the same command."
          "\vExamples:\n"
          "  cavum scan study.yaml -o study.hdf\n"
          "  cavum scan --summary study.hdf --csv study.csv\n"
          "  cavum scan --summary study.hdf --where 'epk_over_eacc < 2'\n"
          "  cavum scan --shape 17 study.hdf -o best.yaml\n"
          "  cavum scan study.yaml -o study.hdf --part 3/8   (then --gather)\n\n"
          "Exit status: 0 done, 1 parts are missing or the computation failed, 2 bad input, "
          "usage, or a file that cannot be written, 3 stopped by a signal."};
  cavum_scan_arguments arguments = {.shape = -1, .options = cavum_scan_options_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  return arguments;
}
