// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/wall_band.h
 * A density along the wall, drawn as a band of colour behind the wall.
 */
#ifndef CAVUM_PICTURE_WALL_BAND_H
#define CAVUM_PICTURE_WALL_BAND_H

#include "canvas/flow.h"
#include "cavum/picture.h"
#include "picture/field_map.h"

/** Width of the band in points, where there is room. */
#define CAVUM_WALL_BAND_WIDTH 8.0

/**
 * Whether a mode has what is to be drawn along its wall.
 * @retval CAVUM_ERR_INPUT  it has not; the message says what makes it.
 */
cavum_status cavum_wall_band_check(const cavum_scene *scene, cavum_picture_along_wall what,
                                   cavum_error *error);

/**
 * Draws the band into the metal of one half plane: one ink for each sign, its depth the square root
 * of the density over the largest size of both signs, no colour below a hundredth of it; hatched
 * where the density is not known; narrower where metal is thin.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_band_draw(cavum_canvas *canvas, const cavum_scene *scene,
                                  const cavum_field_frame *frame, cavum_picture_along_wall what,
                                  cavum_error *error);

/**
 * Its keys: what each ink means, with the largest density of each sign, and that both have one
 * scale.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_band_add_keys(cavum_flow *flow, const cavum_scene *scene,
                                      cavum_picture_along_wall what, cavum_error *error);

#endif
