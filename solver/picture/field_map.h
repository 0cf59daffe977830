// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/field_map.h
 * The size of a field as an image of the half plane r >= 0.
 */
#ifndef CAVUM_PICTURE_FIELD_MAP_H
#define CAVUM_PICTURE_FIELD_MAP_H

#include "canvas/canvas.h"
#include "picture/scene.h"

/** Which field. */
typedef enum cavum_field_choice { CAVUM_FIELD_ELECTRIC, CAVUM_FIELD_MAGNETIC } cavum_field_choice;

/** The way from (z, r) to an image or a page: x = x0 + z scale_z, y = y0 - r scale_r (flipped: +).
 */
typedef struct cavum_field_frame {
  double x0, y0, scale_z, scale_r;
  bool flipped; /**< The lower half of a section: r counts downwards. */
} cavum_field_frame;

/** The frame in which the image of a half model has x = x0 - z scale_z. */
cavum_field_frame cavum_field_mirror_frame(const cavum_field_frame *frame,
                                           const cavum_scene *scene);

/**
 * Fills an image with palette indices of |E| or |H|; points outside the cell keep index 0 except a
 * rim of a few pixels, so that a clip at the exact outline shows no gap.
 * @param[in,out] image  indices are zero at the start.
 * @param[in]     scene  Its lattice caches weights.
 * @param[in]     frame  To pixels.
 * @param[in]     choice Electric or magnetic.
 * @param[in]     steps  Colours to use, 2 to 255: fewer make smaller files.
 * @param[out]    error  May be NULL.
 */
cavum_status cavum_field_map_fill(cavum_image *image, cavum_scene *scene,
                                  const cavum_field_frame *frame, cavum_field_choice choice,
                                  int steps, cavum_error *error);

/** The larger scale of a frame. */
static inline double cavum_field_frame_scale(const cavum_field_frame *frame) {
  return frame->scale_z > frame->scale_r ? frame->scale_z : frame->scale_r;
}

/** Palette index, 1 to 255, of a share of the largest value. */
int cavum_field_map_index(double share);

/** Level of refinement at which pieces of an element are about `piece` long on the page. */
int cavum_field_choose_level(const cavum_scene *scene, cavum_index element, double scale,
                             double piece);

#endif
