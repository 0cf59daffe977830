// SPDX-License-Identifier: GPL-3.0-or-later
// Blocks of the condensed problem and the plan of their elimination.
#include "fem/skeleton.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "linalg/ordering.h"

// Degree for which the plan is made; it serves all.
enum { NOMINAL_DEGREE = 7 };

// Meshes of more blocks than this are ordered by nested dissection.
enum { NESTED_DISSECTION_FROM = 20000 };

static bool is_essential(cavum_boundary boundary, const cavum_closure *closure) {
  return boundary == CAVUM_BOUNDARY_MAGNETIC ||
         (boundary == CAVUM_BOUNDARY_SYMMETRY && closure->symmetry_is_magnetic);
}

static cavum_status find_existing(cavum_skeleton *s, cavum_error *error) {
  const cavum_mesh *mesh = s->mesh;
  bool any = false;
  s->all_exist = true;
  s->num_blocks = mesh->num_vertices + mesh->num_edges;
  s->exists = cavum_alloc(s->num_blocks, sizeof *s->exists);
  if (!s->exists) return cavum_fail_memory(error);
  memset(s->exists, true, (size_t)s->num_blocks * sizeof *s->exists);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (!is_essential(mesh->edges[e].boundary, &s->closure)) continue;
    s->exists[mesh->num_vertices + e] = false;
    s->exists[mesh->edges[e].vertex[0]] = s->exists[mesh->edges[e].vertex[1]] = false;
  }
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    any = any || s->exists[b];
    s->all_exist = s->all_exist && s->exists[b];
  }
  if (any) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_MESH, "every boundary is magnetic: nothing is left to solve");
}

static cavum_status list_element_blocks(cavum_skeleton *s, cavum_error *error) {
  const cavum_mesh *mesh = s->mesh;
  int64_t count = (int64_t)mesh->num_elements * CAVUM_BLOCKS_MOST;
  s->element_blocks = cavum_alloc(count, sizeof *s->element_blocks);
  if (!s->element_blocks) return cavum_fail_memory(error);
  memset(s->element_blocks, 0xff, (size_t)count * sizeof *s->element_blocks);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    cavum_index *blocks = s->element_blocks + (size_t)e * CAVUM_BLOCKS_MOST;
    for (int k = 0; k < element->num_corners; k++) {
      blocks[k] = element->vertex[k];
      blocks[element->num_corners + k] = mesh->num_vertices + element->edge[k];
    }
  }
  return CAVUM_OK;
}

// Sorts every column and drops repeated entries.
static void make_unique(cavum_graph *graph) {
  int64_t used = 0;
  for (int64_t c = 0; c < graph->num_rows && !cavum_stop_asked_at(c); c++) {
    int64_t from = graph->column_start[c], to = graph->column_start[c + 1], first = used;
    for (int64_t k = from; k < to; k++) {
      int64_t value = graph->row[k], at = used;
      while (at > first && graph->row[at - 1] > value) at--;
      if (at > first && graph->row[at - 1] == value) continue;
      memmove(graph->row + at + 1, graph->row + at, (size_t)(used - at) * sizeof *graph->row);
      graph->row[at] = value;
      used++;
    }
    graph->column_start[c] = first;
  }
  graph->column_start[graph->num_rows] = used;
}

// Pairs of blocks of an element: counted in the first pass, filled in in the second.
static void add_pairs(cavum_graph *graph, const bool *exists, const cavum_index *blocks, int count,
                      int pass) {
  for (int c = 0; c < count; c++) {
    for (int r = 0; r < count; r++) {
      if (blocks[r] < blocks[c] || !exists[blocks[r]] || !exists[blocks[c]]) continue;
      if (pass == 0) graph->column_start[blocks[c] + 1]++;
      if (pass == 1) graph->row[graph->column_start[blocks[c]]++] = blocks[r];
    }
  }
}

static int count_blocks(const cavum_index *blocks) {
  int count = 0;
  while (count < CAVUM_BLOCKS_MOST && blocks[count] >= 0) count++;
  return count;
}

