// SPDX-License-Identifier: GPL-3.0-or-later
// What derivatives by all dimensions cost of a warm solve of one mode: of all figures, and of the
// frequency alone. Three solvers, one without, solve the same neighbours of each demo cell in turn,
// a few in a row. Prints medians of processor time and of its differences, and ratios; asserts
// nothing. To count instructions: bench_derivatives NEIGHBOURS SOLVER [CELL] runs one of the
// solvers alone, 0 without derivatives, 1 with all, 2 of the frequency alone.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "neighbour.h"

void openblas_set_num_threads(int threads);

enum { REPEATS_MOST = 210, SOLVERS = 3 };
// Neighbours that one of them solves in a row, as a study does: begun with what the others leave in
// the fast memory, each solve would be another.
enum { ROW = 15 };
static int repeats = REPEATS_MOST, first_solver = 0, last_solver = SOLVERS - 1;

// Neighbours are up to this far apart, of each dimension.
static const double STEP = 1e-3;

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

static cavum_status read_cell(cavum_cell *cell, const char *name, cavum_error *error) {
  char path[512];
  cavum_cell_set_defaults(cell);
  snprintf(path, sizeof path, "%s/%s", CAVUM_DEMO_FOLDER, name);
  cavum_status status = cavum_cell_read_file(cell, path, error);
  cell->num_modes = 1;
  return status;
}

static cavum_status create_solvers(cavum_solver *solvers[SOLVERS], cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int with = 0; with < SOLVERS && status == CAVUM_OK; with++) {
    cavum_solve_options options = cavum_solve_options_default();
    options.derivatives = with > 0;
    options.derivatives_of = with == 2 ? UINT64_C(1) << CAVUM_FIGURE_FREQUENCY : 0;
    status = cavum_solver_create(&solvers[with], &options, error);
  }
  return status;
}

// Parts of a solve that derivatives of all figures, and of the frequency alone, cost more.
static void compare(const char *name, double more[2]) {
  double seconds[SOLVERS][REPEATS_MOST], at[SOLVERS];
  int dimensions = 0;
  static cavum_cell near[REPEATS_MOST];
  bool exists[REPEATS_MOST];
  cavum_cell cell;
  cavum_error error = {0};
  random_state state = {1};
  cavum_solver *solvers[SOLVERS] = {NULL};
  if (read_cell(&cell, name, &error) != CAVUM_OK || create_solvers(solvers, &error) != CAVUM_OK) {
    printf("%s\n", error.message);
    goto done;
  }
  for (int first = 0; first < repeats; first += ROW) {
    int end = first + ROW < repeats ? first + ROW : repeats;
    for (int i = first; i < end; i++) exists[i] = neighbour_make(&near[i], &cell, &state, STEP);
    for (int with = first_solver; with <= last_solver; with++) {
      for (int i = first; i < end; i++) {
        seconds[with][i] = time_one(solvers[with], exists[i] ? &near[i] : &cell, &dimensions);
      }
    }
    for (int i = first; i < end; i++) neighbour_clear(&near[i]);
  }
  if (first_solver == last_solver) goto done;
  // In pairs of one shape, a moment apart: the clock of a machine drifts by more.
  for (int with = 1; with < SOLVERS; with++) {
    for (int i = 0; i < repeats; i++) seconds[with][i] -= seconds[0][i];
  }
  for (int with = 0; with < SOLVERS; with++) at[with] = median(seconds[with], repeats);
  for (int with = 0; with < 2; with++) more[with] = at[1 + with] / at[0];
  printf(
      "%-24s warm %.3f ms, with derivatives by %2d dimensions %.3f ms: %.2f of a solve more; of "
      "the "
      "frequency alone %.3f\n",
      name, 1e3 * at[0], dimensions, 1e3 * (at[0] + at[1]), more[0], more[1]);
done:
  for (int with = 0; with < SOLVERS; with++) cavum_solver_destroy(&solvers[with]);
  cavum_cell_clear(&cell);
}

int main(int argc, char **argv) {
  static const char *const cells[] = {
      "injector-cell.yaml",  "mid-cell.yaml", "end-cell.yaml",          "reentrant-cell.yaml",
      "nose-cone-cell.yaml", "pillbox.yaml",  "coaxial-resonator.yaml", "capsule.yaml"};
  enum { CELLS = sizeof cells / sizeof cells[0] };
  double more[2][CELLS];
  if (argc > 1) repeats = (int)strtol(argv[1], NULL, 10);
  if (argc > 2) first_solver = last_solver = (int)strtol(argv[2], NULL, 10);
  if (repeats < 1 || repeats > REPEATS_MOST || first_solver < 0 || last_solver >= SOLVERS) return 1;
  openblas_set_num_threads(1);
  for (int i = 0; i < CELLS; i++) {
    double of_cell[2] = {0.0, 0.0};
    if (argc > 3 && strcmp(argv[3], cells[i]) != 0) continue;
    compare(cells[i], of_cell);
    for (int k = 0; k < 2; k++) more[k][i] = of_cell[k];
  }
  if (argc > 2) return 0;
  printf("median of %d cells: %.2f of a solve more; of the frequency alone %.3f\n", CELLS,
         median(more[0], CELLS), median(more[1], CELLS));
  return 0;
}
