// SPDX-License-Identifier: GPL-3.0-or-later
// Numerical part of the multifrontal factorisation. Fronts are assembled from element matrices and
// from the update matrices of their children, which wait on a stack (postorder).
#include "block_factor.h"

#include <string.h>

#include "base.h"

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
    panel += (int64_t)all * own;
    rows += all - own;
    *most_front = all > *most_front ? all : *most_front;
    stack += (int64_t)square(all - own) - children[i];
    if (s->parent >= 0) children[s->parent] += (int64_t)square(all - own);
    // Before the children are taken off, their matrices are still there beside the new one.
    *most_stack = stack + children[i] > *most_stack ? stack + children[i] : *most_stack;
  }
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

cavum_status cavum_block_factor_create(cavum_block_factor *factor, const cavum_block_plan *plan,
                                       const int *block_size, cavum_index all_blocks,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_block_factor f = {.plan = plan};
  int64_t most_front = 0, most_stack = 0;
  CAVUM_TRY(size_fronts(&f, block_size, &most_front, &most_stack, error));
  f.row_of_block = cavum_alloc(all_blocks, sizeof *f.row_of_block);
  f.rows = cavum_alloc(f.first_row[plan->num_supernodes], sizeof *f.rows);
  f.panels = cavum_alloc(f.first_panel[plan->num_supernodes], sizeof *f.panels);
  f.front = cavum_alloc(most_front * most_front, sizeof *f.front);
  f.stack = cavum_alloc(most_stack, sizeof *f.stack);
  f.border = cavum_alloc(most_front, sizeof *f.border);
  if (!f.row_of_block || !f.rows || !f.panels || !f.front || !f.stack || !f.border) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  number_rows(&f, block_size, all_blocks);
  *factor = f;
done:
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
  free(factor->border);
  memset(factor, 0, sizeof *factor);
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

// Adds a dense block of `rows` x `columns` at (row, column) of a lower-triangular front; one that
// would lie above the diagonal goes to its transpose. Diagonal blocks add their lower triangle.
static void add_block(double *restrict front, cavum_index m, cavum_index row, cavum_index column,
                      const double *restrict from, cavum_index stride, int rows, int columns) {
  if (row == column) {
    for (int j = 0; j < columns; j++) {
      double *to = front + (size_t)m * (size_t)(column + j) + row;
      for (int i = j; i < rows; i++) to[i] += from[(size_t)j * (size_t)stride + (size_t)i];
    }
  } else if (row > column) {
    for (int j = 0; j < columns; j++) {
      double *to = front + (size_t)m * (size_t)(column + j) + row;
      for (int i = 0; i < rows; i++) to[i] += from[(size_t)j * (size_t)stride + (size_t)i];
    }
  } else {
    for (int i = 0; i < rows; i++) {
      double *to = front + (size_t)m * (size_t)(row + i) + column;
      for (int j = 0; j < columns; j++) to[j] += from[(size_t)j * (size_t)stride + (size_t)i];
    }
  }
}

static void add_element(cavum_block_factor *f, cavum_index m, const cavum_index *offset,
                        const cavum_index *blocks, const cavum_index *place, const int *block_size,
                        const double *S, int stride) {
  int column = 0;
  for (int c = 0; c < CAVUM_BLOCKS_MOST && blocks[c] >= 0; c++) {
    int columns = block_size[blocks[c]], row = column;
    for (int r = c; r < CAVUM_BLOCKS_MOST && blocks[r] >= 0; r++) {
      int rows = block_size[blocks[r]];
      if (place[c] >= 0 && place[r] >= 0) {
        add_block(f->front, m, offset[place[r]], offset[place[c]], S + column * stride + row,
                  stride, rows, columns);
      }
      row += rows;
    }
    column += columns;
  }
}

// Extend-add of a child's update matrix: runs of consecutive blocks go to runs of the front.
static void add_child(double *restrict front, cavum_index m, const cavum_index *offset,
                      const cavum_block_plan *plan, const cavum_supernode *child,
                      const double *restrict update, cavum_index size, const int *block_size) {
  cavum_index column = 0;
  const cavum_index *blocks = plan->front_blocks + child->first_block;
  const cavum_index *place = plan->child_place + child->first_block;
  for (cavum_index c = child->num_own; c < child->num_blocks; c++) {
    int columns = block_size[blocks[c]];
    cavum_index row = column;
    for (cavum_index r = c; r < child->num_blocks; r++) {
      int rows = block_size[blocks[r]];
      add_block(front, m, offset[place[r]], offset[place[c]],
                update + (size_t)column * (size_t)size + (size_t)row, size, rows, columns);
      row += rows;
    }
    column += columns;
  }
}

// Moves the eliminated columns to their panel and pushes the update matrix.
static double *store_front(cavum_block_factor *f, cavum_index supernode, double *top) {
  cavum_index m = f->front_size[supernode], k = f->own_size[supernode], border = m - k;
  memcpy(f->panels + f->first_panel[supernode], f->front, (size_t)m * (size_t)k * sizeof *f->front);
  for (cavum_index c = 0; c < border; c++) {
    memcpy(top + (size_t)c * (size_t)border + (size_t)c,
           f->front + (size_t)(k + c) * (size_t)m + (size_t)(k + c),
           (size_t)(border - c) * sizeof *top);
  }
  return top + square(border);
}

typedef struct pending {
  cavum_index supernode;
  double *update;
} pending;

cavum_status cavum_block_factor_factorise(cavum_front_pivots *pivots, cavum_block_factor *f,
                                          const cavum_index *element_blocks, const int *block_size,
                                          cavum_element_source source, void *context,
                                          cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_block_plan *plan = f->plan;
  cavum_index *offset = cavum_alloc(plan->num_blocks, sizeof *offset), depth = 0;
  pending *waiting = cavum_alloc(plan->num_supernodes, sizeof *waiting);
  double *top = f->stack;
  cavum_front_pivots all = {0, false};
  if (!offset || !waiting) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    cavum_index m = f->front_size[i];
    memset(f->front, 0, square(m) * sizeof *f->front);
    front_offsets(offset, plan, s, block_size);
    for (cavum_index k = 0; k < s->num_elements; k++) {
      cavum_index e = plan->elements[s->first_element + k];
      int stride;
      const double *S = source(context, e, &stride);
      add_element(f, m, offset, element_blocks + (size_t)e * CAVUM_BLOCKS_MOST,
                  plan->element_place + (size_t)e * CAVUM_BLOCKS_MOST, block_size, S, stride);
    }
    for (cavum_index k = 0; k < s->num_children; k++) {
      pending *child = &waiting[--depth];
      CAVUM_ASSERT(plan->supernodes[child->supernode].parent == i);
      add_child(f->front, m, offset, plan, &plan->supernodes[child->supernode], child->update,
                f->front_size[child->supernode] - f->own_size[child->supernode], block_size);
      top = child->update;
    }
    cavum_front_pivots here = cavum_front_factorise(f->front, m, f->own_size[i]);
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

void cavum_block_factor_solve(double *x, const cavum_block_factor *f) {
  const cavum_block_plan *plan = f->plan;
  cavum_index row = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    cavum_index m = f->front_size[i], k = f->own_size[i];
    const cavum_index *rows = f->rows + f->first_row[i];
    for (cavum_index b = 0; b < m - k; b++) f->border[b] = x[rows[b]];
    cavum_front_forward(x + row, f->border, f->panels + f->first_panel[i], m, k);
    for (cavum_index b = 0; b < m - k; b++) x[rows[b]] = f->border[b];
    row += k;
  }
  for (cavum_index i = plan->num_supernodes - 1; i >= 0; i--) {
    cavum_index m = f->front_size[i], k = f->own_size[i];
    const cavum_index *rows = f->rows + f->first_row[i];
    row -= k;
    for (cavum_index b = 0; b < m - k; b++) f->border[b] = x[rows[b]];
    cavum_front_backward(x + row, f->border, f->panels + f->first_panel[i], m, k);
  }
}
