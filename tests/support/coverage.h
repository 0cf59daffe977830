// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage by draws: cavities measured many times with instruments whose every stated error is
// drawn anew through the forward model of wave_model.h; how often does the interval of k standard
// uncertainties hold the truth?
#ifndef CAVUM_TEST_COVERAGE_H
#define CAVUM_TEST_COVERAGE_H

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "cavum/coldtest_file.h"
#include "scenario.h"
#include "wave_model.h"

/** A cavity and a way of measuring it. */
typedef struct coverage_case {
  const char *name;
  double coupling; /**< Q_eff / Q_e at the calibrations. */
  double pickup;   /**< P_t / P_wall there. */
  double extra;    /**< P of an extra port / P_wall there; 0: none. */
  double later_q0; /**< Q0 of the later step over that of the calibrations. */
  cavum_coupling_method method;
  int what;  /**< WAVE_..., read at calibrations. */
  int later; /**< WAVE_..., read at the later step. */
  int calibrations;
  double directivity_db, return_loss_db, phase_rad;
  bool own_meter;      /**< Emitted power has a meter of its own. */
  bool stated;         /**< Q_t and Q_e are stated with 2 %. */
  cavum_branch branch; /**< As stated; DECIDE: from the readings. */
  double noise;        /**< Times the usual noise of readings. */
  double emitted_db;   /**< Uncertainty of the emitted power's own chain; 0: as the others. */
  double forward_directivity_db; /**< 0: perfect. */
} coverage_case;

#define COVERAGE_ALL (WAVE_REFLECTED | WAVE_TRANSMITTED | WAVE_EMITTED)
#define COVERAGE_TWO (WAVE_REFLECTED | WAVE_TRANSMITTED)
#define COVERAGE_OUT (WAVE_EMITTED | WAVE_TRANSMITTED)
/** Beside WAVE_..., of calibrations: decays are read as those of the field, from a table. */
#define COVERAGE_AMPLITUDE 16

static const coverage_case COVERAGE_CASES[] = {
    {"over 1.5", 1.5, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_TWO, 3, 0, 0,
     0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"over 2", 2.0, 0.005, 0, 0.7, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_ALL, 1, 0, 0, 0,
     false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"over 5", 5.0, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_TWO, 3, 0, 0, 0,
     false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"under 0.6", 0.6, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_TWO, 3, 0, 0,
     0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"under 0.3", 0.3, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_ALL, 1, 0, 0,
     0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"under 0.1", 0.1, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_TWO, 3, 0, 0,
     0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"emitted, over 1.6", 1.6, 0.005, 0, 0.8, CAVUM_COUPLING_EMITTED, COVERAGE_ALL, COVERAGE_ALL, 3,
     0, 0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"emitted, under 0.5", 0.5, 0.005, 0, 0.8, CAVUM_COUPLING_EMITTED, COVERAGE_ALL, COVERAGE_TWO,
     3, 0, 0, 0, true, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"emitted alone, 1.2", 1.2, 0.005, 0, 0.8, CAVUM_COUPLING_EMITTED, COVERAGE_OUT, COVERAGE_OUT,
     2, 0, 0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"both, over 2", 2.0, 0.005, 0, 0.8, CAVUM_COUPLING_BOTH, COVERAGE_ALL, COVERAGE_TWO, 3, 0, 0,
     0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"both, under 0.5", 0.5, 0.005, 0, 0.8, CAVUM_COUPLING_BOTH, COVERAGE_ALL, COVERAGE_TWO, 3, 0,
     0, 0, true, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"strong pickup", 1.7, 0.4, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_TWO, 3, 0,
     0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"extra port", 1.7, 0.01, 0.05, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL, COVERAGE_TWO, 3, 0,
     0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"stated Q_t and Q_e", 0.6, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_TWO, COVERAGE_TWO,
     1, 0, 0, 0, false, true, CAVUM_BRANCH_UNDER, 1, 0, 0},
    {"stated over, no emitted", 1.8, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_TWO,
     COVERAGE_TWO, 3, 0, 0, 0, false, false, CAVUM_BRANCH_OVER, 1, 0, 0},
    {"near critical 1.016", 1.016, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 3, 0, 0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"near critical 0.97", 0.97, 0.005, 0, 0.6, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 1, 0, 0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"near critical 1.06, open", 1.06, 0.005, 0, 1.0, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 3, 0, 0, 0, true, false, CAVUM_BRANCH_DECIDE, 1, 0.3, 0},
    {"near critical 1.06, by Q_e", 1.06, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 3, 0, 0, 0, true, false, CAVUM_BRANCH_DECIDE, 1, 0.3, 0},
    {"leak and circulator", 1.8, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 3, 40, 32, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 0},
    {"detuning", 1.3, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_TWO, COVERAGE_TWO, 3, 0, 0,
     0.08, false, false, CAVUM_BRANCH_OVER, 1, 0, 0},
    {"amplitude decay, table", 1.6, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED,
     COVERAGE_ALL | COVERAGE_AMPLITUDE, COVERAGE_ALL, 3, 0, 0, 0, false, false, CAVUM_BRANCH_DECIDE,
     1, 0, 0},
    {"leak into forward, over 5", 5.0, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 3, 0, 0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 30},
    {"leak into forward, under 0.3", 0.3, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_ALL, 3, 0, 0, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 28},
    {"leaks both ways and circulator", 2.5, 0.005, 0, 0.8, CAVUM_COUPLING_REFLECTED, COVERAGE_ALL,
     COVERAGE_TWO, 3, 38, 32, 0, false, false, CAVUM_BRANCH_DECIDE, 1, 0, 30},
};
enum { NUM_COVERAGE_CASES = sizeof COVERAGE_CASES / sizeof *COVERAGE_CASES };

