// SPDX-License-Identifier: GPL-3.0-or-later
// Numerical part of the multifrontal factorisation. Fronts are assembled from element matrices and
// from the update matrices of their children, which wait on a stack (postorder).
#include "linalg/block_factorise.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"

// One element on its way into a front.
typedef struct arrival {
  double *front;
  cavum_index ld;
  const cavum_index *offset;  // of every block of the front
  const cavum_index *blocks, *place;
  const int *block_size;
  const double *S;
  int stride, corners;
} arrival;

// Adds an element's matrix to the lower triangle of a front, block by block: vertices of one row,
// edges of `inner` rows. On a diagonal block the upper triangle is added too, and never read.
static inline __attribute__((always_inline)) void add_blocks(const arrival *x, const int inner) {
  for (int c = 0; c < 2 * x->corners; c++) {
    if (x->place[c] < 0 || x->block_size[x->blocks[c]] == 0) continue;
    cavum_index column = x->offset[x->place[c]];
    int first_c = c < x->corners ? c : x->corners + (c - x->corners) * inner;
    for (int r = 0; r < 2 * x->corners; r++) {
      if (x->place[r] < 0 || x->block_size[x->blocks[r]] == 0) continue;
      cavum_index row = x->offset[x->place[r]];
      if (row < column) continue;
      int first_r = r < x->corners ? r : x->corners + (r - x->corners) * inner;
      double *restrict to = x->front + (size_t)column * (size_t)x->ld + (size_t)row;
      const double *restrict from = x->S + first_c * x->stride + first_r;
      for (int j = 0; j < (c < x->corners ? 1 : inner); j++, to += x->ld, from += x->stride) {
        if (r < x->corners) {
          to[0] += from[0];
        } else {
          for (int i = 0; i < inner; i++) to[i] += from[i];
        }
      }
    }
  }
}

// A kernel for each of the usual degrees.
CAVUM_FAST static void add_element(const arrival *x, int inner) {
  switch (inner) {
#define INNER_CASE(n) \
  case n:             \
    add_blocks(x, n); \
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
      add_blocks(x, inner);
  }
}

// Extend-add of a child's update matrix.
static void add_child(double *restrict front, cavum_index ld, const cavum_row_run *run,
                      const cavum_row_run *last, const double *restrict update, cavum_index size) {
  for (; run < last; run++) {
    for (cavum_index c = 0; c < run->count; c++) {
      cavum_index source = run->from + c;
      if (cavum_stop_asked_at(source)) return;
      double *restrict column = front + (size_t)(run->to + c) * (size_t)ld;
      const double *restrict from = update + (size_t)source * (size_t)size;
      for (cavum_index i = c; i < run->count; i++) column[run->to + i] += from[run->from + i];
      for (const cavum_row_run *below = run + 1; below < last; below++) {
        double *restrict to = column + below->to;
        const double *restrict rows = from + below->from;
        for (cavum_index i = 0; i < below->count; i++) to[i] += rows[i];
      }
    }
  }
}

// Columns that are cleared or copied at once.
enum { PIECE = 32 };

// Asked in fronts of many columns only.
static bool is_time_to_stop(cavum_index column) {
  return column > 0 && column % (8 * PIECE) == 0 && cavum_stop_asked();
}

static void clear_front(double *front, cavum_index m, cavum_index ld) {
  for (cavum_index c = 0; c < m && !is_time_to_stop(c); c += PIECE) {
    size_t columns = (size_t)(m - c < PIECE ? m - c : PIECE);
    memset(front + (size_t)c * (size_t)ld, 0, columns * (size_t)ld * sizeof *front);
  }
}

// Moves the eliminated columns to their panel and pushes the update matrix.
static double *store_front(cavum_block_factor *f, cavum_index supernode, double *top) {
  cavum_index m = f->front_size[supernode], k = f->own_size[supernode], border = m - k;
  size_t ld = (size_t)cavum_front_leading(m);
  double *panel = f->panels + f->first_panel[supernode];
  for (cavum_index c = 0; c < k && !is_time_to_stop(c); c += PIECE) {
    size_t columns = (size_t)(k - c < PIECE ? k - c : PIECE), at = (size_t)c * ld;
    memcpy(panel + at, f->front + at, columns * ld * sizeof *panel);
  }
  for (cavum_index c = 0; c < border && !cavum_stop_asked_at(c); c++) {
    const double *from = f->front + (size_t)(k + c) * ld + (size_t)k;
    double *to = top + (size_t)c * (size_t)border;
    for (cavum_index i = c; i < border; i++) to[i] = from[i];
  }
  return top + (size_t)border * (size_t)border;
}

