// SPDX-License-Identifier: GPL-3.0-or-later
// How the parts of a MSH file are joined: the outline passes each node once, no node of another
// part lies within an edge that no physical curve has, and how many parts there are.
#include "element/curve_guess.h"
#include "element/topology.h"
#include "msh/build.h"

// ---- Nodes that the outline passes twice.

// Elements that share a node of the outline but no edge there: a mesh that was refined on one side
// of a line alone, a slit whose end on the wall is one node in place of two, or parts that touch at
// a point. The field would be tied together at that node, and the outline has no order.
static cavum_status refuse_pinches(const cavum_msh_build *build) {
  const cavum_mesh *mesh = &build->mesh;
  cavum_status status = CAVUM_OK;
  bool *passed = cavum_alloc(mesh->num_vertices, sizeof *passed);
  if (!passed) return cavum_fail_memory(build->error);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    cavum_index from, to;
    if (mesh->edges[e].element[1] >= 0) continue;
    cavum_topology_boundary_ends(&from, &to, mesh, e);
    if (passed[from]) {
      CAVUM_TRY(cavum_msh_refuse(
          build,
          "elements at z = %g, r = %g share the node there but no edge; expected elements joined "
          "along whole edges, and a node for each side where a slit begins on a wall",
          mesh->vertices[from].z_m / build->source->unit_m,
          mesh->vertices[from].r_m / build->source->unit_m));
    }
    passed[from] = true;
  }
done:
  free(passed);
  return status;
}

// ---- Nodes within edges of another part.

// A vertex of the outline by its place along a slanted direction.
typedef struct outer_vertex {
  double place;
  cavum_index vertex;
} outer_vertex;

static const double SLANT = 0.3090169943749474;

static double place_of(cavum_point p) { return p.z_m + SLANT * p.r_m; }

static int compare_places(const void *left, const void *right) {
  const outer_vertex *a = left, *b = right;
  if (a->place != b->place) return a->place < b->place ? -1 : 1;
  return a->vertex < b->vertex ? -1 : a->vertex > b->vertex;
}

// The first of the list at a place or behind it.
static int64_t first_from(const outer_vertex *list, int64_t count, double place) {
  int64_t low = 0, high = count;
  while (low < high) {
    int64_t middle = low + (high - low) / 2;
    if (list[middle].place < place) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  return low;
}

// Whether a point lies on the line between two others, and not at them.
static bool is_within(cavum_point p, cavum_point a, cavum_point b, double tolerance_m) {
  double z = b.z_m - a.z_m, r = b.r_m - a.r_m, length = hypot(z, r);
  double along = ((p.z_m - a.z_m) * z + (p.r_m - a.r_m) * r) / length;
  double off = ((p.r_m - a.r_m) * z - (p.z_m - a.z_m) * r) / length;
  return fabs(off) <= tolerance_m && along > 2.0 * tolerance_m &&
         along < length - 2.0 * tolerance_m;
}

static cavum_status refuse_within(const cavum_msh_build *build, const outer_vertex *list,
                                  int64_t count, cavum_index edge, int64_t *looks) {
  const cavum_mesh *mesh = &build->mesh;
  cavum_point a = mesh->vertices[mesh->edges[edge].vertex[0]];
  cavum_point b = mesh->vertices[mesh->edges[edge].vertex[1]];
  double from = fmin(place_of(a), place_of(b)), to = fmax(place_of(a), place_of(b));
  for (int64_t i = first_from(list, count, from); i < count && list[i].place <= to; i++) {
    cavum_point p = mesh->vertices[list[i].vertex];
    if (--*looks < 0) return CAVUM_OK;
    if (!is_within(p, a, b, build->tolerance_m)) continue;
    return cavum_msh_refuse(
        build,
        "a node at z = %g, r = %g lies on an edge that is not its own; expected parts joined along "
        "whole edges, or physical curves on both sides of a slit",
        p.z_m / build->source->unit_m, p.r_m / build->source->unit_m);
  }
  return CAVUM_OK;
}

// Parts with other edges along a line, whose nodes were never joined: without physical curves there
// the line would silently become metal.
static cavum_status refuse_other_edges(const cavum_msh_build *build, const bool *open) {
  const cavum_mesh *mesh = &build->mesh;
  cavum_status status = CAVUM_OK;
  int64_t count = 0, looks = 20000000;  // so that a hostile file cannot make this quadratic
  outer_vertex *list = cavum_alloc(mesh->num_edges, sizeof *list);
  if (!list) return cavum_fail_memory(build->error);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].element[1] >= 0) continue;
    cavum_index vertex = mesh->edges[e].vertex[0];
    list[count++] = (outer_vertex){place_of(mesh->vertices[vertex]), vertex};
  }
  qsort(list, (size_t)count, sizeof *list, compare_places);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (!open[e] || !cavum_curve_side_is_straight(mesh, e)) continue;
    CAVUM_TRY(refuse_within(build, list, count, e, &looks));
  }
done:
  free(list);
  return status;
}

cavum_status cavum_msh_build_joints(const cavum_msh_build *build, const bool *open) {
  cavum_status status = refuse_pinches(build);
  return status == CAVUM_OK ? refuse_other_edges(build, open) : status;
}

// ---- Parts.

static cavum_index root_of(cavum_index *parent, cavum_index e) {
  while (parent[e] != e) {
    parent[e] = parent[parent[e]];
    e = parent[e];
  }
  return e;
}

cavum_status cavum_msh_build_count_parts(cavum_index *parts, const cavum_msh_build *build) {
  const cavum_mesh *mesh = &build->mesh;
  cavum_index *parent = cavum_alloc(mesh->num_elements, sizeof *parent);
  if (!parent) return cavum_fail_memory(build->error);
  for (cavum_index e = 0; e < mesh->num_elements; e++) parent[e] = e;
  *parts = mesh->num_elements;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    if (mesh->edges[i].element[1] < 0) continue;
    cavum_index a = root_of(parent, mesh->edges[i].element[0]);
    cavum_index b = root_of(parent, mesh->edges[i].element[1]);
    if (a == b) continue;
    parent[a < b ? b : a] = a < b ? a : b;
    --*parts;
  }
  free(parent);
  return CAVUM_OK;
}
