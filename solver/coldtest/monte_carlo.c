// SPDX-License-Identifier: GPL-3.0-or-later
// Monte Carlo propagation of one point, adaptive after [JCGM101] 7.9.4, and the comparison of its
// interval with that of the linear propagation (clause 8).
#include <string.h>

#include "base/stop.h"
#include "coldtest/draws.h"
#include "coldtest/sample.h"

// With fewer blocks the standard deviation over the blocks is itself too uncertain to stop on.
enum { FEWEST_BLOCKS = 10 };
// Draws that no cavity can give, beyond which the rest no longer stands for the point.
static const double IMPOSSIBLE_SHARE = 0.01;

/** Mean and variance over blocks of one statistic. */
typedef struct running {
  double mean, squares;
} running;

enum { STATISTIC_MEAN, STATISTIC_DEVIATION, STATISTIC_LOW, STATISTIC_HIGH, NUM_STATISTICS };

/** State of one propagation. */
typedef struct propagation {
  const cavum_coldtest *test;
  int64_t index;
  cavum_draw_source *source;  // Owned.
  int num_results;            // R_s only with a geometry factor.
  int64_t block_size, num_blocks, count, capacity, impossible;
  double *values[CAVUM_NUM_MC];  // Owned, shape [capacity].
  running statistics[CAVUM_NUM_MC][NUM_STATISTICS];
} propagation;

static cavum_status make_room(propagation *p, cavum_error *error) {
  int64_t wanted = p->count + p->block_size + CAVUM_CHUNK, capacity = p->capacity;
  for (int result = 0; result < p->num_results; result++) {
    capacity = p->capacity;
    void *array = p->values[result];
    bool grown = cavum_grow(&array, &capacity, wanted, sizeof(double));
    p->values[result] = array;
    if (!grown) return cavum_fail_memory(error);
  }
  p->capacity = capacity;
  return CAVUM_OK;
}

static void add_running(running *r, double value, int64_t number) {
  double difference = value - r->mean;
  r->mean += difference / (double)number;
  r->squares += difference * (value - r->mean);
}

static cavum_status run_block(propagation *p, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double chunk[CAVUM_NUM_MC][CAVUM_CHUNK];
  int64_t first = p->count;
  CAVUM_TRY(make_room(p, error));
  for (int64_t done_draws = 0; done_draws < p->block_size; done_draws += CAVUM_CHUNK) {
    int possible = cavum_draw_chunk(p->source, chunk);
    CAVUM_TRY(cavum_stop_check(error));
    for (int result = 0; result < p->num_results; result++) {
      memcpy(p->values[result] + p->count, chunk[result], (size_t)possible * sizeof(double));
    }
    p->count += possible;
    p->impossible += CAVUM_CHUNK - possible;
  }
  p->num_blocks++;
  if ((double)p->impossible > IMPOSSIBLE_SHARE * (double)(p->num_blocks * p->block_size)) {
    return cavum_fail(
        error, CAVUM_ERR_NOT_CONVERGED,
        "reading %lld: %lld of %lld draws leave no dissipated power or no net power: the "
        "readings do not determine Q0",
        (long long)p->index + 1, (long long)p->impossible,
        (long long)(p->num_blocks * p->block_size));
  }
  for (int result = 0; result < p->num_results; result++) {
    double mean, deviation;
    cavum_sample_intervals intervals;
    const double *values = p->values[result] + first;
    cavum_sample_moments(&mean, &deviation, values, p->count - first);
    CAVUM_TRY(cavum_sample_make_intervals(&intervals, values, p->count - first,
                                          p->test->setup.coverage, false, error));
    running *r = p->statistics[result];
    add_running(&r[STATISTIC_MEAN], mean, p->num_blocks);
    add_running(&r[STATISTIC_DEVIATION], deviation, p->num_blocks);
    add_running(&r[STATISTIC_LOW], intervals.symmetric_low, p->num_blocks);
    add_running(&r[STATISTIC_HIGH], intervals.symmetric_high, p->num_blocks);
  }
done:
  return status;
}

// Half a unit of the last of `digits` significant digits of u [JCGM101] 7.9.2.
static double digit_tolerance(double uncertainty, int digits) {
  if (!(uncertainty > 0.0)) return 0.0;
  double exponent = floor(log10(uncertainty)) - (double)(digits - 1);
  return 0.5 * pow(10.0, exponent);
}

static bool is_stable(const propagation *p) {
  double blocks = (double)p->num_blocks;
  for (int result = 0; result < p->num_results; result++) {
    const running *r = p->statistics[result];
    double tolerance = digit_tolerance(r[STATISTIC_DEVIATION].mean, p->test->setup.digits);
    for (int i = 0; i < NUM_STATISTICS; i++) {
      double deviation_of_mean = sqrt(r[i].squares / (blocks * (blocks - 1.0)));
      if (2.0 * deviation_of_mean > tolerance) return false;
    }
  }
  return true;
}

