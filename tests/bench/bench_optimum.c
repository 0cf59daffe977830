// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape: closed forms; solves of a start, and its processor time over that of its solves;
// a front; shapes at random beside the best one; a population method of a general library.
// Usage: bench_optimum [--shapes N] [closed|starts|front|population|random]..., without names all
// of them; N shapes at random, 2,000 without. The full run of these is --shapes 100000 random.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "base/base.h"
#include "cavum/geometry.h"
#include "cavum/optimum.h"
#include "cavum/scan.h"
#include "cavum/scan_store.h"
#include "cavum/tune.h"

#define CELL                                               \
  "contour:\n"                                             \
  "  kind: two-ellipse\n"                                  \
  "  half_length_mm: 57.652\n"                             \
  "  iris_radius_mm: 35.0\n"                               \
  "  equator_radius_mm: 103.3\n"                           \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"    \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\nmodes: {count: 1}\n"

// Bounds of the dimensions that vary; the equator radius holds the frequency.
enum { NUM_VARIED = 5 };
static const char *const NAMES[NUM_VARIED] = {"equator_ellipse.axial_mm",
                                              "equator_ellipse.radial_mm", "iris_ellipse.axial_mm",
                                              "iris_ellipse.radial_mm", "iris_radius_mm"};
static const double LOW[NUM_VARIED] = {30, 20, 6, 8, 30}, HIGH[NUM_VARIED] = {54, 60, 20, 40, 40};

#define GOAL                                                                    \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n"     \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                                   \
  "limits:\n  wall_angle_deg: {least: %g}\n  aperture_radius_mm: {least: 35}\n" \
  "  epk_over_eacc: {most: %g}\nstarts: %d\n"

static void write_vary(char text[1000], const double *low, const double *high) {
  size_t used = (size_t)snprintf(text, 1000, "vary:\n");
  for (int j = 0; j < NUM_VARIED; j++) {
    used += (size_t)snprintf(text + used, 1000 - used, "  %s: {from: %.12g, to: %.12g}\n", NAMES[j],
                             low[j], high[j]);
  }
}

static double processor_seconds(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void die(const cavum_error *error) {
  fprintf(stderr, "bench_optimum: %s\n", error->message);
  exit(1);
}

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  if (cavum_cell_read_text(&cell, text, strlen(text), NULL, &error) != CAVUM_OK) die(&error);
  return cell;
}

// Seconds of a solve with what a search takes of it, on neighbours of the best shape.
static double time_solve(const char *text) {
  enum { SOLVES = 20 };
  cavum_cell cell = read_cell(text);
  cavum_solver *solver = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = options.profiles = options.wall_derivatives = true;
  options.wall_derivatives_above = 0.8;
  options.derivatives_of =
      UINT64_C(1) << CAVUM_FIGURE_FREQUENCY | UINT64_C(1) << CAVUM_FIGURE_EPK_OVER_EACC |
      UINT64_C(1) << CAVUM_FIGURE_BPK_OVER_EACC | UINT64_C(1) << CAVUM_FIGURE_EACC_AT_1_J;
  if (cavum_solver_create(&solver, &options, &error) != CAVUM_OK) die(&error);
  double begin = processor_seconds();
  for (int i = 0; i < SOLVES; i++) {
    cavum_result *result = NULL;
    cell.right.equator_axial_m *= 1.0 + 1e-3 * (i % 3 - 1);
    cell.left.equator_axial_m = cell.right.equator_axial_m;
    if (cavum_solver_solve(&result, solver, &cell, &error) != CAVUM_OK) die(&error);
    cavum_result_destroy(&result);
  }
  double seconds = (processor_seconds() - begin) / SOLVES;
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
  return seconds;
}

static cavum_goal *open_goal(const char *cell_text, const char *text) {
  cavum_cell cell = read_cell(cell_text);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  if (cavum_goal_open_text(&goal, text, strlen(text), "goal", &cell, &error) != CAVUM_OK) {
    die(&error);
  }
  cavum_cell_clear(&cell);
  return goal;
}

static cavum_optimum *optimise(double epk, double angle_deg, int starts) {
  char text[2000], vary[1000];
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  write_vary(vary, LOW, HIGH);
  snprintf(text, sizeof text, "%s" GOAL, vary, angle_deg, epk, starts);
  cavum_goal *goal = open_goal(CELL, text);
  cavum_status status = cavum_optimise(&optimum, goal, NULL, &error);
  if (status != CAVUM_OK && status != CAVUM_ERR_NOT_CONVERGED) die(&error);
  cavum_goal_close(&goal);
  return optimum;
}

