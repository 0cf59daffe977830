// SPDX-License-Identifier: GPL-3.0-or-later
// Which columns of a scan are the better ones for being small.
#include <string.h>

#include "cavum/figures.h"
#include "cavum/scan_store.h"
#include "support.h"

// Peak fields, losses and what a row costs.
static const char *const smaller[] = {
    "epk_over_eacc",          "bpk_over_eacc_mT_per_MV_per_m", "loss_factor_V_per_C",
    "surface_resistance_ohm", "wall_power_at_1_MV_per_m_W",    "solves"};

static bool is_listed(const char *key) {
  for (size_t i = 0; i < sizeof smaller / sizeof *smaller; i++) {
    if (strcmp(key, smaller[i]) == 0) return true;
  }
  return false;
}

START_TEST(peaks_losses_and_cost_are_better_small) {
  for (size_t i = 0; i < sizeof smaller / sizeof *smaller; i++) {
    ck_assert_msg(cavum_scan_smaller_is_better(smaller[i]), "%s", smaller[i]);
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const char *key = cavum_figure_describe((cavum_figure_id)id).key;
    ck_assert_msg(cavum_scan_smaller_is_better(key) == is_listed(key), "%s", key);
  }
}
END_TEST

START_TEST(other_columns_are_not) {
  ck_assert(!cavum_scan_smaller_is_better("iris_radius_mm"));
  ck_assert(!cavum_scan_smaller_is_better("epk_over_eacc_uncertainty"));
  ck_assert(!cavum_scan_smaller_is_better("unknown"));
  ck_assert(!cavum_scan_smaller_is_better(""));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, peaks_losses_and_cost_are_better_small);
  tcase_add_test(tests, other_columns_are_not);
}

CAVUM_TEST_MAIN("scan aims", add_tests)
