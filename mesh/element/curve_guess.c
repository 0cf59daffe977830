// SPDX-License-Identifier: GPL-3.0-or-later
// The smooth curves behind the sides of a mesh file, guessed from the nodes next to each side.
#include "element/curve_guess.h"

#include <string.h>

#include "base/base.h"
#include "element/topology.h"

// Guesses that are larger than the smallest one by this factor look across a corner, or across a
// place where the curvature jumps. Those of a smooth curve are alike; the largest of them counts.
static const double ALIKE = 3.0;
// Sides that turn by less where they meet are parts of one curve; more is a corner.
static const double KINK_MOST_RAD = CAVUM_PI / 6.0;

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

// Node i of an edge counted from one of its ends, of `steps` from end to end.
static cavum_point edge_node(const cavum_mesh *mesh, cavum_index e, int end, int i, int steps) {
  double s = 2.0 * i / steps - 1.0;
  return edge_at(mesh, e, end == 0 ? s : -s);
}

bool cavum_curve_side_is_straight(const cavum_mesh *mesh, cavum_index edge) {
  const double flat = 1e-6;
  int order = mesh->node_order;
  cavum_point first = edge_node(mesh, edge, 0, 0, order);
  cavum_point chord = minus(edge_node(mesh, edge, 0, order, order), first);
  for (int i = 1; i < order; i++) {
    cavum_point from = minus(edge_node(mesh, edge, 0, i, order), first);
    if (fabs(dot(from, normal_of(chord))) > flat * dot(chord, chord)) return false;
  }
  return true;
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

// What is asked of a side: its nodes, or its ends alone where it is a facet.
typedef struct side_view {
  const cavum_mesh *mesh;
  const curve_link *links;
  cavum_index edge;
  int steps;           // of the nodes that lie on the curve, from end to end of a side
  bool round_corners;  // the curve goes on behind corners
} side_view;

// The edge that goes on behind an end of another; -1: the curve ends, or is mirrored, there.
static cavum_index edge_behind(const cavum_mesh *mesh, const curve_link *links, cavum_index edge,
                               int end) {
  const curve_link *link = &links[mesh->edges[edge].vertex[end]];
  bool inner = is_interface(mesh, &mesh->edges[edge]);
  cavum_index next = other_of(inner ? link->interface : link->boundary, edge);
  bool goes_on = next >= 0 && mesh->edges[next].boundary == mesh->edges[edge].boundary;
  return goes_on ? next : -1;
}

// The shape of an edge in its own sense.
static cavum_side_shape shape_of(const side_view *side, cavum_index edge) {
  cavum_point nodes[CAVUM_MAP_LARGEST_ORDER + 1];
  for (int i = 0; i <= side->steps; i++) nodes[i] = edge_node(side->mesh, edge, 0, i, side->steps);
  return cavum_side_shape_of(nodes, side->steps);
}

// Length along an edge from one of its ends to node i counted from there.
static double length_from(const cavum_side_shape *shape, int steps, int end, int i) {
  return end == 0 ? shape->length_m[i] : shape->length_m[steps] - shape->length_m[steps - i];
}

// Nodes of the curve beyond an end of a side, the nearest first; lengths are from that end on.
typedef struct nodes_beyond {
  int count;
  cavum_curve_node node[CAVUM_GUESS_EXTRA];
} nodes_beyond;

// Adds nodes of the image of an edge behind its end.
static void walk_mirrored(nodes_beyond *out, const side_view *side, cavum_index edge, int end,
                          double length_m) {
  const cavum_mesh *mesh = side->mesh;
  cavum_index mirror = mirror_at(mesh, &side->links[mesh->edges[edge].vertex[end]], edge);
  if (mirror < 0) return;
  cavum_point a = mesh->vertices[mesh->edges[mirror].vertex[0]];
  cavum_point b = mesh->vertices[mesh->edges[mirror].vertex[1]];
  cavum_point inside = edge_node(mesh, edge, end, 1, side->steps);
  cavum_point corner = edge_node(mesh, edge, end, 0, side->steps);
  if (!side->round_corners && is_corner(inside, corner, mirrored(inside, a, b))) return;
  cavum_side_shape shape = shape_of(side, edge);
  for (int i = 1; out->count < CAVUM_GUESS_EXTRA && i <= side->steps; i++) {
    out->node[out->count++] =
        (cavum_curve_node){mirrored(edge_node(mesh, edge, end, i, side->steps), a, b),
                           length_m + length_from(&shape, side->steps, end, i)};
  }
}

// Finds nodes of the curve beyond an end of an edge, going away from it. The curve ends at corners,
// unless it goes round them.
static void walk(nodes_beyond *out, const side_view *side, int end) {
  const cavum_mesh *mesh = side->mesh;
  cavum_index edge = side->edge;
  double length_m = 0.0;
  out->count = 0;
  while (out->count < CAVUM_GUESS_EXTRA) {
    cavum_index vertex = mesh->edges[edge].vertex[end];
    cavum_index next = edge_behind(mesh, side->links, edge, end);
    if (next < 0) {
      walk_mirrored(out, side, edge, end, length_m);
      return;
    }
    int from = mesh->edges[next].vertex[0] == vertex ? 0 : 1;
    if (!side->round_corners &&
        is_corner(edge_node(mesh, edge, end, 1, side->steps), mesh->vertices[vertex],
                  edge_node(mesh, next, from, 1, side->steps))) {
      return;
    }
    cavum_side_shape shape = shape_of(side, next);
    for (int i = 1; out->count < CAVUM_GUESS_EXTRA && i <= side->steps; i++) {
      out->node[out->count++] =
          (cavum_curve_node){edge_node(mesh, next, from, i, side->steps),
                             length_m + length_from(&shape, side->steps, from, i)};
    }
    length_m += shape.length_m[side->steps];
    edge = next;
    end = 1 - from;
  }
}

// ---- Facets: straight sides of order 2 and more that follow a curve no better than those of
// order 1.

// Turns below are rounding. Turns of a curve in a row are alike within a factor, and so are its
// sides; this many turns in a row are no bends of a straight wall.
static const double TURN_ROUNDING_RAD = 1e-6, TURNS_ALIKE = 2.0, SIDES_ALIKE = 3.0;
enum { FACET_RUN = 3 };

static cavum_point chord_of(const cavum_mesh *mesh, cavum_index edge, int from) {
  const cavum_index *ends = mesh->edges[edge].vertex;
  return minus(mesh->vertices[ends[1 - from]], mesh->vertices[ends[from]]);
}

static double turn_between(cavum_point in, cavum_point out) {
  return atan2(in.z_m * out.r_m - in.r_m * out.z_m, dot(in, out));
}

static bool are_alike(double turn, double next) {
  double least = cavum_min(fabs(turn), fabs(next)), most = cavum_max(fabs(turn), fabs(next));
  return turn * next > 0.0 && least > TURN_ROUNDING_RAD && most <= TURNS_ALIKE * least &&
         most < CAVUM_CURVE_TURN_MOST_RAD;
}

// The turn from a straight side over its end to the next one, or to its mirror image; 0 where no
// straight side of like length follows. *next is the edge there, -1 behind a mirror.
static double facet_turn(cavum_index *next, const cavum_mesh *mesh, const curve_link *links,
                         cavum_index edge, int end) {
  cavum_point in = chord_of(mesh, edge, 1 - end), out;
  cavum_index vertex = mesh->edges[edge].vertex[end];
  *next = edge_behind(mesh, links, edge, end);
  if (*next >= 0) {
    if (!cavum_curve_side_is_straight(mesh, *next)) return 0.0;
    out = chord_of(mesh, *next, mesh->edges[*next].vertex[0] == vertex ? 0 : 1);
  } else {
    cavum_index mirror = mirror_at(mesh, &links[vertex], edge);
    if (mirror < 0) return 0.0;
    cavum_point line = chord_of(mesh, mirror, 0);
    double twice = 2.0 * dot(in, line) / dot(line, line);
    // The image is gone through the other way.
    out = (cavum_point){in.z_m - twice * line.z_m, in.r_m - twice * line.r_m};
  }
  double ratio = sqrt(dot(in, in) / dot(out, out));
  bool alike = ratio < SIDES_ALIKE && ratio > 1.0 / SIDES_ALIKE;
  return alike ? turn_between(in, out) : 0.0;
}

// How many turns that are alike follow one another from an end of a straight side on; *first is
// the nearest.
static int turns_from(double *first, const cavum_mesh *mesh, const curve_link *links,
                      cavum_index edge, int end) {
  double before = 0.0;
  for (int count = 0; count < FACET_RUN; count++) {
    cavum_index next, vertex = mesh->edges[edge].vertex[end];
    double turn = facet_turn(&next, mesh, links, edge, end);
    if (!are_alike(count == 0 ? turn : before, turn)) return count;
    if (count == 0) *first = turn;
    if (next < 0) return count + 1;
    before = turn;
    edge = next;
    end = mesh->edges[next].vertex[0] == vertex ? 1 : 0;
  }
  return FACET_RUN;
}

// Whether a straight side is one of several in a row that turn alike: a polygon in place of a
// curve, whose nodes between its corners tell nothing of it.
static bool is_facet(const cavum_mesh *mesh, const curve_link *links, cavum_index edge) {
  double behind = 0.0, before = 0.0;
  if (mesh->node_order == 1 || !cavum_curve_side_is_straight(mesh, edge)) return false;
  int count = turns_from(&behind, mesh, links, edge, 1);
  if (count == 0) return false;
  int other = turns_from(&before, mesh, links, edge, 0);
  // Seen from the other end a curve turns to the other side.
  return other > 0 && count + other >= FACET_RUN && are_alike(behind, -before);
}

// ---- Guesses.

// From a point of an edge to the guessed curve, at right angles to the side.
static cavum_point distance_at(const cavum_edge_guess *guess, const cavum_mesh *mesh,
                               cavum_index edge, double s) {
  const cavum_edge *at = &mesh->edges[edge];
  const cavum_element *element = &mesh->elements[at->element[0]];
  double sense = element->reversed[(int)at->local[0]] ? -1.0 : 1.0;
  cavum_edge_position on = cavum_element_edge_at(mesh, at->element[0], at->local[0], sense * s);
  double speed = hypot(on.z_x, on.r_x);
  const double *length_m = guess->fit.length_m + guess->first;
  cavum_point to =
      cavum_curve_fit_at(&guess->fit, cavum_curve_length_at(length_m, guess->steps, s));
  cavum_point normal = {-on.r_x / speed, on.z_x / speed};
  double off = dot(minus(to, (cavum_point){on.z, on.r}), normal);
  return (cavum_point){off * normal.z_m, off * normal.r_m};
}

static double size_of(const cavum_edge_guess *guess, const cavum_mesh *mesh, cavum_index edge) {
  double largest = 0.0;
  int looks = 4 * mesh->node_order;
  for (int i = 1; i < looks; i++) {
    cavum_point at = distance_at(guess, mesh, edge, 2.0 * i / looks - 1.0);
    largest = cavum_max(largest, sqrt(dot(at, at)));
  }
  return largest;
}

// The guess that takes `first` nodes from before the edge and the rest from behind it.
static bool guess_from(cavum_edge_guess *guess, const side_view *side, const nodes_beyond near[2],
                       const cavum_side_shape *shape, int first) {
  cavum_curve_node nodes[CAVUM_GUESS_NODES];
  int last = CAVUM_GUESS_EXTRA - first, count = 0;
  *guess = (cavum_edge_guess){.first = first, .steps = side->steps};
  if (first > near[0].count || last > near[1].count) return false;
  for (int i = first - 1; i >= 0; i--) {
    nodes[count++] = (cavum_curve_node){near[0].node[i].at, -near[0].node[i].length_m};
  }
  for (int i = 0; i <= side->steps; i++) {
    nodes[count++] = (cavum_curve_node){edge_node(side->mesh, side->edge, 0, i, side->steps),
                                        shape->length_m[i]};
  }
  for (int i = 0; i < last; i++) {
    nodes[count++] = (cavum_curve_node){near[1].node[i].at,
                                        shape->length_m[side->steps] + near[1].node[i].length_m};
  }
  if (!cavum_curve_fit_create(&guess->fit, nodes, count)) return false;
  guess->size_m = size_of(guess, side->mesh, side->edge);
  return true;
}

// The angle by which the curve turns at once at an end of a side, where that is no corner.
static double kink_at(const side_view *side, const cavum_side_shape *shape, int end) {
  const cavum_mesh *mesh = side->mesh;
  cavum_point in = shape->along[end], out;
  cavum_index vertex = mesh->edges[side->edge].vertex[end];
  cavum_index next = edge_behind(mesh, side->links, side->edge, end);
  if (next >= 0) {
    cavum_side_shape behind = shape_of(side, next);
    int from = mesh->edges[next].vertex[0] == vertex ? 0 : 1;
    out = behind.along[from];
    if (from != 1 - end) out = (cavum_point){-out.z_m, -out.r_m};
  } else {
    cavum_index mirror = mirror_at(mesh, &side->links[vertex], side->edge);
    if (mirror < 0) return 0.0;
    cavum_point line = chord_of(mesh, mirror, 0);
    double twice = 2.0 * dot(in, line) / dot(line, line);
    out = (cavum_point){in.z_m - twice * line.z_m, in.r_m - twice * line.r_m};
  }
  double turn = fabs(turn_between(in, out));
  return turn < KINK_MOST_RAD ? turn : 0.0;
}

// How far a side is off the curve at least where it meets the next one with a kink, which a smooth
// curve has not; but no further than what its own highest degree adds to it, since what the degrees
// beyond would add is less.
static double size_by_kinks(const side_view *side, const cavum_side_shape *shape) {
  double size_m = 0.0;
  if (side->steps < 2) return 0.0;
  for (int end = 0; end < 2; end++) {
    size_m = cavum_max(size_m, kink_at(side, shape, end) * shape->off_by_slope_m[end]);
  }
  return cavum_min(size_m, shape->top_m);
}

static bool guess_side(cavum_edge_guess *best, const side_view *side) {
  cavum_edge_guess guess[CAVUM_GUESS_EXTRA + 1];
  nodes_beyond near[2];
  cavum_side_shape shape = shape_of(side, side->edge);
  double least = HUGE_VAL;
  for (int end = 0; end < 2; end++) walk(&near[end], side, end);
  for (int i = 0; i <= CAVUM_GUESS_EXTRA; i++) {
    if (!guess_from(&guess[i], side, near, &shape, i)) continue;
    least = cavum_min(least, guess[i].size_m);
  }
  double most = ALIKE * cavum_max(least, size_by_kinks(side, &shape));
  *best = (cavum_edge_guess){0};
  for (int i = 0; i <= CAVUM_GUESS_EXTRA; i++) {
    if (guess[i].fit.num_nodes == 0 || guess[i].size_m > most) continue;
    if (best->fit.num_nodes == 0 || guess[i].size_m > best->size_m) *best = guess[i];
  }
  return best->fit.num_nodes > 0;
}

// A straight side between two corners is what it seems. A curved one that has no neighbours but
// beyond corners takes their nodes all the same: too much is said rather than nothing. Of a facet
// the ends alone are known to lie on the curve.
static void guess_edge(cavum_edge_guess *best, const cavum_mesh *mesh, const curve_link *links,
                       cavum_index edge) {
  int steps = is_facet(mesh, links, edge) ? 1 : mesh->node_order;
  side_view side = {.mesh = mesh, .links = links, .edge = edge, .steps = steps};
  if (guess_side(best, &side) || cavum_curve_side_is_straight(mesh, edge)) return;
  side.round_corners = true;
  (void)guess_side(best, &side);
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
  if (guess->edges[edge].fit.num_nodes == 0) return (cavum_point){0.0, 0.0};
  return distance_at(&guess->edges[edge], mesh, edge, s);
}
