// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/study_difference.h
 * In what a stored scan is the result of another study.
 */
#ifndef CAVUM_CLI_STUDY_DIFFERENCE_H
#define CAVUM_CLI_STUDY_DIFFERENCE_H

#include "cavum/scan.h"

/** Room for a difference. */
enum { CAVUM_STUDY_DIFFERENCE_SIZE = 320 };

/**
 * Writes the first key that stands in the study, or else in its cell, with another value than in
 * those of a stored scan: "vary.iris_radius_mm.to was 42, is 43 now". Names of files, titles and
 * aims do not count. Where no key differs, says what else may.
 * @param[out] out    Always a text.
 * @param[in]  path   Stored scan.
 * @param[in]  study  Open.
 */
void cavum_study_difference_write(char out[CAVUM_STUDY_DIFFERENCE_SIZE], const char *path,
                                  const cavum_study *study);

#endif
