// SPDX-License-Identifier: GPL-3.0-or-later
// Corners of the boundary at which materials of different permittivity meet: the sectors about
// them, from the edge that leaves the corner counterclockwise to the one that arrives. And corners
// of materials inside, with the sectors once around.
#include "base/base.h"
#include "base/units.h"
#include "element/curve_guess.h"
#include "element/element_map.h"
#include "element/sector_exponent.h"
#include "element/topology.h"
#include "figures/corner.h"

// Elements about one vertex; with more than these the materials there are left out.
enum { ABOUT_MOST = 64 };

typedef struct about {
  int count;
  double start_rad[ABOUT_MOST];  // from the edge that leaves the corner
  cavum_sector sectors[ABOUT_MOST];
} about;

static double eps_of(const cavum_mesh *mesh, cavum_index element) {
  return mesh->regions[mesh->elements[element].region].eps_r;
}

// Direction of local edge k of an element at its start or end, along the edge.
static cavum_point direction_at(const cavum_mesh *mesh, cavum_index element, int k, bool at_end) {
  cavum_edge_position at = cavum_element_edge_at(mesh, element, k, at_end ? 1.0 : -1.0);
  return (cavum_point){at.z_x, at.r_x};
}

// From one direction counterclockwise to another, [0, 2 pi).
static double angle_between(cavum_point from, cavum_point to) {
  const double rounding = 1e-9;
  double angle = atan2(to.r_m, to.z_m) - atan2(from.r_m, from.z_m);
  if (angle < -rounding) angle += 2.0 * CAVUM_PI;
  return cavum_max(0.0, angle);
}

static void put_in_order(about *list, double start_rad, cavum_sector sector) {
  int k = list->count++;
  for (; k > 0 && list->start_rad[k - 1] > start_rad; k--) {
    list->start_rad[k] = list->start_rad[k - 1];
    list->sectors[k] = list->sectors[k - 1];
  }
  list->start_rad[k] = start_rad;
  list->sectors[k] = sector;
}

static void collect(about *list, cavum_index vertex, cavum_point leaving, const cavum_mesh *mesh) {
  list->count = 0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    for (int k = 0; k < element->num_corners && list->count < ABOUT_MOST; k++) {
      if (element->vertex[k] != vertex) continue;
      cavum_point first = direction_at(mesh, e, k, false);
      cavum_point last =
          direction_at(mesh, e, (k + element->num_corners - 1) % element->num_corners, true);
      last = (cavum_point){-last.z_m, -last.r_m};
      put_in_order(list, angle_between(leaving, first),
                   (cavum_sector){angle_between(first, last), eps_of(mesh, e)});
    }
  }
}

// Neighbours of one material become one sector.
static void merge(about *list) {
  int count = 0;
  for (int i = 0; i < list->count; i++) {
    if (count > 0 && list->sectors[count - 1].eps_r == list->sectors[i].eps_r) {
      list->sectors[count - 1].angle_rad += list->sectors[i].angle_rad;
    } else {
      list->sectors[count++] = list->sectors[i];
    }
  }
  list->count = count;
}

static void reverse(about *list) {
  for (int i = 0, k = list->count - 1; i < k; i++, k--) {
    cavum_sector keep = list->sectors[i];
    list->sectors[i] = list->sectors[k];
    list->sectors[k] = keep;
  }
}

static void set_exponents(cavum_boundary_corner *c, about *list) {
  bool axis_before = c->before == CAVUM_BOUNDARY_AXIS, axis_after = c->after == CAVUM_BOUNDARY_AXIS;
  if (axis_before && !axis_after) reverse(list);
  for (int i = 0; i < 4; i++) {
    bool before = i / 2, after = i % 2;
    double *exponent = &c->exponent[before][after];
    if (!axis_before && !axis_after) {
      *exponent = cavum_sector_corner_exponent(list->sectors, list->count, before, after);
      continue;
    }
    cavum_sector_end end = before || after ? CAVUM_SECTOR_END_MAGNETIC : CAVUM_SECTOR_END_METAL;
    if (axis_before && axis_after) end = CAVUM_SECTOR_END_AXIS;
    *exponent = cavum_sector_tip_exponent(list->sectors, list->count, end);
  }
}

static bool is_interface(const cavum_mesh *mesh, cavum_index edge, cavum_index vertex) {
  const cavum_edge *e = &mesh->edges[edge];
  return (e->vertex[0] == vertex || e->vertex[1] == vertex) && e->element[1] >= 0 &&
         eps_of(mesh, e->element[0]) != eps_of(mesh, e->element[1]);
}

// Direction of an edge at a vertex of it, away from there.
static cavum_point away_from(const cavum_mesh *mesh, cavum_index edge, cavum_index vertex) {
  const cavum_edge *e = &mesh->edges[edge];
  int local = e->local[0];
  bool at_end = mesh->elements[e->element[0]].vertex[local] != vertex;
  cavum_point along = direction_at(mesh, e->element[0], local, at_end);
  return at_end ? (cavum_point){-along.z_m, -along.r_m} : along;
}

static double turn_between(cavum_point a, cavum_point b) {
  return fabs(atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m));
}

// How far a side between materials turns along its first edge and to the next one. A straight edge
// that nothing smooth follows may stand for any curve.
static double turn_of(const cavum_mesh *mesh, cavum_index edge, cavum_index vertex) {
  const cavum_edge *e = &mesh->edges[edge];
  cavum_index far = e->vertex[0] == vertex ? e->vertex[1] : e->vertex[0], next = -1;
  cavum_point back = away_from(mesh, edge, far), onward = {-back.z_m, -back.r_m};
  double along = turn_between(away_from(mesh, edge, vertex), onward);
  int count = 0;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    if (i == edge || !is_interface(mesh, i, far)) continue;
    next = i;
    count++;
  }
  double turn = count == 1 ? turn_between(onward, away_from(mesh, next, far)) : HUGE_VAL;
  if (turn <= CAVUM_CURVE_TURN_MOST_RAD) return along + turn;
  return mesh->node_order == 1 ? HUGE_VAL : along;
}

