// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/page.h
 * A page whose height follows from what is on it: laid out twice by the same code, on a measuring
 * page first.
 */
#ifndef CAVUM_PICTURE_PAGE_H
#define CAVUM_PICTURE_PAGE_H

#include "canvas/canvas.h"
#include "cavum/picture.h"

/** How a page is made. */
typedef struct cavum_draw_request {
  cavum_picture_view view;
  cavum_picture_field field;
  cavum_canvas_kind kind;
  int width_px;       /**< PNG. */
  double image_scale; /**< SVG and PDF: pixels a point of images. */
  double tolerance;   /**< SVG: how far lines may be from what was drawn, in points; 0: chosen. */
  int num_colours;    /**< Of the maps of a section; 0: chosen. */
  int num_lines;      /**< Electric field lines of a section; 0: chosen, below 0: none. */
  double line_width;  /**< Of these, in points; 0: chosen. */
  cavum_picture_along_wall along_wall; /**< Of a section. */
  double section_height; /**< Most of a section, a mesh, a scatter plot or outlines, in
                            points; 0: chosen. */
  cavum_picture_size size;
  bool no_heading;    /**< Without title and line about the mode: the page around has them. */
  const char *prefix; /**< SVG fragment. */
} cavum_draw_request;

/** Room around a page. */
#define CAVUM_PAGE_MARGIN 16.0

/** A page on its way. */
typedef struct cavum_page {
  cavum_canvas *canvas; /**< Borrowed. */
  bool measuring;       /**< Only sizes are wanted: what takes time may be left out. */
  double width;
  double squeeze; /**< Share of the heights that parts have where there is room:
                     cavum_page_height(). */
  double y;       /**< Where the next part starts; at last the height. */
  const cavum_draw_request *request;
} cavum_page;

/** Draws what is on a page. */
typedef cavum_status cavum_page_content(cavum_page *page, void *data, cavum_error *error);

/**
 * Makes a page.
 * @param[out] bytes        New memory, release with free(); untouched unless CAVUM_OK.
 * @param[out] size         Bytes.
 * @param[in]  request      Form and sizes.
 * @param[in]  width        In points, on a screen; sizes for paper have their own.
 * @param[in]  title        Any text; may be "".
 * @param[in]  description  Alternative text.
 * @param[in]  content      Called twice.
 * @param[in]  data         For `content`.
 * @param[out] error        May be NULL.
 */
cavum_status cavum_page_make(char **bytes, size_t *size, const cavum_draw_request *request,
                             double width, const char *title, const char *description,
                             cavum_page_content *content, void *data, cavum_error *error);

/** Title (a user's text) and a line below it; moves y behind them. Nothing with no_heading. */
void cavum_page_draw_heading(cavum_page *page, const char *title, const char *line);

/** Height of a part of a page: less where all must fit into a slide. */
static inline double cavum_page_height(const cavum_page *page, double height) {
  return height * page->squeeze;
}

/**
 * The full options of a program's, NULL for the defaults.
 * @retval CAVUM_ERR_USAGE  a size that is none, or members that are not known.
 * @retval CAVUM_ERR_RANGE  a choice or width out of range.
 */
cavum_status cavum_picture_take_options(cavum_picture_options *full,
                                        const cavum_picture_options *given, cavum_error *error);

/**
 * The full layout of a program's, NULL for the defaults.
 * @retval CAVUM_ERR_USAGE  a size that is none, or members that are not known.
 * @retval CAVUM_ERR_RANGE  a number out of range.
 */
cavum_status cavum_picture_take_layout(cavum_picture_layout *full,
                                       const cavum_picture_layout *given, cavum_error *error);

/** The request of a file of its own; layout may be NULL. */
cavum_draw_request cavum_page_request(const cavum_picture_options *options,
                                      const cavum_picture_layout *layout);

#endif
