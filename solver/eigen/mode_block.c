// SPDX-License-Identifier: GPL-3.0-or-later
// Storage of a block of modes.
#include "eigen/mode_block.h"

#include <string.h>

#include "base/base.h"
#include "eigen/step_rate.h"
#include "linalg/blas_calls.h"
#include "linalg/small_eigen.h"

cavum_status cavum_mode_block_create(cavum_mode_block *b, const cavum_block_task *task, int level,
                                     cavum_error *error) {
  int first = cavum_modes_has_static(task->pencil) ? 1 : 0, count = task->guess->count + first;
  int64_t size = task->guess->num_unknowns, order = CAVUM_BLOCK_BASIS * (int64_t)count;
  int64_t vectors = order * size, small = 2 * order * order + cavum_small_eigen_work((int)order);
  *b = (cavum_mode_block){.pencil = task->pencil, .size = (cavum_index)size, .level = level};
  b->first = first;
  b->count = count;
  b->wanted = first + task->wanted;
  b->guess_degree = task->guess_degree;
  b->v = cavum_alloc_aligned(vectors, sizeof *b->v);
  b->mv = cavum_alloc_aligned(vectors, sizeof *b->mv);
  b->av = cavum_alloc_aligned(vectors, sizeof *b->av);
  b->memory = cavum_alloc_aligned(small + 2 * order + 5 * (int64_t)count, sizeof *b->memory);
  if (!b->v || !b->mv || !b->av || !b->memory) {
    cavum_mode_block_clear(b);
    return cavum_fail_memory(error);
  }
  b->small = b->memory;
  b->theta = b->small + small;
  b->energy = b->theta + order;
  b->k2 = b->energy + order;
  b->error = b->k2 + count;
  b->moved = b->error + count;
  b->moved_before = b->moved + count;
  b->accuracy = b->moved_before + count;
  return CAVUM_OK;
}

void cavum_mode_block_clear(cavum_mode_block *b) {
  if (!b) return;
  free(b->v);
  free(b->mv);
  free(b->av);
  free(b->memory);
  memset(b, 0, sizeof *b);
}

bool cavum_mode_block_normalise(cavum_mode_block *b, size_t at, double least) {
  double norm = sqrt(cblas_ddot(b->size, b->v + at, 1, b->mv + at, 1));
  if (!(norm > least)) return false;
  cblas_dscal(b->size, 1.0 / norm, b->v + at, 1);
  cblas_dscal(b->size, 1.0 / norm, b->mv + at, 1);
  cblas_dscal(b->size, 1.0 / norm, b->av + at, 1);
  return true;
}

void cavum_mode_block_move(cavum_mode_block *b, int from, int to) {
  size_t size = (size_t)b->size, bytes = size * sizeof *b->v, at = (size_t)from * size;
  if (from == to) return;
  memcpy(b->v + (size_t)to * size, b->v + at, bytes);
  memcpy(b->mv + (size_t)to * size, b->mv + at, bytes);
  memcpy(b->av + (size_t)to * size, b->av + at, bytes);
}

// The static mode, a constant: ones at the vertices.
static void fill_static(cavum_mode_block *b) {
  memset(b->v, 0, (size_t)b->size * sizeof *b->v);
  for (cavum_index i = 0; i < b->pencil->discretisation->mesh->num_vertices; i++) b->v[i] = 1.0;
}

void cavum_mode_block_start(cavum_mode_block *b, const cavum_block_task *task) {
  const cavum_modes *guess = task->guess;
  int first = b->first;
  size_t size = (size_t)b->size, own = (size_t)guess->count;
  if (first) fill_static(b);
  memcpy(b->v + (size_t)first * size, guess->vectors, own * size * sizeof *b->v);
  memcpy(b->k2 + first, guess->k2_per_m2, own * sizeof *b->k2);
  memcpy(b->error + first, guess->vector_error, own * sizeof *b->error);
  for (int i = first; i < b->wanted; i++) {
    double factor = task->by_factors ? guess->accuracy_factor[i - first] : 1.0;
    b->accuracy[i] = cavum_max(task->accuracy * factor, CAVUM_STEP_ACCURACY_LEAST);
  }
  cavum_pencil_multiply(b->mv, b->pencil->is_single ? b->av : NULL, b->pencil, b->v, b->count);
}

int cavum_block_with_neighbours(const cavum_modes *modes, int wanted) {
  int count = wanted;
  while (count > 0 && count < modes->count &&
         modes->k2_per_m2[count] - modes->k2_per_m2[wanted - 1] <
             CAVUM_NEARLY_DEGENERATE * fabs(modes->k2_per_m2[wanted - 1])) {
    count++;
  }
  return count;
}

// So many vectors of a block from the first mode on, without the memory behind them.
static double *hand_over(double *vectors, const cavum_mode_block *b, int count) {
  size_t size = (size_t)b->size, bytes = (size_t)count * size * sizeof *vectors;
  if (b->first > 0) memmove(vectors, vectors + (size_t)b->first * size, bytes);
  double *shrunk = realloc(vectors, bytes > 0 ? bytes : 1);
  return shrunk ? shrunk : vectors;
}

cavum_status cavum_mode_block_keep(cavum_modes *modes, cavum_mode_block *b,
                                   const cavum_modes *guess, cavum_error *error) {
  size_t first = (size_t)b->first, count = (size_t)guess->count;
  cavum_status status = cavum_modes_allocate_numbers(modes, guess->count, b->size, error);
  if (status != CAVUM_OK) return status;
  cavum_modes_copy_numbers(modes, guess, 0, guess->count);
  memcpy(modes->k2_per_m2, b->k2 + first, count * sizeof *b->k2);
  memcpy(modes->vector_error, b->error + first, count * sizeof *b->error);
  modes->vectors = hand_over(b->v, b, guess->count);
  b->v = NULL;
  return CAVUM_OK;
}

double *cavum_mode_block_keep_products(cavum_mode_block *b, int wanted) {
  double *mx = hand_over(b->mv, b, wanted);
  b->mv = NULL;
  return mx;
}
