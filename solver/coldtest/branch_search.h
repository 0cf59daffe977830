// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/branch_search.h
 * Which sides of critical coupling agree best, and what else may be.
 */
#ifndef CAVUM_COLDTEST_BRANCH_SEARCH_H
#define CAVUM_COLDTEST_BRANCH_SEARCH_H

#include "coldtest/branch_fit.h"

/** The sides that agree best, and what else may be. */
typedef struct cavum_branch_answer {
  cavum_fit_sides best;
  double chi_squared, probability;
  int degrees_of_freedom;
  /** By how much chi squared grows with this reading on the other side, all others free, in units
      of chi squared per degree of freedom where that is above 1; INFINITY: its side is stated. */
  double excess[CAVUM_FIT_MOST_READINGS];
  double other_weight[CAVUM_FIT_MOST_READINGS]; /**< Probability of that. */
  int num_alternatives;
  double weight[CAVUM_MOST_ALTERNATIVES]; /**< Probability of each. */
  cavum_fit_sides alternative[CAVUM_MOST_ALTERNATIVES];
} cavum_branch_answer;

/** Looks for the best sides: all of them for few readings, else from many starts. */
void cavum_branch_search(cavum_branch_answer *answer, const cavum_branch_fit *fit);

/** The same without weights and alternatives: only sides, chi squared and probability. */
void cavum_branch_search_best(cavum_branch_answer *answer, const cavum_branch_fit *fit);

#endif
