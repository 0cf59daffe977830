// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/spread_view.h
 * What tolerances make of figures, as bars: which dimension has which part in the variance.
 */
#ifndef CAVUM_PICTURE_SPREAD_VIEW_H
#define CAVUM_PICTURE_SPREAD_VIEW_H

#include "picture/page.h"
#include "store/spread_file.h"

/** Figures that have bars of their own, those of a design note; [CAVUM_SPREAD_BAR_FIGURES]. */
enum { CAVUM_SPREAD_BAR_FIGURES = 5 };

/** A figure with bars and how it is written. */
typedef struct cavum_spread_bar_figure {
  cavum_figure_id id;
  const char *text; /**< Mark-up; static. */
} cavum_spread_bar_figure;

/** Figure `i` of those with bars. */
cavum_spread_bar_figure cavum_spread_bar_figure_at(int i);

/**
 * Dimensions in the order of their part in the variance of the first figure that has a linear
 * spread, the largest first.
 * @param[out] order   Shape [CAVUM_TOLERANCES_MOST]: indices, num_dimensions of them.
 * @param[in]  spread  Any.
 */
void cavum_spread_rank(int *order, const cavum_spread *spread);

/** Spread of a figure for people: "+-0.75 MHz" of drawn shapes where the linear one does not hold;
 * false where there is none. */
bool cavum_spread_write_deviation(char text[64], const cavum_spread *spread, cavum_figure_id id);

/**
 * Draws the bars.
 * @param[out] bytes    New memory, release with free(); untouched unless CAVUM_OK.
 * @param[out] size     Bytes.
 * @param[in]  stored   The spread.
 * @param[in]  request  Form and sizes.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT  no figure has a linear spread.
 */
cavum_status cavum_spread_view_draw(char **bytes, size_t *size, const cavum_stored_spread *stored,
                                    const cavum_draw_request *request, cavum_error *error);

#endif