static void run(double epk, double angle_deg, int starts) {
  double begin = processor_seconds();
  cavum_optimum *optimum = optimise(epk, angle_deg, starts);
  double seconds = processor_seconds() - begin;
  int most = 0, best = 0;
  for (int i = 0; i < optimum->num_starts; i++) {
    if (optimum->starts[i].num_solves > most) most = optimum->starts[i].num_solves;
    best += optimum->starts[i].is_best;
  }
  printf(
      "E_pk/E_acc <= %g, %g deg: B_pk/E_acc %.5f mT/(MV/m), %d of %d starts, %.1f solves a start "
      "(most %d), %d optima, %.2f times the solves alone\n",
      epk, angle_deg, 1e9 * optimum->terms[0].value, best, optimum->num_starts,
      (double)optimum->num_solves / optimum->num_starts, most, optimum->num_optima,
      seconds / (optimum->num_solves * time_solve(optimum->cell_text)));
  fputs("  solves of each start:", stdout);
  for (int i = 0; i < optimum->num_starts; i++) printf(" %d", optimum->starts[i].num_solves);
  puts("");
  fflush(stdout);
  cavum_optimum_destroy(&optimum);
}

static void run_starts(void) {
  static const double peaks[] = {1.9, 2.0, 2.1, 2.2, 2.3, 2.4};
  puts("must reach: 40 solves a start, 1.5 times their time");
  for (int i = 0; i < 6; i++) run(peaks[i], 5.0, 20);
}

#define PILLBOX                                                    \
  "contour:\n"                                                     \
  "  kind: path\n"                                                 \
  "  start: {z_mm: -40.0, r_mm: 0.0}\n"                            \
  "  path:\n"                                                      \
  "    - {line_to: {z_mm: 40.0, r_mm: 0.0}, boundary: axis}\n"     \
  "    - {line_to: {z_mm: 40.0, r_mm: 100.0}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: -40.0, r_mm: 100.0}, boundary: metal}\n" \
  "    - {line_to: {z_mm: -40.0, r_mm: 0.0}, boundary: metal}\n"   \
  "modes: {count: 1}\n"                                            \
  "accuracy: {frequency: 1.0e-11, other_figures: 1.0e-8}\n"

#define GAP                                                \
  "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\n" \
  "linked:\n"                                              \
  "  - path[1].line_to.z_mm = path[2].line_to.z_mm\n"      \
  "  - path[3].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "  - start.z_mm = -path[2].line_to.z_mm\n"               \
  "  - path[4].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "starts: 1\n"                                            \
  "tolerance: 1.0e-8\n"

// x = k d / 2 of the best gap: tan x = 2 x, tan x = 2 (x + x01 / 2), pi / 2.
static void run_closed(void) {
  static const struct {
    const char *objective;
    double phase;
  } cases[] = {{"maximise: r_over_q_linac_ohm\n", 1.165561185207211},
               {"maximise: {r_over_q_linac_ohm: 1, geometry_factor_ohm: 1}\n", 1.379509944},
               {"minimise: epk_over_eacc\n", 1.5707963267948966},
               {"minimise: bpk_over_eacc_mT_per_MV_per_m\n", 1.5707963267948966}};
  puts("gap of a pillbox, must reach 1e-6:");
  for (int i = 0; i < 4; i++) {
    char text[2000];
    cavum_optimum *optimum = NULL;
    cavum_error error = {0};
    snprintf(text, sizeof text, GAP "%s", cases[i].objective);
    cavum_goal *goal = open_goal(PILLBOX, text);
    if (cavum_optimise(&optimum, goal, NULL, &error) != CAVUM_OK) die(&error);
    double phase = 2.404825557695773 / 0.1 * optimum->variables[0].value * 1e-3;
    printf("  %.*s: x %.9f, off by %.1e, %d solves\n", (int)strlen(cases[i].objective) - 1,
           cases[i].objective, phase, phase / cases[i].phase - 1.0, optimum->num_solves);
    cavum_optimum_destroy(&optimum);
    cavum_goal_close(&goal);
  }
}

