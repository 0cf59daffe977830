// SPDX-License-Identifier: GPL-3.0-or-later
// Numerical part of the multifrontal factorisation. Fronts are assembled from element matrices and
// from the update matrices of their children, which wait on a stack (postorder).
#include "linalg/block_factor.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/stop.h"

static size_t square(cavum_index n) { return (size_t)n * (size_t)n; }

static cavum_status size_fronts(cavum_block_factor *f, const int *block_size, int64_t *most_front,
                                int64_t *most_stack, cavum_error *error) {
  const cavum_block_plan *plan = f->plan;
  int64_t stack = 0, panel = 0, rows = 0;
  f->front_size = cavum_alloc(plan->num_supernodes, sizeof *f->front_size);
  f->own_size = cavum_alloc(plan->num_supernodes, sizeof *f->own_size);
  f->first_panel = cavum_alloc((int64_t)plan->num_supernodes + 1, sizeof *f->first_panel);
  f->first_row = cavum_alloc((int64_t)plan->num_supernodes + 1, sizeof *f->first_row);
  int64_t *children = cavum_alloc(plan->num_supernodes, sizeof *children);
  if (!f->front_size || !f->own_size || !f->first_panel || !f->first_row || !children) {
    free(children);
    return cavum_fail_memory(error);
  }
  *most_front = *most_stack = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    const cavum_index *list = plan->front_blocks + s->first_block;
    cavum_index own = 0, all = 0;
    for (cavum_index k = 0; k < s->num_blocks; k++) {
      if (k < s->num_own) own += block_size[list[k]];
      all += block_size[list[k]];
    }
    f->front_size[i] = all;
    f->own_size[i] = own;
    f->first_panel[i] = panel;
    f->first_row[i] = rows;
    panel += (int64_t)cavum_front_leading(all) * own;
    rows += all - own;
    *most_front = all > *most_front ? all : *most_front;
    stack += (int64_t)square(all - own) - children[i];
    if (s->parent >= 0) children[s->parent] += (int64_t)square(all - own);
    // Before the children are taken off, their matrices are still there beside the new one.
    *most_stack = stack + children[i] > *most_stack ? stack + children[i] : *most_stack;
  }
  *most_front = cavum_front_leading((int)*most_front);
  f->first_panel[plan->num_supernodes] = panel;
  f->first_row[plan->num_supernodes] = rows;
  free(children);
  return CAVUM_OK;
}

static void number_rows(cavum_block_factor *f, const int *block_size, cavum_index all_blocks) {
  const cavum_block_plan *plan = f->plan;
  cavum_index row = 0;
  for (cavum_index b = 0; b < all_blocks; b++) f->row_of_block[b] = -1;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    for (cavum_index k = 0; k < s->num_own; k++) {
      cavum_index block = plan->front_blocks[s->first_block + k];
      f->row_of_block[block] = row;
      row += block_size[block];
    }
  }
  f->num_rows = row;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    int64_t at = f->first_row[i];
    for (cavum_index k = s->num_own; k < s->num_blocks; k++) {
      cavum_index block = plan->front_blocks[s->first_block + k];
      for (int m = 0; m < block_size[block]; m++) f->rows[at++] = f->row_of_block[block] + m;
    }
  }
}

// Row offset in a front of every one of its blocks.
static void front_offsets(cavum_index *offset, const cavum_block_plan *plan,
                          const cavum_supernode *s, const int *block_size) {
  cavum_index at = 0;
  for (cavum_index k = 0; k < s->num_blocks; k++) {
    offset[k] = at;
    at += block_size[plan->front_blocks[s->first_block + k]];
  }
}

static int64_t count_border_blocks(const cavum_block_plan *plan) {
  int64_t count = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    count += plan->supernodes[i].num_blocks - plan->supernodes[i].num_own;
  }
  return count;
}

// Border blocks of a front keep their order in the parent's, so rows rise with rows.
static void list_runs(cavum_block_factor *f, const int *block_size, cavum_index *offset) {
  const cavum_block_plan *plan = f->plan;
  cavum_index at = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    cavum_index row = 0;
    f->first_run[i] = at;
    if (s->parent >= 0) front_offsets(offset, plan, &plan->supernodes[s->parent], block_size);
    for (cavum_index k = s->num_own; k < s->num_blocks; k++) {
      cavum_index size = block_size[plan->front_blocks[s->first_block + k]];
      cavum_index to = offset[plan->child_place[s->first_block + k]];
      cavum_row_run *last = at > f->first_run[i] ? &f->runs[at - 1] : NULL;
      if (last && last->to + last->count == to) {
        last->count += size;
      } else if (size > 0) {
        f->runs[at++] = (cavum_row_run){row, to, size};
      }
      row += size;
    }
  }
  f->first_run[plan->num_supernodes] = at;
}

