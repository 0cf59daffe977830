// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage of what a cold test says against the field: cavities whose local surface resistance is
// known, integrated over a wall, measured many times with every stated error drawn anew.
#ifndef CAVUM_TEST_COVERAGE_FIELD_H
#define CAVUM_TEST_COVERAGE_FIELD_H

#include <gsl/gsl_sf_bessel.h>

#include "cavum/coldtest_field.h"
#include "cavum/coldtest_frequency.h"
#include "coverage.h"

enum { FIELD_GRADIENTS = 4, FIELD_TEMPERATURES = 9 };
#define FIELD_COMMON_K 5e-3
#define FIELD_OWN_K 1e-3
#define FIELD_LORENTZ (-1.1e-12) /* Hz m^2/V^2 */
#define FIELD_DF_DP (-0.18)      /* Hz/Pa */
#define FIELD_READ_HZ 0.5
#define FIELD_READ_PA 2.0
#define FIELD_GAUGE 0.01
static const double FIELD_E_V_PER_M[FIELD_GRADIENTS] = {5e6, 10e6, 15e6, 20e6};

/** Samples of a wall; shape [count] each. */
enum { FIELD_WALL_MOST = 6003 };
typedef struct field_wall {
  int count;
  double z_m[FIELD_WALL_MOST], r_m[FIELD_WALL_MOST], h[FIELD_WALL_MOST];
} field_wall;

/** Arc length along a wall, shape [count]; valid until the next call. */
static inline const double *field_wall_arc_length(const field_wall *wall) {
  static double arc_length_m[FIELD_WALL_MOST];
  for (int64_t i = 1; i < wall->count; i++) {
    arc_length_m[i] = arc_length_m[i - 1] +
                      hypot(wall->z_m[i] - wall->z_m[i - 1], wall->r_m[i] - wall->r_m[i - 1]);
  }
  return arc_length_m;
}

/** Wall of a closed pillbox of length lambda/2, TM010: H = J1(k r), with `side` steps a side. */
static inline void field_make_wall(field_wall *wall, int side) {
  const double k = 2.0 * CAVUM_PI * 1.3e9 / 299792458.0, radius_m = 2.4048255576958 / k;
  const double length_m = CAVUM_PI / k;
  wall->count = 0;
  for (int part = 0; part < 3; part++) {
    for (int i = 0; i <= side; i++) {
      double t = (double)i / side, r = part == 0 ? t : part == 1 ? 1.0 : 1.0 - t;
      wall->z_m[wall->count] = length_m * (part == 0 ? 0.0 : part == 1 ? t : 1.0);
      wall->r_m[wall->count] = radius_m * r;
      wall->h[wall->count++] = gsl_sf_bessel_J1(k * radius_m * r);
    }
  }
}

/** The local surface resistance, b = B / 0.1 T: parabolas with a linear term. */
static inline double field_true_coefficient(int part, int n) {
  static const double table[CAVUM_NUM_FIELD_PARTS][3] = {{11e-9, -4e-9, 9e-9},
                                                         {4e-9, 1.5e-9, 5e-9}};
  return n < 3 ? table[part][n] : 0.0;
}

static inline double field_true_local_ohm(int part, double b_t) {
  double b = b_t / 0.1;
  return field_true_coefficient(part, 0) + b * field_true_coefficient(part, 1) +
         b * b * field_true_coefficient(part, 2);
}

/** BCS part at a temperature over that at 2 K. */
static inline double field_true_factor(double temperature_k) {
  return 2.0 / temperature_k * exp(-17.67 * (1.0 / temperature_k - 0.5));
}

/** Mean over the wall with weight H^2, the peak field being b_peak_t: what G / Q0 is. */
static inline double field_true_mean_ohm(const field_wall *wall, int part, double b_peak_t) {
  double peak = 0.0, sum = 0.0, weight = 0.0;
  for (int i = 0; i < wall->count; i++) peak = fmax(peak, fabs(wall->h[i]));
  for (int i = 0; i + 1 < wall->count; i++) {
    double step = hypot(wall->z_m[i + 1] - wall->z_m[i], wall->r_m[i + 1] - wall->r_m[i]);
    double r = 0.5 * (wall->r_m[i] + wall->r_m[i + 1]);
    double h = 0.5 * fabs(wall->h[i] + wall->h[i + 1]);
    sum += step * r * h * h * field_true_local_ohm(part, b_peak_t * h / peak);
    weight += step * r * h * h;
  }
  return sum / weight;
}

