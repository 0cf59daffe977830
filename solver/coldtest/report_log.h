// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/report_log.h
 * What the evaluation of a test says to the log hook of a program.
 */
#ifndef CAVUM_COLDTEST_REPORT_LOG_H
#define CAVUM_COLDTEST_REPORT_LOG_H

#include "cavum/coldtest_report.h"

/** One line, about "coldtest"; nothing without a hook. */
__attribute__((format(printf, 3, 4))) void cavum_coldtest_tell(const cavum_coldtest_watch *watch,
                                                               cavum_log_severity severity,
                                                               const char *format, ...);

/** Everything that a report says about its numbers: remarks, rows set aside, flags, cautions. */
void cavum_coldtest_tell_report(const cavum_coldtest_watch *watch,
                                const cavum_coldtest_report *report);

#endif
