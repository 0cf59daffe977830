// SPDX-License-Identifier: GPL-3.0-or-later
// Life of a mesh and the words for boundary kinds.
#include "cavum/mesh.h"

#include <string.h>

#include "base/base.h"

const char *cavum_boundary_name(cavum_boundary boundary) {
  switch (boundary) {
    case CAVUM_BOUNDARY_NONE:
      return "inside";
    case CAVUM_BOUNDARY_METAL:
      return "metal";
    case CAVUM_BOUNDARY_ELECTRIC:
      return "electric";
    case CAVUM_BOUNDARY_MAGNETIC:
      return "magnetic";
    case CAVUM_BOUNDARY_AXIS:
      return "axis";
    case CAVUM_BOUNDARY_SYMMETRY:
      return "symmetry";
  }
  return "unknown";
}

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
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->boundary == CAVUM_BOUNDARY_SYMMETRY) return mesh->vertices[edge->vertex[0]].z_m;
  }
  return 0.0;
}
