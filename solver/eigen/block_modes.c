// SPDX-License-Identifier: GPL-3.0-or-later
// Several modes at once: Rayleigh-Ritz in the space of the present vectors, their corrections by
// inverse iteration and the directions of the step before.
#include "eigen/block_modes.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/block_ritz.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "eigen/step_rate.h"

enum { STEPS_MOST = 12 };

// Right-hand sides under way.
typedef struct queue {
  int count;
  cavum_pencil_rhs rhs[2 * CAVUM_TALL_SKINNY_MOST];
} queue;

static void add_rhs(queue *q, const cavum_pencil *pencil, double *y, const double *b) {
  q->rhs[q->count++] = (cavum_pencil_rhs){pencil, y, b};
}

// A first step in single precision: the corrections of all modes, behind these, A^-1 of theta M x -
// A x. Factors in single precision make them to some digits, and the next step finds what is left.
static void queue_all_residuals(queue *q, cavum_mode_block *b) {
  size_t size = (size_t)b->size;
  for (int i = 0; i < b->count; i++) {
    double *to = b->v + (size_t)(b->count + i) * size, theta = b->k2[i] - b->pencil->shift_per_m2;
    const double *mx = b->mv + (size_t)i * size, *ax = b->av + (size_t)i * size;
    for (size_t k = 0; k < size; k++) to[k] = theta * mx[k] - ax[k];
    add_rhs(q, b->pencil, to, to);
  }
}

// A first step: v = A^-1 M v of all modes; M v is at hand and becomes A v.
static void queue_all(queue *q, cavum_mode_block *b) {
  if (b->pencil->is_single) {
    queue_all_residuals(q, b);
    return;
  }
  memcpy(b->av, b->mv, (size_t)b->count * (size_t)b->size * sizeof *b->av);
  for (int i = 0; i < b->count; i++) {
    size_t at = (size_t)i * (size_t)b->size;
    add_rhs(q, b->pencil, b->v + at, b->av + at);
  }
}

static void finish_all(cavum_mode_block *b) {
  size_t size = (size_t)b->size, all = (size_t)b->count * size;
  bool is_single = b->pencil->is_single;
  for (size_t k = 0; is_single && k < all; k++) b->v[k] += b->v[all + k];
  cavum_pencil_multiply(b->mv, is_single ? b->av : NULL, b->pencil, b->v, b->count);
  for (int i = 0; i < b->count; i++) (void)cavum_mode_block_normalise(b, (size_t)i * size, 0.0);
}

// Corrections of the modes that are not accurate yet: A^-1 M x, for now.
static void queue_corrections(queue *q, cavum_mode_block *b) {
  size_t size = (size_t)b->size;
  b->corrections = 0;
  for (int i = b->first; i < b->wanted; i++) {
    if (b->error[i] <= b->accuracy[i]) continue;
    size_t at = (size_t)(b->count + b->directions + b->corrections) * size;
    double *to = b->v + at, *mx = b->mv + (size_t)i * size, *ax = b->av + (size_t)i * size;
    b->mode[b->corrections++] = i;
    for (size_t k = 0; b->pencil->is_single && k < size; k++) to[k] = b->theta[i] * mx[k] - ax[k];
    add_rhs(q, b->pencil, to, b->pencil->is_single ? to : mx);
  }
}

// d = theta A^-1 M x - x, of unit norm; A d is the residual of x, to a sign. Those that are nothing
// but rounding are left out.
static void finish_corrections(cavum_mode_block *b) {
  size_t size = (size_t)b->size, first = (size_t)(b->count + b->directions) * size;
  int queued = b->corrections;
  bool is_single = b->pencil->is_single;
  for (int k = 0; k < queued && !is_single; k++) {
    size_t at = first + (size_t)k * size, mode = (size_t)b->mode[k] * size;
    const double *x = b->v + mode, *mx = b->mv + mode, *ax = b->av + mode;
    double *d = b->v + at, *ad = b->av + at, theta = b->theta[b->mode[k]];
    for (size_t i = 0; i < size; i++) {
      d[i] = theta * d[i] - x[i];
      ad[i] = theta * mx[i] - ax[i];
    }
  }
  cavum_pencil_multiply(b->mv + first, is_single ? b->av + first : NULL, b->pencil, b->v + first,
                        queued);
  b->corrections = 0;
  for (int k = 0; k < queued; k++) {
    if (!cavum_mode_block_normalise(b, first + (size_t)k * size, CAVUM_CORRECTION_LEAST)) continue;
    int before = b->count + b->directions;
    cavum_mode_block_move(b, before + k, before + b->corrections++);
  }
}

