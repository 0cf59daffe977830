// SPDX-License-Identifier: GPL-3.0-or-later
// The spread of surface fields near their peak on made-up samples, histories that are given one,
// and the ratio that the ladder predicts with.
#include <string.h>

#include "figures/surface.h"
#include "solve/uncertainty.h"
#include "support.h"

enum { EDGES = 3, SAMPLES = CAVUM_WALL_SAMPLES };

// Edges one behind the other along a line; the wall ends before the first and behind the last one.
static cavum_wall_shape shape[EDGES];
static const cavum_mesh_boundary chain = {.shape = shape, .num_metal = EDGES},
                                 none = {.shape = shape, .num_metal = 0};

static void set_up(void) {
  for (int i = 0; i < EDGES; i++) {
    for (int k = 0; k < SAMPLES; k++) {
      shape[i].z_m[k] = i + (double)k / (SAMPLES - 1);
      shape[i].r_m[k] = 1.0;
      shape[i].length_s[k] = 0.5;
    }
  }
}

// Two sets of samples of a flat field of 1 V/m and 1 A/m.
static void flat(cavum_wall_samples *a, cavum_wall_samples *b) {
  for (int i = 0; i < EDGES; i++) {
    for (int k = 0; k < SAMPLES; k++) a[i].e[k] = b[i].e[k] = a[i].h[k] = b[i].h[k] = 1.0;
  }
}

static double spread_of_e(const cavum_wall_samples *a, const cavum_wall_samples *b) {
  return cavum_surface_spread(a, 1.0, b, 1.0, &chain, true);
}

START_TEST(equal_fields_have_no_spread) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0, 0.0);
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 1.0, &none, true), 0.0, 0.0);
}
END_TEST

// On another edge than that of the peak, here edge 1, a difference counts where three times its
// size would lift the field to the peak (surface.h).
START_TEST(differences_elsewhere_count_within_reach) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  a[1].e[12] = b[1].e[12] = 1.004;
  a[1].e[9] = 1.0005;  // on the edge of the peak it always counts
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0005, 1e-15);
  a[0].e[5] = 1.0009;  // 0.0031 below the peak, more than three times 0.0009
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0005, 1e-15);
  a[2].e[5] = 1.0011;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0011, 1e-15);
}
END_TEST

// The end of an edge lags behind: it counts where the wall ends and what it rose by once more would
// make it the peak, here 1.004 on edge 1. Not where it falls, on the edge of the peak, or where
// another edge goes on. Fields do not tell where that is: H is the same everywhere here, as it is
// at the two ends of a wall that is symmetric.
START_TEST(ends_of_the_wall_count_where_they_rise_to_the_peak) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  a[1].e[12] = b[1].e[12] = 1.004;
  b[0].e[0] = 1.0019;
  b[1].e[0] = b[0].e[SAMPLES - 1] = 1.003;
  b[2].e[0] = 1.003;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0, 0.0);
  b[0].e[0] = 1.0021;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0021, 1e-15);
  CAVUM_CHECK_NEAR(spread_of_e(b, a), 0.0, 0.0);
  a[2].e[SAMPLES - 1] = 0.998;
  b[2].e[SAMPLES - 1] = 1.0025;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0045, 1e-15);
  // An edge that goes on there, run the other way.
  cavum_wall_shape moved = shape[1];
  shape[1].z_m[SAMPLES - 1] = EDGES;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.003, 1e-15);  // edge 2 begins at an end of the wall now
  shape[1] = moved;
}
END_TEST

// Not the difference of the peaks, which is zero here: that of the field where it is near them.
START_TEST(peaks_that_agree_by_luck) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  a[0].e[10] = b[2].e[11] = 1.003;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.003, 1e-15);
  CAVUM_CHECK_NEAR(spread_of_e(b, a), 0.003, 1e-15);
  // The other field has its own.
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 1.0, &chain, false), 0.0, 0.0);
  a[1].h[7] = 1.002;
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 1.0, &chain, false), 0.002, 1e-15);
}
END_TEST

