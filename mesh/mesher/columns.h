// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/columns.h
 * The mesh of a cell: columns from the axis to the wall.
 */
#ifndef CAVUM_MESHER_COLUMNS_H
#define CAVUM_MESHER_COLUMNS_H

#include "mesher/quads.h"

/**
 * Fills quadrilaterals in columns between the axis and the wall, in rows along the axis.
 *
 * For contours that consist of an axis from left to right, a plane up from it at each end, and a
 * wall back from right to left, as cells with or without tubes have. The row at the axis is
 * rectangular, where the fields along the axis are wanted best.
 *
 * @param[out] quads    Emptied first; empty when the contour is not of that kind.
 * @param[in]  contour  Borrowed by the result.
 * @param[in]  options  Resolved.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_columns_build(cavum_quads *quads, const cavum_contour *contour,
                                 const cavum_mesh_options *options, cavum_error *error);

#endif
