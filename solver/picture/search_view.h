// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/search_view.h
 * The path of a search for the best shape as a chart: how far each solve was from the best.
 */
#ifndef CAVUM_PICTURE_SEARCH_VIEW_H
#define CAVUM_PICTURE_SEARCH_VIEW_H

#include "cavum/optimum.h"
#include "picture/chart.h"

/** Fills an empty chart with the path of a search; release with cavum_chart_clear(). */
void cavum_search_view_fill(cavum_chart *chart, const cavum_optimum *optimum);

/**
 * Draws it.
 * @param[out] bytes    New memory, release with free(); untouched unless CAVUM_OK.
 * @param[out] size     Bytes.
 * @param[in]  optimum  What the search came to.
 * @param[in]  title    Of the goal, or of the cell.
 * @param[in]  request  Form and sizes.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_search_view_draw(char **bytes, size_t *size, const cavum_optimum *optimum,
                                    const char *title, const cavum_draw_request *request,
                                    cavum_error *error);

#endif
