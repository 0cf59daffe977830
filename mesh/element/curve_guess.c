// SPDX-License-Identifier: GPL-3.0-or-later
// The smooth curves behind the sides of a mesh file, guessed from the nodes next to each side.
#include "element/curve_guess.h"

#include <string.h>

#include "base/base.h"
#include "element/topology.h"

// Guesses that are larger than the smallest one by this factor look across a corner, or across a
// place where the curvature jumps. Those of a smooth curve are alike; the largest of them counts.
static const double ALIKE = 3.0;

static cavum_point minus(cavum_point a, cavum_point b) {
  return (cavum_point){a.z_m - b.z_m, a.r_m - b.r_m};
}

static double dot(cavum_point a, cavum_point b) { return a.z_m * b.z_m + a.r_m * b.r_m; }

static cavum_point normal_of(cavum_point along) { return (cavum_point){-along.r_m, along.z_m}; }

// ---- Which edges go on into which others.

// How a curve goes on at a vertex.
typedef struct curve_link {
  cavum_index boundary[2];   // edges of the outline that meet there, or -1
  cavum_index interface[2];  // likewise edges between materials; -2: more than two of them
} curve_link;

static bool is_interface(const cavum_mesh *mesh, const cavum_edge *edge) {
  if (edge->element[1] < 0) return false;
  const cavum_region *a = &mesh->regions[mesh->elements[edge->element[0]].region];
  const cavum_region *b = &mesh->regions[mesh->elements[edge->element[1]].region];
  return a->eps_r != b->eps_r || a->mu_r != b->mu_r;
}

static void link_edge(cavum_index at[2], cavum_index edge) {
  if (at[0] == -1) {
    at[0] = edge;
  } else {
    at[1] = at[1] == -1 ? edge : -2;
  }
}

static curve_link *make_links(const cavum_mesh *mesh) {
  curve_link *links = cavum_alloc(mesh->num_vertices, sizeof *links);
  if (!links) return NULL;
  // No neighbours yet: all bits set is -1.
  memset(links, 0xff, (size_t)mesh->num_vertices * sizeof *links);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    for (int k = 0; k < 2; k++) {
      if (edge->element[1] < 0) link_edge(links[edge->vertex[k]].boundary, e);
      if (is_interface(mesh, edge)) link_edge(links[edge->vertex[k]].interface, e);
    }
  }
  return links;
}

static cavum_index other_of(const cavum_index at[2], cavum_index edge) {
  if (at[1] == -2) return -1;
  return at[0] == edge ? at[1] : at[0];
}

// ---- Nodes along a curve.

// Point of an edge at s in [-1, 1], in its own sense.
static cavum_point edge_at(const cavum_mesh *mesh, cavum_index e, double s) {
  const cavum_edge *edge = &mesh->edges[e];
  const cavum_element *element = &mesh->elements[edge->element[0]];
  int local = edge->local[0];
  double sense = element->reversed[local] ? -1.0 : 1.0;
  cavum_edge_position at = cavum_element_edge_at(mesh, edge->element[0], local, sense * s);
  return (cavum_point){at.z, at.r};
}

// Node i of an edge counted from one of its ends.
static cavum_point edge_node(const cavum_mesh *mesh, cavum_index e, int end, int i) {
  double s = 2.0 * i / mesh->node_order - 1.0;
  return edge_at(mesh, e, end == 0 ? s : -s);
}

static bool is_plane(cavum_boundary boundary) {
  return boundary == CAVUM_BOUNDARY_AXIS || boundary == CAVUM_BOUNDARY_ELECTRIC ||
         boundary == CAVUM_BOUNDARY_MAGNETIC;
}

// The boundary edge that a curve may be mirrored about at a vertex, or -1.
static cavum_index mirror_at(const cavum_mesh *mesh, const curve_link *link, cavum_index edge) {
  for (int k = 0; k < 2; k++) {
    cavum_index other = link->boundary[k];
    if (other >= 0 && other != edge && is_plane(mesh->edges[other].boundary)) return other;
  }
  return -1;
}

static cavum_point mirrored(cavum_point p, cavum_point a, cavum_point b) {
  cavum_point line = minus(b, a), from = minus(p, a);
  double along = dot(from, line) / dot(line, line);
  return (cavum_point){2.0 * (a.z_m + along * line.z_m) - p.z_m,
                       2.0 * (a.r_m + along * line.r_m) - p.r_m};
}