/** What is watched: the first calibration, the later step, the calibrations, a trace. */
enum {
  COVERAGE_FIRST,
  COVERAGE_LATER = CAVUM_NUM_QUANTITIES,
  COVERAGE_Q_PICKUP = 2 * CAVUM_NUM_QUANTITIES,
  COVERAGE_Q_EXTERNAL,
  COVERAGE_TRACE_Q0,
  COVERAGE_TRACE_E_ACC,
  COVERAGE_MC_FIRST, /**< Q0, E_acc, R_s by Monte Carlo. */
  COVERAGE_MC_LATER = COVERAGE_MC_FIRST + CAVUM_NUM_MC,
  NUM_COVERAGE_RESULTS = COVERAGE_MC_LATER + CAVUM_NUM_MC
};

/** Counts of one case. */
typedef struct coverage_count {
  bool monte_carlo; /**< Intervals by Monte Carlo are counted, too; a few milliseconds each. */
  int64_t draws, refused;
  int64_t given[NUM_COVERAGE_RESULTS], held[NUM_COVERAGE_RESULTS];
  int64_t open[NUM_COVERAGE_RESULTS]; /**< The interval spans both branches. */
} coverage_count;

static inline cavum_coldtest_setup coverage_setup(const coverage_case *c) {
  cavum_coldtest_setup s = scenario_setup();
  s.coupling = c->method;
  s.branch = c->branch;
  s.num_extra = c->extra > 0.0 ? 1 : 0;
  s.r_over_q_linac_ohm.uncertainty = 3e-3 * s.r_over_q_linac_ohm.value;
  s.accelerating_length_m.uncertainty = 1e-3 * s.accelerating_length_m.value;
  s.geometry_factor_ohm.uncertainty = 3e-3 * s.geometry_factor_ohm.value;
  s.epk_over_eacc.uncertainty = 5e-3 * s.epk_over_eacc.value;
  s.bpk_over_eacc_t_per_v_per_m.uncertainty = 5e-3 * s.bpk_over_eacc_t_per_v_per_m.value;
  s.frequency_uncertainty = 1e-6;
  s.common_gain_uncertainty = 0.01;
  s.input_line_loss_db = 0.3;
  s.input_line_uncertainty_db = 0.02;
  s.directivity_db = c->directivity_db;
  s.forward_directivity_db = c->forward_directivity_db;
  s.circulator_return_loss_db = c->return_loss_db;
  s.loop_phase_uncertainty_rad = c->phase_rad;
  s.decay_uncertainty = 5e-3;
  s.decay_noise = 5e-3 * c->noise;
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    s.channels[i].attenuation_db = 20.0 + i;
    s.channels[i].attenuation_uncertainty_db = 0.03;
    s.channels[i].gain_uncertainty = 5e-3;
    s.channels[i].noise = 3e-3 * c->noise;
    s.channels[i].zero_w = 1e-8;
    s.channels[i].zero_uncertainty_w = 1e-9;
  }
  if (c->own_meter) s.channels[CAVUM_CHANNEL_EMITTED].chain = CAVUM_CHANNEL_EMITTED;
  if (c->emitted_db > 0.0) {
    s.channels[CAVUM_CHANNEL_EMITTED].attenuation_uncertainty_db = c->emitted_db;
  }
  return s;
}

