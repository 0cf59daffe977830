// SPDX-License-Identifier: GPL-3.0-or-later
// What 1,000 drawn shapes of a cell cost, all of its lengths with a tolerance of 0.05 mm, and how
// far the sampled spread of f is from the linear one. Asserts nothing.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "cavum/cavum.h"

void openblas_set_num_threads(int threads);

enum { NUM_SAMPLES = 1000 };

static double seconds(clockid_t clock) {
  struct timespec now;
  clock_gettime(clock, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static cavum_status read_all(cavum_tolerances **tolerances, const cavum_cell *cell,
                             cavum_error *error) {
  cavum_geometry *geometry = NULL;
  char text[4096] = "tolerances:\n";
  cavum_status status = cavum_geometry_measure(&geometry, cell, true, error);
  if (status != CAVUM_OK) return status;
  for (int i = 0; i < geometry->num_dimensions && i < CAVUM_TOLERANCES_MOST; i++) {
    size_t used = strlen(text);
    if (geometry->dimensions[i].unit_si == 1.0) continue;  // beta
    snprintf(text + used, sizeof text - used, "  %s: {normal: 0.05}\n",
             geometry->dimensions[i].key);
  }
  cavum_geometry_destroy(&geometry);
  return cavum_tolerances_read_text(tolerances, cell, text, strlen(text), NULL, error);
}

static void time_cell(const char *name) {
  char path[512];
  cavum_cell cell;
  cavum_error error = {CAVUM_OK, ""};
  cavum_tolerances *tolerances = NULL;
  cavum_spread *spread = NULL;
  cavum_spread_options choices = cavum_spread_options_default();
  choices.num_samples = NUM_SAMPLES;
  snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, name);
  cavum_cell_set_defaults(&cell);
  cavum_status status = cavum_cell_read_file(&cell, path, &error);
  if (status == CAVUM_OK) status = read_all(&tolerances, &cell, &error);
  double start_s = seconds(CLOCK_PROCESS_CPUTIME_ID), begin_s = seconds(CLOCK_MONOTONIC);
  if (status == CAVUM_OK) {
    status = cavum_spread_make(&spread, &cell, tolerances, &choices, NULL, &error);
  }
  double work_s = seconds(CLOCK_PROCESS_CPUTIME_ID) - start_s;
  double wall_s = seconds(CLOCK_MONOTONIC) - begin_s;
  if (status == CAVUM_OK) {
    const cavum_figure_spread *f = &spread->figures[CAVUM_FIGURE_FREQUENCY];
    printf(
        "%-20s %4d dimensions %8.3f s (%.3f s by the clock), sampled over linear spread of f "
        "%.3f\n",
        name, spread->num_dimensions, work_s, wall_s, f->sampled_deviation / f->deviation);
  } else {
    printf("%-20s %s\n", name, error.message);
  }
  cavum_spread_destroy(&spread);
  cavum_tolerances_destroy(&tolerances);
  cavum_cell_clear(&cell);
}

int main(void) {
  static const char *const names[] = {"mid-cell", "injector-cell", "reentrant-cell", "end-cell"};
  openblas_set_num_threads(1);
  printf("Processor time of %d drawn shapes and the linear spread\n", NUM_SAMPLES);
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) time_cell(names[i]);
  return 0;
}
