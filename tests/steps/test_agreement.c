// SPDX-License-Identifier: GPL-3.0-or-later
// Whether measured frequencies go together: draws of consistent ones, blunders, and what a chain
// says of them in table, JSON and file.
#include "cavum/store.h"
#include "measured_wall.h"
#include "step_chain.h"
#include "steps/agreement.h"

// Six measurements with two sources that act on some of them, kilohertz.
enum { MEASURED = 6, SOURCES = 2, DRAWS = 4000 };
static const double ROWS[MEASURED][SOURCES] = {{0, 0},   {-90, 0},  {-90, 0},
                                               {-90, 5}, {-120, 5}, {-120, -15}};
static const double SIGMA[MEASURED] = {2, 2, 3, 2, 5, 2}, DRAWING = 1300;

static double off[MEASURED], variance[MEASURED], rows[MEASURED][SOURCES], by_drawing[MEASURED];

static cavum_measured_set draw(random_state *state, bool unstated) {
  double source[SOURCES], size = unstated ? 40 * measured_wall_normal(state) : 0.0;
  memcpy(rows, ROWS, sizeof rows);
  for (int s = 0; s < SOURCES; s++) source[s] = measured_wall_normal(state);
  for (int i = 0; i < MEASURED; i++) {
    off[i] = size + SIGMA[i] * measured_wall_normal(state);
    for (int s = 0; s < SOURCES; s++) off[i] += rows[i][s] * source[s];
    variance[i] = SIGMA[i] * SIGMA[i];
    by_drawing[i] = unstated ? DRAWING : 0.0;
  }
  return (cavum_measured_set){MEASURED, SOURCES, off, variance, rows[0], by_drawing};
}

// The part of contradictions is the stated one: three standard deviations of the count.
START_TEST(consistent_draws_contradict_at_the_stated_level) {
  random_state state = {7};
  bool unstated = _i == 1;
  int contradictions = 0;
  double sum = 0.0;
  for (int k = 0; k < DRAWS; k++) {
    cavum_agreement agreement;
    cavum_measured_set set = draw(&state, unstated);
    ck_assert_int_eq(cavum_agreement_judge(&agreement, &set, NULL), CAVUM_OK);
    ck_assert_int_eq(agreement.freedom, unstated ? MEASURED - 1 : MEASURED);
    contradictions += cavum_agreement_fails(&agreement);
    sum += agreement.chi_square;
    cavum_agreement_clear(&agreement);
  }
  double expected = CAVUM_AGREEMENT_LEVEL * DRAWS;
  int freedom = unstated ? MEASURED - 1 : MEASURED;
  printf("%d of %d called contradictory\n", contradictions, DRAWS);
  CAVUM_CHECK_NEAR(contradictions, expected, 3 * sqrt(expected));
  CAVUM_CHECK_NEAR(sum / DRAWS, freedom, 3 * sqrt(2.0 * freedom / DRAWS));
}
END_TEST

// Ten standard deviations of what the others leave uncertain of it.
START_TEST(a_blunder_is_named) {
  random_state state = {11};
  enum { TRIES = 500 };
  int named = 0, called = 0;
  for (int k = 0; k < TRIES; k++) {
    int at = k % MEASURED, worst = 0;
    cavum_agreement agreement;
    cavum_measured_set set = draw(&state, true);
    ck_assert_int_eq(cavum_agreement_judge(&agreement, &set, NULL), CAVUM_OK);
    off[at] += 10 * agreement.deviation_hz[at] / agreement.deviation[at];
    cavum_agreement_clear(&agreement);
    ck_assert_int_eq(cavum_agreement_judge(&agreement, &set, NULL), CAVUM_OK);
    for (int i = 1; i < MEASURED; i++) {
      if (fabs(agreement.deviation[i]) > fabs(agreement.deviation[worst])) worst = i;
    }
    called += cavum_agreement_fails(&agreement);
    named += worst == at;
    cavum_agreement_clear(&agreement);
  }
  printf("%d called, %d named of %d\n", called, named, TRIES);
  ck_assert_int_eq(called, TRIES);
  ck_assert_int_ge(named, TRIES * 98 / 100);
}
END_TEST

