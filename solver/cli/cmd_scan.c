// SPDX-License-Identifier: GPL-3.0-or-later
// cavum scan: computes a study or a part of it, gathers the parts, sums up a result.
#include <argp.h>
#include <limits.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "cli/commands.h"
#include "cli/cores.h"
#include "cli/options.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/scan_progress.h"

enum { LARGEST_WORKERS = 1024, LARGEST_TOP = 1000 };
enum { DEFAULT_TOP = 5 };
static const double seconds_to_measure = 3.0;

typedef struct scan_arguments {
  const char *input, *output, *csv_path, *watched_key;
  char *aims;
  bool gather, estimate, summary, json, quiet, keep_parts, overwrite;
  int top;
  cavum_scan_options options;
} scan_arguments;

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
  KEY_TOP,
  KEY_KEEP_PARTS
};

static const struct argp_option option_table[] = {
    {"output", 'o', "RESULT.hdf", 0, "The result file; its parts are kept beside it", 0},
    {"workers", KEY_WORKERS, "N", 0, "Worker processes (default: one for each core)", 0},
    {"part", KEY_PART, "K/N", 0, "Compute part K of N only and gather nothing", 0},
    {"gather", KEY_GATHER, NULL, 0, "Compute nothing; gather what parts have computed", 0},
    {"estimate", KEY_ESTIMATE, NULL, 0,
     "Compute a few shapes and tell what the study costs, as JSON", 0},
    {"keep-parts", KEY_KEEP_PARTS, NULL, 0, "Keep the parts after gathering", 0},
    CAVUM_OPTION_OVERWRITE_ROW,
    {"csv", KEY_CSV, "FILE", 0, "Also write the rows as CSV; '-' is standard output", 1},
    {"json", KEY_JSON, NULL, 0,
     "Progress or summary as JSON on standard output: progress is a line a second", 1},
    {"watch", KEY_WATCH, "FIGURE", 0, "Show the best value of a figure so far", 1},
    {"quiet", 'q', NULL, 0, "Show no progress", 1},
    {"summary", KEY_SUMMARY, NULL, 0,
     "Sum up a result file instead: ranges, best shapes, non-dominated shapes", 2},
    {"aims", KEY_AIMS, "FIGURE,...", 0,
     "Figures that matter in the summary (default: E_pk/E_acc, B_pk/E_acc, G x R/Q)", 2},
    {"top", KEY_TOP, "N", 0, "Best shapes to list for each of them (default 5)", 2},
    {0},
};

// The only thing that a signal handler may touch.
static volatile sig_atomic_t stop_requested;

static bool stop_is_requested(void *data) {
  (void)data;
  return stop_requested != 0;
}

static void request_stop(int signal_number) {
  (void)signal_number;
  stop_requested = 1;
}

// A signal lets the batches in flight finish. Schedulers send theirs to a whole process group and
// again when time runs out, so more of them change nothing; a second one from the keyboard ends at
// once.
static void catch_signals(void) {
  struct sigaction action = {.sa_handler = request_stop};
  sigemptyset(&action.sa_mask);
  sigaction(SIGTERM, &action, NULL);
  sigaction(SIGHUP, &action, NULL);
  action.sa_flags = (int)SA_RESETHAND;
  sigaction(SIGINT, &action, NULL);
}

// Nothing waits for what follows the batches: a signal ends it, and it is done again the next time.
static void release_signals(void) {
  signal(SIGTERM, SIG_DFL);
  signal(SIGHUP, SIG_DFL);
  signal(SIGINT, SIG_DFL);
}

static bool read_part(cavum_scan_options *options, const char *text) {
  char *end = NULL;
  long long part = strtoll(text, &end, 10);
  if (end == text || *end != '/') return false;
  const char *second = end + 1;
  long long parts = strtoll(second, &end, 10);
  if (end == second || *end != '\0' || part < 1 || part > parts) return false;
  options->part = part;
  options->num_parts = parts;
  return true;
}

static void set_text_options(scan_arguments *arguments, int key, char *value,
                             struct argp_state *state) {
  if (key == KEY_WORKERS) {
    cavum_option_set_integer(&arguments->options.workers, "workers", value, 1, LARGEST_WORKERS,
                             state);
  }
  if (key == KEY_TOP) {
    cavum_option_set_integer(&arguments->top, "top", value, 1, LARGEST_TOP, state);
  }
  if (key == KEY_PART && !read_part(&arguments->options, value)) {
    argp_error(state, "--part %s: expected K/N with K from 1 to N, for example 3/20", value);
  }
  if (key == 'o') cavum_option_set_file(&arguments->output, value, state);
  if (key == KEY_CSV) arguments->csv_path = value;
  if (key == KEY_WATCH) arguments->watched_key = value;
  if (key == KEY_AIMS) arguments->aims = value;
}

