// SPDX-License-Identifier: GPL-3.0-or-later
// Symbolic part: elimination tree and supernodes of the graph of blocks.
#include "linalg/block_plan.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "linalg/blas_calls.h"

// What a front costs beyond its arithmetic, in multiplications: fronts are merged while the zeros
// that this brings cost less.
static const double FRONT_OVERHEAD = 20000.0;

// Structure of the columns: for position i in the order, the later positions joined to it, rising.
typedef struct columns {
  cavum_index count;      // positions
  cavum_index *position;  // [num_blocks] of a block, or -1
  cavum_index *block;     // [count] at a position
  cavum_index **list;     // [count], owned lists
  cavum_index *length;    // [count]
  cavum_index *mark;      // [count] workspace
  const int *size;        // [num_blocks] nominal rows of a block
} columns;

static void columns_clear(columns *c) {
  for (cavum_index i = 0; c->list && i < c->count; i++) free(c->list[i]);
  free(c->position);
  free(c->block);
  free(c->list);
  free(c->length);
  free(c->mark);
}

static cavum_status columns_create(columns *c, const int64_t *order, cavum_index num_blocks,
                                   const bool *exists, cavum_error *error) {
  c->position = cavum_alloc(num_blocks, sizeof *c->position);
  c->block = cavum_alloc(num_blocks, sizeof *c->block);
  c->list = cavum_alloc(num_blocks, sizeof *c->list);
  c->length = cavum_alloc(num_blocks, sizeof *c->length);
  c->mark = cavum_alloc(num_blocks, sizeof *c->mark);
  if (!c->position || !c->block || !c->list || !c->length || !c->mark) {
    return cavum_fail_memory(error);
  }
  for (cavum_index k = 0; k < num_blocks; k++) {
    cavum_index block = (cavum_index)order[k];
    c->position[block] = exists[block] ? c->count : -1;
    if (exists[block]) c->block[c->count++] = block;
  }
  return CAVUM_OK;
}

static int by_value(const void *a, const void *b) {
  cavum_index x = *(const cavum_index *)a, y = *(const cavum_index *)b;
  return (x > y) - (x < y);
}

// Rising order; short lists, which most are, by insertion.
static void sort(cavum_index *list, cavum_index count) {
  enum { SHORT = 40 };
  if (count > SHORT) {
    qsort(list, (size_t)count, sizeof *list, by_value);
    return;
  }
  for (cavum_index i = 1; i < count; i++) {
    cavum_index value = list[i], k = i;
    for (; k > 0 && list[k - 1] > value; k--) list[k] = list[k - 1];
    list[k] = value;
  }
}

// Existing blocks of an element as rising positions.
static int element_positions(cavum_index out[CAVUM_BLOCKS_MOST], const columns *c,
                             const cavum_index *blocks) {
  int count = 0;
  for (int k = 0; k < CAVUM_BLOCKS_MOST && blocks[k] >= 0; k++) {
    cavum_index position = c->position[blocks[k]];
    if (position < 0) continue;
    int at = count++;
    for (; at > 0 && out[at - 1] > position; at--) out[at] = out[at - 1];
    out[at] = position;
  }
  return count;
}

typedef struct chains {
  cavum_index *first, *next;  // lists of elements (by first position) and of children
} chains;

static void add_to(columns *c, cavum_index column, cavum_index row, cavum_index *out,
                   cavum_index *count) {
  if (row <= column || c->mark[row] == column + 1) return;
  c->mark[row] = column + 1;
  out[(*count)++] = row;
}

// Column by column: the union of the elements that start there and of the children's lists.
static cavum_status build_columns(columns *c, const chains *starts, const cavum_index *blocks,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index *scratch = cavum_alloc(c->count, sizeof *scratch);
  chains children = {cavum_alloc(c->count, sizeof(cavum_index)),
                     cavum_alloc(c->count, sizeof(cavum_index))};
  if (!scratch || !children.first || !children.next) CAVUM_TRY(cavum_fail_memory(error));
  memset(children.first, 0xff, (size_t)c->count * sizeof(cavum_index));
  for (cavum_index i = 0; i < c->count; i++) {
    if (cavum_stop_asked_at(i)) CAVUM_TRY(cavum_stop_check(error));
    cavum_index count = 0, positions[CAVUM_BLOCKS_MOST];
    for (cavum_index e = starts->first[i]; e >= 0; e = starts->next[e]) {
      int n = element_positions(positions, c, blocks + (size_t)e * CAVUM_BLOCKS_MOST);
      for (int k = 0; k < n; k++) add_to(c, i, positions[k], scratch, &count);
    }
    for (cavum_index child = children.first[i]; child >= 0; child = children.next[child]) {
      for (cavum_index k = 0; k < c->length[child]; k++) {
        add_to(c, i, c->list[child][k], scratch, &count);
      }
    }
    sort(scratch, count);
    c->list[i] = cavum_alloc(count, sizeof *scratch);
    if (!c->list[i]) CAVUM_TRY(cavum_fail_memory(error));
    memcpy(c->list[i], scratch, (size_t)count * sizeof *scratch);
    c->length[i] = count;
    if (count == 0) continue;
    children.next[i] = children.first[c->list[i][0]];
    children.first[c->list[i][0]] = i;
  }
done:
  free(scratch);
  free(children.first);
  free(children.next);
  return status;
}

