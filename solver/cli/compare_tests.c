// SPDX-License-Identifier: GPL-3.0-or-later
// Several cold tests: what changed from the first to each later one.
#include "cli/compare_tests.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/units.h"
#include "cavum/cavum.h"
#include "cli/input_kind.h"
#include "cli/outputs.h"
#include "cli/process.h"
#include "format/quantity.h"

static bool ends_in(const char *path, const char *ending) {
  size_t length = strlen(path), size = strlen(ending);
  return length > size && strcmp(path + length - size, ending) == 0;
}

bool cavum_compare_is_test(const char *path) {
  return ends_in(path, ".yaml") || ends_in(path, ".yml");
}

// Units of the screen, in the order of the changes; a factor where the table of units has none.
static const struct {
  const char *text;
  cavum_unit unit;
  double factor;
} SHOWN[CAVUM_NUM_CHANGES] = {[CAVUM_CHANGE_RESIDUAL] = {"nohm", CAVUM_UNIT_NOHM, 1.0},
                              [CAVUM_CHANGE_BCS] = {"nohm", CAVUM_UNIT_NOHM, 1.0},
                              [CAVUM_CHANGE_LOW_FIELD] = {"nohm", CAVUM_UNIT_NOHM, 1.0},
                              [CAVUM_CHANGE_SLOPE] = {"nohm/(MV/m)^2", CAVUM_UNIT_NOHM, 1e12},
                              [CAVUM_CHANGE_ONSET] = {"MV/m", CAVUM_UNIT_MV_PER_M, 1.0},
                              [CAVUM_CHANGE_HIGHEST] = {"MV/m", CAVUM_UNIT_MV_PER_M, 1.0}};

static void print_change(const cavum_coldtest_change *c, int i) {
  const cavum_estimate estimates[] = {c->first, c->later, c->change};
  char text[3][CAVUM_QUANTITY_SIZE] = {"-", "-", "-"}, over[32] = "-";
  if (!isfinite(c->first.value) && !isfinite(c->later.value)) return;
  for (int n = 0; n < 3; n++) {
    if (!isfinite(estimates[n].value)) continue;
    cavum_quantity_format(text[n],
                          cavum_in_unit(SHOWN[i].factor * estimates[n].value, SHOWN[i].unit),
                          cavum_in_unit(SHOWN[i].factor * estimates[n].uncertainty, SHOWN[i].unit));
  }
  if (c->change.uncertainty > 0.0) {
    snprintf(over, sizeof over, "%.3g", fabs(c->change.value) / c->change.uncertainty);
  }
  printf("  %-44s %14s %14s %14s %8s  %-3s  %s\n", cavum_change_describe((cavum_change_id)i).text,
         text[0], text[1], text[2], over,
         !isfinite(c->change.value) ? "-"
         : c->significant           ? "yes"
                                    : "no",
         SHOWN[i].text);
}

static void print_ratios(const cavum_coldtest_pair *pair) {
  int64_t step = pair->num_ratios / 12 + 1;
  if (pair->num_ratios == 0) return;
  printf("  Q0 over that of the first test:\n");
  for (int64_t i = 0; i < pair->num_ratios; i += step) {
    char text[CAVUM_QUANTITY_SIZE];
    const cavum_coldtest_ratio *r = &pair->ratios[i];
    cavum_quantity_format(text, r->q0_ratio.value, r->q0_ratio.uncertainty);
    printf("    %8.3f MV/m  %s\n", cavum_in_mv_per_m(r->e_acc_v_per_m.value), text);
  }
}

static void print(const cavum_compare_tests_arguments *arguments,
                  const cavum_coldtest_comparison *comparison,
                  cavum_coldtest_report *const *reports) {
  for (int i = 0; i < arguments->num_paths; i++) {
    printf("%d  %s: %s, %lld readings\n", i + 1, arguments->paths[i], reports[i]->file.setup.title,
           (long long)cavum_coldtest_num_points(reports[i]->test));
  }
  for (int k = 0; k < comparison->num_pairs; k++) {
    const cavum_coldtest_pair *pair = &comparison->pairs[k];
    printf("\nTest %d against test 1; shared: %s%s%s\n", k + 2,
           pair->shares_calibration ? "calibration" : "",
           pair->shares_calibration && pair->shares_shape ? ", " : "",
           pair->shares_shape         ? "shape"
           : pair->shares_calibration ? ""
                                      : "nothing");
    if (!pair->shares_calibration && !pair->shares_shape) {
      printf(
          "  errors that both have cancel only where both files name them alike: shared: "
          "{calibration: NAME, shape: NAME}\n");
    }
    printf("  %-44s %14s %14s %14s %8s  %s\n", "", "test 1", "this", "change", "over u",
           "significant");
    for (int i = 0; i < CAVUM_NUM_CHANGES; i++) print_change(&pair->changes[i], i);
    print_ratios(pair);
    if (pair->caution[0]) printf("  caution: %s\n", pair->caution);
  }
  printf(
      "\nSignificant: a change above %.3g of its uncertainties (k = 1). Shared errors are not in "
      "it.\n",
      comparison->coverage_factor);
}

