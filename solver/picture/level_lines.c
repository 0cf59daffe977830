// SPDX-License-Identifier: GPL-3.0-or-later
// Lines of one value of r H_phi. Each element is cut into triangles, which tell where lines run
// (marching triangles); every point then steps along its side, or across the line, until the
// polynomial of the element has the value. What is drawn is the level of the solution, not that of
// the triangles.
#include "picture/level_lines.h"

#include <string.h>

#include "base/base.h"
#include "picture/field_map.h"

// Halvings of a piece of line that is too curved, steps along a side, and the part of the step from
// line to line that is left there.
enum { HALVINGS_MOST = 4, SIDE_STEPS_MOST = 12 };
static const double VALUE_TOLERANCE = 1e-7;

// A place in an element, x and y in its lattice from 0 to 1.
typedef struct place {
  double x, y, z, r, off;  // off: r H_phi less the value wanted.
} place;

// A crossing of a line with a side of a triangle: its place and up to two neighbours.
typedef struct side_crossing {
  place at;
  int next[2];  // Sides, or -1.
  int count;
  bool crossed, drawn;
} side_crossing;

// One element as a triangulation. Sides are numbered by their first point and one of three
// directions: along i, along j, along the diagonal.
typedef struct line_net {
  const cavum_level_options *options;
  const cavum_field_grid *field;
  int64_t first;  // Coarse points of the element in the field grid.
  int num_coarse, corners, divisions;
  double value;
  const double *flux;  // r H_phi at the points of the triangles.
  double *weights;     // Shape [num_coarse].
  side_crossing *crossings;
  cavum_level_lines *lines;
  bool failed;
} line_net;

static double sum_of(const line_net *net, const double *values) {
  double sum = 0.0;
  for (int i = 0; i < net->num_coarse; i++) sum += net->weights[i] * values[net->first + i];
  return sum;
}

static place look_at(const line_net *net, double x, double y) {
  cavum_lattice_weigh(net->weights, net->field->order, net->corners, x, y);
  double r = sum_of(net, net->field->r_m);
  return (place){.x = x,
                 .y = y,
                 .z = sum_of(net, net->field->z_m),
                 .r = r,
                 .off = r * sum_of(net, net->field->h_phi_a_per_m) - net->value};
}

static place look_between(const line_net *net, const place *a, const place *b, double t) {
  return look_at(net, a->x + t * (b->x - a->x), a->y + t * (b->y - a->y));
}

static int row_length(const line_net *net, int j) {
  return net->corners == 4 ? net->divisions + 1 : net->divisions + 1 - j;
}

// Where the value is met between two places on both sides of it: false position, the side that
// stays has its weight halved (the Illinois rule).
static place meet(const line_net *net, place a, place b) {
  double tolerance = VALUE_TOLERANCE * net->options->step_a, fa = a.off, fb = b.off;
  place at = a;
  for (int step = 0; step < SIDE_STEPS_MOST; step++) {
    at = look_between(net, &a, &b, fa / (fa - fb));
    if (fabs(at.off) <= tolerance) break;
    if ((at.off < 0.0) == (fb < 0.0)) {
      fa *= 0.5;
    } else {
      a = b;
      fa = fb;
    }
    b = at;
    fb = at.off;
  }
  return at;
}

// A point of the triangles by its row and its place in it.
typedef struct net_point {
  int index, i, j;
} net_point;

static int cross(line_net *net, int side, net_point a, net_point b) {
  double fa = net->flux[a.index] - net->value, fb = net->flux[b.index] - net->value;
  if ((fa < 0.0) == (fb < 0.0)) return -1;
  side_crossing *crossing = &net->crossings[side];
  if (crossing->crossed) return side;
  double step = 1.0 / net->divisions;
  const place from = {.x = a.i * step, .y = a.j * step, .off = fa};
  const place to = {.x = b.i * step, .y = b.j * step, .off = fb};
  *crossing = (side_crossing){.at = meet(net, from, to), .next = {-1, -1}, .crossed = true};
  return side;
}

static void join(line_net *net, int a, int b) {
  side_crossing *first = &net->crossings[a], *second = &net->crossings[b];
  if (first->count < 2) first->next[first->count++] = b;
  if (second->count < 2) second->next[second->count++] = a;
}

