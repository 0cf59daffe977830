// SPDX-License-Identifier: GPL-3.0-or-later
// Smoothing by local search: each inner vertex tries the middle of its neighbours, then steps in
// eight directions, and keeps what makes the worst quadrilateral around it better.
#include "quads_smooth.h"

#include "base.h"

enum { SWEEPS = 6, NUM_DIRECTIONS = 8, SAMPLES = 3 };
// Vertices whose quadrilaterals are all at least this good stay where the first sweeps put them.
static const double good_enough = 0.75;
// First step of the search over the mean length of the sides around the vertex.
static const double first_step = 0.2;

// Quadrilaterals around vertices: those of v are list[start[v]] to list[start[v + 1] - 1].
typedef struct stars {
  cavum_index *start, *list;
  bool *fixed;  // on a curve
} stars;

static void free_stars(stars *around) {
  free(around->start);
  free(around->list);
  free(around->fixed);
}

static cavum_status find_stars(stars *around, const cavum_quads *quads, cavum_error *error) {
  int64_t n = quads->num_vertices;
  around->start = cavum_alloc(n + 2, sizeof *around->start);
  around->list = cavum_alloc(4 * (int64_t)quads->num_quads, sizeof *around->list);
  around->fixed = cavum_alloc(n, sizeof *around->fixed);
  if (!around->start || !around->list || !around->fixed) return cavum_fail_memory(error);
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    const cavum_quad *quad = &quads->quads[q];
    for (int k = 0; k < 4; k++) {
      around->start[quad->vertex[k] + 2]++;
      if (quad->curve[k] < 0) continue;
      around->fixed[quad->vertex[k]] = around->fixed[quad->vertex[(k + 1) % 4]] = true;
    }
  }
  for (int64_t v = 2; v < n + 2; v++) around->start[v] += around->start[v - 1];
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    for (int k = 0; k < 4; k++) around->list[around->start[quads->quads[q].vertex[k] + 1]++] = q;
  }
  return CAVUM_OK;
}

// 1 for parallelograms with right angles, 0 and below for folded elements.
static double quality_of(const cavum_quads *quads, const cavum_quad *quad) {
  cavum_quad_shape shape = cavum_quads_measure(quads, quad, SAMPLES);
  if (shape.scaled_jacobian <= 0.0) return shape.scaled_jacobian;
  return shape.sine * sqrt(sqrt(shape.scaled_jacobian));
}

static double worst_around(const cavum_quads *quads, const stars *around, cavum_index v) {
  double worst = 1.0;
  for (cavum_index i = around->start[v]; i < around->start[v + 1]; i++) {
    worst = cavum_min(worst, quality_of(quads, &quads->quads[around->list[i]]));
  }
  return worst;
}

// Mean of the vertices at the other ends of the sides at v, and the mean length of these sides.
static double middle_of_neighbours(cavum_point *middle, const cavum_quads *quads,
                                   const stars *around, cavum_index v) {
  double z = 0.0, r = 0.0, length = 0.0;
  cavum_index count = around->start[v + 1] - around->start[v];
  for (cavum_index i = around->start[v]; i < around->start[v + 1]; i++) {
    const cavum_quad *quad = &quads->quads[around->list[i]];
    int corner = 0;
    while (quad->vertex[corner] != v) corner++;
    cavum_point next = quads->vertices[quad->vertex[(corner + 1) % 4]];
    z += next.z_m, r += next.r_m;
    length += hypot(next.z_m - quads->vertices[v].z_m, next.r_m - quads->vertices[v].r_m);
  }
  *middle = (cavum_point){z / count, r / count};
  return length / count;
}

// Moves v when that makes its worst quadrilateral better; returns the worst then.
static double try_place(cavum_quads *quads, const stars *around, cavum_index v, cavum_point place,
                        double worst) {
  cavum_point before = quads->vertices[v];
  quads->vertices[v] = place;
  double now = worst_around(quads, around, v);
  if (now > worst + 1e-6) return now;
  quads->vertices[v] = before;
  return worst;
}

static void improve_vertex(cavum_quads *quads, const stars *around, cavum_index v, double scale) {
  static const double directions[NUM_DIRECTIONS][2] = {
      {1, 0}, {0, 1}, {-1, 0}, {0, -1}, {0.7, 0.7}, {-0.7, 0.7}, {-0.7, -0.7}, {0.7, -0.7}};
  cavum_point middle;
  double worst = worst_around(quads, around, v);
  if (worst >= good_enough) return;
  double step = scale * middle_of_neighbours(&middle, quads, around, v);
  worst = try_place(quads, around, v, middle, worst);
  for (int d = 0; d < NUM_DIRECTIONS; d++) {
    cavum_point at = quads->vertices[v];
    cavum_point place = {at.z_m + step * directions[d][0], at.r_m + step * directions[d][1]};
    worst = try_place(quads, around, v, place, worst);
  }
}

cavum_status cavum_quads_smooth(cavum_quads *quads, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  stars around = {NULL, NULL, NULL};
  CAVUM_TRY(find_stars(&around, quads, error));
  double scale = first_step;
  for (int sweep = 0; sweep < SWEEPS; sweep++) {
    for (cavum_index v = 0; v < quads->num_vertices; v++) {
      if (!around.fixed[v]) improve_vertex(quads, &around, v, scale);
    }
    scale *= 0.6;
  }
done:
  free_stars(&around);
  return status;
}
