// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers the nodes of a mesh so that neighbours share those on their common edge.
#include "msh/number.h"

#include <string.h>

#include "base/base.h"
#include "element/element_map.h"

void cavum_msh_numbering_clear(cavum_msh_numbering *numbering) {
  free(numbering->points);
  free(numbering->entity);
  free(numbering->first_interior);
  free(numbering->entities);
  free(numbering->node_list);
  free(numbering->element_list);
  memset(numbering, 0, sizeof *numbering);
}

static int num_interior(int num_corners, int g) {
  return num_corners == 3 ? (g - 1) * (g - 2) / 2 : (g - 1) * (g - 1);
}

void cavum_msh_element_nodes(cavum_index *nodes, const cavum_msh_numbering *numbering,
                             const cavum_mesh *mesh, cavum_index e) {
  const cavum_element *element = &mesh->elements[e];
  int g = numbering->order, n = element->num_corners;
  cavum_index interior = numbering->first_interior[e];
  for (int j = 1; j < g; j++) {
    int row = n == 3 ? j * (2 * g + 3 - j) / 2 : j * (g + 1);
    for (int i = 1; i < (n == 3 ? g - j : g); i++) nodes[row + i] = interior++;
  }
  for (int k = 0; k < n; k++) {
    cavum_index first = mesh->num_vertices + element->edge[k] * (g - 1);
    nodes[cavum_msh_lattice_edge(n, g, k, 0)] = element->vertex[k];
    for (int m = 1; m < g; m++) {
      nodes[cavum_msh_lattice_edge(n, g, k, m)] =
          first + (element->reversed[k] ? g - 1 - m : m - 1);
    }
  }
}

// Points of one element on its lattice.
static void place_points(cavum_msh_numbering *numbering, const cavum_mesh *mesh, cavum_index e,
                         const cavum_index *nodes) {
  const cavum_element *element = &mesh->elements[e];
  int g = numbering->order, index = 0;
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i <= (element->num_corners == 3 ? g - j : g); i++, index++) {
      cavum_point *point = &numbering->points[nodes[index]];
      if (mesh->node_order == g) {
        *point = mesh->nodes[element->first_node + index];
        continue;
      }
      double x = (double)i / g, y = (double)j / g;
      if (element->num_corners == 4) {
        x = 2.0 * x - 1.0;
        y = 2.0 * y - 1.0;
      }
      cavum_map_point at = cavum_element_map_at(mesh, e, x, y);
      *point = (cavum_point){at.z, at.r};
    }
  }
}

static void assign_boundaries(cavum_msh_numbering *numbering, const cavum_mesh *mesh) {
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (edge->boundary == CAVUM_BOUNDARY_NONE) continue;
    cavum_index entity = (cavum_index)edge->boundary - 1;
    cavum_index first = mesh->num_vertices + i * (numbering->order - 1);
    numbering->entity[edge->vertex[0]] = entity;
    numbering->entity[edge->vertex[1]] = entity;
    for (int m = 0; m < numbering->order - 1; m++) numbering->entity[first + m] = entity;
  }
}

static cavum_status count_nodes(cavum_msh_numbering *numbering, const cavum_mesh *mesh,
                                cavum_error *error) {
  int g = numbering->order;
  int64_t count = mesh->num_vertices + (int64_t)mesh->num_edges * (g - 1);
  numbering->first_interior = cavum_alloc(mesh->num_elements, sizeof *numbering->first_interior);
  if (!numbering->first_interior) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < mesh->num_elements && count < INT32_MAX; e++) {
    numbering->first_interior[e] = (cavum_index)count;
    count += num_interior(mesh->elements[e].num_corners, g);
  }
  if (count >= INT32_MAX) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "order %d has more nodes than 32-bit numbers can count", g);
  }
  numbering->num_nodes = (cavum_index)count;
  return CAVUM_OK;
}

static void include_point(cavum_msh_extent *entity, const cavum_point *point) {
  entity->low.z_m = cavum_min(entity->low.z_m, point->z_m);
  entity->low.r_m = cavum_min(entity->low.r_m, point->r_m);
  entity->high.z_m = cavum_max(entity->high.z_m, point->z_m);
  entity->high.r_m = cavum_max(entity->high.r_m, point->r_m);
}

