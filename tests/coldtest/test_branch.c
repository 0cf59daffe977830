// SPDX-License-Identifier: GPL-3.0-or-later
// Both sides of critical coupling in one test. The readings come from the resonator itself, written
// here once more: in the steady state the stored energy U gives P_wall = w U / Q0 and so on for
// each port; the wave that leaves the coupler at switch-off is sqrt(w U / Q_e), the forward one
// (1/Q0 + 1/Q_t + 1/Q_e) sqrt(w U Q_e) / 2, the reflected one the difference of both.
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <string.h>

#include "base/base.h"
#include "coldtest/coldtest_private.h"
#include "scenario.h"

static const double OMEGA = 2.0 * CAVUM_PI * 1.3e9, Q_PICKUP = 6e11, Q_EXTERNAL = 6e9;
enum { MOST = 24 };

/** One reading to be made: its coupling, whether it has a decay time, its energy. */
typedef struct want {
  double coupling, external;
  bool decay;
  double energy_j;
} want;

static double q0_of(const want *w) {
  return 1.0 / (1.0 / (w->coupling * w->external) - 1.0 / Q_PICKUP);
}

static cavum_coldtest_reading make(const want *w) {
  double inverse = 1.0 / q0_of(w) + 1.0 / Q_PICKUP, flow = OMEGA * w->energy_j;
  double out = sqrt(flow / w->external);
  double in = 0.5 * (inverse + 1.0 / w->external) * sqrt(flow * w->external);
  cavum_coldtest_reading r =
      scenario_reading(in * in, (in - out) * (in - out), flow / Q_PICKUP, NAN);
  r.power_w[CAVUM_CHANNEL_EMITTED] = out * out;
  if (w->decay) r.decay_time_s = 1.0 / (inverse + 1.0 / w->external) / OMEGA;
  return r;
}

/** What is shared by all meters: 2 % of a meter and 0.1 dB of its cables; 0.5 % and 1 % of one
 * reading. */
static cavum_coldtest_setup uncertain(void) {
  cavum_coldtest_setup setup = scenario_setup();
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    setup.channels[i].gain_uncertainty = 0.02;
    setup.channels[i].attenuation_uncertainty_db = 0.1;
    setup.channels[i].noise = 0.005;
  }
  setup.decay_noise = 0.01;
  return setup;
}

static cavum_branch branch_of(const want *w) {
  return w->coupling > 1.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER;
}

static int make_all(cavum_coldtest_reading out[MOST], want wants[MOST], const double *couplings,
                    int count, bool later) {
  for (int i = 0; i < count; i++) {
    wants[i] = (want){couplings[i], Q_EXTERNAL, true, 0.5};
    out[i] = make(&wants[i]);
    out[i].line = i + 2;
  }
  if (!later) return count;
  wants[count] = (want){3.2, Q_EXTERNAL, false, 2.0};
  out[count] = make(&wants[count]);
  out[count].line = count + 2;
  return count + 1;
}

static void forget(cavum_coldtest_reading *readings, int count, int channel) {
  for (int i = 0; i < count; i++) readings[i].power_w[channel] = NAN;
}

static const char *find_remark(const cavum_coldtest *test, const char *part) {
  for (int i = 0; i < cavum_coldtest_num_remarks(test); i++) {
    if (strstr(cavum_coldtest_get_remark(test, i), part)) return cavum_coldtest_get_remark(test, i);
  }
  return NULL;
}

static bool has_flag(const cavum_coldtest *test, int64_t index, cavum_coldtest_flag flag) {
  return cavum_coldtest_get_point(test, index)->flags & (1u << flag);
}

// Every reading on its side, and all figures as they were put in.
static void check_exact(const cavum_coldtest *test, const want *wants, int count) {
  ck_assert_int_eq(cavum_coldtest_num_points(test), count);
  for (int i = 0; i < count; i++) {
    ck_assert_int_eq(cavum_coldtest_get_point(test, i)->branch, branch_of(&wants[i]));
    CAVUM_CHECK_RELATIVE(scenario_value(test, i, CAVUM_QUANTITY_Q0), q0_of(&wants[i]), 1e-9);
    CAVUM_CHECK_RELATIVE(scenario_value(test, i, CAVUM_QUANTITY_COUPLING), wants[i].coupling, 1e-9);
  }
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  CAVUM_CHECK_RELATIVE(pickup.value.value, Q_PICKUP, 1e-9);
  ck_assert(count == 1 || pickup.chi_squared < 1e-6);
}

