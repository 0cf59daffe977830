// SPDX-License-Identifier: GPL-3.0-or-later
// A cavity that emits electrons, and the radiation monitor beside it, measured many times with
// every stated error drawn anew. The law of the current is written out here with its constants.
#ifndef CAVUM_TEST_COVERAGE_EMISSION_H
#define CAVUM_TEST_COVERAGE_EMISSION_H

#include "cavum/coldtest_emission.h"
#include "coverage.h"

enum { EMISSION_READINGS = 36 };
#define EMISSION_BETA 200.0
#define EMISSION_WORK_EV 4.2
#define EMISSION_BACKGROUND 2e-7 /* Sv/h */
#define EMISSION_DOSE 3e-4       /* Sv/h at EMISSION_TOP */
#define EMISSION_POWER_W 12.0    /* Of electrons there. */
#define EMISSION_TOP 30e6        /* V/m */

/** Current in any unit, 1 at EMISSION_TOP and E_pk / E_acc = ratio. */
static inline double emission_current(double e_v_per_m, double ratio) {
  const double phi = EMISSION_WORK_EV;
  double exponent = 6.53e9 * pow(phi, 1.5) / (EMISSION_BETA * ratio);
  double at = pow(e_v_per_m, 2.5) * exp(-exponent / e_v_per_m);
  return at / (pow(EMISSION_TOP, 2.5) * exp(-exponent / EMISSION_TOP));
}

/** Power of electrons: current times a voltage that goes with the field. */
static inline double emission_power_w(double e_v_per_m, double ratio) {
  return EMISSION_POWER_W * emission_current(e_v_per_m, ratio) * e_v_per_m / EMISSION_TOP;
}

/** 1/Q0 of the walls. */
static inline double emission_wall(double e_v_per_m) {
  double x = e_v_per_m / EMISSION_TOP;
  return (1.0 + 0.1 * x + 0.3 * x * x) / 2e10;
}

/** Where emission equals the background, by bisection. */
static inline double emission_onset(double ratio, double over) {
  double low = 1e6, high = EMISSION_TOP;
  for (int i = 0; i < 100; i++) {
    double middle = 0.5 * (low + high);
    bool above = EMISSION_DOSE * emission_current(middle, ratio) > over * EMISSION_BACKGROUND;
    *(above ? &high : &low) = middle;
  }
  return low;
}

/** What is known of the monitor. */
static inline cavum_field_emission_options emission_options(void) {
  return (cavum_field_emission_options){
      .struct_size = sizeof(cavum_field_emission_options),
      .reading_relative = 0.05,
      .reading_sv_per_h = 2e-8,
      .calibration = 0.15,
      .work_function_ev = {.value = EMISSION_WORK_EV, .uncertainty = 0.05}};
}

/** One test. */
typedef struct emission_test {
  cavum_coldtest_setup setup;
  cavum_coldtest_reading readings[EMISSION_READINGS];
  double true_e_v_per_m[EMISSION_READINGS], true_power_w[EMISSION_READINGS];
  double ratio, beta; /**< True E_pk / E_acc; beta that the stated law gives. */
  double background;  /**< True. */
} emission_test;

/** Draws a test; rng NULL: without errors. `emits`: with electrons. */
static inline void emission_draw(emission_test *out, gsl_rng *rng,
                                 const cavum_field_emission_options *options, bool emits) {
  cavum_coldtest_setup setup = coverage_setup(&COVERAGE_CASES[0]);
  wave_cavity cavity = coverage_cavity(&COVERAGE_CASES[0]);
  setup.branch = CAVUM_BRANCH_OVER;
  cavity.q_external = 5e9;
  setup.q_pickup.value = cavity.q_pickup;
  setup.q_pickup.uncertainty = 0.02 * cavity.q_pickup;
  double r_over_q = setup.r_over_q_linac_ohm.value, length = setup.accelerating_length_m.value;
  double gain = 0.0, phi = EMISSION_WORK_EV;
  wave_errors shared = {0};
  out->ratio = setup.epk_over_eacc.value;
  if (rng) {
    r_over_q = coverage_true(setup.r_over_q_linac_ohm, rng);
    length = coverage_true(setup.accelerating_length_m, rng);
    out->ratio = coverage_true(setup.epk_over_eacc, rng);
    shared = coverage_shared(&setup, rng);
    cavity.q_pickup = coverage_true(setup.q_pickup, rng);
    gain = gsl_ran_gaussian(rng, options->calibration);
    phi -= gsl_ran_gaussian(rng, options->work_function_ev.uncertainty);
  }
  // With a true work function phi, the same current comes from another enhancement.
  out->beta = EMISSION_BETA * pow(phi / EMISSION_WORK_EV, 1.5);
  out->background = EMISSION_BACKGROUND;
  for (int i = 0; i < EMISSION_READINGS; i++) {
    double e = EMISSION_TOP * (0.1 + 0.9 * i / (EMISSION_READINGS - 1.0)), v = e * length;
    double energy_j = v * v / (r_over_q * wave_omega(&cavity));
    double power_w = emits ? emission_power_w(e, out->ratio) : 0.0;
    wave_errors errors = rng ? coverage_of_reading(&setup, &shared, rng) : shared;
    cavity.q0 = 1.0 / (emission_wall(e) + power_w / (wave_omega(&cavity) * energy_j));
    out->readings[i] = wave_reading(&setup, &cavity, energy_j, COVERAGE_TWO, &errors);
    double dose = EMISSION_BACKGROUND;
    if (emits) dose += EMISSION_DOSE * emission_current(e, out->ratio);
    double noise = rng ? gsl_ran_gaussian(rng, options->reading_relative) : 0.0;
    double floor = rng ? gsl_ran_gaussian(rng, options->reading_sv_per_h) : 0.0;
    out->readings[i].radiation_sv_per_h = dose / (1.0 + gain) * (1.0 + noise) + floor;
    out->readings[i].bath_temperature_k = 2.0;
    out->true_e_v_per_m[i] = e;
    out->true_power_w[i] = power_w;
  }
  out->setup = setup;
}