static void run_front(void) {
  char text[2000], vary[1000];
  cavum_front *front = NULL;
  cavum_error error = {0};
  write_vary(vary, LOW, HIGH);
  snprintf(text, sizeof text,
           "%shold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n"
           "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
           "limits: {wall_angle_deg: {least: 5}, aperture_radius_mm: {least: 35}}\n"
           "front: {epk_over_eacc: {from: 1.9, to: 2.4, points: 50}}\n",
           vary);
  cavum_goal *goal = open_goal(CELL, text);
  if (cavum_optimise_front(&front, goal, NULL, &error) != CAVUM_OK) die(&error);
  int count[4] = {0};
  for (int i = 0; i < front->num_points; i++) count[front->points[i].kind]++;
  printf(
      "front of 50 points, must reach 1000 solves: %d solves, %d points, %d beyond, %d gaps, %d "
      "dominated\n",
      front->num_solves, count[CAVUM_FRONT_POINT], count[CAVUM_FRONT_BEYOND],
      count[CAVUM_FRONT_GAP], count[CAVUM_FRONT_DOMINATED]);
  cavum_front_destroy(&front);
  cavum_goal_close(&goal);
}

// ---- shapes at random

static double *read_column(const cavum_stored_scan *scan, const char *key, int64_t rows) {
  cavum_error error = {0};
  double *values = cavum_alloc(rows, sizeof *values);
  int column = cavum_stored_scan_find(scan, key);
  if (!values || column < 0) exit(EXIT_FAILURE);
  if (cavum_stored_scan_read(values, scan, column, 0, rows, &error) != CAVUM_OK) die(&error);
  return values;
}

// Shapes within the limits that are better than the best one by more than both uncertainties, and
// the least objective of any.
static void count_better(const cavum_stored_scan *scan, const cavum_optimum *best,
                         const char *what) {
  int64_t rows = cavum_stored_scan_num_rows(scan), known = 0, feasible = 0, better = 0;
  double *e = read_column(scan, "epk_over_eacc", rows);
  double *b = read_column(scan, "bpk_over_eacc_mT_per_MV_per_m", rows);
  double *b_known_to = read_column(scan, "bpk_over_eacc_mT_per_MV_per_m_uncertainty", rows);
  double *angle = read_column(scan, "wall_angle_deg", rows);
  double *iris = read_column(scan, "iris_radius_mm", rows);
  double value = 1e9 * best->terms[0].value, least = HUGE_VAL;
  double known_to = 1e9 * best->terms[0].uncertainty;
  for (int64_t i = 0; i < rows; i++) {
    known += isfinite(b[i]);
    if (!(e[i] <= 2.0 && angle[i] >= 5.0 && iris[i] >= 35.0)) continue;
    feasible++;
    least = cavum_min(least, b[i]);
    better += b[i] + b_known_to[i] < value - known_to;
  }
  printf(
      "%s: %lld held shapes, %lld within the limits, the best %.6f mT/(MV/m) against %.6f(%.0e) "
      "of the search; better by more than both uncertainties: %lld\n",
      what, (long long)known, (long long)feasible, least, value, known_to, (long long)better);
  fflush(stdout);
  free(e);
  free(b);
  free(b_known_to);
  free(angle);
  free(iris);
}

static void scan(const cavum_optimum *best, const double *low, const double *high, long shapes,
                 const char *folder, const char *name, const char *what) {
  char text[2000], vary[1000], path[300];
  cavum_cell cell = read_cell(CELL);
  cavum_study *study = NULL;
  cavum_scan_records *records = NULL;
  cavum_stored_scan *stored = NULL;
  cavum_error error = {0};
  cavum_scan_options options = cavum_scan_options_default();
  write_vary(vary, low, high);
  snprintf(text, sizeof text,
           "%ssampling: {kind: sobol, points: %ld}\n"
           "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n",
           vary, shapes);
  snprintf(path, sizeof path, "%s/%s.hdf", folder, name);
  cavum_status status = cavum_study_open_text(&study, text, strlen(text), NULL, &cell, &error);
  if (status == CAVUM_OK) status = cavum_scan_run(NULL, study, path, &options, &error);
  if (status == CAVUM_OK) status = cavum_scan_records_open(&records, study, path, &error);
  if (status == CAVUM_OK) status = cavum_store_write_scan(path, study, records, &error);
  if (status == CAVUM_OK) status = cavum_stored_scan_open(&stored, path, &error);
  if (status != CAVUM_OK) die(&error);
  count_better(stored, best, what);
  cavum_stored_scan_close(&stored);
  cavum_scan_records_close(&records);
  if (cavum_scan_records_remove(path, &error) != CAVUM_OK) die(&error);
  remove(path);
  cavum_study_close(&study);
  cavum_cell_clear(&cell);
}

