// SPDX-License-Identifier: GPL-3.0-or-later
// Modes of lower degrees by projection.
#include "eigen/projection.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "linalg/blas_calls.h"
#include "linalg/small_eigen.h"
#include "linalg/tall_skinny.h"

// A projection that changes its vector by more than this is none.
static const double CHANGE_MOST = 1e-3;

// How many modes of a task are projected: one that is nearly degenerate with the last wanted one
// mixes with it by what a degree lacks over their distance, so it is needed too.
static int num_projected(const cavum_block_task *task) {
  return cavum_block_with_neighbours(&task->modes[0], task->wanted);
}

// The lowest level that has room for the modes of all tasks.
static int lowest_level(const cavum_block_task *tasks, int count) {
  int lowest = tasks[0].pencil->num_levels - 1;
  for (int c = 0; c < count; c++) {
    while (lowest > 0 && tasks[c].pencil->levels[lowest].num_rows < 2 * tasks[c].modes[0].count) {
      lowest--;
    }
  }
  return lowest;
}

// Factors in single precision correct what a lower level has of each mode: its vectors become the
// residuals theta M x - A x_l. Work space x has room for two vectors of each.
static void put_residuals(const cavum_block_task *task, int level, const double *mx, double *x) {
  const cavum_modes *high = &task->modes[0];
  const cavum_pencil *pencil = task->pencil;
  int count = task->modes[level].count;
  size_t size = (size_t)high->num_unknowns, all = (size_t)count * size;
  memcpy(x, high->vectors, all * sizeof *x);
  for (int i = 0; i < count; i++) {
    cavum_space_truncate(x + (size_t)i * size, &pencil->discretisation->space,
                         pencil->levels[level].degree);
  }
  cavum_pencil_multiply(x + all, task->modes[level].vectors, pencil, x, count);
  for (int i = 0; i < count; i++) {
    double *to = task->modes[level].vectors + (size_t)i * size;
    double theta = high->k2_per_m2[i] - pencil->shift_per_m2;
    for (size_t k = 0; k < size; k++) to[k] = theta * mx[(size_t)i * size + k] - to[k];
  }
}

// x_l plus its correction, the z of take_ritz_pairs().
static void add_starts(const cavum_block_task *task, int level) {
  const cavum_modes *high = &task->modes[0];
  const cavum_pencil *pencil = task->pencil;
  size_t size = (size_t)high->num_unknowns;
  for (int i = 0; i < task->modes[level].count; i++) {
    double *to = task->modes[level].vectors + (size_t)i * size;
    const double *x = high->vectors + (size_t)i * size;
    for (size_t k = 0; k < size; k++) to[k] += x[k];
    cavum_space_truncate(to, &pencil->discretisation->space, pencil->levels[level].degree);
  }
}

// A_l^-1 M x of all modes; from factors in single precision theta times that.
static cavum_status solve_all(const cavum_block_task *tasks, int count, int level,
                              const double *const *mx, double *space, cavum_error *error) {
  cavum_pencil_rhs rhs[CAVUM_BLOCK_TASKS_MOST * CAVUM_TALL_SKINNY_MOST] = {{NULL, NULL, NULL}};
  int num_rhs = 0;
  cavum_index size = tasks[0].modes[0].num_unknowns;
  for (int c = 0; c < count; c++) {
    const cavum_modes *high = &tasks[c].modes[0];
    cavum_modes *low = &tasks[c].modes[level];
    cavum_status status =
        cavum_modes_allocate(low, num_projected(&tasks[c]), high->num_unknowns, error);
    if (status != CAVUM_OK) return status;
    cavum_modes_copy_numbers(low, high, 0, low->count);
  }
  for (int c = 0; c < count; c++) {
    cavum_status status = cavum_pencil_reach_level_as_is(tasks[c].pencil, level, error);
    if (status != CAVUM_OK) return status;
    if (tasks[c].pencil->is_single) put_residuals(&tasks[c], level, mx[c], space);
    for (int i = 0; i < tasks[c].modes[level].count; i++) {
      double *y = tasks[c].modes[level].vectors + (size_t)i * (size_t)size;
      const double *b = tasks[c].pencil->is_single ? y : mx[c] + (size_t)i * (size_t)size;
      rhs[num_rhs++] = (cavum_pencil_rhs){tasks[c].pencil, y, b};
    }
  }
  cavum_pencil_solve_many(tasks[0].pencil, level, rhs, num_rhs);
  for (int c = 0; c < count; c++) {
    if (tasks[c].pencil->is_single) add_starts(&tasks[c], level);
  }
  return cavum_stop_check(error);
}

