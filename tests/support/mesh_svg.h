// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesh_svg.h
 * Draws a mesh as SVG, to look at: set CAVUM_SVG_FOLDER and run the mesher's tests.
 */
#ifndef CAVUM_TEST_MESH_SVG_H
#define CAVUM_TEST_MESH_SVG_H

#include <stdio.h>
#include <stdlib.h>

#include "cavum/mesh.h"

static inline void svg_edge(FILE *file, const cavum_mesh *mesh, const cavum_edge *edge,
                            double scale, double left, double top) {
  static const char *colours[] = {"#888888", "#000000", "#1060d0", "#d02020", "#209020", "#b08000"};
  int steps = edge->curve < 0 ? 1 : 16;
  fprintf(file, "<polyline fill='none' stroke-width='%g' stroke='%s' points='",
          edge->curve < 0 ? 1.0 : 2.0, colours[edge->boundary]);
  for (int i = 0; i <= steps; i++) {
    cavum_point p = mesh->vertices[edge->vertex[i > 0]];
    if (edge->curve >= 0) {
      double w = (double)i / steps;
      p = cavum_curve_point(&mesh->curves[edge->curve], (1.0 - w) * edge->t[0] + w * edge->t[1]);
    }
    fprintf(file, "%.3f,%.3f ", 10.0 + scale * (p.z_m - left), 10.0 + scale * (top - p.r_m));
  }
  fprintf(file, "'/>\n");
}

/** Writes NAME.svg into the folder of CAVUM_SVG_FOLDER; nothing when that is not set. */
static inline void svg_write_mesh(const char *name, const cavum_mesh *mesh) {
  const char *folder = getenv("CAVUM_SVG_FOLDER");
  char path[512];
  if (!folder) return;
  snprintf(path, sizeof path, "%s/%s.svg", folder, name);
  FILE *file = fopen(path, "w");
  if (!file) return;
  double left = 1e300, right = -1e300, top = -1e300, bottom = 1e300;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    cavum_point p = mesh->vertices[i];
    left = p.z_m < left ? p.z_m : left;
    right = p.z_m > right ? p.z_m : right;
    bottom = p.r_m < bottom ? p.r_m : bottom;
    top = p.r_m > top ? p.r_m : top;
  }
  double scale = 1000.0 / (right - left > top - bottom ? right - left : top - bottom);
  fprintf(file,
          "<svg xmlns='http://www.w3.org/2000/svg' width='%g' height='%g'>\n"
          "<rect width='100%%' height='100%%' fill='white'/>\n"
          "<text x='12' y='24' font-size='16'>%s: %d</text>\n",
          20.0 + scale * (right - left), 20.0 + scale * (top - bottom), name,
          (int)mesh->num_elements);
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    svg_edge(file, mesh, &mesh->edges[i], scale, left, top);
  }
  fprintf(file, "</svg>\n");
  fclose(file);
}

/** Writes the outline alone, as a mesh of edges; for outlines that could not be meshed. */
static inline void svg_write_contour(const char *name, const cavum_contour *contour) {
  cavum_mesh outline = {.num_curves = contour->num_curves, .curves = contour->curves};
  outline.vertices = calloc((size_t)contour->num_curves, sizeof *outline.vertices);
  outline.edges = calloc((size_t)contour->num_curves, sizeof *outline.edges);
  if (outline.vertices && outline.edges) {
    outline.num_vertices = outline.num_edges = contour->num_curves;
    for (cavum_index c = 0; c < contour->num_curves; c++) {
      outline.vertices[c] = contour->curves[c].start;
      outline.edges[c] = (cavum_edge){.vertex = {c, (c + 1) % contour->num_curves},
                                      .boundary = contour->curves[c].boundary,
                                      .curve = c,
                                      .t = {0.0, 1.0}};
    }
    svg_write_mesh(name, &outline);
  }
  free(outline.vertices);
  free(outline.edges);
}

#endif
