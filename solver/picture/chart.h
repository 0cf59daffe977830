// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/chart.h
 * A chart as data: series of points, lines and stated limits over two axes. Pictures draw it and
 * reports turn it into a plot that answers to the pointer, so that both show the same.
 */
#ifndef CAVUM_PICTURE_CHART_H
#define CAVUM_PICTURE_CHART_H

#include "canvas/plot.h"
#include "picture/page.h"

enum { CAVUM_CHART_SERIES_MOST = 256, CAVUM_CHART_RULES_MOST = 24, CAVUM_CHART_TEXT_SIZE = 192 };

/** Points or a line. */
typedef struct cavum_chart_series {
  char text[CAVUM_CHART_TEXT_SIZE]; /**< For the key, mark-up; "": no entry there. */
  int count;
  double *x, *y;   /**< Owned, one block, shape [count]; what is not finite is left out. */
  double *dx, *dy; /**< Half widths of bars, in the same block; 0 where there are none. */
  bool points;     /**< Marks with bars, else a line. */
  bool beside;     /**< Does not widen the frame. */
  bool guide;      /**< Only guides the eye: in pictures, not in plots to hover. */
  bool intervals;  /**< Points: bars with ends instead of marks. */
  cavum_plot_mark mark;
  double scale; /**< Of the marks; 0: 1. */
  cavum_ink ink;
  cavum_dash dash;
  double width;
  char end[16]; /**< Written where the line leaves the frame. */
} cavum_chart_series;

/** A straight line across the frame, named in the key by a letter that stands at it. */
typedef struct cavum_chart_rule {
  char text[CAVUM_CHART_TEXT_SIZE]; /**< Mark-up. */
  double at;
  bool upright;
  cavum_ink ink;
} cavum_chart_rule;

/** One chart. Zero-initialise; texts are static and mark-up. */
typedef struct cavum_chart {
  const char *name;    /**< One word, for links. */
  const char *caption; /**< One sentence. */
  const char *x_name, *x_unit, *x_label;
  const char *y_unit, *y_label;
  bool logarithmic; /**< The vertical axis. */
  bool from_zero;   /**< The horizontal axis starts at 0. */
  double x_reach;   /**< The horizontal axis reaches to this at least, as charts below each other
                       have one; 0: as far as the points. */
  bool counts;      /**< The horizontal axis counts: it reaches half a step beyond the first and the
                       last,      and has whole numbers alone. */
  bool failed;      /**< Memory ran out; said once, by cavum_chart_check(). */
  char remark[512]; /**< Below the key; plain text, "": none. */
  int num_series, num_rules;
  cavum_chart_series series[CAVUM_CHART_SERIES_MOST];
  cavum_chart_rule rules[CAVUM_CHART_RULES_MOST];
} cavum_chart;

/** Adds a series with room for `most` points and none in it; NULL when there is no room for one.
 * The text is mark-up. */
cavum_chart_series *cavum_chart_add(cavum_chart *chart, int most, const char *text);

/** Names the horizontal axis: accelerating gradient in MV/m. */
void cavum_chart_over_gradient(cavum_chart *chart);

/** Puts a point at the end of a series; NULL and coordinates that cannot be shown are ignored. */
void cavum_chart_put(cavum_chart_series *series, double x, double y, double dx, double dy);

/** Adds a rule; places that are not finite are ignored. */
void cavum_chart_add_rule(cavum_chart *chart, bool upright, double at, cavum_ink ink,
                          const char *text);

/**
 * The letter that names a rule: a and on, without those that a text of a series starts with before
 * a colon, as those of a run do that has such a name.
 * @param[in] rule  0 to num_rules - 1.
 */
char cavum_chart_letter(const cavum_chart *chart, int rule);

/** A text of users as mark-up. */
void cavum_chart_quote(char *to, size_t size, const char *text);

/** Mark-up as plain text. */
void cavum_chart_plain(char *to, size_t size, const char *markup);

/** True when there is something to see: a series with points. */
bool cavum_chart_has_content(const cavum_chart *chart);

/** CAVUM_ERR_MEMORY when some series could not be kept. */
cavum_status cavum_chart_check(const cavum_chart *chart, cavum_error *error);

/** Frees what it owns. */
void cavum_chart_clear(cavum_chart *chart);

#endif