// Whether the way from a over b to c turns by more than that of any curve worth the name.
static bool is_corner(cavum_point a, cavum_point b, cavum_point c) {
  cavum_point in = minus(b, a), out = minus(c, b);
  double cosine = dot(in, out) / sqrt(dot(in, in) * dot(out, out));
  return cosine < cos(CAVUM_CURVE_TURN_MOST_RAD);
}

// Up to `count` nodes of the curve beyond an end of an edge, going away from it; returns how many
// there are. The curve ends at corners, unless it goes `round_corners`.
static int walk(cavum_point *out, int count, const cavum_mesh *mesh, const curve_link *links,
                cavum_index edge, int end, bool round_corners) {
  bool inner = is_interface(mesh, &mesh->edges[edge]);
  int found = 0;
  while (found < count) {
    cavum_index vertex = mesh->edges[edge].vertex[end];
    const curve_link *link = &links[vertex];
    cavum_index next = other_of(inner ? link->interface : link->boundary, edge);
    bool goes_on = next >= 0 && mesh->edges[next].boundary == mesh->edges[edge].boundary;
    if (!goes_on) {
      cavum_index mirror = mirror_at(mesh, link, edge);
      if (mirror < 0) return found;
      const cavum_index *ends = mesh->edges[mirror].vertex;
      cavum_point inside = edge_node(mesh, edge, end, 1), corner = edge_node(mesh, edge, end, 0);
      cavum_point image = mirrored(inside, mesh->vertices[ends[0]], mesh->vertices[ends[1]]);
      if (!round_corners && is_corner(inside, corner, image)) return found;
      for (int i = 1; found < count && i <= mesh->node_order; i++) {
        out[found++] = mirrored(edge_node(mesh, edge, end, i), mesh->vertices[ends[0]],
                                mesh->vertices[ends[1]]);
      }
      return found;
    }
    int from = mesh->edges[next].vertex[0] == vertex ? 0 : 1;
    if (!round_corners && is_corner(edge_node(mesh, edge, end, 1), mesh->vertices[vertex],
                                    edge_node(mesh, next, from, 1))) {
      return found;
    }
    for (int i = 1; found < count && i <= mesh->node_order; i++) {
      out[found++] = edge_node(mesh, next, from, i);
    }
    edge = next;
    end = 1 - from;
  }
  return found;
}

// ---- Polynomials over a line.

// Newton's polynomial through the nodes over the line from the first to the last; false where the
// curve turns back.
static bool fit(cavum_edge_guess *guess, const cavum_point *nodes, int count) {
  cavum_point chord = minus(nodes[count - 1], nodes[0]);
  double length = sqrt(dot(chord, chord));
  if (!(length > 0.0)) return false;
  guess->origin = nodes[0];
  guess->along = (cavum_point){chord.z_m / length, chord.r_m / length};
  cavum_point normal = normal_of(guess->along);
  for (int i = 0; i < count; i++) {
    cavum_point from = minus(nodes[i], nodes[0]);
    guess->position_m[i] = dot(from, guess->along);
    guess->coefficient[i] = dot(from, normal);
    if (i > 0 && guess->position_m[i] <= guess->position_m[i - 1]) return false;
  }
  for (int k = 1; k < count; k++) {
    for (int i = count - 1; i >= k; i--) {
      guess->coefficient[i] = (guess->coefficient[i] - guess->coefficient[i - 1]) /
                              (guess->position_m[i] - guess->position_m[i - k]);
    }
  }
  guess->num_nodes = count;
  return true;
}

static cavum_point distance_at(const cavum_edge_guess *guess, cavum_point on_side) {
  cavum_point from = minus(on_side, guess->origin), normal = normal_of(guess->along);
  double x = dot(from, guess->along), y = 0.0;
  for (int i = guess->num_nodes - 1; i >= 0; i--) {
    y = y * (x - guess->position_m[i]) + guess->coefficient[i];
  }
  y -= dot(from, normal);
  return (cavum_point){y * normal.z_m, y * normal.r_m};
}

// Nodes of a curve before and behind an edge, the nearest first.
typedef struct neighbour_nodes {
  int num_before, num_after;
  cavum_point before[CAVUM_GUESS_EXTRA], after[CAVUM_GUESS_EXTRA];
} neighbour_nodes;

static double size_of(const cavum_edge_guess *guess, const cavum_mesh *mesh, cavum_index edge) {
  double largest = 0.0;
  int looks = 4 * mesh->node_order;
  for (int i = 1; i < looks; i++) {
    cavum_point at = distance_at(guess, edge_at(mesh, edge, 2.0 * i / looks - 1.0));
    largest = cavum_max(largest, sqrt(dot(at, at)));
  }
  return largest;
}

