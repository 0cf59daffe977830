// SPDX-License-Identifier: GPL-3.0-or-later
// An amount that leads to the target is a linear estimate: one that no wall or no shape allows is
// no advice. One that is said to have been done, by what was measured, is no fact where no wall or
// no shape allows it.
#include "steps/next_amount.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "steps/shape_step.h"

// Walls are a few mm thick: no chemistry takes or adds a millimetre, nor does a pressure move one
// as far.
static const double MOST_DEPTH_M = 1e-3;

// Of the length of the cell: what is linear in a length is estimated to some per cent up to here.
static const double LINEAR_PART = 0.02;
// A found amount that is as near to one that can be is not called impossible: 95 % are.
static const double COVERAGE = 1.959964;

/** One of the amounts of a step. */
typedef struct tried_amount {
  double amount_m, slack_m;  // NAN: none; what it may be off by
  char *obstacle;            // of the step, of CAVUM_STEP_LINE_SIZE
} tried_amount;
enum { NUM_AMOUNTS = 2 };

static void amounts_of(tried_amount amounts[NUM_AMOUNTS], cavum_step *step) {
  amounts[0] = (tried_amount){step->next_amount, 0.0, step->next_obstacle};
  amounts[1] = (tried_amount){step->found_amount, COVERAGE * step->found_amount_uncertainty,
                              step->found_obstacle};
}

// Why an amount cannot be, whatever the shape is; NULL where it can.
static const char *why_never(cavum_step_kind kind, const tried_amount *tried) {
  bool back = tried->amount_m < -tried->slack_m;
  bool deep = fabs(tried->amount_m) > MOST_DEPTH_M + tried->slack_m;
  switch (kind) {
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

static void set_obstacle(const tried_amount *tried, const char *before, const char *text) {
  snprintf(tried->obstacle, CAVUM_STEP_LINE_SIZE, "%s%.*s", before, CAVUM_STEP_LINE_SIZE - 16,
           text);
}

// Takes a copy of the shape through the step by an amount.
static cavum_status try_on(const tried_amount *tried, const cavum_cell *shape,
                           const cavum_chain_step *from) {
  cavum_cell copy;
  cavum_error what = {0};
  // What is found to be below nothing by chance only is nothing.
  if (fabs(tried->amount_m) < tried->slack_m) return CAVUM_OK;
  cavum_status status = cavum_shape_copy(&copy, shape, NULL);
  if (status != CAVUM_OK) return status;
  status = cavum_shape_take_step(&copy, from, tried->amount_m, &what);
  cavum_cell_clear(&copy);
  if (status == CAVUM_ERR_MEMORY) return status;
  if (status != CAVUM_OK) set_obstacle(tried, "impossible: ", what.message);
  return CAVUM_OK;
}

static bool is_length(cavum_step_kind kind) {
  return kind == CAVUM_STEP_TRIM || kind == CAVUM_STEP_WELD || kind == CAVUM_STEP_STRETCH ||
         kind == CAVUM_STEP_LORENTZ || kind == CAVUM_STEP_PRELOAD;
}

// An amount that is a large part of the cell is no step that a slope tells.
static void set_caution(cavum_step *step, const cavum_cell *shape, const cavum_chain_step *from) {
  bool stretches = step->kind == CAVUM_STEP_STRETCH || step->kind == CAVUM_STEP_PRELOAD;
  double part = fabs(step->next_amount) / cavum_contour_length_m(&shape->path);
  if (stretches) part *= from->whole_over_cell;
  if (!is_length(step->kind) || !(part > LINEAR_PART)) return;
  snprintf(step->next_caution, sizeof step->next_caution,
           "%.*g %% of the length of the cell, far beyond what a linear estimate covers",
           part < 0.995 ? 2 : 3, 100.0 * part);
}

// Says what can never be, whatever the shape is.
static void mark_obstacles(cavum_step *step) {
  tried_amount amounts[NUM_AMOUNTS];
  amounts_of(amounts, step);
  for (int k = 0; k < NUM_AMOUNTS; k++) {
    const char *reason = isnan(amounts[k].amount_m) ? NULL : why_never(step->kind, &amounts[k]);
    if (reason) set_obstacle(&amounts[k], "", reason);
  }
}

static cavum_status try_step(cavum_step *step, const cavum_cell *shape,
                             const cavum_chain_step *from) {
  tried_amount amounts[NUM_AMOUNTS];
  amounts_of(amounts, step);
  for (int k = 0; k < NUM_AMOUNTS; k++) {
    if (isnan(amounts[k].amount_m) || amounts[k].obstacle[0]) continue;
    cavum_status status = try_on(&amounts[k], shape, from);
    if (status != CAVUM_OK) return status;
  }
  if (!isnan(step->next_amount) && !step->next_obstacle[0]) set_caution(step, shape, from);
  return CAVUM_OK;
}

cavum_status cavum_steps_try_amounts(cavum_steps_result *result, const cavum_cell *before,
                                     const cavum_steps *steps, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < steps->num_steps && status == CAVUM_OK; i++) {
    cavum_step *step = result->steps[i + 1];
    mark_obstacles(step);
    if (before[i].path.num_curves > 0) status = try_step(step, &before[i], &steps->steps[i]);
  }
  return status == CAVUM_ERR_MEMORY ? cavum_fail_memory(error) : status;
}