// Lower triangle of the graph of the blocks below `rows` in compressed columns: of all, or of the
// vertices, which are the first half of those of an element.
static cavum_status build_graph(cavum_graph *graph, const cavum_skeleton *s, cavum_index rows,
                                cavum_error *error) {
  cavum_index elements = s->mesh->num_elements;
  int part = rows == s->num_blocks ? 1 : 2, most = CAVUM_BLOCKS_MOST / part;
  graph->num_rows = rows;
  graph->column_start = cavum_alloc((int64_t)rows + 1, sizeof *graph->column_start);
  graph->row = cavum_alloc((int64_t)elements * most * (most + 1) / 2, sizeof *graph->row);
  if (!graph->column_start || !graph->row) return cavum_fail_memory(error);
  for (int pass = 0; pass < 2; pass++) {  // count, then fill
    for (cavum_index e = 0; e < elements; e++) {
      if (cavum_stop_asked_at(e)) return cavum_stop_check(error);
      const cavum_index *blocks = s->element_blocks + (size_t)e * CAVUM_BLOCKS_MOST;
      add_pairs(graph, s->exists, blocks, count_blocks(blocks) / part, pass);
    }
    for (cavum_index b = 0; pass == 0 && b < rows; b++) {
      graph->column_start[b + 1] += graph->column_start[b];
    }
  }
  memmove(graph->column_start + 1, graph->column_start, (size_t)rows * sizeof *graph->column_start);
  graph->column_start[0] = 0;
  make_unique(graph);
  return cavum_stop_check(error);
}

static void clear_graph(cavum_graph *graph) {
  free(graph->column_start);
  free(graph->row);
}

// Blocks on the mirror plane, when they are unknowns.
static void mark_plane(bool *last, const cavum_skeleton *s) {
  const cavum_mesh *mesh = s->mesh;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->boundary != CAVUM_BOUNDARY_SYMMETRY || !s->exists[mesh->num_vertices + e]) continue;
    last[mesh->num_vertices + e] = true;
    for (int end = 0; end < 2; end++) last[edge->vertex[end]] = s->exists[edge->vertex[end]];
  }
}

// True when no existing block that is not marked comes after one that is.
static bool ends_with(const int64_t *order, const bool *last, const cavum_skeleton *s) {
  bool seen = false;
  for (cavum_index k = 0; k < s->num_blocks; k++) {
    if (!s->exists[order[k]]) continue;
    if (seen && !last[order[k]]) return false;
    seen = last[order[k]];
  }
  return true;
}

// An order of all blocks from one of the vertices: each edge just before the first of its ends. A
// set of vertices that parts the mesh does so with the edges between them.
static cavum_status insert_edges(int64_t *order, const int64_t *of_vertices, const cavum_mesh *mesh,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index *position = cavum_alloc(mesh->num_vertices, sizeof *position), at = 0;
  cavum_index *first = cavum_alloc(mesh->num_vertices, sizeof *first);  // lists by first end
  cavum_index *next = cavum_alloc(mesh->num_edges, sizeof *next);
  if (!position || !first || !next) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index k = 0; k < mesh->num_vertices; k++) {
    position[of_vertices[k]] = k;
    first[k] = -1;
  }
  for (cavum_index e = mesh->num_edges - 1; e >= 0; e--) {
    const cavum_index *ends = mesh->edges[e].vertex;
    cavum_index end = position[ends[0]] < position[ends[1]] ? ends[0] : ends[1];
    next[e] = first[end];
    first[end] = e;
  }
  for (cavum_index k = 0; k < mesh->num_vertices; k++) {
    cavum_index vertex = (cavum_index)of_vertices[k];
    for (cavum_index e = first[vertex]; e >= 0; e = next[e]) order[at++] = mesh->num_vertices + e;
    order[at++] = vertex;
  }
done:
  free(position);
  free(first);
  free(next);
  return status;
}

// Moves marked blocks to the end of an order, otherwise kept; scratch [count].
static void move_to_end(int64_t *order, int64_t *scratch, const bool *last, cavum_index count) {
  cavum_index at = 0;
  memcpy(scratch, order, (size_t)count * sizeof *order);
  for (int pass = 0; pass < 2; pass++) {
    for (cavum_index k = 0; k < count; k++) {
      if (last[scratch[k]] == (pass == 1)) order[at++] = scratch[k];
    }
  }
}

