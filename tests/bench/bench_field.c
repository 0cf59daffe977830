// SPDX-License-Identifier: GPL-3.0-or-later
// The field of one mode at a million points, in random order and line by line: wanted 0.3 s.
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "cavum/cavum.h"

enum { POINTS = 1000000, LINES = 1000, REPEATS = 5 };

static double seconds(void) {
  struct timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void fail(const cavum_error *error) {
  fprintf(stderr, "bench_field: %s\n", error->message);
  exit(EXIT_FAILURE);
}

static void time_points(const cavum_mode_field *field, const char *what, const double *z,
                        const double *r) {
  static double h[POINTS], e_z[POINTS], e_r[POINTS];
  cavum_error error = {0};
  int64_t outside = 0;
  double best = 1e9;
  for (int i = 0; i < REPEATS; i++) {
    double start = seconds();
    if (cavum_mode_field_at(field, POINTS, z, r, h, e_z, e_r, &outside, &error) != CAVUM_OK) {
      fail(&error);
    }
    double time = seconds() - start;
    if (time < best) best = time;
  }
  printf("  %-14s %.3f s for %d points, %lld outside\n", what, best, POINTS, (long long)outside);
}

static void run(const char *name) {
  static double z[POINTS], r[POINTS];
  char path[512];
  cavum_error error = {0};
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_mode_field *field = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.field_order = CAVUM_FIELD_ORDER_CHOSEN;
  snprintf(path, sizeof path, "%s/%s.yaml", CAVUM_CELLS_FOLDER, name);
  cavum_cell_set_defaults(&cell);
  if (cavum_cell_read_file(&cell, path, &error) != CAVUM_OK ||
      cavum_solve(&result, &cell, &options, &error) != CAVUM_OK) {
    fail(&error);
  }
  double start = seconds();
  if (cavum_mode_field_create(&field, result, 0, &error) != CAVUM_OK) fail(&error);
  printf("%s: made ready in %.1f ms\n", name, 1e3 * (seconds() - start));
  const cavum_field_grid *grid = &result->modes[0].field;
  unsigned seed = 1;
  for (int i = 0; i < POINTS; i++) {  // about as dense as the grid, moved by up to 0.5 mm
    int at = (int)((double)rand_r(&seed) / RAND_MAX * (grid->num_points - 1));
    z[i] = grid->z_m[at] + 1e-3 * (rand_r(&seed) / (double)RAND_MAX - 0.5);
    r[i] = grid->r_m[at] + 1e-3 * (rand_r(&seed) / (double)RAND_MAX - 0.5);
  }
  time_points(field, "random order", z, r);
  for (int i = 0; i < POINTS; i++) {
    z[i] = -0.06 + 0.12 * (i % LINES) / LINES;
    r[i] = 0.12 * (i / LINES) / LINES;
  }
  time_points(field, "line by line", z, r);
  cavum_mode_field_destroy(&field);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

int main(void) {
  run("mid-cell");
  run("nose-cone-cell");
  return 0;
}
