// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/memory_need.h
 * What a solution needs of memory, estimated before it is begun, and what it may have.
 */
#ifndef CAVUM_SOLVE_MEMORY_NEED_H
#define CAVUM_SOLVE_MEMORY_NEED_H

#include "cavum/cell.h"
#include "cavum/mesh.h"

/** What a solution is estimated from. */
typedef struct cavum_memory_case {
  double num_unknowns;
  int degree, num_modes;
  int num_threads; /**< At work on it; 0 is one. */
  bool triangles;  /**< Of the mesh, rather than quadrilaterals. */
  bool from_file;  /**< The mesh is solved again with its sides bent. */
} cavum_memory_case;

/** The case of a mesh at a degree, on the threads that this computation may use. */
cavum_memory_case cavum_memory_case_of(const cavum_mesh *mesh, int degree, int num_modes);

/**
 * Peak memory of a solve whose largest solution this is, bytes: what was measured on 1,000 to 1e6
 * unknowns and 1 to 200 modes, to a factor of 1.6; on more than CAVUM_LARGE_FROM unknowns for fewer
 * modes than are found in slices, to a factor of 1.2.
 */
double cavum_memory_estimate_bytes(const cavum_memory_case *of);

/**
 * The most modes whose solution is within a limit, 0: none.
 * @param[in] scales  The mesh was chosen for the wavelength of the highest mode, so that it has as
 *                    many fewer unknowns as there are fewer modes.
 */
int cavum_memory_most_modes(const cavum_memory_case *of, bool scales, double limit_bytes);

/** The limit where none is given, bytes: four fifths of the memory of the machine, or of what the
 * control group of the process may have. */
double cavum_memory_limit_bytes(void);

#endif
