// SPDX-License-Identifier: GPL-3.0-or-later
// Storage of a factorisation: sizes of fronts, numbers of rows, and where updates go.
#include "linalg/block_factor.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"

// Work of a factorisation, in products, from which on it has subtrees; their part of it at most and
// at least.
static const double SUBTREES_FROM = 2e8, SUBTREE_MOST = 1.0 / 5.0, SUBTREE_LEAST = 1.0 / 200.0;

bool cavum_front_stacks_allocate(cavum_front_stacks *stacks, const cavum_front_stacks *sizes,
                                 size_t number_size) {
  *stacks = *sizes;
  bool have = true;
  for (int s = 0; s < CAVUM_STACKS; s++) {
    stacks->memory[s] = cavum_alloc_aligned(sizes->before + sizes->most[s], number_size);
    have = have && stacks->memory[s];
  }
  return have;
}

void cavum_front_stacks_free(cavum_front_stacks *stacks) {
  for (int s = 0; s < CAVUM_STACKS; s++) {
    free(stacks->memory[s]);
    stacks->memory[s] = NULL;
  }
}

// Sizes of stacks as fronts come and go.
typedef struct stack_sizes {
  cavum_front_stacks *stacks;
  int64_t now[CAVUM_STACKS];
  int64_t *children;  // [supernodes] sums of what waits for each
} stack_sizes;

// The border of a front comes while those of its children are still on the other stack.
static void pass_front(stack_sizes *sizes, const cavum_block_factor *f, cavum_index i) {
  int stack = f->stack_of[i];
  int64_t room = cavum_front_border_room(f->front_size[i], f->own_size[i], f->lanes);
  int64_t before = cavum_front_left_out(f->own_size[i], f->lanes),
          *most = &sizes->stacks->most[stack];
  cavum_index parent = f->plan->supernodes[i].parent;
  sizes->now[stack] += room;
  sizes->now[CAVUM_STACKS - 1 - stack] -= sizes->children[i];
  if (sizes->now[stack] > *most) *most = sizes->now[stack];
  if (before > sizes->stacks->before) sizes->stacks->before = before;
  if (parent >= 0) sizes->children[parent] += room;
}

// Alternating from the roots down: parents come after their children.
static void choose_stacks(cavum_block_factor *f) {
  for (cavum_index i = f->plan->num_supernodes - 1; i >= 0 && !cavum_stop_asked_at(i); i--) {
    cavum_index parent = f->plan->supernodes[i].parent;
    f->stack_of[i] = (unsigned char)(parent >= 0 && f->stack_of[parent] == 0);
  }
}

static cavum_status allocate_sizes(cavum_block_factor *f, cavum_error *error) {
  int64_t supernodes = f->plan->num_supernodes;
  f->front_size = cavum_alloc(supernodes, sizeof *f->front_size);
  f->own_size = cavum_alloc(supernodes, sizeof *f->own_size);
  f->first_panel = cavum_alloc(supernodes + 1, sizeof *f->first_panel);
  f->first_row = cavum_alloc(supernodes + 1, sizeof *f->first_row);
  f->stack_of = cavum_alloc(supernodes, sizeof *f->stack_of);
  bool have = f->front_size && f->own_size && f->first_panel && f->first_row && f->stack_of;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status size_fronts(cavum_block_factor *f, const int *block_size, cavum_error *error) {
  const cavum_block_plan *plan = f->plan;
  int64_t panel = 0, rows = 0;
  cavum_status status = allocate_sizes(f, error);
  stack_sizes sizes = {.stacks = &f->stacks};
  if (status != CAVUM_OK) return status;
  sizes.children = cavum_alloc(plan->num_supernodes, sizeof *sizes.children);
  if (!sizes.children) CAVUM_TRY(cavum_fail_memory(error));
  choose_stacks(f);
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    if (cavum_stop_asked_at(i)) CAVUM_TRY(cavum_stop_check(error));
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
    int64_t leading = cavum_front_whole(all, f->lanes);
    panel += leading * own;
    rows += all - own;
    if (leading > f->most_front) f->most_front = leading;
    pass_front(&sizes, f, i);
  }
  f->first_panel[plan->num_supernodes] = panel;
  f->first_row[plan->num_supernodes] = rows;
done:
  free(sizes.children);
  return status;
}

static void number_rows(cavum_block_factor *f, const int *block_size, cavum_index all_blocks) {
  const cavum_block_plan *plan = f->plan;
  cavum_index row = 0;
  for (cavum_index b = 0; b < all_blocks; b++) f->row_of_block[b] = -1;
  for (cavum_index i = 0; i < plan->num_supernodes && !cavum_stop_asked_at(i); i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    for (cavum_index k = 0; k < s->num_own; k++) {
      cavum_index block = plan->front_blocks[s->first_block + k];
      f->row_of_block[block] = row;
      row += block_size[block];
    }
  }
  f->num_rows = row;
  for (cavum_index i = 0; i < plan->num_supernodes && !cavum_stop_asked_at(i); i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    int64_t at = f->first_row[i];
    for (cavum_index k = s->num_own; k < s->num_blocks; k++) {
      cavum_index block = plan->front_blocks[s->first_block + k];
      for (int m = 0; m < block_size[block]; m++) f->rows[at++] = f->row_of_block[block] + m;
    }
  }
}