/** What is watched. */
enum {
  EMISSION_ONSET,
  EMISSION_ONSET_PEAK,
  EMISSION_ENHANCEMENT,
  EMISSION_FLOOR,
  EMISSION_LEVEL,
  EMISSION_STRONGEST,
  EMISSION_MIDDLE,
  EMISSION_BY_POWER,
  NUM_EMISSION_RESULTS
};

static const char *const EMISSION_NAMES[NUM_EMISSION_RESULTS] = {
    "onset", "onset on the surface",       "enhancement",    "background",
    "level", "power at the highest field", "power below it", "enhancement by power"};

/** Counts of one result: how often it holds the truth, and the squares of its errors over its
 * uncertainty. */
typedef struct emission_tally {
  int64_t held;
  double squares;
} emission_tally;

static inline void emission_add(emission_tally *tally, cavum_estimate estimate, double truth) {
  double z = (estimate.value - truth) / estimate.uncertainty;
  tally->held += fabs(z) <= 1.959964;
  tally->squares += z * z;
}

/** Counts of one draw. */
static inline int emission_count(emission_tally held[NUM_EMISSION_RESULTS],
                                 const emission_test *drawn, const cavum_field_emission *e,
                                 double wanted_ratio) {
  enum { TOP = EMISSION_READINGS - 1, MIDDLE = EMISSION_READINGS - 5 };
  double onset = emission_onset(drawn->ratio, wanted_ratio);
  if (!e->radiation.found || e->strongest != TOP) return 1;
  emission_add(&held[EMISSION_ONSET], e->onset_e_acc_v_per_m, onset);
  emission_add(&held[EMISSION_ONSET_PEAK], e->onset_e_peak_v_per_m, onset * drawn->ratio);
  emission_add(&held[EMISSION_ENHANCEMENT], e->radiation.enhancement, drawn->beta);
  emission_add(&held[EMISSION_FLOOR], e->background_sv_per_h, drawn->background);
  // The level is given at a measured field: what the true law gives where that says E_r.
  emission_add(&held[EMISSION_LEVEL], e->radiation.level,
               EMISSION_DOSE * emission_current(e->radiation.reference_v_per_m, drawn->ratio));
  emission_add(&held[EMISSION_STRONGEST], e->power_w[TOP], drawn->true_power_w[TOP]);
  emission_add(&held[EMISSION_MIDDLE], e->power_w[MIDDLE], drawn->true_power_w[MIDDLE]);
  emission_add(&held[EMISSION_BY_POWER], e->power.enhancement, drawn->beta);
  return 0;
}

/**
 * Many tests; returns how many results are outside of 93 to 97.5 %, where errors are not linear,
 * by four standard deviations of a count.
 */
static inline int emission_coverage_run(int64_t draws, const cavum_field_emission_options *options,
                                        bool all) {
  emission_tally held[NUM_EMISSION_RESULTS] = {{0}};
  int outside = 0, failed = 0;
  double over = options->onset_sv_per_h > 0.0 ? options->onset_sv_per_h / EMISSION_BACKGROUND : 1.0;
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int64_t i = 0; i < draws; i++) {
    emission_test drawn;
    emission_draw(&drawn, rng, options, true);
    cavum_field_emission_options o = *options;
    if (o.background_sv_per_h.uncertainty > 0.0) {
      o.background_sv_per_h.value += gsl_ran_gaussian(rng, o.background_sv_per_h.uncertainty);
    }
    cavum_coldtest_readings readings = {
        .num_readings = EMISSION_READINGS, .items = drawn.readings, .file = "readings"};
    cavum_coldtest *test = NULL;
    cavum_field_emission emission = {0};
    bool good = cavum_coldtest_evaluate(&test, &drawn.setup, &readings, NULL) == CAVUM_OK &&
                cavum_field_emission_evaluate(&emission, test, &o, NULL) == CAVUM_OK;
    failed += good ? emission_count(held, &drawn, &emission, over) : 1;
    cavum_field_emission_clear(&emission);
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
  if (failed > 0) printf("OUT field emission: %d of %lld failed\n", failed, (long long)draws);
  for (int i = 0; i < NUM_EMISSION_RESULTS; i++) {
    double n = (double)draws, part = (double)held[i].held / n, squares = held[i].squares / n;
    double low = 0.93 - 4.0 * sqrt(0.93 * 0.07 / n), high = 0.975 + 4.0 * sqrt(0.975 * 0.025 / n);
    // Those coverages are normal ones of uncertainties that are 8 % too small, 13 % too large; the
    // mean of squares strays by sqrt(2/n).
    double stray = 4.0 * sqrt(2.0 / n);
    bool bad = part < low || part > high || squares > 1.17 * (1.0 + stray) ||
               squares < 0.766 * (1.0 - stray);
    outside += bad;
    if (!bad && !all) continue;
    printf("%s field emission   %-28s %6.2f %% of %.0f (%.2f to %.2f), squares %.3f\n",
           bad ? "OUT" : "   ", EMISSION_NAMES[i], 100.0 * part, n, 100.0 * low, 100.0 * high,
           squares);
  }
  return outside + failed;
}

#endif
