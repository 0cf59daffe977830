// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape: closed forms; solves of a start; processor time of a search over that of its own
// solves; a front; shapes at random beside the best one; a population method of a general library.
// Usage: bench_optimum [--shapes N] [--steps N] [--repeats N]
//                      [closed|starts|ratio|front|population|random]...
// without names all of them; N shapes at random (2,000 without), N small steps within the limits
// (100 without), N repeats of each ratio (9 without). The full run of the shapes at random is
// `bench_optimum --shapes 100000 --steps 1000 random`.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/geometry.h"
#include "cavum/optimum.h"
#include "cavum/tune.h"
#include "optimum_goal.h"

static void run(double epk, double angle_deg, int starts) {
  cavum_optimum *optimum = optimum_search(epk, angle_deg, starts);
  int most = 0, best = 0;
  for (int i = 0; i < optimum->num_starts; i++) {
    if (optimum->starts[i].num_solves > most) most = optimum->starts[i].num_solves;
    best += optimum->starts[i].is_best;
  }
  printf(
      "E_pk/E_acc <= %g, %g deg: B_pk/E_acc %.5f mT/(MV/m), %d of %d starts, %.1f solves a start "
      "(most %d), %d optima\n",
      epk, angle_deg, 1e9 * optimum->terms[0].value, best, optimum->num_starts,
      (double)optimum->num_solves / optimum->num_starts, most, optimum->num_optima);
  fputs("  solves of each start:", stdout);
  for (int i = 0; i < optimum->num_starts; i++) printf(" %d", optimum->starts[i].num_solves);
  puts("");
  fflush(stdout);
  cavum_optimum_destroy(&optimum);
}

static void run_starts(void) {
  static const double peaks[] = {1.9, 2.0, 2.1, 2.2, 2.3, 2.4};
  puts("must reach: 40 solves a start");
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
    cavum_goal *goal = optimum_open_goal(PILLBOX, text);
    if (cavum_optimise(&optimum, goal, NULL, &error) != CAVUM_OK) optimum_die(&error);
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
  optimum_write_vary(vary, optimum_low, optimum_high);
  snprintf(text, sizeof text,
           "%shold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n"
           "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
           "limits: {wall_angle_deg: {least: 5}, aperture_radius_mm: {least: 35}}\n"
           "front: {epk_over_eacc: {from: 1.9, to: 2.4, points: 50}}\n",
           vary);
  cavum_goal *goal = optimum_open_goal(OPTIMUM_CELL, text);
  if (cavum_optimise_front(&front, goal, NULL, &error) != CAVUM_OK) optimum_die(&error);
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

// ---- a population method

// Evaluates shapes for another program: five numbers in a line, a line with B_pk/E_acc,
// E_pk/E_acc and the wall angle back; "none" where there is no shape.
static void serve(void) {
  double v[OPTIMUM_NUM_VARIED];
  cavum_solver *solver = NULL;
  cavum_error error = {0};
  if (cavum_solver_create(&solver, NULL, &error) != CAVUM_OK) optimum_die(&error);
  while (scanf("%lf %lf %lf %lf %lf", &v[0], &v[1], &v[2], &v[3], &v[4]) == OPTIMUM_NUM_VARIED) {
    cavum_cell cell = optimum_read_cell(OPTIMUM_CELL);
    cavum_result *result = NULL;
    cavum_geometry *shape = NULL;
    cavum_tune_request request = cavum_tune_request_default();
    request.key = "contour.equator_radius_mm";
    request.frequency_hz = 1.3e9;
    request.low = 90.0;
    request.high = 115.0;
    bool good = true;
    for (int j = 0; j < OPTIMUM_NUM_VARIED && good; j++) {
      char key[80];
      snprintf(key, sizeof key, "contour.%s", optimum_names[j]);
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
  cavum_optimum *best = optimum_search(2.0, 5.0, 1);
  printf("one start: %.6f mT/(MV/m) after %d solves\n", 1e9 * best->terms[0].value,
         best->num_solves);
  fflush(stdout);
  snprintf(command, sizeof command, "'%s' '%s/bench/optimum_population.py' '%s' %.9g %d",
           CAVUM_PYTHON, CAVUM_TEST_FOLDER, self, 1e9 * best->terms[0].value, best->num_solves);
  if (system(command) != 0) puts("the population method did not run");
  cavum_optimum_destroy(&best);
}

/** What the options say. */
typedef struct asked {
  long shapes, steps, repeats;
} asked;

static void run_part(const char *part, const char *self, const asked *a) {
  bool all = strcmp(part, "all") == 0;
  if (all || strcmp(part, "closed") == 0) run_closed();
  if (all || strcmp(part, "starts") == 0) run_starts();
  if (all || strcmp(part, "ratio") == 0) optimum_run_ratio((int)a->repeats);
  if (all || strcmp(part, "front") == 0) run_front();
  if (all || strcmp(part, "population") == 0) run_population(self);
  if (all || strcmp(part, "random") == 0) optimum_run_random(a->shapes, a->steps);
}

int main(int count, char **arguments) {
  static const char *const options[3] = {"--shapes", "--steps", "--repeats"};
  asked a = {.shapes = 2000, .steps = 100, .repeats = 9};
  long *const values[3] = {&a.shapes, &a.steps, &a.repeats};
  int first = 1;
  if (count == 2 && strcmp(arguments[1], "serve") == 0) {
    serve();
    return 0;
  }
  for (; first + 1 < count && arguments[first][0] == '-'; first += 2) {
    for (int k = 0; k < 3; k++) {
      if (strcmp(arguments[first], options[k]) != 0) continue;
      *values[k] = strtol(arguments[first + 1], NULL, 10);
    }
  }
  for (int i = first; i < count; i++) run_part(arguments[i], arguments[0], &a);
  if (first == count) run_part("all", arguments[0], &a);
  return 0;
}
