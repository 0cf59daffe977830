// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: any bytes as a MSH file. A mesh that is accepted must be sound: indices in range,
// positive Jacobians, and it must survive being written and measured.
//
//     build/fuzz/tests/fuzz_msh -max_total_time=120 CORPUS tests/msh/data
#include "base/base.h"
#include "element/topology.h"
#include "msh/read.h"
#include "msh/type.h"

static void check_mesh(const cavum_mesh *mesh) {
  CAVUM_ASSERT(mesh->num_elements > 0 && mesh->num_regions > 0);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    CAVUM_ASSERT(element->region >= 0 && element->region < mesh->num_regions);
    CAVUM_ASSERT(element->first_node +
                     cavum_msh_num_nodes(element->num_corners, mesh->node_order) <=
                 mesh->num_nodes);
    for (int k = 0; k < element->num_corners; k++) {
      CAVUM_ASSERT(element->vertex[k] >= 0 && element->vertex[k] < mesh->num_vertices);
      const cavum_edge *edge = &mesh->edges[element->edge[k]];
      CAVUM_ASSERT(edge->vertex[(int)element->reversed[k]] == element->vertex[k]);
    }
  }
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    CAVUM_ASSERT((mesh->edges[i].boundary == CAVUM_BOUNDARY_NONE) ==
                 (mesh->edges[i].element[1] >= 0));
  }
  cavum_mesh_quality quality = cavum_mesh_measure_quality(mesh);
  CAVUM_ASSERT(quality.smallest_scaled_jacobian > 0.0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  cavum_region regions[2] = {{"vacuum", 1.0, 1.0}, {"ceramic", 9.8, 1.0}};
  cavum_boundary_name_map names[1] = {{"beam line", CAVUM_BOUNDARY_AXIS}};
  cavum_mesh_source source = {.path = "fuzz.msh",
                              .unit_m = 1e-3,
                              .axis = (char)('x' + (size > 0 ? data[size - 1] : 0) % 3),
                              .num_regions = size % 2 == 0 ? 2 : 0,
                              .regions = regions,
                              .num_boundaries = 1,
                              .boundaries = names};
  cavum_mesh mesh;
  cavum_mesh_notes notes;
  cavum_error error;
  if (cavum_msh_read_memory(&mesh, &notes, &source, (const char *)data, size, &error) == CAVUM_OK) {
    check_mesh(&mesh);
    cavum_mesh_clear(&mesh);
  }
  return 0;
}