static inline wave_cavity coverage_cavity(const coverage_case *c) {
  wave_cavity cavity = {.frequency_hz = 1.3e9, .q0 = 2e10};
  cavity.q_pickup = cavity.q0 / c->pickup;
  cavity.q_extra = c->extra > 0.0 ? cavity.q0 / c->extra : 0.0;
  double effective = cavity.q0 / (1.0 + c->pickup + c->extra);
  cavity.q_external = effective / c->coupling;
  return cavity;
}

/** A wave so many dB below the one that it comes from, of any phase; 0 dB stated: none. */
static inline double complex coverage_wave(double decibels, gsl_rng *rng) {
  if (decibels <= 0.0) return 0.0;
  return pow(10.0, -decibels / 20.0) * cexp(I * 2.0 * CAVUM_PI * gsl_rng_uniform(rng));
}

/** What all readings of one test share. */
static inline wave_errors coverage_shared(const cavum_coldtest_setup *s, gsl_rng *rng) {
  wave_errors e = {.common_gain = gsl_ran_gaussian(rng, s->common_gain_uncertainty),
                   .line_db = gsl_ran_gaussian(rng, s->input_line_uncertainty_db),
                   .time_base = gsl_ran_gaussian(rng, s->decay_uncertainty),
                   .frequency = gsl_ran_gaussian(rng, s->frequency_uncertainty)};
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    e.gain[i] = gsl_ran_gaussian(rng, s->channels[i].gain_uncertainty);
    e.cable_db[i] = gsl_ran_gaussian(rng, s->channels[i].attenuation_uncertainty_db);
    e.zero_w[i] = gsl_ran_gaussian(rng, s->channels[i].zero_uncertainty_w);
  }
  e.leak = coverage_wave(s->directivity_db, rng);
  e.circulator = coverage_wave(s->circulator_return_loss_db, rng);
  e.forward_leak = coverage_wave(s->forward_directivity_db, rng);
  return e;
}

static inline wave_errors coverage_of_reading(const cavum_coldtest_setup *s,
                                              const wave_errors *shared, gsl_rng *rng) {
  wave_errors e = *shared;
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    e.noise[i] = gsl_ran_gaussian(rng, s->channels[i].noise);
  }
  e.decay_noise = gsl_ran_gaussian(rng, s->decay_noise);
  return e;
}

static inline double coverage_true(cavum_estimate stated, gsl_rng *rng) {
  return stated.value + gsl_ran_gaussian(rng, stated.uncertainty);
}

/** True figures of one draw. */
typedef struct coverage_figures {
  double r_over_q_ohm, length_m, factor_ohm, epk, bpk;
} coverage_figures;

