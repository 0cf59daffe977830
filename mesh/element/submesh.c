// SPDX-License-Identifier: GPL-3.0-or-later
// Some elements of a mesh as a mesh of their own.
#include "element/submesh.h"

#include <string.h>

#include "base/base.h"

// Place of a number in a list, at its end when it is new.
static cavum_index place_of(cavum_index *list, cavum_index *count, cavum_index number) {
  cavum_index i = 0;
  while (i < *count && list[i] != number) i++;
  if (i == *count) list[(*count)++] = number;
  return i;
}

// Where the numbers of the part come from.
typedef struct origin {
  cavum_index *vertex, *edge;  // owned, [4 elements]
} origin;

static void take_elements(cavum_mesh *part, origin *from, const cavum_mesh *mesh,
                          const cavum_index *element) {
  for (cavum_index e = 0; e < part->num_elements; e++) {
    part->elements[e] = mesh->elements[element[e]];
    cavum_element *taken = &part->elements[e];
    for (int k = 0; k < taken->num_corners; k++) {
      taken->vertex[k] = place_of(from->vertex, &part->num_vertices, taken->vertex[k]);
      taken->edge[k] = place_of(from->edge, &part->num_edges, taken->edge[k]);
    }
  }
}

// The elements of an edge are named again by the part's own.
static void join_edges(cavum_mesh *part) {
  for (cavum_index i = 0; i < part->num_edges; i++) {
    part->edges[i].element[0] = part->edges[i].element[1] = -1;
  }
  for (cavum_index e = 0; e < part->num_elements; e++) {
    for (int k = 0; k < part->elements[e].num_corners; k++) {
      cavum_edge *edge = &part->edges[part->elements[e].edge[k]];
      int side = edge->element[0] < 0 ? 0 : 1;
      edge->element[side] = e;
      edge->local[side] = (signed char)k;
    }
  }
}

static void take_edges(cavum_mesh *part, const origin *from, const cavum_mesh *mesh) {
  for (cavum_index i = 0; i < part->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[from->edge[i]];
    part->edges[i] = *edge;
    for (int k = 0; k < 2; k++) {
      part->edges[i].vertex[k] = place_of(from->vertex, &part->num_vertices, edge->vertex[k]);
    }
  }
  join_edges(part);
  for (cavum_index i = 0; i < part->num_edges; i++) {
    cavum_edge *edge = &part->edges[i];
    if (edge->element[1] < 0 && edge->boundary == CAVUM_BOUNDARY_NONE) {
      edge->boundary = CAVUM_BOUNDARY_MAGNETIC;
    }
  }
}

cavum_status cavum_submesh_create(cavum_mesh *part, const cavum_mesh *mesh,
                                  const cavum_index *element, cavum_index count,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (!CAVUM_HOLDS(mesh->node_order == 0))
    return cavum_fail_internal(error, "parts are of meshes without nodes");
  cavum_mesh made = {.num_elements = count,
                     .num_curves = mesh->num_curves,
                     .curves = mesh->curves,
                     .num_regions = mesh->num_regions,
                     .regions = mesh->regions};
  origin from = {cavum_alloc(4 * (int64_t)count, sizeof *from.vertex),
                 cavum_alloc(4 * (int64_t)count, sizeof *from.edge)};
  made.elements = cavum_alloc(count, sizeof *made.elements);
  if (!from.vertex || !from.edge || !made.elements) CAVUM_TRY(cavum_fail_memory(error));
  take_elements(&made, &from, mesh, element);
  made.vertices = cavum_alloc(made.num_vertices, sizeof *made.vertices);
  made.edges = cavum_alloc(made.num_edges, sizeof *made.edges);
  if (!made.vertices || !made.edges) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < made.num_vertices; i++) {
    made.vertices[i] = mesh->vertices[from.vertex[i]];
  }
  take_edges(&made, &from, mesh);
  *part = made;
done:
  free(from.vertex);
  free(from.edge);
  if (status != CAVUM_OK) cavum_submesh_clear(&made);
  return status;
}

void cavum_submesh_clear(cavum_mesh *part) {
  if (!part) return;
  free(part->vertices);
  free(part->edges);
  free(part->elements);
  memset(part, 0, sizeof *part);
}
