// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/view.h
 * One mode of a whole cell as the figures see it: the field, the mirror and the boundary of the
 * mesh.
 *
 * A half model is a mesh of one side of the mirror plane only. The field is scaled so that the
 * whole cell stores one joule; `copies` is the number of times that every edge of the mesh occurs
 * in the cell.
 */
#ifndef CAVUM_FIGURES_VIEW_H
#define CAVUM_FIGURES_VIEW_H

#include "cavum/solve.h"
#include "fem/field.h"
#include "figures/mesh_boundary.h"

/** One mode of a whole cell. */
typedef struct cavum_view {
  cavum_field field;
  const cavum_mesh_boundary *boundary; /**< Borrowed. */
  cavum_parity parity;                 /**< NONE: the mesh is the whole cell. */
  double copies;                       /**< 1, or 2 for a half model. */
} cavum_view;

/** A view of one mode at one joule in the whole cell. */
cavum_view cavum_view_create(const cavum_discretisation *discretisation,
                             const cavum_mesh_boundary *boundary, const double *vector,
                             double k2_per_m2, cavum_parity parity);

#endif
