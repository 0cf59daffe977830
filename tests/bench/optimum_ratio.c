// SPDX-License-Identifier: GPL-3.0-or-later
// Processor time of a search over that of the solves it makes: the same shapes, one after the
// other, by a solver that goes from each to the next as the search does. Search and solves take
// turns, so that what else the machine does meets both alike.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "optimum/point.h"
#include "optimum/search.h"
#include "optimum/starts.h"
#include "optimum_goal.h"

enum { MOST_REPEATS = 99 };

/** What is timed. */
typedef struct timing {
  cavum_goal *goal;               // owned
  cavum_optimum_solving solving;  // owned: of the search
  cavum_solver *solver;           // owned: of the solves alone
  cavum_cell *cells;              // owned, shape [num_cells]: of the path
  int num_cells;
} timing;

// One search from the base cell; its path where `keeps` is set.
static double time_search(timing *t, cavum_search *keeps) {
  cavum_starts sequence = {.goal = t->goal};
  double place[CAVUM_GOAL_MOST_VARIABLES] = {0.0};
  cavum_search search = {.solving = &t->solving, .most_solves = t->goal->most_solves};
  cavum_error error = {0};
  if (!cavum_starts_next(place, &sequence)) exit(EXIT_FAILURE);
  cavum_optimum_solving_forget(&t->solving);
  double begin = optimum_processor_seconds();
  if (cavum_search_run(&search, place, &error) != CAVUM_OK) optimum_die(&error);
  double seconds = optimum_processor_seconds() - begin;
  if (keeps) *keeps = search;
  if (!keeps) cavum_search_clear(&search);
  return seconds;
}

// All that a program asks for: the search, and the base cell and the best one with all figures.
static double time_all(timing *t) {
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  double begin = optimum_processor_seconds();
  if (cavum_optimise(&optimum, t->goal, NULL, &error) != CAVUM_OK) optimum_die(&error);
  double seconds = optimum_processor_seconds() - begin;
  cavum_optimum_destroy(&optimum);
  return seconds;
}

static double time_solves(timing *t) {
  cavum_error error = {0};
  cavum_solver_forget(t->solver);
  double begin = optimum_processor_seconds();
  for (int i = 0; i < t->num_cells; i++) {
    cavum_result *result = NULL;
    cavum_status status = cavum_solver_solve(&result, t->solver, &t->cells[i], &error);
    if (!result) {
      fprintf(stderr, "%s (%d)\n", error.message, (int)status);
      exit(EXIT_FAILURE);
    }
    cavum_result_destroy(&result);
  }
  return optimum_processor_seconds() - begin;
}

// The cells of the path, as the search made them.
static void record(timing *t) {
  cavum_search search = {0};
  cavum_error error = {0};
  time_search(t, &search);
  t->cells = cavum_alloc(search.num_steps, sizeof *t->cells);
  if (!t->cells) exit(EXIT_FAILURE);
  for (int i = 0; i < search.num_steps; i++) {
    cavum_cell *cell = &t->cells[t->num_cells++];
    *cell = optimum_read_cell(OPTIMUM_CELL);
    for (int j = 0; j < t->goal->num_variables; j++) {
      const char *key = t->goal->study->inputs[j].place.name;
      double low = t->goal->low[j], range = t->goal->high[j] - low;
      double value = low + search.steps[i].place[j] * range;
      if (cavum_cell_set(cell, key, value, &error) != CAVUM_OK) optimum_die(&error);
    }
  }
  cavum_search_clear(&search);
}

static void open_timing(timing *t, double epk) {
  cavum_error error = {0};
  *t = (timing){.goal = optimum_make_goal(epk, 5.0, 1)};
  if (cavum_optimum_solving_open(&t->solving, t->goal, NULL, &error) != CAVUM_OK) {
    optimum_die(&error);
  }
  const cavum_solve_options *options = &t->solving.cells[0].options;
  if (cavum_solver_create(&t->solver, options, &error) != CAVUM_OK) optimum_die(&error);
  record(t);
}

static void close_timing(timing *t) {
  for (int i = 0; i < t->num_cells; i++) cavum_cell_clear(&t->cells[i]);
  free(t->cells);
  cavum_solver_destroy(&t->solver);
  cavum_optimum_solving_clear(&t->solving);
  cavum_goal_close(&t->goal);
}

static int compare(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static void time_goal(double epk, int repeats) {
  static timing t;  // large
  double ratio[MOST_REPEATS], whole[MOST_REPEATS], solves[MOST_REPEATS];
  open_timing(&t, epk);
  time_solves(&t);  // what the first one loads is not counted
  for (int k = 0; k < repeats; k++) {
    double of_search = k % 2 ? time_search(&t, NULL) : 0.0;
    solves[k] = time_solves(&t);
    if (k % 2 == 0) of_search = time_search(&t, NULL);
    ratio[k] = of_search / solves[k];
    whole[k] = time_all(&t) / solves[k];
  }
  qsort(ratio, (size_t)repeats, sizeof *ratio, compare);
  qsort(whole, (size_t)repeats, sizeof *whole, compare);
  qsort(solves, (size_t)repeats, sizeof *solves, compare);
  printf("| %g | %d | %.1f | %.2f | %.2f to %.2f | %.2f to %.2f | %.2f |\n", epk, t.num_cells,
         1e3 * solves[repeats / 2] / t.num_cells, ratio[repeats / 2], ratio[repeats / 4],
         ratio[(3 * repeats) / 4], ratio[0], ratio[repeats - 1], whole[repeats / 2]);
  fflush(stdout);
  close_timing(&t);
}

void optimum_run_ratio(int repeats) {
  static const double peaks[] = {1.9, 2.0, 2.1, 2.2, 2.3, 2.4};
  repeats = repeats < 1 ? 1 : repeats > MOST_REPEATS ? MOST_REPEATS : repeats;
  printf(
      "| E_pk/E_acc at most | solves | ms each | time of the search over theirs, median of %d | "
      "middle half | all | with both results, median |\n"
      "| ---: | ---: | ---: | ---: | --- | --- | ---: |\n",
      repeats);
  for (int i = 0; i < 6; i++) time_goal(peaks[i], repeats);
  puts("");
}
