// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/disagreement.h
 * Readings that do not agree with one Q_e and one Q_t: a coupler that was moved, one wrong reading,
 * or a stated value that is another one.
 */
#ifndef CAVUM_COLDTEST_DISAGREEMENT_H
#define CAVUM_COLDTEST_DISAGREEMENT_H

#include "coldtest/branch_search.h"

/** True when chance hardly makes the readings disagree so much. */
bool cavum_disagrees(const cavum_branch_fit *fit, const cavum_branch_answer *answer);

/**
 * Looks for what explains it, in this order: Q_t agrees and only Q_e does not (the coupler was
 * moved); one reading disagrees with all others, which agree. What is found changes fit and answer,
 * marks readings that calibrate nothing and adds a remark. Nothing found changes nothing.
 */
cavum_status cavum_explain_disagreement(cavum_coldtest *test, cavum_branch_fit *fit,
                                        cavum_branch_answer *answer, cavum_error *error);

/** Remarks on a stated Q_t or Q_e that the decays of the test contradict. */
cavum_status cavum_compare_stated(cavum_coldtest *test, cavum_error *error);

#endif
