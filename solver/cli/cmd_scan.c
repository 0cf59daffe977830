// SPDX-License-Identifier: GPL-3.0-or-later
// cavum scan: computes a study or a part of it, gathers the parts, reads a result.
#include <limits.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "base/stop.h"
#include "cavum/cavum.h"
#include "cli/commands.h"
#include "cli/cores.h"
#include "cli/input_kind.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/scan_progress.h"
#include "cli/scan_result.h"

static const double seconds_to_measure = 3.0;

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

// A signal ends the command in order, with what is complete stored and no temporary file left.
// Schedulers send theirs to a whole process group and again when time runs out, so more of them
// change nothing; a second one from the keyboard ends at once.
static void catch_signals(void) {
  struct sigaction action = {.sa_handler = request_stop};
  sigemptyset(&action.sa_mask);
  sigaction(SIGTERM, &action, NULL);
  sigaction(SIGHUP, &action, NULL);
  action.sa_flags = (int)SA_RESETHAND;
  sigaction(SIGINT, &action, NULL);
}

static cavum_status fail(cavum_error *error, const char *what, const char *name) {
  return cavum_process_fail(error, CAVUM_ERR_USAGE, name, what);
}

static cavum_status find_watched(cavum_scan_arguments *a, const cavum_study *study,
                                 cavum_error *error) {
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, study);
  cavum_nearest nearest = {0};
  char hint[CAVUM_NEAREST_SIZE], what[CAVUM_NEAREST_SIZE + 64];
  for (int i = 0; a->watched_key && i < count; i++) {
    cavum_nearest_offer(&nearest, a->watched_key, columns[i].key);
    if (strcmp(columns[i].key, a->watched_key) == 0) a->options.watched_column = i;
  }
  if (!a->watched_key || a->options.watched_column >= 0) {
    a->options.watch_smallest = a->watched_key && cavum_scan_smaller_is_better(a->watched_key);
    return CAVUM_OK;
  }
  snprintf(what, sizeof what, "no column of this study%s", cavum_nearest_write(hint, &nearest, ""));
  return fail(error, what, a->watched_key);
}

// True when the result is there already: same study, same version.
static bool is_gathered(const cavum_scan_arguments *a, const cavum_study *study) {
  cavum_stored_scan *scan = NULL;
  if (access(a->output, R_OK) != 0) return false;
  if (cavum_stored_scan_open(&scan, a->output, NULL) != CAVUM_OK) return false;
  bool same = cavum_stored_scan_is_of(scan, study);
  cavum_stored_scan_close(&scan);
  return same;
}

// A result without a single shape that is done is written, but no success.
static cavum_status check_any_done(const cavum_scan_arguments *a, cavum_error *error) {
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
static cavum_status name_sources(char path[PATH_MAX], const cavum_scan_arguments *a,
                                 cavum_error *error) {
  if (snprintf(path, PATH_MAX, "%s.sources.json", a->output) < PATH_MAX) return CAVUM_OK;
  return fail(error, "the name is too long", a->output);
}

// The result of a study may be replaced by that of the same study, grown or not.
static bool is_result_of(const char *path, cavum_study *study) {
  cavum_stored_scan *scan = NULL;
  if (cavum_stored_scan_open(&scan, path, NULL) != CAVUM_OK) return false;
  bool same = cavum_stored_scan_is_of(scan, study) || cavum_stored_scan_begins(scan, study);
  cavum_stored_scan_close(&scan);
  return same;
}

static cavum_status check_outputs(const cavum_scan_arguments *a, cavum_study *study,
                                  cavum_error *error) {
  char sources[PATH_MAX];
  cavum_outputs outputs = {.overwrite = a->overwrite,
                           .study = study,
                           .is_result_of = is_result_of,
                           .tell_difference = cavum_study_difference_write};
  cavum_status status = name_sources(sources, a, error);
  if (status != CAVUM_OK) return status;
  cavum_outputs_read_all(&outputs, cavum_study_files(study));
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN, "-o", a->output);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SOURCES_JSON, "-o", sources);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN_CSV, "--csv", a->csv_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN_JSON, "--json", a->json_path);
  return cavum_outputs_check(&outputs, error);
}

