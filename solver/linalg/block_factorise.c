// SPDX-License-Identifier: GPL-3.0-or-later
// Numerical part of the multifrontal factorisation. Fronts are assembled from element matrices and
// from the borders of their children, which wait on two stacks by turns (postorder).
#include "linalg/block_factorise.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "base/stop.h"
#include "base/threads.h"
#include "linalg/front_single.h"

// One element on its way into a front.
typedef struct arrival {
  const cavum_dense_front *front;
  const cavum_index *offset;  // of every block of the front
  const cavum_index *blocks, *place;
  const int *block_size;
  const double *S;
  int stride, corners;
} arrival;

// Where column c of a front begins.
static inline void *column_of(const cavum_dense_front *f, cavum_index c, const bool single) {
  if (single) return cavum_front_column_single(f, c);
  return cavum_front_column(f, c);
}

// Adds numbers to those of a column from a row on.
static inline __attribute__((always_inline)) void add_rows(void *column, cavum_index row,
                                                           const double *restrict from,
                                                           cavum_index count, const bool single) {
  if (single) {
    float *restrict to = (float *)column + row;
    for (cavum_index i = 0; i < count; i++) to[i] += (float)from[i];
  } else {
    double *restrict to = (double *)column + row;
    for (cavum_index i = 0; i < count; i++) to[i] += from[i];
  }
}

// Adds an element's matrix to the lower triangle of a front, block by block: vertices of one row,
// edges of `inner` rows. On a diagonal block the upper triangle is added too, and never read.
static inline __attribute__((always_inline)) void add_blocks(const arrival *x, const int inner,
                                                             const bool single) {
  for (int c = 0; c < 2 * x->corners; c++) {
    if (x->place[c] < 0 || x->block_size[x->blocks[c]] == 0) continue;
    cavum_index column = x->offset[x->place[c]];
    size_t step =
        (size_t)cavum_front_step(x->front, column) * (single ? sizeof(float) : sizeof(double));
    char *first = column_of(x->front, column, single);
    int first_c = c < x->corners ? c : x->corners + (c - x->corners) * inner;
    for (int r = 0; r < 2 * x->corners; r++) {
      if (x->place[r] < 0 || x->block_size[x->blocks[r]] == 0) continue;
      cavum_index row = x->offset[x->place[r]];
      if (row < column) continue;
      int first_r = r < x->corners ? r : x->corners + (r - x->corners) * inner;
      char *to = first;
      const double *restrict from = x->S + first_c * x->stride + first_r;
      for (int j = 0; j < (c < x->corners ? 1 : inner); j++, to += step, from += x->stride) {
        if (r < x->corners) {
          add_rows(to, row, from, 1, single);
        } else {
          add_rows(to, row, from, inner, single);
        }
      }
    }
  }
}

// A kernel for each of the usual degrees.
static inline __attribute__((always_inline)) void add_element_in(const arrival *x, int inner,
                                                                 const bool single) {
  switch (inner) {
#define INNER_CASE(n)         \
  case n:                     \
    add_blocks(x, n, single); \
    return
    INNER_CASE(1);
    INNER_CASE(2);
    INNER_CASE(3);
    INNER_CASE(4);
    INNER_CASE(5);
    INNER_CASE(6);
    INNER_CASE(7);
    INNER_CASE(8);
    INNER_CASE(9);
    INNER_CASE(10);
    INNER_CASE(11);
    INNER_CASE(12);
#undef INNER_CASE
    default:
      add_blocks(x, inner, single);
  }
}

CAVUM_FAST static void add_element(const arrival *x, int inner) {
  if (x->front->is_single) {
    add_element_in(x, inner, true);
  } else {
    add_element_in(x, inner, false);
  }
}

// Columns that are cleared, copied or added at once, and of a front whose columns threads share:
// where there are fewer, starting them takes longer.
enum { PIECE = 32, SHARED = 768 };

// Inside of subtrees there is one thread.
static void run_columns(cavum_threads_steps *steps, void *context, cavum_index count) {
  if (count < SHARED) {
    steps(context, 0, count, 0);
  } else {
    cavum_threads_run(steps, context, count, PIECE, cavum_threads_count());
  }
}

// A child's border on its way into a front.
typedef struct extension {
  const cavum_dense_front *front;
  cavum_dense_front child;
  const cavum_row_run *first, *last;
} extension;

