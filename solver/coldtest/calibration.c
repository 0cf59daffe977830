// SPDX-License-Identifier: GPL-3.0-or-later
// Q_t of the pickup and Q_e of the input coupler: as stated, or weighted means over the readings
// with a decay time. What these share stays in the parts of the shared inputs; their own noise goes
// to the inputs PICKUP and EXTERNAL.
#include "coldtest/coldtest_private.h"

static double local_variance(const cavum_dual *number) {
  double sum = 0.0;
  for (int i = CAVUM_FIRST_LOCAL_INPUT; i < CAVUM_NUM_INPUTS; i++) {
    sum += number->part[i] * number->part[i];
  }
  return sum;
}

static double sum_weight(const cavum_dual *number) {
  double variance = local_variance(number) / (number->value * number->value);
  return variance > 0.0 ? 1.0 / variance : 1.0;
}

static void add_to_sum(cavum_calibration_sum *sum, const cavum_dual *number) {
  if (sum->num_readings == 0) sum->origin = number->value;
  double variance = local_variance(number), weight = sum_weight(number);
  double deviation = number->value - sum->origin;
  sum->num_readings++;
  sum->weight += weight;
  sum->weighted_deviation += weight * deviation;
  sum->weighted_square += weight * deviation * deviation;
  sum->local_variance += weight * weight * variance;
  sum->has_variance = sum->has_variance || variance > 0.0;
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) sum->shared.part[i] += weight * number->part[i];
}

// Mean with its shared parts; the readings' own scatter is returned apart, as a variance.
static cavum_dual finish_sum(const cavum_calibration_sum *sum, double *variance,
                             cavum_coldtest_calibration *calibration) {
  cavum_dual mean = sum->shared;
  mean.value = sum->origin + sum->weighted_deviation / sum->weight;
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) mean.part[i] /= sum->weight;
  *variance = sum->local_variance / (sum->weight * sum->weight);
  double spread =
      sum->weighted_square - sum->weighted_deviation * sum->weighted_deviation / sum->weight;
  calibration->num_readings = sum->num_readings;
  calibration->degrees_of_freedom = sum->num_readings > 1 ? (int)sum->num_readings - 1 : 0;
  // The weights are inverse relative variances.
  calibration->chi_squared = sum->has_variance && sum->num_readings > 1
                                 ? cavum_max(spread, 0.0) / (mean.value * mean.value)
                                 : NAN;
  return mean;
}

static bool reading_calibrates(const cavum_coldtest_reading *reading) {
  return !isnan(reading->decay_time_s);
}

static cavum_status allocate_calibrating(cavum_coldtest_calibrations *out,
                                         const cavum_coldtest *test, cavum_error *error) {
  int64_t count = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    count += reading_calibrates(&test->readings.items[i]);
  }
  out->calibrating = cavum_alloc(count, sizeof *out->calibrating);
  out->calibrating_weight = cavum_alloc(count, sizeof *out->calibrating_weight);
  out->calibrating_method = cavum_alloc(count, sizeof *out->calibrating_method);
  bool complete = out->calibrating && out->calibrating_weight && out->calibrating_method;
  return complete ? CAVUM_OK : cavum_fail_memory(error);
}

// Q_t and Q_e come from the same readings: what their noise has in common goes to the input PICKUP
// of both, the rest of Q_e to EXTERNAL (a Cholesky factor of their 2 x 2 covariance).
static void set_noise_parts(cavum_coldtest_calibrations *out, double pickup_variance,
                            double external_variance, double covariance, bool pickup_measured,
                            bool external_measured) {
  double pickup = sqrt(pickup_variance);
  if (pickup_measured) out->q_pickup.part[CAVUM_INPUT_PICKUP] = pickup;
  if (!external_measured) return;
  double common = pickup_measured && pickup > 0.0 ? covariance / pickup : 0.0;
  out->q_external.part[CAVUM_INPUT_PICKUP] = common;
  out->q_external.part[CAVUM_INPUT_EXTERNAL] =
      sqrt(cavum_max(external_variance - common * common, 0.0));
}

static double local_covariance(const cavum_dual *x, const cavum_dual *y) {
  double sum = 0.0;
  for (int i = CAVUM_FIRST_LOCAL_INPUT; i < CAVUM_NUM_INPUTS; i++) sum += x->part[i] * y->part[i];
  return sum;
}

static void take_away_inverse(cavum_dual *sum, const cavum_dual *quality) {
  cavum_dual inverse = cavum_dual_invert(quality);
  *sum = cavum_dual_subtract(sum, &inverse);
}

// 1/Q_e + 1/Q0 + 1/Q_t + extra = 1/Q_L. The readings' own noise is small against that of Q_e, whose
// input it is added to.
static void set_inverse_extra(cavum_coldtest_calibrations *out, const cavum_coldtest *test,
                              const cavum_inverted *inverted) {
  if (test->setup.num_extra == 0) return;
  const cavum_dual *result = inverted->result;
  cavum_dual sum = cavum_dual_invert(&result[CAVUM_QUANTITY_Q_LOADED]);
  take_away_inverse(&sum, &result[CAVUM_QUANTITY_Q_EXTERNAL]);
  take_away_inverse(&sum, &result[CAVUM_QUANTITY_Q0]);
  if (inverted->has[CAVUM_QUANTITY_Q_PICKUP]) {
    take_away_inverse(&sum, &result[CAVUM_QUANTITY_Q_PICKUP]);
  }
  sum.part[CAVUM_INPUT_EXTERNAL] = sqrt(local_variance(&sum));
  for (int i = CAVUM_FIRST_LOCAL_INPUT; i < CAVUM_NUM_INPUTS; i++) sum.part[i] = 0.0;
  out->inverse_extra = sum;
}