// Shapes of a sequence within the bounds, and small steps from the best shape.
static void run_random(long shapes) {
  char folder[] = "/tmp/cavum-bench-XXXXXX";
  cavum_optimum *best = optimise(2.0, 5.0, 4);
  if (!mkdtemp(folder)) exit(EXIT_FAILURE);
  scan(best, LOW, HIGH, shapes, folder, "all", "random search");
  for (int k = 0; k < 2; k++) {
    double low[NUM_VARIED], high[NUM_VARIED], size = k == 0 ? 1e-2 : 1e-3;
    for (int j = 0; j < NUM_VARIED; j++) {
      low[j] = best->variables[j].value - size * (HIGH[j] - LOW[j]);
      high[j] = best->variables[j].value + size * (HIGH[j] - LOW[j]);
    }
    scan(best, low, high, 1000, folder, k == 0 ? "wide" : "near",
         k == 0 ? "steps of up to 1 % of the ranges" : "steps of up to 0.1 %");
  }
  rmdir(folder);
  cavum_optimum_destroy(&best);
}

// ---- a population method

// Evaluates shapes for another program: five numbers in a line, a line with B_pk/E_acc,
// E_pk/E_acc and the wall angle back; "none" where there is no shape.
static void serve(void) {
  double v[NUM_VARIED];
  cavum_solver *solver = NULL;
  cavum_error error = {0};
  if (cavum_solver_create(&solver, NULL, &error) != CAVUM_OK) die(&error);
  while (scanf("%lf %lf %lf %lf %lf", &v[0], &v[1], &v[2], &v[3], &v[4]) == NUM_VARIED) {
    cavum_cell cell = read_cell(CELL);
    cavum_result *result = NULL;
    cavum_geometry *shape = NULL;
    cavum_tune_request request = cavum_tune_request_default();
    request.key = "contour.equator_radius_mm";
    request.frequency_hz = 1.3e9;
    request.low = 90.0;
    request.high = 115.0;
    bool good = true;
    for (int j = 0; j < NUM_VARIED && good; j++) {
      char key[80];
      snprintf(key, sizeof key, "contour.%s", NAMES[j]);
      good = cavum_cell_set(&cell, key, v[j], NULL) == CAVUM_OK;
    }
    good = good && cavum_tune(&result, &cell, solver, &request, NULL) == CAVUM_OK &&
           cavum_geometry_measure(&shape, &cell, false, NULL) == CAVUM_OK;
    if (good) {
      const cavum_figure *f = result->modes[0].figures;
      printf("%.9g %.9g %.9g\n", 1e9 * f[CAVUM_FIGURE_BPK_OVER_EACC].value,
             f[CAVUM_FIGURE_EPK_OVER_EACC].value,
             shape->value[CAVUM_GEOMETRY_WALL_ANGLE] * 180.0 / CAVUM_PI);
    } else {
      puts("none");
    }
    fflush(stdout);
    cavum_geometry_destroy(&shape);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
  cavum_solver_destroy(&solver);
}

static void run_population(const char *self) {
  char command[1200];
  cavum_optimum *best = optimise(2.0, 5.0, 1);
  printf("one start: %.6f mT/(MV/m) after %d solves\n", 1e9 * best->terms[0].value,
         best->num_solves);
  fflush(stdout);
  snprintf(command, sizeof command, "'%s' '%s/bench/optimum_population.py' '%s' %.9g %d",
           CAVUM_PYTHON, CAVUM_TEST_FOLDER, self, 1e9 * best->terms[0].value, best->num_solves);
  if (system(command) != 0) puts("the population method did not run");
  cavum_optimum_destroy(&best);
}

static void run_part(const char *part, const char *self, long shapes) {
  bool all = strcmp(part, "all") == 0;
  if (all || strcmp(part, "closed") == 0) run_closed();
  if (all || strcmp(part, "starts") == 0) run_starts();
  if (all || strcmp(part, "front") == 0) run_front();
  if (all || strcmp(part, "population") == 0) run_population(self);
  if (all || strcmp(part, "random") == 0) run_random(shapes);
}

int main(int count, char **arguments) {
  long shapes = 2000;
  int first = 1;
  if (count == 2 && strcmp(arguments[1], "serve") == 0) {
    serve();
    return 0;
  }
  if (count > 2 && strcmp(arguments[1], "--shapes") == 0) {
    shapes = strtol(arguments[2], NULL, 10);
    first = 3;
  }
  for (int i = first; i < count; i++) run_part(arguments[i], arguments[0], shapes);
  if (first == count) run_part("all", arguments[0], shapes);
  return 0;
}
