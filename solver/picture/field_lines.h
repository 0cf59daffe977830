// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/field_lines.h
 * Electric field lines.
 */
#ifndef CAVUM_PICTURE_FIELD_LINES_H
#define CAVUM_PICTURE_FIELD_LINES_H

#include "picture/field_map.h"

/**
 * Adds electric field lines to the path of a page: lines r H_phi = const, between two of which the
 * same flux runs.
 * @param[in,out] canvas  Stroke the path afterwards.
 * @param[in]     scene   Its lattice caches weights.
 * @param[in]     frame   To the page.
 * @param[in]     count   Lines between zero and the largest value of r H_phi.
 * @param[out]    error   May be NULL.
 */
cavum_status cavum_field_lines_add(cavum_canvas *canvas, cavum_scene *scene,
                                   const cavum_field_frame *frame, int count, cavum_error *error);

#endif