// What the fronts are assembled from.
typedef struct assembly {
  const cavum_index *element_blocks;
  const int *block_size, *local_size;
  cavum_element_source source;
  void *context;
  cavum_index *offset;  // of the blocks of the present front
} assembly;

// Adds the matrices of the elements that begin in a supernode.
static void add_elements(cavum_block_factor *f, const assembly *from, const cavum_supernode *s,
                         cavum_index ld) {
  const cavum_block_plan *plan = f->plan;
  for (cavum_index k = 0; k < s->num_elements; k++) {
    cavum_index e = plan->elements[s->first_element + k];
    arrival x = {.front = f->front, .ld = ld, .offset = from->offset};
    x.block_size = from->block_size;
    x.blocks = from->element_blocks + (size_t)e * CAVUM_BLOCKS_MOST;
    x.place = plan->element_place + (size_t)e * CAVUM_BLOCKS_MOST;
    while (x.corners < CAVUM_BLOCKS_MOST / 2 && x.blocks[2 * x.corners] >= 0) x.corners++;
    x.S = from->source(from->context, e, &x.stride);
    // The first block is a corner, the last one an edge.
    add_element(&x, from->local_size[x.blocks[2 * x.corners - 1]]);
  }
}

// Update matrices that wait for their parent, on a stack.
typedef struct pending {
  cavum_index supernode;
  double *update;
} pending;

typedef struct update_stack {
  pending *waiting;
  cavum_index depth;
  double *top;
} update_stack;

static cavum_status add_children(cavum_block_factor *f, update_stack *stack, cavum_index supernode,
                                 cavum_index ld, cavum_error *error) {
  for (cavum_index k = 0; k < f->plan->supernodes[supernode].num_children; k++) {
    const pending *child = &stack->waiting[--stack->depth];
    cavum_index c = child->supernode;
    if (!CAVUM_HOLDS(f->plan->supernodes[c].parent == supernode)) {
      return cavum_fail_internal(error, "fronts are not in the order of their tree");
    }
    add_child(f->front, ld, f->runs + f->first_run[c], f->runs + f->first_run[c + 1], child->update,
              f->front_size[c] - f->own_size[c]);
    stack->top = child->update;
  }
  return CAVUM_OK;
}

cavum_status cavum_block_factor_factorise(cavum_front_pivots *pivots, cavum_block_factor *f,
                                          const cavum_index *element_blocks, const int *block_size,
                                          const int *local_size, cavum_element_source source,
                                          void *context, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_block_plan *plan = f->plan;
  assembly from = {element_blocks, block_size, local_size, source, context, NULL};
  update_stack stack = {.top = f->stack};
  cavum_front_pivots all = {0, false};
  from.offset = cavum_alloc(plan->num_blocks, sizeof *from.offset);
  stack.waiting = cavum_alloc(plan->num_supernodes, sizeof *stack.waiting);
  if (!from.offset || !stack.waiting) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    cavum_index m = f->front_size[i], ld = cavum_front_leading(m);
    clear_front(f->front, m, ld);
    cavum_block_plan_front_offsets(from.offset, plan, s, block_size);
    add_elements(f, &from, s, ld);
    CAVUM_TRY(add_children(f, &stack, i, ld, error));
    cavum_front_pivots here = cavum_front_factorise(f->front, m, f->own_size[i]);
    CAVUM_TRY(cavum_stop_check(error));
    all.num_negative += here.num_negative;
    all.unsafe = all.unsafe || here.unsafe;
    if (s->parent >= 0) stack.waiting[stack.depth++] = (pending){i, stack.top};
    stack.top = store_front(f, i, stack.top);
  }
  *pivots = all;
done:
  free(from.offset);
  free(stack.waiting);
  return status;
}
