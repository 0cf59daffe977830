// SPDX-License-Identifier: GPL-3.0-or-later
// What pictures and reports of a cold test conclude from its readings.
#include "picture/coldtest_readings.h"

#include <stdio.h>

#include "base/base.h"
#include "cavum/coldtest.h"

// Readings within this of the usual bath temperature belong to it, in K.
static const double SAME_TEMPERATURE_K = 0.02;

int cavum_test_view_choose_point(const cavum_stored_coldtest *test) {
  int best = -1;
  const double *gradient = test->column[CAVUM_STORED_GRADIENT];
  for (int i = 0; i < test->num_points; i++) {
    if (isfinite(gradient[i]) && (best < 0 || gradient[i] > gradient[best])) best = i;
  }
  return best;
}

static double branch_of(const cavum_stored_coldtest *test, int point) {
  const double *branch = test->column[CAVUM_STORED_BRANCH];
  return branch ? branch[point] : 0.0;
}

static bool is_open(const cavum_stored_coldtest *test, int point) {
  const double *flags = test->column[CAVUM_STORED_FLAGS];
  return flags && flags[point] >= 0.0 &&
         ((uint32_t)flags[point] >> CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS & 1u);
}

void cavum_test_view_branch(char text[96], const cavum_stored_coldtest *test, int point) {
  double branch = branch_of(test, point);
  snprintf(text, 96, "%s%s",
           branch > 0.0   ? "over"
           : branch < 0.0 ? "under"
                          : "\xe2\x80\x93",
           is_open(test, point) ? " (open)" : "");
}

void cavum_test_view_branches(char text[96], const cavum_stored_coldtest *test) {
  bool over = false, under = false, open = false;
  for (int i = 0; i < test->num_points; i++) {
    over = over || branch_of(test, i) > 0.0;
    under = under || branch_of(test, i) < 0.0;
    open = open || is_open(test, i);
  }
  snprintf(text, 96, "%s%s",
           over && under ? "over- and undercoupled"
           : over        ? "overcoupled"
           : under       ? "undercoupled"
                         : "",
           open ? " (branch open)" : "");
}

double cavum_test_view_find_temperature(const cavum_stored_coldtest *test) {
  const double *all = test->column[CAVUM_STORED_TEMPERATURE];
  double best = NAN;
  int most = 0, step = test->num_points / 1000 + 1;  // A sample of a long test is enough.
  for (int i = 0; all && i < test->num_points; i += step) {
    int count = 0;
    for (int k = 0; k < test->num_points; k += step) {
      count += fabs(all[k] - all[i]) <= SAME_TEMPERATURE_K;
    }
    if (count > most) best = all[i];
    if (count > most) most = count;
  }
  return best;
}

int cavum_test_view_kind(const cavum_stored_coldtest *test, int i, double usual_k) {
  const double *temperature = test->column[CAVUM_STORED_TEMPERATURE];
  const double *by_decay = test->column[CAVUM_STORED_BY_DECAY];
  if (temperature && isfinite(usual_k) && fabs(temperature[i] - usual_k) > SAME_TEMPERATURE_K) {
    return CAVUM_TEST_OTHER_BATH;
  }
  return by_decay && by_decay[i] > 0.0 ? CAVUM_TEST_DECAY : CAVUM_TEST_PICKUP;
}

bool cavum_test_view_is_fitted(const cavum_stored_coldtest *test, int i) {
  const double *temperature = test->column[CAVUM_STORED_TEMPERATURE];
  const double *resistance = test->column[CAVUM_STORED_RESISTANCE];
  const cavum_stored_fit *fit = &test->fit;
  if (!temperature || !resistance || !(temperature[i] > 0.0) || !(resistance[i] > 0.0)) {
    return false;
  }
  if (!(fit->gradient_v_per_m > 0.0)) return true;
  double distance = fabs(test->column[CAVUM_STORED_GRADIENT][i] - fit->gradient_v_per_m);
  return distance <= fit->gradient_tolerance * fit->gradient_v_per_m;
}

double cavum_test_view_fitted_ohm(const cavum_stored_fit *fit, double temperature_k) {
  return fit->amplitude_ohm_k * exp(-fit->gap_k / temperature_k) / temperature_k +
         fit->residual_ohm;
}

cavum_ink cavum_test_run_ink(int run) {
  static const cavum_ink inks[] = {CAVUM_INK_SECOND, CAVUM_INK_FIRST, CAVUM_INK_THIRD,
                                   CAVUM_INK_FOURTH, CAVUM_INK_MUTED};
  return inks[(run - 1) % (int)(sizeof inks / sizeof *inks)];
}