// Rayleigh-Ritz in the span of z_i = theta_i y_i, y_i = A^-1 M x_i, in place. With the products
// p_ij = x_i M y_j, z_i A z_j = theta_i theta_j p_ij exactly, and z_i M z_j = z_i M x_j + x_i M z_j
// - x_i M x_j up to the square of what is between z and x. False where the matrices make no sense.
static bool take_ritz_pairs(cavum_modes *low, const cavum_modes *high, const double *mx,
                            double shift_per_m2, double *small) {
  int n = low->count;
  double *p = small, *a = p + n * n, *m = a + n * n, *theta = m + n * n, *value = theta + n;
  cavum_tall_skinny_product(p, n, mx, n, low->vectors, n, low->num_unknowns);
  for (int i = 0; i < n; i++) theta[i] = high->k2_per_m2[i] - shift_per_m2;
  for (int j = 0; j < n; j++) {
    for (int i = 0; i < n; i++) {
      a[j * n + i] = theta[i] * theta[j] * p[j * n + i];
      m[j * n + i] = theta[j] * p[j * n + i] + theta[i] * p[i * n + j] - (i == j ? 1.0 : 0.0);
    }
  }
  if (!cavum_small_eigen(a, m, value, n, value + n)) return false;
  for (int j = 0; j < n; j++) {
    low->k2_per_m2[j] = shift_per_m2 + value[j];
    for (int i = 0; i < n; i++) a[j * n + i] *= theta[i];
  }
  cavum_tall_skinny_combine(low->vectors, low->num_unknowns, n, n, a, n);
  return true;
}

// Rayleigh-Ritz in the span of the vectors as they are, in place; mz has room for two of each.
static bool take_measured_pairs(cavum_modes *low, const cavum_pencil *pencil, double *mz,
                                double *small) {
  int n = low->count;
  size_t size = (size_t)low->num_unknowns;
  double *a = small, *m = a + n * n, *value = m + n * n;
  double *az = mz + (size_t)n * size;
  cavum_pencil_multiply(mz, az, pencil, low->vectors, n);
  cavum_tall_skinny_product(a, n, low->vectors, n, az, n, low->num_unknowns);
  cavum_tall_skinny_product(m, n, low->vectors, n, mz, n, low->num_unknowns);
  if (!cavum_small_eigen(a, m, value, n, value + n)) return false;
  for (int j = 0; j < n; j++) low->k2_per_m2[j] = pencil->shift_per_m2 + value[j];
  cavum_tall_skinny_combine(low->vectors, low->num_unknowns, n, n, a, n);
  return true;
}

// Relative size of the difference of two vectors of coefficients, whatever their signs.
static double difference(const double *x, const double *y, cavum_index size) {
  double sign = cblas_ddot(size, x, 1, y, 1) < 0.0 ? -1.0 : 1.0, sum = 0.0;
  for (cavum_index i = 0; i < size; i++) sum += (x[i] - sign * y[i]) * (x[i] - sign * y[i]);
  return sqrt(sum) / cblas_dnrm2(size, x, 1);
}

static bool are_close(const cavum_modes *low, const cavum_modes *high, int wanted) {
  for (int i = 0; i < wanted; i++) {
    size_t at = (size_t)i * (size_t)low->num_unknowns;
    double apart = difference(high->vectors + at, low->vectors + at, low->num_unknowns);
    if (!(apart < CHANGE_MOST)) return false;
  }
  return true;
}

// Whether the guesses of a task can be the modes of a level: to the accuracy of vectors that were
// iterated there, without neighbours that would have to be as good.
static bool may_take(const cavum_block_task *task, const cavum_modes *guess) {
  int wanted = task->wanted;
  if (guess->count < wanted || num_projected(task) > wanted) return false;
  for (int i = 0; i < wanted; i++) {
    double factor = task->by_factors ? task->modes[0].accuracy_factor[i] : 1.0;
    if (!(guess->vector_error[i] <= task->accuracy * factor)) return false;
  }
  return are_close(guess, &task->modes[0], wanted);
}

// Signs of vectors as those of the highest level.
static void turn_like(cavum_modes *low, const cavum_modes *high) {
  for (int i = 0; i < low->count; i++) {
    double *x = low->vectors + (size_t)i * (size_t)low->num_unknowns;
    const double *y = high->vectors + (size_t)i * (size_t)low->num_unknowns;
    if (cblas_ddot(low->num_unknowns, x, 1, y, 1) >= 0.0) continue;
    cblas_dscal(low->num_unknowns, -1.0, x, 1);
  }
}

void cavum_projection_take_guesses(const cavum_block_task *tasks, cavum_modes *const *guess,
                                   int count) {
  const cavum_pencil *pencil = tasks[0].pencil;
  int level = pencil->discretisation->reference->degree - tasks[0].guess_degree;
  if (tasks[0].guess_degree == 0 || level < 1 || level >= pencil->num_levels) return;
  for (int c = 0; c < count; c++) {
    if (!may_take(&tasks[c], guess[c])) return;
  }
  for (int c = 0; c < count; c++) {
    cavum_modes *low = &tasks[c].modes[level];
    *low = *guess[c];
    low->count = tasks[c].wanted;
    *guess[c] = (cavum_modes){0};
    turn_like(low, &tasks[c].modes[0]);
  }
}

