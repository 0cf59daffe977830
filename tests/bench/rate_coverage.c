// SPDX-License-Identifier: GPL-3.0-or-later
// The stated uncertainties of random cells against better runs.
#include "rate_coverage.h"

#include "random_cells.h"

void rate_coverage(json_t *report, int shapes) {
  static tally all;
  random_state state = {987654321};
  all = (tally){0};
  for (int i = 0; i < shapes; i++) {
    char where[64];
    snprintf(where, sizeof where, "two-ellipse cell %d", i);
    cavum_cell cell = random_two_ellipse(&state);
    random_compare(&all, &cell, where);
    cavum_cell_clear(&cell);
  }
  double share = (double)all.inside / all.count, median = tally_median_inflation(&all);
  printf(
      "uncertainties of %d random two-ellipse cells: %.3f %% of %d figures inside; %d errors above "
      "rounding, median uncertainty / error %.1f\n",
      shapes, 100.0 * share, all.count, all.num_inflations, median);
  rate_report_set(report, share, "coverage");
  rate_report_set(report, median, "inflation_median");
}
