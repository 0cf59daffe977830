// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage factors where a wave of unknown phase is part of an uncertainty.
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <gsl/gsl_sf_bessel.h>

#include "base/base.h"
#include "cavum/coldtest.h"
#include "support.h"

static cavum_coldtest_budget budget_of(double normal, double leak, double match) {
  cavum_coldtest_budget budget = {.value = 1.0, .uncertainty = hypot(normal, hypot(leak, match))};
  // In two parts, as they come; signs do not matter.
  budget.contribution[CAVUM_INPUT_COMMON_GAIN] = 0.6 * normal;
  budget.contribution[CAVUM_INPUT_NOISE_FORWARD] = -0.8 * normal;
  budget.contribution[CAVUM_INPUT_DIRECTIVITY] = -leak;
  budget.contribution[CAVUM_INPUT_CIRCULATOR] = match;
  return budget;
}

START_TEST(normal_parts_have_the_factor_of_a_normal_distribution) {
  cavum_coldtest_budget budget = budget_of(0.3, 0.0, 0.0);
  for (double coverage = 0.5; coverage < 0.999; coverage += 0.13) {
    CAVUM_CHECK_RELATIVE(cavum_coldtest_budget_coverage_factor(&budget, coverage),
                         gsl_cdf_ugaussian_Pinv(0.5 * (1.0 + coverage)), 1e-12);
  }
}
END_TEST

// A cosine of amplitude a is below a sin(pi p / 2) with probability p, and its standard deviation
// is a / sqrt(2).
START_TEST(one_wave_alone_has_the_factor_of_its_cosine) {
  cavum_coldtest_budget leak = budget_of(0.0, 0.7, 0.0), match = budget_of(0.0, 0.0, 0.2);
  for (double coverage = 0.5; coverage < 0.999; coverage += 0.13) {
    double expected = sqrt(2.0) * sin(0.5 * CAVUM_PI * coverage);
    CAVUM_CHECK_RELATIVE(cavum_coldtest_budget_coverage_factor(&leak, coverage), expected, 2e-6);
    CAVUM_CHECK_RELATIVE(cavum_coldtest_budget_coverage_factor(&match, coverage), expected, 2e-6);
  }
}
END_TEST

typedef struct sum {
  double normal, leak, match, forward, size;
} sum;

static double characteristic(double t, void *parameters) {
  const sum *s = parameters;
  double spread = s->normal * t;
  return exp(-0.5 * spread * spread) * gsl_sf_bessel_J0(sqrt(2.0) * s->leak * t) *
         gsl_sf_bessel_J0(sqrt(2.0) * s->match * t) * gsl_sf_bessel_J0(sqrt(2.0) * s->forward * t) *
         sin(s->size * t) / t;
}

// P(|X| <= x) = 2 / pi times the integral of phi(t) sin(x t) / t, with the characteristic function
// phi of the sum: exp(-s^2 t^2 / 2) of a normal part, J0(a t) of a cosine.
static double probability_within(sum s) {
  gsl_integration_workspace *space = gsl_integration_workspace_alloc(2000);
  gsl_function integrand = {characteristic, &s};
  double result, error;
  gsl_integration_qag(&integrand, 0.0, 9.0 / s.normal, 1e-10, 1e-9, 2000, GSL_INTEG_GAUSS61, space,
                      &result, &error);
  gsl_integration_workspace_free(space);
  return 2.0 / CAVUM_PI * result;
}

START_TEST(sums_hold_what_their_characteristic_function_says) {
  static const sum SUMS[] = {{.normal = 1.0, .leak = 0.2},
                             {.normal = 1.0, .leak = 1.0},
                             {.normal = 0.3, .leak = 1.0},
                             {.normal = 0.05, .leak = 1.0},
                             {.normal = 1.0, .leak = 1.0, .match = 1.0},
                             {.normal = 0.2, .leak = 0.5, .match = 1.0},
                             {.normal = 0.05, .leak = 1.0, .match = 0.9},
                             {.normal = 0.3, .forward = 1.0},
                             {.normal = 0.4, .leak = 0.5, .match = 0.8, .forward = 1.0},
                             {.normal = 0.1, .leak = 1.0, .match = 0.7, .forward = 0.4}};
  for (size_t i = 0; i < sizeof SUMS / sizeof *SUMS; i++) {
    sum s = SUMS[i];
    cavum_coldtest_budget budget = budget_of(s.normal, s.leak, s.match);
    budget.contribution[CAVUM_INPUT_FORWARD_DIRECTIVITY] = s.forward;
    budget.uncertainty = hypot(budget.uncertainty, s.forward);
    for (double coverage = 0.68; coverage < 0.999; coverage += 0.09) {
      double factor = cavum_coldtest_budget_coverage_factor(&budget, coverage);
      s.size = factor * budget.uncertainty;
      // The mean over phases is worth 1e-3 of a probability where waves are sharp.
      double tolerance = s.normal < 0.1 ? 1e-3 : 1e-5;
      ck_assert_double_eq_tol(probability_within(s), coverage, tolerance);
    }
  }
}
END_TEST

// The width of two waves alone is known from 1e6 draws to 4e-4 (standard deviation of a count).
START_TEST(two_waves_alone_hold_their_share_of_draws) {
  enum { DRAWS = 1000000 };
  cavum_coldtest_budget budget = budget_of(0.0, 1.0, 0.4);
  double size = budget.uncertainty * cavum_coldtest_budget_coverage_factor(&budget, 0.95);
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  int inside = 0;
  for (int i = 0; i < DRAWS; i++) {
    double leak = sqrt(2.0) * cos(2.0 * CAVUM_PI * gsl_rng_uniform(rng));
    double match = 0.4 * sqrt(2.0) * cos(2.0 * CAVUM_PI * gsl_rng_uniform(rng));
    inside += fabs(leak + match) <= size;
  }
  gsl_rng_free(rng);
  double deviation = sqrt(0.95 * 0.05 / DRAWS);
  ck_assert_double_eq_tol((double)inside / DRAWS, 0.95, 4.0 * deviation + 1e-3);
}
END_TEST

START_TEST(what_is_no_coverage_has_no_factor) {
  cavum_coldtest_budget budget = budget_of(1.0, 1.0, 0.0);
  ck_assert_double_nan(cavum_coldtest_budget_coverage_factor(NULL, 0.95));
  ck_assert_double_nan(cavum_coldtest_budget_coverage_factor(&budget, 0.0));
  ck_assert_double_nan(cavum_coldtest_budget_coverage_factor(&budget, 1.0));
  ck_assert_double_nan(cavum_coldtest_budget_coverage_factor(&budget, (double)NAN));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, normal_parts_have_the_factor_of_a_normal_distribution);
  tcase_add_test(tests, one_wave_alone_has_the_factor_of_its_cosine);
  tcase_add_test(tests, sums_hold_what_their_characteristic_function_says);
  tcase_add_test(tests, two_waves_alone_hold_their_share_of_draws);
  tcase_add_test(tests, what_is_no_coverage_has_no_factor);
}

CAVUM_TEST_MAIN("coverage factors of results", add_tests)