static inline void coverage_truth(double out[CAVUM_NUM_QUANTITIES], const wave_cavity *c,
                                  double energy_j, const coverage_figures *f) {
  double flow = wave_omega(c) * energy_j, root = sqrt(wave_omega(c) / c->q_external);
  double half = 0.5 * wave_omega(c) / wave_loaded(c, energy_j);
  double complex in = sqrt(energy_j) * half * (1.0 - I * c->detuning) / root;
  double loaded = wave_loaded(c, energy_j);
  out[CAVUM_QUANTITY_FORWARD] = wave_power(in);
  out[CAVUM_QUANTITY_REFLECTED] = wave_power(root * sqrt(energy_j) - in);
  out[CAVUM_QUANTITY_TRANSMITTED] = flow / c->q_pickup;
  out[CAVUM_QUANTITY_WALL_POWER] = flow / c->q0;
  out[CAVUM_QUANTITY_BATH_HEAT] = flow / c->q0;  // without static heat
  out[CAVUM_QUANTITY_Q_LOADED] = loaded;
  out[CAVUM_QUANTITY_COUPLING] = 1.0 / (c->q_external / loaded - 1.0);
  out[CAVUM_QUANTITY_Q0] = c->q0;
  out[CAVUM_QUANTITY_Q_EXTERNAL] = c->q_external;
  out[CAVUM_QUANTITY_Q_PICKUP] = c->q_pickup;
  out[CAVUM_QUANTITY_STORED_ENERGY] = energy_j;
  out[CAVUM_QUANTITY_VOLTAGE] = sqrt(flow * f->r_over_q_ohm);
  out[CAVUM_QUANTITY_E_ACC] = out[CAVUM_QUANTITY_VOLTAGE] / f->length_m;
  out[CAVUM_QUANTITY_E_PEAK] = f->epk * out[CAVUM_QUANTITY_E_ACC];
  out[CAVUM_QUANTITY_B_PEAK] = f->bpk * out[CAVUM_QUANTITY_E_ACC];
  out[CAVUM_QUANTITY_SURFACE_RESISTANCE] = f->factor_ohm / c->q0;
}

static inline void coverage_add(coverage_count *count, int result, double value, double uncertainty,
                                double factor, double truth, bool open) {
  if (isnan(value)) return;
  count->given[result]++;
  count->open[result] += open;
  count->held[result] += fabs(value - truth) <= factor * uncertainty;
}

static inline void coverage_add_point(coverage_count *count, int first, const cavum_coldtest *test,
                                      int64_t index, const wave_cavity *cavity, double energy_j,
                                      const coverage_figures *figures) {
  double truth[CAVUM_NUM_QUANTITIES];
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, index);
  bool open = point->flags & (1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS);
  coverage_truth(truth, cavity, energy_j, figures);
  for (int q = 0; q < CAVUM_NUM_QUANTITIES; q++) {
    cavum_coldtest_budget budget;
    double factor = 1.959964;
    if (cavum_coldtest_make_budget(&budget, test, index, (cavum_coldtest_quantity)q, NULL) ==
        CAVUM_OK) {
      factor = cavum_coldtest_budget_coverage_factor(&budget, 0.95);
    }
    coverage_add(count, first + q, point->value[q], point->uncertainty[q], factor, truth[q], open);
  }
}

static inline void coverage_add_calibration(coverage_count *count, int result,
                                            const cavum_coldtest *test,
                                            cavum_coldtest_quantity quantity, double truth,
                                            bool open) {
  cavum_coldtest_budget budget;
  if (cavum_coldtest_make_calibration_budget(&budget, test, quantity, NULL) != CAVUM_OK) return;
  coverage_add(count, result, budget.value, budget.uncertainty,
               cavum_coldtest_budget_coverage_factor(&budget, 0.95), truth, open);
}

/** A trace of the cavity, with noise of its samples, evaluated in four windows; the second counts.
 */
