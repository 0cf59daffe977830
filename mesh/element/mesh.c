// SPDX-License-Identifier: GPL-3.0-or-later
// Life of a mesh: copies, comparison, release.
#include "element/mesh.h"

#include <string.h>

#include "base/base.h"

void cavum_mesh_clear(cavum_mesh *mesh) {
  if (!mesh) return;
  free(mesh->vertices);
  free(mesh->edges);
  free(mesh->elements);
  free(mesh->curves);
  free(mesh->nodes);
  for (cavum_index i = 0; mesh->regions && i < mesh->num_regions; i++) free(mesh->regions[i].name);
  free(mesh->regions);
  memset(mesh, 0, sizeof *mesh);
}

double cavum_mesh_mirror_plane_m(const cavum_mesh *mesh) {
  for (cavum_index e = 0; mesh && e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->boundary == CAVUM_BOUNDARY_SYMMETRY) return mesh->vertices[edge->vertex[0]].z_m;
  }
  return 0.0;
}

static void *copy_array(const void *from, int64_t count, size_t size) {
  void *to = cavum_alloc(count, size);
  if (to && count > 0) memcpy(to, from, (size_t)count * size);
  return to;
}

cavum_status cavum_mesh_copy(cavum_mesh *copy, const cavum_mesh *mesh, cavum_error *error) {
  cavum_mesh made = *mesh;
  made.vertices = copy_array(mesh->vertices, mesh->num_vertices, sizeof *mesh->vertices);
  made.edges = copy_array(mesh->edges, mesh->num_edges, sizeof *mesh->edges);
  made.elements = copy_array(mesh->elements, mesh->num_elements, sizeof *mesh->elements);
  made.curves = copy_array(mesh->curves, mesh->num_curves, sizeof *mesh->curves);
  made.nodes = mesh->nodes ? copy_array(mesh->nodes, mesh->num_nodes, sizeof *mesh->nodes) : NULL;
  made.regions = cavum_alloc(mesh->num_regions, sizeof *mesh->regions);
  bool have = made.vertices && made.edges && made.elements && made.curves && made.regions &&
              (made.nodes || !mesh->nodes);
  for (cavum_index i = 0; have && i < mesh->num_regions; i++) {
    made.regions[i] = mesh->regions[i];
    made.regions[i].name = cavum_copy_text(mesh->regions[i].name);
    have = made.regions[i].name != NULL;
  }
  if (!have) {
    if (!made.regions) made.num_regions = 0;
    cavum_mesh_clear(&made);
    return cavum_fail_memory(error);
  }
  *copy = made;
  return CAVUM_OK;
}

static bool same_edge(const cavum_edge *a, const cavum_edge *b) {
  return a->vertex[0] == b->vertex[0] && a->vertex[1] == b->vertex[1] &&
         a->boundary == b->boundary && a->element[0] == b->element[0] &&
         a->element[1] == b->element[1] && a->local[0] == b->local[0];
}

static bool same_element(const cavum_element *a, const cavum_element *b) {
  return a->num_corners == b->num_corners && a->region == b->region &&
         memcmp(a->vertex, b->vertex, (size_t)a->num_corners * sizeof *a->vertex) == 0 &&
         memcmp(a->edge, b->edge, (size_t)a->num_corners * sizeof *a->edge) == 0 &&
         memcmp(a->reversed, b->reversed, (size_t)a->num_corners) == 0;
}

bool cavum_mesh_same_topology(const cavum_mesh *a, const cavum_mesh *b) {
  if (a->num_vertices != b->num_vertices || a->num_edges != b->num_edges ||
      a->num_elements != b->num_elements || a->node_order != b->node_order ||
      a->num_regions != b->num_regions) {
    return false;
  }
  for (cavum_index e = 0; e < a->num_edges; e++) {
    if (!same_edge(&a->edges[e], &b->edges[e])) return false;
  }
  for (cavum_index e = 0; e < a->num_elements; e++) {
    if (!same_element(&a->elements[e], &b->elements[e])) return false;
  }
  return true;
}