// Against the inverse by hand: two measurements that share an unstated drawing.
START_TEST(two_measurements_have_one_degree_of_freedom) {
  double y[] = {5, 1}, v[] = {4, 5}, none[2] = {0, 0}, size[] = {1, 1};
  cavum_agreement agreement;
  cavum_measured_set set = {2, 1, y, v, none, size};
  ck_assert_int_eq(cavum_agreement_judge(&agreement, &set, NULL), CAVUM_OK);
  ck_assert_int_eq(agreement.freedom, 1);
  CAVUM_CHECK_NEAR(agreement.chi_square, 16.0 / 9.0, 1e-12);
  CAVUM_CHECK_NEAR(agreement.deviation_hz[0], 4.0, 1e-12);
  CAVUM_CHECK_NEAR(agreement.deviation[1], -4.0 / 3.0, 1e-12);
  CAVUM_CHECK_NEAR(agreement.probability, erfc(4.0 / 3.0 / sqrt(2.0)), 1e-12);
  cavum_agreement_clear(&agreement);
}
END_TEST

// ---- chains

static const char CHAIN[] =
    "drawing: {uncertainty_kHz: 300}\ntarget: {frequency_MHz: 1297}\nsteps:\n"
    "  - {name: bare, air: {gas: vacuum}, measured_MHz: %.6f, measured_uncertainty_kHz: 2}\n"
    "  - {name: furnace, anneal: {change_kHz: -30, uncertainty_kHz: 5}, measured_MHz: %.6f,\n"
    "     measured_uncertainty_kHz: 2}\n"
    "  - {name: welded, anneal: {change_kHz: 10, uncertainty_kHz: 5}, measured_MHz: %.6f,\n"
    "     measured_uncertainty_kHz: 2}\n"
    "  - {name: etched, remove: {depth_um: 20, uncertainty_um: 2}}\n";

static cavum_steps_result *run(double first, double second, double third) {
  char text[1024];
  snprintf(text, sizeof text, CHAIN, first, second, third);
  return step_chain_run("pillbox.yaml", text);
}

// 1300.2 MHz and what is stated leave nothing; 70 kHz more in the middle are ten times the root of
// 2^2 + 2^2 + 5^2 over what two neighbours say of it.
START_TEST(a_chain_names_the_step) {
  cavum_steps_result *good = run(1300.2, 1300.171, 1300.18);
  ck_assert_int_eq(good->chi_square_freedom, 3);
  ck_assert_str_eq(good->contradiction, "");
  ck_assert_int_eq(good->odd_step, -1);
  cavum_steps_result *bad = run(1300.2, 1300.24, 1300.18);
  printf("%s\n", bad->contradiction);
  ck_assert_int_eq(bad->odd_step, 2);
  ck_assert_ptr_nonnull(strstr(bad->contradiction, "the frequency measured after furnace is +"));
  ck_assert(bad->chi_square_probability < 1e-10);
  for (int i = 0; i < bad->num_steps; i++) {
    ck_assert_int_eq(bad->steps[i]->contradicts, i == 2);
    ck_assert(!good->steps[i]->contradicts && !bad->steps[i]->zero_contradicts);
  }
  char *json = NULL;
  ck_assert_int_eq(cavum_store_steps_to_json(&json, bad, NULL), CAVUM_OK);
  ck_assert_ptr_nonnull(strstr(json, "\"contradictory\": true"));
  ck_assert_ptr_nonnull(strstr(json, "\"odd_step\": \"furnace\""));
  const char *mark = strstr(json, "\"contradicts\": true");
  ck_assert_ptr_nonnull(mark);
  ck_assert_ptr_null(strstr(mark + 1, "\"contradicts\": true"));
  cavum_free(json);
  cavum_steps_result_destroy(&good);
  cavum_steps_result_destroy(&bad);
}
END_TEST

// One measurement with an unstated drawing, and none at all: nothing to compare.
START_TEST(a_measurement_alone_contradicts_nothing) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml", "steps:\n  - {name: a, air: {gas: vacuum}, measured_MHz: 1310}\n");
  ck_assert_int_eq(result->chi_square_freedom, 0);
  ck_assert(isnan(result->chi_square));
  ck_assert_str_eq(result->contradiction, "");
  cavum_steps_result_destroy(&result);
}
END_TEST