static void set_stated(cavum_coldtest_calibrations *out, const cavum_coldtest *test,
                       bool measured) {
  out->pickup.chi_squared = out->external.chi_squared = NAN;
  out->pickup_ratio = 1.0;
  out->has_pickup = !measured && test->setup.q_pickup.value > 0.0;
  out->has_external = !measured && test->setup.q_external.value > 0.0;
  if (out->has_pickup) {
    out->q_pickup = cavum_coldtest_figure(&test->setup.q_pickup, CAVUM_INPUT_PICKUP);
  }
  if (out->has_external) {
    out->q_external = cavum_coldtest_figure(&test->setup.q_external, CAVUM_INPUT_EXTERNAL);
  }
}

static void summarise(cavum_coldtest_calibration *calibration, const cavum_dual *number,
                      bool known) {
  if (!known) return;
  calibration->value.value = number->value;
  calibration->value.uncertainty = cavum_dual_uncertainty(number);
}

/** Sums over the readings that calibrate. */
typedef struct calibration_sums {
  bool want_pickup, want_external;
  cavum_calibration_sum pickup, external;
  double crossed;  // weights of both times what varies in both
} calibration_sums;

// What one reading, inverted by its decay time, says of both couplings.
static void take_reading(calibration_sums *sums, cavum_coldtest_calibrations *out,
                         const cavum_coldtest *test, const cavum_inverted *inverted, int64_t i) {
  const cavum_dual *q_external = &inverted->result[CAVUM_QUANTITY_Q_EXTERNAL];
  const cavum_dual *q_pickup = &inverted->result[CAVUM_QUANTITY_Q_PICKUP];
  unsigned char left_out = test->decided.left_out[i];
  if (left_out == CAVUM_LEAVE_ALL) return;
  if (sums->want_external && left_out == CAVUM_LEAVE_NOTHING) {
    add_to_sum(&sums->external, q_external);
    if (sums->external.num_readings == 1) set_inverse_extra(out, test, inverted);
  }
  if (!sums->want_pickup || !inverted->has[CAVUM_QUANTITY_Q_PICKUP]) return;
  add_to_sum(&sums->pickup, q_pickup);
  sums->crossed +=
      sum_weight(q_pickup) * sum_weight(q_external) * local_covariance(q_pickup, q_external);
  out->calibrating[out->num_calibrating] = i;
  out->calibrating_method[out->num_calibrating] = inverted->method;
  out->calibrating_weight[out->num_calibrating++] = sum_weight(q_pickup);
}

// Means of the sums, and the noise that both have in common.
static void finish_calibration(cavum_coldtest_calibrations *out, calibration_sums *sums) {
  double pickup_variance = 0.0, external_variance = 0.0;
  bool pickup = sums->pickup.num_readings > 0, external = sums->external.num_readings > 0;
  out->has_pickup = out->has_pickup || pickup;
  out->has_external = out->has_external || external;
  if (pickup) {
    out->q_pickup = finish_sum(&sums->pickup, &pickup_variance, &out->pickup);
    for (int64_t i = 0; i < out->num_calibrating; i++) {
      out->calibrating_weight[i] /= sums->pickup.weight;
    }
  }
  if (external) out->q_external = finish_sum(&sums->external, &external_variance, &out->external);
  if (pickup && external) sums->crossed /= sums->pickup.weight * sums->external.weight;
  set_noise_parts(out, pickup_variance, external_variance, sums->crossed, pickup, external);
  summarise(&out->pickup, &out->q_pickup, out->has_pickup);
  summarise(&out->external, &out->q_external, out->has_external);
}

static cavum_status measure(cavum_coldtest_calibrations *out, const cavum_coldtest *test,
                            const unsigned char *branches, bool measured, cavum_error *error) {
  set_stated(out, test, measured);
  calibration_sums sums = {.want_pickup = !out->has_pickup,
                           .want_external = !out->has_external && !test->decided.moved};
  cavum_status status = allocate_calibrating(out, test, error);
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (!reading_calibrates(&test->readings.items[i])) continue;
    cavum_inverted inverted;
    // What cannot be inverted calibrates nothing; it is set aside where points are made.
    cavum_branch branch = (cavum_branch)branches[i];
    status = cavum_coldtest_invert_by_decay(&inverted, test, branch, i, NULL);
    if (status == CAVUM_ERR_INPUT) continue;
    if (status != CAVUM_OK) return cavum_fail_memory(error);
    for (int q = 0; q < CAVUM_NUM_QUANTITIES; q++) {
      if (inverted.has[q]) inverted.result[q] = cavum_coldtest_share_phase(inverted.result[q]);
    }
    take_reading(&sums, out, test, &inverted, i);
  }
  finish_calibration(out, &sums);
  return CAVUM_OK;
}

void cavum_coldtest_calibrations_clear(cavum_coldtest_calibrations *calibrations) {
  free(calibrations->calibrating);
  free(calibrations->calibrating_weight);
  free(calibrations->calibrating_method);
  *calibrations = (cavum_coldtest_calibrations){0};
}

cavum_status cavum_coldtest_measure_calibrations(cavum_coldtest_calibrations *out,
                                                 const cavum_coldtest *test,
                                                 const unsigned char *branches, bool measured,
                                                 cavum_error *error) {
  cavum_coldtest_calibrations made = {0};
  cavum_status status = measure(&made, test, branches, measured, error);
  if (status == CAVUM_OK) {
    *out = made;
  } else {
    cavum_coldtest_calibrations_clear(&made);
  }
  return status;
}
