// SPDX-License-Identifier: GPL-3.0-or-later
// Parts of dimensions in a sampled variance, against functions whose parts are known.
#include <check.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>

#include "base/base.h"
#include "cavum/tolerance.h"
#include "design/spread_shares.h"
#include "support.h"

enum { DIMENSIONS = 4, SAMPLES = 4000 };

static cavum_cell_key_info dimensions[DIMENSIONS];
static cavum_tolerance tolerances[DIMENSIONS];
static double covariance[DIMENSIONS * DIMENSIONS];
static double shapes[SAMPLES * DIMENSIONS], sample[SAMPLES];
static cavum_spread spread;

// Three normal dimensions and one that is uniform, which nothing hangs on.
static void set_up(void) {
  static const double deviation[DIMENSIONS] = {0.1, 0.2, 0.05, 0.3};
  gsl_rng *draws = gsl_rng_alloc(gsl_rng_mt19937);
  for (int j = 0; j < DIMENSIONS; j++) {
    dimensions[j].value = 50.0 + j;
    tolerances[j].kind = j == 3 ? CAVUM_TOLERANCE_UNIFORM : CAVUM_TOLERANCE_NORMAL;
    tolerances[j].width = (j == 3 ? sqrt(3.0) : 1.0) * deviation[j];
    for (int k = 0; k < DIMENSIONS; k++) {
      covariance[j * DIMENSIONS + k] = j == k ? deviation[j] * deviation[j] : 0.0;
    }
  }
  for (int i = 0; i < SAMPLES; i++) {
    for (int j = 0; j < DIMENSIONS; j++) {
      double u = j == 3 ? gsl_ran_flat(draws, -sqrt(3.0), sqrt(3.0)) : gsl_ran_ugaussian(draws);
      shapes[i * DIMENSIONS + j] = dimensions[j].value + deviation[j] * u;
    }
  }
  gsl_rng_free(draws);
  spread = (cavum_spread){.num_dimensions = DIMENSIONS,
                          .dimensions = dimensions,
                          .tolerances = tolerances,
                          .covariance = covariance};
}

static double off(int i, int j) {
  double deviation = sqrt(covariance[j * DIMENSIONS + j]);
  return (shapes[i * DIMENSIONS + j] - dimensions[j].value) / deviation;
}

static cavum_figure_spread shares_of(double value) {
  cavum_figure_spread f = {.state = CAVUM_FIGURE_PRESENT, .value = value};
  ck_assert_int_eq(cavum_spread_fill_sampled_shares(&f, &spread, sample, shapes, SAMPLES, NULL),
                   CAVUM_OK);
  return f;
}

// Variances of u, u^2, |u| and u v of normal u, v: 1, 2, 1 - 2 / pi, 1. A share of some thousand
// samples is known to a few of sqrt(2 / N).
START_TEST(parts_of_known_functions) {
  const double tolerance = 5.0 * sqrt(2.0 / SAMPLES);
  for (int i = 0; i < SAMPLES; i++) {
    double u = off(i, 0), v = off(i, 1), w = off(i, 2);
    sample[i] = 7.0 + 0.5 * u + 0.5 * v * v + 0.8 * fabs(w) + 0.4 * u * w;
  }
  sample[17] = NAN;
  double parts[5] = {0.25, 0.5, 0.64 * (1.0 - 2.0 / CAVUM_PI), 0.0, 0.16}, sum = 0.0, all = 0.0;
  for (int k = 0; k < 5; k++) sum += parts[k];
  cavum_figure_spread f = shares_of(6.0);
  ck_assert(f.has_shares && f.has_sampled_shares);
  for (int j = 0; j < DIMENSIONS; j++) {
    CAVUM_CHECK_NEAR(f.share[j], parts[j] / sum, tolerance);
    all += f.share[j];
  }
  CAVUM_CHECK_NEAR(f.share_together, parts[4] / sum, tolerance);
  CAVUM_CHECK_NEAR(all + f.share_together, 1.0, 1e-12);
}
END_TEST

// A sum of such functions has nothing together: the fit is exact.
START_TEST(a_sum_of_functions_is_fitted_exactly) {
  for (int i = 0; i < SAMPLES; i++) {
    sample[i] = 1e9 + 3.0 * off(i, 0) - 2.0 * off(i, 1) * off(i, 1) + fabs(off(i, 3));
  }
  cavum_figure_spread f = shares_of(1e9);
  ck_assert(f.has_sampled_shares);
  ck_assert_double_lt(f.share_together, 1e-12);
  CAVUM_CHECK_NEAR(f.share[2], 0.0, 1e-9);
}
END_TEST

// Nothing is said where it cannot be.
START_TEST(too_little_is_not_fitted) {
  for (int i = 0; i < SAMPLES; i++) sample[i] = 5.0;
  ck_assert(!shares_of(5.0).has_shares);  // no variance
  for (int i = 0; i < SAMPLES; i++) sample[i] = i < 129 ? off(i, 0) : NAN;
  ck_assert(!shares_of(0.0).has_shares);
  sample[129] = off(129, 0);
  ck_assert(shares_of(0.0).has_shares);
  covariance[1] = covariance[DIMENSIONS] = 1e-3;
  ck_assert(!shares_of(0.0).has_shares);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, NULL);
  tcase_add_test(tests, parts_of_known_functions);
  tcase_add_test(tests, a_sum_of_functions_is_fitted_exactly);
  tcase_add_test(tests, too_little_is_not_fitted);
}

CAVUM_TEST_MAIN("spread_shares", add)