// Who computed what goes to a file of its own: the result does not depend on it.
static cavum_status write_sources(const cavum_scan_arguments *a, const cavum_study *study,
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

// Parts are removed for a result that can be read alone.
static cavum_status check_readable(const cavum_scan_arguments *a, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  cavum_status status = cavum_stored_scan_open(&scan, a->output, error);
  cavum_stored_scan_close(&scan);
  return status;
}

// What is left to do is done the next time.
static cavum_status explain_stop(cavum_status status, const cavum_scan_arguments *a,
                                 const char *what, cavum_error *error) {
  if (status != CAVUM_ERR_STOPPED) return status;
  return cavum_process_fail(error, status, a->output, what);
}

static cavum_status gather(const cavum_scan_arguments *a, const cavum_study *study,
                           cavum_error *error) {
  cavum_scan_records *records = NULL;
  cavum_stop stop = {.ask = stop_is_requested}, *before = cavum_stop_set(&stop);
  cavum_status status = cavum_scan_records_open(&records, study, a->output, error);
  if (status == CAVUM_OK) status = cavum_store_write_scan(a->output, study, records, error);
  if (status == CAVUM_OK) status = check_readable(a, error);
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
  cavum_stop_set(before);
  if (status == CAVUM_OK && !a->keep_parts) status = cavum_scan_records_remove(a->output, error);
  return explain_stop(status, a,
                      "stopped while its parts were gathered; they are kept, and the same command "
                      "goes on",
                      error);
}

static cavum_status write_csv(const cavum_scan_arguments *a, cavum_error *error) {
  cavum_stop stop = {.ask = stop_is_requested}, *before = cavum_stop_set(&stop);
  cavum_status status = cavum_scan_result_write_csv(a, a->output, error);
  cavum_stop_set(before);
  return explain_stop(status, a, "is complete; stopped before --csv was written", error);
}

// The rows of an earlier result of this study, which has grown or got other words since.
static cavum_status reuse(const cavum_scan_arguments *a, cavum_study *study, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  if (access(a->output, R_OK) != 0) return CAVUM_OK;
  if (cavum_stored_scan_open(&scan, a->output, NULL) != CAVUM_OK) return CAVUM_OK;
  bool begins = cavum_stored_scan_begins(scan, study);
  cavum_stored_scan_close(&scan);
  if (!begins) return CAVUM_OK;
  const cavum_scan_options *options = &a->options;
  return cavum_store_reuse_scan(a->output, study, options->part, options->num_parts, error);
}

static cavum_status compute(cavum_scan_arguments *a, cavum_study *study, cavum_error *error) {
  cavum_scan_progress outcome = {0};
  bool on_screen = cavum_scan_arguments_json_on_screen(a);
  cavum_scan_teller teller = {.telling = a->quiet                ? CAVUM_SCAN_TELL_NOTHING
                                         : on_screen             ? CAVUM_SCAN_TELL_JSON
                                         : isatty(STDERR_FILENO) ? CAVUM_SCAN_TELL_TERMINAL
                                                                 : CAVUM_SCAN_TELL_LOG,
                              .watched_key = a->watched_key,
                              .json_path = on_screen ? NULL : a->json_path};
  cavum_status status = find_watched(a, study, error);
  if (status != CAVUM_OK) return status;
  a->options.stop = stop_is_requested;
  a->options.watcher = cavum_scan_tell;
  a->options.watcher_data = &teller;
  status = cavum_scan_run(&outcome, study, a->output, &a->options, error);
  cavum_scan_tell_end(&outcome, &teller);
  if (status == CAVUM_OK && teller.json_status != CAVUM_OK) {
    status = teller.json_status;
    if (error) *error = teller.json_error;
  }
  return status;
}

static cavum_status estimate(const cavum_scan_arguments *a, cavum_study *study,
                             cavum_error *error) {
  cavum_scan_estimate measured;
  cavum_outputs outputs = {.overwrite = a->overwrite};
  cavum_outputs_read_all(&outputs, cavum_study_files(study));
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN_JSON, "--json", a->json_path);
  cavum_status status = cavum_outputs_check(&outputs, error);
  if (status == CAVUM_OK) status = cavum_scan_measure(&measured, study, seconds_to_measure, error);
  if (status != CAVUM_OK) return status;
  char *json = cavum_store_scan_estimate_to_json(&measured, study);
  if (!json) return cavum_fail_memory(error);
  if (a->json_path && !cavum_scan_arguments_json_on_screen(a)) {
    status = cavum_scan_write_json_line(a->json_path, json, error);
  } else {
    puts(json);
  }
  free(json);
  return status;
}

