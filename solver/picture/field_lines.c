// SPDX-License-Identifier: GPL-3.0-or-later
// Electric field lines: contours of r H_phi, because the displacement current through the circle of
// radius r is 2 pi r H_phi. Equal steps of r H_phi are equal steps of flux.
//
// Each element is refined and cut into triangles; the pieces of the contour of one
// value of r H_phi in its triangles are joined through the edges they cross.
#include "picture/field_lines.h"

#include <string.h>

#include "base/base.h"

// Length of a piece on the page in points, where the page has no pixels of its own.
static const double PIECE_LENGTH = 4.0;

// A crossing of a contour with an edge of the triangulation: its place and up to two neighbours.
typedef struct edge_crossing {
  double z, r;
  int next[2];  // Sides, or -1.
  int count;
  bool crossed, drawn;
} edge_crossing;

// One element as a triangulation. Sides are numbered by their first point and one of three
// directions: along i, along j, along the diagonal.
typedef struct line_net {
  int corners, divisions;
  const double *z, *r, *flux;
  edge_crossing *crossings;  // Shape [3 * points].
} line_net;

static int row_length(const line_net *net, int j) {
  return net->corners == 4 ? net->divisions + 1 : net->divisions + 1 - j;
}

static int cross(line_net *net, int edge, int a, int b, double value) {
  double fa = net->flux[a] - value, fb = net->flux[b] - value;
  if ((fa < 0.0) == (fb < 0.0)) return -1;
  edge_crossing *crossing = &net->crossings[edge];
  if (!crossing->crossed) {
    double t = fa / (fa - fb);
    *crossing = (edge_crossing){.z = net->z[a] + t * (net->z[b] - net->z[a]),
                                .r = net->r[a] + t * (net->r[b] - net->r[a]),
                                .next = {-1, -1},
                                .crossed = true};
  }
  return edge;
}

static void join(line_net *net, int a, int b) {
  edge_crossing *first = &net->crossings[a], *second = &net->crossings[b];
  if (first->count < 2) first->next[first->count++] = b;
  if (second->count < 2) second->next[second->count++] = a;
}

// A triangle by its points and the numbers of its edges (a b), (b c), (c a).
static void cut_triangle(line_net *net, const int point[3], const int edge[3], double value) {
  int found[3], count = 0;
  for (int k = 0; k < 3; k++) {
    int crossed = cross(net, edge[k], point[k], point[(k + 1) % 3], value);
    if (crossed >= 0) found[count++] = crossed;
  }
  if (count == 2) join(net, found[0], found[1]);
}

static void cut_net(line_net *net, double value) {
  int row = 0;
  for (int j = 0; j < net->divisions; j++) {
    int length = row_length(net, j), next = row + length;
    for (int i = 0; i + 1 < length; i++) {
      int a = row + i, b = a + 1, c = next + i, d = c + 1;
      // Side numbers: 3 p along i from p, 3 p + 1 along j from p, 3 p + 2 the diagonal b to c.
      cut_triangle(net, (int[3]){a, b, c}, (int[3]){3 * a, 3 * a + 2, 3 * a + 1}, value);
      if (net->corners == 3 && i + 2 >= length) continue;
      cut_triangle(net, (int[3]){b, d, c}, (int[3]){3 * b + 1, 3 * c, 3 * a + 2}, value);
    }
    row = next;
  }
}

// What a line needs on its way to the page.
typedef struct line_pen {
  cavum_canvas *canvas;
  const cavum_field_frame *frame;
  double sign;
  bool down;
} line_pen;

static void add_point(line_pen *pen, double z, double r) {
  const cavum_field_frame *frame = pen->frame;
  double x = frame->x0 + pen->sign * z * frame->scale;
  double y = frame->y0 - (frame->flipped ? -r : r) * frame->scale;
  if (pen->down) cavum_canvas_line(pen->canvas, x, y);
  if (!pen->down) cavum_canvas_move(pen->canvas, x, y);
  pen->down = true;
}