// The work of every supernode with all below it, and how many these are. Gives that of all.
static double sum_work(double *work, cavum_index *size, const cavum_block_factor *f) {
  double all = 0.0;
  for (cavum_index i = 0; i < f->plan->num_supernodes; i++) {
    cavum_index parent = f->plan->supernodes[i].parent;
    double own = (double)f->own_size[i] * f->front_size[i] * f->front_size[i];
    work[i] += own;
    size[i]++;
    all += own;
    if (parent < 0) continue;
    work[parent] += work[i];
    size[parent] += size[i];
  }
  return all;
}

// Sizes of the work space of a subtree.
static void size_subtree(cavum_subtree *t, const cavum_block_factor *f, int64_t *children) {
  stack_sizes sizes = {.stacks = &t->stacks, .children = children};
  for (cavum_index i = t->first; i < t->end; i++) children[i] = 0;
  for (cavum_index i = t->first; i < t->end; i++) {
    int64_t leading = cavum_front_whole(f->front_size[i], f->lanes);
    t->most_front = leading > t->most_front ? leading : t->most_front;
    pass_front(&sizes, f, i);
  }
}

// Rows of ancestors become places behind all rows.
static void place_borders(cavum_block_factor *f, cavum_subtree *t, cavum_index *place_of_row) {
  cavum_index root = t->end - 1, behind = t->first_row;
  int64_t from = f->first_row[root];
  for (cavum_index i = t->first; i < t->end; i++) behind += f->own_size[i];
  t->place = f->num_places;
  t->count = (cavum_index)(f->first_row[t->end] - from);
  f->num_places += t->count;
  for (cavum_index k = 0; k < t->count; k++) {
    cavum_index row = f->rows[from + k];
    f->subtree_rows[t->place - f->num_rows - 1 + k] = row;
    place_of_row[row] = t->place + k;
  }
  for (int64_t k = f->first_row[t->first]; k < f->first_row[t->end]; k++) {
    if (f->rows[k] >= behind) f->rows[k] = place_of_row[f->rows[k]];
  }
}

// Lists the subtrees between the least and the most work.
static void list_subtrees(cavum_block_factor *f, const double *work, const cavum_index *size,
                          double all) {
  const cavum_block_plan *plan = f->plan;
  cavum_index row = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    cavum_index parent = plan->supernodes[i].parent;
    double above = parent < 0 ? all : work[parent];
    row += f->own_size[i];
    if (work[i] > SUBTREE_MOST * all || work[i] < SUBTREE_LEAST * all) continue;
    if (above <= SUBTREE_MOST * all) continue;
    cavum_subtree *t = &f->subtrees[f->num_subtrees++];
    *t = (cavum_subtree){.first = i + 1 - size[i], .end = i + 1, .first_row = row};
    for (cavum_index k = t->first; k < t->end; k++) t->first_row -= f->own_size[k];
  }
}

// Subtrees of a factorisation of much work.
static cavum_status make_subtrees(cavum_block_factor *f, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index supernodes = f->plan->num_supernodes, *place_of_row = NULL;
  int64_t *children = NULL, places = 0;
  cavum_index *size = cavum_alloc(supernodes, sizeof *size);
  double *work = cavum_alloc(supernodes, sizeof *work), all;
  f->num_places = f->num_rows + 1;
  if (!size || !work) CAVUM_TRY(cavum_fail_memory(error));
  all = sum_work(work, size, f);
  if (all < SUBTREES_FROM) goto done;
  f->subtrees = cavum_alloc((int64_t)(1.0 / SUBTREE_LEAST) + 1, sizeof *f->subtrees);
  if (!f->subtrees) CAVUM_TRY(cavum_fail_memory(error));
  list_subtrees(f, work, size, all);
  for (cavum_index i = 0; i < f->num_subtrees; i++) {
    cavum_index root = f->subtrees[i].end - 1;
    places += f->first_row[root + 1] - f->first_row[root];
  }
  f->subtree_rows = cavum_alloc(places, sizeof *f->subtree_rows);
  place_of_row = cavum_alloc(f->num_rows, sizeof *place_of_row);
  children = cavum_alloc(supernodes, sizeof *children);
  if (!f->subtree_rows || !place_of_row || !children || places > INT32_MAX - f->num_places) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  for (cavum_index i = 0; i < f->num_subtrees; i++) {
    size_subtree(&f->subtrees[i], f, children);
    place_borders(f, &f->subtrees[i], place_of_row);
  }
done:
  free(size);
  free(work);
  free(place_of_row);
  free(children);
  return status;
}

static int64_t count_border_blocks(const cavum_block_plan *plan) {
  int64_t count = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    count += plan->supernodes[i].num_blocks - plan->supernodes[i].num_own;
  }
  return count;
}