// Vectors of rows somewhere in a column.
typedef float singles16 __attribute__((vector_size(64), aligned(4), may_alias));
typedef float singles8 __attribute__((vector_size(32), aligned(4), may_alias));
typedef float singles4 __attribute__((vector_size(16), aligned(4), may_alias));
typedef double doubles4 __attribute__((vector_size(32), aligned(8), may_alias));

// Runs are a dozen rows on average, of which a loop that the compiler makes takes half one by one.
static inline __attribute__((always_inline)) void add_singles(float *restrict to,
                                                              const float *restrict from,
                                                              cavum_index count) {
  for (; count >= 16; count -= 16, to += 16, from += 16) {
    *(singles16 *)to += *(const singles16 *)from;
  }
  if (count & 8) {
    *(singles8 *)to += *(const singles8 *)from;
    to += 8, from += 8;
  }
  if (count & 4) {
    *(singles4 *)to += *(const singles4 *)from;
    to += 4, from += 4;
  }
  if (count & 2) {
    to[0] += from[0];
    to[1] += from[1];
    to += 2, from += 2;
  }
  if (count & 1) to[0] += from[0];
}

static inline __attribute__((always_inline)) void add_doubles(double *restrict to,
                                                              const double *restrict from,
                                                              cavum_index count) {
  for (; count >= 4; count -= 4, to += 4, from += 4) {
    *(doubles4 *)to += *(const doubles4 *)from;
  }
  for (; count > 0; count--) *to++ += *from++;
}

// Adds numbers of a column from a row on to those of another one.
static inline __attribute__((always_inline)) void add_run(void *column, cavum_index row,
                                                          const void *other, cavum_index first,
                                                          cavum_index count, const bool single) {
  if (single) {
    add_singles((float *)column + row, (const float *)other + first, count);
  } else {
    add_doubles((double *)column + row, (const double *)other + first, count);
  }
}

// Extend-add of columns of a child's border: run by run for some columns of one at a time, so that
// the number of rows seldom changes.
static inline __attribute__((always_inline)) void add_columns_in(const extension *x,
                                                                 cavum_index first, cavum_index end,
                                                                 const bool single) {
  enum { TOGETHER = 16 };
  const cavum_row_run *run = x->first;
  cavum_index k = x->child.k, width = 0;
  for (cavum_index source = first; source < end; source += width) {
    while (source >= run->from + run->count) run++;
    cavum_index done = source - run->from, row = run->to + done, left = run->count - done;
    void *column[TOGETHER];
    const void *from[TOGETHER];
    width = left < TOGETHER ? left : TOGETHER;
    if (width > end - source) width = end - source;
    for (cavum_index c = 0; c < width; c++) {
      column[c] = column_of(x->front, row + c, single);
      from[c] = column_of(&x->child, k + source + c, single);
      add_run(column[c], row + c, from[c], k + source + c, left - c, single);
    }
    for (const cavum_row_run *below = run + 1; below < x->last; below++) {
      for (cavum_index c = 0; c < width; c++) {
        add_run(column[c], below->to, from[c], k + below->from, below->count, single);
      }
    }
  }
}

CAVUM_FAST static void add_some_columns(const extension *x, cavum_index first, cavum_index end) {
  if (x->front->is_single) {
    add_columns_in(x, first, end, true);
  } else {
    add_columns_in(x, first, end, false);
  }
}

static void add_columns(void *context, int64_t first, int64_t end, int worker) {
  (void)worker;
  add_some_columns(context, (cavum_index)first, (cavum_index)end);
}

// Whole vectors from the diagonal on: what lies above them is never read.
CAVUM_FAST static void clear_lower(const cavum_dense_front *front, cavum_index first,
                                   cavum_index end) {
  const cavum_lanes zero = {0};
  const bool single = front->is_single;
  const cavum_index lanes = single ? CAVUM_FRONT_SINGLES : CAVUM_FRONT_DOUBLES;
  for (cavum_index c = first; c < end; c++) {
    cavum_lanes *column = column_of(front, c, single);
    for (cavum_index i = c / lanes; i < front->leading / lanes; i++) column[i] = zero;
  }
}

static void clear_columns(void *context, int64_t first, int64_t end, int worker) {
  (void)worker;
  clear_lower(context, (cavum_index)first, (cavum_index)end);
}