static cavum_status project(bool *close, const cavum_block_task *tasks, int count, int level,
                            const double *const *mx, double *space, cavum_error *error) {
  *close = true;
  cavum_status status = solve_all(tasks, count, level, mx, space, error);
  for (int c = 0; status == CAVUM_OK && c < count; c++) {
    cavum_modes *low = &tasks[c].modes[level];
    int n = low->count;
    double *small =
        cavum_alloc_aligned(3 * n * n + 2 * n + cavum_small_eigen_work(n), sizeof *small);
    if (!small) return cavum_fail_memory(error);
    bool done = tasks[c].pencil->is_single ? take_measured_pairs(low, tasks[c].pencil, space, small)
                                           : take_ritz_pairs(low, &tasks[c].modes[0], mx[c],
                                                             tasks[c].pencil->shift_per_m2, small);
    free(small);
    status = cavum_stop_check(error);
    if (status != CAVUM_OK) return status;
    *close = *close && done && are_close(low, &tasks[c].modes[0], tasks[c].wanted);
  }
  return status;
}

// From the modes of the highest level, of which the lower one has a part.
static cavum_status take_guess(cavum_modes *guess, const cavum_block_task *task, int level,
                               cavum_error *error) {
  const cavum_modes *high = &task->modes[0];
  const cavum_pencil *pencil = task->pencil;
  cavum_status status = cavum_modes_allocate(guess, num_projected(task), high->num_unknowns, error);
  if (status != CAVUM_OK) return status;
  cavum_modes_copy(guess, high, 0, guess->count);
  for (int i = 0; i < guess->count; i++) {
    cavum_space_truncate(guess->vectors + (size_t)i * (size_t)guess->num_unknowns,
                         &pencil->discretisation->space, pencil->levels[level].degree);
    guess->vector_error[i] = 1.0;
  }
  return CAVUM_OK;
}

static cavum_status iterate(const cavum_block_task *tasks, int count, int level,
                            cavum_error *error) {
  cavum_block_task own[CAVUM_BLOCK_TASKS_MOST];
  cavum_modes guess[CAVUM_BLOCK_TASKS_MOST] = {{0}};
  cavum_status status = CAVUM_OK;
  bool settled;
  for (int c = 0; c < count; c++) {
    cavum_modes_clear(&tasks[c].modes[level]);
    CAVUM_TRY(take_guess(&guess[c], &tasks[c], level, error));
    own[c] = tasks[c];
    own[c].guess = &guess[c];
    own[c].wanted = guess[c].count;
  }
  CAVUM_TRY(cavum_block_modes_improve(&settled, NULL, own, count, level, error));
done:
  for (int c = 0; c < count; c++) cavum_modes_clear(&guess[c]);
  return status;
}

// Two vectors of each mode of the task with the most, for factors in single precision; they serve
// all levels, since fresh memory costs as much as a product.
static cavum_status make_space(double **space, const cavum_block_task *tasks, int count,
                               cavum_error *error) {
  int64_t most = 0;
  for (int c = 0; c < count; c++) {
    int64_t modes = num_projected(&tasks[c]);
    if (!tasks[c].pencil->is_single) modes = 0;
    most = modes > most ? modes : most;
  }
  *space = cavum_alloc_aligned(2 * most * tasks[0].modes[0].num_unknowns, sizeof **space);
  return *space ? CAVUM_OK : cavum_fail_memory(error);
}

cavum_status cavum_projection_fill(const cavum_block_task *tasks, int count,
                                   const double *const *mx, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *space = NULL;
  if (!CAVUM_HOLDS(count >= 1 && count <= CAVUM_BLOCK_TASKS_MOST)) {
    return cavum_fail_internal(error, "classes of modes");
  }
  for (int c = 0; c < count; c++) {
    if (!CAVUM_HOLDS(tasks[c].wanted <= tasks[c].modes[0].count)) {
      return cavum_fail_internal(error, "more modes are wanted than there are");
    }
    if (num_projected(&tasks[c]) > CAVUM_TALL_SKINNY_MOST) return CAVUM_OK;
  }
  status = make_space(&space, tasks, count, error);
  for (int l = 1; status == CAVUM_OK && l <= lowest_level(tasks, count); l++) {
    bool close;
    if (tasks[0].modes[l].count > 0) continue;  // of all tasks then
    status = project(&close, tasks, count, l, mx, space, error);
    if (status == CAVUM_OK && !close) status = iterate(tasks, count, l, error);
  }
  free(space);
  return status;
}

cavum_status cavum_projection_fill_class(const cavum_block_task *task, cavum_error *error) {
  cavum_block_task all = *task;
  const cavum_modes *high = &task->modes[0];
  size_t size = (size_t)high->num_unknowns;
  double *mx = cavum_alloc(high->count * (int64_t)size, sizeof *mx);
  const double *const products[1] = {mx};
  if (!mx) return cavum_fail_memory(error);
  all.wanted = high->count;
  cavum_pencil_multiply(mx, NULL, task->pencil, high->vectors, high->count);
  cavum_status status = cavum_projection_fill(&all, 1, products, error);
  free(mx);
  return status;
}
