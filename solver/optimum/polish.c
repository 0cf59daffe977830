// SPDX-License-Identifier: GPL-3.0-or-later
// A search sees a limit as its solves do. Two solves of a shape, on other meshes or of another
// degree, differ by the accuracy asked for, so that a limit that holds in one is broken in the next
// by as much. Most of the way needs no better; the last steps do.
#include "optimum/polish.h"

#include <string.h>

#include "base/base.h"

// Part of the accuracy asked for, as that to which limits are met.
static const double PART = 0.1;

// The path of both, and where the second one came to.
static cavum_status join(cavum_search *search, cavum_search *polished, cavum_error *error) {
  int both = search->num_steps + polished->num_steps;
  if (!cavum_grow((void **)&search->steps, &search->capacity, both, sizeof *search->steps)) {
    return cavum_fail_memory(error);
  }
  memcpy(search->steps + search->num_steps, polished->steps,
         (size_t)polished->num_steps * sizeof *search->steps);
  free(polished->steps);
  polished->steps = search->steps;
  polished->capacity = search->capacity;
  polished->num_steps = both;
  polished->num_solves += search->num_solves;
  polished->most_solves = search->most_solves;
  polished->from = NULL;
  search->steps = NULL;
  cavum_search_clear(search);
  *search = *polished;
  *polished = (cavum_search){0};
  return CAVUM_OK;
}

// A point may meet the conditions with a part of a limit left: a few steps more use that up. They
// are kept only where the objective improves.
static cavum_status use_up_limits(cavum_search *search, cavum_error *error) {
  enum { MOST_SOLVES = 8 };
  cavum_optimum_solving *solving = search->solving;
  int left = search->most_solves - search->num_solves;
  cavum_search more = {.solving = solving,
                       .fixed = search->fixed,
                       .most_solves = left < MOST_SOLVES ? left : MOST_SOLVES,
                       .from = search,
                       .uses_up = true};
  double factor[CAVUM_GOAL_MOST_QUANTITIES];
  if (more.most_solves < 1) return CAVUM_OK;
  memcpy(factor, solving->factor, sizeof factor);
  cavum_error what = {0};
  cavum_status status = cavum_search_run(&more, NULL, &what);
  bool better = status == CAVUM_OK && more.end == CAVUM_OPTIMUM_CONVERGED && more.num_solves > 0 &&
                more.objective < search->objective;
  if (better) status = join(search, &more, &what);
  if (!better) {
    memcpy(solving->factor, factor, sizeof factor);
    search->num_solves += more.num_solves;
  }
  cavum_search_clear(&more);
  // There is a best shape: what went wrong behind it takes nothing from that.
  if (status != CAVUM_ERR_MEMORY && status != CAVUM_ERR_STOPPED) return CAVUM_OK;
  if (error) *error = what;
  return status;
}

cavum_status cavum_search_polish(cavum_search *search, cavum_error *error) {
  cavum_optimum_solving *solving = search->solving;
  cavum_search polished = {.solving = solving,
                           .fixed = search->fixed,
                           .most_solves = search->most_solves - search->num_solves,
                           .from = search,
                           .solves_again = true};
  double factor[CAVUM_GOAL_MOST_QUANTITIES];
  if (search->end != CAVUM_OPTIMUM_CONVERGED || polished.most_solves < 2) return CAVUM_OK;
  memcpy(factor, solving->factor, sizeof factor);
  double before = solving->part;
  // Whatever was solved before, the same steps follow.
  cavum_optimum_solving_forget(solving);
  memcpy(solving->factor, factor, sizeof factor);
  solving->part = PART;
  cavum_status status = cavum_search_run(&polished, NULL, error);
  bool good = status == CAVUM_OK && polished.end == CAVUM_OPTIMUM_CONVERGED;
  if (good) status = join(search, &polished, error);
  if (!good) {
    solving->part = before;
    memcpy(solving->factor, factor, sizeof factor);
  }
  cavum_search_clear(&polished);
  if (good && status == CAVUM_OK) status = use_up_limits(search, error);
  return cavum_optimum_is_no_shape(status) ? CAVUM_OK : status;
}
