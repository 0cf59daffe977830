// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/profile.h
 * Fields of a mode along the axis, along the wall and on a lattice, for files and pictures.
 */
#ifndef CAVUM_FIGURES_PROFILE_H
#define CAVUM_FIGURES_PROFILE_H

#include "figures/view.h"

/** E_z on the axis of the whole cell by rising z; half models are mirrored. */
cavum_status cavum_profile_fill_axis(cavum_profile *profile, const cavum_view *view,
                                     cavum_error *error);

/**
 * E and H along the metal of the whole cell, counterclockwise; the arc length runs on over gaps
 * between separate walls. Half models are mirrored, each piece of wall with its image.
 */
cavum_status cavum_profile_fill_wall(cavum_profile *profile, const cavum_view *view,
                                     cavum_error *error);

/**
 * Where a point of the wall profile stands on the mesh's own wall.
 * @param[out] edge  Into boundary->conducting.
 * @return The position on it, from -1 to 1.
 */
double cavum_profile_wall_place(cavum_index *edge, cavum_index point);

/** Points of a profile on each edge of the mesh; both ends of the edge are among them. */
enum { CAVUM_PROFILE_POINTS_PER_EDGE = 24 };

/** Frees what a profile owns. */
void cavum_profile_clear(cavum_profile *profile);

/** The order that CAVUM_FIELD_ORDER_CHOSEN stands for. */
int cavum_profile_choose_order(const cavum_mesh *mesh, int degree);

/** Fields on the equispaced lattice of an order in every element of the mesh. */
cavum_status cavum_profile_fill_grid(cavum_field_grid *grid, const cavum_view *view, int order,
                                     cavum_error *error);

#endif
