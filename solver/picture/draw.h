// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file draw.h
 * Pages of pictures, for files and for reports.
 */
#ifndef CAVUM_PICTURE_DRAW_H
#define CAVUM_PICTURE_DRAW_H

#include "canvas.h"
#include "cavum/picture.h"
#include "curves.h"
#include "scene.h"

/** How a page is made. */
typedef struct cavum_draw_request {
  cavum_picture_view view;
  cavum_picture_field field;
  cavum_canvas_kind kind;
  int width_px;       /**< PNG. */
  double image_scale; /**< SVG and PDF: pixels a point of images. */
  bool no_heading;    /**< Without title and line about the mode: the page around has them. */
  const char *prefix; /**< SVG fragment. */
} cavum_draw_request;

/** One line about a mode: label, frequency, R/Q, G. */
void cavum_draw_describe_mode(char text[256], const cavum_result *result, int number);

/** Draws a page from a scene; like cavum_picture_draw_result(). */
cavum_status cavum_draw_scene(char **bytes, size_t *size, cavum_scene *scene,
                              const cavum_axis_curve *axis, const cavum_wall_curve *wall,
                              const cavum_draw_request *request, cavum_error *error);

#endif
