// SPDX-License-Identifier: GPL-3.0-or-later
// Times of the cold-test evaluation, in processor seconds of one thread: 10,000 CW points with
// budgets and linear uncertainties (wanted: 0.2 s), 1e6 Monte Carlo draws of one point (0.2 s), and
// 1e6 rows from a CSV file with linear uncertainties (15 s and 500 MB, the peak of this process).
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "cavum/coldtest_report.h"

enum { NUM_POINTS = 10000, NUM_REPEATS = 5, NUM_ROWS = 1000000 };

static double processor_seconds(void) { return (double)clock() / CLOCKS_PER_SEC; }

static cavum_coldtest_setup bench_setup(void) {
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  setup.r_over_q_linac_ohm = (cavum_estimate){105.0, 0.1, CAVUM_DISTRIBUTION_NORMAL};
  setup.accelerating_length_m = (cavum_estimate){0.1153, 1e-4, CAVUM_DISTRIBUTION_NORMAL};
  setup.geometry_factor_ohm = (cavum_estimate){270.0, 0.1, CAVUM_DISTRIBUTION_NORMAL};
  setup.epk_over_eacc.value = 2.0;
  setup.bpk_over_eacc_t_per_v_per_m.value = 4.26e-9;
  setup.frequency_hz = 1.3e9;
  setup.common_gain_uncertainty = 0.02;
  setup.decay_uncertainty = 0.01;
  setup.decay_noise = 0.01;
  setup.directivity_db = 35.0;
  setup.branch = CAVUM_BRANCH_OVER;
  for (int channel = 0; channel < 3; channel++) {
    setup.channels[channel].gain_uncertainty = 0.01;
    setup.channels[channel].noise = 0.005;
    setup.channels[channel].attenuation_uncertainty_db = 0.05;
  }
  return setup;
}

static cavum_coldtest_readings bench_readings(void) {
  cavum_coldtest_readings readings = {.file = "bench"};
  readings.items = calloc(NUM_POINTS + 1, sizeof *readings.items);
  if (!readings.items) exit(EXIT_FAILURE);
  readings.num_readings = NUM_POINTS + 1;
  for (int i = 0; i <= NUM_POINTS; i++) {
    cavum_coldtest_reading *reading = &readings.items[i];
    *reading = cavum_coldtest_reading_empty();
    double level = 1.0 + 1e-3 * i;
    reading->power_w[CAVUM_CHANNEL_FORWARD] = 10.0 * level;
    reading->power_w[CAVUM_CHANNEL_REFLECTED] = 1.0 * level;
    reading->power_w[CAVUM_CHANNEL_TRANSMITTED] = 0.05 * level;
    if (i == 0) reading->decay_time_s = 0.8;
  }
  return readings;
}

static bool write_rows(const char *path) {
  FILE *file = fopen(path, "w");
  if (!file) return false;
  fputs("forward_W,reflected_W,transmitted_mW,decay_energy_s,bath_temperature_K\n", file);
  for (int i = 0; i < NUM_ROWS; i++) {
    double level = 1.0 + 1e-6 * i;
    fprintf(file, "%.6f,%.6f,%.6f,%s,2.0\n", 10.0 * level, level, 50.0 * level, i < 3 ? "0.8" : "");
  }
  return fclose(file) == 0;
}

// Rows of a file to points, as cavum coldtest --linear does.
static cavum_status run_rows(const char *path, cavum_error *error) {
  cavum_coldtest_file file = {.setup = bench_setup()};
  cavum_coldtest_run_options options = {.struct_size = sizeof options, .no_monte_carlo = true};
  cavum_coldtest_report *report = NULL;
  struct rusage used;
  file.text = strdup("");
  snprintf(file.readings_path, sizeof file.readings_path, "%s", path);
  double start = processor_seconds();
  cavum_status status = cavum_coldtest_run(&report, &file, &options, error);
  double took = processor_seconds() - start;
  getrusage(RUSAGE_SELF, &used);
  if (status == CAVUM_OK) {
    printf("%lld rows from CSV, linear uncertainties: %.2f s (wanted 15), %.0f MB (wanted 500)\n",
           (long long)cavum_coldtest_num_points(report->test), took,
           1.024e-3 * (double)used.ru_maxrss);
  }
  cavum_coldtest_report_destroy(&report);
  free(file.text);
  return status;
}

static cavum_status bench_rows(cavum_error *error) {
  char path[] = "/tmp/bench-coldtest-XXXXXX";
  int handle = mkstemp(path);
  if (handle < 0) return CAVUM_ERR_FILE;
  close(handle);
  cavum_status status = write_rows(path) ? run_rows(path, error) : CAVUM_ERR_FILE;
  unlink(path);
  return status;
}

int main(void) {
  cavum_coldtest_setup setup = bench_setup();
  cavum_coldtest_readings readings = bench_readings();
  cavum_error error = {0};
  double best_linear = INFINITY, best_draws = INFINITY, sum = 0.0;
  for (int repeat = 0; repeat < NUM_REPEATS; repeat++) {
    cavum_coldtest *test = NULL;
    double start = processor_seconds();
    if (cavum_coldtest_evaluate(&test, &setup, &readings, &error) != CAVUM_OK) goto failed;
    for (int i = 1; i <= NUM_POINTS; i++) {
      cavum_coldtest_budget budget;
      cavum_coldtest_make_budget(&budget, test, i, CAVUM_QUANTITY_Q0, NULL);
      sum += budget.uncertainty;
      cavum_coldtest_make_budget(&budget, test, i, CAVUM_QUANTITY_E_ACC, NULL);
      sum += budget.uncertainty;
    }
    best_linear = fmin(best_linear, processor_seconds() - start);
    for (int index = 0; index < 1; index++) {
      cavum_coldtest_monte_carlo outcome;
      start = processor_seconds();
      if (cavum_coldtest_run_monte_carlo(&outcome, test, index, 1000000, &error) != CAVUM_OK) {
        goto failed;
      }
      best_draws = fmin(best_draws, processor_seconds() - start);
      sum += outcome.results[CAVUM_MC_Q0].mean;
    }
    cavum_coldtest_destroy(&test);
  }
  printf("10,000 CW points, linear uncertainties, budgets of Q0 and E_acc: %.3f s (wanted 0.2)\n",
         best_linear);
  printf("1e6 Monte Carlo draws of one point, 14 inputs: %.3f s (wanted 0.2)\n", best_draws);
  printf("checksum %.6e\n", sum);
  cavum_coldtest_readings_clear(&readings);
  if (bench_rows(&error) != CAVUM_OK) goto failed;
  return EXIT_SUCCESS;
failed:
  fprintf(stderr, "%s\n", error.message);
  return EXIT_FAILURE;
}
