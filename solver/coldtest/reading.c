// SPDX-License-Identifier: GPL-3.0-or-later
// One reading of a test to its results, with the calibrations of the test: decay or pickup. Where
// the branch is open the reading is inverted both ways, and the difference becomes a part of the
// budget.
#include "coldtest/coldtest_private.h"

bool cavum_coldtest_reading_by_decay(const cavum_coldtest_setup *setup,
                                     const cavum_coldtest_reading *reading) {
  return setup->q0_method != CAVUM_Q0_PICKUP && !isnan(reading->decay_time_s);
}

static cavum_reading_place place_of(const cavum_coldtest *test, int64_t index) {
  return (cavum_reading_place){test->readings.file, index, test->readings.items[index].line};
}

cavum_branch cavum_coldtest_stated_branch(const cavum_coldtest *test, int64_t index) {
  cavum_branch of_row = test->readings.items[index].branch, of_test = test->setup.branch;
  if (of_row == CAVUM_BRANCH_OVER || of_row == CAVUM_BRANCH_UNDER) return of_row;
  bool stated = of_test == CAVUM_BRANCH_OVER || of_test == CAVUM_BRANCH_UNDER;
  return stated ? of_test : CAVUM_BRANCH_DECIDE;
}

cavum_status cavum_coldtest_invert_by_decay(cavum_inverted *inverted, const cavum_coldtest *test,
                                            cavum_branch branch, int64_t index,
                                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  // A row without transmitted power takes it from the Q_t of the others.
  const cavum_coldtest_calibrations *known = &test->main;
  cavum_inversion_context context = {.forced = branch,
                                     .setup = &test->setup,
                                     .inputs = &test->inputs,
                                     .pickup_ratio = 1.0,
                                     .q_pickup = known->has_pickup ? &known->q_pickup : NULL};
  CAVUM_TRY(cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs,
                                     &test->readings.items[index], &place, error));
  CAVUM_TRY(cavum_coldtest_invert_decay(inverted, &context, &calibrated, &place, error));
done:
  return status;
}

cavum_status cavum_coldtest_invert_step(cavum_inverted *inverted, const cavum_coldtest *test,
                                        const cavum_dual *q_pickup, cavum_branch branch,
                                        int64_t index, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  cavum_inversion_context context = {.forced = branch,
                                     .setup = &test->setup,
                                     .inputs = &test->inputs,
                                     .pickup_ratio = 1.0,
                                     .q_pickup = q_pickup};
  CAVUM_TRY(cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs,
                                     &test->readings.items[index], &place, error));
  CAVUM_TRY(cavum_coldtest_invert_pickup(inverted, &context, &calibrated, &place, error));
done:
  return status;
}

static double square_distance(const cavum_dual *difference) {
  double uncertainty = cavum_dual_uncertainty(difference);
  return uncertainty > 0.0 ? pow(difference->value / uncertainty, 2.0) : 0.0;
}

// How badly a later step fits the branch that it was inverted on: by the Q_e that is known and by
// its emitted power.
static double misfit(const cavum_inverted *inverted, const cavum_inversion_context *context) {
  double sum = 0.0;
  const cavum_dual *external = context->q_external;
  if (external && inverted->has[CAVUM_QUANTITY_Q_EXTERNAL]) {
    const cavum_dual *found = &inverted->result[CAVUM_QUANTITY_Q_EXTERNAL];
    cavum_dual off = cavum_dual_linear(context->pickup_ratio, found, -1.0, external, 0.0);
    sum += square_distance(&off);
  }
  if (inverted->has_mismatch) sum += square_distance(&inverted->mismatch);
  return sum;
}

// Close to critical coupling the sign of one difference decides little: the step is inverted on
// both branches and keeps the one that fits better.
static void compare_branches(cavum_inverted *inverted, const cavum_inversion_context *context,
                             const cavum_calibrated *calibrated, const cavum_reading_place *place) {
  cavum_inverted other;
  cavum_inversion_context opposite = *context;
  opposite.forced = inverted->branch == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
  if (cavum_coldtest_invert_pickup(&other, &opposite, calibrated, place, NULL) != CAVUM_OK) {
    return;
  }
  double difference = misfit(&other, context) - misfit(inverted, context);
  if (difference < 0.0) *inverted = other;
  inverted->branch_distance = sqrt(fabs(difference));
}

static cavum_status check_pickup(const cavum_coldtest *test,
                                 const cavum_coldtest_calibrations *calibrations,
                                 const cavum_reading_place *place, cavum_error *error) {
  char where[300];
  bool by_decay = test->setup.q0_method == CAVUM_Q0_DECAY;
  if (!by_decay && calibrations->has_pickup) return CAVUM_OK;
  cavum_reading_place_text(where, place);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no decay time, %s", where,
                    by_decay ? "which the method decay needs"
                             : "and no Q_t for the pickup: state one, or give a reading with decay "
                               "time and transmitted power");
}

