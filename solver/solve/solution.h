// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solution.h
 * All wanted modes and their figures on one mesh at one degree: storage, and what was asked for.
 */
#ifndef CAVUM_SOLVE_SOLUTION_H
#define CAVUM_SOLVE_SOLUTION_H

#include "eigen/modes.h"
#include "figures/mode_figures.h"
#include "solve/skeletons.h"

/** From so many modes on they are found in slices of the spectrum (eigen/modes_slices.h). */
enum { CAVUM_SLICES_FROM = 28 };

/** Modes wanted of one symmetry class. */
typedef struct cavum_class_request {
  cavum_parity parity; /**< NONE for a whole-cell mesh. */
  int count;           /**< Modes wanted; 0 leaves the class out. */
} cavum_class_request;

/** One symmetry class of one solution. */
typedef struct cavum_solution_class {
  cavum_parity parity;
  bool used;           /**< Modes of it were wanted. */
  cavum_pencil pencil; /**< Kept between cells; empty until the class is first used. */
  cavum_modes modes[CAVUM_LEVELS_MOST]; /**< By degree, from the highest down. */
} cavum_solution_class;

/** A mode of a solution: which class, which vector, its figures. */
typedef struct cavum_solution_mode {
  int in_class, index;
  double k2_per_m2;                               /**< At the highest degree. */
  cavum_mode_values values[CAVUM_LEVELS_MOST];    /**< By degree, from the highest down. */
  cavum_wall_samples *samples[CAVUM_LEVELS_MOST]; /**< Owned: fields along the metal, likewise. */
} cavum_solution_mode;

/**
 * A solution: one degree, and with it the degrees below it that came out of the same elimination.
 * Not movable once filled: its parts point to one another.
 */
typedef struct cavum_solution {
  const cavum_mesh *mesh; /**< Borrowed. */
  int64_t topology;       /**< Number of the mesh's topology. */
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_solution_class classes[CAVUM_CLASSES];
  int num_degrees; /**< Degrees with modes: reference.degree, one less, ... */
  int num_modes;
  cavum_solution_mode *modes; /**< Owned, by rising frequency. */
} cavum_solution;

/** What a solution needs beyond the mesh. */
typedef struct cavum_solution_request {
  const cavum_cell *cell;              /**< Borrowed. */
  const cavum_mesh_boundary *boundary; /**< Borrowed. */
  int64_t topology;                    /**< Number of the mesh's topology, not 0. */
  cavum_skeletons *skeletons;          /**< Borrowed. */
  cavum_class_request requests[CAVUM_CLASSES];
  int count;              /**< Modes to keep of all classes together. */
  cavum_index large_from; /**< As in cavum_problem_memory. */
  int num_degrees;        /**< Degrees wanted; fewer are given where the lower ones carry too few
                               modes. */
  double near_k2_per_m2; /**< The square of the k that modes are to be nearest to; 0: the lowest. */
  bool rough;            /**< A guess for other solutions: a few digits are enough. */
  bool accurate; /**< A rough solution that is iterated further than others' accuracy wants: a step
                      costs less there, and its degree may be among those of the next solution. */
  bool curves;   /**< Also the R/Q curve over beta. */
  bool precise;  /**< Figures are subtracted from those of another mesh: vectors are ten times
                      better than usual. */
  const cavum_solution
      *guess; /**< A start with the same topology, or NULL; may be the solution itself. */
  bool guess_is_neighbour; /**< It belongs to another shape. */
  bool close_shift; /**< Of a single mode, if it can be: adjoint vectors may be solved for with the
                         factors afterwards, and the figures are the same without them. */
} cavum_solution_request;

/**
 * Makes the pencil of a class of a solution that was solved, if it is not there, and the condensed
 * matrices.
 * @retval CAVUM_ERR_MESH, CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_solution_prepare_class(cavum_solution *solution, cavum_skeletons *skeletons,
                                          int of_class, cavum_error *error);

/** Relative error that the iteration left in the vector of a mode, as in cavum_solution_view(). */
double cavum_solution_vector_error(const cavum_solution *solution, int mode, int below);

/** Angle by which rounding may mix a mode with one of its class that is nearly degenerate with it:
 * a perturbation over the distance of the k^2. 0 of all others. */
double cavum_solution_mixing(const cavum_solution *solution, int mode);

/** Frees all matrices, factors and coefficients; modes and the numbering stay.
 * cavum_solution_prepare_class() makes empty ones again. */
void cavum_solution_drop_matrices(cavum_solution *solution);

/** Makes the coefficients again where they were freed, for products with K and M. */
cavum_status cavum_solution_restore_products(cavum_solution *solution, cavum_error *error);

/** Frees the modes of a class. */
void cavum_solution_clear_class(cavum_solution_class *class);

/** Frees the list of modes with their figures; vectors stay in the classes. */
void cavum_solution_free_modes(cavum_solution *solution);

/** Frees what it owns; NULL is accepted. */
void cavum_solution_clear(cavum_solution *solution);

/** The view of one mode of a solution at its highest degree (0), one below (1) or two (2). */
cavum_view cavum_solution_view(const cavum_solution *solution, int mode, int below,
                               const cavum_mesh_boundary *boundary);

#endif
