// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/canvas.h
 * A page to draw on, in one of three forms: PNG and PDF through Cairo, SVG as text of our own.
 *
 * Coordinates are in points from the top left corner, y downwards. Colours are named by their role
 * (an ink), so that an SVG inside a web page follows the page's light or dark theme. A call that
 * fails for want of memory is remembered and reported by cavum_canvas_finish(); what is drawn after
 * it is lost, so callers need not check each call.
 */
#ifndef CAVUM_CANVAS_CANVAS_H
#define CAVUM_CANVAS_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "canvas/ink.h"
#include "canvas/path.h"
#include "cavum/status.h"

/** Form of a page. */
typedef enum cavum_canvas_kind {
  CAVUM_CANVAS_PNG,
  CAVUM_CANVAS_PDF,
  CAVUM_CANVAS_SVG,          /**< A file of its own. */
  CAVUM_CANVAS_SVG_FRAGMENT, /**< For a web page that has the style sheet of the inks. */
  CAVUM_CANVAS_MEASURE       /**< Draws nothing: for measuring texts. */
} cavum_canvas_kind;

/** A page. */
typedef struct cavum_canvas_page {
  cavum_canvas_kind kind;
  double width, height;    /**< In points. */
  double scale;            /**< PNG: pixels a point. Others: pixels a point of embedded images. */
  double print_scale;      /**< Points on paper per point of the page; 0: 1. */
  const char *title;       /**< For PDF metadata and SVG title; may be "". */
  const char *description; /**< Alternative text of an SVG; may be "". */
  double tolerance;        /**< SVG: how far lines may be from what was drawn; 0: 0.02 points. */
  const char *prefix; /**< SVG fragment: starts the names of its elements; unique in the page. */
} cavum_canvas_page;

/** Opaque. */
typedef struct cavum_canvas cavum_canvas;

/** Where a text stands against its point. */
typedef enum cavum_anchor {
  CAVUM_ANCHOR_START,
  CAVUM_ANCHOR_MIDDLE,
  CAVUM_ANCHOR_END
} cavum_anchor;

/** Style of a text. */
typedef struct cavum_text_style {
  double size; /**< Of the font, in points. */
  cavum_ink ink;
  cavum_anchor anchor;
  bool bold;
  bool upward; /**< Turned a quarter: reads from bottom to top. */
  bool plain;  /**< No mark-up: text of users. Else a_{b} and a^{b} lower and raise b. */
} cavum_text_style;

/** An image of palette indices. */
typedef struct cavum_image {
  int width, height;
  uint8_t *indices;        /**< Owned, shape [height, width]; 0 is transparent. */
  const uint32_t *palette; /**< Borrowed: 0xRRGGBB of each index, shape [256]. */
} cavum_image;

/**
 * Opens a page.
 * @param[out] canvas  Owned by the caller (cavum_canvas_destroy()); untouched unless CAVUM_OK.
 * @param[in]  page    Texts are borrowed until cavum_canvas_finish().
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_RANGE   a PNG of more than 32767 pixels a side.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_canvas_create(cavum_canvas **canvas, const cavum_canvas_page *page,
                                 cavum_error *error);

/** Frees a page and sets the pointer to NULL; NULL is accepted. */
void cavum_canvas_destroy(cavum_canvas **canvas);

/**
 * Ends the page and gives its bytes.
 * @param[out] bytes   New memory, release with free(); untouched unless CAVUM_OK. A zero follows.
 * @param[out] size    Bytes without that zero.
 * @param[in]  canvas  Not to be drawn on any more.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_MEMORY
 * @retval CAVUM_ERR_LIBRARY  Cairo or libpng refused.
 */
cavum_status cavum_canvas_finish(char **bytes, size_t *size, cavum_canvas *canvas,
                                 cavum_error *error);

/** Pixels a point that images on this page should have. */
double cavum_canvas_scale(const cavum_canvas *canvas);

/** Width of the page in points. */
double cavum_canvas_width(const cavum_canvas *canvas);

/** Starts a new piece of the path. */
void cavum_canvas_move(cavum_canvas *canvas, double x, double y);
/** Goes on straight. */
void cavum_canvas_line(cavum_canvas *canvas, double x, double y);
/** Closes the piece. */
void cavum_canvas_close(cavum_canvas *canvas);
/** Adds a rectangle. */
void cavum_canvas_rectangle(cavum_canvas *canvas, double x, double y, double width, double height);
/** Adds a circle (as a polygon of many sides). */
void cavum_canvas_circle(cavum_canvas *canvas, double x, double y, double radius);

/** Draws along the path and forgets it. */
void cavum_canvas_stroke(cavum_canvas *canvas, cavum_ink ink, double width, cavum_dash dash);
/** Fills the path (even-odd) and forgets it. */
void cavum_canvas_fill(cavum_canvas *canvas, cavum_ink ink);
/** Fills the path with a colour of no role, 0xRRGGBB, for colour scales. */
void cavum_canvas_fill_colour(cavum_canvas *canvas, uint32_t colour);
/** Limits what follows to the path (even-odd), until cavum_canvas_unclip(); forgets the path. */
void cavum_canvas_clip(cavum_canvas *canvas);
/** Ends a clip. */
void cavum_canvas_unclip(cavum_canvas *canvas);

/** Places an image. */
void cavum_canvas_image(cavum_canvas *canvas, double x, double y, double width, double height,
                        const cavum_image *image);

/** Writes a text; (x, y) is on its base line. */
void cavum_canvas_text(cavum_canvas *canvas, double x, double y, const char *text,
                       const cavum_text_style *style);

/** Width of a text in points. */
double cavum_canvas_measure(cavum_canvas *canvas, const char *text, const cavum_text_style *style);

#endif
