// SPDX-License-Identifier: GPL-3.0-or-later
// Postorder and plan of an elimination against one that is carried out on a full matrix of
// booleans.
#include <string.h>

#include "grid_msh.h"
#include "linalg/block_plan.h"
#include "linalg/ordering.h"

enum { ROWS = 60, ELEMENTS = 45 };

// A random set of elements and an order; some rows do not exist, some elements have fewer.
typedef struct graph {
  cavum_index rows[ELEMENTS][CAVUM_BLOCKS_MOST];
  bool exists[ROWS];
  int size[ROWS];
  int64_t order[ROWS];
} graph;

static int draw(uint64_t *state, int below) { return (int)((grid_random(state) >> 33) % below); }

// Elements of rows that are near one another, so that the tree is deep, now and then far apart.
static graph draw_graph(uint64_t *state) {
  graph g;
  for (int e = 0; e < ELEMENTS; e++) {
    int count = draw(state, 3) == 0 ? 6 : CAVUM_BLOCKS_MOST, first = draw(state, ROWS - 12);
    for (int k = 0; k < CAVUM_BLOCKS_MOST; k++) g.rows[e][k] = -1;
    for (int k = 0; k < count;) {
      cavum_index row = draw(state, 9) == 0 ? draw(state, ROWS) : first + draw(state, 12);
      bool known = false;
      for (int before = 0; before < k; before++) known = known || g.rows[e][before] == row;
      if (!known) g.rows[e][k++] = row;
    }
  }
  for (int i = 0; i < ROWS; i++) {
    g.exists[i] = draw(state, 10) > 0;
    g.size[i] = 1 + draw(state, 6);
    g.order[i] = i;
  }
  for (int i = ROWS - 1; i > 0; i--) {
    int other = draw(state, i + 1);
    int64_t row = g.order[i];
    g.order[i] = g.order[other];
    g.order[other] = row;
  }
  return g;
}

// joined[i][k], i < k: position k is in the column of position i once all before i are eliminated.
static void eliminate(bool joined[ROWS][ROWS], const graph *g, const int64_t *order) {
  int position[ROWS];
  memset(joined, 0, sizeof(bool[ROWS][ROWS]));
  for (int k = 0; k < ROWS; k++) position[order[k]] = k;
  for (int e = 0; e < ELEMENTS; e++) {
    for (int a = 0; a < CAVUM_BLOCKS_MOST && g->rows[e][a] >= 0; a++) {
      for (int b = 0; b < CAVUM_BLOCKS_MOST && g->rows[e][b] >= 0; b++) {
        bool there = g->exists[g->rows[e][a]] && g->exists[g->rows[e][b]];
        if (there) joined[position[g->rows[e][a]]][position[g->rows[e][b]]] = true;
      }
    }
  }
  for (int i = 0; i < ROWS; i++) {
    for (int a = i + 1; a < ROWS; a++) {
      for (int b = i + 1; joined[i][a] && b < ROWS; b++) {
        if (joined[i][b]) joined[a][b] = true;
      }
    }
  }
}

static int parent_of(const bool joined[ROWS][ROWS], int i) {
  for (int k = i + 1; k < ROWS; k++) {
    if (joined[i][k]) return k;
  }
  return -1;
}

static int count_entries(const bool joined[ROWS][ROWS]) {
  int count = 0;
  for (int i = 0; i < ROWS; i++) {
    for (int k = i + 1; k < ROWS; k++) count += joined[i][k];
  }
  return count;
}

static void put_in_postorder(graph *g) {
  ck_assert_int_eq(cavum_ordering_postorder(g->order, ROWS, &g->rows[0][0], ELEMENTS,
                                            CAVUM_BLOCKS_MOST, g->exists, NULL),
                   CAVUM_OK);
}

START_TEST(postorder_keeps_fill_and_subtrees_together) {
  uint64_t state = 5;
  for (int trial = 0; trial < 200; trial++) {
    static bool before[ROWS][ROWS], after[ROWS][ROWS];
    graph g = draw_graph(&state);
    eliminate(before, &g, g.order);
    put_in_postorder(&g);
    eliminate(after, &g, g.order);
    ck_assert_int_eq(count_entries(before), count_entries(after));
    int seen[ROWS] = {0}, below[ROWS];
    for (int k = 0; k < ROWS; k++) seen[g.order[k]]++;
    for (int k = 0; k < ROWS; k++) ck_assert_int_eq(seen[k], 1);
    // All that is below a row comes right before it.
    for (int k = 0; k < ROWS; k++) below[k] = 0;
    for (int k = 0; k < ROWS; k++) {
      int parent = parent_of((const bool(*)[ROWS])after, k);
      if (k > 0 && below[k] > 0) {
        ck_assert_int_eq(parent_of((const bool(*)[ROWS])after, k - 1), k);
      }
      if (parent >= 0) below[parent] += below[k] + 1;
    }
    for (int k = 0; k < ROWS; k++) {
      for (int i = k - below[k]; i < k; i++) {
        int parent = parent_of((const bool(*)[ROWS])after, i);
        ck_assert(parent > i && parent <= k);
      }
    }
  }
}
END_TEST