static cavum_status start_elements(chains *starts, const columns *c, const cavum_index *blocks,
                                   cavum_index num_elements, cavum_error *error) {
  starts->first = cavum_alloc(c->count, sizeof(cavum_index));
  starts->next = cavum_alloc(num_elements, sizeof(cavum_index));
  if (!starts->first || !starts->next) return cavum_fail_memory(error);
  memset(starts->first, 0xff, (size_t)c->count * sizeof(cavum_index));
  for (cavum_index e = num_elements - 1; e >= 0; e--) {
    cavum_index positions[CAVUM_BLOCKS_MOST];
    int n = element_positions(positions, c, blocks + (size_t)e * CAVUM_BLOCKS_MOST);
    starts->next[e] = -1;
    if (n == 0) continue;  // every block is left out: nothing to assemble
    starts->next[e] = starts->first[positions[0]];
    starts->first[positions[0]] = e;
  }
  return CAVUM_OK;
}

static double own_rows(const columns *c, cavum_index i) { return c->size[c->block[i]]; }

static double border_rows(const columns *c, cavum_index i) {
  double rows = 0.0;
  for (cavum_index k = 0; k < c->length[i]; k++) rows += own_rows(c, c->list[i][k]);
  return rows;
}

// Multiplications to eliminate `own` of `own + border` rows.
static double front_cost(double own, double border) {
  double all = own + border;
  return (all * all * all - border * border * border) / 3.0;
}

// The last position of the supernode that starts at i: the next one joins while it is the parent of
// the last and one larger front is cheaper than two. Postorder keeps the stack of fronts in order:
// other children of the parent lie below those of the last.
static cavum_index last_of_supernode(const columns *c, cavum_index i) {
  double own = own_rows(c, i), border = border_rows(c, i);
  cavum_index last = i;
  for (; last + 1 < c->count; last++) {
    cavum_index next = last + 1;
    if (c->length[last] == 0 || c->list[last][0] != next) break;
    double next_own = own_rows(c, next), next_border = border_rows(c, next);
    double apart = front_cost(own, border) + front_cost(next_own, next_border) + FRONT_OVERHEAD;
    if (front_cost(own + next_own, next_border) > apart) break;
    own += next_own;
    border = next_border;
  }
  return last;
}

