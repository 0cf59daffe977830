// SPDX-License-Identifier: GPL-3.0-or-later
// The budget against an independent forward model: every instrument is made wrong by a little, one
// at a time, and what the evaluation then gets wrong must be the part that the budget states, for
// every input, every result and every way of measuring.
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_series.h"
#include "scenario.h"
#include "wave_model.h"

// Relative (dB errors: this many dB). Central differences leave u^2 relative and rounding 1e-16/u.
static const double SMALL = 1e-5;
// Of u times the result: what central differences and the exact logarithm of dB leave.
static const double TOLERANCE = 2e-4;

/** A way of measuring. */
typedef struct way {
  const char *name;
  cavum_coupling_method coupling;
  double q_external;
  int what;  // At the calibration; the later step has no decay time.
  int later;
  double q_extra;
} way;

enum { ALL = WAVE_REFLECTED | WAVE_TRANSMITTED | WAVE_EMITTED };

static const way WAYS[] = {
    {"reflected, over", CAVUM_COUPLING_REFLECTED, 1e10, ALL, WAVE_REFLECTED | WAVE_TRANSMITTED, 0},
    {"reflected, under", CAVUM_COUPLING_REFLECTED, 5e10, ALL, WAVE_REFLECTED | WAVE_TRANSMITTED, 0},
    {"emitted, over", CAVUM_COUPLING_EMITTED, 1e10, ALL, ALL, 0},
    {"emitted, under", CAVUM_COUPLING_EMITTED, 5e10, ALL, ALL, 0},
    {"emitted alone, over", CAVUM_COUPLING_EMITTED, 1e10, WAVE_EMITTED | WAVE_TRANSMITTED,
     WAVE_EMITTED | WAVE_TRANSMITTED, 0},
    {"both, over", CAVUM_COUPLING_BOTH, 1e10, ALL, ALL, 0},
    {"both, under", CAVUM_COUPLING_BOTH, 5e10, ALL, ALL, 0},
    {"extra port, over", CAVUM_COUPLING_REFLECTED, 1e10, ALL, ALL, 4e11},
    {"extra port, under", CAVUM_COUPLING_BOTH, 5e10, ALL, ALL, 4e11},
};
enum { NUM_WAYS = sizeof WAYS / sizeof *WAYS };

static wave_cavity cavity_of(const way *w) {
  return (wave_cavity){.frequency_hz = 1.3e9,
                       .q0 = 2e10,
                       .q_external = w->q_external,
                       .q_pickup = 8e11,
                       .q_extra = w->q_extra};
}

static cavum_coldtest_setup setup_of(const way *w) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.coupling = w->coupling;
  setup.num_extra = w->q_extra > 0.0 ? 1 : 0;
  setup.input_line_loss_db = 0.6;
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    setup.channels[channel].attenuation_db = 20.0 + channel;
    setup.channels[channel].zero_w = 1e-7;
  }
  return setup;
}

static double at_meter(double part) { return part * 1e-3; }