static void measure_entities(cavum_msh_numbering *numbering, const cavum_mesh *mesh) {
  cavum_msh_extent *entities = numbering->entities;
  for (cavum_index n = 0; n < numbering->num_nodes; n++) {
    entities[numbering->entity[n]].num_nodes++;
    include_point(&entities[numbering->entity[n]], &numbering->points[n]);
  }
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (edge->boundary == CAVUM_BOUNDARY_NONE) continue;
    entities[edge->boundary - 1].num_elements++;
    // Where two kinds meet the vertex belongs to one of them only.
    include_point(&entities[edge->boundary - 1], &mesh->vertices[edge->vertex[0]]);
    include_point(&entities[edge->boundary - 1], &mesh->vertices[edge->vertex[1]]);
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_msh_extent *entity = &entities[CAVUM_MSH_CURVES + mesh->elements[e].region];
    entity->num_elements++;
    entity->num_triangles += mesh->elements[e].num_corners == 3;
  }
}

// Lists nodes and elements by entity (counting sort).
static cavum_status list_by_entity(cavum_msh_numbering *numbering, const cavum_mesh *mesh,
                                   cavum_error *error) {
  cavum_index *next_node = cavum_alloc(numbering->num_entities, sizeof *next_node);
  cavum_index *next_element = cavum_alloc(numbering->num_entities, sizeof *next_element);
  bool enough = next_node && next_element;
  for (cavum_index i = CAVUM_MSH_CURVES + 1; enough && i < numbering->num_entities; i++) {
    next_element[i] = next_element[i - 1] + numbering->entities[i - 1].num_elements;
  }
  for (cavum_index i = 1; enough && i < numbering->num_entities; i++) {
    next_node[i] = next_node[i - 1] + numbering->entities[i - 1].num_nodes;
  }
  for (cavum_index n = 0; enough && n < numbering->num_nodes; n++) {
    numbering->node_list[next_node[numbering->entity[n]]++] = n;
  }
  for (cavum_index e = 0; enough && e < mesh->num_elements; e++) {
    numbering->element_list[next_element[CAVUM_MSH_CURVES + mesh->elements[e].region]++] = e;
  }
  free(next_node);
  free(next_element);
  return enough ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status get_memory(cavum_msh_numbering *numbering, const cavum_mesh *mesh,
                               cavum_error *error) {
  numbering->points = cavum_alloc(numbering->num_nodes, sizeof *numbering->points);
  numbering->entity = cavum_alloc(numbering->num_nodes, sizeof *numbering->entity);
  numbering->entities = cavum_alloc(numbering->num_entities, sizeof *numbering->entities);
  numbering->node_list = cavum_alloc(numbering->num_nodes, sizeof *numbering->node_list);
  numbering->element_list = cavum_alloc(mesh->num_elements, sizeof *numbering->element_list);
  bool enough = numbering->points && numbering->entity && numbering->entities &&
                numbering->node_list && numbering->element_list;
  for (cavum_index i = 0; enough && i < numbering->num_entities; i++) {
    numbering->entities[i].low = (cavum_point){INFINITY, INFINITY};
    numbering->entities[i].high = (cavum_point){-INFINITY, -INFINITY};
  }
  return enough ? CAVUM_OK : cavum_fail_memory(error);
}

cavum_status cavum_msh_number_nodes(cavum_msh_numbering *numbering, const cavum_mesh *mesh,
                                    int order, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index nodes[CAVUM_MSH_MOST_NODES] = {0};
  *numbering =
      (cavum_msh_numbering){.order = order, .num_entities = CAVUM_MSH_CURVES + mesh->num_regions};
  status = count_nodes(numbering, mesh, error);
  if (status == CAVUM_OK) status = get_memory(numbering, mesh, error);
  if (status != CAVUM_OK) return status;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_index entity = CAVUM_MSH_CURVES + mesh->elements[e].region;
    cavum_msh_element_nodes(nodes, numbering, mesh, e);
    place_points(numbering, mesh, e, nodes);
    for (int m = 0; m < cavum_msh_num_nodes(mesh->elements[e].num_corners, order); m++) {
      numbering->entity[nodes[m]] = entity;
      include_point(&numbering->entities[entity], &numbering->points[nodes[m]]);
    }
  }
  // Corners are the vertices themselves, not what the map makes of them.
  memcpy(numbering->points, mesh->vertices, (size_t)mesh->num_vertices * sizeof *numbering->points);
  assign_boundaries(numbering, mesh);
  measure_entities(numbering, mesh);
  return list_by_entity(numbering, mesh, error);
}
