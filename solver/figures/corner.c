// SPDX-License-Identifier: GPL-3.0-or-later
// Corners of the boundary and their interior angles.
#include "figures/corner.h"

#include "base/base.h"
#include "element/element_map.h"
#include "element/topology.h"

// What a boundary edge brings to a vertex: kind, and the direction that leads away from the vertex.
typedef struct ray {
  bool present;
  cavum_boundary boundary;
  double z, r;
} ray;

static ray ray_from(const cavum_mesh *mesh, cavum_index edge, bool at_end) {
  cavum_index e = mesh->edges[edge].element[0];
  int local = mesh->edges[edge].local[0];
  double xi, eta, xi_s, eta_s, s = at_end ? 1.0 : -1.0;
  cavum_element_edge_point(&xi, &eta, &mesh->elements[e], local, s);
  cavum_element_edge_direction(&xi_s, &eta_s, &mesh->elements[e], local);
  cavum_map_point map = cavum_element_map_at(mesh, e, xi, eta);
  double z = map.z_xi * xi_s + map.z_eta * eta_s, r = map.r_xi * xi_s + map.r_eta * eta_s;
  return (ray){true, mesh->edges[edge].boundary, at_end ? -z : z, at_end ? -r : r};
}

// Interior angle, counterclockwise from the edge that leaves the vertex to the one that arrives.
static double interior_angle(const ray *leaving, const ray *arriving) {
  double angle = atan2(arriving->r, arriving->z) - atan2(leaving->r, leaving->z);
  return angle <= 0.0 ? angle + 2.0 * CAVUM_PI : angle;
}

static void collect_rays(ray *leaving, ray *arriving, const cavum_mesh *mesh) {
  for (cavum_index edge = 0; edge < mesh->num_edges; edge++) {
    if (mesh->edges[edge].element[1] >= 0) continue;
    cavum_index from, to;
    cavum_topology_boundary_ends(&from, &to, mesh, edge);
    leaving[from] = ray_from(mesh, edge, false);
    arriving[to] = ray_from(mesh, edge, true);
  }
}

cavum_status cavum_corner_list(cavum_boundary_corner **corners, cavum_index *num_corners,
                               const cavum_mesh *mesh, cavum_error *error) {
  ray *leaving = cavum_alloc(2 * (int64_t)mesh->num_vertices, sizeof *leaving);
  cavum_boundary_corner *found = cavum_alloc(mesh->num_vertices, sizeof *found);
  cavum_index count = 0;
  cavum_status status = CAVUM_OK;
  if (!leaving || !found) CAVUM_TRY(cavum_fail_memory(error));
  ray *arriving = leaving + mesh->num_vertices;
  collect_rays(leaving, arriving, mesh);
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    if (!leaving[v].present || !arriving[v].present) continue;
    found[count++] =
        (cavum_boundary_corner){.vertex = v,
                                .at = mesh->vertices[v],
                                .before = arriving[v].boundary,
                                .after = leaving[v].boundary,
                                .interior_rad = interior_angle(&leaving[v], &arriving[v])};
  }
  CAVUM_TRY(cavum_corner_add_materials(found, count, mesh, error));
  *corners = found;
  *num_corners = count;
  found = NULL;
done:
  free(leaving);
  free(found);
  return status;
}
