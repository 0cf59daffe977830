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

/** What is done with a chart: drawn into a picture, written into a page. */
typedef cavum_status (*cavum_chart_taker)(const cavum_chart *chart, void *data, cavum_error *error);

/**
 * Makes the charts of several tests one after the other, Q0 over each other and the ratios to the
 * first, and gives those with content to a taker.
 * @retval CAVUM_ERR_MEMORY, and what the taker returns.
 */
cavum_status cavum_tests_each_chart(const cavum_tests_content *content, cavum_chart_taker take,
                                    void *data, cavum_error *error);

#endif