// Own blocks of a supernode are consecutive, its border is the structure of the last of them.
static void check_supernode(const cavum_block_plan *plan, cavum_index which, int first,
                            const bool joined[ROWS][ROWS], const int *position) {
  const cavum_supernode *s = &plan->supernodes[which];
  const cavum_index *blocks = plan->front_blocks + s->first_block;
  int last = first + s->num_own - 1, at = s->num_own;
  for (int k = 0; k < s->num_own; k++) ck_assert_int_eq(position[blocks[k]], first + k);
  for (int k = last + 1; k < ROWS; k++) {
    if (!joined[last][k]) continue;
    ck_assert_int_lt(at, s->num_blocks);
    ck_assert_int_eq(position[blocks[at++]], k);
  }
  ck_assert_int_eq(at, s->num_blocks);
  // What an own block before the last is joined to is in the front.
  for (int i = first; i < last; i++) {
    for (int k = last + 1; k < ROWS; k++) ck_assert(!joined[i][k] || joined[last][k]);
  }
  for (int k = s->num_own; k < s->num_blocks; k++) {
    const cavum_supernode *parent = &plan->supernodes[s->parent];
    cavum_index place = plan->child_place[s->first_block + k];
    ck_assert(place >= 0 && place < parent->num_blocks);
    ck_assert_int_eq(plan->front_blocks[parent->first_block + place], blocks[k]);
  }
  ck_assert_int_eq(s->parent < 0, s->num_blocks == s->num_own);
}

// Each element is in the front of the first of its rows, each of its rows in its place.
static int check_elements(const cavum_block_plan *plan, const cavum_supernode *s, const graph *g) {
  for (cavum_index k = 0; k < s->num_elements; k++) {
    cavum_index e = plan->elements[s->first_element + k];
    const cavum_index *place = plan->element_place + (size_t)e * CAVUM_BLOCKS_MOST;
    bool owned = false;
    for (int b = 0; b < CAVUM_BLOCKS_MOST && g->rows[e][b] >= 0; b++) {
      ck_assert_int_eq(place[b] >= 0, g->exists[g->rows[e][b]]);
      if (place[b] < 0) continue;
      ck_assert_int_eq(plan->front_blocks[s->first_block + place[b]], g->rows[e][b]);
      owned = owned || place[b] < s->num_own;
    }
    ck_assert(owned);
  }
  return s->num_elements;
}

START_TEST(plan_is_that_of_the_elimination) {
  uint64_t state = 6;
  for (int trial = 0; trial < 200; trial++) {
    static bool joined[ROWS][ROWS];
    graph g = draw_graph(&state), kept;
    cavum_block_plan plan = {0};
    int position[ROWS], first = 0, elements = 0, empty = 0, count = 0;
    put_in_postorder(&g);
    // Positions are those of rows that exist.
    kept = g;
    for (int k = 0; k < ROWS; k++) {
      if (g.exists[g.order[k]]) kept.order[count++] = g.order[k];
    }
    for (int k = 0, at = count; k < ROWS; k++) {
      if (!g.exists[g.order[k]]) kept.order[at++] = g.order[k];
    }
    for (int k = 0; k < ROWS; k++) position[kept.order[k]] = k;
    eliminate(joined, &kept, kept.order);
    ck_assert_int_eq(cavum_block_plan_create(&plan, g.order, ROWS, g.exists, g.size, &g.rows[0][0],
                                             ELEMENTS, NULL),
                     CAVUM_OK);
    ck_assert_int_eq(plan.num_blocks, count);
    for (cavum_index i = 0; i < plan.num_supernodes; i++) {
      check_supernode(&plan, i, first, (const bool(*)[ROWS])joined, position);
      elements += check_elements(&plan, &plan.supernodes[i], &g);
      first += plan.supernodes[i].num_own;
    }
    for (int e = 0; e < ELEMENTS; e++) {
      bool any = false;
      for (int b = 0; b < CAVUM_BLOCKS_MOST && g.rows[e][b] >= 0; b++) {
        any = any || g.exists[g.rows[e][b]];
      }
      empty += !any;
    }
    ck_assert_int_eq(first, count);
    ck_assert_int_eq(elements, ELEMENTS - empty);
    cavum_block_plan_clear(&plan);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, postorder_keeps_fill_and_subtrees_together);
  tcase_add_test(tests, plan_is_that_of_the_elimination);
}

CAVUM_TEST_MAIN("block_plan", add_tests)
