// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/bordered.h
 * Solves with K - k^2 M at a mode, in the space without that mode.
 */
#ifndef CAVUM_EIGEN_BORDERED_H
#define CAVUM_EIGEN_BORDERED_H

#include "eigen/modes.h"

/** Most right-hand sides at once. */
enum { CAVUM_BORDERED_MOST = 8 };

/** The mode of a bordered problem. */
typedef struct cavum_bordered {
  cavum_pencil *pencil; /**< Borrowed: factorised, at a shift with no unknown mode between it and
                             the mode. */
  int level;
  const cavum_modes *modes; /**< Borrowed: all that are known of the pencil at that level. */
  int index;                /**< Which of them; -1: the mode is of another symmetry class. */
  const double *vector;     /**< Its vector, there or improved; x^T M x = 1. NULL if of another. */
  double k2_per_m2;         /**< Of the mode. */
  double accuracy;          /**< Relative, that is enough. */
} cavum_bordered;

/** What solutions leave for those of a degree close by. */
typedef struct cavum_bordered_start {
  double *const *mz;     /**< Shape [count][num_unknowns]: M z, or NULL. */
  bool opposite;         /**< They belong to the mode with the other sign. */
  double contraction;    /**< Part of an error that one more solve leaves, at most. */
  double contraction_m2; /**< The same over the distance of k^2 from the shift. */
  bool kept; /**< Of cavum_bordered_solve_near(): mz is not filled, since the products of
                  its start serve again. */
} cavum_bordered_start;

/** Solutions of a problem close by: of the same pencil for another shape. */
typedef struct cavum_bordered_near {
  double *const *z, *const *mz; /**< Shape [count][num_unknowns], with their products with M. */
  double contraction_m2;        /**< Of cavum_bordered_solve() there. */
  bool products_behind; /**< Where two solves are made, the products may stay those of the first:
                             from M z they differ by what the second one changed. */
  bool may_keep; /**< Where one solve leaves far less than is asked for, the start may serve others
                      as it is: that side alone whose coefficients changed the most is measured. */
} cavum_bordered_near;

/**
 * Solves (K - k^2 M) z = b - M x (x^T b) with x^T M z = 0 for the mode x.
 *
 * For a mode of another symmetry class there is nothing to leave out: (K - k^2 M) z = b.
 *
 * Parts along other known modes between k^2 and the shift are x_n^T b / (k_n^2 - k^2). With T = (K
 * - shift M)^-1 the rest solves (1 - (k^2 - shift) T M) z = T b, which is symmetric in the product
 * of M and, where all modes between shift and k^2 are known, positive: conjugate gradients
 * [GolubVanLoan2013, 11.3] need a few solves.
 *
 * @param[out] z       Shape [count][num_unknowns].
 * @param[out] start   What cavum_bordered_correct() needs; its mz is filled where it is not NULL.
 * @param[out] solved  False where another unknown mode is in the way.
 * @param[in]  b       Shape [count][num_unknowns]; overwritten.
 * @param[in]  count   1 to CAVUM_BORDERED_MOST.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_bordered_solve(double *const *z, cavum_bordered_start *start, bool *solved,
                                  const cavum_bordered *problem, double *const *b, int count,
                                  cavum_error *error);

/**
 * The same from the solutions of a problem close by, where one or two solves are enough: z' = T (b
 * + (k^2 - shift) M z) has the error of z times the contraction, which the change tells.
 * @param[out] z       Shape [count][num_unknowns].
 * @param[out] start   Its mz is filled, and not NULL; not so where it is kept.
 * @param[out] solved  False where they are not: nothing is known then.
 * @param[in]  b       Shape [count][num_unknowns].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_bordered_solve_near(double *const *z, cavum_bordered_start *start, bool *solved,
                                       const cavum_bordered *problem,
                                       const cavum_bordered_near *near, const double *const *b,
                                       int count, cavum_error *error);

/**
 * The same from the solutions of a degree close by, with one solve: z = T (b + (k^2 - shift) M z')
 * has the error of z' times the contraction.
 * @param[out] z      Shape [count][num_unknowns].
 * @param[in]  start_of_others  Of cavum_bordered_solve() at another level of this pencil.
 * @param[in]  b      Shape [count][num_unknowns].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_bordered_correct(double *const *z, const cavum_bordered *problem,
                                    const cavum_bordered_start *start_of_others,
                                    const double *const *b, int count, cavum_error *error);

/** Solves that are made in one pass over the factors at most. */
enum { CAVUM_BORDERED_TASKS = 2 };

/** What is solved for from what is known of it, in the names of the two functions above. */
typedef struct cavum_bordered_task {
  const cavum_bordered *problem;
  double *const *z;
  const double *const *b;
  int count; /**< 0: nothing. */
  cavum_bordered_start *start;
  const cavum_bordered_near *near; /**< NULL: cavum_bordered_correct(), else
                                      cavum_bordered_solve_near(). */
  bool solved;                     /**< Out: of the latter. */
} cavum_bordered_task;

/**
 * Both functions above for several problems, whose first solves are made together: their pencils
 * have the same factors, as those of two symmetry classes, and they are of the same level.
 * @param[in,out] tasks  Shape [num_tasks].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_bordered_solve_tasks(cavum_bordered_task *tasks, int num_tasks,
                                        cavum_error *error);

#endif
