// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/outline.h
 * The outline of a cell on a page: metal hatched on its far side, ends and axis by their kind.
 */
#ifndef CAVUM_PICTURE_OUTLINE_H
#define CAVUM_PICTURE_OUTLINE_H

#include "canvas/canvas.h"
#include "picture/field_map.h"
#include "picture/scene.h"

/** Look of a boundary. */
typedef struct cavum_outline_style {
  cavum_ink ink;
  cavum_dash dash;
  double width;
} cavum_outline_style;

/** Look of a kind of boundary, the same in the picture and its key. */
cavum_outline_style cavum_outline_style_of(cavum_boundary boundary);

/** Adds the closed outline to the path, for a clip. */
void cavum_outline_add(cavum_canvas *canvas, const cavum_scene *scene,
                       const cavum_field_frame *frame);

/**
 * Draws the outline; with `hatched` metal has a hatch outside of the cell, whose strokes touch
 * neither each other nor another wall.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_outline_draw(cavum_canvas *canvas, const cavum_scene *scene,
                                const cavum_field_frame *frame, bool hatched, cavum_error *error);

/** True when some piece of the outline is of this kind. */
bool cavum_outline_has(const cavum_scene *scene, cavum_boundary boundary);

#endif
