// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/plot.h
 * Frames with axes, and what is drawn inside them.
 */
#ifndef CAVUM_CANVAS_PLOT_H
#define CAVUM_CANVAS_PLOT_H

#include "canvas/canvas.h"

/** Size of the letters at marks and of labels, in points. */
#define CAVUM_PLOT_TICK_SIZE 9.5
#define CAVUM_PLOT_LABEL_SIZE 10.5

/** One axis. */
typedef struct cavum_plot_axis {
  double low, high;
  bool logarithmic;
  bool hide_labels;  /**< Marks without numbers: the plot below has them. */
  bool size_only;    /**< Numbers without their sign: a radius below the axis. */
  bool whole;        /**< Marks at whole numbers alone; not of a logarithmic one. */
  const char *label; /**< Mark-up of cavum_canvas_text(); "" for none. */
} cavum_plot_axis;

/** A frame on a page; x, y is its top left corner, without what is written around it. */
typedef struct cavum_plot {
  double x, y, width, height;
  cavum_plot_axis horizontal, vertical;
  bool no_grid;
  bool no_upright_marks; /**< The vertical axis has no numbers: bars have names. */
} cavum_plot;

/** Marks for single points. */
typedef enum cavum_plot_mark {
  CAVUM_MARK_CIRCLE,
  CAVUM_MARK_DIAMOND,
  CAVUM_MARK_TRIANGLE,
  CAVUM_MARK_SQUARE,
  CAVUM_MARK_CROSS
} cavum_plot_mark;

/** Page coordinate of a value. */
double cavum_plot_at_x(const cavum_plot *plot, double value);
/** Page coordinate of a value. */
double cavum_plot_at_y(const cavum_plot *plot, double value);

/** Grid, frame, marks, numbers and labels; draw the data after it. */
void cavum_plot_draw_frame(cavum_canvas *canvas, const cavum_plot *plot);

/** How far numbers and label of the vertical axis reach to the left of the frame. */
double cavum_plot_room_left(cavum_canvas *canvas, const cavum_plot *plot);

/** Limits drawing to the frame until cavum_canvas_unclip(). */
void cavum_plot_clip(cavum_canvas *canvas, const cavum_plot *plot);

/**
 * A line through points, shape [count] each; broken where a value is not finite.
 */
void cavum_plot_draw_line(cavum_canvas *canvas, const cavum_plot *plot, int count, const double *x,
                          const double *y, cavum_ink ink, double width, cavum_dash dash);

/** An upright line across the frame. */
void cavum_plot_draw_upright(cavum_canvas *canvas, const cavum_plot *plot, double x, cavum_ink ink,
                             cavum_dash dash);

/** A level line across the frame. */
void cavum_plot_draw_level(cavum_canvas *canvas, const cavum_plot *plot, double y, cavum_ink ink,
                           cavum_dash dash);

/** A mark at a place of the page, with a light rim that sets it off from what is below. */
void cavum_plot_draw_mark(cavum_canvas *canvas, double x, double y, double radius,
                          cavum_plot_mark mark, cavum_ink ink);

/** A piece of line that starts a key at x, on the base line y; 25 points wide with its gap. */
void cavum_plot_draw_key(cavum_canvas *canvas, double x, double y, cavum_ink ink, cavum_dash dash,
                         double width);

/** The same with a mark; 12 points wide. */
void cavum_plot_draw_mark_key(cavum_canvas *canvas, double x, double y, cavum_plot_mark mark,
                              cavum_ink ink);

/** An upright colour scale. */
typedef struct cavum_plot_colours {
  double x, y, height;     /**< Of the strip of colours, without the tip. */
  const uint32_t *palette; /**< Shape [256], from index 1; borrowed. */
  double low, high;        /**< Values of its ends. */
  bool goes_on;            /**< A tip at the top: larger values exist. */
  const char *label;       /**< Reads upward. */
  int away; /**< A label longer than the strip goes on below it (1), above (-1), or both (0). */
} cavum_plot_colours;

/** How far a colour scale with its numbers and label reaches to the right of its x. */
double cavum_plot_room_colours(cavum_canvas *canvas, const cavum_plot_colours *colours);

/** Draws a colour scale with its numbers and label. */
void cavum_plot_draw_colours(cavum_canvas *canvas, const cavum_plot_colours *colours);

/** The same from left to right, below x, y; its height is not read. */
void cavum_plot_draw_colours_across(cavum_canvas *canvas, const cavum_plot_colours *colours,
                                    double width);

#endif
