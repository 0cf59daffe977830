// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes at random beside the best one: none may be better by more than both uncertainties.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/scan.h"
#include "cavum/scan_store.h"
#include "optimum_goal.h"

static const double EPK = 2.0, ANGLE_DEG = 5.0, APERTURE_MM = 35.0;

static double *read_column(const cavum_stored_scan *scan, const char *key, int64_t rows) {
  cavum_error error = {0};
  double *values = cavum_alloc(rows, sizeof *values);
  int column = cavum_stored_scan_find(scan, key);
  if (!values || column < 0) exit(EXIT_FAILURE);
  if (cavum_stored_scan_read(values, scan, column, 0, rows, &error) != CAVUM_OK)
    optimum_die(&error);
  return values;
}

/** What came of shapes. */
typedef struct tally {
  int64_t held, feasible, better;
  double least;  // objective of those within the limits, mT/(MV/m)
} tally;

// Shapes within the limits that are better than the best one by more than both uncertainties, and
// the least objective of any.
static void count_better(tally *t, const cavum_stored_scan *scan, const cavum_optimum *best) {
  int64_t rows = cavum_stored_scan_num_rows(scan);
  double *e = read_column(scan, "epk_over_eacc", rows);
  double *b = read_column(scan, "bpk_over_eacc_mT_per_MV_per_m", rows);
  double *b_known_to = read_column(scan, "bpk_over_eacc_mT_per_MV_per_m_uncertainty", rows);
  double *angle = read_column(scan, "wall_angle_deg", rows);
  double *iris = read_column(scan, "iris_radius_mm", rows);
  double value = 1e9 * best->terms[0].value, known_to = 1e9 * best->terms[0].uncertainty;
  for (int64_t i = 0; i < rows; i++) {
    t->held += isfinite(b[i]);
    if (!(e[i] <= EPK && angle[i] >= ANGLE_DEG && iris[i] >= APERTURE_MM)) continue;
    t->feasible++;
    t->least = cavum_min(t->least, b[i]);
    t->better += b[i] + b_known_to[i] < value - known_to;
  }
  free(e);
  free(b);
  free(b_known_to);
  free(angle);
  free(iris);
}

static void write_study(char text[2000], const double *low, const double *high, long points,
                        int seed) {
  char vary[1000];
  optimum_write_vary(vary, low, high);
  snprintf(text, 2000,
           "%ssampling: {kind: sobol, points: %ld, seed: %d}\n"
           "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n",
           vary, points, seed);
}

static void scan(tally *t, const cavum_optimum *best, const double *low, const double *high,
                 long points, int seed, const char *folder) {
  char text[2000], path[300];
  cavum_cell cell = optimum_read_cell(OPTIMUM_CELL);
  cavum_study *study = NULL;
  cavum_scan_records *records = NULL;
  cavum_stored_scan *stored = NULL;
  cavum_error error = {0};
  cavum_scan_options options = cavum_scan_options_default();
  write_study(text, low, high, points, seed);
  snprintf(path, sizeof path, "%s/scan.hdf", folder);
  cavum_status status = cavum_study_open_text(&study, text, strlen(text), NULL, &cell, &error);
  fflush(stdout);  // nothing of it is in the workers
  if (status == CAVUM_OK) status = cavum_scan_run(NULL, study, path, &options, &error);
  if (status == CAVUM_OK) status = cavum_scan_records_open(&records, study, path, &error);
  if (status == CAVUM_OK) status = cavum_store_write_scan(path, study, records, &error);
  if (status == CAVUM_OK) status = cavum_stored_scan_open(&stored, path, &error);
  if (status != CAVUM_OK) optimum_die(&error);
  count_better(t, stored, best);
  cavum_stored_scan_close(&stored);
  cavum_scan_records_close(&records);
  if (cavum_scan_records_remove(path, &error) != CAVUM_OK) optimum_die(&error);
  remove(path);
  cavum_study_close(&study);
  cavum_cell_clear(&cell);
}

static void print_row(const char *what, const tally *t) {
  printf("| %s | %lld | %lld | %.6f | %lld |\n", what, (long long)t->held, (long long)t->feasible,
         t->least, (long long)t->better);
  fflush(stdout);
}

// Steps from the best shape of up to a part of the ranges, until enough are within the limits. The
// aperture stands at its limit, so that it only grows.
static void take_steps(tally *t, const cavum_optimum *best, double size, long steps,
                       const char *folder) {
  enum { POINTS = 1000, MOST_SCANS = 50 };
  double low[OPTIMUM_NUM_VARIED], high[OPTIMUM_NUM_VARIED];
  for (int j = 0; j < OPTIMUM_NUM_VARIED; j++) {
    double value = best->variables[j].value, step = size * (optimum_high[j] - optimum_low[j]);
    bool aperture = strcmp(optimum_names[j], "iris_radius_mm") == 0;
    low[j] = aperture ? cavum_max(value, APERTURE_MM) : cavum_max(value - step, optimum_low[j]);
    high[j] = cavum_min(value + step, optimum_high[j]);
  }
  for (int k = 0; k < MOST_SCANS && t->feasible < steps; k++) {
    scan(t, best, low, high, POINTS, k, folder);
  }
}

void optimum_run_random(long shapes, long steps) {
  // Two thirds of the points are shapes that can hold the frequency.
  const double POINTS_FOR_A_SHAPE = 1.5;
  static const double sizes[2] = {1e-2, 1e-3};
  static const char *const names[2] = {"steps of up to 1 % of the ranges", "of up to 0.1 %"};
  char folder[] = "/tmp/cavum-bench-XXXXXX";
  cavum_optimum *best = optimum_search(EPK, ANGLE_DEG, 4);
  if (!mkdtemp(folder)) exit(EXIT_FAILURE);
  printf(
      "The search comes to %.6f mT/(MV/m), known to %.0e, after %d solves.\n\n"
      "| shapes | with the frequency held | within all limits | best of these, mT/(MV/m) | better "
      "by "
      "more than both uncertainties |\n| --- | ---: | ---: | ---: | ---: |\n",
      1e9 * best->terms[0].value, 1e9 * best->terms[0].uncertainty, best->num_solves);
  tally all = {.least = HUGE_VAL};
  scan(&all, best, optimum_low, optimum_high, (long)(POINTS_FOR_A_SHAPE * (double)shapes), 0,
       folder);
  print_row("points of a Sobol sequence within the bounds", &all);
  for (int k = 0; k < 2; k++) {
    tally near = {.least = HUGE_VAL};
    take_steps(&near, best, sizes[k], steps, folder);
    print_row(names[k], &near);
  }
  puts("");
  rmdir(folder);
  cavum_optimum_destroy(&best);
}