/** Sets the uncertainty of one input; zeros are in W at meters that show some mW. */
static void state(cavum_coldtest_setup *s, int input, double u) {
  int gain = input - CAVUM_INPUT_GAIN_FORWARD, cable = input - CAVUM_INPUT_CABLE_FORWARD;
  int zero = input - CAVUM_INPUT_ZERO_FORWARD, noise = input - CAVUM_INPUT_NOISE_FORWARD;
  if (gain >= 0 && gain < CAVUM_NUM_CHANNELS) s->channels[gain].gain_uncertainty = u;
  if (cable >= 0 && cable < CAVUM_NUM_CHANNELS) s->channels[cable].attenuation_uncertainty_db = u;
  if (zero >= 0 && zero < CAVUM_NUM_CHANNELS) s->channels[zero].zero_uncertainty_w = at_meter(u);
  if (noise >= 0 && noise < CAVUM_NUM_CHANNELS) s->channels[noise].noise = u;
  switch (input) {
    case CAVUM_INPUT_COMMON_GAIN:
      s->common_gain_uncertainty = u;
      break;
    case CAVUM_INPUT_INPUT_LINE:
      s->input_line_uncertainty_db = u;
      break;
    case CAVUM_INPUT_DIRECTIVITY:
      s->directivity_db = -20.0 * log10(u);
      break;
    case CAVUM_INPUT_FORWARD_DIRECTIVITY:
      s->forward_directivity_db = -20.0 * log10(u);
      break;
    case CAVUM_INPUT_CIRCULATOR:
      s->circulator_return_loss_db = -20.0 * log10(u);
      break;
    case CAVUM_INPUT_DECAY:
      s->decay_uncertainty = u;
      break;
    case CAVUM_INPUT_NOISE_DECAY:
      s->decay_noise = u;
      break;
    case CAVUM_INPUT_FREQUENCY:
      s->frequency_uncertainty = u;
      break;
    case CAVUM_INPUT_R_OVER_Q:
      s->r_over_q_linac_ohm.uncertainty = u * s->r_over_q_linac_ohm.value;
      break;
    case CAVUM_INPUT_LENGTH:
      s->accelerating_length_m.uncertainty = u * s->accelerating_length_m.value;
      break;
    case CAVUM_INPUT_GEOMETRY_FACTOR:
      s->geometry_factor_ohm.uncertainty = u * s->geometry_factor_ohm.value;
      break;
    case CAVUM_INPUT_EPK_OVER_EACC:
      s->epk_over_eacc.uncertainty = u * s->epk_over_eacc.value;
      break;
    case CAVUM_INPUT_BPK_OVER_EACC:
      s->bpk_over_eacc_t_per_v_per_m.uncertainty = u * s->bpk_over_eacc_t_per_v_per_m.value;
      break;
    default:
      break;
  }
}

/** Makes the instrument of one input wrong. Stated figures are wrong instead of the true ones. */
static void disturb(wave_errors *e, cavum_coldtest_setup *s, int input, double error) {
  int gain = input - CAVUM_INPUT_GAIN_FORWARD, cable = input - CAVUM_INPUT_CABLE_FORWARD;
  int zero = input - CAVUM_INPUT_ZERO_FORWARD, noise = input - CAVUM_INPUT_NOISE_FORWARD;
  if (gain >= 0 && gain < CAVUM_NUM_CHANNELS) e->gain[gain] = error;
  if (cable >= 0 && cable < CAVUM_NUM_CHANNELS) e->cable_db[cable] = error;
  if (zero >= 0 && zero < CAVUM_NUM_CHANNELS) e->zero_w[zero] = at_meter(error);
  if (noise >= 0 && noise < CAVUM_NUM_CHANNELS) e->noise[noise] = error;
  switch (input) {
    case CAVUM_INPUT_COMMON_GAIN:
      e->common_gain = error;
      break;
    case CAVUM_INPUT_INPUT_LINE:
      e->line_db = error;
      break;
    case CAVUM_INPUT_DIRECTIVITY:
      // The standard uncertainty of the cosine of an unknown phase is 1/sqrt(2).
      e->leak = error * sqrt(0.5);
      break;
    case CAVUM_INPUT_FORWARD_DIRECTIVITY:
      e->forward_leak = error * sqrt(0.5);
      break;
    case CAVUM_INPUT_CIRCULATOR:
      // Its phase is unknown: the sign is a convention.
      e->circulator = -error * sqrt(0.5);
      break;
    case CAVUM_INPUT_DECAY:
      e->time_base = error;
      break;
    case CAVUM_INPUT_NOISE_DECAY:
      e->decay_noise = error;
      break;
    case CAVUM_INPUT_FREQUENCY:
      e->frequency = error;
      break;
    case CAVUM_INPUT_R_OVER_Q:
      s->r_over_q_linac_ohm.value /= 1.0 + error;
      break;
    case CAVUM_INPUT_LENGTH:
      s->accelerating_length_m.value /= 1.0 + error;
      break;
    case CAVUM_INPUT_GEOMETRY_FACTOR:
      s->geometry_factor_ohm.value /= 1.0 + error;
      break;
    case CAVUM_INPUT_EPK_OVER_EACC:
      s->epk_over_eacc.value /= 1.0 + error;
      break;
    case CAVUM_INPUT_BPK_OVER_EACC:
      s->bpk_over_eacc_t_per_v_per_m.value /= 1.0 + error;
      break;
    default:
      break;
  }
}

