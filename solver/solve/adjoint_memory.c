// SPDX-License-Identifier: GPL-3.0-or-later
// The vectors of three cells change places: those of the last two, and room for the present one.
#include "solve/adjoint_memory.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "linalg/blas_calls.h"

enum { ROWS = CAVUM_BORDERED_MOST, MODE_ROW = 2 * ROWS, ALL_ROWS };
// After so many cells in turn that began from those before, a cell begins from nothing again: only
// then is the contraction measured of all that the solutions are made of.
enum { USES_MOST = 16 };
// The line is taken where it explains this part of the square of what the mode changed by, up to so
// many steps from the last cell: errors of both cells grow with the steps.
static const double EXPLAINED_LEAST = 0.5, STEPS_MOST = 2.0;

static void clear_cell(cavum_adjoint_cell *cell) {
  free(cell->vectors);
  *cell = (cavum_adjoint_cell){0};
}

void cavum_adjoint_memory_clear(cavum_adjoint_memory *memory) {
  if (!memory) return;
  clear_cell(&memory->last);
  clear_cell(&memory->before);
  clear_cell(&memory->next);
  *memory = (cavum_adjoint_memory){0};
}

static bool same_key(const cavum_adjoint_key *a, const cavum_adjoint_key *b) {
  return a->topology == b->topology && a->degree == b->degree && a->mode == b->mode &&
         a->num_unknowns == b->num_unknowns;
}

cavum_status cavum_adjoint_memory_begin(cavum_adjoint_memory *memory, const cavum_adjoint_key *key,
                                        cavum_error *error) {
  if (!same_key(&memory->key, key)) cavum_adjoint_memory_clear(memory);
  memory->key = *key;
  if (!memory->next.vectors) {
    memory->next.vectors =
        cavum_alloc_aligned(ALL_ROWS * (int64_t)key->num_unknowns, sizeof *memory->next.vectors);
  }
  return memory->next.vectors ? CAVUM_OK : cavum_fail_memory(error);
}

static double *row_of(const cavum_adjoint_memory *memory, const cavum_adjoint_cell *cell, int row) {
  return cell->vectors + row * (int64_t)memory->key.num_unknowns;
}

double *cavum_adjoint_memory_row(const cavum_adjoint_memory *memory, const cavum_adjoint_cell *cell,
                                 int j, bool product) {
  return row_of(memory, cell, product ? ROWS + j : j);
}

static bool has_rows(const cavum_adjoint_cell *cell, const bool exists[ROWS]) {
  for (int j = 0; j < ROWS; j++) {
    if (exists[j] && !cell->exists[j]) return false;
  }
  return cell->vectors != NULL;
}

static void turn_sign(const cavum_adjoint_memory *memory, const cavum_adjoint_cell *cell) {
  cavum_index n = memory->key.num_unknowns;
  for (int j = 0; j < ROWS; j++) {
    if (!cell->exists[j]) continue;
    cblas_dscal(n, -1.0, row_of(memory, cell, j), 1);
    cblas_dscal(n, -1.0, row_of(memory, cell, ROWS + j), 1);
  }
  cblas_dscal(n, -1.0, row_of(memory, cell, MODE_ROW), 1);
}

// Of the change from `last` to `mode` and of the step from `before` to `last`: their squares and
// their product.
CAVUM_FAST static void sum_squares(double *square, double *of_step, double *both,
                                   const double *restrict mode, const double *restrict last,
                                   const double *restrict before, cavum_index count) {
  enum { HALF = CAVUM_LANES / 2 };
  cavum_half sums[3] = {{0}};
  cavum_index i = 0;
  for (; i + HALF <= count; i += HALF) {
    const cavum_half at_last = *(const cavum_half_anywhere *)(last + i);
    cavum_half change = *(const cavum_half_anywhere *)(mode + i) - at_last;
    cavum_half step = at_last - *(const cavum_half_anywhere *)(before + i);
    sums[0] += change * change;
    sums[1] += step * step;
    sums[2] += change * step;
  }
  *square = *of_step = *both = 0.0;
  for (; i < count; i++) {
    double change = mode[i] - last[i], step = last[i] - before[i];
    *square += change * change;
    *of_step += step * step;
    *both += change * step;
  }
  for (int l = 0; l < HALF; l++) {
    *square += sums[0][l];
    *of_step += sums[1][l];
    *both += sums[2][l];
  }
}

// How many of the steps between both cells the mode is behind the last one; 0 where it is not on
// their line.
static double steps_behind(const cavum_adjoint_memory *memory, const double *mode) {
  const double *last = row_of(memory, &memory->last, MODE_ROW);
  const double *before = row_of(memory, &memory->before, MODE_ROW);
  double square, of_step, both;
  sum_squares(&square, &of_step, &both, mode, last, before, memory->key.num_unknowns);
  if (!(of_step > 0.0) || !(both * both >= EXPLAINED_LEAST * square * of_step)) return 0.0;
  return fabs(both) <= STEPS_MOST * of_step ? both / of_step : 0.0;
}

CAVUM_FAST static void extrapolate(double *restrict before, const double *restrict last,
                                   double steps, cavum_index count) {
  for (cavum_index i = 0; i < count; i++) before[i] = last[i] + steps * (last[i] - before[i]);
}

// Into the place of the one before.
static void go_along(const cavum_adjoint_memory *memory, const bool exists[ROWS], double steps) {
  cavum_index n = memory->key.num_unknowns;
  for (int row = 0; row < 2 * ROWS; row++) {
    if (!exists[row % ROWS]) continue;
    const double *last = row_of(memory, &memory->last, row);
    extrapolate(row_of(memory, &memory->before, row), last, steps, n);
  }
}

const cavum_adjoint_cell *cavum_adjoint_memory_start(cavum_adjoint_memory *memory,
                                                     const bool exists[ROWS], const double *mode) {
  if (memory->uses >= USES_MOST || !has_rows(&memory->last, exists)) return NULL;
  bool both = has_rows(&memory->before, exists);
  if (cblas_ddot(memory->key.num_unknowns, row_of(memory, &memory->last, MODE_ROW), 1, mode, 1) <
      0.0) {
    turn_sign(memory, &memory->last);
    if (both) turn_sign(memory, &memory->before);
  }
  double steps = both ? steps_behind(memory, mode) : 0.0;
  if (steps == 0.0) return &memory->last;
  go_along(memory, exists, steps);
  return &memory->before;
}

void cavum_adjoint_memory_end(cavum_adjoint_memory *memory, const bool exists[ROWS],
                              const double *mode, double contraction_m2, bool was_started) {
  const cavum_adjoint_cell present = memory->next;
  memcpy(row_of(memory, &present, MODE_ROW), mode, (size_t)memory->key.num_unknowns * sizeof *mode);
  memory->next = memory->before;
  memory->before = memory->last;
  memory->last = present;
  memcpy(memory->last.exists, exists, sizeof memory->last.exists);
  memory->contraction_m2 = contraction_m2;
  memory->uses = was_started ? memory->uses + 1 : 0;
}

void cavum_adjoint_memory_keep(cavum_adjoint_memory *memory, const cavum_adjoint_cell *from,
                               const bool exists[ROWS], const double *mode) {
  memory->uses++;
  if (from == &memory->last) return;
  const cavum_adjoint_cell present = *from;
  memcpy(row_of(memory, &present, MODE_ROW), mode, (size_t)memory->key.num_unknowns * sizeof *mode);
  memory->before = memory->last;
  memory->last = present;
  memcpy(memory->last.exists, exists, sizeof memory->last.exists);
}
