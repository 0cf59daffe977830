// SPDX-License-Identifier: GPL-3.0-or-later
// Kinks of the wall: a curved wall that a mesh renders by straight sides, or badly, turns a little
// at every vertex. The largest such turn is found and put into words with what it costs.
#include <stdio.h>

#include "base/units.h"
#include "element/curve_guess.h"
#include "element/element_map.h"
#include "msh/build.h"

// Turns above are corners of the cavity; turns below are rounding of straight walls.
static const double CORNER_RAD = CAVUM_PI / 6.0, ROUNDING_RAD = 1e-6;
// But several turns in a row to the same side, none less than a part of the next, are a coarse
// curve: three turns of up to 60 degrees at least.
static const double COARSE_RAD = CAVUM_CURVE_TURN_MOST_RAD, ALIKE = 0.5;
enum { COARSE_RUN = 3 };
// Facets of a curve are not unlike by more than this.
static const double FACETS_ALIKE = 3.0;
// Sides of order 2 and more meet with small turns however fine the mesh; smaller ones than a
// milliradian are not worth a word.
static const double CURVED_RAD = 1e-3;

// What meets at a vertex of the metal wall: the edge that ends and the edge that begins there.
typedef struct wall_vertex {
  cavum_index in, out;  // edge + 1; 0: none yet; -1: several
} wall_vertex;

// Tangent of a boundary edge, in the sense of its element, at its start (s = -1) or end (s = 1).
static cavum_point wall_tangent(const cavum_mesh *mesh, const cavum_edge *edge, double s) {
  double xi, eta, xi_s, eta_s;
  const cavum_element *element = &mesh->elements[edge->element[0]];
  cavum_element_edge_point(&xi, &eta, element, edge->local[0], s);
  cavum_element_edge_direction(&xi_s, &eta_s, element, edge->local[0]);
  cavum_map_point at = cavum_element_map_at(mesh, edge->element[0], xi, eta);
  return (cavum_point){at.z_xi * xi_s + at.z_eta * eta_s, at.r_xi * xi_s + at.r_eta * eta_s};
}

static double turn_between(const cavum_mesh *mesh, const wall_vertex *vertex) {
  cavum_point a = wall_tangent(mesh, &mesh->edges[vertex->in - 1], 1.0);
  cavum_point b = wall_tangent(mesh, &mesh->edges[vertex->out - 1], -1.0);
  return atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m);
}

static double chord_length(const cavum_mesh *mesh, cavum_index edge) {
  const cavum_point *a = &mesh->vertices[mesh->edges[edge].vertex[0]];
  const cavum_point *b = &mesh->vertices[mesh->edges[edge].vertex[1]];
  return hypot(b->z_m - a->z_m, b->r_m - a->r_m);
}

static bool is_between_two(const wall_vertex *vertex) { return vertex->in > 0 && vertex->out > 0; }

// A piece of wall between two kinks: one side of the mesh or several.
typedef struct wall_facet {
  cavum_index vertex;  // where it ends
  int num_sides;
  double length_m;
  bool straight;
} wall_facet;

// The facet that begins at a kink, in one direction.
static wall_facet facet_from(const cavum_mesh *mesh, const wall_vertex *at, cavum_index vertex,
                             bool forwards) {
  wall_facet facet = {.vertex = vertex, .straight = true};
  do {
    cavum_index edge = (forwards ? at[facet.vertex].out : at[facet.vertex].in) - 1;
    facet.length_m += chord_length(mesh, edge);
    facet.straight = facet.straight && cavum_curve_side_is_straight(mesh, edge);
    facet.num_sides++;
    facet.vertex = mesh->edges[edge].vertex[forwards ? 1 : 0];
  } while (is_between_two(&at[facet.vertex]) &&
           fabs(turn_between(mesh, &at[facet.vertex])) <= ROUNDING_RAD);
  return facet;
}

// Sides of order 1 are straight.
static bool is_between_straight_sides(const cavum_mesh *mesh, const wall_vertex *vertex) {
  return cavum_curve_side_is_straight(mesh, vertex->in - 1) &&
         cavum_curve_side_is_straight(mesh, vertex->out - 1);
}

// How many kinks in a row, away from one and in one direction, turn like it.
static int run_from(const cavum_mesh *mesh, const wall_vertex *at, cavum_index vertex,
                    bool forwards) {
  double turn = turn_between(mesh, &at[vertex]);
  int count = 0;
  while (count < COARSE_RUN) {
    wall_facet facet = facet_from(mesh, at, vertex, forwards);
    vertex = facet.vertex;
    if (!facet.straight || !is_between_two(&at[vertex])) return count;
    double next = turn_between(mesh, &at[vertex]);
    bool alike = next * turn > 0.0 && fabs(next) >= ALIKE * fabs(turn) &&
                 fabs(turn) >= ALIKE * fabs(next) && fabs(next) < COARSE_RAD;
    if (!alike) return count;
    turn = next;
    count++;
  }
  return count;
}

