// SPDX-License-Identifier: GPL-3.0-or-later
// Reading a result of cavum scan, for people and for other programs.
#include "cli/scan_result.h"

#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "cli/input_kind.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "cli/scan_summary.h"
#include "cli/table_optimum.h"
#include "store/coldtest_load.h"
#include "store/scan_nearest.h"

enum { DEFAULT_TOP = 5 };

cavum_status cavum_scan_result_write_csv(const cavum_scan_arguments *a, const char *path,
                                         cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  if (!a->csv_path) return CAVUM_OK;
  cavum_status status = cavum_stored_scan_open(&scan, path, error);
  if (status == CAVUM_OK) status = cavum_store_write_scan_csv(a->csv_path, scan, error);
  cavum_stored_scan_close(&scan);
  return status;
}

static cavum_status open_scan(cavum_stored_scan **scan, const char *path, cavum_error *error) {
  cavum_status status = cavum_stored_scan_open(scan, path, error);
  return cavum_input_explain(status, path, CAVUM_INPUT_SCAN, error);
}

// What the nearest column is called, where one is near.
static cavum_status fail_without_column(const char *key, const cavum_stored_scan *scan,
                                        cavum_error *error) {
  char hint[CAVUM_NEAREST_SIZE], what[CAVUM_NEAREST_SIZE + 64];
  snprintf(what, sizeof what, "no column of this result%s",
           cavum_stored_scan_nearest(hint, scan, key));
  return cavum_process_fail(error, CAVUM_ERR_USAGE, key, what);
}

static cavum_status fail_direction(const char *direction, cavum_error *error) {
  char hint[CAVUM_NEAREST_SIZE], what[CAVUM_NEAREST_SIZE + 64];
  cavum_nearest nearest = {0};
  cavum_nearest_offer(&nearest, direction, "smaller");
  cavum_nearest_offer(&nearest, direction, "larger");
  snprintf(what, sizeof what, "--aims: expected FIGURE:smaller or FIGURE:larger%s",
           cavum_nearest_write(hint, &nearest, ""));
  return cavum_process_fail(error, CAVUM_ERR_USAGE, direction, what);
}

static cavum_status read_aims(cavum_scan_aims *aims, cavum_scan_arguments *a,
                              const cavum_stored_scan *scan, cavum_error *error) {
  char defaults[] = "epk_over_eacc,bpk_over_eacc_mT_per_MV_per_m,g_times_r_over_q_linac_ohm2";
  char *place = NULL;
  aims->num_best = a->top > 0 ? a->top : DEFAULT_TOP;
  cavum_status status = a->aims ? CAVUM_OK : cavum_stored_scan_aims(aims, scan, error);
  if (status != CAVUM_OK || aims->count > 0) return status;
  for (char *key = strtok_r(a->aims ? a->aims : defaults, ",", &place); key;
       key = strtok_r(NULL, ",", &place)) {
    char *direction = strrchr(key, ':');
    if (direction) *direction++ = '\0';
    int column = cavum_stored_scan_find(scan, key);
    if (column < 0 && !a->aims) continue;
    if (column < 0) return fail_without_column(key, scan, error);
    if (aims->count == CAVUM_SUMMARY_MOST_AIMS)
      return cavum_process_fail(error, CAVUM_ERR_USAGE, key, "more than 8 aims");
    for (int i = 0; i < aims->count; i++) {
      if (aims->columns[i] == column)
        return cavum_process_fail(error, CAVUM_ERR_USAGE, key, "is named twice in --aims");
    }
    aims->smaller[aims->count] =
        direction ? strcmp(direction, "smaller") == 0 : cavum_scan_smaller_is_better(key);
    if (direction && !aims->smaller[aims->count] && strcmp(direction, "larger") != 0) {
      return fail_direction(direction, error);
    }
    aims->columns[aims->count++] = column;
  }
  return CAVUM_OK;
}

// The command for the first of the best shapes: another number gives another one.
static void tell_how_to_fetch(const cavum_scan_arguments *a, const cavum_scan_summary *summary) {
  if (summary->num_best == 0) return;
  printf("\nCell file of a shape: cavum scan --shape %lld ", (long long)summary->best[0].shape);
  cavum_process_print_shell_word(stdout, a->input);
  fputs(" -o CELL.yaml\n", stdout);
}