static void check_external(const cavum_coldtest *test) {
  cavum_coldtest_calibration external = cavum_coldtest_get_external(test);
  CAVUM_CHECK_RELATIVE(external.value.value, Q_EXTERNAL, 1e-9);
  ck_assert(external.chi_squared < 1e-6);
}

static const double THREE[] = {0.39, 0.66, 1.22}, FOUR[] = {0.39, 0.66, 1.22, 1.96},
                    FIVE[] = {2.0, 1.3, 0.7, 0.5, 0.3},
                    MANY[] = {0.1, 0.18, 0.25, 0.39, 0.5, 0.62, 0.7,  0.8, 1.25,
                              1.5, 1.7,  2.0,  2.5,  3.0, 3.6,  4.04, 5.0, 5.94};

/** Rows and whether a later step follows. */
static const struct {
  const double *couplings;
  int count;
  bool later;
} SERIES[] = {{THREE, 3, true}, {FOUR, 4, true}, {FIVE, 5, false}, {MANY, 18, true}};
enum { NUM_SERIES = sizeof SERIES / sizeof *SERIES };

START_TEST(exact_readings_on_both_sides_come_back) {
  for (int emitted = 0; emitted < 2; emitted++) {
    want wants[MOST];
    cavum_coldtest_reading readings[MOST];
    int count = make_all(readings, wants, SERIES[_i].couplings, SERIES[_i].count, SERIES[_i].later);
    if (!emitted) forget(readings, count, CAVUM_CHANNEL_EMITTED);
    cavum_coldtest_setup setup = uncertain();
    cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
    check_exact(test, wants, count);
    check_external(test);
    ck_assert_int_eq(cavum_coldtest_num_remarks(test), 0);
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

// 0.983 and 1.017 differ by less than the readings know: the budget has a part for the other side,
// drawn tests below say whether it is enough.
START_TEST(close_to_critical_the_other_side_has_a_part) {
  static const double couplings[] = {0.983, 1.835, 2.943};
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  int count = make_all(readings, wants, couplings, 3, true);
  forget(readings, count, CAVUM_CHANNEL_EMITTED);
  cavum_coldtest_setup setup = uncertain();
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  ck_assert(has_flag(test, 0, CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS));
  ck_assert(!has_flag(test, 1, CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS));
  setup.branch = CAVUM_BRANCH_UNDER;
  cavum_coldtest *stated = scenario_evaluate(&setup, readings, 1);
  cavum_coldtest_budget budget;
  double open = cavum_coldtest_get_point(test, 0)->uncertainty[CAVUM_QUANTITY_COUPLING];
  double alone = cavum_coldtest_get_point(stated, 0)->uncertainty[CAVUM_QUANTITY_COUPLING];
  ck_assert_int_eq(cavum_coldtest_make_budget(&budget, test, 0, CAVUM_QUANTITY_COUPLING, NULL),
                   CAVUM_OK);
  ck_assert(open > alone && budget.contribution[CAVUM_INPUT_NOISE_BRANCH] != 0.0);
  CAVUM_CHECK_RELATIVE(hypot(alone, budget.contribution[CAVUM_INPUT_NOISE_BRANCH]), open, 1e-9);
  cavum_coldtest_destroy(&stated);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Two rows beside critical coupling may each be on either side: what they have in common is what
// they have with their sides stated.
START_TEST(the_side_of_a_row_is_its_own) {
  static const double couplings[] = {0.985, 0.985, 1.835, 2.943};
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  int count = make_all(readings, wants, couplings, 4, false);
  forget(readings, count, CAVUM_CHANNEL_EMITTED);
  cavum_coldtest_setup setup = uncertain();
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  for (int i = 0; i < 2; i++) ck_assert(has_flag(test, i, CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS));
  for (int i = 0; i < 2; i++) readings[i].branch = CAVUM_BRANCH_UNDER;
  cavum_coldtest *stated = scenario_evaluate(&setup, readings, count);
  for (int i = 0; i < 2; i++) ck_assert(!has_flag(stated, i, CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS));
  double open = NAN, alone = NAN;
  cavum_coldtest_budget budget;
  const cavum_coldtest_quantity r = CAVUM_QUANTITY_SURFACE_RESISTANCE;
  ck_assert_int_eq(cavum_coldtest_covariance(&open, test, 0, r, 1, r, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_coldtest_covariance(&alone, stated, 0, r, 1, r, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(open, alone, 1e-9);
  ck_assert_int_eq(cavum_coldtest_make_budget(&budget, test, 0, r, NULL), CAVUM_OK);
  ck_assert(budget.contribution[CAVUM_INPUT_NOISE_BRANCH] != 0.0);
  cavum_coldtest_destroy(&stated);
  cavum_coldtest_destroy(&test);
}
END_TEST

static const double MOVED[] = {0.8, 0.9, 1.2, 1.5, 2.5};

// The coupler is set anew for each reading: Q0 stays, Q_e moves.
static int make_moved(cavum_coldtest_reading out[MOST], want wants[MOST]) {
  for (int i = 0; i < 5; i++) {
    double q0 = 9e9, effective = 1.0 / (1.0 / q0 + 1.0 / Q_PICKUP);
    wants[i] = (want){MOVED[i], effective / MOVED[i], true, 0.5};
    out[i] = make(&wants[i]);
    out[i].line = i + 2;
  }
  return 5;
}

START_TEST(a_coupler_that_was_moved) {
  for (int what = 0; what < 4; what++) {
    bool stated = what & 1, emitted = what & 2;
    want wants[MOST];
    cavum_coldtest_reading readings[MOST];
    int count = make_moved(readings, wants);
    if (!emitted) forget(readings, count, CAVUM_CHANNEL_EMITTED);
    cavum_coldtest_setup setup = uncertain();
    setup.coupler_moved = stated;
    cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
    check_exact(test, wants, count);
    cavum_coldtest_calibration external = cavum_coldtest_get_external(test);
    ck_assert(!cavum_estimate_is_known(&external.value));
    const char *said = find_remark(test, "input_coupler: {moved: true}");
    ck_assert((said != NULL) == !stated);
    if (said) printf("%s\n", said);
    ck_assert(!said || strlen(said) < 255);
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

START_TEST(a_row_may_state_its_branch) {
  want one = {1.5, Q_EXTERNAL, true, 0.5};
  cavum_coldtest_reading reading = make(&one);
  reading.power_w[CAVUM_CHANNEL_EMITTED] = NAN;
  cavum_coldtest_setup setup = uncertain();
  setup.branch = CAVUM_BRANCH_UNDER;
  reading.branch = CAVUM_BRANCH_OVER;
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  check_exact(test, &one, 1);
  cavum_coldtest_destroy(&test);
}
END_TEST

// The emitted power says 0.92, whatever the reflection would like.
START_TEST(coupling_from_emitted_power_has_its_branch) {
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  static const double couplings[] = {0.92, 1.9, 2.6};
  int count = make_all(readings, wants, couplings, 3, false);
  readings[0].power_w[CAVUM_CHANNEL_REFLECTED] *= 2.0;
  cavum_coldtest_setup setup = uncertain();
  setup.coupling = CAVUM_COUPLING_EMITTED;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  ck_assert_int_eq(cavum_coldtest_get_point(test, 0)->branch, CAVUM_BRANCH_UNDER);
  CAVUM_CHECK_RELATIVE(scenario_value(test, 0, CAVUM_QUANTITY_COUPLING), 0.92, 1e-9);
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(a_stated_pickup_that_the_decays_contradict) {
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  static const double couplings[] = {1.5, 1.6, 1.4};
  int count = make_all(readings, wants, couplings, 3, true);
  wants[3].coupling = 1.2;
  readings[3] = make(&wants[3]);
  forget(readings, count, CAVUM_CHANNEL_EMITTED);
  cavum_coldtest_setup setup = uncertain();
  setup.q_pickup = (cavum_estimate){.value = 0.5 * Q_PICKUP, .uncertainty = 0.01 * Q_PICKUP};
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  const char *said = find_remark(test, "Q_t is stated as 3e+11");
  ck_assert_ptr_nonnull(said);
  printf("%s\n", said);
  ck_assert_ptr_nonnull(strstr(said, "6e+11"));
  ck_assert_ptr_nonnull(strstr(said, ": 2 times the stated one"));
  ck_assert(strlen(said) < 255);
  for (int i = 0; i < count; i++) {
    ck_assert_int_eq(cavum_coldtest_get_point(test, i)->branch, CAVUM_BRANCH_OVER);
  }
  cavum_coldtest_destroy(&test);
  setup.q_pickup = (cavum_estimate){.value = 0.99 * Q_PICKUP, .uncertainty = 0.01 * Q_PICKUP};
  test = scenario_evaluate(&setup, readings, count);
  ck_assert_ptr_null(find_remark(test, "is stated as"));
  cavum_coldtest_destroy(&test);
}
END_TEST

// A decay time in other units, ten times too long: the others outvote it.
START_TEST(one_wrong_decay_time_poisons_nothing) {
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  static const double couplings[] = {1.5, 1.6, 1.4};
  int count = make_all(readings, wants, couplings, 3, true);
  readings[1].decay_time_s *= 10.0;
  cavum_coldtest_setup setup = uncertain();
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  const char *said = find_remark(test, "left out of the calibrations");
  ck_assert_ptr_nonnull(said);
  printf("%s\n", said);
  ck_assert_ptr_nonnull(strstr(said, "readings:3: "));
  for (int i = 0; i < count; i++) {
    ck_assert(has_flag(test, i, CAVUM_FLAG_INDEX_LEFT_OUT) == (i == 1));
    if (i == 1) continue;
    CAVUM_CHECK_RELATIVE(scenario_value(test, i, CAVUM_QUANTITY_Q0), q0_of(&wants[i]), 1e-9);
  }
  CAVUM_CHECK_RELATIVE(cavum_coldtest_get_pickup(test).value.value, Q_PICKUP, 1e-9);
  cavum_coldtest_destroy(&test);
  // Of two that disagree none is left out; the mean is as uncertain as they are apart: of two
  // numbers with one u, chi squared is d^2 / (2 u^2) and the mean has u = d / 2.
  readings[2] = readings[3];
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) setup.channels[i] = scenario_setup().channels[i];
  setup.decay_noise = 0.01;
  setup.branch = CAVUM_BRANCH_OVER;
  readings[0].decay_time_s *= 1.2;
  readings[1] = make(&wants[0]);
  test = scenario_evaluate(&setup, readings, 3);
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  double apart = 0.2 * Q_PICKUP;
  printf("u(Q_t) %g, half of the difference %g\n", pickup.value.uncertainty, 0.5 * apart);
  CAVUM_CHECK_RELATIVE(pickup.value.uncertainty, 0.5 * apart, 0.02);
  cavum_coldtest_destroy(&test);
}
END_TEST

// One pickup power twice too large among readings that scatter twice as much as is stated: so far
// off, it is no part of that scatter, and must not turn all others to the other side. Of five
// others, Q_t is known to some 1.3 %: 6 % are more than four standard deviations.
START_TEST(one_wrong_power_among_readings_that_scatter_poisons_nothing) {
  static const double couplings[] = {2.7, 2.6, 2.65, 2.5, 2.7, 2.6};
  enum { DRAWS = 20, COUNT = 6, WRONG = 2 };
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int draw = 0; draw < DRAWS; draw++) {
    want wants[MOST];
    cavum_coldtest_reading readings[MOST];
    int count = make_all(readings, wants, couplings, COUNT, true);
    cavum_coldtest_setup setup = uncertain();
    for (int i = 0; i < COUNT; i++) {
      for (int k = 0; k < CAVUM_NUM_CHANNELS; k++) {
        readings[i].power_w[k] *= 1.0 + gsl_ran_gaussian(rng, 2.0 * setup.channels[k].noise);
      }
      readings[i].decay_time_s *= 1.0 + gsl_ran_gaussian(rng, 2.0 * setup.decay_noise);
    }
    readings[WRONG].power_w[CAVUM_CHANNEL_TRANSMITTED] *= 2.0;
    cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
    const char *said = find_remark(test, "left out of the calibrations");
    ck_assert_msg(said != NULL, "draw %d: nothing is left out", draw);
    ck_assert_ptr_nonnull(strstr(said, "readings:4: "));
    for (int i = 0; i < count; i++) {
      ck_assert(has_flag(test, i, CAVUM_FLAG_INDEX_LEFT_OUT) == (i == WRONG));
      if (i == WRONG) continue;
      ck_assert_int_eq(cavum_coldtest_get_point(test, i)->branch, CAVUM_BRANCH_OVER);
    }
    CAVUM_CHECK_RELATIVE(cavum_coldtest_get_pickup(test).value.value, Q_PICKUP, 0.06);
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
}
END_TEST

// 9.9e37 is what some meters write when they are out of range.
START_TEST(a_meter_out_of_range_is_set_aside) {
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  static const double couplings[] = {1.5, 1.6, 1.4};
  int count = make_all(readings, wants, couplings, 3, true);
  readings[2].power_w[CAVUM_CHANNEL_FORWARD] = 9.9e37;
  cavum_coldtest_setup setup = uncertain();
  for (int i = 0; i < 2; i++) {
    cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
    ck_assert_int_eq(cavum_coldtest_num_set_aside(test), 1);
    const cavum_coldtest_set_aside *row = cavum_coldtest_get_set_aside(test, 0);
    ck_assert_int_eq(row->line, 4);
    ck_assert_ptr_nonnull(strstr(row->reason, "out of range"));
    CAVUM_CHECK_RELATIVE(cavum_coldtest_get_pickup(test).value.value, Q_PICKUP, 1e-9);
    cavum_coldtest_destroy(&test);
    readings[2].power_w[CAVUM_CHANNEL_FORWARD] = 1e17;  // 1e9 times what it was: E_acc follows.
  }
}
END_TEST

// The pickup takes a tenth of what the walls do.
START_TEST(a_decay_without_transmitted_power_takes_it_from_the_others) {
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  static const double couplings[] = {10.0, 8.0, 12.0};
  int count = make_all(readings, wants, couplings, 3, false);
  cavum_coldtest_setup setup = uncertain();
  setup.branch = CAVUM_BRANCH_OVER;
  readings[1].power_w[CAVUM_CHANNEL_TRANSMITTED] = NAN;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  CAVUM_CHECK_RELATIVE(scenario_value(test, 1, CAVUM_QUANTITY_Q0), q0_of(&wants[1]), 1e-9);
  ck_assert(!has_flag(test, 1, CAVUM_FLAG_INDEX_NO_PICKUP));
  cavum_coldtest_monte_carlo drawn;
  ck_assert_int_eq(cavum_coldtest_run_monte_carlo(&drawn, test, 1, 100000, NULL), CAVUM_OK);
  const cavum_coldtest_distribution *q0 = &drawn.results[CAVUM_MC_Q0];
  CAVUM_CHECK_NEAR(q0->median, q0_of(&wants[1]), 0.1 * q0->uncertainty);
  cavum_coldtest_destroy(&test);
}
END_TEST

/** Errors that all readings of a test share. */
typedef struct shared_errors {
  double factor[4];
} shared_errors;

static void disturb(cavum_coldtest_reading *r, const shared_errors *shared, gsl_rng *rng) {
  for (int k = 0; k < 4; k++) {
    r->power_w[k] *= shared->factor[k] * (1.0 + gsl_ran_gaussian(rng, 0.005));
  }
  if (!isnan(r->decay_time_s)) r->decay_time_s *= 1.0 + gsl_ran_gaussian(rng, 0.01);
}

/** Counts of many tests. */
typedef struct tally {
  int rows, held[2], spoiled_pickup, open, wrong_and_silent;
} tally;

static void draw_test(tally *t, const double *couplings, int count, bool emitted, gsl_rng *rng) {
  want wants[MOST];
  cavum_coldtest_reading readings[MOST];
  shared_errors shared;
  count = make_all(readings, wants, couplings, count, true);
  for (int k = 0; k < 4; k++) {
    shared.factor[k] =
        (1.0 + gsl_ran_gaussian(rng, 0.02)) * pow(10.0, 0.1 * gsl_ran_gaussian(rng, 0.1));
  }
  // The emitted power is read by the meter of the reflected one.
  shared.factor[CAVUM_CHANNEL_EMITTED] = shared.factor[CAVUM_CHANNEL_REFLECTED];
  for (int i = 0; i < count; i++) disturb(&readings[i], &shared, rng);
  if (!emitted) forget(readings, count, CAVUM_CHANNEL_EMITTED);
  cavum_coldtest_setup setup = uncertain();
  cavum_coldtest *test = scenario_evaluate(&setup, readings, count);
  for (int64_t i = 0; i < cavum_coldtest_num_points(test); i++) {
    const cavum_coldtest_point *point = cavum_coldtest_get_point(test, i);
    const want *w = &wants[cavum_coldtest_get_reading(test, i)->line - 2];
    double off = fabs(point->value[CAVUM_QUANTITY_Q0] - q0_of(w));
    bool open = has_flag(test, i, CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS);
    t->rows++;
    t->held[0] += off <= point->uncertainty[CAVUM_QUANTITY_Q0];
    t->held[1] += off <= 1.96 * point->uncertainty[CAVUM_QUANTITY_Q0];
    t->open += open;
    t->wrong_and_silent += !open && point->branch != branch_of(w);
  }
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  double off = fabs(pickup.value.value - Q_PICKUP);
  t->spoiled_pickup += off > 1.96 * pickup.value.uncertainty;
  cavum_coldtest_destroy(&test);
}

// Over and under in one test, two of them close to critical coupling. Shares are those of a normal
// distribution within four standard deviations of a binomial count of tests (rows of one test share
// errors), from both sides; above where a side is open. A side that is decided is wrong in less
// than 0.3 %.
START_TEST(drawn_tests_on_both_sides_hold_the_truth) {
  enum { NUM_TESTS = 300 };
  static const double apart[] = {0.15, 0.39, 0.66, 0.93, 1.06, 1.6, 2.5},
                      close[] = {0.97, 0.983, 1.0, 1.01, 1.03, 1.6, 2.5};
  const double *couplings = _i < 2 ? apart : close;
  tally t = {0};
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int i = 0; i < NUM_TESTS; i++) draw_test(&t, couplings, 7, _i % 2 == 1, rng);
  gsl_rng_free(rng);
  double rows = t.rows, k1 = t.held[0] / rows, k2 = t.held[1] / rows, open = t.open / rows;
  printf("%d rows: k = 1 holds %.3f, k = 1.96 %.3f, open %.3f, wrong %d; Q_t outside in %d of %d\n",
         t.rows, k1, k2, open, t.wrong_and_silent, t.spoiled_pickup, NUM_TESTS);
  double most = 4.0 * sqrt(0.683 * 0.317 / NUM_TESTS);
  ck_assert(k1 >= 0.683 - most && k1 <= 0.683 + most + 0.317 * open);
  CAVUM_CHECK_NEAR(k2, 0.95, 4.0 * sqrt(0.95 * 0.05 / NUM_TESTS));
  ck_assert(_i < 2 ? open < 0.05 : open > 0.1);
  CAVUM_CHECK_NEAR(t.spoiled_pickup / (double)NUM_TESTS, 0.05, 4.0 * sqrt(0.95 * 0.05 / NUM_TESTS));
  ck_assert(t.wrong_and_silent <= 0.003 * rows + 4.0 * sqrt(0.003 * rows));
}
END_TEST

// How far a later step is from the other side is judged with the leak into the forward meter that
// its own side has: below critical coupling the reflected wave has the other sign. Q_e of other
// readings has the same leak in it, so that the sign counts.
START_TEST(the_leak_has_the_sign_of_the_side_under_test) {
  enum { LEAK = CAVUM_INPUT_FORWARD_DIRECTIVITY };
  static const double FORWARD_W = 10.0, AMPLITUDE = 0.01, OF_EXTERNAL = 3e7;
  const double rho = _i == 0 ? 0.2 : -0.2, reflected_w = rho * rho * FORWARD_W;
  const double beta = (1.0 + rho) / (1.0 - rho), net_w = FORWARD_W - reflected_w;
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_DECIDE;
  cavum_coldtest_inputs inputs = {.coverage_factor = 2.0, .forward_leak_amplitude = AMPLITUDE};
  inputs.uncertainty[LEAK] = sqrt(0.5);
  // Q_eff is beta* Q_e on resonance: the transmitted power is what makes it so.
  cavum_dual q_pickup = cavum_dual_constant(Q_PICKUP);
  cavum_dual q_external = cavum_dual_constant(Q_EXTERNAL);
  q_external.part[LEAK] = OF_EXTERNAL;
  cavum_calibrated reading = {.has = {false}};
  const double transmitted_w = beta * Q_EXTERNAL * net_w / Q_PICKUP;
  const double powers[] = {FORWARD_W, reflected_w, transmitted_w};
  const int channels[] = {CAVUM_CHANNEL_FORWARD, CAVUM_CHANNEL_REFLECTED,
                          CAVUM_CHANNEL_TRANSMITTED};
  for (int k = 0; k < 3; k++) {
    reading.has[channels[k]] = true;
    reading.power[channels[k]] = cavum_dual_constant(powers[k]);
  }
  reading.omega = cavum_dual_constant(OMEGA);
  const cavum_inversion_context context = {.forced = CAVUM_BRANCH_DECIDE,
                                           .setup = &setup,
                                           .inputs = &inputs,
                                           .q_pickup = &q_pickup,
                                           .q_external = &q_external,
                                           .pickup_ratio = 1.0};
  const cavum_reading_place place = {.file = "readings"};
  cavum_inverted inverted = {.flags = 0};
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_invert_pickup(&inverted, &context, &reading, &place, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(inverted.branch, rho > 0.0 ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER);
  // d(P_f) = -2 leak rho P_f cos(phase), and Q_eff goes as 1 / (P_f - P_r).
  double quality = beta * Q_EXTERNAL;
  double part = quality * 2.0 * AMPLITUDE * rho * FORWARD_W / net_w * sqrt(0.5);
  double expected = fabs(quality - Q_EXTERNAL) / fabs(part - OF_EXTERNAL);
  double other_sign = fabs(quality - Q_EXTERNAL) / fabs(-part - OF_EXTERNAL);
  CAVUM_CHECK_RELATIVE(inverted.branch_distance, expected, 1e-12);
  ck_assert(fabs(other_sign / expected - 1.0) > 0.2);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, exact_readings_on_both_sides_come_back, 0, NUM_SERIES);
  tcase_add_test(tests, close_to_critical_the_other_side_has_a_part);
  tcase_add_test(tests, the_side_of_a_row_is_its_own);
  tcase_add_test(tests, a_coupler_that_was_moved);
  tcase_add_test(tests, a_row_may_state_its_branch);
  tcase_add_test(tests, coupling_from_emitted_power_has_its_branch);
  tcase_add_loop_test(tests, the_leak_has_the_sign_of_the_side_under_test, 0, 2);
  tcase_add_test(tests, a_stated_pickup_that_the_decays_contradict);
  tcase_add_test(tests, one_wrong_decay_time_poisons_nothing);
  tcase_add_test(tests, one_wrong_power_among_readings_that_scatter_poisons_nothing);
  tcase_add_test(tests, a_meter_out_of_range_is_set_aside);
  tcase_add_test(tests, a_decay_without_transmitted_power_takes_it_from_the_others);
  tcase_add_loop_test(tests, drawn_tests_on_both_sides_hold_the_truth, 0, 4);
}

CAVUM_TEST_MAIN("coldtest branch", add_tests)