// Errors after a first step, which has shown no more than how k^2 changed. It leaves of a mode that
// is beyond the block, and so farther from the shift than the last one by that factor at least,
// what the ratio of the distances says.
static void assess_first(cavum_mode_block *b) {
  double beyond = CAVUM_CLOSE_BEHIND * fabs(b->theta[b->wanted - 1]), lack = 0.0;
  for (int i = b->first; i < b->wanted; i++) {
    double k2 = b->theta[i] + b->pencil->shift_per_m2;
    b->moved[i] = cavum_step_moved(fabs(k2 / b->k2[i] - 1.0));
    lack = cavum_max(lack, cavum_step_lack(b->moved[i], k2, b->guess_degree));
  }
  for (int i = b->first; i < b->wanted; i++) {
    double rate = fabs(b->theta[i]) / beyond, most = CAVUM_STEP_RATE_FIRST;
    double inherited = b->error[i] * cavum_max(1.0, rate / CAVUM_STEP_RATE_FIRST);
    if (b->guess_degree > 0) most = cavum_step_rate_by_lack(lack, b->theta[i]);
    b->error[i] = cavum_step_error_from_below(b->moved[i], b->theta[i], b->pencil->shift_per_m2,
                                              inherited, most);
  }
}

// Errors of the modes that were corrected: a part of how far they moved.
static void assess(cavum_mode_block *b) {
  for (int k = b->first; k < b->wanted; k++) {
    if (b->error[k] <= b->accuracy[k]) continue;
    b->error[k] = cavum_step_error_left(b->moved[k], b->moved_before[k]);
  }
}

static void finish_assessment(cavum_mode_block *b) {
  b->settled = true;
  for (int i = b->first; i < b->wanted; i++) {
    b->settled = b->settled && b->error[i] <= b->accuracy[i];
    b->moved_before[i] = b->moved[i];
  }
  for (int i = 0; i < b->count; i++) b->k2[i] = b->theta[i] + b->pencil->shift_per_m2;
}

// One step of all blocks that have not settled. Blocks share factors, so all right-hand sides are
// solved for together.
static cavum_status step(cavum_mode_block *blocks, int count, bool first, bool *lost,
                         cavum_error *error) {
  queue q = {0};
  for (int c = 0; c < count; c++) {
    cavum_mode_block *b = &blocks[c];
    if (b->settled) continue;
    if (first) queue_all(&q, b);
    if (!first) queue_corrections(&q, b);
  }
  cavum_pencil_solve_many(blocks[0].pencil, blocks[0].level, q.rhs, q.count);
  cavum_status status = cavum_stop_check(error);
  if (status != CAVUM_OK) return status;
  for (int c = 0; c < count && !*lost; c++) {
    cavum_mode_block *b = &blocks[c];
    if (b->settled) continue;
    if (first) finish_all(b);
    if (!first) finish_corrections(b);
    status = cavum_mode_block_take_ritz_pairs(b, lost, !first, error);
    if (status == CAVUM_OK) status = cavum_stop_check(error);
    if (status != CAVUM_OK) return status;
    if (*lost) continue;
    if (first) assess_first(b);
    if (!first) assess(b);
    finish_assessment(b);
  }
  return CAVUM_OK;
}

static cavum_status iterate(cavum_mode_block *blocks, int count, bool *settled,
                            cavum_error *error) {
  bool lost = false, all = false;
  for (int i = 0; i < STEPS_MOST && !all && !lost; i++) {
    cavum_status status = cavum_stop_check(error);
    if (status == CAVUM_OK) status = step(blocks, count, i == 0, &lost, error);
    if (status != CAVUM_OK) return status;
    all = true;
    for (int c = 0; c < count; c++) all = all && blocks[c].settled;
  }
  for (int c = 0; c < count && !lost; c++) all = all && cavum_mode_block_is_complete(&blocks[c]);
  *settled = all && !lost;
  return CAVUM_OK;
}

cavum_status cavum_block_modes_improve(bool *settled, double **mx, const cavum_block_task *tasks,
                                       int count, int level, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mode_block blocks[CAVUM_BLOCK_TASKS_MOST] = {{0}};
  *settled = false;
  if (!CAVUM_HOLDS(count >= 1 && count <= CAVUM_BLOCK_TASKS_MOST))
    return cavum_fail_internal(error, "classes of modes");
  for (int c = 0; c < count; c++) {
    if (!CAVUM_HOLDS(tasks[c].wanted <= tasks[c].guess->count)) {
      return cavum_fail_internal(error, "more modes are wanted than there are guesses");
    }
  }
  for (int c = 0; c < count; c++) {
    if (CAVUM_BLOCK_BASIS * (tasks[c].guess->count + 1) > CAVUM_TALL_SKINNY_MOST) return CAVUM_OK;
  }
  for (int c = 0; c < count; c++) {
    CAVUM_TRY(cavum_pencil_reach_level_as_is(tasks[c].pencil, level, error));
  }
  for (int c = 0; c < count; c++) {
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(cavum_mode_block_create(&blocks[c], &tasks[c], level, error));
    cavum_mode_block_start(&blocks[c], &tasks[c]);
  }
  CAVUM_TRY(iterate(blocks, count, settled, error));
  for (int c = 0; c < count && *settled; c++) {
    CAVUM_TRY(cavum_mode_block_keep(&tasks[c].modes[level], &blocks[c], tasks[c].guess, error));
    int products = cavum_block_with_neighbours(&tasks[c].modes[level], tasks[c].wanted);
    if (mx) mx[c] = cavum_mode_block_keep_products(&blocks[c], products);
  }
done:
  if (status != CAVUM_OK) *settled = false;
  for (int c = 0; c < count; c++) cavum_mode_block_clear(&blocks[c]);
  return status;
}