// A border that waits for its parent: on its stack, or in memory of its own.
typedef struct pending {
  cavum_index supernode;
  void *border;
  bool on_stack;
} pending;

// What fronts are worked on with, by one thread.
typedef struct bench {
  void *top[CAVUM_STACKS];  // of the stacks
  cavum_index *offset;      // of the blocks of the present front
  pending *waiting;
  cavum_index num_waiting;
  int worker;
  cavum_front_pivots pivots;
} bench;

static void *numbers_from(const cavum_block_factor *f, void *start, int64_t count) {
  return (char *)start + (size_t)count * cavum_block_factor_number_size(f);
}

// Where a stack begins.
static void *start_of(const cavum_block_factor *f, const cavum_front_stacks *stacks, int stack) {
  return numbers_from(f, stacks->memory[stack], stacks->before);
}

static bool bench_create(bench *w, const cavum_block_factor *f, const cavum_front_stacks *stacks) {
  *w = (bench){.worker = 0};
  for (int s = 0; s < CAVUM_STACKS; s++) w->top[s] = start_of(f, stacks, s);
  w->offset = cavum_alloc(f->plan->num_blocks, sizeof *w->offset);
  w->waiting = cavum_alloc(f->plan->num_supernodes, sizeof *w->waiting);
  return w->offset && w->waiting;
}

static void bench_clear(bench *w) {
  free(w->offset);
  free(w->waiting);
}

// What the fronts are assembled from.
typedef struct assembly {
  const cavum_index *element_blocks;
  const int *block_size, *local_size;
  cavum_element_source source;
  void *context;
} assembly;

// Adds the matrices of the elements that begin in a supernode.
static void add_elements(const cavum_block_factor *f, const bench *w, const assembly *from,
                         const cavum_supernode *s, const cavum_dense_front *front) {
  const cavum_block_plan *plan = f->plan;
  for (cavum_index k = 0; k < s->num_elements; k++) {
    cavum_index e = plan->elements[s->first_element + k];
    arrival x = {.front = front, .offset = w->offset};
    x.block_size = from->block_size;
    x.blocks = from->element_blocks + (size_t)e * CAVUM_BLOCKS_MOST;
    x.place = plan->element_place + (size_t)e * CAVUM_BLOCKS_MOST;
    while (x.corners < CAVUM_BLOCKS_MOST / 2 && x.blocks[2 * x.corners] >= 0) x.corners++;
    x.S = from->source(from->context, e, w->worker, &x.stride);
    // The first block is a corner, the last one an edge.
    add_element(&x, from->local_size[x.blocks[2 * x.corners - 1]]);
  }
}

static cavum_status add_children(const cavum_block_factor *f, bench *w, cavum_index supernode,
                                 const cavum_dense_front *front, cavum_error *error) {
  for (cavum_index k = 0; k < f->plan->supernodes[supernode].num_children; k++) {
    const pending *child = &w->waiting[--w->num_waiting];
    cavum_index c = child->supernode;
    if (!CAVUM_HOLDS(f->plan->supernodes[c].parent == supernode)) {
      return cavum_fail_internal(error, "fronts are not in the order of their tree");
    }
    extension x = {.front = front,
                   .child = cavum_block_factor_front(f, c, child->border),
                   .first = f->runs + f->first_run[c],
                   .last = f->runs + f->first_run[c + 1]};
    run_columns(add_columns, &x, x.child.m - x.child.k);
    if (child->on_stack) w->top[f->stack_of[c]] = child->border;
  }
  return CAVUM_OK;
}

// The border is made on top of one stack while those of the children are still on the other.
static cavum_status factorise_front(const cavum_block_factor *f, bench *w, const assembly *from,
                                    cavum_index i, cavum_error *error) {
  const cavum_supernode *s = &f->plan->supernodes[i];
  void **top = &w->top[f->stack_of[i]];
  cavum_dense_front front = cavum_block_factor_front(f, i, *top);
  run_columns(clear_columns, &front, front.m);
  cavum_block_plan_front_offsets(w->offset, f->plan, s, from->block_size);
  add_elements(f, w, from, s, &front);
  cavum_status status = add_children(f, w, i, &front, error);
  if (status != CAVUM_OK) return status;
  cavum_front_pivots here =
      f->is_single ? cavum_front_single_factorise(&front) : cavum_front_factorise(&front);
  status = cavum_stop_check(error);
  if (status != CAVUM_OK) return status;
  w->pivots.num_negative += here.num_negative;
  w->pivots.unsafe = w->pivots.unsafe || here.unsafe;
  if (s->parent >= 0) w->waiting[w->num_waiting++] = (pending){i, *top, true};
  *top = numbers_from(f, *top, cavum_front_border_room(front.m, front.k, f->lanes));
  return CAVUM_OK;
}

