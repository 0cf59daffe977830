// SPDX-License-Identifier: GPL-3.0-or-later
// Elements of a MSH file: nodes on the lattice, a positive Jacobian everywhere, edges that fit.
#include <string.h>

#include "base/stop.h"
#include "element/mesh_quality.h"
#include "element/topology.h"
#include "msh/build.h"

// det J below this fraction of its largest value counts as zero: the element is flat at a point.
static const double FLAT = 1e-10;

// The orders of nodes in the file, by number of corners.
typedef struct lattice_table {
  int of[5][CAVUM_MSH_MOST_NODES];
} lattice_table;

// Mirrors an element: corner 0 stays, corners 1 and the last change places, xi and eta too.
static void mirror_element(cavum_mesh *mesh, cavum_element *element) {
  int g = mesh->node_order, last = element->num_corners - 1;
  cavum_point *nodes = &mesh->nodes[element->first_node];
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i < j && i + j <= (last == 2 ? g : 2 * g); i++) {
      int a = last == 2 ? j * (2 * g + 3 - j) / 2 + i : j * (g + 1) + i;
      int b = last == 2 ? i * (2 * g + 3 - i) / 2 + j : i * (g + 1) + j;
      cavum_point swapped = nodes[a];
      nodes[a] = nodes[b];
      nodes[b] = swapped;
    }
  }
  cavum_index vertex = element->vertex[1];
  element->vertex[1] = element->vertex[last];
  element->vertex[last] = vertex;
}

static cavum_status fill_element(cavum_msh_build *build, const cavum_msh_element *face,
                                 cavum_element *element, const lattice_table *lattices) {
  cavum_mesh *mesh = &build->mesh;
  const int64_t *from = &build->raw->connectivity[face->first];
  const int *lattice = lattices->of[face->num_corners];
  for (int m = 0; m < face->num_nodes; m++) {
    mesh->nodes[element->first_node + lattice[m]] = build->points[from[m]];
  }
  if (!face->complete) {
    cavum_msh_complete(&mesh->nodes[element->first_node], face->num_corners, face->order);
  }
  for (int k = 0; k < face->num_corners; k++) element->vertex[k] = build->vertex[from[k]];
  double smallest, largest;
  cavum_mesh_quality_jacobian_range(&smallest, &largest, mesh,
                                    (cavum_index)(element - mesh->elements));
  if (largest <= 0.0) {
    double other = -smallest;
    smallest = -largest;
    largest = other;
    mirror_element(mesh, element);
  }
  if (smallest > FLAT * largest) return CAVUM_OK;
  return cavum_msh_refuse(
      build,
      "element %lld is folded or flat: its Jacobian falls to %.2g of its largest "
      "value",
      (long long)face->tag, largest > 0.0 ? smallest / largest : 0.0);
}

