// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/cell_mesh.h
 * The mesh of a cell, put into a memory: that of the cell before fitted to it, a new one, or one
 * from a file.
 */
#ifndef CAVUM_SOLVE_CELL_MESH_H
#define CAVUM_SOLVE_CELL_MESH_H

#include "solve/problem_memory.h"

/** Meshes in turn, finer and finer, while the accuracy is not reached. */
enum { CAVUM_CELL_MESHES = 4 };

/** With more modes than this one of them is likely to be difficult: all start better equipped. */
enum { CAVUM_FEW_MODES = 2 };

/** Whose mesh. */
typedef struct cavum_cell_mesh_request {
  const cavum_cell *cell; /**< Borrowed. */
  bool half_model;        /**< Only the right of the mirror plane. */
  double refinement;      /**< 0: chosen; else all element sizes of what is chosen are divided by
                               this. */
} cavum_cell_mesh_request;

/**
 * Makes one of the meshes in turn and lists its boundary edges.
 *
 * The mesh of the cell before serves again when it was asked for in the same way and fits the new
 * contour (mesh_follow.h).
 *
 * @param[in,out] memory   Its mesh and boundary are replaced; not to be used after an error.
 * @param[in,out] notes    Written when a mesh file is read.
 * @param[in]     which    0 to CAVUM_CELL_MESHES - 1; of no account for a mesh file.
 * @param[in,out] timings  Seconds are added to contour and mesh.
 * @retval CAVUM_ERR_GEOMETRY  no contour.
 * @retval CAVUM_ERR_MESH      no valid mesh.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT  as cavum_mesh_read_msh().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_mesh_make(cavum_problem_memory *memory, cavum_mesh_notes *notes,
                                  const cavum_cell_mesh_request *request, int which,
                                  cavum_timings *timings, cavum_error *error);

/**
 * Fits the mesh of the cell before, whichever of the meshes in turn that is.
 *
 * @param[out] followed  False when it was asked for in another way or does not fit well enough; it
 *                       is then as it was.
 * Other arguments and errors are as those of cavum_cell_mesh_make().
 */
cavum_status cavum_cell_mesh_follow(bool *followed, cavum_problem_memory *memory,
                                    const cavum_cell_mesh_request *request, cavum_timings *timings,
                                    cavum_error *error);

/** How much finer the mesh after this one is, in length; `which` is not the last. */
double cavum_cell_mesh_ratio(int which);

#endif
