// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of an open branch: mixtures of what they are on either side.
#include <gsl/gsl_cdf.h>

#include "coldtest/coldtest_private.h"

enum { NUM_HALVINGS = 50 };

void cavum_mixture_add(cavum_mixture *mixture, const cavum_dual *other, double weight, bool own) {
  if (mixture->count == CAVUM_MOST_MIXED) return;
  mixture->weight[mixture->count] = weight;
  mixture->own[mixture->count] = own;
  mixture->value[mixture->count] = other->value;
  mixture->uncertainty[mixture->count++] = cavum_dual_uncertainty(other);
}

// Probability within +- half of 0 of a normal distribution.
static double within(double half, double shift, double uncertainty) {
  if (!(uncertainty > 0.0)) return fabs(shift) <= half ? 1.0 : 0.0;
  return gsl_cdf_ugaussian_P((half - shift) / uncertainty) -
         gsl_cdf_ugaussian_P((-half - shift) / uncertainty);
}

static double share_within(double half, const cavum_dual *number, double own,
                           const cavum_mixture *mixture) {
  double rest = 1.0, sum = 0.0;
  for (int i = 0; i < mixture->count; i++) {
    rest -= mixture->weight[i];
    sum += mixture->weight[i] *
           within(half, mixture->value[i] - number->value, mixture->uncertainty[i]);
  }
  return sum + cavum_max(rest, 0.0) * within(half, 0.0, own);
}

// The part of the branch in two: what other calibrations do to all readings alike, and what the
// other side does to this one. Each has its share of the spread of the mixture.
static void put_parts(cavum_dual *number, const cavum_mixture *mixture, double square) {
  static const cavum_coldtest_input inputs[] = {CAVUM_INPUT_BRANCH, CAVUM_INPUT_NOISE_BRANCH};
  double spread[2] = {0.0}, shift[2] = {0.0};
  for (int i = 0; i < mixture->count; i++) {
    double difference = mixture->value[i] - number->value;
    spread[mixture->own[i]] += mixture->weight[i] * difference * difference;
    shift[mixture->own[i]] += mixture->weight[i] * difference;
  }
  double sum = spread[0] + spread[1];
  for (int k = 0; k < 2; k++) {
    number->part[inputs[k]] =
        sum > 0.0 ? copysign(sqrt(cavum_max(square, 0.0) * spread[k] / sum), shift[k]) : 0.0;
  }
}

void cavum_mixture_widen(cavum_dual *number, const cavum_mixture *mixture, double coverage) {
  double factor = cavum_coldtest_coverage_factor(coverage), shift = 0.0;
  put_parts(number, mixture, 0.0);
  double own = cavum_dual_uncertainty(number), low = factor * own, high = low;
  for (int i = 0; i < mixture->count; i++) {
    double difference = mixture->value[i] - number->value;
    shift += mixture->weight[i] * difference;
    // Beyond this no distribution has more than what the coverage leaves.
    high = cavum_max(high, fabs(difference) + 2.0 * factor * mixture->uncertainty[i]);
  }
  if (shift == 0.0 || share_within(low, number, own, mixture) >= coverage) return;
  for (int i = 0; i < NUM_HALVINGS; i++) {
    double middle = 0.5 * (low + high);
    if (share_within(middle, number, own, mixture) < coverage) {
      low = middle;
    } else {
      high = middle;
    }
  }
  double wanted = high / factor;
  put_parts(number, mixture, wanted * wanted - own * own);
}

cavum_dual cavum_coldtest_mixed_calibration(const cavum_coldtest *test, bool pickup) {
  const cavum_decided_branches *decided = &test->decided;
  cavum_dual number = pickup ? test->main.q_pickup : test->main.q_external;
  cavum_mixture mixture = {0};
  for (int i = 0; i < decided->num_alternatives; i++) {
    const cavum_coldtest_calibrations *other = &decided->calibrations[i];
    cavum_mixture_add(&mixture, pickup ? &other->q_pickup : &other->q_external, decided->weight[i],
                      false);
  }
  cavum_mixture_widen(&number, &mixture, test->setup.coverage);
  return number;
}