// Only what is within half a per cent of the largest of either counts (surface.h).
START_TEST(only_near_the_peak) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  a[1].e[12] = b[1].e[12] = 2.0;
  a[0].e[5] = 1.2;  // far below the peak of 2
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0, 0.0);
  a[2].e[8] = 1.989;  // just outside
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0, 0.0);
  a[2].e[8] = 1.991;  // just inside in one, far outside in the other
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.991, 1e-15);
}
END_TEST

// Three samples at each end of an edge are left out.
START_TEST(ends_of_edges_do_not_count) {
  cavum_wall_samples a[EDGES], b[EDGES];
  for (int k = 0; k < SAMPLES; k++) {
    flat(a, b);
    a[1].e[k] = 1.004;
    bool inside = k >= 3 && k < SAMPLES - 3;
    CAVUM_CHECK_NEAR(spread_of_e(a, b), inside ? 0.004 : 0.0, 1e-15);
  }
}
END_TEST

// Fields over the gradient: the same shape at another level is the same mode.
START_TEST(levels_do_not_count) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  shape[EDGES - 1].z_m[SAMPLES - 1] = 0.0;  // a wall without ends
  for (int i = 0; i < EDGES; i++) {
    for (int k = 0; k < SAMPLES; k++) {
      a[i].e[k] = 1.0 + 0.001 * k;
      b[i].e[k] = 2.5 * a[i].e[k];
    }
  }
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 2.5, &chain, true), 0.0, 1e-15);
  // Gradients that disagree by one per cent change all of it by one per cent; the largest sample
  // that counts is the fourth from the end.
  double peak = 1.0 + 0.001 * (SAMPLES - 4);
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 2.5 / 1.01, &chain, true), 0.01 * peak, 1e-15);
}
END_TEST

START_TEST(a_change_is_at_least_the_spread) {
  cavum_history history = {0};
  cavum_history_add(&history, 5.0, 0.7, 0.0);  // nothing to be compared with
  CAVUM_CHECK_NEAR(history.change[0], 0.0, 0.0);
  cavum_history_add(&history, 5.0, 0.2, 0.0);  // equal by luck
  CAVUM_CHECK_NEAR(history.change[1], 0.2, 0.0);
  cavum_history_add(&history, 5.3, 0.1, 0.0);  // changed by more
  CAVUM_CHECK_NEAR(history.change[2], 0.3, 1e-15);
  cavum_history_add(&history, 5.2, 0.0, 0.0);
  CAVUM_CHECK_NEAR(history.change[3], 0.1, 1e-15);
  // When full, changes go with their values.
  for (int i = 0; i < CAVUM_HISTORY_MOST; i++) cavum_history_add(&history, 5.2, 1.0 + i, 0.0);
  ck_assert_int_eq(history.count, CAVUM_HISTORY_MOST);
  for (int i = 0; i < CAVUM_HISTORY_MOST; i++) {
    CAVUM_CHECK_NEAR(history.value[i], 5.2, 0.0);
    CAVUM_CHECK_NEAR(history.change[i], 1.0 + i, 0.0);
  }
}
END_TEST

// With a spread in it a sequence that stands still is not taken for a converged one.
START_TEST(spreads_reach_the_uncertainty) {
  cavum_history still = {0}, spread = {0};
  double change = 1e-2;
  for (int n = 0; n < 6; n++, change *= 0.5) {
    cavum_history_add(&still, 3.0, 0.0, 0.0);
    cavum_history_add(&spread, 3.0, change, 0.0);
  }
  double u = cavum_uncertainty_of_last(&still, CAVUM_CONVERGENCE_SPREAD, 1e-15);
  CAVUM_CHECK_NEAR(u, 3e-15, 1e-20);  // the rounding floor alone
  u = cavum_uncertainty_of_last(&spread, CAVUM_CONVERGENCE_SPREAD, 1e-15);
  // The tail of changes that halve is as large as the last one, 1e-2 / 32, times the safety of 2.
  CAVUM_CHECK_RELATIVE(u, 2.0 * 1e-2 / 32.0, 1e-12);
}
END_TEST

