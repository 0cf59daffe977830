// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/report_coldtest_series.h
 * Limits, series, traces and intervals of a cold test as tables of its report.
 */
#ifndef CAVUM_REPORT_REPORT_COLDTEST_SERIES_H
#define CAVUM_REPORT_REPORT_COLDTEST_SERIES_H

#include "base/units.h"
#include "report/html.h"
#include "store/coldtest_load.h"

/** A value with its uncertainty in a unit, "1.76(4)"; a dash when it is no number. */
void cavum_report_format(char text[96], double value, double uncertainty, cavum_unit unit);

/** Writes tables of all that the test has of these. */
void cavum_report_coldtest_write_series(cavum_html *html, const cavum_stored_coldtest *test);

#endif
