// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/chart_draw.h
 * Draws charts.
 */
#ifndef CAVUM_PICTURE_CHART_DRAW_H
#define CAVUM_PICTURE_CHART_DRAW_H

#include "picture/chart.h"

/**
 * Draws a chart with its key.
 * @param[in] canvas  Page.
 * @param[in] chart   With content.
 * @param[in] x, y    Top left corner of all that is drawn.
 * @param[in] width, height  Width of all; height of the frame alone.
 * @return The y behind it.
 */
double cavum_chart_draw(cavum_canvas *canvas, const cavum_chart *chart, double x, double y,
                        double width, double height);

/**
 * A page with one chart and nothing else but a heading; as cavum_page_make().
 * @param[in] title  Of the heading, whose second line is the caption; NULL: no heading, as where
 * the page around it has one.
 */
cavum_status cavum_chart_draw_page(char **bytes, size_t *size, const cavum_chart *chart,
                                   const char *title, const cavum_draw_request *request,
                                   cavum_error *error);

/** Limits of the axes of a chart, as it is drawn. */
void cavum_chart_frame(cavum_plot *plot, const cavum_chart *chart);

#endif