// Curved sides turn by far less on a curve than straight ones. Straight ones of a higher order are
// walls that someone drew so, and meet at corners, unless they are facets in a row.
static bool is_corner(const cavum_mesh *mesh, const wall_vertex *at, cavum_index vertex) {
  double turn = fabs(turn_between(mesh, &at[vertex]));
  bool straight = is_between_straight_sides(mesh, &at[vertex]);
  if (!straight || turn >= COARSE_RAD) return turn >= CORNER_RAD;
  if (turn < CORNER_RAD && mesh->node_order == 1) return false;
  return 1 + run_from(mesh, at, vertex, false) + run_from(mesh, at, vertex, true) < COARSE_RUN;
}

// The facet of a curve at a kink: the longer one, or the shorter one where the other is so much
// longer that it is a straight wall beside the curve.
static wall_facet facet_at(const cavum_mesh *mesh, const wall_vertex *at, cavum_index vertex) {
  wall_facet a = facet_from(mesh, at, vertex, false), b = facet_from(mesh, at, vertex, true);
  wall_facet longer = a.length_m > b.length_m ? a : b, shorter = a.length_m > b.length_m ? b : a;
  return longer.length_m > FACETS_ALIKE * shorter.length_m ? shorter : longer;
}

// Straight sides in place of a curve, and what mends them.
static void write_facet_note(cavum_msh_build *build, double kink_rad, cavum_index vertex,
                             const wall_vertex *at) {
  const cavum_point *point = &build->mesh.vertices[vertex];
  char *note = build->notes.kinks;
  const size_t size = sizeof build->notes.kinks;
  double degrees = cavum_in_unit(kink_rad, CAVUM_UNIT_DEGREE);
  double z_mm = cavum_in_mm(point->z_m), r_mm = cavum_in_mm(point->r_m);
  wall_facet facet = facet_at(&build->mesh, at, vertex);
  // An arc that turns by theta over a chord of length h rises h theta / 8 above it.
  double off_mm = cavum_in_mm(facet.length_m * kink_rad / 8.0);
  if (facet.num_sides == 1) {
    const char *mend =
        build->mesh.node_order == 1 ? "save order 2 or more" : "lay nodes on the curve";
    snprintf(note, size,
             "walls are straight-sided: largest kink %.2g deg at z = %.4g, r = %.4g mm, about %.2g "
             "mm off a smooth wall; errors of f, R/Q, G and peak fields fall only as edge length "
             "squared, E_pk at kinks is unreliable: %s",
             degrees, z_mm, r_mm, off_mm, mend);
  } else {
    snprintf(
        note, size,
        "walls are polygons: largest kink %.2g deg at z = %.4g, r = %.4g mm, about %.2g mm off "
        "a smooth wall; uncertainties of f, R/Q, G, peak fields, all figures, are those of the "
        "polygon, not of a smooth wall: mesh the curves themselves",
        degrees, z_mm, r_mm, off_mm);
  }
}

static void write_note(cavum_msh_build *build, double kink_rad, cavum_index vertex,
                       const wall_vertex *at) {
  const cavum_mesh *mesh = &build->mesh;
  const cavum_point *point = &mesh->vertices[vertex];
  if (is_between_straight_sides(mesh, &at[vertex])) {
    write_facet_note(build, kink_rad, vertex, at);
    return;
  }
  snprintf(build->notes.kinks, sizeof build->notes.kinks,
           "the wall has kinks: the largest is %.2g deg at z = %.4g, r = %.4g mm; they limit all "
           "figures (f, R/Q, G, peak fields) at any degree: use a finer mesh or a higher order",
           cavum_in_unit(kink_rad, CAVUM_UNIT_DEGREE), cavum_in_mm(point->z_m),
           cavum_in_mm(point->r_m));
}

cavum_status cavum_msh_build_kinks(cavum_msh_build *build) {
  const cavum_mesh *mesh = &build->mesh;
  wall_vertex *at = cavum_alloc(mesh->num_vertices, sizeof *at);
  if (!at) return cavum_fail_memory(build->error);
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    // Boundary edges were made by their only element and run in its sense.
    const cavum_edge *edge = &mesh->edges[i];
    if (edge->boundary != CAVUM_BOUNDARY_METAL) continue;
    cavum_index *out = &at[edge->vertex[0]].out, *in = &at[edge->vertex[1]].in;
    *out = *out == 0 ? i + 1 : -1;
    *in = *in == 0 ? i + 1 : -1;
  }
  double largest = ROUNDING_RAD;
  cavum_index where = -1;
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    if (!is_between_two(&at[v])) continue;
    double turn = fabs(turn_between(mesh, &at[v]));
    if (turn <= largest || is_corner(mesh, at, v)) continue;
    largest = turn;
    where = v;
  }
  build->notes.largest_kink_rad = where >= 0 ? largest : 0.0;
  if (where >= 0 && (mesh->node_order == 1 || largest > CURVED_RAD)) {
    write_note(build, largest, where, at);
  }
  free(at);
  return CAVUM_OK;
}
