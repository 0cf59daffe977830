// SPDX-License-Identifier: GPL-3.0-or-later
// Over- or undercoupled: the readings with a decay time decide together.
//
// A coupler that is not moved has one Q_e and the pickup one Q_t. Each reading is worked out on
// both sides; the sides that agree best with both constants and with the emitted power are taken
// (branch_fit.c, branch_search.c). What else is nearly as good stays as an alternative with its
// probability: readings, calibrations and draws are mixtures then. Readings that leave a side open
// ask the later steps and a stated Q_e too. Where nothing agrees, a coupler that was moved and one
// wrong reading are looked for (disagreement.c).
#include "coldtest/constancy.h"
#include "coldtest/disagreement.h"

void cavum_decided_branches_clear(cavum_decided_branches *decided) {
  free(decided->branch);
  free(decided->other_weight);
  free(decided->left_out);
  free(decided->weight);
  free(decided->alternative);
  for (int i = 0; i < decided->num_alternatives; i++) {
    cavum_coldtest_calibrations_clear(&decided->calibrations[i]);
  }
  free(decided->calibrations);
  *decided = (cavum_decided_branches){0};
}

static bool calibrates(const cavum_coldtest *test, int64_t index) {
  return !isnan(test->readings.items[index].decay_time_s);
}

static cavum_status allocate(cavum_decided_branches *decided, int64_t count, cavum_error *error) {
  cavum_decided_branches_clear(decided);
  decided->branch = cavum_alloc(count, sizeof *decided->branch);
  decided->other_weight = cavum_alloc(count, sizeof *decided->other_weight);
  decided->left_out = cavum_alloc(count, sizeof *decided->left_out);
  bool complete = decided->branch && decided->other_weight && decided->left_out;
  return complete ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status fail_undecided(const cavum_coldtest *test, cavum_error *error) {
  char where[300];
  int64_t i = 0;
  while (i + 1 < test->readings.num_readings && !calibrates(test, i)) i++;
  cavum_reading_place place = {test->readings.file, i, test->readings.items[i].line};
  cavum_reading_place_text(where, &place);
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: nothing decides the coupling branch: state over or under, or read the "
                    "emitted power at switch-off",
                    where);
}

static bool is_open(const cavum_branch_answer *answer, int i) {
  return answer->excess[i] < CAVUM_BRANCH_DECIDED * CAVUM_BRANCH_DECIDED;
}

static bool any_open(const cavum_branch_fit *fit, const cavum_branch_answer *answer) {
  for (int i = 0; i < fit->count; i++) {
    if (is_open(answer, i)) return true;
  }
  return false;
}

// True when every reading is open, none has emitted power to say how probable either side is, and
// the two sides are apart: then any mean of both is a number that the cavity has not.
static bool is_undecided(const cavum_branch_fit *fit, const cavum_branch_answer *answer) {
  int apart = 0, asked = 0;
  for (int i = 0; i < fit->count; i++) {
    const cavum_fit_reading *r = &fit->readings[i];
    if (!r->by_decay || r->left_out) continue;
    if (r->fixed || r->has_emitted || !is_open(answer, i)) return false;
    double difference = fabs(r->side[0].log_q0 - r->side[1].log_q0);
    double own = r->side[0].log_q0_uncertainty + r->side[1].log_q0_uncertainty;
    apart += difference > CAVUM_BRANCH_DECIDED * own;
    asked++;
  }
  return asked > 0 && apart > 0 && !fit->scope.stated;
}

static cavum_branch branch_of(unsigned char side) {
  return side == CAVUM_FIT_UNDER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
}

// The sides of the fit, and of readings that were not in it: the one that agrees better.
static void spread(unsigned char *branches, const cavum_coldtest *test, const cavum_branch_fit *fit,
                   const cavum_fit_sides *sides) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (calibrates(test, i)) branches[i] = (unsigned char)CAVUM_BRANCH_OVER;
  }
  double solution[CAVUM_FIT_MOST_UNKNOWNS];
  cavum_branch_fit_evaluate(fit, sides, solution);
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    cavum_fit_reading reading;
    if (!calibrates(test, i) || !cavum_branch_fit_read(&reading, fit, i)) continue;
    unsigned char side = reading.fixed_side;
    if (!reading.fixed) {
      side = cavum_branch_fit_misfit(fit, &reading.side[1], solution) <
             cavum_branch_fit_misfit(fit, &reading.side[0], solution);
    }
    branches[i] = (unsigned char)branch_of(side);
  }
  for (int i = 0; i < fit->count; i++) {
    const cavum_fit_reading *reading = &fit->readings[i];
    bool free_side = reading->left_out && !reading->fixed;
    if (reading->by_decay && !free_side) {
      branches[reading->index] = (unsigned char)branch_of(sides->of[i]);
    }
  }
}

