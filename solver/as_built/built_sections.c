// SPDX-License-Identifier: GPL-3.0-or-later
// The change is integrated with the mean of the derivatives of both walls, which is exact to the
// second order of the deviation.
#include "as_built/built_sections.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"

enum { SECTIONS_CHOSEN = 20, SECTIONS_MOST = 10000 };

static double whole_length_m(const cavum_survey *survey) {
  double whole = 0.0;
  for (int run = 0; run < survey->wall.num_runs; run++) whole += survey->wall.run_length_m[run];
  return whole;
}

// Part of a point's piece of the wall that lies in a section of the same run.
static double part_of(const cavum_built_point *p, double from_m, double to_m) {
  double inside = cavum_min(p->to_m, to_m) - cavum_max(p->from_m, from_m);
  return inside > 0.0 ? inside / (p->to_m - p->from_m) : 0.0;
}

static void add_change(cavum_as_built_section *section, double *length_m,
                       const cavum_built_points *points, int run, double from_m, double to_m) {
  for (cavum_index i = 0; i < points->num_points; i++) {
    const cavum_built_point *p = &points->points[i];
    if (p->foot.run != run) continue;
    double part = part_of(p, from_m, to_m), length = part * (p->to_m - p->from_m);
    section->change_hz += 0.5 * part * p->change[CAVUM_BUILT_FIGURE_F] * p->deviation_m;
    section->deviation_m += length * p->deviation_m;
    *length_m += length;
  }
}

/** Work of the uncertainties. */
typedef struct weighing {
  cavum_foot *places;
  double *weights;
} weighing;

static cavum_status set_uncertainty(cavum_as_built_section *section, const weighing *w,
                                    const cavum_built_pair *pair, int run, double from_m,
                                    double to_m, cavum_error *error) {
  double noise = 0.0, all = 0.0, shifted = 0.0;
  for (cavum_index i = 0; i < pair->built.num_points; i++) {
    const cavum_built_point *p = &pair->built.points[i];
    double part = p->foot.run == run ? part_of(p, from_m, to_m) : 0.0;
    w->places[i] = p->foot;
    w->weights[i] = part * p->change[CAVUM_BUILT_FIGURE_F];
    all += w->weights[i];
    shifted += w->weights[i] * p->foot.normal_z;
  }
  cavum_status status = cavum_survey_uncertainty(&noise, pair->survey, w->places, w->weights,
                                                 pair->built.num_points, error);
  if (status != CAVUM_OK) return status;
  shifted *= pair->survey->view.shift_uncertainty_m;
  section->uncertainty_hz = hypot(hypot(noise, all * pair->probe_uncertainty_m), shifted);
  return CAVUM_OK;
}

static cavum_status fill_run(cavum_as_built_section *sections, int count, int run,
                             const weighing *w, const cavum_built_pair *pair, cavum_error *error) {
  const cavum_survey_wall *wall = &pair->survey->wall;
  for (int k = 0; k < count; k++) {
    cavum_as_built_section *s = &sections[k];
    double from_m = wall->run_length_m[run] * k / count, length_m = 0.0;
    double to_m = wall->run_length_m[run] * (k + 1) / count;
    cavum_point a = cavum_survey_wall_place(NULL, wall, run, from_m);
    cavum_point b = cavum_survey_wall_place(NULL, wall, run, to_m);
    *s = (cavum_as_built_section){.from_m = wall->run_start_m[run] + from_m,
                                  .to_m = wall->run_start_m[run] + to_m,
                                  .from_z_m = a.z_m,
                                  .from_r_m = a.r_m,
                                  .to_z_m = b.z_m,
                                  .to_r_m = b.r_m};
    add_change(s, &length_m, &pair->drawn, run, from_m, to_m);
    add_change(s, &length_m, &pair->built, run, from_m, to_m);
    s->deviation_m /= length_m;
    cavum_status status = set_uncertainty(s, w, pair, run, from_m, to_m, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static int sections_of_run(const cavum_survey *survey, int run, double section_m) {
  return (int)cavum_max(1.0, floor(survey->wall.run_length_m[run] / section_m + 0.5));
}

cavum_status cavum_built_sections_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                       double section_m, cavum_error *error) {
  const cavum_survey *survey = pair->survey;
  double whole_m = whole_length_m(survey);
  cavum_status status = CAVUM_OK;
  weighing w = {0};
  int at = 0, count = 0;
  if (!(section_m > 0.0)) section_m = whole_m / SECTIONS_CHOSEN;
  if (whole_m / section_m > SECTIONS_MOST) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "sections of %.6g mm: more than %d of them on %.6g mm of wall",
                      cavum_in_mm(section_m), SECTIONS_MOST, cavum_in_mm(whole_m));
  }
  for (int run = 0; run < survey->wall.num_runs; run++) {
    count += sections_of_run(survey, run, section_m);
  }
  made->sections = cavum_alloc(count, sizeof *made->sections);
  w.places = cavum_alloc(pair->built.num_points, sizeof *w.places);
  w.weights = cavum_alloc(pair->built.num_points, sizeof *w.weights);
  if (!made->sections || !w.places || !w.weights) CAVUM_TRY(cavum_fail_memory(error));
  made->num_sections = count;
  for (int run = 0; run < survey->wall.num_runs; run++) {
    int of_run = sections_of_run(survey, run, section_m);
    CAVUM_TRY(fill_run(made->sections + at, of_run, run, &w, pair, error));
    at += of_run;
  }
done:
  free(w.places);
  free(w.weights);
  return status;
}

// ---- curves

static void fill_place(cavum_as_built *made, cavum_index i, const cavum_built_pair *pair) {
  const cavum_built_point *p = &pair->drawn.points[i];
  const cavum_survey *survey = pair->survey;
  int run = p->foot.run;
  double along_m = p->foot.along_m;
  cavum_point place = cavum_survey_wall_place(NULL, &survey->wall, run, along_m);
  double drawn = cavum_built_points_slope_hz_per_m2(&pair->drawn, run, along_m);
  double built = cavum_built_points_slope_hz_per_m2(&pair->built, run, along_m);
  made->along_m[i] = survey->wall.run_start_m[run] + along_m;
  made->z_m[i] = place.z_m;
  made->r_m[i] = place.r_m;
  made->deviation_m[i] = p->deviation_m;
  made->deviation_uncertainty_m[i] = cavum_smooth_deviation_m(&survey->runs[run], along_m);
  made->slope_hz_per_m2[i] = 0.5 * (drawn + built);
  made->change_hz_per_m[i] = made->deviation_m[i] * made->slope_hz_per_m2[i];
}

cavum_status cavum_built_places_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                     cavum_error *error) {
  cavum_index n = pair->drawn.num_points;
  double **columns[] = {&made->along_m,
                        &made->z_m,
                        &made->r_m,
                        &made->deviation_m,
                        &made->deviation_uncertainty_m,
                        &made->slope_hz_per_m2,
                        &made->change_hz_per_m};
  for (size_t k = 0; k < sizeof columns / sizeof *columns; k++) {
    *columns[k] = cavum_alloc(n, sizeof(double));
    if (!*columns[k]) return cavum_fail_memory(error);
  }
  made->num_places = n;
  for (cavum_index i = 0; i < n; i++) fill_place(made, i, pair);
  return CAVUM_OK;
}