static cavum_output_kind kind_of(const char *path) {
  if (ends_in(path, ".html") || ends_in(path, ".htm")) return CAVUM_OUTPUT_REPORT;
  return ends_in(path, ".hdf") || ends_in(path, ".h5") ? CAVUM_OUTPUT_COMPARISON
                                                       : CAVUM_OUTPUT_PICTURE;
}

static cavum_status write_output(const cavum_compare_tests_arguments *arguments,
                                 const cavum_coldtest_comparison *comparison,
                                 const cavum_coldtest_report *const *reports, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *bytes = NULL;
  size_t size = 0;
  int count = arguments->num_paths;
  cavum_picture_options options = arguments->options;
  switch (kind_of(arguments->output_path)) {
    case CAVUM_OUTPUT_COMPARISON:
      return cavum_store_write_comparison(arguments->output_path, comparison, count, reports,
                                          error);
    case CAVUM_OUTPUT_REPORT:
      status = cavum_picture_report_comparison(&bytes, &size, comparison, count, reports, error);
      break;
    default:
      status = cavum_picture_find_format(&options.format, arguments->output_path, error);
      if (status != CAVUM_OK) return status;
      status =
          cavum_picture_draw_comparison(&bytes, &size, comparison, count, reports, &options, error);
      break;
  }
  if (status == CAVUM_OK) status = cavum_picture_write(arguments->output_path, bytes, size, error);
  free(bytes);
  return status;
}

static cavum_status write_outputs(const cavum_compare_tests_arguments *arguments,
                                  const cavum_coldtest_comparison *comparison,
                                  const cavum_coldtest_report *const *reports, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *json = NULL, *csv = NULL;
  if (arguments->json_path) {
    status =
        cavum_store_comparison_to_json(&json, comparison, arguments->num_paths, reports, error);
  }
  if (status == CAVUM_OK && arguments->csv_path) {
    status = cavum_store_comparison_to_csv(&csv, comparison, error);
  }
  if (status == CAVUM_OK && arguments->output_path) {
    status = write_output(arguments, comparison, reports, error);
  }
  if (status == CAVUM_OK && json) {
    status = cavum_store_write_text(arguments->json_path, json, error);
  }
  if (status == CAVUM_OK && csv) status = cavum_store_write_text(arguments->csv_path, csv, error);
  free(json);
  free(csv);
  return status;
}

// The test files, and what one of them names once it is read: measured data are read as well.
static cavum_status check_files(const cavum_compare_tests_arguments *arguments,
                                const cavum_coldtest_file *named, cavum_error *error) {
  cavum_outputs outputs = {.overwrite = arguments->overwrite};
  for (int i = 0; i < arguments->num_paths; i++) cavum_outputs_read(&outputs, arguments->paths[i]);
  if (named) cavum_outputs_read_test(&outputs, named);
  cavum_outputs_write(
      &outputs, arguments->output_path ? kind_of(arguments->output_path) : CAVUM_OUTPUT_PICTURE,
      "-o", arguments->output_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_COMPARISON_JSON, "--json", arguments->json_path);
  cavum_outputs_write(&outputs, CAVUM_OUTPUT_COMPARISON_CSV, "--csv", arguments->csv_path);
  return cavum_outputs_check(&outputs, error);
}

static cavum_status evaluate(cavum_coldtest_report **report,
                             const cavum_compare_tests_arguments *arguments, const char *path,
                             cavum_error *error) {
  cavum_coldtest_run_options run = cavum_coldtest_run_options_default();
  cavum_coldtest_file file = {0};
  cavum_status status = cavum_coldtest_file_read(&file, path, error);
  status = cavum_input_explain(status, path, CAVUM_INPUT_TEST, error);
  if (status == CAVUM_OK) status = check_files(arguments, &file, error);
  if (status == CAVUM_OK && file.result_path[0]) {
    status = cavum_store_read_coldtest_geometry(&file, error);
  }
  if (status == CAVUM_OK) status = cavum_coldtest_run(report, &file, &run, error);
  cavum_coldtest_file_clear(&file);
  return status;
}

int cavum_compare_tests(const cavum_compare_tests_arguments *arguments) {
  cavum_error error = {0};
  cavum_coldtest_comparison comparison = {0};
  cavum_coldtest_report *reports[CAVUM_COMPARE_TESTS_MOST] = {NULL};
  const cavum_coldtest_report *const *tests = (const cavum_coldtest_report *const *)reports;
  cavum_status status = check_files(arguments, NULL, &error);
  for (int i = 0; i < arguments->num_paths && status == CAVUM_OK; i++) {
    status = evaluate(&reports[i], arguments, arguments->paths[i], &error);
  }
  if (status == CAVUM_OK) {
    status = cavum_coldtest_compare(&comparison, arguments->num_paths, tests, &error);
  }
  if (status == CAVUM_OK) status = write_outputs(arguments, &comparison, tests, &error);
  bool printed =
      arguments->quiet || (arguments->json_path && strcmp(arguments->json_path, "-") == 0);
  if (status == CAVUM_OK && !printed) print(arguments, &comparison, reports);
  cavum_coldtest_comparison_clear(&comparison);
  for (int i = 0; i < arguments->num_paths; i++) cavum_coldtest_report_destroy(&reports[i]);
  return cavum_process_report(status, &error);
}
