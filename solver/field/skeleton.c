// SPDX-License-Identifier: GPL-3.0-or-later
// Block structure of the condensed matrix.
#include "skeleton.h"

#include <string.h>

#include "base.h"

enum { BLOCKS_MOST = 8 };

// Neighbours of every block with an index not below its own, itself first; rising.
typedef struct block_graph {
  int64_t *start; // [num_blocks + 1]
  int64_t *neighbour;
} block_graph;

static int element_blocks(cavum_index block[BLOCKS_MOST], const cavum_mesh *mesh, cavum_index e) {
  const cavum_element *element = &mesh->elements[e];
  int corners = element->num_corners;
  for (int k = 0; k < corners; k++) {
    block[k] = element->vertex[k];
    block[corners + k] = mesh->num_vertices + element->edge[k];
  }
  return 2 * corners;
}

static int block_size(const cavum_skeleton *s, cavum_index block) {
  return block < s->space->mesh->num_vertices ? 1 : s->space->degree - 1;
}

static bool is_essential(cavum_boundary boundary, const cavum_closure *closure) {
  return boundary == CAVUM_BOUNDARY_MAGNETIC ||
         (boundary == CAVUM_BOUNDARY_SYMMETRY && closure->symmetry_is_magnetic);
}

static cavum_status number_rows(cavum_skeleton *s, const cavum_closure *closure,
                                cavum_error *error) {
  const cavum_mesh *mesh = s->space->mesh;
  s->num_blocks = mesh->num_vertices + mesh->num_edges;
  s->first = cavum_alloc(s->num_blocks, sizeof *s->first);
  if (!s->first) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (!is_essential(mesh->edges[e].boundary, closure)) continue;
    s->first[mesh->num_vertices + e] = -1;
    s->first[mesh->edges[e].vertex[0]] = s->first[mesh->edges[e].vertex[1]] = -1;
  }
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (s->first[b] < 0) continue;
    s->first[b] = s->num_rows;
    s->num_rows += block_size(s, b);
  }
  if (s->num_rows > 0) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_MESH, "every boundary is magnetic: nothing is left to solve");
}

// Inserts into a short rising list; neighbours are few, so a linear search is the fastest.
static int insert(int64_t *list, int count, int64_t value) {
  int at = count;
  while (at > 0 && list[at - 1] > value) at--;
  if (at > 0 && list[at - 1] == value) return count;
  memmove(list + at + 1, list + at, (size_t)(count - at) * sizeof *list);
  list[at] = value;
  return count + 1;
}

static cavum_status build_graph(block_graph *graph, const cavum_skeleton *s, cavum_error *error) {
  const cavum_mesh *mesh = s->space->mesh;
  cavum_index blocks[BLOCKS_MOST];
  int *count = cavum_alloc(s->num_blocks, sizeof *count);
  graph->start = cavum_alloc((int64_t)s->num_blocks + 1, sizeof *graph->start);
  if (!count || !graph->start) {
    free(count);
    return cavum_fail_memory(error);
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    int n = element_blocks(blocks, mesh, e);
    for (int k = 0; k < n; k++) graph->start[blocks[k] + 1] += n;
  }
  for (cavum_index b = 0; b < s->num_blocks; b++) graph->start[b + 1] += graph->start[b];
  graph->neighbour = cavum_alloc(graph->start[s->num_blocks], sizeof *graph->neighbour);
  if (!graph->neighbour) {
    free(count);
    return cavum_fail_memory(error);
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    int n = element_blocks(blocks, mesh, e);
    for (int c = 0; c < n; c++) {
      int64_t *list = graph->neighbour + graph->start[blocks[c]];
      for (int r = 0; s->first[blocks[c]] >= 0 && r < n; r++) {
        if (s->first[blocks[r]] < 0 || blocks[r] < blocks[c]) continue;
        count[blocks[c]] = insert(list, count[blocks[c]], blocks[r]);
      }
    }
  }
  int64_t used = 0;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    int64_t from = graph->start[b];
    memmove(graph->neighbour + used, graph->neighbour + from,
            (size_t)count[b] * sizeof *graph->neighbour);
    graph->start[b] = used;
    used += count[b];
  }
  graph->start[s->num_blocks] = used;
  free(count);
  return CAVUM_OK;
}

static cavum_status expand_pattern(cavum_skeleton *s, const block_graph *graph,
                                   cavum_error *error) {
  cavum_sparse_pattern *p = &s->pattern;
  p->num_rows = s->num_rows;
  p->column_start = cavum_alloc((int64_t)s->num_rows + 1, sizeof *p->column_start);
  if (!p->column_start) return cavum_fail_memory(error);
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    int64_t length = 0;
    for (int64_t k = graph->start[b]; k < graph->start[b + 1]; k++) {
      length += block_size(s, (cavum_index)graph->neighbour[k]);
    }
    for (int c = 0; s->first[b] >= 0 && c < block_size(s, b); c++) {
      p->column_start[s->first[b] + c + 1] = p->column_start[s->first[b] + c] + length;
    }
  }
  p->row = cavum_alloc(p->column_start[s->num_rows], sizeof *p->row);
  if (!p->row) return cavum_fail_memory(error);
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    for (int c = 0; s->first[b] >= 0 && c < block_size(s, b); c++) {
      int64_t at = p->column_start[s->first[b] + c];
      for (int64_t k = graph->start[b]; k < graph->start[b + 1]; k++) {
        cavum_index neighbour = (cavum_index)graph->neighbour[k];
        for (int m = 0; m < block_size(s, neighbour); m++) p->row[at++] = s->first[neighbour] + m;
      }
    }
  }
  return CAVUM_OK;
}

