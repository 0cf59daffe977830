// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/level_modes.h
 * The modes of one level.
 */
#ifndef CAVUM_SOLVE_LEVEL_MODES_H
#define CAVUM_SOLVE_LEVEL_MODES_H

#include "solve/level.h"

/**
 * Finds the modes of all classes that are asked for, at all degrees of the level;
 * level->num_degrees falls where the lower degrees carry too few.
 * @param[in,out] level  Prepared: its coefficients are those of the present mesh.
 * @retval CAVUM_ERR_MESH, CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_level_find_modes(cavum_level *level, const cavum_level_input *input,
                                    cavum_error *error);

/** Frees the modes of a class. */
void cavum_level_clear_class(cavum_level_class *class);

#endif
