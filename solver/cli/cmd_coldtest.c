// SPDX-License-Identifier: GPL-3.0-or-later
// cavum coldtest: reads a test file and its readings, evaluates them, prints and writes the
// results.
#include "cli/cmd_coldtest.h"

#include <argp.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "cli/coldtest_table.h"
#include "cli/command_line.h"
#include "cli/commands.h"
#include "cli/common_arguments.h"
#include "cli/follow.h"
#include "cli/input_kind.h"
#include "cli/interrupt.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/second_program.h"
#include "hdf5/bytes.h"

enum { EXIT_STOPPED = 3 };
enum { DEFAULT_ROWS = 60, DEFAULT_BUDGETS = 3, MOST_ROWS = 100000000 };

typedef struct coldtest_arguments {
  cavum_common_arguments common;
  const char *test_path, *csv_path, *picture_path, *page_path;
  const cavum_coldtest_drawing *drawing;
  bool follow;
  cavum_coldtest_run_options run;
  int rows, budgets;
  unsigned parts;
} coldtest_arguments;

enum {
  KEY_CSV = 256,
  KEY_PLAN,
  KEY_LINEAR,
  KEY_ROWS,
  KEY_BUDGETS,
  KEY_SHOW,
  KEY_FOLLOW,
  KEY_PICTURE,
  KEY_REPORT
};

// The words that --show takes, from the table by which they are read.
#define PART_HELP(name, word, text) word " (" text "), "
#define PART_WORD(name, word, text) ", " word

static const struct argp_option option_table[] = {
    {"output", 'o', "RESULT.hdf", 0, "Write everything to one HDF5 file", 0},
    {"json", CAVUM_OPTION_JSON, "FILE", 0,
     "Write everything as JSON ('-': to standard output, in place of the table)", 0},
    {"csv", KEY_CSV, "FILE", 0,
     "Write the readings with their results as CSV ('-': to standard output, in place of the "
     "table)",
     0},
    {"picture", KEY_PICTURE, "FILE", 0,
     "Draw everything that was evaluated, as 'cavum draw' does: .png, .svg or .pdf", 0},
    {"report", KEY_REPORT, "FILE.html", 0, "Write a report, as 'cavum report' does", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"quiet", 'q', NULL, 0, "Print no table", 0},
    {"plan", KEY_PLAN, NULL, 0,
     "Plan a test: print meter readings, decay times and fields to expect for the section 'plan' "
     "of the test file. No readings are needed",
     1},
    {"follow", KEY_FOLLOW, NULL, 0,
     "Evaluate again, with linear uncertainties, whenever the readings grow or the test file "
     "changes. Screen, outputs, picture and report are written anew, until Ctrl-C (exit status 3)",
     1},
    {"linear", KEY_LINEAR, NULL, 0, "Linear uncertainties only, no Monte Carlo", 1},
    {"rows", KEY_ROWS, "N", 0, "Number of readings in the table (default 60)", 1},
    {"show", KEY_SHOW, "PART,...", 0, "Print also: " CAVUM_COLDTEST_PART_TABLE(PART_HELP) "or all",
     1},
    {"budgets", KEY_BUDGETS, "N", 0,
     "Number of readings whose uncertainty budget is printed; implies --show budgets (default 3)",
     1},
    {0},
};
#undef PART_HELP

static bool on_screen(const char *path) { return path && strcmp(path, "-") == 0; }

