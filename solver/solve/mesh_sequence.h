// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mesh_sequence.h
 * Ladders on finer and finer meshes until the accuracy is reached.
 */
#ifndef CAVUM_SOLVE_MESH_SEQUENCE_H
#define CAVUM_SOLVE_MESH_SEQUENCE_H

#include "solve/problem.h"

/**
 * Climbs on one mesh after the other; the last ladder stays in the problem, its steps and those of
 * the ladders before are in the result. A mesh file is climbed once.
 * @retval CAVUM_ERR_MESH  the mesh carries fewer modes than were asked for; others as those of
 * cavum_cell_mesh_make() and cavum_ladder_climb().
 */
cavum_status cavum_mesh_sequence_climb(cavum_problem *problem, cavum_error *error);

#endif