static void follow(line_net *net, int start, line_pen *pen) {
  int at = start, from = -1;
  bool closed = false;
  while (at >= 0 && !closed) {
    edge_crossing *crossing = &net->crossings[at];
    closed = crossing->drawn;
    crossing->drawn = true;
    add_point(pen, crossing->z, crossing->r);
    int next = crossing->next[0] != from ? crossing->next[0] : crossing->next[1];
    if (crossing->count == 1 && from >= 0) next = -1;
    from = at;
    at = next;
  }
}

static void draw_lines(line_net *net, int num_points, const cavum_field_frame *frame,
                       cavum_canvas *canvas, bool mirrored) {
  for (int pass = 0; pass < 2; pass++) {  // Open lines from their ends first, rings then.
    for (int edge = 0; edge < 3 * num_points; edge++) {
      edge_crossing *crossing = &net->crossings[edge];
      if (!crossing->crossed || crossing->drawn || (pass == 0 && crossing->count != 1)) continue;
      line_pen pen = {.canvas = canvas, .frame = frame, .sign = mirrored ? -1.0 : 1.0};
      follow(net, edge, &pen);
    }
  }
  for (int edge = 0; edge < 3 * num_points; edge++) net->crossings[edge].drawn = false;
}

static void draw_element(line_net *net, double step, int count, const cavum_field_frame *frame,
                         cavum_canvas *canvas, const cavum_scene *scene) {
  cavum_field_frame image = cavum_field_mirror_frame(frame, scene);
  int num_points = cavum_element_lattice_count(net->corners, net->divisions);
  double low = HUGE_VAL, high = -HUGE_VAL;
  for (int i = 0; i < num_points; i++) {
    low = cavum_min(low, net->flux[i]);
    high = cavum_max(high, net->flux[i]);
  }
  for (int k = -count; k < count; k++) {
    double value = (k + 0.5) * step;
    if (value < low || value > high) continue;
    memset(net->crossings, 0, 3 * (size_t)num_points * sizeof *net->crossings);
    cut_net(net, value);
    draw_lines(net, num_points, frame, canvas, false);
    if (scene->result->half_model) draw_lines(net, num_points, &image, canvas, true);
  }
}

static double largest_flux(const cavum_field_grid *field) {
  double largest = 0.0;
  for (cavum_index i = 0; i < field->num_points; i++) {
    largest = cavum_max(largest, fabs(field->r_m[i] * field->h_phi_a_per_m[i]));
  }
  return largest;
}

cavum_status cavum_field_lines_add(cavum_canvas *canvas, cavum_scene *scene,
                                   const cavum_field_frame *frame, int count, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  const cavum_field_grid *field = &scene->mode->field;
  const int finest = cavum_element_lattice_count(4, 1 << CAVUM_LATTICE_LEVEL_MOST);
  double *work = cavum_alloc(3 * (int64_t)finest, sizeof *work);
  edge_crossing *crossings = cavum_alloc(3 * (int64_t)finest, sizeof *crossings);
  double step = largest_flux(field) / count;
  if (!work || !crossings) CAVUM_TRY(cavum_fail_memory(error));
  double *z = work, *r = work + finest, *flux = work + 2 * finest;
  for (cavum_index e = 0; e < mesh->num_elements && step > 0.0; e++) {
    int level = cavum_field_choose_level(scene, e, frame->scale, PIECE_LENGTH);
    int corners = mesh->elements[e].num_corners;
    int64_t first = scene->first_point[e];
    cavum_lattice *lattice = &scene->lattice;
    CAVUM_TRY(cavum_lattice_refine(z, lattice, field->z_m + first, corners, level, error));
    CAVUM_TRY(cavum_lattice_refine(r, lattice, field->r_m + first, corners, level, error));
    CAVUM_TRY(
        cavum_lattice_refine(flux, lattice, field->h_phi_a_per_m + first, corners, level, error));
    int num_points = cavum_element_lattice_count(corners, 1 << level);
    for (int i = 0; i < num_points; i++) flux[i] *= r[i];
    line_net net = {corners, 1 << level, z, r, flux, crossings};
    draw_element(&net, step, count, frame, canvas, scene);
  }
done:
  free(work);
  free(crossings);
  return status;
}
