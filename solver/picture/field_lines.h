// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/field_lines.h
 * Electric field lines.
 */
#ifndef CAVUM_PICTURE_FIELD_LINES_H
#define CAVUM_PICTURE_FIELD_LINES_H

#include "canvas/canvas.h"
#include "picture/field_map.h"

/**
 * Draws electric field lines over a map of |E|: lines r H_phi = const, between two of which the
 * same flux runs. They are dark on light colours and light on dark ones.
 * @param[in,out] canvas  Clipped to the cell.
 * @param[in]     scene   Its lattice caches weights.
 * @param[in]     frame   To the page.
 * @param[in]     count   Lines between zero and the largest value of r H_phi.
 * @param[in]     width   Of a line, in points.
 * @param[in]     palette Colours of the map, shape [256].
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_field_lines_draw(cavum_canvas *canvas, cavum_scene *scene,
                                    const cavum_field_frame *frame, int count, double width,
                                    const uint32_t palette[256], cavum_error *error);

#endif