// The graph of the vertices has a third of the rows and far fewer neighbours of each, and its
// separators are those of the blocks.
static cavum_status dissect(int64_t *order, const cavum_skeleton *s, const bool *last,
                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_graph graph = {0};
  int64_t *scratch = cavum_alloc(s->num_blocks, sizeof *scratch);
  if (!scratch) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(build_graph(&graph, s, s->mesh->num_vertices, error));
  CAVUM_TRY(cavum_ordering_dissect(scratch, &graph, error));
  CAVUM_TRY(insert_edges(order, scratch, s->mesh, error));
  move_to_end(order, scratch, last, s->num_blocks);
done:
  free(scratch);
  clear_graph(&graph);
  return status;
}

static cavum_status find_order(int64_t *order, const cavum_skeleton *s, const bool *last,
                               cavum_error *error) {
  cavum_graph graph = {0};
  if (s->num_blocks > NESTED_DISSECTION_FROM) {
    cavum_status dissected = dissect(order, s, last, error);
    if (dissected != CAVUM_OK) return dissected;
    return cavum_ordering_postorder(order, s->num_blocks, s->element_blocks, s->mesh->num_elements,
                                    CAVUM_BLOCKS_MOST, s->exists, error);
  }
  cavum_status status = build_graph(&graph, s, s->num_blocks, error);
  if (status == CAVUM_OK) status = cavum_ordering_find(order, &graph, last, error);
  clear_graph(&graph);
  return status;
}

cavum_status cavum_skeleton_create(cavum_skeleton *skeleton, const cavum_mesh *mesh,
                                   const cavum_closure *closure, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_skeleton s = {.mesh = mesh, .closure = *closure};
  int64_t *order = NULL;
  int *size = NULL;
  bool *last = NULL;
  CAVUM_TRY(find_existing(&s, error));
  CAVUM_TRY(list_element_blocks(&s, error));
  CAVUM_TRY(cavum_stop_check(error));
  order = cavum_alloc(s.num_blocks, sizeof *order);
  last = cavum_alloc(s.num_blocks, sizeof *last);
  if (!order || !last) CAVUM_TRY(cavum_fail_memory(error));
  mark_plane(last, &s);
  CAVUM_TRY(find_order(order, &s, last, error));
  if (!ends_with(order, last, &s)) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_LIBRARY, "the mirror plane cannot be eliminated last"));
  }
  size = cavum_alloc(s.num_blocks, sizeof *size);
  if (!size) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index b = 0; b < s.num_blocks; b++) {
    size[b] = cavum_skeleton_block_size(&s, b, NOMINAL_DEGREE);
  }
  CAVUM_TRY(cavum_block_plan_create(&s.own_plan, order, s.num_blocks, s.exists, size,
                                    s.element_blocks, mesh->num_elements, error));
  *skeleton = s;
  skeleton->plan = &skeleton->own_plan;
done:
  free(order);
  free(last);
  free(size);
  if (status != CAVUM_OK) cavum_skeleton_clear(&s);
  return status;
}

cavum_status cavum_skeleton_create_like(cavum_skeleton *skeleton, const cavum_skeleton *like,
                                        const cavum_closure *closure, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_skeleton s = {.mesh = like->mesh, .closure = *closure, .plan = like->plan};
  CAVUM_TRY(find_existing(&s, error));
  for (cavum_index b = 0; b < s.num_blocks; b++) {
    if (CAVUM_HOLDS(like->exists[b] || !s.exists[b])) continue;
    CAVUM_TRY(cavum_fail_internal(error, "a block that the plan of elimination does not have"));
  }
  CAVUM_TRY(list_element_blocks(&s, error));
  *skeleton = s;
done:
  if (status != CAVUM_OK) cavum_skeleton_clear(&s);
  return status;
}

void cavum_skeleton_clear(cavum_skeleton *skeleton) {
  if (!skeleton) return;
  free(skeleton->exists);
  free(skeleton->element_blocks);
  cavum_block_plan_clear(&skeleton->own_plan);
  memset(skeleton, 0, sizeof *skeleton);
}
