// SPDX-License-Identifier: GPL-3.0-or-later
// Measured walls: what fitting 2,000 points costs beside the solve, and how often the frequency is
// inside 1.96 of its standard uncertainties over 5,000 draws of noise on a known profile. Asserts
// nothing. Usage: bench_as_built [DRAWS]
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "as_built/built_points.h"
#include "cavum/as_built.h"
#include "measured_wall.h"

enum { NUM_POINTS = 2000, NUM_DRAWS = 5000, NUM_RUNS = 7 };
static const double NOISE_M = 5e-6, INSIDE = 1.959964;

static double work_seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/** A wall with a known wave. */
typedef struct wave_wall {
  cavum_cell cell;
  cavum_contour drawing;
  measured_wave wave;
  cavum_result *result;
} wave_wall;

static void open_wave(wave_wall *w) {
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  cavum_status status = cavum_cell_read_file(&w->cell, CAVUM_CELLS_FOLDER "/mid-cell.yaml", &error);
  w->wave = (measured_wave){20e-6, w->cell.left.half_length_m};
  if (status == CAVUM_OK) {
    status = cavum_cell_make_contour(&w->drawing, &w->cell, CAVUM_PART_WHOLE, &error);
  }
  if (status == CAVUM_OK) status = cavum_solve(&w->result, &w->cell, &options, &error);
  if (status != CAVUM_OK) {
    printf("%s\n", error.message);
    exit(1);
  }
}

// Frequency that a fit finds less the true one, over its standard uncertainty, to first order.
static double normal_error(const wave_wall *w, const cavum_survey *survey) {
  cavum_built_points points = {0};
  double off_hz = 0.0, uncertainty_hz = 0.0;
  if (cavum_built_points_make(&points, &w->result->modes[0], survey, NULL) != CAVUM_OK) exit(1);
  cavum_index n = points.num_points;
  cavum_foot *places = cavum_alloc(n, sizeof *places);
  double *weights = cavum_alloc(n, sizeof *weights);
  for (cavum_index i = 0; i < n; i++) {
    const cavum_built_point *p = &points.points[i];
    const cavum_curve *curve = &w->drawing.curves[survey->wall.curves[p->foot.curve].curve];
    places[i] = p->foot;
    weights[i] = p->change[CAVUM_BUILT_FIGURE_F];
    off_hz += weights[i] * (p->deviation_m - measured_wall_wave(curve, p->foot.t, &w->wave));
  }
  if (cavum_survey_uncertainty(&uncertainty_hz, survey, places, weights, n, NULL) != CAVUM_OK) {
    exit(1);
  }
  free(places);
  free(weights);
  cavum_built_points_clear(&points);
  return off_hz / uncertainty_hz;
}

static measured_wall wall_of(const wave_wall *w, int64_t num_points) {
  return (measured_wall){.drawing = &w->drawing,
                         .truth = {measured_wall_wave, &w->wave, CAVUM_GRADED_CLOSE_M},
                         .num_points = num_points,
                         .noise_m = NOISE_M};
}

static void fit(cavum_survey *survey, const wave_wall *w, const cavum_survey_points *points,
                cavum_survey_motion motion) {
  const cavum_survey_settings settings = {.scatter_m = NOISE_M, .motion = motion};
  cavum_error error = {0};
  if (cavum_survey_fit(survey, &w->drawing, points, &settings, "points", &error) == CAVUM_OK) {
    return;
  }
  printf("%s\n", error.message);
  exit(1);
}

static void print_cost(const wave_wall *w) {
  random_state state = {1};
  measured_wall wall = wall_of(w, NUM_POINTS);
  double fit_s = 1e300, contour_s = 1e300;
  for (int run = 0; run < NUM_RUNS; run++) {
    cavum_survey survey = {0};
    cavum_contour contour = {0};
    cavum_survey_points points = measured_wall_points(&wall, &state);
    double start_s = work_seconds();
    fit(&survey, w, &points, CAVUM_MOTION_SHIFT_AND_TILT);
    double fitted_s = work_seconds();
    if (cavum_survey_contour(&contour, &survey, NULL) != CAVUM_OK) exit(1);
    fit_s = cavum_min(fit_s, fitted_s - start_s);
    contour_s = cavum_min(contour_s, work_seconds() - fitted_s);
    cavum_contour_clear(&contour);
    cavum_survey_clear(&survey);
    cavum_survey_points_clear(&points);
  }
  printf("Processor time of %d points: fit %.1f ms, contour %.1f ms\n", NUM_POINTS, 1e3 * fit_s,
         1e3 * contour_s);
}

static void print_coverage(const wave_wall *w, int draws) {
  random_state state = {2024};
  int inside = 0;
  double sum = 0.0, squares = 0.0;
  measured_wall wall = wall_of(w, 500);
  for (int k = 0; k < draws; k++) {
    cavum_survey survey = {0};
    cavum_survey_points points = measured_wall_points(&wall, &state);
    fit(&survey, w, &points, CAVUM_MOTION_NONE);
    double off = normal_error(w, &survey);
    inside += fabs(off) <= INSIDE;
    sum += off;
    squares += off * off;
    cavum_survey_clear(&survey);
    cavum_survey_points_clear(&points);
  }
  printf(
      "%d draws of noise: %.2f %% inside 1.96 standard uncertainties (expected 95 %% +- %.2f), "
      "mean %.3f, deviation %.3f\n",
      draws, 100.0 * inside / draws, 100.0 * sqrt(0.95 * 0.05 / draws), sum / draws,
      sqrt(squares / draws));
}

int main(int argc, char **argv) {
  wave_wall w = {0};
  open_wave(&w);
  print_cost(&w);
  print_coverage(&w, argc > 1 ? atoi(argv[1]) : NUM_DRAWS);
  cavum_result_destroy(&w.result);
  cavum_contour_clear(&w.drawing);
  cavum_cell_clear(&w.cell);
  return 0;
}
