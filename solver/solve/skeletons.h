// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/skeletons.h
 * The plans of elimination of a mesh for both symmetry classes.
 */
#ifndef CAVUM_SOLVE_SKELETONS_H
#define CAVUM_SOLVE_SKELETONS_H

#include "fem/skeleton.h"

/** Symmetry classes of a half model: E_z even about the mirror plane, and odd. */
enum { CAVUM_CLASSES = 2 };

/** Plans of elimination of a mesh, made when they are needed. */
typedef struct cavum_skeletons {
  int64_t topology;                       /**< Of which topology; others are dropped. */
  cavum_skeleton of_class[CAVUM_CLASSES]; /**< By symmetry class. */
  const struct cavum_skeletons *like; /**< Borrowed, must outlive these: plans of a mesh of the same
                                           topology that serve these too; or NULL. */
} cavum_skeletons;

/**
 * The plan for one class of a mesh.
 * @param[in] topology  Number of the mesh's topology: plans of another one are replaced.
 */
cavum_status cavum_skeletons_get(const cavum_skeleton **skeleton, cavum_skeletons *skeletons,
                                 const cavum_mesh *mesh, int64_t topology, int of_class,
                                 cavum_error *error);

/** Frees all plans. */
void cavum_skeletons_clear(cavum_skeletons *skeletons);

#endif