// A run that was killed between writing the result and removing its parts left them. Records of
// another study under this name are not ours to remove.
static cavum_status remove_leftovers(const cavum_scan_arguments *a, const cavum_study *study,
                                     cavum_error *error) {
  cavum_scan_records *records = NULL;
  if (a->keep_parts || a->part) return CAVUM_OK;
  if (cavum_scan_records_open(&records, study, a->output, NULL) != CAVUM_OK) return CAVUM_OK;
  cavum_scan_records_close(&records);
  return cavum_scan_records_remove(a->output, error);
}

// Another run may have gathered the study and removed its records while this one computed or
// gathered: what was to be done is done then.
static cavum_status accept_gathered(cavum_status status, const cavum_scan_arguments *a,
                                    const cavum_study *study) {
  bool lost_records = status == CAVUM_ERR_FILE || status == CAVUM_ERR_NOT_CONVERGED;
  return lost_records && is_gathered(a, study) ? CAVUM_OK : status;
}

static cavum_status scan(cavum_scan_arguments *a, cavum_error *error) {
  cavum_study *study = NULL;
  if (!a->estimate) catch_signals();
  cavum_status status = cavum_study_open(&study, a->input, error);
  status = cavum_input_explain(status, a->input, CAVUM_INPUT_STUDY, error);
  if (status == CAVUM_OK) cavum_process_note(cavum_study_note(study));
  if (status == CAVUM_OK && a->estimate) {
    status = estimate(a, study, error);
    goto done;
  }
  if (status == CAVUM_OK) status = check_outputs(a, study, error);
  if (status == CAVUM_OK && is_gathered(a, study)) {
    if (!a->quiet) fprintf(stderr, "%s is complete\n", a->output);
    status = remove_leftovers(a, study, error);
    if (status == CAVUM_OK) status = write_csv(a, error);
    if (status == CAVUM_OK) status = check_any_done(a, error);
    goto done;
  }
  if (status == CAVUM_OK) status = reuse(a, study, error);
  if (status == CAVUM_OK && !a->gather) status = compute(a, study, error);
  bool whole = !a->part;
  if (status == CAVUM_OK && whole) status = gather(a, study, error);
  status = accept_gathered(status, a, study);
  if (status == CAVUM_OK && whole) status = write_csv(a, error);
  if (status == CAVUM_OK && whole) status = check_any_done(a, error);
done:
  cavum_study_close(&study);
  return status;
}

int cavum_cmd_scan(int argc, char **argv) {
  cavum_scan_arguments arguments = cavum_scan_arguments_parse(argc, argv);
  cavum_error error = {0};
  cavum_cores_use_one();
  cavum_status status = arguments.summary      ? cavum_scan_result_sum_up(&arguments, &error)
                        : arguments.merged     ? cavum_scan_result_merge(&arguments, &error)
                        : arguments.shape >= 0 ? cavum_scan_result_write_shape(&arguments, &error)
                                               : scan(&arguments, &error);
  return cavum_process_report(status, &error);
}
