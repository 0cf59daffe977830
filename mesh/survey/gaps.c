// SPDX-License-Identifier: GPL-3.0-or-later
// What a wall does between two points is not known: it may turn there only so much.
#include "survey/gaps.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/base.h"
#include "base/units.h"

static const double LARGEST_TURN_RAD = 0.5, LARGEST_PART = 0.25;

static int compare(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static cavum_status check(double from_m, double to_m, const cavum_survey_wall *wall, int run,
                          double largest_gap_m, const char *name, cavum_error *error) {
  double length_m = wall->run_length_m[run], gap_m = to_m - from_m, before, behind;
  // Most gaps are small, and cost nothing.
  if (largest_gap_m > 0.0 ? gap_m <= largest_gap_m : gap_m <= 1e-6 * length_m) return CAVUM_OK;
  cavum_point a = cavum_survey_wall_place(&before, wall, run, from_m);
  cavum_point b = cavum_survey_wall_place(&behind, wall, run, to_m);
  double turn = behind - before;
  bool by_length = largest_gap_m > 0.0 || gap_m > LARGEST_PART * length_m;
  if (!by_length && turn <= LARGEST_TURN_RAD) return CAVUM_OK;
  char why[96];
  if (by_length) {
    double most_m = largest_gap_m > 0.0 ? largest_gap_m : LARGEST_PART * length_m;
    snprintf(why, sizeof why, "%.4g mm, expected at most %.4g mm", cavum_in_mm(gap_m),
             cavum_in_mm(most_m));
  } else {
    snprintf(why, sizeof why, "where the wall turns by %.3g degrees, expected at most %.3g",
             cavum_in_unit(turn, CAVUM_UNIT_DEGREE),
             cavum_in_unit(LARGEST_TURN_RAD, CAVUM_UNIT_DEGREE));
  }
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "%s: no points between z = %.4f mm, r = %.4f mm and z = %.4f mm, r = %.4f mm: "
                    "%s",
                    name, cavum_in_mm(a.z_m), cavum_in_mm(a.r_m), cavum_in_mm(b.z_m),
                    cavum_in_mm(b.r_m), why);
}

cavum_status cavum_survey_check_gaps(double *along_m, int64_t num_points,
                                     const cavum_survey_wall *wall, int run, double largest_gap_m,
                                     const char *name, cavum_error *error) {
  double from_m = 0.0;
  if (num_points > 0) qsort(along_m, (size_t)num_points, sizeof *along_m, compare);
  for (int64_t i = 0; i <= num_points; i++) {
    double to_m = i < num_points ? along_m[i] : wall->run_length_m[run];
    cavum_status status = check(from_m, to_m, wall, run, largest_gap_m, name, error);
    if (status != CAVUM_OK) return status;
    from_m = to_m;
  }
  if (num_points >= 2 && along_m[num_points - 1] > along_m[0]) return CAVUM_OK;
  cavum_point at = cavum_survey_wall_place(NULL, wall, run, 0.0);
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "%s: fewer than two points on the piece from z = %.4f mm, r = %.4f mm", name,
                    cavum_in_mm(at.z_m), cavum_in_mm(at.r_m));
}