// A subtree that was factorised: the border of its root begins one of its stacks.
typedef struct part {
  cavum_front_stacks stacks;  // owned
  cavum_front_pivots pivots;
  cavum_status status;
  cavum_error error;
} part;

// Subtrees that several threads factorise.
typedef struct parts {
  const cavum_block_factor *f;
  const assembly *from;
  part *list;
} parts;

static cavum_status factorise_subtree(part *p, const parts *all, const cavum_subtree *t, int worker,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bench w = {0};
  if (!cavum_front_stacks_allocate(&p->stacks, &t->stacks,
                                   cavum_block_factor_number_size(all->f)) ||
      !bench_create(&w, all->f, &p->stacks)) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  w.worker = worker;
  for (cavum_index i = t->first; i < t->end; i++) {
    CAVUM_TRY(factorise_front(all->f, &w, all->from, i, error));
  }
  p->pivots = w.pivots;
done:
  bench_clear(&w);
  return status;
}

// The caller's question whether to stop is asked in its own thread alone.
static void factorise_parts(void *context, int64_t from, int64_t end, int worker) {
  const parts *all = context;
  for (int64_t i = from; i < end; i++) {
    part *p = &all->list[i];
    p->status = factorise_subtree(p, all, &all->f->subtrees[i], worker, &p->error);
  }
}

static cavum_status factorise_all_parts(parts *all, int workers, cavum_error *error) {
  cavum_index count = all->f->num_subtrees;
  all->list = cavum_alloc(count, sizeof *all->list);
  if (!all->list) return cavum_fail_memory(error);
  cavum_threads_run(factorise_parts, all, count, 1, workers);
  cavum_status status = cavum_stop_check(error);
  for (cavum_index i = 0; status == CAVUM_OK && i < count; i++) {
    if (all->list[i].status == CAVUM_OK) continue;
    if (error) *error = all->list[i].error;
    return all->list[i].status;
  }
  return status;
}

static void free_parts(parts *all) {
  for (cavum_index i = 0; all->list && i < all->f->num_subtrees; i++) {
    cavum_front_stacks_free(&all->list[i].stacks);
  }
  free(all->list);
}

// All fronts, but for those of subtrees that are ready.
static cavum_status factorise_rest(bench *w, const parts *ready, const cavum_block_factor *f,
                                   const assembly *from, cavum_error *error) {
  cavum_index subtree = 0;
  for (cavum_index i = 0; i < f->plan->num_supernodes; i++) {
    if (ready->list && subtree < f->num_subtrees && f->subtrees[subtree].first == i) {
      const part *p = &ready->list[subtree];
      i = f->subtrees[subtree++].end - 1;
      w->pivots.num_negative += p->pivots.num_negative;
      w->pivots.unsafe = w->pivots.unsafe || p->pivots.unsafe;
      w->waiting[w->num_waiting++] = (pending){i, start_of(f, &p->stacks, f->stack_of[i]), false};
      continue;
    }
    cavum_status status = factorise_front(f, w, from, i, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

cavum_status cavum_block_factor_factorise(cavum_front_pivots *pivots, cavum_block_factor *f,
                                          const cavum_index *element_blocks, const int *block_size,
                                          const int *local_size, cavum_element_source source,
                                          void *context, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const assembly from = {element_blocks, block_size, local_size, source, context};
  int workers = f->num_subtrees > 1 ? cavum_threads_count() : 1;
  parts ready = {f, &from, NULL};
  bench w = {0};
  if (!bench_create(&w, f, &f->stacks)) CAVUM_TRY(cavum_fail_memory(error));
  if (workers > 1) CAVUM_TRY(factorise_all_parts(&ready, workers, error));
  CAVUM_TRY(factorise_rest(&w, &ready, f, &from, error));
  *pivots = w.pivots;
done:
  bench_clear(&w);
  free_parts(&ready);
  return status;
}