// Options that would change nothing were meant for another command line. A number of rows below 0
// stands for the default.
static void check(const coldtest_arguments *arguments, struct argp_state *state) {
  bool screen = on_screen(arguments->common.json_path) || on_screen(arguments->csv_path);
  bool table = !arguments->common.quiet && !screen && !arguments->run.plan;
  cavum_option_require(arguments->test_path, "a test file", state);
  if (arguments->run.plan && arguments->run.no_monte_carlo) {
    argp_error(state, "--linear: a plan has no Monte Carlo");
  }
  if (arguments->run.plan && arguments->csv_path) {
    argp_error(state, "--csv: a plan has no readings");
  }
  if (arguments->follow && (arguments->run.plan || screen)) {
    argp_error(state, "--follow: %s",
               screen ? "outputs are files, '-' is none" : "a plan has no readings to follow");
  }
  if (!table && (arguments->rows >= 0 || arguments->budgets >= 0 || arguments->parts)) {
    argp_error(state, "--%s: no table of readings is printed",
               arguments->rows >= 0      ? "rows"
               : arguments->budgets >= 0 ? "budgets"
                                         : "show");
  }
}

static error_t parse(int key, char *value, struct argp_state *state) {
  coldtest_arguments *arguments = state->input;
  switch (key) {
    case KEY_CSV:
      arguments->csv_path = value;
      break;
    case KEY_PICTURE:
      cavum_option_set_file(&arguments->picture_path, "--picture", value, state);
      break;
    case KEY_REPORT:
      cavum_option_set_file(&arguments->page_path, "--report", value, state);
      break;
    case KEY_PLAN:
      arguments->run.plan = true;
      break;
    case KEY_LINEAR:
      arguments->run.no_monte_carlo = true;
      break;
    case KEY_ROWS:
      cavum_option_set_integer(&arguments->rows, "rows", value, 0, MOST_ROWS, state);
      break;
    case KEY_BUDGETS:
      cavum_option_set_integer(&arguments->budgets, "budgets", value, 0, MOST_ROWS, state);
      break;
    case KEY_FOLLOW:
      arguments->follow = true;
      break;
    case KEY_SHOW:
      if (!cavum_coldtest_parts_read(&arguments->parts, value)) {
        char hint[CAVUM_NEAREST_SIZE];
        cavum_coldtest_parts_suggest(hint, value);
        argp_error(state, "--show %s: expected all" CAVUM_COLDTEST_PART_TABLE(PART_WORD) "%s",
                   value, hint);
      }
      break;
    case ARGP_KEY_ARG:
      cavum_option_set_argument(&arguments->test_path, value, "test file", state);
      break;
    case ARGP_KEY_END:
      check(arguments, state);
      break;
    default:
      return cavum_common_take(&arguments->common, key, value, state) ? 0 : ARGP_ERR_UNKNOWN;
  }
  return 0;
}

// What is written, made before the first file is written: what cannot be made leaves no file
// behind.
typedef struct made_outputs {
  char *json, *csv, *picture, *page;
  size_t picture_size, page_size;
} made_outputs;

static cavum_status make_outputs(made_outputs *made, const coldtest_arguments *arguments,
                                 const cavum_coldtest_report *report, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_drawing *drawing = arguments->drawing;
  if (arguments->common.json_path) {
    CAVUM_TRY(cavum_store_coldtest_to_json(&made->json, report, error));
  }
  if (arguments->csv_path) CAVUM_TRY(cavum_store_coldtest_to_csv(&made->csv, report, error));
  if (arguments->picture_path) {
    CAVUM_TRY(drawing->picture(&made->picture, &made->picture_size, arguments->picture_path, report,
                               error));
  }
  if (arguments->page_path) {
    CAVUM_TRY(drawing->page(&made->page, &made->page_size, report, error));
  }
done:
  return status;
}

static cavum_status write_files(const made_outputs *made, const coldtest_arguments *arguments,
                                const cavum_coldtest_report *report, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (arguments->common.output_path) {
    CAVUM_TRY(cavum_store_write_coldtest(arguments->common.output_path, report, error));
  }
  if (made->json) CAVUM_TRY(cavum_store_write_text(arguments->common.json_path, made->json, error));
  if (made->csv) CAVUM_TRY(cavum_store_write_text(arguments->csv_path, made->csv, error));
  if (made->picture) {
    CAVUM_TRY(
        cavum_store_write_bytes(arguments->picture_path, made->picture, made->picture_size, error));
  }
  if (made->page) {
    CAVUM_TRY(cavum_store_write_bytes(arguments->page_path, made->page, made->page_size, error));
  }
done:
  return status;
}