static cavum_status fill_elements(cavum_msh_build *build) {
  cavum_mesh *mesh = &build->mesh;
  const cavum_msh_raw *raw = build->raw;
  lattice_table lattices;
  for (int n = 3; n <= 4; n++) cavum_msh_lattice(lattices.of[n], n, mesh->node_order);
  for (int64_t f = 0; f < raw->num_faces; f++) {
    if (build->region[f] == -2) continue;
    if (cavum_stop_asked_at(f)) return cavum_stop_check(build->error);
    const cavum_msh_element *face = &raw->faces[f];
    cavum_element *element = &mesh->elements[mesh->num_elements];
    *element = (cavum_element){.num_corners = face->num_corners,
                               .region = build->region[f],
                               .first_node = mesh->num_nodes};
    build->face[mesh->num_elements++] = (cavum_index)f;
    mesh->num_nodes += cavum_msh_num_nodes(face->num_corners, face->order);
    cavum_status status = fill_element(build, face, element, &lattices);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// A side of an element, for finding sides that cannot be neighbours.
typedef struct side {
  cavum_index low, high, element;
  bool forward;  // runs from low to high
} side;

static int compare_sides(const void *left, const void *right) {
  const side *a = left, *b = right;
  if (a->low != b->low) return a->low < b->low ? -1 : 1;
  if (a->high != b->high) return a->high < b->high ? -1 : 1;
  return a->element < b->element ? -1 : a->element > b->element;
}

// Says in the words of the file why the elements do not fit together.
static cavum_status explain_misfit(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &build->mesh;
  int64_t count = 0;
  side *sides = cavum_alloc(4 * (int64_t)mesh->num_elements, sizeof *sides);
  if (!sides) CAVUM_TRY(cavum_fail_memory(build->error));
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    for (int k = 0; k < mesh->elements[e].num_corners; k++) {
      cavum_index a = mesh->elements[e].vertex[k];
      cavum_index b = mesh->elements[e].vertex[cavum_topology_next_corner(&mesh->elements[e], k)];
      sides[count++] = (side){a < b ? a : b, a < b ? b : a, e, a < b};
    }
  }
  qsort(sides, (size_t)count, sizeof *sides, compare_sides);
  for (int64_t i = 1; i < count; i++) {
    const side *a = &sides[i - 1], *b = &sides[i];
    bool same = a->low == b->low && a->high == b->high;
    bool third = i + 1 < count && same && b->low == b[1].low && b->high == b[1].high;
    if (same && (a->forward == b->forward || third)) {
      CAVUM_TRY(cavum_msh_refuse(
          build,
          "elements %lld and %lld%s share an edge but overlap: one is folded over or twice there",
          (long long)build->raw->faces[build->face[a->element]].tag,
          (long long)build->raw->faces[build->face[b->element]].tag, third ? " and another" : ""));
    }
  }
  CAVUM_TRY(cavum_msh_refuse(build, "elements do not fit together"));
done:
  free(sides);
  return status;
}

// Nodes inside a common edge must be those of both elements.
static cavum_status check_edge_nodes(const cavum_msh_build *build, const cavum_edge *edge) {
  const cavum_mesh *mesh = &build->mesh;
  int g = mesh->node_order;
  const cavum_element *a = &mesh->elements[edge->element[0]],
                      *b = &mesh->elements[edge->element[1]];
  for (int m = 1; m < g; m++) {
    const cavum_point *p =
        &mesh->nodes[a->first_node + cavum_msh_lattice_edge(a->num_corners, g, edge->local[0], m)];
    const cavum_point *q =
        &mesh->nodes[b->first_node +
                     cavum_msh_lattice_edge(b->num_corners, g, edge->local[1], g - m)];
    if (fabs(p->z_m - q->z_m) + fabs(p->r_m - q->r_m) > build->tolerance_m) {
      return cavum_msh_refuse(build,
                              "elements %lld and %lld have different nodes on their common edge",
                              (long long)build->raw->faces[build->face[edge->element[0]]].tag,
                              (long long)build->raw->faces[build->face[edge->element[1]]].tag);
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_msh_build_elements(cavum_msh_build *build) {
  cavum_status status = CAVUM_OK;
  cavum_mesh *mesh = &build->mesh;
  const cavum_msh_raw *raw = build->raw;
  int64_t num_nodes = 0;
  for (int64_t f = 0; f < raw->num_faces; f++) {
    num_nodes += cavum_msh_num_nodes(raw->faces[f].num_corners, mesh->node_order);
  }
  mesh->elements = cavum_alloc(raw->num_faces, sizeof *mesh->elements);
  mesh->nodes = cavum_alloc(num_nodes, sizeof *mesh->nodes);
  build->face = cavum_alloc(raw->num_faces, sizeof *build->face);
  if (!mesh->elements || !mesh->nodes || !build->face) return cavum_fail_memory(build->error);
  status = fill_elements(build);
  if (status != CAVUM_OK) return status;
  status = cavum_topology_build_edges(mesh, build->error);
  if (status == CAVUM_ERR_MESH) status = explain_misfit(build);
  if (status != CAVUM_OK) return status;
  for (cavum_index i = 0; mesh->node_order > 1 && i < mesh->num_edges; i++) {
    if (cavum_stop_asked_at(i)) return cavum_stop_check(build->error);
    if (mesh->edges[i].element[1] >= 0) {
      status = check_edge_nodes(build, &mesh->edges[i]);
      if (status != CAVUM_OK) return status;
    }
  }
  return status;
}
