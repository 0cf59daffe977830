// SPDX-License-Identifier: GPL-3.0-or-later
// Patches by dynamic programming over cuts. Let C(i, j) be the least cost of covering what lies
// between the contour from candidate i to candidate j and the chord j-i. The patch at that chord is
// a triangle i, k, j or a quadrilateral i, k, l, j whose other sides are pieces of the contour or
// chords with known C, so all C follow by rising j - i, and the best cover of the whole domain is
// found, not guessed. The cost of a patch is the number of its final elements plus a penalty for
// its corners.
#include "mesher/cut.h"

#include "base/base.h"
#include "base/stop.h"
#include "mesher/candidates.h"

// Weight of the sum of cot^2 over the corners: 0 for right angles, 4/3 in a rhombus of 60 degrees.
static const double QUAD_CORNER_WEIGHT = 0.8, TRIANGLE_CORNER_WEIGHT = 0.5;
// What a triangle costs beyond its three elements: an irregular vertex.
static const double TRIANGLE_EXTRA = 1.2;
// Weight of (elements wanted along a chord - 1)^2, above 1.
static const double EXCESS_WEIGHT = 1.5;
// Weight of a/b + b/a - 2 for opposite sides a and b.
static const double TAPER_WEIGHT = 0.25;
// Corners with a smaller sine are refused: 15 degrees.
static const double LEAST_CORNER_SINE = 0.26;
// Cost of a chord that divides a corner of at most 110 degrees: one element fills it better, and on
// the axis an element with a corner of 45 degrees costs digits of E_z.
static const double SPLIT_CORNER_COST = 4.0, CORNER_TURN_SINE = 0.34;
// Weight of the square of the share of a segment that a contour side is: equal sides are best.
static const double SIDE_WEIGHT = 0.3;
enum { MOST_CANDIDATES = 140 };

// Directions at the ends of a side, as a patch on its left runs along it.
typedef struct side_ends {
  cavum_point out, in;
  double length;
} side_ends;

typedef struct choice {
  double cost;   // infinite: no cover
  int16_t k, l;  // corners between i and j; l < 0: triangle
} choice;

typedef struct cutter {
  const cavum_candidates *candidates;
  choice *best;    // shape [n, n], of chords i < j; contour sides have cost 0
  int16_t *reach;  // shape [n, n]: reach[i n + m], m < reached[i]: ends of usable sides from i
  cavum_index *reached;  // shape [n]
} cutter;

static side_ends ends_of(const cavum_candidates *candidates, cavum_index i, cavum_index j) {
  cavum_index at = i * candidates->num_candidates + j;
  if (candidates->kind[at] == CAVUM_SIDE_BOUNDARY) {
    return (side_ends){candidates->candidates[i].leave, candidates->candidates[j].arrive,
                       candidates->length_m[at]};
  }
  return (side_ends){candidates->direction[at], candidates->direction[at],
                     candidates->length_m[at]};
}

// cot^2 of the angle between a side that comes in and one that goes out, or infinity.
static double corner_cost(cavum_point in, cavum_point out) {
  double sine = in.z_m * out.r_m - in.r_m * out.z_m;
  double cosine = in.z_m * out.z_m + in.r_m * out.r_m;
  return sine > LEAST_CORNER_SINE ? cosine * cosine / (sine * sine) : INFINITY;
}

static double taper_cost(double a, double b) { return a / b + b / a - 2.0; }

static double triangle_cost(const side_ends side[3]) {
  return 3.0 + TRIANGLE_EXTRA +
         TRIANGLE_CORNER_WEIGHT *
             (corner_cost(side[2].in, side[0].out) + corner_cost(side[0].in, side[1].out) +
              corner_cost(side[1].in, side[2].out));
}

static double quad_cost(const side_ends side[4]) {
  double corners = 0.0;
  for (int k = 0; k < 4; k++) corners += corner_cost(side[(k + 3) & 3].in, side[k].out);
  return 4.0 + QUAD_CORNER_WEIGHT * corners +
         TAPER_WEIGHT * (taper_cost(side[0].length, side[2].length) +
                         taper_cost(side[1].length, side[3].length));
}