// A triangle by its points and the numbers of its sides (a b), (b c), (c a).
static void cut_triangle(line_net *net, const net_point point[3], const int side[3]) {
  int found[3], count = 0;
  for (int k = 0; k < 3; k++) {
    int crossed = cross(net, side[k], point[k], point[(k + 1) % 3]);
    if (crossed >= 0) found[count++] = crossed;
  }
  if (count == 2) join(net, found[0], found[1]);
}

static void cut_net(line_net *net) {
  int row = 0;
  for (int j = 0; j < net->divisions; j++) {
    int length = row_length(net, j), next = row + length;
    for (int i = 0; i + 1 < length; i++) {
      net_point a = {row + i, i, j}, b = {a.index + 1, i + 1, j}, c = {next + i, i, j + 1},
                d = {c.index + 1, i + 1, j + 1};
      // Side numbers: 3 p along i from p, 3 p + 1 along j from p, 3 p + 2 the diagonal b to c.
      int diagonal = 3 * a.index + 2;
      cut_triangle(net, (net_point[3]){a, b, c}, (int[3]){3 * a.index, diagonal, 3 * a.index + 1});
      if (net->corners == 3 && i + 2 >= length) continue;
      cut_triangle(net, (net_point[3]){b, d, c}, (int[3]){3 * b.index + 1, 3 * c.index, diagonal});
    }
    row = next;
  }
}

static void start_piece(line_net *net, int level) {
  cavum_level_lines *lines = net->lines;
  void *pieces = lines->pieces;
  net->failed = net->failed || !cavum_grow(&pieces, &lines->room_pieces, lines->num_pieces + 1,
                                           sizeof *lines->pieces);
  lines->pieces = pieces;
  if (net->failed) return;
  lines->pieces[lines->num_pieces++] =
      (cavum_level_piece){.level = level, .first = lines->num_points};
}

static void add_point(line_net *net, const place *at) {
  cavum_level_lines *lines = net->lines;
  void *points = lines->points;
  net->failed = net->failed || !cavum_grow(&points, &lines->room_points, lines->num_points + 1,
                                           sizeof *lines->points);
  lines->points = points;
  if (net->failed) return;
  cavum_lattice_weigh(net->weights, net->field->order, net->corners, at->x, at->y);
  double e = hypot(sum_of(net, net->field->e_z_v_per_m), sum_of(net, net->field->e_r_v_per_m));
  lines->points[lines->num_points++] = (cavum_level_point){at->z, at->r, e};
  lines->pieces[lines->num_pieces - 1].count++;
}

// The place on the line beside the middle of two of its places; false where none is found near.
static bool find_middle(place *middle, const line_net *net, const place *a, const place *b) {
  double dx = b->x - a->x, dy = b->y - a->y;
  place at = look_between(net, a, b, 0.5);
  double moved = 0.0, probe = 0.1;  // In lengths of the chord, across it.
  for (int step = 0; step < 3; step++) {
    double t = moved + probe;
    place aside = look_at(net, 0.5 * (a->x + b->x) - t * dy, 0.5 * (a->y + b->y) + t * dx);
    double slope = aside.off - at.off;
    if (slope == 0.0) return false;
    double by = -at.off * probe / slope;
    moved += by;
    if (!(fabs(moved) < 0.5)) return false;
    at = look_at(net, 0.5 * (a->x + b->x) - moved * dy, 0.5 * (a->y + b->y) + moved * dx);
    probe = 0.02;
    if (fabs(by) < 1e-4) break;
  }
  *middle = at;
  return true;
}

static void add_to(line_net *net, const place *a, const place *b) {
  place ends[HALVINGS_MOST + 1], from = *a, middle;
  int depth = 0;
  ends[0] = *b;
  while (depth >= 0) {  // The piece from `from` to the end on top of the stack.
    const place *to = &ends[depth];
    double length = hypot(to->z - from.z, to->r - from.r);
    bool curved = false;
    if (depth < HALVINGS_MOST && length > 0.0 && find_middle(&middle, net, &from, to)) {
      double off =
          ((middle.z - from.z) * (to->r - from.r) - (middle.r - from.r) * (to->z - from.z)) /
          length;
      curved = fabs(off) > net->options->fine_m;
    }
    if (curved) {
      ends[++depth] = middle;
      continue;
    }
    add_point(net, to);
    from = *to;
    depth--;
  }
}

