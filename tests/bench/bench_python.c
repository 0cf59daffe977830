// SPDX-License-Identifier: GPL-3.0-or-later
// Warm solves in Python against C, both with the shared library: this program solves, and has
// tests/bench/python_warm.py solve the same shapes, in turn. Processor times of one thread.
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "cavum/cavum.h"

enum { ROUNDS = 40, SOLVES = 100 };

/** What a round took of each solve. */
typedef struct cost {
  double us, faults;
} cost;

static double processor_s(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static long faults(void) {
  struct rusage usage;
  getrusage(RUSAGE_SELF, &usage);
  return usage.ru_minflt;
}

static void fail(const char *what) {
  fprintf(stderr, "bench_python: %s\n", what);
  exit(1);
}

static cost solve_round(cavum_solver *solver, cavum_cell *cell) {
  cavum_error error;
  double start_s = processor_s();
  long before = faults();
  for (int i = 0; i < SOLVES; i++) {
    cavum_result *result = NULL;
    if (cavum_cell_set(cell, "equator_radius_mm", 103.3 * (1.0 + 1e-5 * i), &error) != CAVUM_OK ||
        cavum_solver_solve(&result, solver, cell, &error) != CAVUM_OK) {
      fail(error.message);
    }
    cavum_result_destroy(&result);
  }
  return (cost){1e6 * (processor_s() - start_s) / SOLVES, (double)(faults() - before) / SOLVES};
}

// A child whose lines this program reads, and that reads its.
static void start_python(FILE **to, FILE **from) {
  int there[2], back[2];
  if (pipe(there) != 0 || pipe(back) != 0) fail("no pipe");
  pid_t child = fork();
  if (child < 0) fail("no process");
  if (child == 0) {
    dup2(there[0], STDIN_FILENO);
    dup2(back[1], STDOUT_FILENO);
    close(there[1]);
    close(back[0]);
    execl(CAVUM_PYTHON, CAVUM_PYTHON, CAVUM_TEST_FOLDER "/bench/python_warm.py", CAVUM_BUILD_FOLDER,
          CAVUM_CELLS_FOLDER "/mid-cell.yaml", (char *)NULL);
    _exit(127);
  }
  close(there[0]);
  close(back[1]);
  *to = fdopen(there[1], "w");
  *from = fdopen(back[0], "r");
  if (!*to || !*from) fail("no pipe");
}

static cost ask_python(FILE *to, FILE *from) {
  cost round = {0};
  char line[128];
  fprintf(to, "%d\n", SOLVES);
  fflush(to);
  if (!fgets(line, sizeof line, from) || sscanf(line, "%lf %lf", &round.us, &round.faults) != 2) {
    fail("Python gave up");
  }
  return round;
}

static int by_time(const void *a, const void *b) {
  double x = ((const cost *)a)->us, y = ((const cost *)b)->us;
  return (x > y) - (x < y);
}

static void print_costs(const char *name, cost *rounds) {
  qsort(rounds, ROUNDS, sizeof *rounds, by_time);
  printf("%-8s median %8.1f us, least %8.1f us of a warm solve; %.2f page faults\n", name,
         rounds[ROUNDS / 2].us, rounds[0].us, rounds[ROUNDS / 2].faults);
}

int main(void) {
  cavum_cell cell;
  cavum_error error;
  cavum_solver *solver = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  static cost in_c[ROUNDS], in_python[ROUNDS], more[ROUNDS];
  FILE *to, *from;
  cavum_cell_set_defaults(&cell);
  start_python(&to, &from);
  if (cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/mid-cell.yaml", &error) != CAVUM_OK ||
      cavum_solver_create(&solver, &options, &error) != CAVUM_OK) {
    fail(error.message);
  }
  (void)solve_round(solver, &cell);
  (void)ask_python(to, from);
  for (int i = 0; i < ROUNDS; i++) {
    in_c[i] = solve_round(solver, &cell);
    in_python[i] = ask_python(to, from);
    more[i].us = in_python[i].us - in_c[i].us;
  }
  fclose(to);
  fclose(from);
  wait(NULL);
  qsort(more, ROUNDS, sizeof *more, by_time);
  print_costs("C", in_c);
  print_costs("Python", in_python);
  // Pairs of rounds see the same load of the machine.
  printf(
      "Python adds %.1f us, median of pairs (medians %.1f us, least %.1f us): %.1f %% of the rate "
      "of C\n",
      more[ROUNDS / 2].us, in_python[ROUNDS / 2].us - in_c[ROUNDS / 2].us,
      in_python[0].us - in_c[0].us,
      100.0 * in_c[ROUNDS / 2].us / (in_c[ROUNDS / 2].us + more[ROUNDS / 2].us));
  cavum_solver_destroy(&solver);
  cavum_cell_clear(&cell);
  return 0;
}