/** What is watched. */
enum {
  FIELD_BCS,
  FIELD_RESIDUAL = FIELD_BCS + FIELD_GRADIENTS,
  FIELD_LOCAL_BCS = FIELD_RESIDUAL + FIELD_GRADIENTS,
  FIELD_LOCAL_RESIDUAL = FIELD_LOCAL_BCS + FIELD_GRADIENTS,
  FIELD_GAP = FIELD_LOCAL_RESIDUAL + FIELD_GRADIENTS,
  FIELD_COEFFICIENT = FIELD_GAP + FIELD_GRADIENTS,
  FIELD_B_PEAK = FIELD_COEFFICIENT + 3 * CAVUM_NUM_FIELD_PARTS,
  FIELD_E_ACC = FIELD_B_PEAK + FIELD_GRADIENTS,
  FIELD_K_LORENTZ = FIELD_E_ACC + FIELD_GRADIENTS,
  FIELD_K_PRESSURE,
  FIELD_FREQUENCY,
  NUM_FIELD_RESULTS
};

static inline const char *field_name(char text[96], int result) {
  static const char *const names[] = {"mean BCS", "mean residual", "local BCS", "local residual",
                                      "gap"};
  if (result < FIELD_COEFFICIENT) {
    snprintf(text, 96, "%s, gradient %d", names[result / FIELD_GRADIENTS],
             result % FIELD_GRADIENTS + 1);
  } else if (result < FIELD_B_PEAK) {
    int i = result - FIELD_COEFFICIENT;
    snprintf(text, 96, "local %s, power %d", i / 3 == 0 ? "BCS" : "residual", i % 3);
  } else if (result >= FIELD_K_LORENTZ) {
    static const char *const last[] = {"Lorentz-force coefficient", "df/dp", "frequency"};
    snprintf(text, 96, "%s", last[result - FIELD_K_LORENTZ]);
  } else {
    snprintf(text, 96, "%s, gradient %d", result < FIELD_E_ACC ? "B_pk" : "E_acc",
             (result - FIELD_B_PEAK) % FIELD_GRADIENTS + 1);
  }
  return text;
}

/** Counts. */
typedef struct field_count {
  int64_t draws, failed, held[NUM_FIELD_RESULTS];
} field_count;

static inline void field_add(field_count *count, int result, cavum_estimate estimate,
                             double truth) {
  count->held[result] += fabs(estimate.value - truth) <= 1.959964 * estimate.uncertainty;
}

/** A test of several gradients; `truth`: true figures; errors of `scale` (0: none). */
typedef struct field_test {
  cavum_coldtest_setup setup;
  cavum_coldtest_reading readings[FIELD_GRADIENTS * FIELD_TEMPERATURES];
  double true_e_v_per_m[FIELD_GRADIENTS], true_b_t[FIELD_GRADIENTS];
} field_test;