// Best cover of what lies between the contour from i to j and a closing side from j to i.
static choice best_patch(const cutter *cuts, cavum_index i, cavum_index j, side_ends closing) {
  const cavum_candidates *candidates = cuts->candidates;
  cavum_index n = candidates->num_candidates;
  choice found = {INFINITY, -1, -1};
  for (cavum_index a = 0; a < cuts->reached[i]; a++) {
    cavum_index k = cuts->reach[i * n + a];
    if (k >= j) break;
    double first = cuts->best[i * n + k].cost;
    if (first + 3.0 >= found.cost) continue;
    side_ends ik = ends_of(candidates, i, k);
    if (corner_cost(closing.in, ik.out) == INFINITY) continue;
    double second = cuts->best[k * n + j].cost;
    if (first + second + 3.0 < found.cost) {
      side_ends sides[3] = {ik, ends_of(candidates, k, j), closing};
      double cost = first + second + triangle_cost(sides);
      if (cost < found.cost) found = (choice){cost, (int16_t)k, -1};
    }
    for (cavum_index b = 0; b < cuts->reached[k]; b++) {
      cavum_index l = cuts->reach[k * n + b];
      if (l >= j) break;
      double others = first + cuts->best[k * n + l].cost + cuts->best[l * n + j].cost;
      if (others + 4.0 >= found.cost) continue;
      side_ends sides[4] = {ik, ends_of(candidates, k, l), ends_of(candidates, l, j), closing};
      double cost = others + quad_cost(sides);
      if (cost < found.cost) found = (choice){cost, (int16_t)k, (int16_t)l};
    }
  }
  return found;
}

static void add_reach(cutter *cuts, cavum_index i, cavum_index j) {
  cuts->reach[i * cuts->candidates->num_candidates + cuts->reached[i]++] = (int16_t)j;
}

// What a chord costs by itself.
static double chord_cost(const cavum_candidates *candidates, cavum_index i, cavum_index j) {
  double excess = cavum_max(0.0, candidates->wanted[i * candidates->num_candidates + j] - 1.0);
  double cost = EXCESS_WEIGHT * excess * excess;
  for (int end = 0; end < 2; end++) {
    const cavum_candidate *candidate = &candidates->candidates[end == 0 ? i : j];
    cavum_point a = candidate->arrive, b = candidate->leave;
    bool left = a.z_m * b.r_m - a.r_m * b.z_m > 0.0;
    if (left && a.z_m * b.z_m + a.r_m * b.r_m < CORNER_TURN_SINE) cost += SPLIT_CORNER_COST;
  }
  return cost;
}

static void solve_chords(cutter *cuts) {
  const cavum_candidates *candidates = cuts->candidates;
  cavum_index n = candidates->num_candidates;
  for (cavum_index i = 0; i < n * n; i++) cuts->best[i] = (choice){INFINITY, -1, -1};
  for (cavum_index span = 1; span < n && !cavum_stop_asked(); span++) {
    for (cavum_index i = 0; i + span < n; i++) {
      cavum_index j = i + span, at = i * n + j;
      if (candidates->kind[at] == CAVUM_SIDE_BOUNDARY) {
        double share = candidates->wanted[at];
        cuts->best[at].cost = SIDE_WEIGHT * share * share;
        add_reach(cuts, i, j);
      } else if (candidates->kind[at] == CAVUM_SIDE_CHORD) {
        cavum_point back = {-candidates->direction[at].z_m, -candidates->direction[at].r_m};
        cuts->best[at] = best_patch(cuts, i, j, (side_ends){back, back, candidates->length_m[at]});
        if (cuts->best[at].cost == INFINITY) continue;
        cuts->best[at].cost += chord_cost(candidates, i, j);
        add_reach(cuts, i, j);
      }
    }
  }
}

// Best patch at the last piece of the contour, from candidate *last back to candidate 0.
static choice solve_root(cavum_index *last, const cutter *cuts, const cavum_density *density) {
  const cavum_candidates *candidates = cuts->candidates;
  choice found = {INFINITY, -1, -1};
  for (cavum_index j = candidates->num_candidates - 1; j > 1; j--) {
    if (!cavum_candidates_is_boundary(candidates, density, j, 0)) break;
    side_ends closing = {candidates->candidates[j].leave, candidates->candidates[0].arrive,
                         candidates->length_m[j]};
    choice here = best_patch(cuts, 0, j, closing);
    if (here.cost >= found.cost) continue;
    found = here;
    *last = j;
  }
  return found;
}

