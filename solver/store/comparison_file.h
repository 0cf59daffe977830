// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/comparison_file.h
 * Names of tests in outputs of a comparison.
 */
#ifndef CAVUM_STORE_COMPARISON_FILE_H
#define CAVUM_STORE_COMPARISON_FILE_H

#include "cavum/coldtest_compare.h"

/** Title of a test, or "test N"; shape [64]. */
void cavum_comparison_name(char name[64], const cavum_coldtest_report *report, int number);

#endif
