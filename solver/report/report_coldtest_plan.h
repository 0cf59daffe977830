// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/report_coldtest_plan.h
 * Plans of a cold test as tables of its report.
 */
#ifndef CAVUM_REPORT_REPORT_COLDTEST_PLAN_H
#define CAVUM_REPORT_REPORT_COLDTEST_PLAN_H

#include "report/html.h"
#include "store/coldtest_load.h"

/** Writes what the meters will show, what to expect and how near the limits are; nothing without
 * plans. */
void cavum_report_coldtest_write_plans(cavum_html *html, const cavum_stored_coldtest *test);

#endif
