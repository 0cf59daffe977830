// SPDX-License-Identifier: GPL-3.0-or-later
// Edges from element corners, through a hash of the sorted vertex pair (open addressing).
#include "element/topology.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"

typedef struct edge_table {
  cavum_index *slots;  // edge number + 1, or 0
  uint64_t mask;
} edge_table;

static uint64_t hash_pair(cavum_index a, cavum_index b) {
  uint64_t key = ((uint64_t)(uint32_t)a << 32) | (uint32_t)b;
  key ^= key >> 31;
  key *= 0x9E3779B97F4A7C15ull;
  return key ^ (key >> 29);
}

static cavum_index *find_slot(const edge_table *table, const cavum_edge *edges, cavum_index a,
                              cavum_index b) {
  cavum_index low = a < b ? a : b, high = a < b ? b : a;
  uint64_t i = hash_pair(low, high) & table->mask;
  while (table->slots[i]) {
    const cavum_edge *edge = &edges[table->slots[i] - 1];
    cavum_index first = edge->vertex[0], second = edge->vertex[1];
    if ((first == a && second == b) || (first == b && second == a)) break;
    i = (i + 1) & table->mask;
  }
  return &table->slots[i];
}

static cavum_status join_edge(cavum_edge *edge, cavum_index element, int k, cavum_index from,
                              cavum_error *error) {
  if (edge->element[1] >= 0) {
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "edge between vertices %d and %d belongs to more than two elements",
                      (int)edge->vertex[0], (int)edge->vertex[1]);
  }
  if (edge->vertex[0] == from) {
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "elements %d and %d run along their common edge in the same direction: they "
                      "overlap or one is inverted",
                      (int)edge->element[0], (int)element);
  }
  edge->element[1] = element;
  edge->local[1] = (signed char)k;
  return CAVUM_OK;
}

static cavum_status add_element_edges(cavum_mesh *mesh, edge_table *table, cavum_index e,
                                      cavum_error *error) {
  cavum_element *element = &mesh->elements[e];
  for (int k = 0; k < element->num_corners; k++) {
    cavum_index a = element->vertex[k];
    cavum_index b = element->vertex[cavum_topology_next_corner(element, k)];
    cavum_index *slot = find_slot(table, mesh->edges, a, b);
    if (*slot) {
      cavum_status status = join_edge(&mesh->edges[*slot - 1], e, k, a, error);
      if (status != CAVUM_OK) return status;
    } else {
      mesh->edges[mesh->num_edges] = (cavum_edge){
          .vertex = {a, b}, .curve = -1, .element = {e, -1}, .local = {(signed char)k, -1}};
      *slot = ++mesh->num_edges;
    }
    element->edge[k] = *slot - 1;
    element->reversed[k] = mesh->edges[*slot - 1].vertex[0] != a;
  }
  return CAVUM_OK;
}

cavum_status cavum_topology_build_edges(cavum_mesh *mesh, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  edge_table table = {NULL, 0};
  int64_t most = 0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) most += mesh->elements[e].num_corners;
  uint64_t size = 16;
  while (size < 2 * (uint64_t)most) size *= 2;
  table.mask = size - 1;
  table.slots = cavum_alloc((int64_t)size, sizeof *table.slots);
  free(mesh->edges);
  mesh->edges = cavum_alloc(most, sizeof *mesh->edges);
  mesh->num_edges = 0;
  if (!table.slots || !mesh->edges) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(add_element_edges(mesh, &table, e, error));
  }
done:
  free(table.slots);
  return status;
}