static const cavum_coldtest_quantity QUANTITIES[CAVUM_NUM_MC] = {
    [CAVUM_MC_Q0] = CAVUM_QUANTITY_Q0,
    [CAVUM_MC_E_ACC] = CAVUM_QUANTITY_E_ACC,
    [CAVUM_MC_SURFACE_RESISTANCE] = CAVUM_QUANTITY_SURFACE_RESISTANCE};

// What the linear uncertainty says; its factor is smaller where a wave of unknown phase dominates.
static void set_linear(cavum_coldtest_distribution *out, const propagation *p,
                       cavum_coldtest_quantity quantity) {
  const cavum_coldtest_point *point = &p->test->points[p->index];
  double coverage = p->test->setup.coverage, factor = cavum_coldtest_coverage_factor(coverage);
  cavum_coldtest_budget budget;
  if (cavum_coldtest_make_budget(&budget, p->test, p->index, quantity, NULL) == CAVUM_OK) {
    factor = cavum_coldtest_budget_coverage_factor(&budget, coverage);
  }
  out->linear_low = point->value[quantity] - factor * point->uncertainty[quantity];
  out->linear_high = point->value[quantity] + factor * point->uncertainty[quantity];
}

static cavum_status summarise(cavum_coldtest_distribution *out, const propagation *p, int result,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_sample_intervals intervals;
  const cavum_coldtest_setup *setup = &p->test->setup;
  cavum_sample_moments(&out->mean, &out->uncertainty, p->values[result], p->count);
  CAVUM_TRY(cavum_sample_make_intervals(&intervals, p->values[result], p->count, setup->coverage,
                                        true, error));
  out->median = intervals.median;
  out->low = intervals.low;
  out->high = intervals.high;
  out->symmetric_low = intervals.symmetric_low;
  out->symmetric_high = intervals.symmetric_high;
  set_linear(out, p, QUANTITIES[result]);
  double tolerance = digit_tolerance(out->uncertainty, 1);
  out->linear_holds = fabs(out->linear_low - out->symmetric_low) <= tolerance &&
                      fabs(out->linear_high - out->symmetric_high) <= tolerance;
done:
  return status;
}

static void set_absent(cavum_coldtest_distribution *out) {
  *out = (cavum_coldtest_distribution){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, false};
}

// The block size of 7.9.4: max(100/(1 - p), 1e4), here in whole chunks.
static int64_t block_size_for(double coverage) {
  double wanted = cavum_max(100.0 / (1.0 - coverage), 1e4);
  return CAVUM_CHUNK * (int64_t)ceil(cavum_min(wanted, 1e6) / CAVUM_CHUNK);
}

cavum_status cavum_coldtest_run_monte_carlo(cavum_coldtest_monte_carlo *outcome,
                                            const cavum_coldtest *test, int64_t index,
                                            int64_t num_draws, cavum_error *error) {
  if (!outcome || !test) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  if (index < 0 || index >= test->readings.num_readings) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "reading %lld of a test of %lld", (long long)index,
                      (long long)test->readings.num_readings);
  }
  if (num_draws < 0) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%lld draws: expected 0 or more",
                      (long long)num_draws);
  }
  cavum_coldtest_monte_carlo out = {0};
  propagation p = {
      .test = test, .index = index, .block_size = block_size_for(test->setup.coverage)};
  p.num_results = test->setup.geometry_factor_ohm.value > 0.0 ? CAVUM_NUM_MC : CAVUM_NUM_MC - 1;
  int64_t most = num_draws > 0 ? num_draws : test->setup.max_draws;
  CAVUM_TRY(cavum_draw_source_create(&p.source, test, index, error));
  do {
    CAVUM_TRY(run_block(&p, error));
    out.stable = p.num_blocks >= FEWEST_BLOCKS && is_stable(&p);
  } while (p.num_blocks * p.block_size < most && !(num_draws <= 0 && out.stable));
  for (int result = 0; result < CAVUM_NUM_MC; result++) {
    set_absent(&out.results[result]);
    if (result >= p.num_results) continue;
    CAVUM_TRY(summarise(&out.results[result], &p, result, error));
  }
  out.num_draws = p.num_blocks * p.block_size;
  out.num_impossible = p.impossible;
  *outcome = out;
done:
  cavum_draw_source_destroy(&p.source);
  for (int result = 0; result < CAVUM_NUM_MC; result++) free(p.values[result]);
  return status;
}
