// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape: solves of a start, and its time over that of its solves; best values against the
// electric peak; shapes at random beside them.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "cavum/scan.h"

#define CELL                                               \
  "contour:\n"                                             \
  "  kind: two-ellipse\n"                                  \
  "  half_length_mm: 57.652\n"                             \
  "  iris_radius_mm: 35.0\n"                               \
  "  equator_radius_mm: 103.3\n"                           \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"    \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\nmodes: {count: 1}\n"

#define GOAL                                                                    \
  "vary:\n"                                                                     \
  "  equator_ellipse.axial_mm: {from: 30, to: 54}\n"                            \
  "  equator_ellipse.radial_mm: {from: 20, to: 60}\n"                           \
  "  iris_ellipse.axial_mm: {from: 6, to: 20}\n"                                \
  "  iris_ellipse.radial_mm: {from: 8, to: 40}\n"                               \
  "  iris_radius_mm: {from: 30, to: 40}\n"                                      \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n"     \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                                   \
  "limits:\n  wall_angle_deg: {least: %g}\n  aperture_radius_mm: {least: 35}\n" \
  "  epk_over_eacc: {most: %g}\nstarts: %d\n"

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
  double begin = cavum_seconds();
  for (int i = 0; i < SOLVES; i++) {
    cavum_result *result = NULL;
    cell.right.equator_axial_m *= 1.0 + 1e-3 * (i % 3 - 1);
    cell.left.equator_axial_m = cell.right.equator_axial_m;
    if (cavum_solver_solve(&result, solver, &cell, &error) != CAVUM_OK) die(&error);
    cavum_result_destroy(&result);
  }
  double seconds = (cavum_seconds() - begin) / SOLVES;
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
  return seconds;
}

static void run(double epk, double angle_deg, int starts) {
  char text[2000];
  cavum_cell cell = read_cell(CELL);
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  snprintf(text, sizeof text, GOAL, angle_deg, epk, starts);
  if (cavum_goal_open_text(&goal, text, strlen(text), "goal", &cell, &error) != CAVUM_OK) {
    die(&error);
  }
  double begin = cavum_seconds();
  cavum_status status = cavum_optimise(&optimum, goal, NULL, &error);
  double seconds = cavum_seconds() - begin;
  if (status != CAVUM_OK && status != CAVUM_ERR_NOT_CONVERGED) die(&error);
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
  cavum_optimum_destroy(&optimum);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}

int main(void) {
  static const double peaks[] = {1.9, 2.0, 2.1, 2.2, 2.3, 2.4};
  for (int i = 0; i < 6; i++) run(peaks[i], 5.0, 20);
  return 0;
}