// What cavum optimise wrote of one best shape: its search is summed up.
static cavum_status sum_up_optimum(const cavum_scan_arguments *a, cavum_error *error) {
  cavum_optimum *optimum = NULL;
  char *title = NULL, *json = NULL;
  cavum_status status = cavum_store_read_optimum(&optimum, &title, a->input, error);
  status = cavum_input_explain(status, a->input, CAVUM_INPUT_SCAN, error);
  if (status == CAVUM_OK && (a->csv_path || a->where || a->aims)) {
    status = cavum_process_fail(error, CAVUM_ERR_USAGE, a->input,
                                "the file of one best shape: --where, --aims and --csv are for the "
                                "shapes of a scan or a front");
  }
  if (status == CAVUM_OK && a->json_path) {
    status = cavum_store_optimum_to_json(&json, optimum, error);
    if (status == CAVUM_OK) status = cavum_store_write_text(a->json_path, json, error);
  }
  if (status == CAVUM_OK && !a->quiet && !cavum_scan_arguments_json_on_screen(a)) {
    cavum_table_optimum_print(stdout, optimum, title);
  }
  cavum_free(json);
  cavum_free(title);
  cavum_optimum_destroy(&optimum);
  return status;
}

// Whether a file is the result of one cell.
static bool is_result(const char *path) {
  cavum_stored_kind kind = CAVUM_STORED_SCAN;
  return cavum_stored_find_kind(&kind, path, NULL) == CAVUM_OK && kind == CAVUM_STORED_RESULT;
}

cavum_status cavum_scan_result_sum_up(cavum_scan_arguments *a, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  cavum_scan_summary summary = {0};
  cavum_scan_aims aims = cavum_scan_aims_default();
  cavum_scan_filter *filter = NULL;
  bool csv_on_screen = a->csv_path && strcmp(a->csv_path, "-") == 0;  // in place of the table
  cavum_outputs outputs = {.overwrite = a->overwrite};
  cavum_outputs_read(&outputs, a->input);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN_CSV, "--csv", a->csv_path);
  bool of_optimum = is_result(a->input);
  cavum_outputs_write(&outputs, of_optimum ? CAVUM_OUTPUT_OPTIMUM_JSON : CAVUM_OUTPUT_SCAN_JSON,
                      "--json", a->json_path);
  cavum_status status = cavum_outputs_check(&outputs, error);
  if (status == CAVUM_OK && of_optimum) return sum_up_optimum(a, error);
  if (status == CAVUM_OK) status = open_scan(&scan, a->input, error);
  if (status == CAVUM_OK) status = read_aims(&aims, a, scan, error);
  if (status == CAVUM_OK && a->where) {
    status = cavum_scan_filter_create(&filter, scan, a->where, error);
  }
  if (status == CAVUM_OK) {
    status = cavum_scan_summarise_where(&summary, scan, &aims, filter, error);
  }
  if (status == CAVUM_OK && a->json_path) {
    char *json = cavum_store_scan_summary_to_json_where(&summary, scan, &aims, filter);
    status = json ? cavum_store_write_text(a->json_path, json, error) : cavum_fail_memory(error);
    free(json);
  }
  bool on_screen = csv_on_screen || cavum_scan_arguments_json_on_screen(a);
  if (status == CAVUM_OK && !a->quiet && !on_screen) {
    status = cavum_scan_summary_print(stdout, &summary, scan, &aims, filter, a->where, error);
    if (status == CAVUM_OK) tell_how_to_fetch(a, &summary);
  }
  if (status == CAVUM_OK && a->csv_path) {
    status = cavum_store_write_scan_csv_where(a->csv_path, scan, filter, error);
  }
  cavum_scan_filter_destroy(&filter);
  cavum_scan_summary_clear(&summary);
  cavum_stored_scan_close(&scan);
  return status;
}

cavum_status cavum_scan_result_write_shape(const cavum_scan_arguments *a, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  char *text = NULL;
  cavum_outputs outputs = {.overwrite = a->overwrite};
  cavum_outputs_read(&outputs, a->input);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_CELL, "-o", a->output);
  cavum_status status = cavum_outputs_check(&outputs, error);
  if (status == CAVUM_OK) status = open_scan(&scan, a->input, error);
  if (status == CAVUM_OK) status = cavum_stored_scan_shape_to_text(&text, scan, a->shape, error);
  if (status == CAVUM_OK) status = cavum_store_write_text(a->output, text, error);
  free(text);
  cavum_stored_scan_close(&scan);
  return status;
}

// A merge is nobody's study: a result that is there already is replaced when told to only.
static bool is_no_study(const char *path, cavum_study *study) {
  (void)path;
  (void)study;
  return false;
}

cavum_status cavum_scan_result_merge(const cavum_scan_arguments *a, cavum_error *error) {
  cavum_stored_scan *one = NULL, *other = NULL;
  cavum_outputs outputs = {.overwrite = a->overwrite, .is_result_of = is_no_study};
  cavum_outputs_read(&outputs, a->input);
  cavum_outputs_read(&outputs, a->merged);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_SCAN, "-o", a->output);
  cavum_status status = cavum_outputs_check(&outputs, error);
  if (status == CAVUM_OK) status = open_scan(&one, a->input, error);
  if (status == CAVUM_OK) status = open_scan(&other, a->merged, error);
  if (status == CAVUM_OK) status = cavum_store_merge_scans(a->output, one, other, error);
  cavum_stored_scan_close(&one);
  cavum_stored_scan_close(&other);
  return status;
}