// The order of the blocks, found on their quotient graph, spread over their rows.
static cavum_status order_rows(cavum_skeleton *s, const block_graph *graph, cavum_error *error) {
  cavum_sparse_pattern quotient = {s->num_blocks, graph->start, graph->neighbour};
  int64_t *blocks = cavum_alloc(s->num_blocks, sizeof *blocks), at = 0;
  s->order = cavum_alloc(s->num_rows, sizeof *s->order);
  cavum_status status = blocks && s->order ? cavum_sparse_order(blocks, &quotient, error)
                                           : cavum_fail_memory(error);
  for (cavum_index k = 0; status == CAVUM_OK && k < s->num_blocks; k++) {
    cavum_index block = (cavum_index)blocks[k];
    for (int m = 0; s->first[block] >= 0 && m < block_size(s, block); m++) {
      s->order[at++] = s->first[block] + m;
    }
  }
  free(blocks);
  return status;
}

static int32_t find_place(const cavum_skeleton *s, const block_graph *graph, cavum_index row,
                          cavum_index column) {
  if (s->first[row] < 0 || s->first[column] < 0 || row < column) return -1;
  int32_t offset = 0;
  for (int64_t k = graph->start[column]; graph->neighbour[k] != row; k++) {
    offset += block_size(s, (cavum_index)graph->neighbour[k]);
  }
  return offset;
}

static cavum_status find_places(cavum_skeleton *s, const block_graph *graph, cavum_error *error) {
  const cavum_mesh *mesh = s->space->mesh;
  s->place = cavum_alloc((int64_t)mesh->num_elements * BLOCKS_MOST * BLOCKS_MOST,
                         sizeof *s->place);
  if (!s->place) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_index blocks[BLOCKS_MOST];
    int n = element_blocks(blocks, mesh, e);
    int32_t *place = s->place + (int64_t)e * BLOCKS_MOST * BLOCKS_MOST;
    for (int r = 0; r < n; r++) {
      for (int c = 0; c < n; c++) {
        place[r * BLOCKS_MOST + c] = find_place(s, graph, blocks[r], blocks[c]);
      }
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_skeleton_create(cavum_skeleton *skeleton, const cavum_space *space,
                                   const cavum_closure *closure, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_skeleton s = {.space = space};
  block_graph graph = {NULL, NULL};
  CAVUM_TRY(number_rows(&s, closure, error));
  CAVUM_TRY(build_graph(&graph, &s, error));
  CAVUM_TRY(expand_pattern(&s, &graph, error));
  CAVUM_TRY(order_rows(&s, &graph, error));
  CAVUM_TRY(find_places(&s, &graph, error));
  *skeleton = s;
done:
  free(graph.start);
  free(graph.neighbour);
  if (status != CAVUM_OK) cavum_skeleton_clear(&s);
  return status;
}

void cavum_skeleton_clear(cavum_skeleton *skeleton) {
  if (!skeleton) return;
  free(skeleton->first);
  free(skeleton->pattern.column_start);
  free(skeleton->pattern.row);
  free(skeleton->order);
  free(skeleton->place);
  memset(skeleton, 0, sizeof *skeleton);
}

void cavum_skeleton_add(double *values, const cavum_skeleton *s, cavum_index e, const double *S,
                        int stride) {
  cavum_index blocks[BLOCKS_MOST];
  int from[BLOCKS_MOST + 1] = {0}, n = element_blocks(blocks, s->space->mesh, e);
  const int32_t *place = s->place + (int64_t)e * BLOCKS_MOST * BLOCKS_MOST;
  for (int k = 0; k < n; k++) from[k + 1] = from[k] + block_size(s, blocks[k]);
  for (int c = 0; c < n; c++) {
    for (int r = 0; r < n; r++) {
      int32_t offset = place[r * BLOCKS_MOST + c];
      if (offset < 0) continue;
      for (int j = 0; j < from[c + 1] - from[c]; j++) {
        double *to = values + s->pattern.column_start[s->first[blocks[c]] + j] + offset;
        for (int i = 0; i < from[r + 1] - from[r]; i++) {
          int row = from[r] + i, column = from[c] + j;
          to[i] += row >= column ? S[column * stride + row] : S[row * stride + column];
        }
      }
    }
  }
}

void cavum_skeleton_take(double *rows, const cavum_skeleton *s, const double *full) {
  const cavum_mesh *mesh = s->space->mesh;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (s->first[b] < 0) continue;
    int size = block_size(s, b);
    cavum_index from = b < mesh->num_vertices
                           ? b
                           : mesh->num_vertices + (b - mesh->num_vertices) * size;
    memcpy(rows + s->first[b], full + from, (size_t)size * sizeof *rows);
  }
}

void cavum_skeleton_put(double *full, const cavum_skeleton *s, const double *rows) {
  const cavum_mesh *mesh = s->space->mesh;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    int size = block_size(s, b);
    cavum_index to = b < mesh->num_vertices
                         ? b
                         : mesh->num_vertices + (b - mesh->num_vertices) * size;
    if (s->first[b] < 0) {
      memset(full + to, 0, (size_t)size * sizeof *full);
    } else {
      memcpy(full + to, rows + s->first[b], (size_t)size * sizeof *full);
    }
  }
}
