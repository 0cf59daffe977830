// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesh_cases.h
 * Contours that a mesher has to cope with, each with the largest number of elements it may need.
 */
#ifndef CAVUM_TEST_MESH_CASES_H
#define CAVUM_TEST_MESH_CASES_H

#include "mesh_shapes.h"

static const cavum_boundary AXIS = CAVUM_BOUNDARY_AXIS, METAL = CAVUM_BOUNDARY_METAL,
                            ELECTRIC = CAVUM_BOUNDARY_ELECTRIC, MAGNETIC = CAVUM_BOUNDARY_MAGNETIC;

/** A named contour. */
typedef struct cavum_mesh_case {
  const char *name;
  void (*draw)(cavum_pen *pen);
  int most_elements;
} cavum_mesh_case;

static inline void draw_pillbox(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 100, 0, AXIS);
  pen_line(pen, 100, 115, METAL);
  pen_line(pen, 0, 115, METAL);
  pen_line(pen, 0, 0, METAL);
}

static inline void draw_coax(cavum_pen *pen) {
  *pen = pen_start(0, 20);
  pen_line(pen, 115, 20, METAL);
  pen_line(pen, 115, 60, METAL);
  pen_line(pen, 0, 60, METAL);
  pen_line(pen, 0, 20, METAL);
}

static inline void draw_sphere(cavum_pen *pen) {
  *pen = pen_start(-80, 0);
  pen_line(pen, 80, 0, AXIS);
  pen_ellipse(pen, 0, 0, 80, 80, 0, 180, METAL);
}

static inline void draw_capsule(cavum_pen *pen) {
  *pen = pen_start(-90, 0);
  pen_line(pen, 90, 0, AXIS);
  pen_ellipse(pen, 50, 0, 40, 40, 0, 90, METAL);
  pen_line(pen, -50, 40, METAL);
  pen_ellipse(pen, -50, 0, 40, 40, 90, 90, METAL);
}

static inline void draw_spheroid(cavum_pen *pen) {
  *pen = pen_start(-30, 0);
  pen_line(pen, 30, 0, AXIS);
  pen_ellipse(pen, 0, 0, 30, 100, 0, 180, METAL);
}

static inline void draw_concentric(cavum_pen *pen) {
  *pen = pen_start(-80, 0);
  pen_line(pen, -30, 0, AXIS);
  pen_ellipse(pen, 0, 0, 30, 30, 180, -180, METAL);
  pen_line(pen, 80, 0, AXIS);
  pen_ellipse(pen, 0, 0, 80, 80, 0, 180, METAL);
}

/** Pillbox with a sharp step: an L, one re-entrant corner. */
static inline void draw_step(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 120, 0, AXIS);
  pen_line(pen, 120, 50, METAL);
  pen_line(pen, 60, 50, METAL);
  pen_line(pen, 60, 110, METAL);
  pen_line(pen, 0, 110, METAL);
  pen_line(pen, 0, 0, METAL);
}

/** Re-entrant cavity: a rounded nose on each side of a beam gap. */
static inline void draw_nose_cone(cavum_pen *pen) {
  *pen = pen_start(-90, 0);
  pen_line(pen, 90, 0, AXIS);
  pen_line(pen, 90, 12, ELECTRIC);
  pen_line(pen, 20, 12, METAL);
  pen_ellipse(pen, 20, 17, 5, 5, 270, -120, METAL);
  double c = 20 + 5 * cos(150 * acos(-1.0) / 180), d = 17 + 5 * sin(150 * acos(-1.0) / 180);
  double t = 30;  // along the flank, which rises at 60 degrees
  pen_line(pen, c + t * 0.5, d + t * sqrt(0.75), METAL);
  pen_line(pen, 60, pen->at.r_m * 1e3, METAL);
  pen_line(pen, 60, 90, METAL);
  pen_ellipse(pen, 40, 90, 20, 20, 0, 90, METAL);
  pen_line(pen, -60, 110, METAL);
  pen_line(pen, -60, 12, METAL);
  pen_line(pen, -90, 12, METAL);
  pen_line(pen, -90, 0, ELECTRIC);
}

/** Coaxial resonator whose inner conductor ends in a gap on the axis. */
static inline void draw_gap_coax(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 8, 0, AXIS);
  pen_line(pen, 8, 12, METAL);
  pen_ellipse(pen, 11, 12, 3, 3, 180, -90, METAL);
  pen_line(pen, 140, 15, METAL);
  pen_line(pen, 140, 50, METAL);
  pen_line(pen, 0, 50, METAL);
  pen_line(pen, 0, 0, METAL);
}