static inline void coverage_add_trace(coverage_count *count, const cavum_coldtest *test,
                                      const cavum_coldtest_setup *setup, const wave_cavity *cavity,
                                      const wave_errors *shared, const coverage_figures *figures,
                                      bool open, gsl_rng *rng) {
  const double start_j = 6.0, noise = 4e-3;
  double span_s = 0.8 * wave_loaded(cavity, start_j) / wave_omega(cavity);
  cavum_decay_trace trace = wave_trace(setup, cavity, start_j, 161, span_s, shared);
  for (int64_t i = 0; i < trace.num_samples; i++) {
    trace.transmitted_w[i] *= 1.0 + gsl_ran_gaussian(rng, noise);
  }
  cavum_decay_options options = {.struct_size = sizeof options, .noise = noise, .num_windows = 2};
  cavum_decay_analysis analysis = {0};
  cavum_status status = cavum_decay_analyse(
      &analysis, test, &trace, cavity->frequency_hz / (1.0 + shared->frequency), &options, NULL);
  cavum_decay_trace_clear(&trace);
  if (status != CAVUM_OK) return;
  const cavum_decay_point *point = &analysis.points[1];
  double true_time_s = point->time_s * (1.0 + shared->time_base), truth[CAVUM_NUM_QUANTITIES];
  double energy_j = start_j;
  double complex g = wave_returned(setup, shared);
  for (int i = 0; i < 64; i++) energy_j = wave_step_j(cavity, energy_j, true_time_s / 64.0, g);
  coverage_truth(truth, cavity, energy_j, figures);
  coverage_add(count, COVERAGE_TRACE_Q0, point->q0, point->q0_uncertainty, 1.959964, cavity->q0,
               open);
  coverage_add(count, COVERAGE_TRACE_E_ACC, point->e_acc_v_per_m, point->e_acc_uncertainty_v_per_m,
               1.959964, truth[CAVUM_QUANTITY_E_ACC], open);
  cavum_decay_analysis_clear(&analysis);
}

/**
 * Readings as a table of theirs is read. The field decays half as fast as the energy, since
 * U goes with its square: the column holds twice the time. 17 digits give the same numbers back.
 */
static inline cavum_status coverage_through_table(cavum_coldtest_readings *out,
                                                  const cavum_coldtest_setup *setup,
                                                  const cavum_coldtest_readings *in) {
  char text[4096];
  size_t used = (size_t)snprintf(
      text, sizeof text,
      "forward_W,reflected_W,transmitted_W,emitted_W,frequency_Hz,decay_amplitude_s\n");
  for (int64_t i = 0; i < in->num_readings && used < sizeof text; i++) {
    const cavum_coldtest_reading *r = &in->items[i];
    used += (size_t)snprintf(text + used, sizeof text - used, "%.17g,%.17g,%.17g,%.17g,%.17g,",
                             r->power_w[CAVUM_CHANNEL_FORWARD], r->power_w[CAVUM_CHANNEL_REFLECTED],
                             r->power_w[CAVUM_CHANNEL_TRANSMITTED],
                             r->power_w[CAVUM_CHANNEL_EMITTED], r->frequency_hz);
    if (used >= sizeof text) break;
    bool decays = !isnan(r->decay_time_s);
    used += (size_t)(decays ? snprintf(text + used, sizeof text - used, "%.17g\n",
                                       2.0 * r->decay_time_s)
                            : snprintf(text + used, sizeof text - used, "\n"));
  }
  if (used >= sizeof text) return CAVUM_ERR_MEMORY;
  return cavum_coldtest_read_readings_text(out, text, used, NULL, setup, NULL);
}