// A length that no shape has, metal that would have to be put back, and one that can be.
START_TEST(next_amounts_that_cannot_be_say_so) {
  static const struct {
    const char *step, *obstacle;
    double target_mhz;
  } cases[] = {{"remove: {depth_um: 20, uncertainty_um: 2}", "", 1299},
               {"remove: {depth_um: 20, uncertainty_um: 2}", "the wrong way", 1301},
               {"remove: {depth_um: 20, uncertainty_um: 2}", "more than a wall allows", 1250},
               {"deposit: {depth_um: 20, uncertainty_um: 2}", "the wrong way", 1299},
               {"trim: {at: equator, each_side_mm: 1}", "impossible: ", 1700},
               {"stretch: {length_mm: 1}", "impossible: squeezed by more", 1900}};
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    char text[256];
    const char *cell = k < 4 ? "pillbox.yaml" : "mid-cell.yaml";
    snprintf(text, sizeof text, "target: {frequency_MHz: %g}\nsteps:\n  - {name: a, %s}\n",
             cases[k].target_mhz, cases[k].step);
    cavum_steps_result *result = step_chain_run(cell, text);
    const cavum_step *step = result->steps[1];
    printf("%s: %g m, '%s'\n", cases[k].step, step->next_amount, step->next_obstacle);
    ck_assert(isfinite(step->next_amount));
    ck_assert(strncmp(step->next_obstacle, cases[k].obstacle, strlen(cases[k].obstacle)) == 0);
    ck_assert((cases[k].obstacle[0] == 0) == (step->next_obstacle[0] == 0));
    char *json = NULL;
    ck_assert_int_eq(cavum_store_steps_to_json(&json, result, NULL), CAVUM_OK);
    ck_assert_ptr_nonnull(strstr(json, cases[k].obstacle[0] ? "\"next_amount_obstacle\": \""
                                                            : "\"next_amount_obstacle\": null"));
    cavum_free(json);
    cavum_steps_result_destroy(&result);
  }
}
END_TEST

// Targets that take 1.8 and 2.2 per cent of the length by the slope: the second is beyond what a
// linear estimate covers. The whole length of mid-cell.yaml is 2 x half_length.
START_TEST(next_amounts_that_are_far_say_so) {
  static const double LENGTH_M = 2 * 57.7e-3;
  cavum_steps_result *now =
      step_chain_run("mid-cell.yaml", "steps:\n  - {name: a, stretch: {length_mm: 0.01}}\n");
  for (int far = 0; far < 2; far++) {
    double amount_m = (far ? -0.022 : -0.018) * LENGTH_M;
    double target_hz = now->steps[1]->frequency_hz +
                       now->steps[1]->slope_hz_per_m * (amount_m - now->steps[1]->amount);
    char text[256];
    snprintf(text, sizeof text,
             "target: {frequency_MHz: %.9f}\nsteps:\n  - {name: a, stretch: {length_mm: 0.01}}\n",
             1e-6 * target_hz);
    cavum_steps_result *result = step_chain_run("mid-cell.yaml", text);
    printf("%g m: '%s'\n", result->steps[1]->next_amount, result->steps[1]->next_caution);
    CAVUM_CHECK_RELATIVE(result->steps[1]->next_amount, amount_m, 1e-3);
    ck_assert_str_eq(
        result->steps[1]->next_caution,
        far ? "2.2 % of the length of the cell, far beyond what a linear estimate covers" : "");
    char *json = NULL;
    ck_assert_int_eq(cavum_store_steps_to_json(&json, result, NULL), CAVUM_OK);
    ck_assert_ptr_nonnull(strstr(
        json, far ? "\"next_amount_caution\": \"2.2 % of" : "\"next_amount_caution\": null"));
    cavum_free(json);
    cavum_steps_result_destroy(&result);
  }
  cavum_steps_result_destroy(&now);
}
END_TEST

static void set_up(void) {
  step_chain_set_up();
  ck_assert_int_eq(program_run(step_chain_folder, "cp $CELLS/mid-cell.yaml ."), 0);
}

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, step_chain_tear_down);
  tcase_add_loop_test(tests, consistent_draws_contradict_at_the_stated_level, 0, 2);
  tcase_add_test(tests, a_blunder_is_named);
  tcase_add_test(tests, two_measurements_have_one_degree_of_freedom);
  tcase_add_test(tests, a_chain_names_the_step);
  tcase_add_test(tests, a_measurement_alone_contradicts_nothing);
  tcase_add_test(tests, next_amounts_that_cannot_be_say_so);
  tcase_add_test(tests, next_amounts_that_are_far_say_so);
}

CAVUM_TEST_MAIN("agreement of measurements", add)
