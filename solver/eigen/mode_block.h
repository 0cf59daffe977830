// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/mode_block.h
 * A block of modes of one class under way, with the products of its vectors.
 */
#ifndef CAVUM_EIGEN_MODE_BLOCK_H
#define CAVUM_EIGEN_MODE_BLOCK_H

#include "eigen/modes.h"
#include "linalg/tall_skinny.h"

/** Most classes that are improved together. */
enum { CAVUM_BLOCK_TASKS_MOST = 2 };

/** Distance from the shift, over that of the last mode that is wanted, up to which modes behind it
 * belong into the block: by themselves it would leave them too slowly to be noticed. */
#define CAVUM_CLOSE_BEHIND 1.3

/** Relative distance of two k^2 below which modes are nearly degenerate: how they mix depends on
 * the degree, and inverse iteration alone would hardly show it. */
#define CAVUM_NEARLY_DEGENERATE 1e-2

/** The modes of one class. */
typedef struct cavum_block_task {
  cavum_pencil *pencil;     /**< Factorised at any shift; the closer to a mode, the faster that one
                                 settles. Those of all tasks share their factors. */
  const cavum_modes *guess; /**< Modes of a lower degree, embedded, or of a neighbouring shape: all
                                 below the highest of them, with those close behind the last that is
                                 wanted. vector_error tells how good they are, 1: not known. */
  int guess_degree;   /**< Of which the guesses are the modes, on the same mesh; 0: of none. */
  int wanted;         /**< Modes to be accurate, at most as many as the guess has; those beyond
                           are only better than the guess. */
  double accuracy;    /**< Relative error of the vectors that is small enough. */
  bool by_factors;    /**< Times the accuracy_factor of each. */
  cavum_modes *modes; /**< Shape [pencil->num_levels], empty: the results go here. */
} cavum_block_task;

/** Vectors for every mode of a block, at most: itself, a direction and a correction. */
enum { CAVUM_BLOCK_BASIS = 3 };

/** A correction below this part of its vector is rounding. */
#define CAVUM_CORRECTION_LEAST 1e-13

/**
 * Vectors of one class with their products, [3 count][size] each: the modes, then for some of them
 * the direction in which the step before moved them, then corrections. With the directions the
 * steps converge like those of conjugate gradients [Knyazev2001].
 */
typedef struct cavum_mode_block {
  cavum_pencil *pencil; /**< Borrowed. */
  cavum_index size;
  int level;
  int first;        /**< 1 behind the static mode, which is exact. */
  int count;        /**< Modes, with the static one. */
  int wanted;       /**< Those before it are to be accurate. */
  int guess_degree; /**< As in the task. */
  int directions, corrections;
  bool settled;
  double *v, *mv, *av; /**< Owned: x, M x and A x, A = K - shift M. */
  double *theta;       /**< [3 count]: k^2 - shift. */
  double *small;  /**< Two square matrices of order 3 count and work space for their problem. */
  double *energy; /**< [3 count]: of the vectors, x^T K x. */
  double *memory; /**< Owned: all numbers but the vectors. */
  double *k2;     /**< [count]. */
  double *error;  /**< [count]: of the vectors, relative. */
  double *moved, *moved_before;     /**< [count]: how far they moved in the last step and before. */
  double *accuracy;                 /**< [count]: wanted. */
  int mode[CAVUM_TALL_SKINNY_MOST]; /**< Of the corrections. */
} cavum_mode_block;

/** The modes that are wanted and those behind which are nearly degenerate with the last of them. */
int cavum_block_with_neighbours(const cavum_modes *modes, int wanted);

/**
 * Storage for a task at a level; release with cavum_mode_block_clear().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mode_block_create(cavum_mode_block *block, const cavum_block_task *task,
                                     int level, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_mode_block_clear(cavum_mode_block *block);

/** Puts the guesses, and before them the static mode, into a block, with M x and, where factors are
 * in single precision, A x. */
void cavum_mode_block_start(cavum_mode_block *block, const cavum_block_task *task);

/**
 * Scales a vector and its products to unit norm.
 * @param[in] at     Where the vector begins in v, its products in mv and av.
 * @param[in] least  The norm has to be above this: else false is returned and nothing changed.
 */
bool cavum_mode_block_normalise(cavum_mode_block *block, size_t at, double least);

/** Copies a vector of a block with its products to the place of another one. */
void cavum_mode_block_move(cavum_mode_block *block, int from, int to);

/** Hands the vectors of the modes over, which the block has no longer; numbers are copied.
 * @retval CAVUM_ERR_MEMORY */
cavum_status cavum_mode_block_keep(cavum_modes *modes, cavum_mode_block *block,
                                   const cavum_modes *guess, cavum_error *error);

/** Hands over M x of the modes that are wanted, to be freed by who takes it. */
double *cavum_mode_block_keep_products(cavum_mode_block *block, int wanted);

#endif
