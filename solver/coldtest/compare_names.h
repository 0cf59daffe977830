// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/compare_names.h
 * What two tests state that name one calibration or one shape.
 */
#ifndef CAVUM_COLDTEST_COMPARE_NAMES_H
#define CAVUM_COLDTEST_COMPARE_NAMES_H

#include "cavum/coldtest_report.h"

/**
 * Refuses two different numbers under one name: both cannot be meant, and their errors would cancel
 * in a comparison. Phases that are not known do not cancel, and are not compared.
 * @param[in] calibration  Both tests name one calibration.
 * @param[in] shape        Both name one shape.
 * @retval CAVUM_ERR_INPUT  with the first number that differs.
 */
cavum_status cavum_coldtest_check_names(const cavum_coldtest_report *first,
                                        const cavum_coldtest_report *later, bool calibration,
                                        bool shape, cavum_error *error);

#endif
