// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/mirror.h
 * Whether a closed contour is its own mirror image, and the half of it that is solved then.
 */
#ifndef CAVUM_CONTOUR_MIRROR_H
#define CAVUM_CONTOUR_MIRROR_H

#include "contour/builder.h"
#include "contour/curve_rate.h"

/**
 * Where the mirror plane meets a contour. Places count half curves: 2 i is the start of curve i,
 * 2 i + 1 the middle of curve i.
 */
typedef struct cavum_contour_mirror {
  double plane_m; /**< The plane is z = plane_m. */
  cavum_index
      lower; /**< Place at the smaller radius: on the axis, or on an inner conductor of a ring. */
  cavum_index upper; /**< Place on the outer wall. */
} cavum_contour_mirror;

/**
 * Looks for a plane z = constant about which a contour is its own mirror image.
 *
 * The image of curve i, run backwards, must be another curve (or curve i itself) of the same form
 * and boundary, to 1e-12 of the contour's size; the order of travel turns round. Such a map of a
 * closed line that does not cross itself leaves exactly two places fixed, each at a junction or in
 * the middle of a curve: there the plane is crossed. A wall that is drawn in other pieces at one
 * side than at the other is not recognised. A plane through a re-entrant edge of the wall is not
 * used either: the whole corner, with its own small elements, is the better model.
 *
 * @param[out] mirror   Set when there is one.
 * @param[in]  contour  Closed, inside on the left, free of crossings.
 * @return Whether there is a plane.
 */
bool cavum_contour_find_mirror(cavum_contour_mirror *mirror, const cavum_contour *contour);

/**
 * The half at larger z: from the lower place along the contour to the upper one, and back along the
 * plane, which is CAVUM_BOUNDARY_SYMMETRY.
 *
 * @param[in,out] builder  Appended to; empty at first.
 * @param[in]     contour  As above.
 * @param[in]     mirror   Found for it.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_cut_half(cavum_contour_builder *builder, const cavum_contour *contour,
                                    const cavum_contour_mirror *mirror, cavum_error *error);

/**
 * Rates of the curves of that half for a dimension of the whole: the part of the change that is
 * even about the plane, or the one that is odd. To first order the latter does nothing to figures
 * of a mode that are the same in the mirror; at one side of the plane it changes fields by as much
 * as it does at the other, with the other sign. It moves the plane itself along the axis.
 *
 * @param[out] half     Shape [num_half]: as cavum_contour_cut_half() orders them.
 * @param[in]  num_half Curves of the half.
 * @param[in]  whole    Shape [contour->num_curves].
 * @param[in]  contour  As above, without parallels.
 * @param[in]  odd      Which part.
 * @return false where the half has another number of curves.
 */
bool cavum_contour_halve_rates(cavum_curve_rate *half, cavum_index num_half,
                               const cavum_curve_rate *whole, const cavum_contour *contour,
                               const cavum_contour_mirror *mirror, bool odd);

#endif
