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
// Where a column has what its child has below it and no more, as most have, it shares the list.
typedef struct columns {
  cavum_index count;      // positions
  cavum_index *position;  // [num_blocks] of a block, or -1
  cavum_index *block;     // [count] at a position
  cavum_index *entries;   // all lists
  int64_t *first;         // [count] into entries
  cavum_index *length;    // [count]
  cavum_index *rows;      // [count] nominal rows of a list
  const int *size;        // [num_blocks] nominal rows of a block
  int64_t used, room;     // of entries
} columns;

static void columns_clear(columns *c) {
  free(c->position);
  free(c->block);
  free(c->entries);
  free(c->first);
  free(c->length);
  free(c->rows);
}

static cavum_status columns_create(columns *c, const int64_t *order, cavum_index num_blocks,
                                   const bool *exists, cavum_error *error) {
  c->position = cavum_alloc(num_blocks, sizeof *c->position);
  c->block = cavum_alloc(num_blocks, sizeof *c->block);
  c->first = cavum_alloc(num_blocks, sizeof *c->first);
  c->length = cavum_alloc(num_blocks, sizeof *c->length);
  c->rows = cavum_alloc(num_blocks, sizeof *c->rows);
  if (!c->position || !c->block || !c->first || !c->length || !c->rows ||
      !cavum_grow((void **)&c->entries, &c->room, (int64_t)num_blocks + 1, sizeof *c->entries)) {
    return cavum_fail_memory(error);
  }
  for (cavum_index k = 0; k < num_blocks; k++) {
    cavum_index block = (cavum_index)order[k];
    c->position[block] = exists[block] ? c->count : -1;
    if (exists[block]) c->block[c->count++] = block;
  }
  return CAVUM_OK;
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

static cavum_index own_rows(const columns *c, cavum_index i) { return c->size[c->block[i]]; }

static const cavum_index *list_of(const columns *c, cavum_index i) {
  return c->entries + c->first[i];
}

// A rising list under way, with room for another one.
typedef struct gathered {
  const cavum_index *list;
  cavum_index length;
  cavum_index *now, *next;
} gathered;

// How many entries of a rising list are in another one.
static cavum_index count_common(const cavum_index *a, cavum_index of_a, const cavum_index *b,
                                cavum_index of_b) {
  cavum_index common = 0, k = 0;
  for (cavum_index i = 0; i < of_a; i++) {
    while (k < of_b && b[k] < a[i]) k++;
    common += k < of_b && b[k] == a[i];
  }
  return common;
}

// Takes in a rising list; what it holds already needs no new list.
static void take_in(gathered *g, const cavum_index *list, cavum_index length) {
  cavum_index i = 0, k = 0, made = 0;
  if (count_common(list, length, g->list, g->length) == length) return;
  while (i < g->length || k < length) {
    bool from_first = k == length || (i < g->length && g->list[i] <= list[k]);
    cavum_index value = from_first ? g->list[i] : list[k];
    i += i < g->length && g->list[i] == value;
    k += k < length && list[k] == value;
    g->next[made++] = value;
  }
  cavum_index *free_room = g->now;
  g->now = g->next;
  g->next = free_room;
  g->list = g->now;
  g->length = made;
}

// The list of column i, which is that of its child without i where no more was gathered.
static cavum_status keep_list(columns *c, cavum_index i, const gathered *g, cavum_index child,
                              cavum_error *error) {
  c->length[i] = g->length;
  if (child >= 0 && g->list == list_of(c, child) + 1) {
    c->first[i] = c->first[child] + 1;
    c->rows[i] = c->rows[child] - own_rows(c, i);
    return CAVUM_OK;
  }
  if (!cavum_grow((void **)&c->entries, &c->room, c->used + g->length, sizeof *c->entries)) {
    return cavum_fail_memory(error);
  }
  c->first[i] = c->used;
  for (cavum_index k = 0; k < g->length; k++) {
    c->entries[c->used++] = g->list[k];
    c->rows[i] += own_rows(c, g->list[k]);
  }
  return CAVUM_OK;
}

typedef struct chains {
  cavum_index *first, *next;  // lists of elements (by first position) and of children
} chains;

static cavum_index longest_child(const columns *c, const chains *children, cavum_index i) {
  cavum_index longest = children->first[i];
  for (cavum_index child = longest; child >= 0; child = children->next[child]) {
    if (c->length[child] > c->length[longest]) longest = child;
  }
  return longest;
}

// Column by column: the union of the elements that start there and of the children's lists, all of
// which begin with the column itself.
static cavum_status build_columns(columns *c, const chains *starts, const cavum_index *blocks,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index *room = cavum_alloc(2 * (int64_t)c->count, sizeof *room);
  chains children = {cavum_alloc(c->count, sizeof(cavum_index)),
                     cavum_alloc(c->count, sizeof(cavum_index))};
  if (!room || !children.first || !children.next) CAVUM_TRY(cavum_fail_memory(error));
  memset(children.first, 0xff, (size_t)c->count * sizeof(cavum_index));
  for (cavum_index i = 0; i < c->count; i++) {
    if (cavum_stop_asked_at(i)) CAVUM_TRY(cavum_stop_check(error));
    cavum_index longest = longest_child(c, &children, i), positions[CAVUM_BLOCKS_MOST];
    gathered g = {NULL, 0, room, room + c->count};
    if (longest >= 0) {
      g.list = list_of(c, longest) + 1;
      g.length = c->length[longest] - 1;
    }
    for (cavum_index e = starts->first[i]; e >= 0; e = starts->next[e]) {
      int n = element_positions(positions, c, blocks + (size_t)e * CAVUM_BLOCKS_MOST);
      take_in(&g, positions + 1, n - 1);
    }
    for (cavum_index child = children.first[i]; child >= 0; child = children.next[child]) {
      if (child != longest) take_in(&g, list_of(c, child) + 1, c->length[child] - 1);
    }
    CAVUM_TRY(keep_list(c, i, &g, longest, error));
    if (g.length == 0) continue;
    cavum_index parent = list_of(c, i)[0];
    children.next[i] = children.first[parent];
    children.first[parent] = i;
  }
done:
  free(room);
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

// Multiplications to eliminate `own` of `own + border` rows.
static double front_cost(double own, double border) {
  double all = own + border;
  return (all * all * all - border * border * border) / 3.0;
}

// The last position of the supernode that starts at i: the next one joins while it is the parent of
// the last and one larger front is cheaper than two. Postorder keeps the stack of fronts in order:
// other children of the parent lie below those of the last.
static cavum_index last_of_supernode(const columns *c, cavum_index i) {
  double own = own_rows(c, i), border = c->rows[i];
  cavum_index last = i;
  for (; last + 1 < c->count; last++) {
    cavum_index next = last + 1;
    if (c->length[last] == 0 || list_of(c, last)[0] != next) break;
    double next_own = own_rows(c, next), next_border = c->rows[next];
    double apart = front_cost(own, border) + front_cost(next_own, next_border) + FRONT_OVERHEAD;
    if (front_cost(own + next_own, next_border) > apart) break;
    own += next_own;
    border = next_border;
  }
  return last;
}

// Supernodes with their numbers of blocks; gives that of all blocks in fronts.
static cavum_status find_supernodes(cavum_block_plan *plan, const columns *c, int64_t *num_entries,
                                    cavum_error *error) {
  plan->num_blocks = c->count;
  plan->supernodes = cavum_alloc(c->count, sizeof *plan->supernodes);
  if (!plan->supernodes) return cavum_fail_memory(error);
  *num_entries = 0;
  for (cavum_index i = 0; i < c->count;) {
    if (cavum_stop_asked_at(plan->num_supernodes)) return cavum_stop_check(error);
    cavum_index last = last_of_supernode(c, i), own = last - i + 1;
    plan->supernodes[plan->num_supernodes++] =
        (cavum_supernode){.num_own = own, .num_blocks = own + c->length[last], .parent = -1};
    *num_entries += own + c->length[last];
    i = last + 1;
  }
  return CAVUM_OK;
}

static cavum_status allocate_plan(cavum_block_plan *plan, int64_t num_entries,
                                  cavum_index num_elements, cavum_error *error) {
  plan->front_blocks = cavum_alloc(num_entries, sizeof *plan->front_blocks);
  plan->child_place = cavum_alloc(num_entries, sizeof *plan->child_place);
  plan->elements = cavum_alloc(num_elements, sizeof *plan->elements);
  plan->element_place =
      cavum_alloc((int64_t)num_elements * CAVUM_BLOCKS_MOST, sizeof *plan->element_place);
  bool have = plan->front_blocks && plan->child_place && plan->elements && plan->element_place;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

// Lays out supernodes with their blocks (still as positions) and elements.
static cavum_status lay_out(cavum_block_plan *plan, const columns *c, const chains *starts,
                            cavum_index *supernode_of, cavum_error *error) {
  cavum_index at = 0, element_at = 0, position = 0;
  for (cavum_index i = 0; i < plan->num_supernodes; i++) {
    if (cavum_stop_asked_at(i)) return cavum_stop_check(error);
    cavum_supernode *s = &plan->supernodes[i];
    s->first_block = at;
    s->first_element = element_at;
    for (cavum_index k = 0; k < s->num_own; k++, position++) {
      plan->front_blocks[at++] = position;
      supernode_of[position] = i;
      for (cavum_index e = starts->first[position]; e >= 0; e = starts->next[e]) {
        plan->elements[element_at++] = e;
      }
    }
    // The structure of the last position holds that of the ones before it.
    memcpy(plan->front_blocks + at, list_of(c, position - 1),
           (size_t)c->length[position - 1] * sizeof(cavum_index));
    at += c->length[position - 1];
    s->num_elements = element_at - s->first_element;
  }
  return CAVUM_OK;
}

// Where a position is in the front of a supernode, whose positions rise, or -1.
static cavum_index find_in_front(const cavum_block_plan *plan, const cavum_supernode *s,
                                 cavum_index position) {
  const cavum_index *list = plan->front_blocks + s->first_block;
  cavum_index low = s->num_own, high = s->num_blocks;
  if (position <= list[low - 1]) return position >= list[0] ? position - list[0] : -1;
  while (low < high) {
    cavum_index middle = low + (high - low) / 2;
    if (list[middle] < position) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  return low < s->num_blocks && list[low] == position ? low : -1;
}

// Places of the border of a supernode in the front of its parent, which has all of it.
static void place_border(cavum_block_plan *plan, const cavum_supernode *s) {
  const cavum_supernode *parent = &plan->supernodes[s->parent];
  const cavum_index *list = plan->front_blocks + s->first_block;
  const cavum_index *of_parent = plan->front_blocks + parent->first_block;
  cavum_index at = 0;
  for (cavum_index k = s->num_own; k < s->num_blocks; k++) {
    while (at < parent->num_blocks && of_parent[at] < list[k]) at++;
    plan->child_place[s->first_block + k] = at;
  }
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
      place_border(plan, s);
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
  int64_t num_entries = 0;
  cavum_index *supernode_of = cavum_alloc(num_blocks, sizeof *supernode_of);
  CAVUM_TRY(cavum_blas_reach(error));  // for all that the plan is used for
  if (!supernode_of) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(columns_create(&c, order, num_blocks, exists, error));
  CAVUM_TRY(start_elements(&starts, &c, element_blocks, num_elements, error));
  CAVUM_TRY(build_columns(&c, &starts, element_blocks, error));
  CAVUM_TRY(find_supernodes(&made, &c, &num_entries, error));
  CAVUM_TRY(allocate_plan(&made, num_entries, num_elements, error));
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
