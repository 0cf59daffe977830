// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/constancy.h
 * How well the readings with a decay time agree with one Q_e and one Q_t for the whole test.
 */
#ifndef CAVUM_COLDTEST_CONSTANCY_H
#define CAVUM_COLDTEST_CONSTANCY_H

#include "coldtest/coldtest_private.h"

/** Chi squared of ln Q_e and ln Q_t about their constants. */
typedef struct cavum_constancy {
  double chi_squared;
  int degrees_of_freedom; /**< 0: too few readings, or some without an uncertainty of their own. */
  double probability;     /**< Of a chi squared as large by chance. */
} cavum_constancy;

/**
 * Works out every reading with a decay time on one branch and asks whether Q_e and Q_t are constant
 * within all stated uncertainties: those of each reading alone and those that the readings share,
 * which move the couplings of different readings by different amounts. The constants and the shared
 * errors are the unknowns of a least squares problem, the shared errors about 0 with variance 1.
 * @param[out] out     Untouched unless OK.
 * @param[in]  test    Setup, inputs, readings and decided branches are used.
 * @param[in]  forced  This branch for every reading; DECIDE: as it was decided.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coldtest_judge_constancy(cavum_constancy *out, const cavum_coldtest *test,
                                            cavum_branch forced, cavum_error *error);

/**
 * Chi squared of Q_t and Q_e each about its mean, with the errors that readings share, and their
 * uncertainties widened where chance hardly makes it as large.
 */
cavum_status cavum_coldtest_judge_scatter(cavum_coldtest *test, cavum_error *error);

/**
 * How much worse one branch is than the other, like chi squared with one degree of freedom: the
 * difference in units of what the better one's chi squared is for each degree of freedom, where
 * that is above 1. So readings that scatter more than stated do not decide by their scatter.
 * 0: not known for one of both.
 */
double cavum_coldtest_constancy_excess(const cavum_constancy *worse, const cavum_constancy *better);

/** Remarks of a test on a branch that its readings contradict, or couplings that vary. */
cavum_status cavum_coldtest_remark_on_constancy(cavum_coldtest *test, cavum_error *error);

/** Where they vary: remarks on one change between two readings that explains it. */
cavum_status cavum_coldtest_remark_on_change(cavum_coldtest *test, cavum_error *error);

#endif