/** Does the symmetric interval of a point, by one block of draws, hold the truth? */
static inline void coverage_add_monte_carlo(coverage_count *count, int first,
                                            const cavum_coldtest *test, int64_t index,
                                            const wave_cavity *cavity, double energy_j,
                                            const coverage_figures *figures) {
  static const cavum_coldtest_quantity of[CAVUM_NUM_MC] = {
      [CAVUM_MC_Q0] = CAVUM_QUANTITY_Q0,
      [CAVUM_MC_E_ACC] = CAVUM_QUANTITY_E_ACC,
      [CAVUM_MC_SURFACE_RESISTANCE] = CAVUM_QUANTITY_SURFACE_RESISTANCE};
  double truth[CAVUM_NUM_QUANTITIES];
  cavum_coldtest_monte_carlo outcome;
  if (cavum_coldtest_run_monte_carlo(&outcome, test, index, 1, NULL) != CAVUM_OK) return;
  bool open =
      cavum_coldtest_get_point(test, index)->flags & (1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS);
  coverage_truth(truth, cavity, energy_j, figures);
  for (int i = 0; i < CAVUM_NUM_MC; i++) {
    const cavum_coldtest_distribution *d = &outcome.results[i];
    double middle = 0.5 * (d->symmetric_low + d->symmetric_high);
    coverage_add(count, first + i, middle, d->symmetric_high - middle, 1.0, truth[of[i]], open);
  }
}

/** One whole test with every error drawn anew. */
static inline void coverage_draw(coverage_count *count, const coverage_case *c, gsl_rng *rng) {
  enum { MOST = 8 };
  const double calibrated_j = 0.5, later_j = 6.0;
  cavum_coldtest_setup setup = coverage_setup(c);
  wave_cavity cavity = coverage_cavity(c), later = cavity;
  later.q0 *= c->later_q0;
  coverage_figures figures = {
      coverage_true(setup.r_over_q_linac_ohm, rng), coverage_true(setup.accelerating_length_m, rng),
      coverage_true(setup.geometry_factor_ohm, rng), coverage_true(setup.epk_over_eacc, rng),
      coverage_true(setup.bpk_over_eacc_t_per_v_per_m, rng)};
  wave_errors shared = coverage_shared(&setup, rng);
  // Each step sets its loop anew, as the inversion takes it.
  cavity.detuning = tan(gsl_ran_gaussian(rng, c->phase_rad));
  later.detuning = tan(gsl_ran_gaussian(rng, c->phase_rad));
  if (c->stated) {
    setup.q_pickup.value = cavity.q_pickup / (1.0 + gsl_ran_gaussian(rng, 0.02));
    setup.q_pickup.uncertainty = 0.02 * setup.q_pickup.value;
    setup.q_external.value = cavity.q_external / (1.0 + gsl_ran_gaussian(rng, 0.02));
    setup.q_external.uncertainty = 0.02 * setup.q_external.value;
  }
  cavum_coldtest_reading readings[MOST];
  for (int i = 0; i <= c->calibrations; i++) {
    wave_errors errors = coverage_of_reading(&setup, &shared, rng);
    bool last = i == c->calibrations;
    readings[i] = wave_reading(&setup, last ? &later : &cavity, last ? later_j : calibrated_j,
                               last ? c->later : c->what | WAVE_DECAY, &errors);
  }
  cavum_coldtest_readings all = {
      .num_readings = c->calibrations + 1, .items = readings, .file = "readings"};
  cavum_coldtest_readings table = {0};
  if (c->what & COVERAGE_AMPLITUDE) {
    if (coverage_through_table(&table, &setup, &all) != CAVUM_OK) {
      count->refused++;
      return;
    }
    all = table;
  }
  cavum_coldtest *test = NULL;
  // Errors can make a reading that no cavity can give: it is set aside and says so.
  cavum_status status = cavum_coldtest_evaluate(&test, &setup, &all, NULL);
  cavum_coldtest_readings_clear(&table);
  if (status != CAVUM_OK || cavum_coldtest_num_set_aside(test) > 0) {
    cavum_coldtest_destroy(&test);
    count->refused++;
    return;
  }
  count->draws++;
  coverage_add_point(count, COVERAGE_FIRST, test, 0, &cavity, calibrated_j, &figures);
  coverage_add_point(count, COVERAGE_LATER, test, c->calibrations, &later, later_j, &figures);
  bool open = cavum_coldtest_get_point(test, 0)->flags & (1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS);
  coverage_add_calibration(count, COVERAGE_Q_PICKUP, test, CAVUM_QUANTITY_Q_PICKUP, cavity.q_pickup,
                           open);
  coverage_add_calibration(count, COVERAGE_Q_EXTERNAL, test, CAVUM_QUANTITY_Q_EXTERNAL,
                           cavity.q_external, open);
  coverage_add_trace(count, test, &setup, &cavity, &shared, &figures, open, rng);
  if (count->monte_carlo) {
    coverage_add_monte_carlo(count, COVERAGE_MC_FIRST, test, 0, &cavity, calibrated_j, &figures);
    coverage_add_monte_carlo(count, COVERAGE_MC_LATER, test, c->calibrations, &later, later_j,
                             &figures);
  }
  cavum_coldtest_destroy(&test);
}

