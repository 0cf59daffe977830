// SPDX-License-Identifier: GPL-3.0-or-later
// Solves with the factors, front by front: forward in the order of elimination, then back.
#include "linalg/block_solve.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"
#include "base/threads.h"
#include "linalg/front_single.h"

// Right-hand sides under way, and the vectors of a front.
typedef struct right_hand_sides {
  double *x;
  int count;
  cavum_index stride;
  double *front;
} right_hand_sides;

// Own and border unknowns of a front into its vectors, with zeros at their ends.
CAVUM_FAST static void take_front(const right_hand_sides *s, const cavum_block_factor *f,
                                  cavum_index row, cavum_index i) {
  cavum_index m = f->front_size[i], k = f->own_size[i], ld = cavum_front_whole(m, f->lanes);
  const cavum_index *rows = f->rows + f->first_row[i];
  for (int r = 0; r < s->count; r++) {
    const double *x = s->x + (size_t)r * (size_t)s->stride;
    double *to = s->front + r * ld;
    for (cavum_index c = 0; c < k; c++) to[c] = x[row + c];
    for (cavum_index b = k; b < m; b++) to[b] = x[rows[b - k]];
    for (cavum_index b = m; b < ld; b++) to[b] = 0.0;
  }
}

// Back again; the border only when it changed.
CAVUM_FAST static void put_front(const right_hand_sides *s, const cavum_block_factor *f,
                                 cavum_index row, cavum_index i, bool border) {
  cavum_index m = f->front_size[i], k = f->own_size[i], ld = cavum_front_whole(m, f->lanes);
  const cavum_index *rows = f->rows + f->first_row[i];
  for (int r = 0; r < s->count; r++) {
    double *x = s->x + (size_t)r * (size_t)s->stride;
    const double *from = s->front + r * ld;
    for (cavum_index c = 0; c < k; c++) x[row + c] = from[c];
    for (cavum_index b = k; border && b < m; b++) x[rows[b - k]] = from[b];
  }
}

static void forward(const right_hand_sides *s, const cavum_block_factor *f, cavum_index row,
                    cavum_index i) {
  const cavum_dense_front front = cavum_block_factor_front(f, i, NULL);
  take_front(s, f, row, i);
  if (f->is_single) {
    cavum_front_single_forward(s->front, front.own, front.leading, front.k, s->count);
  } else {
    cavum_front_forward(s->front, front.own, front.leading, front.k, s->count);
  }
  put_front(s, f, row, i, true);
}

static void backward(const right_hand_sides *s, const cavum_block_factor *f, cavum_index row,
                     cavum_index i) {
  const cavum_dense_front front = cavum_block_factor_front(f, i, NULL);
  take_front(s, f, row, i);
  if (f->is_single) {
    cavum_front_single_backward(s->front, front.own, front.leading, front.k, s->count);
  } else {
    cavum_front_backward(s->front, front.own, front.leading, front.k, s->count);
  }
  put_front(s, f, row, i, false);
}

// What a subtree adds to its ancestors is summed up in its places, from zero on.
static void forward_subtree(const right_hand_sides *s, const cavum_block_factor *f,
                            const cavum_subtree *t) {
  cavum_index row = t->first_row;
  for (int r = 0; r < s->count; r++) {
    double *places = s->x + (size_t)r * (size_t)s->stride + t->place;
    for (cavum_index k = 0; k < t->count; k++) places[k] = 0.0;
  }
  for (cavum_index i = t->first; i < t->end; i++) {
    forward(s, f, row, i);
    row += f->own_size[i];
  }
}

static void backward_subtree(const right_hand_sides *s, const cavum_block_factor *f,
                             const cavum_subtree *t) {
  const cavum_index *rows = f->subtree_rows + (t->place - f->num_rows - 1);
  cavum_index row = t->first_row;
  for (int r = 0; r < s->count; r++) {
    double *x = s->x + (size_t)r * (size_t)s->stride;
    for (cavum_index k = 0; k < t->count; k++) x[t->place + k] = x[rows[k]];
  }
  for (cavum_index i = t->first; i < t->end; i++) row += f->own_size[i];
  for (cavum_index i = t->end - 1; i >= t->first; i--) {
    row -= f->own_size[i];
    backward(s, f, row, i);
  }
}