static void set_corner(cavum_boundary_corner *c, cavum_point leaving, const cavum_mesh *mesh) {
  about list;
  collect(&list, c->vertex, leaving, mesh);
  if (list.count >= ABOUT_MOST) return;
  merge(&list);
  c->several_materials = true;
  set_exponents(c, &list);
  c->turn_rad = 0.0;
  for (cavum_index edge = 0; edge < mesh->num_edges; edge++) {
    if (!is_interface(mesh, edge, c->vertex)) continue;
    c->turn_rad = cavum_max(c->turn_rad, turn_of(mesh, edge, c->vertex));
  }
}

static bool is_uniform(const cavum_mesh *mesh) {
  for (cavum_index i = 1; i < mesh->num_regions; i++) {
    if (mesh->regions[i].eps_r != mesh->regions[0].eps_r) return false;
  }
  return true;
}

// What a vertex has met of the elements around it.
typedef struct meeting {
  double eps_r;         // of the first, 0 before
  bool differs;         // another has another one
  cavum_index leaving;  // the boundary edge that starts here
} meeting;

static void meet_all(meeting *at, const cavum_mesh *mesh) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    for (int k = 0; k < mesh->elements[e].num_corners; k++) {
      meeting *here = &at[mesh->elements[e].vertex[k]];
      if (here->eps_r == 0.0) here->eps_r = eps_of(mesh, e);
      if (here->eps_r != eps_of(mesh, e)) here->differs = true;
    }
  }
  for (cavum_index edge = 0; edge < mesh->num_edges; edge++) {
    cavum_index from, to;
    if (mesh->edges[edge].element[1] >= 0) continue;
    cavum_topology_boundary_ends(&from, &to, mesh, edge);
    at[from].leaving = edge;
  }
}

cavum_status cavum_corner_add_materials(cavum_boundary_corner *corners, cavum_index num_corners,
                                        const cavum_mesh *mesh, cavum_error *error) {
  if (is_uniform(mesh)) return CAVUM_OK;
  meeting *at = cavum_alloc(mesh->num_vertices, sizeof *at);
  if (!at) return cavum_fail_memory(error);
  meet_all(at, mesh);
  for (cavum_index i = 0; i < num_corners; i++) {
    const meeting *here = &at[corners[i].vertex];
    if (!here->differs) continue;
    set_corner(&corners[i], away_from(mesh, here->leaving, corners[i].vertex), mesh);
  }
  free(at);
  return CAVUM_OK;
}

// The sides between materials that meet at a vertex.
typedef struct inner_vertex {
  int count;
  cavum_point away[2];  // directions of the first two
  bool is_outer;        // it lies on the outline
} inner_vertex;

static void find_sides(inner_vertex *at, const cavum_mesh *mesh) {
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    for (int end = 0; end < 2; end++) {
      inner_vertex *here = &at[edge->vertex[end]];
      if (edge->element[1] < 0) here->is_outer = true;
      if (!is_interface(mesh, i, edge->vertex[end])) continue;
      if (here->count < 2) here->away[here->count] = away_from(mesh, i, edge->vertex[end]);
      here->count++;
    }
  }
}

// Whether sides meet at a vertex inside other than as two facets of one curve.
static bool is_inner_corner(const inner_vertex *here, const cavum_mesh *mesh) {
  const double facet_rad = cavum_from_unit(mesh->node_order == 1 ? 30.0 : 10.0, CAVUM_UNIT_DEGREE);
  if (here->is_outer || here->count == 0) return false;
  cavum_point onward = {-here->away[0].z_m, -here->away[0].r_m};
  return here->count != 2 || turn_between(onward, here->away[1]) > facet_rad;
}

cavum_status cavum_corner_inner_exponents(double *exponent, const cavum_mesh *mesh,
                                          cavum_error *error) {
  for (cavum_index v = 0; v < mesh->num_vertices; v++) exponent[v] = 1.0;
  if (is_uniform(mesh)) return CAVUM_OK;
  inner_vertex *at = cavum_alloc(mesh->num_vertices, sizeof *at);
  if (!at) return cavum_fail_memory(error);
  find_sides(at, mesh);
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    about list;
    if (!is_inner_corner(&at[v], mesh)) continue;
    collect(&list, v, at[v].away[0], mesh);
    if (list.count >= ABOUT_MOST) continue;
    merge(&list);
    exponent[v] = cavum_sector_ring_exponent(list.sectors, list.count);
  }
  free(at);
  return CAVUM_OK;
}

cavum_status cavum_corner_inner_exponent(double *exponent, const cavum_mesh *mesh,
                                         cavum_error *error) {
  double weakest = 1.0;
  if (!is_uniform(mesh)) {
    double *at = cavum_alloc(mesh->num_vertices, sizeof *at);
    if (!at) return cavum_fail_memory(error);
    cavum_status status = cavum_corner_inner_exponents(at, mesh, error);
    for (cavum_index v = 0; status == CAVUM_OK && v < mesh->num_vertices; v++) {
      weakest = cavum_min(weakest, at[v]);
    }
    free(at);
    if (status != CAVUM_OK) return status;
  }
  *exponent = weakest;
  return CAVUM_OK;
}