static cavum_status store(cavum_coldtest *test, const cavum_branch_fit *fit,
                          const cavum_branch_answer *answer, cavum_error *error) {
  cavum_decided_branches *decided = &test->decided;
  int64_t count = test->readings.num_readings;
  spread(decided->branch, test, fit, &answer->best);
  for (int i = 0; i < fit->count; i++) {
    int64_t index = fit->readings[i].index;
    if (fit->readings[i].by_decay && is_open(answer, i)) {
      decided->other_weight[index] = (float)answer->other_weight[i];
    }
  }
  decided->weight = cavum_alloc(answer->num_alternatives + 1, sizeof *decided->weight);
  decided->alternative = cavum_alloc(answer->num_alternatives * count + 1, 1);
  decided->calibrations = cavum_alloc(answer->num_alternatives + 1, sizeof *decided->calibrations);
  if (!decided->weight || !decided->alternative || !decided->calibrations) {
    return cavum_fail_memory(error);
  }
  for (int a = 0; a < answer->num_alternatives; a++) {
    decided->weight[a] = answer->weight[a];
    spread(decided->alternative + a * count, test, fit, &answer->alternative[a]);
  }
  decided->num_alternatives = answer->num_alternatives;
  return CAVUM_OK;
}

// Q_t and Q_e of every alternative, and what they do to those that are used.
static cavum_status measure_alternatives(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_decided_branches *decided = &test->decided;
  cavum_coldtest_calibrations *used = &test->main;
  for (int a = 0; a < decided->num_alternatives; a++) {
    const unsigned char *branches = decided->alternative + a * test->readings.num_readings;
    CAVUM_TRY(cavum_coldtest_measure_calibrations(&decided->calibrations[a], test, branches, false,
                                                  error));
  }
  cavum_dual pickup = cavum_coldtest_mixed_calibration(test, true);
  cavum_dual external = cavum_coldtest_mixed_calibration(test, false);
  if (used->has_pickup) used->pickup.value.uncertainty = cavum_dual_uncertainty(&pickup);
  if (used->has_external) used->external.value.uncertainty = cavum_dual_uncertainty(&external);
done:
  return status;
}

// Later steps and a stated Q_e say more where decays leave a side open.
static cavum_status ask_more(cavum_branch_fit *fit, cavum_branch_answer *answer,
                             cavum_error *error) {
  const cavum_coldtest *test = fit->test;
  cavum_branch_fit wider;
  cavum_fit_scope scope = {.stated = test->setup.q_external.value > 0.0, .later_steps = true};
  cavum_status status = cavum_branch_fit_create(&wider, test, scope, error);
  if (status != CAVUM_OK) return status;
  for (int i = 0; i < fit->count && i < wider.count; i++) {
    wider.readings[i].left_out = fit->readings[i].left_out;
  }
  cavum_branch_fit_clear(fit);
  *fit = wider;
  cavum_branch_search(answer, fit);
  return CAVUM_OK;
}

static cavum_status decide(cavum_coldtest *test, cavum_branch_fit *fit, cavum_branch_answer *answer,
                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_fit_scope scope = {.moved = test->setup.coupler_moved};
  CAVUM_TRY(cavum_branch_fit_create(fit, test, scope, error));
  cavum_branch_search(answer, fit);
  if (cavum_disagrees(fit, answer)) {
    CAVUM_TRY(cavum_explain_disagreement(test, fit, answer, error));
  }
  if (any_open(fit, answer) && !fit->scope.moved) CAVUM_TRY(ask_more(fit, answer, error));
  if (is_undecided(fit, answer)) status = fail_undecided(test, error);
done:
  return status;
}

cavum_status cavum_coldtest_decide_branch(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_branch_fit fit = {0};
  cavum_branch_answer *answer = cavum_alloc(1, sizeof *answer);
  if (!answer) return cavum_fail_memory(error);
  CAVUM_TRY(allocate(&test->decided, test->readings.num_readings, error));
  CAVUM_TRY(decide(test, &fit, answer, error));
  test->decided.moved = fit.scope.moved;
  CAVUM_TRY(store(test, &fit, answer, error));
  CAVUM_TRY(
      cavum_coldtest_measure_calibrations(&test->main, test, test->decided.branch, false, error));
  CAVUM_TRY(cavum_coldtest_judge_scatter(test, error));
  CAVUM_TRY(measure_alternatives(test, error));
  CAVUM_TRY(cavum_compare_stated(test, error));
done:
  cavum_branch_fit_clear(&fit);
  free(answer);
  return status;
}
