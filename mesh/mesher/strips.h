// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/strips.h
 * Strips of thin elements along conductors that are much thinner than the elements beside them.
 */
#ifndef CAVUM_MESHER_STRIPS_H
#define CAVUM_MESHER_STRIPS_H

#include "mesher/quads.h"

/**
 * Divides the elements along straight thin conductors that end in the cell (needles, slender
 * cones), again and again, by lines along the conductor half of the way, until they carry
 * the 1 / r^2 of w = H / r there (element/thin_conductor.h). Other meshes are left as they are, and
 * so are those that two conductors share an element of.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_strips_add(cavum_quads *quads, cavum_error *error);

#endif
