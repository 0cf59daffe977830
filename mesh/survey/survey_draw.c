// SPDX-License-Identifier: GPL-3.0-or-later
// Fits are linear in the distances once the points are chosen: their splines change by those of
// what is added.
#include <string.h>

#include "base/base.h"
#include "survey/survey.h"

static cavum_status add_to_run(cavum_smooth *smooth, const cavum_survey *survey, int run,
                               const double *moved_m, const double *bends_m, double *work,
                               cavum_error *error) {
  int64_t n = survey->view.num_points, count = 0;
  double *along_m = work, *more_m = work + n;
  for (int64_t i = 0; i < n; i++) {
    if (!survey->used[i] || survey->view.feet[i].run != run) continue;
    along_m[count] = survey->view.feet[i].along_m;
    more_m[count++] = moved_m[i];
  }
  double *added = cavum_alloc(smooth->num_coefficients, sizeof *added);
  if (!added) return cavum_fail_memory(error);
  cavum_status status = cavum_smooth_add(added, smooth, along_m, more_m, count, bends_m, error);
  for (int j = 0; status == CAVUM_OK && j < smooth->num_coefficients; j++) {
    added[j] += survey->runs[run].coefficients[j];
  }
  smooth->coefficients = added;  // its owner frees it in any case
  return status;
}

int64_t cavum_survey_num_bends(const cavum_survey *survey) {
  int64_t sum = 0;
  for (int run = 0; run < survey->wall.num_runs; run++) {
    sum += cavum_smooth_num_bends(&survey->runs[run]);
  }
  return sum;
}

cavum_status cavum_survey_draw(cavum_contour *contour, const cavum_survey *survey,
                               const cavum_survey_noise *noise, cavum_error *error) {
  const double *bends_m = noise->bends_m;
  int64_t n = survey->view.num_points;
  int num_runs = survey->wall.num_runs, made = 0;
  cavum_status status = CAVUM_OK;
  cavum_survey moved = *survey;  // borrows all but the coefficients of its runs
  double *moved_m = cavum_alloc(3 * n, sizeof *moved_m);
  moved.runs = cavum_alloc(num_runs, sizeof *moved.runs);
  if (!moved_m || !moved.runs) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < n; i++) moved_m[i] = noise->points_m[i] + noise->shift_m;
  CAVUM_TRY(cavum_survey_view_settle(moved_m, &survey->view, survey->used, error));
  for (; made < num_runs; made++) {
    moved.runs[made] = survey->runs[made];
    moved.runs[made].coefficients = NULL;
    status = add_to_run(&moved.runs[made], survey, made, moved_m, bends_m, moved_m + n, error);
    if (bends_m) bends_m += cavum_smooth_num_bends(&survey->runs[made]);
    if (status == CAVUM_OK) continue;
    made++;
    goto done;
  }
  CAVUM_TRY(cavum_survey_contour(contour, &moved, error));
done:
  for (int run = 0; run < made; run++) free(moved.runs[run].coefficients);
  free(moved.runs);
  free(moved_m);
  return status;
}