// Border blocks of a front keep their order in the parent's, so rows rise with rows. There are a
// few times fewer runs than blocks.
static void list_runs(cavum_block_factor *f, const int *block_size, cavum_index *offset) {
  const cavum_block_plan *plan = f->plan;
  cavum_index at = 0;
  for (cavum_index i = 0; i < plan->num_supernodes && !cavum_stop_asked_at(i); i++) {
    const cavum_supernode *s = &plan->supernodes[i];
    cavum_index row = 0;
    f->first_run[i] = at;
    if (s->parent >= 0)
      cavum_block_plan_front_offsets(offset, plan, &plan->supernodes[s->parent], block_size);
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
  cavum_row_run *shrunk = realloc(f->runs, (size_t)(at > 0 ? at : 1) * sizeof *f->runs);
  if (shrunk) f->runs = shrunk;
}

// The large parts: the factors and what it takes to make and to use them.
static cavum_status allocate_numbers(cavum_block_factor *f, cavum_error *error) {
  const cavum_front_stacks sizes = f->stacks;
  size_t size = cavum_block_factor_number_size(f);
  f->panels = cavum_alloc_aligned(f->first_panel[f->plan->num_supernodes], size);
  bool have = cavum_front_stacks_allocate(&f->stacks, &sizes, size);
  f->x = cavum_alloc_aligned(CAVUM_RHS_MOST * f->most_front, sizeof *f->x);
  return f->panels && have && f->x ? CAVUM_OK : cavum_fail_memory(error);
}

static void free_numbers(cavum_block_factor *f) {
  free(f->panels);
  cavum_front_stacks_free(&f->stacks);
  free(f->x);
  f->panels = NULL;
  f->x = NULL;
}

static cavum_status lay_out(cavum_block_factor *factor, const cavum_block_plan *plan, int lanes,
                            const int *block_size, cavum_index all_blocks, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_block_factor f = {.plan = plan, .lanes = lanes};
  cavum_index *offset = NULL;
  CAVUM_TRY(size_fronts(&f, block_size, error));
  f.row_of_block = cavum_alloc(all_blocks, sizeof *f.row_of_block);
  f.rows = cavum_alloc(f.first_row[plan->num_supernodes], sizeof *f.rows);
  f.first_run = cavum_alloc((int64_t)plan->num_supernodes + 1, sizeof *f.first_run);
  f.runs = cavum_alloc_aligned(count_border_blocks(plan), sizeof *f.runs);
  offset = cavum_alloc(all_blocks, sizeof *offset);
  if (!f.row_of_block || !f.rows || !f.first_run || !f.runs || !offset) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  number_rows(&f, block_size, all_blocks);
  list_runs(&f, block_size, offset);
  CAVUM_TRY(make_subtrees(&f, error));
  CAVUM_TRY(cavum_stop_check(error));
  *factor = f;
done:
  free(offset);
  if (status != CAVUM_OK) cavum_block_factor_clear(&f);
  return status;
}

cavum_status cavum_block_factor_create(cavum_block_factor *factor, const cavum_block_plan *plan,
                                       const int *block_size, cavum_index all_blocks,
                                       cavum_error *error) {
  cavum_block_factor f;
  cavum_status status = lay_out(&f, plan, CAVUM_FRONT_DOUBLES, block_size, all_blocks, error);
  if (status != CAVUM_OK) return status;
  status = allocate_numbers(&f, error);
  if (status == CAVUM_OK) {
    *factor = f;
  } else {
    cavum_block_factor_clear(&f);
  }
  return status;
}

cavum_status cavum_block_factor_lay_out(cavum_block_factor *factor, const cavum_block_plan *plan,
                                        const int *block_size, cavum_index all_blocks,
                                        cavum_error *error) {
  return lay_out(factor, plan, CAVUM_FRONT_SINGLES, block_size, all_blocks, error);
}

cavum_status cavum_block_factor_take_memory(cavum_block_factor *f, cavum_block_factor *host,
                                            bool is_single, cavum_error *error) {
  if (!host->panels || host->is_single != is_single) {
    free_numbers(host);
    host->is_single = is_single;
    cavum_status status = allocate_numbers(host, error);
    if (status != CAVUM_OK) {
      free_numbers(host);
      return status;
    }
  }
  if (f == host) return CAVUM_OK;
  f->panels = host->panels;
  for (int s = 0; s < CAVUM_STACKS; s++) f->stacks.memory[s] = host->stacks.memory[s];
  f->stacks.before = host->stacks.before;
  f->x = host->x;
  f->is_single = is_single;
  f->is_guest = true;
  return CAVUM_OK;
}

void cavum_block_factor_clear(cavum_block_factor *factor) {
  if (!factor) return;
  free(factor->row_of_block);
  free(factor->front_size);
  free(factor->own_size);
  free(factor->stack_of);
  free(factor->first_panel);
  free(factor->first_row);
  free(factor->rows);
  free(factor->first_run);
  free(factor->runs);
  free(factor->subtrees);
  free(factor->subtree_rows);
  if (!factor->is_guest) free_numbers(factor);
  memset(factor, 0, sizeof *factor);
}
