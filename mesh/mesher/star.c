// SPDX-License-Identifier: GPL-3.0-or-later
// Neighbourhoods of vertices.
#include "mesher/star.h"

#include <string.h>

#include "base/base.h"

void cavum_star_clear(cavum_star *star) {
  if (!star) return;
  free(star->start);
  free(star->list);
  free(star->slide);
  memset(star, 0, sizeof *star);
}

// Notes that a vertex lies on a curve at t: once inside it can slide if straight, at an end never.
static void note_curve(cavum_slide *slide, const cavum_contour *contour, cavum_index curve,
                       double t) {
  bool inside = t > 0.0 && t < 1.0 && contour->curves[curve].kind == CAVUM_CURVE_LINE;
  if (slide->kind == CAVUM_SLIDE_FIXED) return;
  *slide = (cavum_slide){inside ? CAVUM_SLIDE_LINE : CAVUM_SLIDE_FIXED, curve, t};
}

cavum_status cavum_star_build(cavum_star *star, const cavum_quads *quads, cavum_error *error) {
  int64_t n = quads->num_vertices;
  cavum_star_clear(star);
  star->start = cavum_alloc(n + 2, sizeof *star->start);
  star->list = cavum_alloc(4 * (int64_t)quads->num_quads, sizeof *star->list);
  star->slide = cavum_alloc(n, sizeof *star->slide);
  if (!star->start || !star->list || !star->slide) return cavum_fail_memory(error);
  for (int64_t v = 0; v < n; v++) star->slide[v].curve = -1;
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    const cavum_quad *quad = &quads->quads[q];
    for (int k = 0; k < 4; k++) {
      star->start[quad->vertex[k] + 2]++;
      if (quad->curve[k] < 0) continue;
      cavum_slide *a = &star->slide[quad->vertex[k]], *b = &star->slide[quad->vertex[(k + 1) & 3]];
      note_curve(a, quads->contour, quad->curve[k], quad->t[k][0]);
      note_curve(b, quads->contour, quad->curve[k], quad->t[k][1]);
    }
  }
  for (int64_t v = 2; v < n + 2; v++) star->start[v] += star->start[v - 1];
  for (cavum_index q = 0; q < quads->num_quads; q++) {
    for (int k = 0; k < 4; k++) star->list[star->start[quads->quads[q].vertex[k] + 1]++] = q;
  }
  return CAVUM_OK;
}

double cavum_star_length(const cavum_star *star, const cavum_quads *quads, cavum_index v) {
  double length = 0.0;
  cavum_point here = quads->vertices[v];
  for (cavum_index i = star->start[v]; i < star->start[v + 1]; i++) {
    const cavum_quad *quad = &quads->quads[star->list[i]];
    int corner = 0;
    while (quad->vertex[corner] != v) corner++;
    cavum_point next = quads->vertices[quad->vertex[(corner + 1) & 3]];
    double dz = next.z_m - here.z_m, dr = next.r_m - here.r_m;
    length += sqrt(dz * dz + dr * dr);
  }
  return length / (star->start[v + 1] - star->start[v]);
}

void cavum_star_range(double *low, double *high, const cavum_star *star, const cavum_quads *quads,
                      cavum_index v) {
  *low = 0.0;
  *high = 1.0;
  for (cavum_index i = star->start[v]; i < star->start[v + 1]; i++) {
    const cavum_quad *quad = &quads->quads[star->list[i]];
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] != star->slide[v].curve) continue;
      if (quad->vertex[k] == v) *high = quad->t[k][1];
      if (quad->vertex[(k + 1) & 3] == v) *low = quad->t[k][0];
    }
  }
}

void cavum_star_set_parameter(cavum_star *star, cavum_quads *quads, cavum_index v, double t) {
  cavum_index curve = star->slide[v].curve;
  star->slide[v].t = t;
  quads->vertices[v] = cavum_curve_point(&quads->contour->curves[curve], t);
  for (cavum_index i = star->start[v]; i < star->start[v + 1]; i++) {
    cavum_quad *quad = &quads->quads[star->list[i]];
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] != curve) continue;
      if (quad->vertex[k] == v) quad->t[k][0] = t;
      if (quad->vertex[(k + 1) & 3] == v) quad->t[k][1] = t;
    }
  }
}