static inline void field_draw_test(field_test *out, const field_wall *wall, gsl_rng *rng,
                                   bool exact) {
  cavum_coldtest_setup setup = coverage_setup(&COVERAGE_CASES[0]);
  wave_cavity cavity = coverage_cavity(&COVERAGE_CASES[0]);
  setup.temperature_uncertainty_k = FIELD_OWN_K;
  setup.temperature_common_k = FIELD_COMMON_K;
  setup.branch = CAVUM_BRANCH_OVER;
  cavity.q_external = 8e9;
  setup.q_pickup.value = cavity.q_pickup;
  setup.q_pickup.uncertainty = 0.02 * cavity.q_pickup;
  coverage_figures f = {setup.r_over_q_linac_ohm.value, setup.accelerating_length_m.value,
                        setup.geometry_factor_ohm.value, setup.epk_over_eacc.value,
                        setup.bpk_over_eacc_t_per_v_per_m.value};
  wave_errors shared = {0};
  double common_k = 0.0, gauge = exact ? 0.0 : gsl_ran_gaussian(rng, FIELD_GAUGE);
  if (!exact) {
    f = (coverage_figures){coverage_true(setup.r_over_q_linac_ohm, rng),
                           coverage_true(setup.accelerating_length_m, rng),
                           coverage_true(setup.geometry_factor_ohm, rng),
                           coverage_true(setup.epk_over_eacc, rng),
                           coverage_true(setup.bpk_over_eacc_t_per_v_per_m, rng)};
    shared = coverage_shared(&setup, rng);
    common_k = gsl_ran_gaussian(rng, FIELD_COMMON_K);
    cavity.q_pickup = coverage_true(setup.q_pickup, rng);
  }
  for (int g = 0; g < FIELD_GRADIENTS; g++) {
    double voltage_v = FIELD_E_V_PER_M[g] * setup.accelerating_length_m.value;
    double energy_j =
        voltage_v * voltage_v / (setup.r_over_q_linac_ohm.value * wave_omega(&cavity));
    double e = sqrt(wave_omega(&cavity) * energy_j * f.r_over_q_ohm) / f.length_m, b = f.bpk * e;
    out->true_e_v_per_m[g] = e;
    out->true_b_t[g] = b;
    double bcs = field_true_mean_ohm(wall, CAVUM_FIELD_BCS, b);
    double residual = field_true_mean_ohm(wall, CAVUM_FIELD_RESIDUAL, b);
    for (int i = 0; i < FIELD_TEMPERATURES; i++) {
      double temperature_k = 1.5 + 0.075 * i;
      wave_errors errors = exact ? shared : coverage_of_reading(&setup, &shared, rng);
      cavity.q0 = f.factor_ohm / (bcs * field_true_factor(temperature_k) + residual);
      cavum_coldtest_reading *reading = &out->readings[g * FIELD_TEMPERATURES + i];
      *reading = wave_reading(&setup, &cavity, energy_j, COVERAGE_TWO, &errors);
      reading->bath_temperature_k =
          temperature_k - common_k - (exact ? 0.0 : gsl_ran_gaussian(rng, FIELD_OWN_K));
      // The bath pressure follows the temperature; its gauge is off in scale, readings scatter.
      double pressure_pa = 600.0 + 300.0 * i + 20.0 * g;
      double true_hz =
          cavity.frequency_hz + FIELD_LORENTZ * e * e + FIELD_DF_DP * (pressure_pa - 2000.0);
      reading->frequency_hz = true_hz / (1.0 + shared.frequency);
      reading->bath_pressure_pa = pressure_pa / (1.0 + gauge);
      if (exact) continue;
      reading->frequency_hz += gsl_ran_gaussian(rng, FIELD_READ_HZ);
      reading->bath_pressure_pa += gsl_ran_gaussian(rng, FIELD_READ_PA);
    }
  }
  out->setup = setup;
}

static inline cavum_resistance_field_options field_options(void) {
  cavum_resistance_field_options options = {.struct_size = sizeof options,
                                            .num_gradients = FIELD_GRADIENTS,
                                            .e_acc_tolerance = 0.1,
                                            .reference_k = 2.0,
                                            .degree = 2};
  for (int g = 0; g < FIELD_GRADIENTS; g++) options.e_acc_v_per_m[g] = FIELD_E_V_PER_M[g];
  return options;
}

static inline cavum_frequency_options field_frequency_options(void) {
  return (cavum_frequency_options){.struct_size = sizeof(cavum_frequency_options),
                                   .reading_hz = FIELD_READ_HZ,
                                   .pressure_pa = FIELD_READ_PA,
                                   .pressure_scale = FIELD_GAUGE};
}

/** Frequency against field and pressure; the pressure of the truth is the mean that was read. */
static inline void field_add_frequency(field_count *count, const cavum_coldtest *test) {
  cavum_frequency_fit fit;
  cavum_frequency_options options = field_frequency_options();
  if (cavum_frequency_make_fit(&fit, test, &options, NULL, NULL) != CAVUM_OK) {
    count->failed++;
    return;
  }
  field_add(count, FIELD_K_LORENTZ, fit.lorentz_hz_m2_per_v2, FIELD_LORENTZ);
  field_add(count, FIELD_K_PRESSURE, fit.pressure_hz_per_pa, FIELD_DF_DP);
  field_add(count, FIELD_FREQUENCY, fit.frequency_hz,
            1.3e9 + FIELD_DF_DP * (fit.mean_pressure_pa - 2000.0));
}