static cavum_status invert_by_pickup(cavum_inverted *inverted, const cavum_coldtest *test,
                                     const cavum_coldtest_calibrations *known, int64_t index,
                                     cavum_branch forced, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  CAVUM_TRY(cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs,
                                     &test->readings.items[index], &place, error));
  CAVUM_TRY(check_pickup(test, known, &place, error));
  cavum_inversion_context context = {.forced = forced,
                                     .setup = &test->setup,
                                     .inputs = &test->inputs,
                                     .pickup_ratio = known->pickup_ratio,
                                     .q_pickup = &known->q_pickup,
                                     .q_external = known->has_external ? &known->q_external : NULL};
  CAVUM_TRY(cavum_coldtest_invert_pickup(inverted, &context, &calibrated, &place, error));
  if (inverted->branch_distance < CAVUM_BRANCH_CERTAIN) {
    compare_branches(inverted, &context, &calibrated, &place);
  }
done:
  return status;
}

/** What a reading may be instead. */
typedef struct others {
  int count;
  double weight[CAVUM_MOST_MIXED];
  bool own[CAVUM_MOST_MIXED];  // The other side of this reading alone.
  cavum_inverted reading[CAVUM_MOST_MIXED];
} others;

static void mix_all(cavum_inverted *inverted, const others *o, double coverage) {
  bool differ = false;
  for (int q = 0; q < CAVUM_NUM_QUANTITIES; q++) {
    cavum_mixture mixture = {0};
    if (!inverted->has[q]) continue;
    for (int i = 0; i < o->count; i++) {
      if (!o->reading[i].has[q]) continue;
      differ = differ || o->reading[i].result[q].value != inverted->result[q].value;
      cavum_mixture_add(&mixture, &o->reading[i].result[q], o->weight[i], o->own[i]);
    }
    cavum_mixture_widen(&inverted->result[q], &mixture, coverage);
  }
  if (differ) inverted->flags |= 1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS;
}

// Probability of the other side of a later step, by what decided it.
static double weight_at(double distance) {
  if (!(distance < CAVUM_BRANCH_DECIDED)) return 0.0;
  double ratio = exp(-0.5 * distance * distance);
  return ratio / (1.0 + ratio);
}

static cavum_branch opposite_of(cavum_branch branch) {
  return branch == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
}

// A second way that no cavity can give is none.
static void keep_other(others *o, cavum_status status, double weight, bool own) {
  if (status != CAVUM_OK) return;
  o->own[o->count] = own;
  o->weight[o->count++] = weight;
}

static void find_other_decay(others *o, const cavum_coldtest *test, int64_t index,
                             cavum_branch branch) {
  double weight = test->decided.other_weight[index];
  if (!(weight > 0.0)) return;
  keep_other(o,
             cavum_coldtest_invert_by_decay(&o->reading[0], test, opposite_of(branch), index, NULL),
             weight, true);
}

// A later step: with the calibrations of each alternative, and on its own other side.
static void find_other_steps(others *o, const cavum_coldtest *test, int64_t index,
                             cavum_branch forced, const cavum_inverted *inverted) {
  const cavum_decided_branches *decided = &test->decided;
  double weight = weight_at(inverted->branch_distance);
  for (int i = 0; i < decided->num_alternatives; i++) {
    keep_other(o,
               invert_by_pickup(&o->reading[o->count], test, &decided->calibrations[i], index,
                                forced, NULL),
               decided->weight[i], false);
  }
  if (!(weight > 0.0)) return;
  keep_other(o,
             invert_by_pickup(&o->reading[o->count], test, &test->main, index,
                              opposite_of(inverted->branch), NULL),
             weight, true);
}

cavum_status cavum_coldtest_invert_reading(cavum_inverted *inverted, const cavum_coldtest *test,
                                           int64_t index, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  others other;
  other.count = 0;
  bool by_decay = cavum_coldtest_reading_by_decay(&test->setup, &test->readings.items[index]);
  cavum_branch branch = (cavum_branch)test->decided.branch[index];
  if (branch == CAVUM_BRANCH_DECIDE) branch = cavum_coldtest_stated_branch(test, index);
  if (by_decay) {
    CAVUM_TRY(cavum_coldtest_invert_by_decay(inverted, test, branch, index, error));
    find_other_decay(&other, test, index, inverted->branch);
  } else {
    CAVUM_TRY(invert_by_pickup(inverted, test, &test->main, index, branch, error));
    find_other_steps(&other, test, index, branch, inverted);
  }
  if (test->decided.left_out[index] != CAVUM_LEAVE_NOTHING) {
    inverted->flags |= 1u << CAVUM_FLAG_INDEX_LEFT_OUT;
  }
  if (other.count > 0) mix_all(inverted, &other, test->setup.coverage);
done:
  return status;
}