// Options that would change nothing were meant for another command line.
static void check_use(const scan_arguments *a, bool part, struct argp_state *state) {
  bool computes = !a->gather && !a->estimate && !a->summary, csv = a->csv_path != NULL;
  bool on_screen = csv && strcmp(a->csv_path, "-") == 0;
  const struct {
    bool given, used;
    const char *name, *with;
  } rules[] = {{a->output, !a->summary && !a->estimate, "output", "a study that is computed"},
               {a->options.workers, computes, "workers", "a study that is computed"},
               {a->watched_key, computes && !a->quiet, "watch", "progress that is shown"},
               {a->keep_parts, !a->summary && !a->estimate && !part, "keep-parts", "gathering"},
               {a->json, !a->gather && !(computes && a->quiet), "json", "progress or a summary"},
               {csv, !part && !a->estimate, "csv", "a whole result"},
               {on_screen, !a->json, "csv -", "a screen without the JSON of --json"},
               {a->aims, a->summary, "aims", "--summary"},
               {a->top, a->summary, "top", "--summary"},
               {a->overwrite, !a->estimate, "overwrite", "files that are written"}};
  for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
    if (!rules[i].given || rules[i].used) continue;
    argp_error(state, "--%s: goes with %s only", rules[i].name, rules[i].with);
  }
}

static void check(const scan_arguments *a, struct argp_state *state) {
  bool part = a->options.num_parts > 1;
  if (!a->input) argp_error(state, "expected a %s", a->summary ? "result file" : "study file");
  if (!a->summary && !a->estimate && !a->output) argp_error(state, "expected -o RESULT.hdf");
  if (a->gather + a->estimate + a->summary + part > 1) {
    argp_error(state, "--part, --gather, --estimate and --summary exclude each other");
  }
  check_use(a, part, state);
}

static error_t parse(int key, char *value, struct argp_state *state) {
  scan_arguments *arguments = state->input;
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
    case KEY_JSON:
      arguments->json = true;
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
    case KEY_WATCH:
    case KEY_AIMS:
    case KEY_TOP:
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

static cavum_status fail(cavum_error *error, const char *what, const char *name) {
  return cavum_process_fail(error, CAVUM_ERR_USAGE, name, what);
}

static cavum_status find_watched(scan_arguments *a, const cavum_study *study, cavum_error *error) {
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, study);
  for (int i = 0; a->watched_key && i < count; i++) {
    if (strcmp(columns[i].key, a->watched_key) == 0) a->options.watched_column = i;
  }
  if (!a->watched_key || a->options.watched_column >= 0) {
    a->options.watch_smallest = a->watched_key && cavum_scan_smaller_is_better(a->watched_key);
    return CAVUM_OK;
  }
  return fail(error, "no column of this study, see --csv or the README", a->watched_key);
}

// True when the result is there already: same study, same version.
static bool is_gathered(const scan_arguments *a, const cavum_study *study) {
  cavum_stored_scan *scan = NULL;
  if (access(a->output, R_OK) != 0) return false;
  if (cavum_stored_scan_open(&scan, a->output, NULL) != CAVUM_OK) return false;
  bool same = strcmp(cavum_stored_scan_fingerprint(scan), cavum_study_fingerprint(study)) == 0;
  cavum_stored_scan_close(&scan);
  return same;
}

static cavum_status write_csv(const scan_arguments *a, const char *path, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  if (!a->csv_path) return CAVUM_OK;
  cavum_status status = cavum_stored_scan_open(&scan, path, error);
  if (status == CAVUM_OK) status = cavum_store_write_scan_csv(a->csv_path, scan, error);
  cavum_stored_scan_close(&scan);
  return status;
}

// A result without a single shape that is done is written, but no success.
static cavum_status check_any_done(const scan_arguments *a, cavum_error *error) {
  enum { BLOCK = 4096 };
  double values[BLOCK];
  bool any = false;
  cavum_stored_scan *scan = NULL;
  cavum_status status = cavum_stored_scan_open(&scan, a->output, error);
  if (status != CAVUM_OK) return status;
  int column = cavum_stored_scan_find(scan, "status");
  int64_t rows = cavum_stored_scan_num_rows(scan);
  for (int64_t first = 0; status == CAVUM_OK && !any && first < rows; first += BLOCK) {
    int64_t count = rows - first < BLOCK ? rows - first : BLOCK;
    status = cavum_stored_scan_read(values, scan, column, first, count, error);
    for (int64_t i = 0; status == CAVUM_OK && i < count; i++) any = any || values[i] == 0.0;
  }
  cavum_stored_scan_close(&scan);
  if (status != CAVUM_OK || any) return status;
  return cavum_process_fail(error, CAVUM_ERR_NOT_CONVERGED, a->output,
                            "no shape is done: cavum scan --summary counts the reasons");
}

