// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/draw.h
 * Pages of pictures, for files and for reports.
 */
#ifndef CAVUM_PICTURE_DRAW_H
#define CAVUM_PICTURE_DRAW_H

#include "picture/curves.h"
#include "picture/page.h"
#include "picture/scene.h"

/** One line about a mode: label, frequency, R/Q, G; mark-up of cavum_canvas_text(). */
void cavum_draw_describe_mode(char text[256], const cavum_result *result, int number);

/** The same without mark-up: cavum_text_flatten(). */
void cavum_draw_describe_mode_plainly(char text[256], const cavum_result *result, int number);

/** Like cavum_picture_draw_result(), laid out as wanted; layout may be NULL. */
cavum_status cavum_draw_result(char **bytes, size_t *size, const cavum_result *result,
                               const cavum_picture_options *options,
                               const cavum_picture_layout *layout, cavum_error *error);

/** Draws a page from a scene; like cavum_picture_draw_result(). */
cavum_status cavum_draw_scene(char **bytes, size_t *size, cavum_scene *scene,
                              const cavum_axis_curve *axis, const cavum_wall_plot *wall,
                              const cavum_draw_request *request, cavum_error *error);

#endif
