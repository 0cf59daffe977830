// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/pair.h
 * From triangles to patches.
 */
#ifndef CAVUM_MESHER_PAIR_H
#define CAVUM_MESHER_PAIR_H

#include "mesher/coarse.h"
#include "mesher/patches.h"

/**
 * Joins triangles in pairs where that makes good quadrilaterals.
 * @param[out] patches  Emptied first.
 * @param[in]  coarse   Filled.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_pair_triangles(cavum_patches *patches, const cavum_coarse *coarse,
                                  cavum_error *error);

#endif
