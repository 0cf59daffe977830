// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/chart_html.h
 * Charts as plots of a report.
 */
#ifndef CAVUM_REPORT_CHART_HTML_H
#define CAVUM_REPORT_CHART_HTML_H

#include "picture/chart.h"
#include "report/html.h"

/**
 * Writes a chart: a plot that answers to the pointer, a still picture for paper, and a caption that
 * names its limits.
 * @retval CAVUM_ERR_LIBRARY  the drawing library failed.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_html_write_chart(cavum_html *html, const cavum_chart *chart, cavum_error *error);

#endif
