// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/divide.h
 * From patches to quadrilaterals.
 */
#ifndef CAVUM_MESHER_DIVIDE_H
#define CAVUM_MESHER_DIVIDE_H

#include "mesher/patches.h"
#include "mesher/quads.h"

/**
 * Divides each quadrilateral patch into four and each triangle into three.
 *
 * Sides are divided in the middle and patches at their centre, so the result fits together.
 *
 * @param[out] quads    Emptied first.
 * @param[in]  patches  Coarse mesh.
 * @param[in]  contour  Its contour; borrowed by the result.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_divide_patches(cavum_quads *quads, const cavum_patches *patches,
                                  const cavum_contour *contour, cavum_error *error);

#endif
