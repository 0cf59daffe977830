// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/space.h
 * Numbering of the unknowns of a mesh at one degree.
 *
 * Order: one unknown a vertex; then for each edge its degree - 1 functions; then the interior
 * functions. The first two groups are the skeleton. Along a reversed edge the odd functions change
 * sign. Interiors come element by element, or interleaved: one function of CAVUM_LANES elements,
 * then their next one, so that kernels load and store them in whole vectors. Then there are places
 * that belong to no function; vectors are zero there.
 */
#ifndef CAVUM_FEM_SPACE_H
#define CAVUM_FEM_SPACE_H

#include "base/lanes.h"
#include "cavum/mesh.h"
#include "fem/shape.h"

/** Numbering at one degree. */
typedef struct cavum_space {
  const cavum_mesh *mesh; /**< Borrowed, must outlive the space. */
  int degree;
  cavum_index num_skeleton;    /**< Vertices and edges. */
  cavum_index num_unknowns;    /**< All, with the places of no function. */
  cavum_index *first_interior; /**< Owned, shape [num_elements]: index of the first interior one. */
  cavum_index stride;          /**< From one interior function of an element to the next. */
} cavum_space;

/**
 * Numbers the unknowns.
 * @retval CAVUM_ERR_MEMORY  also when the count does not fit a cavum_index.
 */
cavum_status cavum_space_create(cavum_space *space, const cavum_mesh *mesh, int degree,
                                cavum_error *error);

/** Unknowns of a space of this degree on a mesh, without places of no function. */
int64_t cavum_space_size(const cavum_mesh *mesh, int degree);

/** A number of unknowns rounded up to whole vectors: where interleaved interiors begin. */
static inline int64_t cavum_space_lanes(int64_t count) {
  return (count + CAVUM_LANES - 1) / CAVUM_LANES * CAVUM_LANES;
}

/** Frees what a space owns; NULL is accepted. */
void cavum_space_clear(cavum_space *space);

/**
 * Global indices and signs of one element's skeleton functions, in local order.
 * @param[out] index, sign  Shape [num_corners * degree].
 */
void cavum_space_skeleton(cavum_index *index, double *sign, const cavum_space *space,
                          cavum_index element);

/** Coefficients of one element in its own local order and orientation. */
void cavum_space_gather(double *local, const cavum_space *space, cavum_index element,
                        const double *global);

/** Sets the coefficients of all functions above a lower degree to zero. */
void cavum_space_truncate(double *x, const cavum_space *space, int degree);

/**
 * Copies a vector of another degree on a mesh with the same topology. Functions that are new get
 * zero coefficients: from a lower degree the function is the same.
 */
void cavum_space_embed(double *high, const cavum_space *high_space, const double *low,
                       const cavum_space *low_space);

/**
 * Copies a vector to the space of a part of its mesh (cavum_submesh_create()) at the same degree
 * or a higher one: the function is the same there.
 * @param[in] element  Shape [part_space->mesh->num_elements]: which elements of the whole they are.
 */
void cavum_space_restrict(double *part, const cavum_space *part_space, const double *whole,
                          const cavum_space *whole_space, const cavum_index *element);

#endif
