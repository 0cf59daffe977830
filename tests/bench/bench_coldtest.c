// SPDX-License-Identifier: GPL-3.0-or-later
// Times of the cold-test evaluation, in processor seconds of one thread: 10,000 CW points with
// budgets and linear uncertainties (wanted: 0.2 s), and 1e6 Monte Carlo draws of one point (0.2 s).
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "cavum/coldtest.h"

enum { NUM_POINTS = 10000, NUM_REPEATS = 5 };

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
  return EXIT_SUCCESS;
failed:
  fprintf(stderr, "%s\n", error.message);
  return EXIT_FAILURE;
}
