// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/tests_view.h
 * Charts of several cold tests.
 */
#ifndef CAVUM_PICTURE_TESTS_VIEW_H
#define CAVUM_PICTURE_TESTS_VIEW_H

#include "cavum/coldtest_compare.h"
#include "picture/chart.h"

/** Tests as they are drawn; borrowed. */
typedef struct cavum_tests_content {
  const cavum_coldtest_comparison *comparison;
  int count;
  const cavum_coldtest_report *const *reports;
} cavum_tests_content;

/** Q0 of all tests over each other. */
void cavum_tests_chart_quality(cavum_chart *chart, const cavum_tests_content *content);

/** Q0 over that of the first test. */
void cavum_tests_chart_ratio(cavum_chart *chart, const cavum_tests_content *content);

#endif
