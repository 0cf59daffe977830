// SPDX-License-Identifier: GPL-3.0-or-later
// An amount that leads to the target is a linear estimate: one that no wall or no shape allows is
// no advice.
#include "steps/next_amount.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "steps/shape_step.h"

// Walls are a few mm thick: no chemistry takes or adds a millimetre, nor does a pressure move one
// as far.
static const double MOST_DEPTH_M = 1e-3;

// Why an amount cannot be, whatever the shape is; NULL where it can.
static const char *why_never(const cavum_step *step) {
  double amount = step->next_amount;
  bool back = amount < 0.0;
  bool deep = fabs(amount) > MOST_DEPTH_M;
  switch (step->kind) {
    case CAVUM_STEP_REMOVE:
    case CAVUM_STEP_DEPOSIT:
      return back ? "the wrong way" : deep ? "more than a wall allows" : NULL;
    case CAVUM_STEP_TRIM:
    case CAVUM_STEP_WELD:
      return back ? "the wrong way" : NULL;
    case CAVUM_STEP_PRESSURE:
      return deep ? "more than a wall allows" : NULL;
    default:
      return NULL;
  }
}

static void set_obstacle(cavum_step *step, const char *before, const char *text) {
  snprintf(step->next_obstacle, sizeof step->next_obstacle, "%s%.*s", before,
           (int)sizeof step->next_obstacle - 16, text);
}

// Takes a copy of the shape through the step by the next amount.
static cavum_status try_on(cavum_step *step, const cavum_cell *shape,
                           const cavum_chain_step *from) {
  cavum_cell copy;
  cavum_error what = {0};
  cavum_status status = cavum_shape_copy(&copy, shape, NULL);
  if (status != CAVUM_OK) return status;
  status = cavum_shape_take_step(&copy, from, step->next_amount, &what);
  cavum_cell_clear(&copy);
  if (status == CAVUM_ERR_MEMORY) return status;
  if (status != CAVUM_OK) set_obstacle(step, "impossible: ", what.message);
  return CAVUM_OK;
}

// The last step of which the shape must be tried; 0: none.
static int mark_and_count(cavum_steps_result *result) {
  int last = 0;
  for (int i = 1; i < result->num_steps; i++) {
    cavum_step *step = result->steps[i];
    if (isnan(step->next_amount)) continue;
    const char *reason = why_never(step);
    if (reason) {
      set_obstacle(step, "", reason);
    } else {
      last = i;
    }
  }
  return last;
}

cavum_status cavum_steps_try_next(cavum_steps_result *result, const cavum_steps *steps,
                                  cavum_error *error) {
  cavum_cell shape;
  int last = mark_and_count(result);
  if (last == 0) return CAVUM_OK;
  cavum_status status = cavum_shape_draw(&shape, steps, error);
  if (status != CAVUM_OK) return status;
  for (int i = 1; i <= last && status == CAVUM_OK; i++) {
    const cavum_chain_step *from = &steps->steps[i - 1];
    cavum_step *step = result->steps[i];
    bool tried = !isnan(step->next_amount) && !step->next_obstacle[0];
    if (tried) status = try_on(step, &shape, from);
    if (status == CAVUM_OK && i < last) {
      status = cavum_shape_take_step(&shape, from, from->amount_m.value, error);
    }
  }
  cavum_cell_clear(&shape);
  return status == CAVUM_ERR_MEMORY ? cavum_fail_memory(error) : status;
}
