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
 * @param[out] out           Filled always.
 * @param[in]  test          Setup, inputs and readings are used.
 * @param[in]  calibrations  Of the branch they assume.
 * @param[in]  forced        This branch for every reading; DECIDE: as the calibrations assume.
 */
void cavum_coldtest_judge_constancy(cavum_constancy *out, const cavum_coldtest *test,
                                    const cavum_coldtest_calibrations *calibrations,
                                    cavum_branch forced);

/**
 * How much worse one branch is than the other, like chi squared with one degree of freedom: the
 * difference in units of what the better one's chi squared is for each degree of freedom, where
 * that is above 1. So readings that scatter more than stated do not decide by their scatter.
 * 0: not known for one of both.
 */
double cavum_coldtest_constancy_excess(const cavum_constancy *worse, const cavum_constancy *better);

/** Remarks of a test on a branch that its readings contradict, or couplings that vary. */
void cavum_coldtest_remark_on_constancy(cavum_coldtest *test);

#endif