static void print_table(const coldtest_arguments *arguments, const cavum_coldtest_report *report) {
  bool screen = on_screen(arguments->common.json_path) || on_screen(arguments->csv_path);
  if (arguments->common.quiet || screen) return;
  cavum_coldtest_table_options options = {
      arguments->rows < 0 ? DEFAULT_ROWS : arguments->rows,
      arguments->budgets < 0 ? DEFAULT_BUDGETS : arguments->budgets, arguments->parts};
  if (arguments->budgets >= 0) options.parts |= 1U << CAVUM_COLDTEST_PART_BUDGETS;
  cavum_coldtest_table_print(stdout, report, &options);
}

static cavum_status write_outputs(const coldtest_arguments *arguments,
                                  const cavum_coldtest_report *report, cavum_error *error) {
  made_outputs made = {0};
  cavum_status status = make_outputs(&made, arguments, report, error);
  if (status == CAVUM_OK) status = write_files(&made, arguments, report, error);
  if (status == CAVUM_OK) print_table(arguments, report);
  free(made.json);
  free(made.csv);
  free(made.picture);
  free(made.page);
  return status;
}

// Measured data are read through the test file: they are inputs as much as it is.
static cavum_status check_outputs(const coldtest_arguments *arguments,
                                  const cavum_coldtest_file *file, bool again, cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->common.overwrite, .again = again};
  cavum_status status = CAVUM_OK;
  if (arguments->picture_path) status = arguments->drawing->check(arguments->picture_path, error);
  if (status != CAVUM_OK) return status;
  cavum_outputs_read(&outputs, arguments->test_path);
  cavum_outputs_read_test(&outputs, file);
  cavum_outputs_write(&outputs, arguments->run.plan ? CAVUM_OUTPUT_PLAN : CAVUM_OUTPUT_COLDTEST,
                      "-o", arguments->common.output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_COLDTEST_JSON, "--json", arguments->common.json_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_COLDTEST_CSV, "--csv", arguments->csv_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_PICTURE, "--picture", arguments->picture_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_REPORT, "--report", arguments->page_path);
  return cavum_outputs_check(&outputs, error);
}

// The test file, with the figures that a result file holds.
static cavum_status read_test(cavum_coldtest_file *file, const coldtest_arguments *arguments,
                              cavum_error *error) {
  cavum_status status = cavum_coldtest_file_read(file, arguments->test_path, error);
  status = cavum_input_explain(status, arguments->test_path, CAVUM_INPUT_TEST, error);
  if (status == CAVUM_OK && file->result_path[0]) {
    status = cavum_store_read_coldtest_geometry(file, error);
  }
  file->setup.growing = arguments->follow;
  return status;
}

// All outputs are there, and one line tells a script that they lack something.
static cavum_status fail_if_lacking(const cavum_coldtest_report *report, cavum_error *error) {
  if (report->num_waiting == 0) return CAVUM_OK;
  return cavum_process_fail(error, CAVUM_ERR_NOT_CONVERGED, "not evaluated", report->waiting[0]);
}

static cavum_status evaluate(const coldtest_arguments *arguments, const cavum_coldtest_file *file,
                             cavum_error *error) {
  cavum_coldtest_report *report = NULL;
  cavum_status status = cavum_coldtest_run(&report, file, &arguments->run, error);
  if (status == CAVUM_OK && arguments->follow && !arguments->common.quiet &&
      isatty(STDOUT_FILENO)) {
    fputs("\033[H\033[2J", stdout);  // ECMA-48: to the first line, and all cleared.
  }
  if (status == CAVUM_OK) status = write_outputs(arguments, report, error);
  if (status == CAVUM_OK && !arguments->follow) status = fail_if_lacking(report, error);
  fflush(stdout);
  cavum_coldtest_report_destroy(&report);
  return status;
}

