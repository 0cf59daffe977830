// SPDX-License-Identifier: GPL-3.0-or-later
// The spread of surface fields near their peak on made-up samples, histories that are given one,
// and the ratio that the ladder predicts with.
#include <string.h>

#include "figures/surface.h"
#include "solve/uncertainty.h"
#include "support.h"

enum { EDGES = 3, SAMPLES = CAVUM_WALL_SAMPLES };

// Two sets of samples of a flat field of 1 V/m and 1 A/m.
static void flat(cavum_wall_samples *a, cavum_wall_samples *b) {
  for (int i = 0; i < EDGES; i++) {
    for (int k = 0; k < SAMPLES; k++) a[i].e[k] = b[i].e[k] = a[i].h[k] = b[i].h[k] = 1.0;
  }
}

static double spread_of_e(const cavum_wall_samples *a, const cavum_wall_samples *b) {
  return cavum_surface_spread(a, 1.0, b, 1.0, EDGES, true);
}

START_TEST(equal_fields_have_no_spread) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.0, 0.0);
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 1.0, 0, true), 0.0, 0.0);
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

// Not the difference of the peaks, which is zero here: that of the field where it is near them.
START_TEST(peaks_that_agree_by_luck) {
  cavum_wall_samples a[EDGES], b[EDGES];
  flat(a, b);
  a[0].e[10] = b[2].e[11] = 1.003;
  CAVUM_CHECK_NEAR(spread_of_e(a, b), 0.003, 1e-15);
  CAVUM_CHECK_NEAR(spread_of_e(b, a), 0.003, 1e-15);
  // The other field has its own.
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 1.0, EDGES, false), 0.0, 0.0);
  a[1].h[7] = 1.002;
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 1.0, EDGES, false), 0.002, 1e-15);
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
  for (int i = 0; i < EDGES; i++) {
    for (int k = 0; k < SAMPLES; k++) {
      a[i].e[k] = 1.0 + 0.001 * k;
      b[i].e[k] = 2.5 * a[i].e[k];
    }
  }
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 2.5, EDGES, true), 0.0, 1e-15);
  // Gradients that disagree by one per cent change all of it by one per cent; the largest sample
  // that counts is the fourth from the end.
  double peak = 1.0 + 0.001 * (SAMPLES - 4);
  CAVUM_CHECK_NEAR(cavum_surface_spread(a, 1.0, b, 2.5 / 1.01, EDGES, true), 0.01 * peak, 1e-15);
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

static void add_tests(TCase *tests) {
  tcase_add_test(tests, equal_fields_have_no_spread);
  tcase_add_test(tests, differences_elsewhere_count_within_reach);
  tcase_add_test(tests, peaks_that_agree_by_luck);
  tcase_add_test(tests, only_near_the_peak);
  tcase_add_test(tests, ends_of_edges_do_not_count);
  tcase_add_test(tests, levels_do_not_count);
  tcase_add_test(tests, a_change_is_at_least_the_spread);
  tcase_add_test(tests, spreads_reach_the_uncertainty);
  tcase_add_test(tests, ratio_of_the_last_changes);
}

CAVUM_TEST_MAIN("spread", add_tests)