static inline void draw_spline(cavum_pen *pen) {
  *pen = pen_start(-70, 0);
  pen_line(pen, 70, 0, AXIS);
  pen_line(pen, 70, 20, MAGNETIC);
  pen_cubic(pen, 55, 20, 60, 80, 30, 90, METAL);
  pen_cubic(pen, 0, 100, -10, 60, -30, 55, METAL);
  pen_cubic(pen, -50, 50, -50, 25, -70, 25, METAL);
  pen_line(pen, -70, 0, MAGNETIC);
}

/** Pillbox with a tube of 1 mm radius. */
static inline void draw_tiny_tube(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 105, 0, AXIS);
  pen_line(pen, 105, 1, ELECTRIC);
  pen_line(pen, 100, 1, METAL);
  pen_line(pen, 100, 100, METAL);
  pen_line(pen, 0, 100, METAL);
  pen_line(pen, 0, 0, METAL);
}

/** Pillbox with a slit of 0.5 mm in the wall. */
static inline void draw_slit(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 100, 0, AXIS);
  pen_line(pen, 100, 100, METAL);
  pen_line(pen, 60.5, 100, METAL);
  pen_line(pen, 60.5, 115, METAL);
  pen_line(pen, 60, 115, METAL);
  pen_line(pen, 60, 100, METAL);
  pen_line(pen, 0, 100, METAL);
  pen_line(pen, 0, 0, METAL);
}

/** A disc-loaded guide: two thin rounded irises between three cells. */
static inline void draw_discs(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 99, 0, AXIS);
  pen_line(pen, 99, 40, MAGNETIC);
  pen_line(pen, 70, 40, METAL);
  pen_line(pen, 70, 14, METAL);
  pen_ellipse(pen, 67, 14, 3, 3, 0, -180, METAL);
  pen_line(pen, 64, 40, METAL);
  pen_line(pen, 36, 40, METAL);
  pen_line(pen, 36, 14, METAL);
  pen_ellipse(pen, 33, 14, 3, 3, 0, -180, METAL);
  pen_line(pen, 30, 40, METAL);
  pen_line(pen, 0, 40, METAL);
  pen_line(pen, 0, 0, MAGNETIC);
}

/** Cone whose tip lies on the axis. */
static inline void draw_cone(cavum_pen *pen) {
  *pen = pen_start(0, 0);
  pen_line(pen, 100, 0, AXIS);
  pen_line(pen, 100, 60, METAL);
  pen_line(pen, 0, 0, METAL);
}

static const cavum_mesh_case cavum_mesh_cases[] = {
    {"pillbox", draw_pillbox, 9},
    {"coax", draw_coax, 16},
    {"sphere", draw_sphere, 24},
    {"capsule", draw_capsule, 40},
    {"spheroid", draw_spheroid, 40},
    {"concentric", draw_concentric, 60},
    {"step", draw_step, 60},
    {"nose_cone", draw_nose_cone, 250},
    {"gap_coax", draw_gap_coax, 150},
    {"spline", draw_spline, 80},
    {"tiny_tube", draw_tiny_tube, 200},
    {"slit", draw_slit, 400},
    {"discs", draw_discs, 250},
    {"cone", draw_cone, 40},
};
enum { CAVUM_NUM_MESH_CASES = sizeof cavum_mesh_cases / sizeof cavum_mesh_cases[0] };

/** A symmetric two-ellipse cell, in millimetres; tube_mm = 0: electric ends at the iris planes. */
static inline cavum_cell two_ellipse_cell(double length, double iris, double equator, double big_z,
                                          double big_r, double small_z, double small_r,
                                          double tube_mm) {
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell.left = (cavum_half_cell){1e-3 * length, 1e-3 * iris,    1e-3 * equator, 1e-3 * big_z,
                                1e-3 * big_r,  1e-3 * small_z, 1e-3 * small_r};
  cell.right = cell.left;
  cell.left_end = (cavum_end){.kind = CAVUM_END_ELECTRIC};
  if (tube_mm > 0.0) {
    cell.left_end =
        (cavum_end){CAVUM_END_TUBE, 1e-3 * tube_mm, 1e-3 * iris, CAVUM_BOUNDARY_ELECTRIC};
  }
  cell.right_end = cell.left_end;
  return cell;
}

#endif
