// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/coldtest_budget.h
 * Where the uncertainty of a reading comes from, as bars.
 */
#ifndef CAVUM_PICTURE_COLDTEST_BUDGET_H
#define CAVUM_PICTURE_COLDTEST_BUDGET_H

#include "picture/page.h"
#include "store/coldtest_load.h"

/** Most inputs with a bar of their own. */
enum { CAVUM_BUDGET_BARS_MOST = 9 };

/** One input: shares of the variances of gradient and Q0, 0 to 1. */
typedef struct cavum_budget_bar {
  const char *text; /**< Borrowed. */
  double share[CAVUM_NUM_STORED_BUDGETS];
} cavum_budget_bar;

/**
 * Shares of the variance of one reading, the largest first; the last bar may sum up the rest.
 * @return How many bars; 0 when the file has no budgets.
 */
int cavum_test_budget_find(cavum_budget_bar bars[CAVUM_BUDGET_BARS_MOST],
                           const cavum_stored_coldtest *test, int point);

/** Draws the bars; moves y behind them. */
void cavum_test_budget_draw(cavum_page *page, const cavum_stored_coldtest *test, int point);

#endif
