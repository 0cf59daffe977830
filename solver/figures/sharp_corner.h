// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/sharp_corner.h
 * How singular the field is at the corners of the boundary.
 */
#ifndef CAVUM_FIGURES_SHARP_CORNER_H
#define CAVUM_FIGURES_SHARP_CORNER_H

#include "figures/view.h"

/** What counts as no corner and no tip: fields of larger exponents are smooth enough. */
#define CAVUM_SMOOTH_EXPONENT 2.0

/** How slowly figures converge for the sake of corners; each at most CAVUM_SMOOTH_EXPONENT. */
typedef struct cavum_weakest_exponents {
  double corner; /**< Smallest lambda of all corners off the axis where the wall turns or materials
                      meet, inside too; energies go as p^(-4 lambda). */
  double tip;    /**< Half of the smallest nu of the tips on the axis beyond a right angle, and
                      where materials meet there:
                      integrals of E along the axis go as p^(-2 nu), as at a corner of nu / 2. */
} cavum_weakest_exponents;

/** Whether a corner is a tip on the axis where E is infinite: one that is natural and blunt. */
bool cavum_sharp_corner_is_tip(const cavum_boundary_corner *corner, const cavum_view *view);

/**
 * Marks the vertices of a mesh at which E has no limit, or on the axis one that no elements come
 * near, a fraction of a degree below a right angle: at corners of metal, of lossless planes and
 * of dielectrics, also inside.
 * @param[out] marked  Shape [num_vertices].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_sharp_corner_mark(bool *marked, const cavum_view *view, cavum_error *error);

/** The weakest exponents of an outline (contour/singular_exponent.h). */
cavum_weakest_exponents cavum_sharp_corner_weakest_exponents(const cavum_view *view);

/**
 * Where the weakest exponent below 1 is, of those above.
 * @param[out] place  Untouched where *found is false.
 * @param[out] found  Whether there is one.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_sharp_corner_weakest_place(cavum_point *place, bool *found,
                                              const cavum_view *view, cavum_error *error);

/**
 * The sharpest corner at which E grows without bound: metal meets metal (or another natural
 * boundary) at more than 180 degrees, a w = 0 boundary at more than 90 degrees, or the axis at more
 * than 90 degrees; or a dielectric meets a wall at such an angle that E has an exponent below 0, as
 * beyond 90 degrees on a smooth one.
 *
 * @param[out] corner  Position; untouched when false is returned.
 * @param[in]  view    Its parity decides what a mirror plane is.
 * @return true when there is one.
 */
bool cavum_sharp_corner_find(cavum_point *corner, const cavum_view *view);

#endif
