// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/canvas_form.h
 * What a form of a page does: canvas.c calls canvas_cairo.c and canvas_svg.c through this table.
 */
#ifndef CAVUM_CANVAS_CANVAS_FORM_H
#define CAVUM_CANVAS_CANVAS_FORM_H

#include "canvas/canvas.h"

/** The functions of a form; `state` is what its create function made. */
typedef struct cavum_canvas_form {
  /** Draws along a path. */
  void (*stroke)(void *state, const cavum_path *path, cavum_ink ink, double width, cavum_dash dash);
  /** Fills a path (even-odd) with an ink. */
  void (*fill)(void *state, const cavum_path *path, cavum_ink ink);
  /** Fills a path with a colour, 0xRRGGBB. */
  void (*fill_colour)(void *state, const cavum_path *path, uint32_t colour);
  /** Limits what follows to a path. */
  void (*clip)(void *state, const cavum_path *path);
  /** Ends the last clip. */
  void (*unclip)(void *state);
  /** Places an image. */
  void (*image)(void *state, double x, double y, double width, double height,
                const cavum_image *image);
  /** Writes a text. */
  void (*text)(void *state, double x, double y, const char *text, const cavum_text_style *style);
  /** Ends the page and gives its bytes, like cavum_canvas_finish(). */
  cavum_status (*finish)(char **bytes, size_t *size, void *state, cavum_error *error);
} cavum_canvas_form;

#endif
