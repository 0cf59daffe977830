// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/branch_fit.h
 * One Q_e and one Q_t for all readings of a test, each reading on one side of critical coupling:
 * how well they agree, and which sides agree best.
 */
#ifndef CAVUM_COLDTEST_BRANCH_FIT_H
#define CAVUM_COLDTEST_BRANCH_FIT_H

#include "coldtest/coldtest_private.h"

enum {
  CAVUM_FIT_MOST_READINGS = 120, /**< More would say the same. */
  CAVUM_FIT_MOST_ROWS = 3,       /**< ln Q_e, ln Q_t, reflection against emitted power. */
  CAVUM_FIT_MOST_UNKNOWNS = 2 + CAVUM_FIRST_LOCAL_INPUT,
  CAVUM_FIT_OVER = 0,
  CAVUM_FIT_UNDER = 1
};

/** One equation: the number, and what each unknown does to it. */
typedef struct cavum_fit_row {
  double value, factor[CAVUM_FIT_MOST_UNKNOWNS];
} cavum_fit_row;

/** What a reading says on one side, whitened by what belongs to it alone. */
typedef struct cavum_fit_side {
  bool possible;
  int num_rows;
  cavum_fit_row row[CAVUM_FIT_MOST_ROWS];
  double log_q0, log_q0_uncertainty;
} cavum_fit_side;

/** A reading in the fit. */
typedef struct cavum_fit_reading {
  int64_t index;
  bool fixed; /**< Its side is stated, or only one is possible. */
  unsigned char fixed_side;
  bool left_out;
  bool has_emitted;
  bool by_decay;
  double q_loaded;
  cavum_fit_side side[2];
} cavum_fit_reading;

/** What the fit rests on. */
typedef struct cavum_fit_scope {
  bool moved;        /**< The coupler was moved: Q_e is no constant. */
  bool stated;       /**< A stated Q_e is the constant. */
  bool later_steps;  /**< Readings without a decay time too: their Q_e, in units of Q_t. */
  cavum_branch only; /**< OVER or UNDER: of all readings, whatever is stated. */
  bool of_pickup;    /**< The equations of Q_t alone. */
  bool of_external;  /**< Those of Q_e alone. */
} cavum_fit_scope;

/** All readings that are asked. */
typedef struct cavum_branch_fit {
  const cavum_coldtest *test;
  cavum_fit_scope scope;
  bool no_uncertainty; /**< A reading has none of its own. */
  int count;
  cavum_fit_reading *readings; /**< Owned, shape [count]. */
  int num_unknowns;
  int unknown_of[CAVUM_FIRST_LOCAL_INPUT]; /**< Of each shared input; -1: it is exact. */
  double origin[2];
} cavum_branch_fit;

/** Sides of all readings of a fit. */
typedef struct cavum_fit_sides {
  unsigned char of[CAVUM_FIT_MOST_READINGS];
} cavum_fit_sides;

/** Works out every reading on both sides. */
cavum_status cavum_branch_fit_create(cavum_branch_fit *fit, const cavum_coldtest *test,
                                     cavum_fit_scope scope, cavum_error *error);

/** Works out one reading with a decay time as the fit does; false: no side of it is possible. */
bool cavum_branch_fit_read(cavum_fit_reading *reading, const cavum_branch_fit *fit, int64_t index);

/** Frees what a fit owns. */
void cavum_branch_fit_clear(cavum_branch_fit *fit);

/** Least chi squared with given sides; `solution` (NULL: not wanted) has all unknowns. */
double cavum_branch_fit_evaluate(const cavum_branch_fit *fit, const cavum_fit_sides *sides,
                                 double solution[CAVUM_FIT_MOST_UNKNOWNS]);

/** Chi squared of one reading on one side for given unknowns. */
double cavum_branch_fit_misfit(const cavum_branch_fit *fit, const cavum_fit_side *side,
                               const double solution[CAVUM_FIT_MOST_UNKNOWNS]);

/** Equations less constants. */
int cavum_branch_fit_freedom(const cavum_branch_fit *fit, const cavum_fit_sides *sides);

#endif