static inline void field_add_all(field_count *count, const cavum_resistance_field *field,
                                 const field_test *test, const field_wall *wall) {
  for (int g = 0; g < FIELD_GRADIENTS; g++) {
    const cavum_resistance_field_point *point = &field->points[g];
    double b = test->true_b_t[g], at = point->b_peak_t.value;
    field_add(count, FIELD_BCS + g, point->bcs_ohm, field_true_mean_ohm(wall, CAVUM_FIELD_BCS, b));
    field_add(count, FIELD_RESIDUAL + g, point->residual_ohm,
              field_true_mean_ohm(wall, CAVUM_FIELD_RESIDUAL, b));
    field_add(count, FIELD_LOCAL_BCS + g, point->local_bcs_ohm,
              field_true_local_ohm(CAVUM_FIELD_BCS, at));
    field_add(count, FIELD_LOCAL_RESIDUAL + g, point->local_residual_ohm,
              field_true_local_ohm(CAVUM_FIELD_RESIDUAL, at));
    field_add(count, FIELD_GAP + g, point->fit.gap_k, 17.67);
    field_add(count, FIELD_B_PEAK + g, point->b_peak_t, b);
    field_add(count, FIELD_E_ACC + g, point->e_acc_v_per_m, test->true_e_v_per_m[g]);
  }
  for (int i = 0; i < 3 * CAVUM_NUM_FIELD_PARTS; i++) {
    field_add(count, FIELD_COEFFICIENT + i, field->local_ohm[i / 3][i % 3],
              field_true_coefficient(i / 3, i % 3));
  }
}

/** Many tests; returns how many results are outside of 94 to 96 % by four standard deviations. */
static inline int field_coverage_run(int64_t draws, bool all) {
  static field_wall coarse, fine;
  field_count count = {0};
  cavum_wall_weighting weighting;
  cavum_resistance_field_options options = field_options();
  field_make_wall(&coarse, 300);
  field_make_wall(&fine, 1000);
  if (cavum_wall_weigh(&weighting, coarse.count, field_wall_arc_length(&coarse), coarse.r_m,
                       coarse.h, NULL) != CAVUM_OK) {
    return 1;
  }
  cavum_resistance_field *field = malloc(sizeof *field);
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int64_t i = 0; i < draws; i++) {
    field_test drawn;
    field_draw_test(&drawn, &fine, rng, false);
    cavum_coldtest_readings readings = {.num_readings = FIELD_GRADIENTS * FIELD_TEMPERATURES,
                                        .items = drawn.readings,
                                        .file = "readings"};
    cavum_coldtest *test = NULL;
    count.draws++;
    if (cavum_coldtest_evaluate(&test, &drawn.setup, &readings, NULL) == CAVUM_OK &&
        cavum_resistance_make_field(field, test, &options, &weighting, NULL) == CAVUM_OK) {
      field_add_all(&count, field, &drawn, &fine);
      field_add_frequency(&count, test);
    } else {
      count.failed++;
    }
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
  free(field);
  int outside = count.failed > 0;
  if (outside) printf("OUT against field: %lld fits failed\n", (long long)count.failed);
  for (int i = 0; i < NUM_FIELD_RESULTS; i++) {
    char text[96];
    double n = (double)count.draws, held = (double)count.held[i] / n;
    double lowest = 0.94 - 4.0 * sqrt(0.94 * 0.06 / n),
           highest = 0.96 + 4.0 * sqrt(0.96 * 0.04 / n);
    bool bad = held < lowest || held > highest;
    outside += bad;
    if (bad || all) {
      printf("%s against field            %-36s %6.2f %% of %.0f (%.2f to %.2f)\n",
             bad ? "OUT" : "   ", field_name(text, i), 100.0 * held, n, 100.0 * lowest,
             100.0 * highest);
    }
  }
  return outside;
}

#endif