// The guess that takes `first` nodes from before the edge and the rest from behind it.
static bool guess_from(cavum_edge_guess *guess, const cavum_mesh *mesh, cavum_index edge,
                       const neighbour_nodes *near, int first) {
  cavum_point nodes[CAVUM_GUESS_NODES];
  int last = CAVUM_GUESS_EXTRA - first, count = 0;
  *guess = (cavum_edge_guess){0};
  if (first > near->num_before || last > near->num_after) return false;
  for (int i = first - 1; i >= 0; i--) nodes[count++] = near->before[i];
  for (int i = 0; i <= mesh->node_order; i++) nodes[count++] = edge_node(mesh, edge, 0, i);
  for (int i = 0; i < last; i++) nodes[count++] = near->after[i];
  if (!fit(guess, nodes, count)) return false;
  guess->size_m = size_of(guess, mesh, edge);
  return true;
}

static bool is_straight(const cavum_mesh *mesh, cavum_index edge) {
  const double flat = 1e-6;
  cavum_point first = edge_node(mesh, edge, 0, 0);
  cavum_point chord = minus(edge_node(mesh, edge, 0, mesh->node_order), first);
  for (int i = 1; i < mesh->node_order; i++) {
    cavum_point from = minus(edge_node(mesh, edge, 0, i), first);
    if (fabs(dot(from, normal_of(chord))) > flat * dot(chord, chord)) return false;
  }
  return true;
}

static bool guess_edge_with(cavum_edge_guess *best, const cavum_mesh *mesh, const curve_link *links,
                            cavum_index edge, bool round_corners) {
  cavum_edge_guess guess[CAVUM_GUESS_EXTRA + 1];
  neighbour_nodes near;
  double least = HUGE_VAL;
  near.num_before = walk(near.before, CAVUM_GUESS_EXTRA, mesh, links, edge, 0, round_corners);
  near.num_after = walk(near.after, CAVUM_GUESS_EXTRA, mesh, links, edge, 1, round_corners);
  for (int i = 0; i <= CAVUM_GUESS_EXTRA; i++) {
    if (!guess_from(&guess[i], mesh, edge, &near, i)) continue;
    least = cavum_min(least, guess[i].size_m);
  }
  *best = (cavum_edge_guess){0};
  for (int i = 0; i <= CAVUM_GUESS_EXTRA; i++) {
    if (guess[i].num_nodes == 0 || guess[i].size_m > ALIKE * least) continue;
    if (best->num_nodes == 0 || guess[i].size_m > best->size_m) *best = guess[i];
  }
  return best->num_nodes > 0;
}

// A straight side between two corners is what it seems. A curved one that has no neighbours but
// beyond corners takes their nodes all the same: too much is said rather than nothing.
static void guess_edge(cavum_edge_guess *best, const cavum_mesh *mesh, const curve_link *links,
                       cavum_index edge) {
  if (guess_edge_with(best, mesh, links, edge, false) || is_straight(mesh, edge)) return;
  (void)guess_edge_with(best, mesh, links, edge, true);
}

cavum_status cavum_curve_guess_create(cavum_curve_guess *guess, const cavum_mesh *mesh,
                                      cavum_error *error) {
  if (!CAVUM_HOLDS(mesh->node_order >= 1)) {
    return cavum_fail_internal(error, "a mesh without nodes has no curves to guess");
  }
  *guess = (cavum_curve_guess){.num_edges = mesh->num_edges};
  curve_link *links = make_links(mesh);
  guess->edges = cavum_alloc(mesh->num_edges, sizeof *guess->edges);
  if (!links || !guess->edges) {
    free(links);
    return cavum_fail_memory(error);
  }
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    bool on_outline = edge->element[1] < 0 && edge->boundary != CAVUM_BOUNDARY_AXIS;
    if (!on_outline && !is_interface(mesh, edge)) continue;
    guess_edge(&guess->edges[e], mesh, links, e);
    if (guess->edges[e].size_m <= guess->largest_m) continue;
    guess->largest_m = guess->edges[e].size_m;
    guess->largest_at = edge_at(mesh, e, 0.0);
  }
  free(links);
  return CAVUM_OK;
}

void cavum_curve_guess_clear(cavum_curve_guess *guess) {
  if (!guess) return;
  free(guess->edges);
  *guess = (cavum_curve_guess){0};
}

cavum_point cavum_curve_guess_at(const cavum_curve_guess *guess, const cavum_mesh *mesh,
                                 cavum_index edge, double s) {
  if (guess->edges[edge].num_nodes == 0) return (cavum_point){0.0, 0.0};
  return distance_at(&guess->edges[edge], edge_at(mesh, edge, s));
}
