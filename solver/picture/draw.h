// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file draw.h
 * Pages of pictures, for files and for reports.
 */
#ifndef CAVUM_PICTURE_DRAW_H
#define CAVUM_PICTURE_DRAW_H

#include "curves.h"
#include "page.h"
#include "scene.h"

/** One line about a mode: label, frequency, R/Q, G. */
void cavum_draw_describe_mode(char text[256], const cavum_result *result, int number);

/** Draws a page from a scene; like cavum_picture_draw_result(). */
cavum_status cavum_draw_scene(char **bytes, size_t *size, cavum_scene *scene,
                              const cavum_axis_curve *axis, const cavum_wall_curve *wall,
                              const cavum_draw_request *request, cavum_error *error);

#endif
