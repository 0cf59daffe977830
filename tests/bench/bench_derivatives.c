// SPDX-License-Identifier: GPL-3.0-or-later
// What derivatives by all dimensions cost of a warm solve of one mode: of all figures, and of the
// frequency alone. Three solvers, one without, solve the same neighbours in turn. Prints medians of
// processor time and their ratios, asserts nothing. An argument: how many neighbours, fewer than
// 201.
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "base/base.h"
#include "cavum/cavum.h"

void openblas_set_num_threads(int threads);

enum { REPEATS_MOST = 201, SOLVERS = 3 };
static int repeats = REPEATS_MOST;

static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double median(double *values, int count) {
  qsort(values, (size_t)count, sizeof *values, by_value);
  return values[count / 2];
}

// Of this process: other work on the machine does not count.
static double processor_seconds(void) {
  struct timespec at;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &at);
  return (double)at.tv_sec + 1e-9 * (double)at.tv_nsec;
}

static double time_one(cavum_solver *solver, const cavum_cell *cell, int *dimensions) {
  cavum_result *result = NULL;
  double start = processor_seconds();
  cavum_status status = cavum_solver_solve(&result, solver, cell, NULL);
  double seconds = processor_seconds() - start;
  if (status != CAVUM_OK) printf("a solve failed: %s\n", cavum_status_text(status));
  if (result) *dimensions = result->num_dimensions;
  cavum_result_destroy(&result);
  return seconds;
}

static void compare(const char *name) {
  char path[512];
  double seconds[SOLVERS][REPEATS_MOST], at[SOLVERS];
  int dimensions = 0;
  cavum_cell cell;
  cavum_error error = {0};
  cavum_solver *solvers[SOLVERS] = {NULL};
  cavum_solve_options options = cavum_solve_options_default();
  cavum_cell_set_defaults(&cell);
  snprintf(path, sizeof path, "%s/%s", CAVUM_CELLS_FOLDER, name);
  if (cavum_cell_read_file(&cell, path, &error) != CAVUM_OK) {
    printf("%s\n", error.message);
    return;
  }
  cell.num_modes = 1;
  for (int with = 0; with < SOLVERS; with++) {
    options.derivatives = with > 0;
    options.derivatives_of = with == 2 ? UINT64_C(1) << CAVUM_FIGURE_FREQUENCY : 0;
    if (cavum_solver_create(&solvers[with], &options, &error) != CAVUM_OK) goto done;
  }
  double radius_m = cell.left.equator_radius_m;
  for (int i = 0; i < repeats; i++) {
    // Up and down by 0.1 %.
    cell.left.equator_radius_m = cell.right.equator_radius_m =
        radius_m * (1.0 + 1e-4 * (double)(i % 21 - 10));
    for (int with = 0; with < SOLVERS; with++) {
      seconds[with][i] = time_one(solvers[with], &cell, &dimensions);
    }
  }
  for (int with = 0; with < SOLVERS; with++) at[with] = median(seconds[with], repeats);
  printf(
      "%-24s warm %.3f ms, with derivatives by %d dimensions %.3f ms: %.2f of a solve more; of the "
      "frequency alone %.3f\n",
      name, 1e3 * at[0], dimensions, 1e3 * at[1], at[1] / at[0] - 1.0, at[2] / at[0] - 1.0);
done:
  for (int with = 0; with < SOLVERS; with++) cavum_solver_destroy(&solvers[with]);
  cavum_cell_clear(&cell);
}

int main(int argc, char **argv) {
  if (argc > 1) repeats = atoi(argv[1]);  // fewer, to count instructions
  if (repeats < 1 || repeats > REPEATS_MOST) return 1;
  openblas_set_num_threads(1);
  compare("injector-cell.yaml");
  compare("mid-cell.yaml");
  return 0;
}
