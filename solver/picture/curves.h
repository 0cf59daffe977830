// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/curves.h
 * E_z on the axis and the surface fields along the wall as curves of shown units, for pictures and
 * for the plots of a report.
 */
#ifndef CAVUM_PICTURE_CURVES_H
#define CAVUM_PICTURE_CURVES_H

#include "canvas/flow.h"
#include "picture/scene.h"

/** E_z on the axis. */
typedef struct cavum_axis_curve {
  int num_points;
  double *z_mm, *e_z; /**< Owned. E_z in the scene's unit; its largest value is positive. */
} cavum_axis_curve;

/**
 * Surface fields along the whole wall, from its left end; a mirror-symmetric half is completed. A
 * gap between separate walls is a row of NaN. Sizes without sign.
 */
typedef struct cavum_wall_plot {
  int num_points, num_junctions;
  double *s_mm, *e, *b;  /**< Owned: |E| and mu0 |H| in the scene's units. */
  double *z_mm, *r_mm;   /**< Owned. */
  double *junction_mm;   /**< Owned: arc length of junctions of the contour, [num_junctions]. */
  bool of_irises;        /**< They were too many to be told apart: these are the irises alone. */
  double e_high, b_high; /**< Upper ends of axes that show them; cut where a peak is unbounded. */
} cavum_wall_plot;

/** Makes the axis curve; num_points is 0 when the result has no axis profile. */
cavum_status cavum_axis_curve_create(cavum_axis_curve *curve, const cavum_scene *scene,
                                     cavum_error *error);
/** Frees it. */
void cavum_axis_curve_clear(cavum_axis_curve *curve);

/** Makes the wall curve; num_points is 0 when the result has no wall profile. */
cavum_status cavum_wall_plot_create(cavum_wall_plot *curve, const cavum_scene *scene,
                                    cavum_error *error);
/** Frees it. */
void cavum_wall_plot_clear(cavum_wall_plot *curve);

/** Index of the wall point nearest to a place; -1 without points. */
int cavum_wall_plot_find(const cavum_wall_plot *curve, cavum_point place);

/** Names of the shown quantities, as mark-up. */
const char *cavum_axis_curve_label(const cavum_scene *scene);

/** Draws E_z over z into a frame; low and high limits of z are the frame's own. */
void cavum_axis_curve_draw(cavum_canvas *canvas, const cavum_scene *scene,
                           const cavum_axis_curve *curve, cavum_plot plot);

/** Draws |E| and mu0 |H| over the arc length into two frames, one above the other. */
void cavum_wall_curve_draw(cavum_canvas *canvas, const cavum_scene *scene,
                           const cavum_wall_plot *curve, double x, double y, double width,
                           double height);

/** Keys of the wall's picture. */
void cavum_wall_curve_add_keys(cavum_flow *flow, const cavum_scene *scene,
                               const cavum_wall_plot *curve);

#endif
