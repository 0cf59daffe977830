// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of a test: their names, and each against the first.
#include "coldtest/coldtest_private.h"
#include "coldtest/gradient_order.h"

// Readings that compare: gradients this near, relative, and baths this near, in K.
static const double SAME_GRADIENT = 0.05, SAME_BATH_K = 0.02;

int cavum_coldtest_num_runs(const cavum_coldtest *test) {
  return test ? test->readings.num_runs : 0;
}

const char *cavum_coldtest_get_run_name(const cavum_coldtest *test, int number) {
  return test && number >= 1 && number <= test->readings.num_runs ? test->readings.runs[number - 1]
                                                                  : "";
}

static double gradient(const cavum_coldtest *test, int64_t index) {
  return test->points[index].value[CAVUM_QUANTITY_E_ACC];
}

static bool compares(const cavum_coldtest *test, int64_t a, int64_t b) {
  double bath = test->readings.items[a].bath_temperature_k;
  double other = test->readings.items[b].bath_temperature_k;
  if (fabs(gradient(test, a) / gradient(test, b) - 1.0) > SAME_GRADIENT) return false;
  return isnan(bath) || isnan(other) || fabs(bath - other) <= SAME_BATH_K;
}

static int64_t find_above(const cavum_gradient_place *places, int64_t count, double wanted) {
  int64_t low = 0, high = count;
  while (low < high) {
    int64_t middle = low + (high - low) / 2;
    if (places[middle].gradient < wanted) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  return low;
}

// The reading of the first run that compares and is nearest in gradient; -1: none does.
static int64_t find_partner(const cavum_coldtest *test, const cavum_gradient_place *places,
                            int64_t count, int64_t index) {
  enum { MOST_STEPS = 1000 };  // Of many readings at one gradient these are enough.
  double wanted = gradient(test, index);
  int64_t above = find_above(places, count, wanted), below = above - 1;
  for (int step = 0; step < MOST_STEPS && (below >= 0 || above < count); step++) {
    bool up = below < 0 ||
              (above < count && places[above].gradient - wanted < wanted - places[below].gradient);
    int64_t candidate = places[up ? above++ : below--].index;
    if (fabs(gradient(test, candidate) / wanted - 1.0) > SAME_GRADIENT) return -1;
    if (compares(test, index, candidate)) return candidate;
  }
  return -1;
}

// u^2(a/b) over (a/b)^2 = u^2(a)/a^2 + u^2(b)/b^2 - 2 u(a, b)/(a b).
static void set_ratio(cavum_coldtest_run_summary *summary, const cavum_coldtest *test, int64_t a,
                      int64_t b) {
  const cavum_coldtest_point *first = &test->points[a], *second = &test->points[b];
  double q = first->value[CAVUM_QUANTITY_Q0], p = second->value[CAVUM_QUANTITY_Q0];
  double u = first->uncertainty[CAVUM_QUANTITY_Q0] / q;
  double v = second->uncertainty[CAVUM_QUANTITY_Q0] / p, common = 0.0;
  if (cavum_coldtest_covariance(&common, test, a, CAVUM_QUANTITY_Q0, b, CAVUM_QUANTITY_Q0, NULL) !=
      CAVUM_OK) {
    return;
  }
  double square = u * u + v * v - 2.0 * common / (q * p);
  summary->q0_ratio.value = q / p;
  summary->q0_ratio.uncertainty = q / p * sqrt(cavum_max(square, 0.0));
  summary->ratio_e_acc_v_per_m = gradient(test, a);
}

static cavum_status compare_with_first(cavum_coldtest_run_summary *summary,
                                       const cavum_coldtest *test, int number, cavum_error *error) {
  int64_t best = -1, partner = -1, count = 0, total = cavum_coldtest_num_points(test);
  if (number == 1) return CAVUM_OK;
  cavum_gradient_place *places = cavum_alloc(total, sizeof *places);
  if (!places) return cavum_fail_memory(error);
  for (int64_t i = 0; i < total; i++) {
    if (test->readings.items[i].run == 1)
      places[count++] = (cavum_gradient_place){gradient(test, i), i};
  }
  cavum_gradient_places_sort(places, count);
  for (int64_t i = 0; i < total; i++) {
    if (test->readings.items[i].run != number) continue;
    if (best >= 0 && !(gradient(test, i) > gradient(test, best))) continue;
    int64_t found = find_partner(test, places, count, i);
    if (found < 0) continue;
    best = i;
    partner = found;
  }
  free(places);
  if (best >= 0) set_ratio(summary, test, best, partner);
  return CAVUM_OK;
}

static void widen(double *low, double *high, double value) {
  if (isnan(value)) return;
  *low = isnan(*low) ? value : cavum_min(*low, value);
  *high = isnan(*high) ? value : cavum_max(*high, value);
}

cavum_status cavum_coldtest_summarise_run(cavum_coldtest_run_summary *summary,
                                          const cavum_coldtest *test, int number,
                                          cavum_error *error) {
  if (!summary || !test) return cavum_fail_null(error, __func__);
  if (number < 1 || number > test->readings.num_runs) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no run %d: the test has %d", number,
                      test->readings.num_runs);
  }
  cavum_coldtest_run_summary out = {.first_point = -1,
                                    .lowest_e_acc_v_per_m = NAN,
                                    .highest_e_acc_v_per_m = NAN,
                                    .lowest_temperature_k = NAN,
                                    .highest_temperature_k = NAN,
                                    .q0_ratio = {.value = NAN, .uncertainty = NAN},
                                    .ratio_e_acc_v_per_m = NAN};
  for (int64_t i = 0; i < cavum_coldtest_num_points(test); i++) {
    if (test->readings.items[i].run != number) continue;
    if (out.num_points++ == 0) out.first_point = i;
    widen(&out.lowest_e_acc_v_per_m, &out.highest_e_acc_v_per_m, gradient(test, i));
    widen(&out.lowest_temperature_k, &out.highest_temperature_k,
          test->readings.items[i].bath_temperature_k);
  }
  cavum_status status = compare_with_first(&out, test, number, error);
  if (status == CAVUM_OK) *summary = out;
  return status;
}
