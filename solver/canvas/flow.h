// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/flow.h
 * Keys and texts one after the other, on as many lines as they need. The same calls on a measuring
 * page tell how high they are.
 */
#ifndef CAVUM_CANVAS_FLOW_H
#define CAVUM_CANVAS_FLOW_H

#include "canvas/plot.h"

/** Height of one line of a flow. */
#define CAVUM_FLOW_LINE 15.0

/** Where the next entry goes. */
typedef struct cavum_flow {
  cavum_canvas *canvas; /**< Borrowed. */
  double left, right;   /**< Limits of the lines. */
  double x, y;          /**< Base line of the next entry. */
} cavum_flow;

/** Starts at the left end of a line. */
cavum_flow cavum_flow_start(cavum_canvas *canvas, double left, double right, double y);

/** A piece of line and a text; what is wider than a line goes on below it. */
void cavum_flow_add_line(cavum_flow *flow, const char *text, cavum_ink ink, cavum_dash dash,
                         double width);

/** A mark and a text. */
void cavum_flow_add_mark(cavum_flow *flow, const char *text, cavum_plot_mark mark, cavum_ink ink);

/** A ring, or a short bar, and a text. */
void cavum_flow_add_ring(cavum_flow *flow, const char *text, cavum_ink ink);
void cavum_flow_add_bar(cavum_flow *flow, const char *text, cavum_ink ink);

/** A thick piece of line of any colour, 0xRRGGBB, and a text. */
void cavum_flow_add_colour(cavum_flow *flow, const char *text, uint32_t colour);

/** An open box with a line through its middle, and a text. */
void cavum_flow_add_box(cavum_flow *flow, const char *text, cavum_ink ink);

/** A text alone. */
void cavum_flow_add_text(cavum_flow *flow, const char *text);

/** Ends the line if something stands on it. */
void cavum_flow_break(cavum_flow *flow);

/**
 * Writes a text of a user on up to `most` lines, the last one cut with an ellipsis if need be.
 * @return The base line after the last.
 */
double cavum_flow_write_text(cavum_canvas *canvas, double x, double y, double width,
                             const char *text, const cavum_text_style *style, int most);

#endif
