// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/cut.h
 * Patches without points inside the domain.
 */
#ifndef CAVUM_MESHER_CUT_H
#define CAVUM_MESHER_CUT_H

#include "mesher/patches.h"

/**
 * Cuts the domain from boundary to boundary into patches of least cost, without points inside.
 *
 * The boundary points are chosen together with the cuts from about twice as many candidates, so
 * that opposite sides of a tube get points that face each other.
 *
 * @param[out] patches  Emptied first; empty when the sizes cannot be met in this way.
 * @param[in]  contour  The contour of field and density.
 * @param[in]  field    Sizes.
 * @param[in]  density  Density of segments.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cut_patches(cavum_patches *patches, const cavum_contour *contour,
                               const cavum_size_field *field, const cavum_density *density,
                               cavum_error *error);

#endif
