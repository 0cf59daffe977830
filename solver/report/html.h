// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/html.h
 * A report as one HTML file: frame, tables, pictures, and plots for the script that it carries.
 *
 * Write errors of the stream are found at the end, in cavum_html_finish().
 */
#ifndef CAVUM_REPORT_HTML_H
#define CAVUM_REPORT_HTML_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "canvas/markup.h"
#include "canvas/plot.h"
#include "cavum/figures.h"

/** A report that is being written. */
typedef struct cavum_html {
  FILE *out;   /**< Owned: the page. */
  FILE *data;  /**< Owned: JSON of the plots. */
  char *page;  /**< Owned: what `out` wrote. */
  char *plots; /**< Owned: what `data` wrote. */
  size_t page_size, plots_size;
  int num_plots; /**< Plots so far. */
  int num_lines; /**< Lines of the plot that is open. */
  bool wide;     /**< The table that is open has many columns. */
} cavum_html;

/** Starts a page with a title, which may be any text. */
cavum_status cavum_html_create(cavum_html *html, const char *title, cavum_error *error);

/** Frees what a page owns. */
void cavum_html_clear(cavum_html *html);

/** Ends a page: data, scripts, licence. */
cavum_status cavum_html_finish(char **bytes, size_t *size, cavum_html *html, cavum_error *error);

/** A paragraph of a class ("" for none); text of ours or of users, escaped. */
void cavum_html_paragraph(cavum_html *html, const char *style, const char *text);

/** A heading of level 2 or 3 with an identifier for links. */
void cavum_html_heading(cavum_html *html, int level, const char *id, const char *text);

/** Starts a table in a frame that scrolls; columns that start with '#' are numbers. */
void cavum_html_begin_table(cavum_html *html, const char *caption, int num_columns,
                            const char *const *columns);
/** Ends it. */
void cavum_html_end_table(cavum_html *html);
/** One row: the first cell is its heading; cells of numeric columns are set as such. */
void cavum_html_row(cavum_html *html, int num_cells, const char *const *cells,
                    const char *const *columns);

/** A text of the user's set as code. */
void cavum_html_code(cavum_html *html, const char *text);

/**
 * A text of the screen in paragraphs: lines without indent go on in one paragraph, each with an
 * indent of two is an entry of a list, deeper ones go on with theirs.
 */
void cavum_html_flowing(cavum_html *html, const char *text);

/** Figures: an SVG fragment with a caption. */
void cavum_html_picture(cavum_html *html, const char *svg, const char *caption);

/** Place of a mark in a plot. */
typedef struct cavum_html_peak {
  double x, y;
} cavum_html_peak;

/** What is common to the lines of a plot. */
typedef struct cavum_html_plot {
  const char *x_label,
      *y_label;                 /**< Of the axes: E_{acc}, Q_{0} and 10^{9} are set low and high. */
  const char *x_name, *x_unit;  /**< For the values that hovering shows. */
  bool logarithmic;             /**< The vertical axis. */
  bool counts;                  /**< The horizontal axis has whole numbers alone. */
  double y_low, y_high;         /**< Used when y_high > y_low. */
  int num_peaks;                /**< Marks. */
  const cavum_html_peak *peaks; /**< Borrowed, shape [num_peaks]. */
  bool peaks_unbounded;         /**< They stand at the upper end of the frame. */
  const char *peak_ink;         /**< Their colour, as of a line. */
  const char *still;            /**< SVG fragment for paper and for browsers without scripts. */
  const char *caption;
  const char *still_caption; /**< Of the still picture where that shows more; NULL: the same. */
} cavum_html_plot;

/** Starts a plot with its abscissa, shape [count], rising. */
void cavum_html_begin_plot(cavum_html *html, const cavum_html_plot *plot, int count,
                           const double *x);
/** A line over the abscissa. */
typedef struct cavum_html_line {
  const char *label, *unit; /**< The label as those of axes; "": not in the legend. */
  const char *ink;          /**< Style variable of its colour, for example "--i12". */
  const double *y;          /**< Shape [count]; values that are not finite are gaps. */
  const double *dx, *dy;    /**< Half widths of error bars, shape [count], or NULL. */
  bool dots;                /**< Marks instead of a line. */
  bool ends;                /**< Bars with ends instead of marks. */
  cavum_plot_mark mark;     /**< Of dots. */
  bool dash;                /**< A dashed line. */
  bool span;                /**< Drawn across gaps. */
} cavum_html_line;

/** Adds a line to the plot that is open. */
void cavum_html_add_line(cavum_html *html, const cavum_html_line *line, int count);
/** A dotted line across the plot at a place on the abscissa. */
typedef struct cavum_html_upright {
  double at;
  char letter;     /**< Stands at it; 0: none. */
  const char *ink; /**< Style variable of its colour. */
} cavum_html_upright;

/** A line that only guides the eye: no values to hover, no part in the ranges of the axes. */
typedef struct cavum_html_guide {
  int count;
  const double *x, *y; /**< Shape [count]. */
  const char *ink;     /**< Style variable of its colour. */
  const char *text;    /**< For the legend; "": none. */
  const char *end;     /**< Written where it leaves the plot; "": nothing. */
  double width;
  bool dash;
} cavum_html_guide;

/** Ends a plot. */
void cavum_html_end_plot(cavum_html *html, int num_uprights, const cavum_html_upright *uprights,
                         int num_guides, const cavum_html_guide *guides);

/** Most dimensions that hovering names. */
enum { CAVUM_HTML_DIMENSIONS = 16 };

/** A cloud of points, coloured by a third value; all shape [count], by rising x. */
typedef struct cavum_html_cloud {
  int count;
  const double *x, *y, *colour;
  const double *shape;         /**< Number of each point. */
  const unsigned char *marked; /**< 1: has a ring; a line of steps joins them. */
  bool steps_before;           /**< It rises or falls before the next one, else behind this one. */
  bool no_steps;               /**< No line joins them. */
  int num_dimensions;
  const char *dimension_key[CAVUM_HTML_DIMENSIONS];
  const double *dimension[CAVUM_HTML_DIMENSIONS]; /**< Of each point, for hovering. */
  const char *colour_name, *colour_unit, *y_name, *y_unit;
  double low, high;            /**< Of the colours. */
  const uint32_t *palettes[2]; /**< For light and dark pages, each shape [256]. */
} cavum_html_cloud;

/** A plot of a cloud; `plot` gives labels, the name and unit of x, still picture and caption. */
void cavum_html_write_cloud(cavum_html *html, const cavum_html_plot *plot,
                            const cavum_html_cloud *cloud);

/** A number as a page writes it: ohm, squares, minus signs, powers of ten in true letters. */
void cavum_html_beautify(char *to, size_t size, const char *from);

/** Value with uncertainty and unit of a figure for people; "unbounded" or "" when there is none. */
void cavum_html_format_figure(char text[96], char unit[24], const cavum_figure *figure,
                              cavum_figure_id id);

#endif
