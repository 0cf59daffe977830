// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/problem_memory.h
 * What a solver keeps from one cell to the next: the mesh and its topology, the plans of
 * elimination, solutions with all their storage, the last modes.
 *
 * A solve of a single cell uses a fresh one. What is kept never decides a result beyond the stated
 * uncertainties: a mesh is used again only where it is nearly as good as it was, storage and plans
 * only for the very same topology, modes only as a start.
 */
#ifndef CAVUM_SOLVE_PROBLEM_MEMORY_H
#define CAVUM_SOLVE_PROBLEM_MEMORY_H

#include "cell/moved_cell.h"
#include "element/mesh_follow.h"
#include "element/thin_conductor.h"
#include "solve/mode_functionals.h"
#include "solve/peak_region.h"
#include "solve/solution.h"

/**
 * Slots for solutions: one being solved and one to start from; one for the rough start, and one for
 * what several modes start that from.
 */
enum { CAVUM_ROUGH_SLOT = 2, CAVUM_SEED_SLOT, CAVUM_SOLUTION_SLOTS };

/** The memory of a solver. Not movable once used: its parts point to one another. */
typedef struct cavum_problem_memory {
  cavum_mesh mesh;  /**< Owned: of the present cell. */
  int64_t topology; /**< Number of its topology, from 1; 0: no mesh yet. */
  bool half_model;  /**< The mesh is that of what is right of the mirror plane. */
  int refinement;   /**< Which of the meshes in turn it is. */
  int layers;       /**< Junction layers it was asked to have. */
  bool can_follow;  /**< The follower is that of the mesh. */
  cavum_mesh_follower follower;
  cavum_skeletons skeletons;
  cavum_mesh_boundary boundary;
  cavum_peak_region peak_regions[CAVUM_PEAK_REGIONS];
  cavum_solution *slots[CAVUM_SOLUTION_SLOTS]; /**< Owned, NULL until used. */
  cavum_solution
      *last;       /**< The solution that the last cell ended with, one of the slots, or NULL. */
  int degree;      /**< That the next cell should start with; 0: not known. */
  bool tries_less; /**< That degree is one less than some cell before needed. */
  /** Part of the last tries of each degree that had to climb, weighted by how long ago. */
  double failures[CAVUM_DEGREE_MOST + 1];
  double accuracy_frequency, accuracy_other_figures; /**< For which that is. */
  int num_modes;                                     /**< Likewise. */
  cavum_index large_from; /**< Unknowns above which a solution is large; 0: CAVUM_LARGE_FROM. */
  bool one_degree;      /**< Cells are solved at one degree alone: figures without uncertainties. */
  bool densities_alone; /**< Of what profiles are: the densities along the wall. */
  cavum_thin_conductor unfelt;       /**< By the present cell; a part of 0: none. */
  bool work_ended;                   /**< The present cell was left at the limit of work. */
  bool memory_ended;                 /**< At that of memory. */
  int num_close;                     /**< Of the present cell, see cavum_completeness_check(). */
  cavum_adjoint_memory adjoints;     /**< Of the first mode, where derivatives are asked for. */
  cavum_adjoint_memory odd_adjoints; /**< Likewise, in the other symmetry class of a half model. */
  cavum_text_path text_path;         /**< Of the text of the last cell with a path, likewise. */
  int cells_on_finer; /**< Cells that began with a finer mesh since the one before was tried. */
  int coarser_after;  /**< How many of them until it is tried again. */
} cavum_problem_memory;

/** Frees all that is kept and forgets it. */
void cavum_problem_memory_clear(cavum_problem_memory *memory);

/**
 * Takes over a mesh as that of the present cell. The topology keeps its number when nothing but
 * positions changed.
 */
void cavum_problem_memory_set_mesh(cavum_problem_memory *memory, cavum_mesh *mesh);

/**
 * Makes what it takes to move the mesh, unless it is there.
 * @retval CAVUM_ERR_MEMORY, and what cavum_mesh_follower_create() returns
 */
cavum_status cavum_problem_memory_make_follower(cavum_problem_memory *memory, cavum_error *error);

/**
 * The slot for a solution: one whose storage fits, else one that is not needed as a start.
 * @param[in] start  Solution to start from, which is left alone unless it is the one that fits and
 *                   belongs to the cell before; may be NULL.
 * @param[in] of_this_cell  The start belongs to the present cell: never reuse it.
 * @return NULL when there is no memory.
 */
cavum_solution *cavum_problem_memory_slot(cavum_problem_memory *memory, int degree, int num_degrees,
                                          const cavum_solution *start, bool of_this_cell);

#endif