// One round. What is wrong with a file that is being written may be right a moment later: it is
// said, and the outputs stay as they were.
static void evaluate_again(const coldtest_arguments *arguments, cavum_follow *follow) {
  cavum_error error = {0};
  cavum_coldtest_file file = {0};
  cavum_follow_look(follow);
  cavum_status status = read_test(&file, arguments, &error);
  if (status == CAVUM_OK && strcmp(follow->path[1], file.readings_path) != 0) {
    cavum_follow_watch(follow, arguments->test_path, file.readings_path);
  }
  // The test file may have come to name other files.
  if (status == CAVUM_OK) status = check_outputs(arguments, &file, true, &error);
  if (status == CAVUM_OK) status = evaluate(arguments, &file, &error);
  cavum_process_report(status, &error);
  cavum_coldtest_file_clear(&file);
}

static int run_following(const coldtest_arguments *arguments, const char *readings_path) {
  cavum_follow follow;
  cavum_interrupt_catch();
  cavum_follow_begin(&follow);
  cavum_follow_watch(&follow, arguments->test_path, readings_path);
  do {
    evaluate_again(arguments, &follow);
  } while (cavum_follow_wait(&follow, cavum_interrupt_came));
  cavum_follow_end(&follow);
  return EXIT_STOPPED;
}

static int run(const coldtest_arguments *arguments) {
  cavum_error error = {0};
  cavum_coldtest_file file = {0};
  cavum_status status = read_test(&file, arguments, &error);
  if (status == CAVUM_OK) status = check_outputs(arguments, &file, false, &error);
  if (status == CAVUM_OK && arguments->follow) {
    int exit_status = run_following(arguments, file.readings_path);
    cavum_coldtest_file_clear(&file);
    return exit_status;
  }
  if (status == CAVUM_OK) status = evaluate(arguments, &file, &error);
  int exit_status = cavum_process_report(status, &error);
  cavum_coldtest_file_clear(&file);
  return exit_status;
}

int cavum_cmd_coldtest(int argc, char **argv) { return cavum_coldtest_command(argc, argv, NULL); }

int cavum_coldtest_command(int argc, char **argv, const cavum_coldtest_drawing *drawing) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "TEST.yaml",
      .doc =
          "Gradient, Q0 and surface resistance from the powers of a cold test, with "
          "uncertainties."
          "\vColumns of the readings, with the unit at the end: forward_W, reflected_W, "
          "transmitted_W, emitted_W and NAME_W of an extra port (W, mW, uW, dBm), decay_energy_s "
          "or "
          "decay_amplitude_s (s, ms, us), frequency_MHz (Hz to GHz), bath_temperature_K (mK), "
          "bath_pressure_mbar (Pa, kPa), radiation_mSv_per_h (uSv, Sv), run, use, note. A trace: "
          "time_s, transmitted_W.\n\n"
          "Examples:\n"
          "  cavum coldtest test.yaml\n"
          "  cavum coldtest test.yaml -o test.hdf --json test.json --csv test.csv\n"
          "  cavum coldtest test.yaml --show budgets,intervals\n"
          "  cavum coldtest test.yaml --follow --picture now.svg\n"
          "  cavum coldtest --plan test.yaml\n\n"
          "Exit status: 0 done, 1 the computation failed, 2 bad input or usage, 3 --follow was "
          "ended by Ctrl-C. This program is no safety function."};
  coldtest_arguments arguments = {
      .rows = -1, .budgets = -1, .drawing = drawing, .run = cavum_coldtest_run_options_default()};
  cavum_command_line_parse(&argp, argc, argv, &arguments);
  if ((arguments.picture_path || arguments.page_path) && !drawing) {
    return cavum_second_program_run(argc, argv);
  }
  if (arguments.follow) arguments.run.no_monte_carlo = true;
  return run(&arguments);
}