static cavum_segment segment_between(const cavum_candidates *candidates,
                                     const cavum_density *density, cavum_index i, cavum_index j) {
  bool boundary =
      j == 0 ? cavum_candidates_is_boundary(candidates, density, i, j)
             : i < j && candidates->kind[i * candidates->num_candidates + j] == CAVUM_SIDE_BOUNDARY;
  return boundary ? cavum_candidates_segment(candidates, density, i, j) : (cavum_segment){-1, {0}};
}

// Turns the choices into patches, from the one at the last piece of the contour inwards.
static cavum_status collect(cavum_patches *patches, const cutter *cuts,
                            const cavum_density *density, cavum_index last, choice root,
                            cavum_error *error) {
  const cavum_candidates *candidates = cuts->candidates;
  cavum_index n = candidates->num_candidates, depth = 0;
  struct {
    cavum_index i, j;
    choice made;
  } stack[MOST_CANDIDATES];
  stack[depth].i = 0, stack[depth].j = last, stack[depth++].made = root;
  while (depth > 0) {
    depth--;
    cavum_index i = stack[depth].i, j = stack[depth].j;
    choice made = stack[depth].made;
    cavum_patch patch = {.num_corners = made.l < 0 ? 3 : 4, .vertex = {i, made.k, made.l, j}};
    if (made.l < 0) patch.vertex[2] = j;
    for (int s = 0; s < patch.num_corners; s++) {
      cavum_index a = patch.vertex[s], b = patch.vertex[(s + 1) % patch.num_corners];
      patch.side[s] = segment_between(candidates, density, a, b);
      if (a > b || candidates->kind[a * n + b] != CAVUM_SIDE_CHORD) continue;
      if (!CAVUM_HOLDS(depth < MOST_CANDIDATES)) {
        return cavum_fail_internal(error, "a polygon has more chords than nodes");
      }
      stack[depth].i = a, stack[depth].j = b, stack[depth++].made = cuts->best[a * n + b];
    }
    if (!cavum_patches_add(patches, &patch)) return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

// Numbers the vertices that are in use.
static cavum_status number_vertices(cavum_patches *patches, const cavum_candidates *candidates,
                                    cavum_error *error) {
  cavum_index number[MOST_CANDIDATES];
  for (cavum_index i = 0; i < candidates->num_candidates; i++) number[i] = -1;
  for (cavum_index p = 0; p < patches->num_patches; p++) {
    cavum_patch *patch = &patches->patches[p];
    for (int k = 0; k < patch->num_corners; k++) {
      cavum_index candidate = patch->vertex[k];
      if (number[candidate] < 0) {
        number[candidate] =
            cavum_patches_add_vertex(patches, candidates->candidates[candidate].point);
        if (number[candidate] < 0) return cavum_fail_memory(error);
      }
      patch->vertex[k] = number[candidate];
    }
  }
  return CAVUM_OK;
}

static cavum_status cut_candidates(cavum_patches *patches, const cavum_candidates *candidates,
                                   const cavum_density *density, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t n = candidates->num_candidates;
  cutter cuts = {candidates, cavum_alloc(n * n, sizeof *cuts.best),
                 cavum_alloc(n * n, sizeof *cuts.reach), cavum_alloc(n, sizeof *cuts.reached)};
  if (!cuts.best || !cuts.reach || !cuts.reached) CAVUM_TRY(cavum_fail_memory(error));
  solve_chords(&cuts);
  cavum_index last = 0;
  choice root = solve_root(&last, &cuts, density);
  if (root.cost == INFINITY) goto done;
  CAVUM_TRY(collect(patches, &cuts, density, last, root, error));
  CAVUM_TRY(number_vertices(patches, candidates, error));
done:
  free(cuts.best);
  free(cuts.reach);
  free(cuts.reached);
  return status;
}

cavum_status cavum_cut_patches(cavum_patches *patches, const cavum_contour *contour,
                               const cavum_size_field *field, const cavum_density *density,
                               cavum_error *error) {
  cavum_candidates candidates = {0};
  patches->num_vertices = patches->num_patches = 0;
  cavum_status status =
      cavum_candidates_build(&candidates, contour, field, density, MOST_CANDIDATES, error);
  if (status == CAVUM_OK && candidates.num_candidates >= 3) {
    status = cut_candidates(patches, &candidates, density, error);
  }
  cavum_candidates_clear(&candidates);
  return status;
}