static cavum_status allocate_plan(cavum_block_plan *plan, const columns *c,
                                  cavum_index num_elements, cavum_error *error) {
  int64_t total = 0;
  for (cavum_index i = 0; i < c->count; i++) total += c->length[i] + 1;
  plan->num_blocks = c->count;
  plan->supernodes = cavum_alloc(c->count, sizeof *plan->supernodes);
  plan->front_blocks = cavum_alloc(total, sizeof *plan->front_blocks);
  plan->child_place = cavum_alloc(total, sizeof *plan->child_place);
  plan->elements = cavum_alloc(num_elements, sizeof *plan->elements);
  plan->element_place =
      cavum_alloc((int64_t)num_elements * CAVUM_BLOCKS_MOST, sizeof *plan->element_place);
  bool have = plan->supernodes && plan->front_blocks && plan->child_place && plan->elements &&
              plan->element_place;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

// Lays out supernodes with their blocks (still as positions) and elements.
static cavum_status lay_out(cavum_block_plan *plan, const columns *c, const chains *starts,
                            cavum_index *supernode_of, cavum_error *error) {
  cavum_index at = 0, element_at = 0;
  for (cavum_index i = 0; i < c->count;) {
    if (cavum_stop_asked_at(plan->num_supernodes)) return cavum_stop_check(error);
    cavum_index last = last_of_supernode(c, i);
    cavum_supernode *s = &plan->supernodes[plan->num_supernodes];
    *s = (cavum_supernode){
        .first_block = at, .num_own = last - i + 1, .first_element = element_at, .parent = -1};
    for (cavum_index k = i; k <= last; k++) {
      plan->front_blocks[at++] = k;
      supernode_of[k] = plan->num_supernodes;
      for (cavum_index e = starts->first[k]; e >= 0; e = starts->next[e]) {
        plan->elements[element_at++] = e;
      }
    }
    // The structure of the last position holds that of the ones before it.
    memcpy(plan->front_blocks + at, c->list[last], (size_t)c->length[last] * sizeof(cavum_index));
    at += c->length[last];
    s->num_blocks = at - s->first_block;
    s->num_elements = element_at - s->first_element;
    plan->num_supernodes++;
    i = last + 1;
  }
  return CAVUM_OK;
}

static cavum_index find_in_front(const cavum_block_plan *plan, const cavum_supernode *s,
                                 cavum_index position) {
  const cavum_index *list = plan->front_blocks + s->first_block;
  for (cavum_index k = 0; k < s->num_blocks; k++) {
    if (list[k] == position) return k;
  }
  return -1;
}

static cavum_status link_fronts(cavum_block_plan *plan, const columns *c,
                                const cavum_index *supernode_of, const cavum_index *blocks,
                                cavum_error *error) {
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    if (cavum_stop_asked_at(i)) return cavum_stop_check(error);
    cavum_supernode *s = &plan->supernodes[i];
    const cavum_index *list = plan->front_blocks + s->first_block;
    if (s->num_blocks > s->num_own) {
      s->parent = supernode_of[list[s->num_own]];
      plan->supernodes[s->parent].num_children++;
    }
    for (cavum_index k = s->num_own; k < s->num_blocks; k++) {
      plan->child_place[s->first_block + k] =
          find_in_front(plan, &plan->supernodes[s->parent], list[k]);
    }
    for (cavum_index k = 0; k < s->num_elements; k++) {
      cavum_index e = plan->elements[s->first_element + k];
      for (int b = 0; b < CAVUM_BLOCKS_MOST; b++) {
        cavum_index block = blocks[(size_t)e * CAVUM_BLOCKS_MOST + (size_t)b];
        cavum_index position = block >= 0 ? c->position[block] : -1;
        plan->element_place[(size_t)e * CAVUM_BLOCKS_MOST + (size_t)b] =
            position >= 0 ? find_in_front(plan, s, position) : -1;
        if (block < 0) break;
      }
    }
  }
  int64_t total = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) total += plan->supernodes[i].num_blocks;
  for (int64_t k = 0; k < total && !cavum_stop_asked_at(k); k++) {
    plan->front_blocks[k] = c->block[plan->front_blocks[k]];
  }
  return cavum_stop_check(error);
}

cavum_status cavum_block_plan_create(cavum_block_plan *plan, const int64_t *order,
                                     cavum_index num_blocks, const bool *exists,
                                     const int *nominal_size, const cavum_index *element_blocks,
                                     cavum_index num_elements, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  columns c = {.size = nominal_size};
  chains starts = {NULL, NULL};
  cavum_block_plan made = {0};
  cavum_index *supernode_of = cavum_alloc(num_blocks, sizeof *supernode_of);
  CAVUM_TRY(cavum_blas_reach(error));  // for all that the plan is used for
  if (!supernode_of) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(columns_create(&c, order, num_blocks, exists, error));
  CAVUM_TRY(start_elements(&starts, &c, element_blocks, num_elements, error));
  CAVUM_TRY(build_columns(&c, &starts, element_blocks, error));
  CAVUM_TRY(allocate_plan(&made, &c, num_elements, error));
  CAVUM_TRY(lay_out(&made, &c, &starts, supernode_of, error));
  CAVUM_TRY(link_fronts(&made, &c, supernode_of, element_blocks, error));
  *plan = made;
done:
  free(supernode_of);
  free(starts.first);
  free(starts.next);
  columns_clear(&c);
  if (status != CAVUM_OK) cavum_block_plan_clear(&made);
  return status;
}

void cavum_block_plan_clear(cavum_block_plan *plan) {
  if (!plan) return;
  free(plan->supernodes);
  free(plan->front_blocks);
  free(plan->child_place);
  free(plan->elements);
  free(plan->element_place);
  memset(plan, 0, sizeof *plan);
}

void cavum_block_plan_front_offsets(cavum_index *offset, const cavum_block_plan *plan,
                                    const cavum_supernode *supernode, const int *block_size) {
  cavum_index at = 0;
  for (cavum_index k = 0; k < supernode->num_blocks; k++) {
    offset[k] = at;
    at += block_size[plan->front_blocks[supernode->first_block + k]];
  }
}
