// SPDX-License-Identifier: GPL-3.0-or-later
// The goal of bench_optimum.
#include "optimum_goal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

const char *const optimum_names[OPTIMUM_NUM_VARIED] = {
    "equator_ellipse.axial_mm", "equator_ellipse.radial_mm", "iris_ellipse.axial_mm",
    "iris_ellipse.radial_mm", "iris_radius_mm"};
const double optimum_low[OPTIMUM_NUM_VARIED] = {30, 20, 6, 8, 30},
             optimum_high[OPTIMUM_NUM_VARIED] = {54, 60, 20, 40, 40};

#define GOAL                                                                    \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 90, to: 115}\n"     \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                                   \
  "limits:\n  wall_angle_deg: {least: %g}\n  aperture_radius_mm: {least: 35}\n" \
  "  epk_over_eacc: {most: %g}\nstarts: %d\n"

void optimum_write_vary(char text[1000], const double *low, const double *high) {
  size_t used = (size_t)snprintf(text, 1000, "vary:\n");
  for (int j = 0; j < OPTIMUM_NUM_VARIED; j++) {
    used += (size_t)snprintf(text + used, 1000 - used, "  %s: {from: %.12g, to: %.12g}\n",
                             optimum_names[j], low[j], high[j]);
  }
}

double optimum_processor_seconds(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void optimum_die(const cavum_error *error) {
  fprintf(stderr, "bench_optimum: %s\n", error->message);
  exit(1);
}

cavum_cell optimum_read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  if (cavum_cell_read_text(&cell, text, strlen(text), NULL, &error) != CAVUM_OK)
    optimum_die(&error);
  return cell;
}

cavum_goal *optimum_open_goal(const char *cell_text, const char *text) {
  cavum_cell cell = optimum_read_cell(cell_text);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  if (cavum_goal_open_text(&goal, text, strlen(text), "goal", &cell, &error) != CAVUM_OK) {
    optimum_die(&error);
  }
  cavum_cell_clear(&cell);
  return goal;
}

cavum_goal *optimum_make_goal(double epk, double angle_deg, int starts) {
  char text[2000], vary[1000];
  optimum_write_vary(vary, optimum_low, optimum_high);
  snprintf(text, sizeof text, "%s" GOAL, vary, angle_deg, epk, starts);
  return optimum_open_goal(OPTIMUM_CELL, text);
}

cavum_optimum *optimum_search(double epk, double angle_deg, int starts) {
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  cavum_goal *goal = optimum_make_goal(epk, angle_deg, starts);
  cavum_status status = cavum_optimise(&optimum, goal, NULL, &error);
  if (status != CAVUM_OK && status != CAVUM_ERR_NOT_CONVERGED) optimum_die(&error);
  cavum_goal_close(&goal);
  return optimum;
}
