// SPDX-License-Identifier: GPL-3.0-or-later
// The postorder of an elimination tree, from the elements themselves. A row's parent is the first
// later one that is connected to it through rows before that [Liu1990, 3.1], so that of the
// connections within an element those from each of its rows to the next in the order are enough.
#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "linalg/ordering.h"

// A tree under way; rows by their positions in the order. Lists end with -1.
typedef struct tree {
  cavum_index *position;     // [num_rows] of a row
  cavum_index *parent;       // [num_rows]
  cavum_index *ancestor;     // [num_rows]: some one above, or -1
  cavum_index *first;        // [num_rows]: of the links to a position, then of its children
  cavum_index *next, *from;  // links: the list goes on, and the earlier position
  cavum_index num_links;
} tree;

static void tree_clear(tree *t) {
  free(t->position);
  free(t->parent);
  free(t->ancestor);
  free(t->first);
  free(t->next);
  free(t->from);
}

static cavum_status tree_create(tree *t, cavum_index num_rows, int64_t most_links,
                                cavum_error *error) {
  int64_t links = most_links > num_rows ? most_links : num_rows;  // children use the same lists
  t->position = cavum_alloc(num_rows, sizeof *t->position);
  t->parent = cavum_alloc(num_rows, sizeof *t->parent);
  t->ancestor = cavum_alloc(num_rows, sizeof *t->ancestor);
  t->first = cavum_alloc(num_rows, sizeof *t->first);
  t->next = cavum_alloc(links, sizeof *t->next);
  t->from = cavum_alloc(links, sizeof *t->from);
  bool have = t->position && t->parent && t->ancestor && t->first && t->next && t->from;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

// Links the rows of an element, each to the next one in the order.
static void link_rows(tree *t, const cavum_index *rows, int most, const bool *exists) {
  cavum_index before = -1, last = -1;
  for (;;) {
    cavum_index least = -1;
    for (int k = 0; k < most && rows[k] >= 0; k++) {
      cavum_index position = t->position[rows[k]];
      if (exists[rows[k]] && position > last && (least < 0 || position < least)) least = position;
    }
    if (least < 0) return;
    if (before >= 0) {
      t->from[t->num_links] = before;
      t->next[t->num_links] = t->first[least];
      t->first[least] = t->num_links++;
    }
    before = last = least;
  }
}

// The parent of the highest row that an earlier one has led to so far; ways are shortened.
static void find_parents(tree *t, cavum_index num_rows) {
  for (cavum_index i = 0; i < num_rows; i++) {
    t->parent[i] = t->ancestor[i] = -1;
    for (cavum_index link = t->first[i]; link >= 0; link = t->next[link]) {
      cavum_index row = t->from[link];
      while (t->ancestor[row] >= 0 && t->ancestor[row] != i) {
        cavum_index above = t->ancestor[row];
        t->ancestor[row] = i;
        row = above;
      }
      if (t->ancestor[row] >= 0) continue;
      t->ancestor[row] = t->parent[row] = i;
    }
  }
}

// Numbers of positions in the postorder, children and roots in rising order.
static void number_tree(cavum_index *number, tree *t, cavum_index num_rows) {
  cavum_index at = 0, *child = t->first;
  memset(child, 0xff, (size_t)num_rows * sizeof *child);
  for (cavum_index i = num_rows - 1; i >= 0; i--) {
    if (t->parent[i] < 0) continue;
    t->next[i] = child[t->parent[i]];
    child[t->parent[i]] = i;
  }
  for (cavum_index root = 0; root < num_rows; root++) {
    if (t->parent[root] >= 0) continue;
    for (cavum_index i = root; i >= 0;) {
      cavum_index below = child[i];
      if (below >= 0) {  // first all that is below it
        child[i] = t->next[below];
        i = below;
      } else {
        number[i] = at++;
        i = t->parent[i];
      }
    }
  }
}

cavum_status cavum_ordering_postorder(int64_t *order, cavum_index num_rows,
                                      const cavum_index *element_rows, cavum_index num_elements,
                                      int most, const bool *exists, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  tree t = {.position = NULL};
  int64_t *before = cavum_alloc(num_rows, sizeof *before);
  if (!before) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(tree_create(&t, num_rows, (int64_t)num_elements * (most - 1), error));
  memcpy(before, order, (size_t)num_rows * sizeof *before);
  memset(t.first, 0xff, (size_t)num_rows * sizeof *t.first);
  for (cavum_index k = 0; k < num_rows; k++) t.position[order[k]] = k;
  for (cavum_index e = 0; e < num_elements; e++) {
    if (cavum_stop_asked_at(e)) CAVUM_TRY(cavum_stop_check(error));
    link_rows(&t, element_rows + (size_t)e * (size_t)most, most, exists);
  }
  find_parents(&t, num_rows);
  number_tree(t.ancestor, &t, num_rows);
  for (cavum_index k = 0; k < num_rows; k++) order[t.ancestor[k]] = before[k];
done:
  free(before);
  tree_clear(&t);
  return status;
}