static inline const char *coverage_name(char text[96], int result) {
  static const char *const others[] = {
      "calibration Q_t",       "calibration Q_e",      "trace Q0",
      "trace E_acc",           "decay Monte Carlo Q0", "decay Monte Carlo E_acc",
      "decay Monte Carlo R_s", "later Monte Carlo Q0", "later Monte Carlo E_acc",
      "later Monte Carlo R_s"};
  if (result >= COVERAGE_Q_PICKUP) return others[result - COVERAGE_Q_PICKUP];
  snprintf(
      text, 96, "%s %s", result < COVERAGE_LATER ? "decay" : "later",
      cavum_coldtest_describe_quantity((cavum_coldtest_quantity)(result % CAVUM_NUM_QUANTITIES))
          .key);
  return text;
}

/**
 * True coverage must be 94 to 96 %, and 93 to 97.5 % where errors are not normal. There is no upper
 * limit where an interval spans both branches. The count may stray by four standard deviations of a
 * binomial count. Returns how many results are outside; prints those, or all.
 */
static inline int coverage_judge(const coverage_case *c, const coverage_count *count, bool all) {
  bool normal = c->directivity_db == 0.0 && c->return_loss_db == 0.0 && c->phase_rad == 0.0 &&
                c->forward_directivity_db == 0.0;
  double low = normal ? 0.94 : 0.93, high = normal ? 0.96 : 0.975;
  int outside = 0;
  // Rare, or the coverage of the rest would not stand for the case.
  if (count->refused > count->draws / 100) {
    printf("OUT %s: %lld draws refused\n", c->name, (long long)count->refused);
    outside++;
  }
  for (int i = 0; i < NUM_COVERAGE_RESULTS; i++) {
    char text[96];
    double n = (double)count->given[i];
    if (n < 100.0) continue;
    double held = (double)count->held[i] / n;
    double lowest = low - 4.0 * sqrt(low * (1.0 - low) / n);
    double highest = high + 4.0 * sqrt(high * (1.0 - high) / n);
    bool bad = held < lowest || (held > highest && count->open[i] == 0);
    outside += bad;
    if (bad || all) {
      printf("%s %-24s %-36s %6.2f %% of %.0f (%.2f to %.2f), open %.1f %%\n", bad ? "OUT" : "   ",
             c->name, coverage_name(text, i), 100.0 * held, n, 100.0 * lowest, 100.0 * highest,
             100.0 * (double)count->open[i] / n);
    }
  }
  return outside;
}

/** Runs one case; the draws depend on the case alone. */
static inline int coverage_run(int index, int64_t draws, bool monte_carlo, bool all) {
  coverage_count count = {.monte_carlo = monte_carlo};
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 100u + (unsigned)index);
  for (int64_t i = 0; i < draws; i++) coverage_draw(&count, &COVERAGE_CASES[index], rng);
  gsl_rng_free(rng);
  return coverage_judge(&COVERAGE_CASES[index], &count, all);
}

#endif
