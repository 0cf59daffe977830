// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/dielectric.h
 * Materials inside a cell: where they end, and what they are.
 */
#ifndef CAVUM_PICTURE_DIELECTRIC_H
#define CAVUM_PICTURE_DIELECTRIC_H

#include "canvas/flow.h"
#include "picture/field_map.h"

/** Whether anything but vacuum is in the cell. */
bool cavum_dielectric_any(const cavum_scene *scene);

/**
 * Draws what is not vacuum into one half plane: dots on it, and a line along each edge between two
 * materials. A half model is drawn whole.
 * @param[in] scene  Not changed, but for work space of its lattice.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_dielectric_draw(cavum_canvas *canvas, cavum_scene *scene,
                                   const cavum_field_frame *frame, cavum_error *error);

/** Its keys: a line for each material, with its relative permittivity and permeability. */
void cavum_dielectric_add_keys(cavum_flow *flow, const cavum_scene *scene);

#endif
