// SPDX-License-Identifier: GPL-3.0-or-later
// The planes are those of the drawing; the points are where the best fit has put them.
#include "as_built/built_survey.h"

#include <math.h>

#include "base/base.h"
#include "survey/planes.h"

// Chance moves a plane by more than so many of its uncertainties in one of a million surveys.
static const double ELSEWHERE = 5.0;

// The left plane is the one with the smaller z.
static void take_plane(cavum_as_built *made, const cavum_survey_plane *found, double z_m,
                       bool is_right) {
  cavum_as_built_plane *plane = &made->planes[is_right];
  *plane = (cavum_as_built_plane){
      .z_m = z_m,
      .beyond_m = found->beyond_m,
      .uncertainty_m = found->uncertainty_m,
      .is_elsewhere = fabs(found->beyond_m) > ELSEWHERE * found->uncertainty_m};
}

static double middle_of(const cavum_survey *s) {
  double low = INFINITY, high = -INFINITY;
  for (cavum_index i = 0; i < s->drawing.num_curves; i++) {
    low = cavum_min(low, s->drawing.curves[i].start.z_m);
    high = cavum_max(high, s->drawing.curves[i].start.z_m);
  }
  return 0.5 * (low + high);
}

cavum_status cavum_built_planes_fill(cavum_as_built *made, const cavum_survey *survey,
                                     cavum_error *error) {
  double middle_m = middle_of(survey);
  made->planes[0] = made->planes[1] = (cavum_as_built_plane){.z_m = NAN};
  for (int run = 0; run < survey->wall.num_runs; run++) {
    for (int end = 0; end < 2; end++) {
      cavum_survey_plane found = {0};
      double at_m = end ? survey->wall.run_length_m[run] : 0.0;
      cavum_status status = cavum_survey_plane_find(&found, survey, run, end == 1, error);
      if (status != CAVUM_OK) return status;
      double z_m = cavum_survey_wall_place(NULL, &survey->wall, run, at_m).z_m;
      if (found.is_known) take_plane(made, &found, z_m, z_m > middle_m);
    }
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
