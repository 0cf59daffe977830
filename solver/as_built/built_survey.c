// SPDX-License-Identifier: GPL-3.0-or-later
// The planes are those of the drawing; the points are where the best fit has put them.
#include "as_built/built_survey.h"

#include <math.h>

#include "base/base.h"
#include "survey/planes.h"

cavum_status cavum_built_planes_fill(cavum_as_built *made, const cavum_survey *survey,
                                     cavum_error *error) {
  cavum_survey_ends ends;
  cavum_status status = cavum_survey_ends_find(&ends, survey, error);
  if (status != CAVUM_OK) return status;
  for (int k = 0; k < 2; k++) {
    made->planes[k] = (cavum_as_built_plane){.z_m = ends.z_m[k],
                                             .beyond_m = ends.plane[k].beyond_m,
                                             .uncertainty_m = ends.plane[k].uncertainty_m,
                                             .is_elsewhere = ends.is_elsewhere[k]};
  }
  return CAVUM_OK;
}

static int compare(const void *a, const void *b) {
  double x = ((const cavum_as_built_outlier *)a)->along_m;
  double y = ((const cavum_as_built_outlier *)b)->along_m;
  return (x > y) - (x < y);
}

cavum_status cavum_built_outliers_fill(cavum_as_built *made, const cavum_survey *survey,
                                       cavum_error *error) {
  int64_t n = 0;
  made->outliers = cavum_alloc(survey->view.num_points, sizeof *made->outliers);
  if (!made->outliers) return cavum_fail_memory(error);
  for (int64_t i = 0; i < survey->view.num_points; i++) {
    const cavum_foot *foot = &survey->view.feet[i];
    if (survey->used[i] || foot->beyond) continue;
    cavum_point at = cavum_survey_wall_place(NULL, &survey->wall, foot->run, foot->along_m);
    double off_m = survey->deviation_m[i];
    made->outliers[n++] =
        (cavum_as_built_outlier){.z_m = at.z_m + off_m * foot->normal_z,
                                 .r_m = at.r_m + off_m * foot->normal_r,
                                 .along_m = survey->wall.run_start_m[foot->run] + foot->along_m,
                                 .distance_m = off_m};
  }
  if (n > 0) qsort(made->outliers, (size_t)n, sizeof *made->outliers, compare);
  return CAVUM_OK;
}
