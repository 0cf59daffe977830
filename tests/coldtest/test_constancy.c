// SPDX-License-Identifier: GPL-3.0-or-later
// Q_e and Q_t as constants of a test: a wrong branch that is stated is contradicted, one that is
// not stated is decided, and chance does neither more often than is said. Readings are made by the
// circuit, which the analysis does not use, and drawn with errors of their own and shared ones.
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <string.h>

#include "coldtest/constancy.h"
#include "scenario.h"

enum { COUNT = 10, NUM_DRAWS = 600 };
static const double CABLE_DB = 0.1, NOISE = 0.005, DECAY_COMMON = 0.005, DECAY_OWN = 0.01;

/** A cavity whose Q0 falls by a part of itself over the test. */
typedef struct plan {
  double q0, fall, q_external, q_pickup;
} plan;
// Overcoupled from 1.56 to 1.14 and undercoupled from 0.7 to 0.5.
static const plan OVER = {2.8e10, 0.3, 1.6e10, 2.5e11}, UNDER = {2.8e10, 0.3, 3.6e10, 2.5e11};
// Falls so little that the branch is at the limit of what is seen.
static const plan HARDLY = {2.8e10, 0.018, 1.6e10, 2.5e11};

static cavum_coldtest_setup uncertain(cavum_branch branch) {
  cavum_coldtest_setup setup = scenario_setup();
  for (int i = 0; i < 3; i++) {
    setup.channels[i].attenuation_uncertainty_db = CABLE_DB;
    setup.channels[i].noise = NOISE;
  }
  setup.decay_uncertainty = DECAY_COMMON;
  setup.decay_noise = DECAY_OWN;
  setup.branch = branch;
  return setup;
}

static void draw_readings(cavum_coldtest_reading readings[COUNT], const plan *p, double noise,
                          gsl_rng *rng) {
  double cable[3], common = 1.0 + gsl_ran_gaussian(rng, DECAY_COMMON);
  for (int k = 0; k < 3; k++) cable[k] = pow(10.0, -0.1 * gsl_ran_gaussian(rng, CABLE_DB));
  for (int i = 0; i < COUNT; i++) {
    double level = (3.0 + 15.0 * i / (COUNT - 1)) / 18.0;
    cavum_circuit circuit = {.frequency_hz = 1.3e9,
                             .q0 = p->q0 * (1.0 - p->fall * level * level),
                             .q_external = p->q_external,
                             .q_pickup = p->q_pickup};
    readings[i] = scenario_drive(&circuit, level * level);
    readings[i].power_w[CAVUM_CHANNEL_EMITTED] = NAN;
    for (int k = 0; k < 3; k++) {
      readings[i].power_w[k] *= cable[k] * (1.0 + gsl_ran_gaussian(rng, noise));
    }
    readings[i].decay_time_s *= common * (1.0 + gsl_ran_gaussian(rng, DECAY_OWN));
  }
}

static const char *find_remark(const cavum_coldtest *test, const char *part) {
  for (int i = 0; i < cavum_coldtest_num_remarks(test); i++) {
    if (strstr(cavum_coldtest_get_remark(test, i), part)) return cavum_coldtest_get_remark(test, i);
  }
  return NULL;
}

START_TEST(a_wrong_branch_that_is_stated_is_contradicted) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int under = 0; under < 2; under++) {
    cavum_coldtest_reading readings[COUNT];
    draw_readings(readings, under ? &UNDER : &OVER, NOISE, rng);
    cavum_coldtest_setup setup = uncertain(under ? CAVUM_BRANCH_OVER : CAVUM_BRANCH_UNDER);
    cavum_coldtest *test = scenario_evaluate(&setup, readings, COUNT);
    const char *said = find_remark(test, "contradict the stated branch");
    ck_assert_ptr_nonnull(said);
    printf("%s\n", said);
    ck_assert_ptr_nonnull(strstr(said, under ? "branch, over:" : "branch, under:"));
    ck_assert_ptr_nonnull(strstr(said, under ? "agree with under" : "agree with over"));
    ck_assert(strlen(said) < CAVUM_REMARK_SIZE - 1);
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
}
END_TEST

/** What came of many draws. */
typedef struct tally {
  int contradicted, not_constant, unlikely_5, decided, wrong, left_out;
} tally;