// A history whose changes are these.
static cavum_history with_changes(int count, const double *changes) {
  cavum_history history = {0};
  cavum_history_add(&history, 1.0, 0.0, 0.0);
  for (int i = 0; i < count; i++) cavum_history_add(&history, 1.0, changes[i], 0.0);
  return history;
}

static double ratio_of(int count, const double *changes) {
  cavum_history history = with_changes(count, changes);
  return cavum_uncertainty_ratio(&history);
}

START_TEST(ratio_of_the_last_changes) {
  // Too short for a ratio: as slow as is thought possible.
  CAVUM_CHECK_NEAR(ratio_of(0, NULL), 0.95, 0.0);
  CAVUM_CHECK_NEAR(ratio_of(1, (double[]){0.1}), 0.95, 0.0);
  // One ratio, or the larger of the last two, wherever it is; older ones do not count.
  CAVUM_CHECK_NEAR(ratio_of(2, (double[]){0.1, 0.03}), 0.3, 1e-15);
  CAVUM_CHECK_NEAR(ratio_of(3, (double[]){0.1, 0.04, 0.01}), 0.4, 1e-15);
  CAVUM_CHECK_NEAR(ratio_of(3, (double[]){0.1, 0.01, 0.004}), 0.4, 1e-15);
  CAVUM_CHECK_NEAR(ratio_of(4, (double[]){0.1, 0.09, 0.018, 0.0018}), 0.2, 1e-15);
  // Between 0.05 and 0.95.
  CAVUM_CHECK_NEAR(ratio_of(3, (double[]){1.0, 1e-3, 1e-6}), 0.05, 0.0);
  CAVUM_CHECK_NEAR(ratio_of(3, (double[]){1.0, 0.2, 5.0}), 0.95, 0.0);
  // From nothing to something is no convergence; from nothing to nothing is.
  CAVUM_CHECK_NEAR(ratio_of(2, (double[]){0.0, 0.1}), 0.95, 0.0);
  CAVUM_CHECK_NEAR(ratio_of(3, (double[]){0.0, 0.0, 0.0}), 0.05, 0.0);
}
END_TEST

// A peak of E at degrees one after the other, as they came out, and where it goes: the same cell at
// degrees 13 and 16 on other, smaller elements.
typedef struct swinging_peak {
  const char *cell;
  int count;
  double value[12], change[12], limit;
} swinging_peak;

static const swinging_peak SWINGS[] = {
    {"two ellipses, iris 1.6 mm by 25 mm",
     11,
     {15.748079162896923, 15.597032293689802, 15.375618471050064, 15.239428553228887,
      15.195455568078014, 15.194077362549443, 15.200601002616425, 15.210515707971467,
      15.217245320954296, 15.219081702706596, 15.21875732923675},
     {0, 0.15105, 0.22141, 0.13619, 0.043973, 0.0087085, 0.0086247, 0.0099147, 0.0067296, 0.0018364,
      0.00032437},
     15.21772621150822},
    {"half an ellipse of 4.4 mm by 68 mm on the wall",
     11,
     {9.4190996602914367, 9.1423390363868666, 8.9829288382709063, 8.9403426251413851,
      8.927256855073626, 8.9302252443964587, 8.9368533289492085, 8.9392542561522781,
      8.9390723330991815, 8.9386173665663939, 8.9383644633188997},
     {0, 0.27676, 0.15941, 0.042586, 0.020328, 0.011226, 0.0066281, 0.0027249, 0.0008828,
      0.00045497, 0.0002529},
     8.9376081814016786},
};

static cavum_history first_of(const swinging_peak *swing, int count) {
  cavum_history history = {0};
  for (int i = 0; i < count; i++) {
    cavum_history_add(&history, swing->value[i], swing->change[i], 0.0);
  }
  return history;
}