// Name of the file about who computed what.
static cavum_status name_sources(char path[PATH_MAX], const scan_arguments *a, cavum_error *error) {
  if (snprintf(path, PATH_MAX, "%s.sources.json", a->output) < PATH_MAX) return CAVUM_OK;
  return fail(error, "the name is too long", a->output);
}

static cavum_status check_outputs(const scan_arguments *a, const cavum_study *study,
                                  cavum_error *error) {
  char sources[PATH_MAX];
  cavum_outputs outputs = {.overwrite = a->overwrite,
                           .fingerprint = cavum_study_fingerprint(study)};
  cavum_status status = name_sources(sources, a, error);
  if (status != CAVUM_OK) return status;
  for (int id = 0; id < CAVUM_NUM_STUDY_FILES; id++) {
    cavum_outputs_read(&outputs, cavum_study_file_path(study, (cavum_study_file_id)id));
  }
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN, "-o", a->output);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SOURCES_JSON, "-o", sources);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN_CSV, "--csv", a->csv_path);
  return cavum_outputs_check(&outputs, error);
}

// Who computed what goes to a file of its own: the result does not depend on it.
static cavum_status write_sources(const scan_arguments *a, const cavum_study *study,
                                  const cavum_scan_records *records, cavum_error *error) {
  char path[PATH_MAX];
  char *text = NULL;
  cavum_status status = name_sources(path, a, error);
  if (status == CAVUM_OK) {
    status = cavum_store_scan_sources_to_json(&text, study, records, error);
  }
  if (status == CAVUM_OK) status = cavum_store_write_text(path, text, error);
  free(text);
  return status;
}

static cavum_status gather(const scan_arguments *a, const cavum_study *study, cavum_error *error) {
  cavum_scan_records *records = NULL;
  cavum_status status = cavum_scan_records_open(&records, study, a->output, error);
  if (status == CAVUM_OK) status = cavum_store_write_scan(a->output, study, records, error);
  if (status == CAVUM_OK) status = write_sources(a, study, records, error);
  if (status == CAVUM_OK && cavum_scan_records_num_conflicts(records) > 0) {
    fprintf(stderr,
            "cavum: warning: %lld batches were computed twice and differ in their last bits: the "
            "machines are not alike\n",
            (long long)cavum_scan_records_num_conflicts(records));
  }
  if (status == CAVUM_OK && !a->quiet && cavum_scan_records_bytes_ignored(records) > 0) {
    fprintf(
        stderr,
        "cavum: note: %lld bytes of records were cut off or damaged: their shapes were computed "
        "again\n",
        (long long)cavum_scan_records_bytes_ignored(records));
  }
  cavum_scan_records_close(&records);
  if (status == CAVUM_OK && !a->keep_parts) status = cavum_scan_records_remove(a->output, error);
  return status;
}

static cavum_status compute(scan_arguments *a, cavum_study *study, cavum_error *error) {
  cavum_scan_progress outcome = {0};
  cavum_scan_teller teller = {.telling = a->quiet                ? CAVUM_SCAN_TELL_NOTHING
                                         : a->json               ? CAVUM_SCAN_TELL_JSON
                                         : isatty(STDERR_FILENO) ? CAVUM_SCAN_TELL_TERMINAL
                                                                 : CAVUM_SCAN_TELL_LOG,
                              .watched_key = a->watched_key};
  cavum_status status = find_watched(a, study, error);
  if (status != CAVUM_OK) return status;
  a->options.stop = stop_is_requested;
  a->options.watcher = cavum_scan_tell;
  a->options.watcher_data = &teller;
  status = cavum_scan_run(&outcome, study, a->output, &a->options, error);
  cavum_scan_tell_end(&outcome, &teller);
  release_signals();
  return status;
}

static cavum_status estimate(cavum_study *study, cavum_error *error) {
  cavum_scan_estimate measured;
  cavum_status status = cavum_scan_measure(&measured, study, seconds_to_measure, error);
  if (status != CAVUM_OK) return status;
  char *json = cavum_store_scan_estimate_to_json(&measured, study);
  if (json) puts(json);
  free(json);
  return CAVUM_OK;
}

