// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_charts.h
 * The charts of a cold test: all that was evaluated, as pictures and reports show it.
 */
#ifndef CAVUM_PICTURE_COLDTEST_CHARTS_H
#define CAVUM_PICTURE_COLDTEST_CHARTS_H

#include "picture/chart.h"
#include "store/coldtest_load.h"

/** Charts with the views that show them. */
typedef struct cavum_test_charts {
  int count;
  cavum_chart *chart;       /**< Owned, shape [count]; each has content. */
  cavum_picture_view *view; /**< Owned, shape [count]. */
} cavum_test_charts;

/**
 * Makes all charts that a test has something for, in the order of a page.
 * @param[out] charts  Release with cavum_test_charts_clear(), also after a failure.
 * @param[in]  test    Read.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_test_charts_make(cavum_test_charts *charts, const cavum_stored_coldtest *test,
                                    cavum_error *error);

/** Frees them. */
void cavum_test_charts_clear(cavum_test_charts *charts);

#endif