static tally draw_many(const plan *p, cavum_branch stated, double noise, cavum_branch truth) {
  tally t = {0};
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  cavum_coldtest_setup setup = uncertain(stated);
  for (int i = 0; i < NUM_DRAWS; i++) {
    cavum_coldtest_reading items[COUNT];
    draw_readings(items, p, noise, rng);
    cavum_coldtest_readings readings = {.num_readings = COUNT, .items = items, .file = "drawn"};
    cavum_coldtest *test = NULL;
    cavum_error error = {0};
    if (cavum_coldtest_evaluate(&test, &setup, &readings, &error) != CAVUM_OK) {
      ck_assert_ptr_nonnull(strstr(error.message, "nothing decides the coupling branch"));
      continue;
    }
    cavum_constancy found;
    ck_assert_int_eq(cavum_coldtest_judge_constancy(&found, test, CAVUM_BRANCH_DECIDE, NULL),
                     CAVUM_OK);
    // One reading far from all others is left out of both constants.
    bool left_out = find_remark(test, "left out of the calibrations") != NULL;
    ck_assert_int_eq(found.degrees_of_freedom, 2 * (COUNT - left_out) - 2);
    t.left_out += left_out;
    t.unlikely_5 += found.probability < 0.05;
    t.contradicted += find_remark(test, "contradict the stated branch") != NULL;
    t.not_constant += find_remark(test, "are not constant within") != NULL;
    const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
    bool open = point->flags & (1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS);
    t.decided += !open;
    t.wrong += !open && point->branch != truth;
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
  printf("of %d: contradicted %d, not constant %d, p < 5 %% %d, decided %d, wrong %d\n", NUM_DRAWS,
         t.contradicted, t.not_constant, t.unlikely_5, t.decided, t.wrong);
  return t;
}

// Counts of NUM_DRAWS are within four standard deviations of what is stated: 5 % of chance below a
// probability of 5 %, 0.1 % remarks.
START_TEST(chance_is_what_is_stated) {
  static const plan *const plans[] = {&OVER, &UNDER};
  const cavum_branch branches[] = {CAVUM_BRANCH_OVER, CAVUM_BRANCH_UNDER};
  tally t = draw_many(plans[_i], branches[_i], NOISE, branches[_i]);
  CAVUM_CHECK_NEAR(t.unlikely_5 / (double)NUM_DRAWS, 0.05, 4.0 * sqrt(0.05 * 0.95 / NUM_DRAWS));
  ck_assert_int_eq(t.contradicted, 0);
  ck_assert_int_le(t.not_constant + t.left_out,
                   (int)(NUM_DRAWS * 1e-3 + 4.0 * sqrt(NUM_DRAWS * 1e-3)));
}
END_TEST

// Noise of four times what is stated is spoken of, and is no word against the right branch.
START_TEST(noise_beyond_what_is_stated_is_said) {
  tally t = draw_many(&OVER, CAVUM_BRANCH_OVER, 4.0 * NOISE, CAVUM_BRANCH_OVER);
  ck_assert_int_gt(t.not_constant, NUM_DRAWS / 2);
  ck_assert_int_le(t.contradicted, (int)(NUM_DRAWS * 1.35e-3 + 4.0 * sqrt(NUM_DRAWS * 1.35e-3)));
}
END_TEST

START_TEST(constants_decide_the_branch) {
  static const plan *const plans[] = {&OVER, &UNDER};
  const cavum_branch branches[] = {CAVUM_BRANCH_OVER, CAVUM_BRANCH_UNDER};
  tally t = draw_many(plans[_i], CAVUM_BRANCH_DECIDE, NOISE, branches[_i]);
  ck_assert_int_eq(t.decided, NUM_DRAWS);
  ck_assert_int_eq(t.wrong, 0);
}
END_TEST

// Two branches d standard deviations apart differ in chi squared by d^2 +- 2 d: the wrong one is
// better by 9 in 0.135 % of all draws where d is 3, and less often where it is more or less.
START_TEST(what_is_hardly_seen_is_seldom_decided_wrong) {
  tally t = draw_many(&HARDLY, CAVUM_BRANCH_DECIDE, NOISE, CAVUM_BRANCH_OVER);
  ck_assert_int_lt(t.decided, NUM_DRAWS * 9 / 10);
  ck_assert_int_le(t.wrong, (int)(NUM_DRAWS * 1.35e-3 + 4.0 * sqrt(NUM_DRAWS * 1.35e-3)));
}
END_TEST

// One change between readings 6 and 7, 12 % as a power or a time: 0.492 dB. Q_t is U over P_t, U
// goes with the decay time at given powers, and Q_e with it.
START_TEST(a_change_within_the_test_is_placed) {
  static const struct {
    bool transmitted, clock;
    const char *part;
  } changes[] = {{true, false, "another cable"}, {false, true, "the clock of the decays"}};
  enum { BEFORE = 6 };
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int i = 0; i < 2; i++) {
    cavum_coldtest_reading readings[COUNT];
    draw_readings(readings, &OVER, NOISE, rng);
    for (int k = BEFORE; k < COUNT; k++) {
      if (changes[i].transmitted) readings[k].power_w[CAVUM_CHANNEL_TRANSMITTED] /= 1.12;
      if (changes[i].clock) readings[k].decay_time_s *= 1.12;
    }
    cavum_coldtest_setup setup = uncertain(CAVUM_BRANCH_OVER);
    cavum_coldtest *test = scenario_evaluate(&setup, readings, COUNT);
    const char *said = find_remark(test, "agree among themselves");
    ck_assert_ptr_nonnull(said);
    printf("%s\n", said);
    ck_assert_ptr_nonnull(strstr(said, "decays up to reading 6 and from 7 on"));
    ck_assert_ptr_nonnull(strstr(said, changes[i].part));
    double pickup_db = strtod(strstr(said, "Q_t changes by ") + strlen("Q_t changes by "), NULL);
    double external_db = strtod(strstr(said, "Q_e by ") + strlen("Q_e by "), NULL);
    // Means of 6 and of 4 readings with 1.2 % each: four standard deviations are 0.13 dB.
    CAVUM_CHECK_NEAR(pickup_db, 0.492, 0.13);
    CAVUM_CHECK_NEAR(external_db, changes[i].clock ? 0.492 : 0.0, 0.13);
    ck_assert(strlen(said) < CAVUM_REMARK_SIZE - 1);
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
}
END_TEST

// Emitted powers that are all too high, by another attenuator or a late reading: Q_e and Q_t by the
// reflected powers are as constant as before, and the remark must not blame them.
START_TEST(emitted_powers_that_disagree_are_called_so) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  cavum_coldtest_reading readings[COUNT];
  draw_readings(readings, &OVER, NOISE, rng);
  for (int i = 0; i < COUNT; i++) {
    double level = (3.0 + 15.0 * i / (COUNT - 1)) / 18.0;
    cavum_circuit circuit = {.frequency_hz = 1.3e9,
                             .q0 = OVER.q0 * (1.0 - OVER.fall * level * level),
                             .q_external = OVER.q_external,
                             .q_pickup = OVER.q_pickup};
    readings[i].power_w[CAVUM_CHANNEL_EMITTED] =
        1.6 * scenario_drive(&circuit, level * level).power_w[CAVUM_CHANNEL_EMITTED];
  }
  cavum_coldtest_setup setup = uncertain(CAVUM_BRANCH_OVER);
  setup.channels[CAVUM_CHANNEL_EMITTED].noise = NOISE;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, COUNT);
  const char *said = find_remark(test, "reflected and emitted power contradict each other");
  ck_assert_ptr_nonnull(said);
  printf("%s\n", said);
  ck_assert_ptr_null(find_remark(test, "not constant"));
  ck_assert_ptr_null(find_remark(test, "agree among themselves"));
  cavum_coldtest_destroy(&test);
  gsl_rng_free(rng);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_wrong_branch_that_is_stated_is_contradicted);
  tcase_add_loop_test(tests, chance_is_what_is_stated, 0, 2);
  tcase_add_test(tests, noise_beyond_what_is_stated_is_said);
  tcase_add_test(tests, a_change_within_the_test_is_placed);
  tcase_add_test(tests, emitted_powers_that_disagree_are_called_so);
  tcase_add_loop_test(tests, constants_decide_the_branch, 0, 2);
  tcase_add_test(tests, what_is_hardly_seen_is_seldom_decided_wrong);
}

CAVUM_TEST_MAIN("coldtest constancy", add_tests)