// The last two changes of these are small by the luck of a turn. The limit lies within at the last
// two values all the same, and the uncertainty is no more than a few times the largest of the last
// five changes.
START_TEST(swings_are_covered) {
  for (size_t k = 0; k < sizeof SWINGS / sizeof *SWINGS; k++) {
    const swinging_peak *swing = &SWINGS[k];
    for (int n = swing->count - 1; n <= swing->count; n++) {
      cavum_history history = first_of(swing, n);
      double u = cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_SPREAD, 1e-10);
      double error = fabs(swing->value[n - 1] - swing->limit), largest = 0.0;
      for (int i = n - 5; i < n; i++) largest = fmax(largest, swing->change[i]);
      printf("%s, value %d: error %.1e, uncertainty %.1e\n", swing->cell, n, error, u);
      ck_assert_double_ge(u, error);
      ck_assert_double_le(u, 5.0 * largest);
    }
  }
}
END_TEST

// Changes that fall by a fifth or more each have no swing in them, whatever their signs: twice the
// tail as ever, where three or more of one sign are behind, and no ratio is below 0.4. Nor have
// three values of one sign.
START_TEST(geometric_peaks_are_no_swings) {
  static const double ratios[] = {0.1, 0.3, 0.45, 0.6, 0.75};
  for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i++) {
    cavum_history history = {0};
    double x = ratios[i], value = 7.0, change = 0.5;
    cavum_history_add(&history, value, 0.0, 0.0);
    for (int n = 2; n <= 9; n++, change *= x) {
      value -= change;
      cavum_history_add(&history, value, 0.0, 0.0);
      if (n < 3) continue;
      double ratio = fmax(x, 0.4), tail = change * fmax(1.0, 0.25 / x) * ratio / (1.0 - ratio);
      if (n > 3) tail = fmax(tail, 0.0625 * change / (x * x) * ratio / (1.0 - ratio));
      double u = cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_SPREAD, 1e-12);
      CAVUM_CHECK_RELATIVE(u, 2.0 * tail, 1e-6);  // rounding of the sums
    }
  }
}
END_TEST

// What is within rounding, or within what the iteration left, has no sign to turn and no ratio.
START_TEST(rounding_is_no_swing) {
  cavum_history history = {0};
  const double value[] = {5.01, 5.0001, 5.0, 5.0 + 1e-12, 5.0 - 2e-12, 5.0 + 1e-12};
  for (int i = 0; i < 6; i++) cavum_history_add(&history, value[i], 0.0, 0.0);
  double u = cavum_uncertainty_of_last(&history, CAVUM_CONVERGENCE_SPREAD, 1e-10);
  CAVUM_CHECK_RELATIVE(u, 5e-10, 1e-6);
  cavum_history left = {0};
  for (int i = 0; i < 6; i++) cavum_history_add(&left, value[i], 0.0, 1e-11);
  u = cavum_uncertainty_of_last(&left, CAVUM_CONVERGENCE_SPREAD, 0.0);
  // Twice the tail at a ratio of 0.7, which stands for unresolved ones: no trace of the 1e-2.
  // 5e-15 is the rounding of the values.
  ck_assert_double_le(u, 2.0 * (3e-12 + 5e-15) * 0.7 / 0.3);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, NULL);
  tcase_add_test(tests, equal_fields_have_no_spread);
  tcase_add_test(tests, differences_elsewhere_count_within_reach);
  tcase_add_test(tests, ends_of_the_wall_count_where_they_rise_to_the_peak);
  tcase_add_test(tests, peaks_that_agree_by_luck);
  tcase_add_test(tests, only_near_the_peak);
  tcase_add_test(tests, ends_of_edges_do_not_count);
  tcase_add_test(tests, levels_do_not_count);
  tcase_add_test(tests, a_change_is_at_least_the_spread);
  tcase_add_test(tests, spreads_reach_the_uncertainty);
  tcase_add_test(tests, ratio_of_the_last_changes);
  tcase_add_test(tests, swings_are_covered);
  tcase_add_test(tests, geometric_peaks_are_no_swings);
  tcase_add_test(tests, rounding_is_no_swing);
}

CAVUM_TEST_MAIN("spread", add_tests)