// A run that was killed between writing the result and removing its parts left them. Records of
// another study under this name are not ours to remove.
static cavum_status remove_leftovers(const scan_arguments *a, const cavum_study *study,
                                     cavum_error *error) {
  cavum_scan_records *records = NULL;
  if (a->keep_parts || a->options.num_parts > 1) return CAVUM_OK;
  if (cavum_scan_records_open(&records, study, a->output, NULL) != CAVUM_OK) return CAVUM_OK;
  cavum_scan_records_close(&records);
  return cavum_scan_records_remove(a->output, error);
}

static cavum_status scan(scan_arguments *a, cavum_error *error) {
  cavum_study *study = NULL;
  if (!a->estimate && !a->gather) catch_signals();
  cavum_status status = cavum_study_open(&study, a->input, error);
  if (status == CAVUM_OK && a->estimate) {
    status = estimate(study, error);
    goto done;
  }
  if (status == CAVUM_OK) status = check_outputs(a, study, error);
  if (status == CAVUM_OK && is_gathered(a, study)) {
    if (!a->quiet) fprintf(stderr, "%s is complete\n", a->output);
    status = remove_leftovers(a, study, error);
    if (status == CAVUM_OK) status = write_csv(a, a->output, error);
    if (status == CAVUM_OK) status = check_any_done(a, error);
    goto done;
  }
  if (status == CAVUM_OK && !a->gather) status = compute(a, study, error);
  bool whole = a->options.num_parts == 1;
  if (status == CAVUM_OK && whole) status = gather(a, study, error);
  if (status == CAVUM_OK && whole) status = write_csv(a, a->output, error);
  if (status == CAVUM_OK && whole) status = check_any_done(a, error);
done:
  cavum_study_close(&study);
  return status;
}

static cavum_status read_aims(cavum_scan_aims *aims, scan_arguments *a,
                              const cavum_stored_scan *scan, cavum_error *error) {
  char defaults[] = "epk_over_eacc,bpk_over_eacc_mT_per_MV_per_m,g_times_r_over_q_linac_ohm2";
  char *place = NULL;
  aims->num_best = a->top > 0 ? a->top : DEFAULT_TOP;
  for (char *key = strtok_r(a->aims ? a->aims : defaults, ",", &place); key;
       key = strtok_r(NULL, ",", &place)) {
    int column = cavum_stored_scan_find(scan, key);
    if (column < 0 && !a->aims) continue;
    if (column < 0) return fail(error, "no column of this result", key);
    if (aims->count == CAVUM_SUMMARY_MOST_AIMS) return fail(error, "more than 8 aims", key);
    aims->smaller[aims->count] = cavum_scan_smaller_is_better(key);
    aims->columns[aims->count++] = column;
  }
  return CAVUM_OK;
}

static cavum_status sum_up(scan_arguments *a, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  cavum_scan_summary summary = {0};
  cavum_scan_aims aims = {0};
  cavum_outputs outputs = {.overwrite = a->overwrite};
  cavum_outputs_read(&outputs, a->input);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN_CSV, "--csv", a->csv_path);
  cavum_status status = cavum_outputs_check(&outputs, error);
  if (status == CAVUM_OK) status = cavum_stored_scan_open(&scan, a->input, error);
  if (status == CAVUM_OK) status = read_aims(&aims, a, scan, error);
  if (status == CAVUM_OK) status = cavum_scan_summarise(&summary, scan, &aims, error);
  if (status == CAVUM_OK && a->json) {
    char *json = cavum_store_scan_summary_to_json(&summary, scan, &aims);
    if (json) fputs(json, stdout);
    free(json);
  } else if (status == CAVUM_OK && !a->quiet) {
    cavum_scan_print_summary(stdout, &summary, scan, &aims);
  }
  if (status == CAVUM_OK) status = write_csv(a, a->input, error);
  cavum_scan_summary_clear(&summary);
  cavum_stored_scan_close(&scan);
  return status;
}

int cavum_cmd_scan(int argc, char **argv) {
  const struct argp argp = {
      .options = option_table,
      .parser = parse,
      .args_doc = "STUDY.yaml -o RESULT.hdf\n--summary RESULT.hdf",
      .doc =
          "Computes many shapes from one study file: one row of figures a shape, in one HDF5 "
          "file. What was computed is kept; the same command goes on from there."
          "\vExit status: 0 done, 1 parts are missing or the computation failed, 2 bad input, "
          "usage, or a file that cannot be written, 3 stopped by a signal."};
  scan_arguments arguments = {.options = cavum_scan_options_default()};
  cavum_error error = {0};
  argp_parse(&argp, argc, argv, 0, NULL, &arguments);
  cavum_cores_use_one();
  cavum_status status = arguments.summary ? sum_up(&arguments, &error) : scan(&arguments, &error);
  return cavum_process_report(status, &error);
}
