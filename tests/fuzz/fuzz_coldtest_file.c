// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any text as a cold-test file. What is accepted is computed with a few good readings,
// whatever readings it names.
#include "cavum/cavum.h"
#include "fuzz_support.h"

static const char *folder;
static const char name[] = "fuzz/test.yaml";

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  (void)count;
  (void)arguments;
  static const char readings[] =
      "forward_mW,reflected_mW,transmitted_mW,frequency_MHz,bath_temperature_K,decay_energy_ms\n"
      "0.12,0.01,0.5,1289.951,2.0,\n"
      "1.9,0.3,7.5,1289.950,1.9,900\n"
      "3.1,0.9,11.0,1289.949,1.8,850\n";
  folder = fuzz_make_folder();
  fuzz_write_file(folder, "readings.csv", readings, strlen(readings));
  return 0;
}

static void run(const cavum_coldtest_file *file, bool plan) {
  cavum_coldtest_report *report = NULL;
  const cavum_coldtest_run_options options = {
      .struct_size = sizeof options, .plan = plan, .no_monte_carlo = true};
  char *json = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_run(&report, file, &options, &error);
  if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  if (report) fuzz_check(cavum_store_coldtest_to_json(&json, report, &error) == CAVUM_OK);
  free(json);
  cavum_coldtest_report_destroy(&report);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  cavum_coldtest_file file = {0};
  cavum_error error = {0};
  cavum_status status =
      cavum_coldtest_file_read_text(&file, (const char *)data, size, name, &error);
  if (status != CAVUM_OK) {
    fuzz_check_refusal(status, &error);
    fuzz_check(strncmp(error.message, name, strlen(name)) == 0);
    return 0;
  }
  fuzz_check(strlen(file.text) <= size);
  snprintf(file.readings_path, sizeof file.readings_path, "%s/readings.csv", folder);
  file.num_traces = 0;  // fuzz_readings has them
  run(&file, false);
  if (file.num_plans > 0) run(&file, true);
  cavum_coldtest_file_clear(&file);
  return 0;
}