static void follow(line_net *net, int start, int level) {
  int at = start, from = -1;
  bool closed = false;
  start_piece(net, level);
  if (net->failed) return;
  while (at >= 0 && !closed) {
    side_crossing *crossing = &net->crossings[at];
    closed = crossing->drawn;
    crossing->drawn = true;
    if (from < 0) add_point(net, &crossing->at);
    if (from >= 0) add_to(net, &net->crossings[from].at, &crossing->at);
    int next = crossing->next[0] != from ? crossing->next[0] : crossing->next[1];
    if (crossing->count == 1 && from >= 0) next = -1;
    from = at;
    at = next;
  }
}

static void follow_all(line_net *net, int num_points, int level) {
  for (int pass = 0; pass < 2; pass++) {  // Open lines from their ends first, rings then.
    for (int side = 0; side < 3 * num_points && !net->failed; side++) {
      side_crossing *crossing = &net->crossings[side];
      if (!crossing->crossed || crossing->drawn || (pass == 0 && crossing->count != 1)) continue;
      follow(net, side, level);
    }
  }
}

static void find_in_element(line_net *net) {
  int num_points = cavum_element_lattice_count(net->corners, net->divisions);
  double low = HUGE_VAL, high = -HUGE_VAL;
  for (int i = 0; i < num_points; i++) {
    low = cavum_min(low, net->flux[i]);
    high = cavum_max(high, net->flux[i]);
  }
  for (int level = -net->options->count; level < net->options->count; level++) {
    net->value = (level + 0.5) * net->options->step_a;
    if (net->value < low || net->value > high) continue;
    memset(net->crossings, 0, 3 * (size_t)num_points * sizeof *net->crossings);
    cut_net(net);
    follow_all(net, num_points, level);
  }
}

cavum_status cavum_level_lines_find(cavum_level_lines *lines, cavum_scene *scene,
                                    const cavum_level_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  const cavum_field_grid *field = &scene->mode->field;
  const int finest = cavum_element_lattice_count(4, 1 << CAVUM_LATTICE_LEVEL_MOST);
  double *work = cavum_alloc(2 * (int64_t)finest, sizeof *work);
  double *weights = cavum_alloc(cavum_element_lattice_count(4, field->order), sizeof *weights);
  side_crossing *crossings = cavum_alloc(3 * (int64_t)finest, sizeof *crossings);
  if (!work || !weights || !crossings) CAVUM_TRY(cavum_fail_memory(error));
  double *r = work, *flux = work + finest;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    int level = cavum_field_choose_level(scene, e, 1.0 / options->coarse_m, 1.0);
    int corners = mesh->elements[e].num_corners;
    int64_t first = scene->first_point[e];
    cavum_lattice *lattice = &scene->lattice;
    CAVUM_TRY(cavum_lattice_refine(r, lattice, field->r_m + first, corners, level, error));
    CAVUM_TRY(
        cavum_lattice_refine(flux, lattice, field->h_phi_a_per_m + first, corners, level, error));
    int num_points = cavum_element_lattice_count(corners, 1 << level);
    for (int i = 0; i < num_points; i++) flux[i] *= r[i];
    line_net net = {.options = options,
                    .field = field,
                    .first = first,
                    .num_coarse = cavum_element_lattice_count(corners, field->order),
                    .corners = corners,
                    .divisions = 1 << level,
                    .flux = flux,
                    .weights = weights,
                    .crossings = crossings,
                    .lines = lines};
    find_in_element(&net);
    if (net.failed) CAVUM_TRY(cavum_fail_memory(error));
  }
done:
  free(work);
  free(weights);
  free(crossings);
  return status;
}

void cavum_level_lines_clear(cavum_level_lines *lines) {
  if (!lines) return;
  free(lines->points);
  free(lines->pieces);
  memset(lines, 0, sizeof *lines);
}
