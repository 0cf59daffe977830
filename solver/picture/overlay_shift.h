// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/overlay_shift.h
 * Where one cell is laid over another.
 */
#ifndef CAVUM_PICTURE_OVERLAY_SHIFT_H
#define CAVUM_PICTURE_OVERLAY_SHIFT_H

#include "picture/scene.h"

/**
 * What is added to z in metres so that the equator of a cell stands at z = 0. A cell whose metal is
 * nearer to that of `first` with z as in both cell files than with both equators at z = 0 gets the
 * shift of `first`: where the wall is slanted or the widest place is an edge, a change of the wall
 * moves the equator by much.
 * @param[in] scene  Of the cell.
 * @param[in] first  Of the cell that it is laid over; NULL: none.
 */
double cavum_overlay_shift_m(const cavum_scene *scene, const cavum_scene *first);

/** Whether a cell is widest at one place, its equator, and not along a cylinder. */
bool cavum_overlay_has_equator(const cavum_scene *scene);

#endif
