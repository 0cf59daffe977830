// SPDX-License-Identifier: GPL-3.0-or-later
// Solves with the factors, front by front: forward in the order of elimination, then back.
#include "linalg/block_solve.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"

// Right-hand sides under way.
typedef struct right_hand_sides {
  double *x;
  int count;
  cavum_index stride;
} right_hand_sides;

// Own and border unknowns of a front into its vectors, with zeros at their ends.
CAVUM_FAST static void take_front(cavum_block_factor *f, const right_hand_sides *s, cavum_index row,
                                  cavum_index i) {
  cavum_index m = f->front_size[i], k = f->own_size[i], ld = cavum_front_leading(m);
  const cavum_index *rows = f->rows + f->first_row[i];
  for (int r = 0; r < s->count; r++) {
    const double *x = s->x + (size_t)r * (size_t)s->stride;
    double *to = f->x + r * ld;
    for (cavum_index c = 0; c < k; c++) to[c] = x[row + c];
    for (cavum_index b = k; b < m; b++) to[b] = x[rows[b - k]];
    for (cavum_index b = m; b < ld; b++) to[b] = 0.0;
  }
}

// Back again; the border only when it changed.
CAVUM_FAST static void put_front(right_hand_sides *s, const cavum_block_factor *f, cavum_index row,
                                 cavum_index i, bool border) {
  cavum_index m = f->front_size[i], k = f->own_size[i], ld = cavum_front_leading(m);
  const cavum_index *rows = f->rows + f->first_row[i];
  for (int r = 0; r < s->count; r++) {
    double *x = s->x + (size_t)r * (size_t)s->stride;
    const double *from = f->x + r * ld;
    for (cavum_index c = 0; c < k; c++) x[row + c] = from[c];
    for (cavum_index b = k; border && b < m; b++) x[rows[b - k]] = from[b];
  }
}

void cavum_block_factor_solve(double *x, cavum_block_factor *f, const cavum_index *num_closed,
                              int count, cavum_index stride) {
  const cavum_block_plan *plan = f->plan;
  right_hand_sides s = {x, count, stride};
  cavum_index row = 0;
  CAVUM_ASSERT(count >= 1 && count <= CAVUM_RHS_MOST);
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    if (cavum_stop_asked_at(i)) return;
    take_front(f, &s, row, i);
    cavum_front_forward(f->x, f->panels + f->first_panel[i], f->front_size[i], f->own_size[i],
                        count);
    put_front(&s, f, row, i, true);
    row += f->own_size[i];
  }
  for (int r = 0; r < count; r++) {
    for (cavum_index i = row - num_closed[r]; i < row; i++) x[r * stride + i] = 0.0;
  }
  for (cavum_index i = plan->num_supernodes - 1; i >= 0; i--) {
    if (cavum_stop_asked_at(i)) return;
    row -= f->own_size[i];
    take_front(f, &s, row, i);
    cavum_front_backward(f->x, f->panels + f->first_panel[i], f->front_size[i], f->own_size[i],
                         count);
    put_front(&s, f, row, i, false);
  }
}

int64_t cavum_block_factor_count_negative(const cavum_block_factor *f, cavum_index num_last) {
  int64_t count = 0;
  cavum_index row = f->num_rows, from = f->num_rows - num_last;
  for (cavum_index i = f->plan->num_supernodes - 1; i >= 0 && row > from; i--) {
    const double *panel = f->panels + f->first_panel[i];
    size_t ld = (size_t)cavum_front_leading(f->front_size[i]);
    for (cavum_index c = f->own_size[i] - 1; c >= 0 && row > from; c--, row--) {
      count += panel[(size_t)c * (ld + 1)] < 0.0;
    }
  }
  return count;
}
