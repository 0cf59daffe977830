// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/level.h
 * One step of a solve: all wanted modes and their figures on one mesh at one degree.
 */
#ifndef CAVUM_SOLVE_LEVEL_H
#define CAVUM_SOLVE_LEVEL_H

#include "eigen/modes.h"
#include "figures/mode_figures.h"

/** Modes wanted of one symmetry class. */
typedef struct cavum_class_request {
  cavum_parity parity; /**< NONE for a whole-cell mesh. */
  int count;           /**< Modes wanted; 0 leaves the class out. */
} cavum_class_request;

enum { CAVUM_CLASSES = 2 };

/** Plans of elimination of a mesh, made when they are needed. */
typedef struct cavum_skeletons {
  int64_t topology;                       /**< Of which topology; others are dropped. */
  cavum_skeleton of_class[CAVUM_CLASSES]; /**< By symmetry class. */
} cavum_skeletons;

/**
 * The plan for one class of a mesh.
 * @param[in] topology  Number of the mesh's topology: plans of another one are replaced.
 */
cavum_status cavum_skeletons_get(const cavum_skeleton **skeleton, cavum_skeletons *skeletons,
                                 const cavum_mesh *mesh, int64_t topology, int of_class,
                                 cavum_error *error);

/** Frees all plans. */
void cavum_skeletons_clear(cavum_skeletons *skeletons);

/** One symmetry class of one level. */
typedef struct cavum_level_class {
  cavum_parity parity;
  bool used;           /**< Modes of it were wanted. */
  cavum_pencil pencil; /**< Kept between cells; empty until the class is first used. */
  cavum_modes modes[CAVUM_LEVELS_MOST]; /**< By degree, from the highest down. */
} cavum_level_class;

/** A mode of a level: which class, which vector, its figures. */
typedef struct cavum_level_mode {
  int in_class, index;
  double k2_per_m2;                            /**< At the highest degree. */
  cavum_mode_values values[CAVUM_LEVELS_MOST]; /**< By degree, from the highest down. */
  cavum_wall_looks *looks[CAVUM_LEVELS_MOST];  /**< Owned: fields along the metal, likewise. */
} cavum_level_mode;

/**
 * A level: one degree, and with it the degrees below it that came out of the same elimination. Not
 * movable once filled: its parts point to one another.
 */
typedef struct cavum_level {
  const cavum_mesh *mesh; /**< Borrowed. */
  int64_t topology;       /**< Number of the mesh's topology. */
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_level_class classes[CAVUM_CLASSES];
  int num_degrees; /**< Degrees with modes: reference.degree, one less, ... */
  int num_modes;
  cavum_level_mode *modes; /**< Owned, by rising frequency. */
} cavum_level;

/** What a level needs beyond the mesh. */
typedef struct cavum_level_input {
  const cavum_cell *cell;     /**< Borrowed. */
  const cavum_sides *sides;   /**< Borrowed. */
  int64_t topology;           /**< Number of the mesh's topology, not 0. */
  cavum_skeletons *skeletons; /**< Borrowed. */
  cavum_class_request requests[CAVUM_CLASSES];
  int count;             /**< Modes to keep of all classes together. */
  int num_degrees;       /**< Degrees wanted; fewer are given where the lower ones carry too few
                              modes. */
  double near_k2_per_m2; /**< 0: the lowest. */
  bool rough;            /**< A start for other levels: a few digits are enough. */
  bool curves;           /**< Also the R/Q curve over beta. */
  const cavum_level
      *guess;              /**< A start with the same topology, or NULL; may be the level itself. */
  bool guess_is_neighbour; /**< It belongs to another shape. */
} cavum_level_input;

/**
 * Solves one level in place. Storage of a level of the same topology and degrees is used again.
 * @param[in,out] level  Zeroed, or solved before; release with cavum_level_clear() also after an
 *                       error.
 * @param[in,out] timings  Seconds are added to assembly, eigen and figures; may be NULL.
 */
cavum_status cavum_level_solve(cavum_level *level, const cavum_mesh *mesh, int degree,
                               const cavum_level_input *input, cavum_timings *timings,
                               cavum_error *error);

/**
 * Makes the pencil of a class of a level that was solved, if it is not there.
 * @retval CAVUM_ERR_MESH, CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_level_prepare_class(cavum_level *level, cavum_skeletons *skeletons, int of_class,
                                       cavum_error *error);

/** Relative error that the iteration left in the vector of a mode, as in cavum_level_view(). */
double cavum_level_vector_error(const cavum_level *level, int mode, int below);

/** Frees what it owns; NULL is accepted. */
void cavum_level_clear(cavum_level *level);

/** The view of one mode of a level at its highest degree (0), one below (1) or two (2). */
cavum_view cavum_level_view(const cavum_level *level, int mode, int below,
                            const cavum_sides *sides);

#endif
