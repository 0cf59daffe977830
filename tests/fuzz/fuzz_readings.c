// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any bytes as a table of readings of a cold test, or as a decay trace, and what is
// computed from it. The first byte says which.
#include <math.h>

#include "cavum/cavum.h"
#include "fuzz_support.h"

/** Rows that are evaluated; what more of them would cost finds nothing new. */
enum { MOST_ROWS = 8, MOST_SAMPLES = 200 };

// A test of good readings: its setup, and the calibration that a trace needs.
static cavum_coldtest_file file;
static cavum_coldtest *good_test;

int LLVMFuzzerInitialize(int *count, char ***arguments) {
  (void)count;
  (void)arguments;
  cavum_coldtest_readings readings = {0};
  const char *path = CAVUM_CELLS_FOLDER "/coldtest/injector-test.yaml";
  fuzz_check(cavum_coldtest_file_read(&file, path, NULL) == CAVUM_OK);
  fuzz_check(cavum_coldtest_read_readings(&readings, file.readings_path, &file.setup, NULL) ==
             CAVUM_OK);
  fuzz_check(cavum_coldtest_evaluate(&good_test, &file.setup, &readings, NULL) == CAVUM_OK);
  cavum_coldtest_readings_clear(&readings);
  return 0;
}

static void check_reading(const cavum_coldtest_reading *reading) {
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) fuzz_check(!isinf(reading->power_w[i]));
  fuzz_check(isnan(reading->decay_time_s) || reading->decay_time_s > 0.0);
  fuzz_check(isnan(reading->frequency_hz) || reading->frequency_hz > 0.0);
  fuzz_check(reading->line > 0);
}

static void evaluate(const cavum_coldtest_readings *readings) {
  cavum_coldtest *result = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_evaluate(&result, &file.setup, readings, &error);
  if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  for (int64_t i = 0; i < cavum_coldtest_num_points(result); i++) {
    cavum_coldtest_budget budget;
    const cavum_coldtest_quantity quantity = (cavum_coldtest_quantity)(i % 3);
    fuzz_check(cavum_coldtest_get_point(result, i) != NULL);
    status = cavum_coldtest_make_budget(&budget, result, i, quantity, &error);
    if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
  }
  cavum_coldtest_destroy(&result);
}

static void read_readings(const char *path) {
  cavum_coldtest_readings readings = {0};
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_read_readings(&readings, path, &file.setup, &error);
  if (status != CAVUM_OK) {
    fuzz_check_refusal(status, &error);
    return;
  }
  fuzz_check(readings.num_readings > 0);
  for (int64_t i = 0; i < readings.num_readings; i++) check_reading(&readings.items[i]);
  if (readings.num_readings <= MOST_ROWS) evaluate(&readings);
  cavum_coldtest_readings_clear(&readings);
}

static void read_trace(const char *path) {
  cavum_decay_trace trace = {0};
  cavum_decay_analysis analysis;
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_read_trace(&trace, path, &error);
  if (status != CAVUM_OK) {
    fuzz_check_refusal(status, &error);
    return;
  }
  if (trace.num_samples <= MOST_SAMPLES) {
    status =
        cavum_decay_analyse(&analysis, good_test, &trace, file.setup.frequency_hz, NULL, &error);
    if (status != CAVUM_OK) fuzz_check_refusal(status, &error);
    if (status == CAVUM_OK) cavum_decay_analysis_clear(&analysis);
  }
  cavum_decay_trace_clear(&trace);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  if (size == 0) return 0;
  const char *path = fuzz_fill_file(data + 1, size - 1);
  if (data[0] == 't') {
    read_trace(path);
  } else {
    read_readings(path);
  }
  return 0;
}