static void add_places(const right_hand_sides *s, const cavum_block_factor *f,
                       const cavum_subtree *t) {
  const cavum_index *rows = f->subtree_rows + (t->place - f->num_rows - 1);
  for (int r = 0; r < s->count; r++) {
    double *x = s->x + (size_t)r * (size_t)s->stride;
    for (cavum_index k = 0; k < t->count; k++) x[rows[k]] += x[t->place + k];
  }
}

// All subtrees, by several threads.
typedef struct subtrees {
  const cavum_block_factor *f;
  const right_hand_sides *s;
  double *fronts;  // of the threads
  cavum_index front_size;
  bool back;
} subtrees;

static void solve_subtrees(void *context, int64_t from, int64_t end, int worker) {
  const subtrees *all = context;
  right_hand_sides s = *all->s;
  s.front = all->fronts + (size_t)worker * (size_t)all->front_size;
  for (int64_t i = from; i < end; i++) {
    if (all->back) {
      backward_subtree(&s, all->f, &all->f->subtrees[i]);
    } else {
      forward_subtree(&s, all->f, &all->f->subtrees[i]);
    }
  }
}

static void run_subtrees(const cavum_block_factor *f, const right_hand_sides *s, bool back) {
  subtrees all = {.f = f, .s = s, .fronts = f->x, .back = back};
  int workers = f->num_subtrees > 1 ? cavum_threads_count() : 1;
  double *fronts = NULL;
  for (cavum_index i = 0; i < f->num_subtrees; i++) {
    cavum_index size = CAVUM_RHS_MOST * (cavum_index)f->subtrees[i].most_front;
    if (size > all.front_size) all.front_size = size;
  }
  if (workers > 1) fronts = cavum_alloc_aligned((int64_t)workers * all.front_size, sizeof *fronts);
  if (fronts) all.fronts = fronts;
  cavum_threads_run(solve_subtrees, &all, f->num_subtrees, 1, fronts ? workers : 1);
  free(fronts);
}

void cavum_block_factor_solve(double *x, cavum_block_factor *f, const cavum_index *num_closed,
                              int count, cavum_index stride) {
  const cavum_block_plan *plan = f->plan;
  const right_hand_sides s = {x, count, stride, f->x};
  cavum_index row = 0, subtree = 0;
  CAVUM_ASSERT(count >= 1 && count <= CAVUM_RHS_MOST);
  run_subtrees(f, &s, false);
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    if (cavum_stop_asked_at(i)) return;
    if (subtree < f->num_subtrees && f->subtrees[subtree].first == i) {
      const cavum_subtree *t = &f->subtrees[subtree++];
      add_places(&s, f, t);
      for (; i < t->end; i++) row += f->own_size[i];
      i--;
      continue;
    }
    forward(&s, f, row, i);
    row += f->own_size[i];
  }
  for (int r = 0; r < count; r++) {
    for (cavum_index i = row - num_closed[r]; i < row; i++) x[r * stride + i] = 0.0;
  }
  for (cavum_index i = plan->num_supernodes - 1; i >= 0; i--) {
    if (cavum_stop_asked_at(i)) return;
    if (subtree > 0 && f->subtrees[subtree - 1].end == i + 1) {
      const cavum_subtree *t = &f->subtrees[--subtree];
      for (; i >= t->first; i--) row -= f->own_size[i];
      i++;
      continue;
    }
    row -= f->own_size[i];
    backward(&s, f, row, i);
  }
  run_subtrees(f, &s, true);
}

int64_t cavum_block_factor_count_negative(const cavum_block_factor *f, cavum_index num_last) {
  int64_t count = 0;
  cavum_index row = f->num_rows, from = f->num_rows - num_last;
  for (cavum_index i = f->plan->num_supernodes - 1; i >= 0 && row > from; i--) {
    const cavum_dense_front front = cavum_block_factor_front(f, i, NULL);
    for (cavum_index c = front.k - 1; c >= 0 && row > from; c--, row--) {
      count += f->is_single ? cavum_front_column_single(&front, c)[c] < 0.0F
                            : cavum_front_column(&front, c)[c] < 0.0;
    }
  }
  return count;
}
