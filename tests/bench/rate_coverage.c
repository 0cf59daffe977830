// SPDX-License-Identifier: GPL-3.0-or-later
// The stated uncertainties of random cells against better runs.
#include "rate_coverage.h"

#include "random_cells.h"

void rate_coverage(json_t *report, int shapes) {
  static tally all;
  all = (tally){0};
  random_compare_two_ellipse(&all, 987654321, shapes);
  double share = (double)all.inside / all.count, median = tally_median_inflation(&all);
  printf(
      "uncertainties of %d random two-ellipse cells: %.3f %% of %d figures inside; %d errors above "
      "rounding, median uncertainty / error %.1f\n",
      shapes, 100.0 * share, all.count, all.num_inflations, median);
  rate_report_set(report, share, "coverage");
  rate_report_set(report, median, "inflation_median");
}