// A drive off resonance: what is stated must hold what k uncertainties of the phase do, in the
// direction that it has (the reflection only grows). The reading is made off resonance by k u and
// inverted; k parts bring its results to the truth. What is left is of second order in the move,
// which is below 1e-3 here.
START_TEST(loop_phase_is_in_the_budget) {
  const way *w = &WAYS[_i];
  const double phase_rad = 0.02;
  cavum_coldtest_setup setup = setup_of(w), perfect = setup;
  setup.loop_phase_uncertainty_rad = phase_rad;
  double k = cavum_coldtest_coverage_factor(setup.coverage);
  wave_cavity cavity = cavity_of(w), off = cavity;
  off.detuning = tan(k * phase_rad);
  wave_errors none = {0};
  cavum_coldtest_reading right = wave_reading(&setup, &cavity, 0.5, w->what | WAVE_DECAY, &none);
  cavum_coldtest_reading wrong = wave_reading(&setup, &off, 0.5, w->what | WAVE_DECAY, &none);
  cavum_coldtest *truth = scenario_evaluate(&perfect, &right, 1);
  cavum_coldtest *test = scenario_evaluate(&setup, &wrong, 1);
  const cavum_coldtest_quantity quantities[] = {
      CAVUM_QUANTITY_COUPLING, CAVUM_QUANTITY_Q0,         CAVUM_QUANTITY_E_ACC,
      CAVUM_QUANTITY_Q_PICKUP, CAVUM_QUANTITY_WALL_POWER, CAVUM_QUANTITY_Q_EXTERNAL};
  for (size_t i = 0; i < sizeof quantities / sizeof *quantities; i++) {
    cavum_coldtest_budget budget;
    cavum_coldtest_make_budget(&budget, test, 0, quantities[i], NULL);
    double true_value = scenario_value(truth, 0, quantities[i]);
    // Net power and the rest of the balance do not depend on the drive: they stay what they are.
    bool follows_drive = quantities[i] != CAVUM_QUANTITY_WALL_POWER;
    if (!follows_drive && w->what & WAVE_REFLECTED) continue;
    double corrected = budget.value + k * budget.contribution[CAVUM_INPUT_NOISE_LOOP_PHASE];
    double move = fabs(budget.value / true_value - 1.0);
    printf("%s: moved by %.2e\n", cavum_coldtest_describe_quantity(quantities[i]).key, move);
    CAVUM_CHECK_RELATIVE(corrected, true_value, 1e-5 + 0.02 * move);
  }
  cavum_coldtest_destroy(&truth);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A tenth of a half bandwidth at beta* = 1.1 makes rho sqrt(0.0476^2 + 0.0099) and Q0 7 % too
// large.
START_TEST(detuning_near_critical_coupling_is_covered) {
  wave_cavity cavity = {.frequency_hz = 1.3e9,
                        .q0 = 2e10,
                        .q_external = 2e10 / 1.1,
                        .q_pickup = 1e14,
                        .detuning = 0.1};
  wave_errors none = {0};
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  setup.loop_phase_uncertainty_rad = 0.06;
  int what = WAVE_REFLECTED | WAVE_TRANSMITTED | WAVE_DECAY;
  cavum_coldtest_reading reading = wave_reading(&setup, &cavity, 0.5, what, &none);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  CAVUM_CHECK_NEAR(point->value[CAVUM_QUANTITY_Q0] / 2e10, 1.07, 0.005);
  ck_assert(fabs(point->value[CAVUM_QUANTITY_Q0] - 2e10) <
            1.96 * point->uncertainty[CAVUM_QUANTITY_Q0]);
  ck_assert(!(point->flags & (1u << CAVUM_FLAG_INDEX_RESONANCE_UNCHECKED)));
  cavum_coldtest_monte_carlo outcome;
  ck_assert_int_eq(cavum_coldtest_run_monte_carlo(&outcome, test, 0, 20000, NULL), CAVUM_OK);
  ck_assert(outcome.results[CAVUM_MC_Q0].low < 2e10);
  cavum_coldtest_destroy(&test);
  setup.loop_phase_uncertainty_rad = 0.0;
  test = scenario_evaluate(&setup, &reading, 1);
  // Without a stated phase and without the emitted power nothing shows it, and that is said.
  ck_assert(cavum_coldtest_get_point(test, 0)->flags &
            (1u << CAVUM_FLAG_INDEX_RESONANCE_UNCHECKED));
  cavum_coldtest_destroy(&test);
}
END_TEST

static bool is_local(int input) { return input >= CAVUM_INPUT_NOISE_FORWARD; }

/** Which readings an error of one reading belongs to. */
enum { IN_CALIBRATION = 1, IN_LATER = 2 };

/** A calibration at 0.5 J and a later step at 6 J of a Q0 that has fallen. */
static cavum_coldtest *measure(const way *w, int input, double error, double stated, int where) {
  cavum_coldtest_setup setup = setup_of(w);
  wave_cavity cavity = cavity_of(w), fallen = cavity;
  wave_errors calibrating = {0}, later = {0}, ignored = {0};
  fallen.q0 *= 0.8;
  disturb(where & IN_CALIBRATION ? &calibrating : &ignored, &setup, input, error);
  if (where & IN_LATER) disturb(&later, &(cavum_coldtest_setup){0}, input, error);
  // Stated figures were changed once above; what is read does not depend on them.
  if (stated > 0.0) state(&setup, input, stated);
  cavum_coldtest_reading readings[2] = {
      wave_reading(&setup, &cavity, 0.5, w->what | WAVE_DECAY, &calibrating),
      wave_reading(&setup, &fallen, 6.0, w->later, &later)};
  return scenario_evaluate(&setup, readings, 2);
}

/** What an error of +u does: half the difference of the results at -u and +u. */
static double effect(const way *w, int input, int where, int64_t point,
                     cavum_coldtest_quantity quantity) {
  double value[2];
  for (int side = 0; side < 2; side++) {
    cavum_coldtest *test = measure(w, input, side ? SMALL : -SMALL, 0.0, where);
    value[side] = scenario_value(test, point, quantity);
    cavum_coldtest_destroy(&test);
  }
  return 0.5 * (value[0] - value[1]);
}

static double part_of(const cavum_coldtest *test, int64_t point, cavum_coldtest_quantity quantity,
                      int input) {
  cavum_coldtest_budget budget;
  ck_assert_int_eq(cavum_coldtest_make_budget(&budget, test, point, quantity, NULL), CAVUM_OK);
  return budget.contribution[input];
}

/** One part against what the error does, both relative to u times the result. */
static void compare(const char *name, int input, int64_t point, cavum_coldtest_quantity quantity,
                    double stated, double true_effect, double value, int *wrong) {
  double scale = SMALL * fabs(value);
  if (fabs(stated - true_effect) <= TOLERANCE * scale) return;
  printf("%s, point %d, %s, %s: stated %.6f, true %.6f times the uncertainty of the input\n", name,
         (int)point + 1, cavum_coldtest_describe_quantity(quantity).key,
         cavum_coldtest_input_key((cavum_coldtest_input)input), stated / scale,
         true_effect / scale);
  (*wrong)++;
}

// Every shared input, in both readings; the reading's own inputs, in their reading alone. The noise
// of the calibration comes to later steps as the input PICKUP, of either sign.
static void check_way(const way *w, int64_t point) {
  int wrong = 0;
  for (int input = 0; input < CAVUM_NUM_INPUTS; input++) {
    if (input == CAVUM_INPUT_PICKUP || input == CAVUM_INPUT_EXTERNAL) continue;
    int own = point == 0 ? IN_CALIBRATION : IN_LATER;
    int where = is_local(input) ? own : IN_CALIBRATION | IN_LATER;
    cavum_coldtest *test = measure(w, input, 0.0, SMALL, 0);
    for (int q = 0; q < CAVUM_NUM_QUANTITIES; q++) {
      cavum_coldtest_quantity quantity = (cavum_coldtest_quantity)q;
      double value = scenario_value(test, point, quantity);
      if (isnan(value)) continue;
      compare(w->name, input, point, quantity, part_of(test, point, quantity, input),
              effect(w, input, where, point, quantity), value, &wrong);
      if (!is_local(input) || point == 0) continue;
      double stated = part_of(test, point, quantity, CAVUM_INPUT_PICKUP);
      compare(w->name, input, point, quantity, fabs(stated),
              fabs(effect(w, input, IN_CALIBRATION, point, quantity)), value, &wrong);
    }
    cavum_coldtest_destroy(&test);
  }
  ck_assert_msg(wrong == 0, "%d parts are not what the error does", wrong);
}

START_TEST(every_part_of_a_decay_is_what_the_error_does) { check_way(&WAYS[_i], 0); }
END_TEST

START_TEST(every_part_of_a_later_step_is_what_the_error_does) { check_way(&WAYS[_i], 1); }
END_TEST

/** What a trace gives at the centre of its windows: Q0 and E_acc. */
enum { TRACE_SAMPLES = 241, TRACE_WINDOWS = 4 };

static cavum_decay_analysis trace_of(const way *w, int input, double error, double stated) {
  cavum_coldtest *test =
      measure(w, input, error, stated, error != 0.0 ? IN_CALIBRATION | IN_LATER : 0);
  // A constant Q0: otherwise an error that changes the decay also moves the truth at a given time.
  wave_cavity cavity = cavity_of(w);
  cavum_coldtest_setup truth = setup_of(w), ignored = truth;
  wave_errors errors = {0};
  disturb(&errors, &ignored, input, error);
  cavum_decay_trace trace = wave_trace(&truth, &cavity, 6.0, TRACE_SAMPLES, 1.2, &errors);
  cavum_decay_options options = {.struct_size = sizeof options, .num_windows = TRACE_WINDOWS};
  cavum_decay_analysis analysis = {0};
  cavum_error message = {0};
  ck_assert_msg(cavum_decay_analyse(&analysis, test, &trace, 1.3e9 / (1.0 + errors.frequency),
                                    &options, &message) == CAVUM_OK,
                "%s", message.message);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
  return analysis;
}

// Without the noise of its samples, a window's uncertainty is that of the one input; what rounding
// leaves in its residuals is taken off. The tolerance of 1 % is that of the parabola where a zero
// bends the logarithm.
static int check_trace(const way *w, int input) {
  int wrong = 0;
  cavum_decay_analysis stated = trace_of(w, input, 0.0, SMALL);
  cavum_decay_analysis none = trace_of(w, input, 0.0, 0.0);
  cavum_decay_analysis low = trace_of(w, input, -SMALL, 0.0), high = trace_of(w, input, SMALL, 0.0);
  for (int i = 0; i < TRACE_WINDOWS; i++) {
    double u = sqrt(cavum_max(
        pow(stated.points[i].q0_uncertainty, 2.0) - pow(none.points[i].q0_uncertainty, 2.0), 0.0));
    double moved = fabs(0.5 * (low.points[i].q0 - high.points[i].q0));
    double q0 = SMALL * stated.points[i].q0;
    printf("%s, %s, window %d: stated %.4f true %.4f\n", w->name,
           cavum_coldtest_input_key((cavum_coldtest_input)input), i + 1, u / q0, moved / q0);
    wrong += fabs(u - moved) > 0.01 * (q0 + moved);
  }
  cavum_decay_analysis_clear(&stated);
  cavum_decay_analysis_clear(&none);
  cavum_decay_analysis_clear(&low);
  cavum_decay_analysis_clear(&high);
  return wrong;
}

START_TEST(every_part_of_a_trace_is_what_the_error_does) {
  int wrong = 0;
  for (int input = 0; input < CAVUM_INPUT_NOISE_FORWARD; input++) {
    bool skipped = input == CAVUM_INPUT_PICKUP || input == CAVUM_INPUT_EXTERNAL;
    if (!skipped) wrong += check_trace(&WAYS[_i], input);
  }
  ck_assert_msg(wrong == 0, "%d parts are not what the error does", wrong);
}
END_TEST

// Worked by hand: with 1/Q0 = 1/Q_L - 1/Q_e and both from the same clock, Q0 scales with it,
// whatever the coupling. And a circulator of 28 dB leaves Q0/Q_e (1 - share) 2 10^(-28/20) /
// sqrt(2) of Q0, share = beta/(1 + beta): 4.40, 3.26 and 1.29 % at Q0/Q_e = 3.6, 1.38 and 0.3.
START_TEST(time_base_and_circulator_of_a_trace_by_hand) {
  const double ratio[] = {3.6, 1.38, 0.3};
  for (int i = 0; i < 3; i++) {
    for (int circulator = 0; circulator < 2; circulator++) {
      wave_cavity cavity = {
          .frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 2e10 / ratio[i], .q_pickup = 1e16};
      wave_errors none = {0};
      cavum_coldtest_setup setup = scenario_setup();
      if (circulator) setup.circulator_return_loss_db = 28.0;
      if (!circulator) setup.decay_uncertainty = 0.01;
      cavum_coldtest_reading reading = wave_reading(&setup, &cavity, 0.5, ALL | WAVE_DECAY, &none);
      cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
      cavum_decay_trace trace = wave_trace(&setup, &cavity, 6.0, 101, 0.5, &none);
      cavum_decay_options options = {.struct_size = sizeof options, .num_windows = 1};
      cavum_decay_analysis analysis;
      ck_assert_int_eq(cavum_decay_analyse(&analysis, test, &trace, 1.3e9, &options, NULL),
                       CAVUM_OK);
      double share = ratio[i] / (1.0 + ratio[i]);
      double expected =
          circulator ? ratio[i] * (1.0 - share) * sqrt(2.0) * pow(10.0, -28.0 / 20.0) : 0.01;
      const cavum_decay_point *point = &analysis.points[0];
      CAVUM_CHECK_RELATIVE(point->q0_uncertainty / point->q0, expected, 1e-3);
      cavum_decay_analysis_clear(&analysis);
      cavum_decay_trace_clear(&trace);
      cavum_coldtest_destroy(&test);
    }
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, every_part_of_a_decay_is_what_the_error_does, 0, NUM_WAYS);
  tcase_add_loop_test(tests, every_part_of_a_later_step_is_what_the_error_does, 0, NUM_WAYS);
  tcase_add_loop_test(tests, every_part_of_a_trace_is_what_the_error_does, 0, NUM_WAYS);
  tcase_add_loop_test(tests, loop_phase_is_in_the_budget, 0, NUM_WAYS);
  tcase_add_test(tests, detuning_near_critical_coupling_is_covered);
  tcase_add_test(tests, time_base_and_circulator_of_a_trace_by_hand);
}

CAVUM_TEST_MAIN("coldtest propagation", add_tests)