cavum_status cavum_block_factor_create(cavum_block_factor *factor, const cavum_block_plan *plan,
                                       const int *block_size, cavum_index all_blocks,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_block_factor f = {.plan = plan};
  int64_t most_front = 0, most_stack = 0;
  cavum_index *offset = NULL;
  CAVUM_TRY(size_fronts(&f, block_size, &most_front, &most_stack, error));
  f.row_of_block = cavum_alloc(all_blocks, sizeof *f.row_of_block);
  f.rows = cavum_alloc(f.first_row[plan->num_supernodes], sizeof *f.rows);
  f.first_run = cavum_alloc((int64_t)plan->num_supernodes + 1, sizeof *f.first_run);
  f.runs = cavum_alloc(count_border_blocks(plan), sizeof *f.runs);
  f.panels = cavum_alloc_aligned(f.first_panel[plan->num_supernodes], sizeof *f.panels);
  f.front = cavum_alloc_aligned(most_front * most_front, sizeof *f.front);
  f.stack = cavum_alloc_aligned(most_stack, sizeof *f.stack);
  f.x = cavum_alloc_aligned(CAVUM_RHS_MOST * most_front, sizeof *f.x);
  offset = cavum_alloc(all_blocks, sizeof *offset);
  if (!f.row_of_block || !f.rows || !f.first_run || !f.runs || !f.panels || !f.front || !f.stack ||
      !f.x || !offset) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  number_rows(&f, block_size, all_blocks);
  list_runs(&f, block_size, offset);
  *factor = f;
done:
  free(offset);
  if (status != CAVUM_OK) cavum_block_factor_clear(&f);
  return status;
}

void cavum_block_factor_clear(cavum_block_factor *factor) {
  if (!factor) return;
  free(factor->row_of_block);
  free(factor->front_size);
  free(factor->own_size);
  free(factor->first_panel);
  free(factor->panels);
  free(factor->first_row);
  free(factor->rows);
  free(factor->front);
  free(factor->stack);
  free(factor->first_run);
  free(factor->runs);
  free(factor->x);
  memset(factor, 0, sizeof *factor);
}

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

// Moves the eliminated columns to their panel and pushes the update matrix.
static double *store_front(cavum_block_factor *f, cavum_index supernode, double *top) {
  cavum_index m = f->front_size[supernode], k = f->own_size[supernode], border = m - k;
  size_t ld = (size_t)cavum_front_leading(m);
  memcpy(f->panels + f->first_panel[supernode], f->front, ld * (size_t)k * sizeof *f->front);
  for (cavum_index c = 0; c < border; c++) {
    const double *from = f->front + (size_t)(k + c) * ld + (size_t)k;
    double *to = top + (size_t)c * (size_t)border;
    for (cavum_index i = c; i < border; i++) to[i] = from[i];
  }
  return top + square(border);
}

typedef struct pending {
  cavum_index supernode;
  double *update;
} pending;

cavum_status cavum_block_factor_factorise(cavum_front_pivots *pivots, cavum_block_factor *f,
                                          const cavum_index *element_blocks, const int *block_size,
                                          const int *local_size, cavum_element_source source,
                                          void *context, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_block_plan *plan = f->plan;
  cavum_index *offset = cavum_alloc(plan->num_blocks, sizeof *offset), depth = 0;
  pending *waiting = cavum_alloc(plan->num_supernodes, sizeof *waiting);
  double *top = f->stack;
  cavum_front_pivots all = {0, false};
  if (!offset || !waiting) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    cavum_index m = f->front_size[i], ld = cavum_front_leading(m);
    memset(f->front, 0, (size_t)m * (size_t)ld * sizeof *f->front);
    front_offsets(offset, plan, s, block_size);
    for (cavum_index k = 0; k < s->num_elements; k++) {
      cavum_index e = plan->elements[s->first_element + k];
      arrival x = {.front = f->front, .ld = ld, .offset = offset, .block_size = block_size};
      x.blocks = element_blocks + (size_t)e * CAVUM_BLOCKS_MOST;
      x.place = plan->element_place + (size_t)e * CAVUM_BLOCKS_MOST;
      while (x.corners < CAVUM_BLOCKS_MOST / 2 && x.blocks[2 * x.corners] >= 0) x.corners++;
      x.S = source(context, e, &x.stride);
      // The first block is a corner, the last one an edge.
      add_element(&x, local_size[x.blocks[2 * x.corners - 1]]);
    }
    for (cavum_index k = 0; k < s->num_children; k++) {
      pending *child = &waiting[--depth];
      if (!CAVUM_HOLDS(plan->supernodes[child->supernode].parent == i)) {
        CAVUM_TRY(cavum_fail_internal(error, "fronts are not in the order of their tree"));
      }
      add_child(f->front, ld, f->runs + f->first_run[child->supernode],
                f->runs + f->first_run[child->supernode + 1], child->update,
                f->front_size[child->supernode] - f->own_size[child->supernode]);
      top = child->update;
    }
    cavum_front_pivots here = cavum_front_factorise(f->front, m, f->own_size[i]);
    CAVUM_TRY(cavum_stop_check(error));
    all.num_negative += here.num_negative;
    all.unsafe = all.unsafe || here.unsafe;
    if (s->parent >= 0) waiting[depth++] = (pending){i, top};
    top = store_front(f, i, top);
  }
  *pivots = all;
done:
  free(offset);
  free(waiting);
  return status;
}

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
