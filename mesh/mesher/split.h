// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/split.h
 * Refinement that keeps the layout of a mesh.
 */
#ifndef CAVUM_MESHER_SPLIT_H
#define CAVUM_MESHER_SPLIT_H

#include "mesher/quads.h"

/**
 * Divides every quadrilateral into divisions x divisions; divisions below 2 change nothing.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_split_quads(cavum_quads *quads, int divisions, cavum_error *error);

#endif
