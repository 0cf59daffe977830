// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file neighbour.h
 * Cells next to a cell: every dimension of a two-ellipse cell a little other, or a path stretched.
 */
#ifndef CAVUM_TEST_NEIGHBOUR_H
#define CAVUM_TEST_NEIGHBOUR_H

#include "random_cells.h"

/** How far apart neighbours are: every dimension by up to one per cent. */
#define NEIGHBOUR_STEP 0.01

static inline double neighbour_factor(random_state *state, double step) {
  return 1.0 + random_between(state, -step, step);
}

// One equator radius for both halves.
static inline void neighbour_change_half(cavum_half_cell *half, double equator_radius_m,
                                         random_state *state, double step) {
  half->equator_radius_m = equator_radius_m;
  half->half_length_m *= neighbour_factor(state, step);
  half->iris_radius_m *= neighbour_factor(state, step);
  half->equator_axial_m *= neighbour_factor(state, step);
  half->equator_radial_m *= neighbour_factor(state, step);
  half->iris_axial_m *= neighbour_factor(state, step);
  half->iris_radial_m *= neighbour_factor(state, step);
}

// A tube as wide as its iris stays so.
static inline void neighbour_change_end(cavum_end *end, double iris_before_m, double iris_m,
                                        random_state *state, double step) {
  if (end->kind != CAVUM_END_TUBE) return;
  end->tube_length_m *= neighbour_factor(state, step);
  end->tube_radius_m *= iris_m / iris_before_m;
}

static inline void neighbour_change_two_ellipse(cavum_cell *cell, random_state *state,
                                                double step) {
  bool symmetric = cavum_cell_is_mirror_symmetric(cell);
  double left_iris = cell->left.iris_radius_m, right_iris = cell->right.iris_radius_m;
  double equator = cell->left.equator_radius_m * neighbour_factor(state, step);
  neighbour_change_half(&cell->left, equator, state, step);
  neighbour_change_end(&cell->left_end, left_iris, cell->left.iris_radius_m, state, step);
  if (symmetric) {
    cell->right = cell->left;
    cell->right_end = cell->left_end;
    return;
  }
  neighbour_change_half(&cell->right, equator, state, step);
  neighbour_change_end(&cell->right_end, right_iris, cell->right.iris_radius_m, state, step);
}

static inline cavum_point neighbour_stretch_point(cavum_point point, double along, double across) {
  return (cavum_point){point.z_m * along, point.r_m * across};
}

// Lines, ellipses with axes along z and r, and cubics go over into the same kinds of curves.
static inline void neighbour_stretch_curve(cavum_curve *curve, double along, double across) {
  curve->start = neighbour_stretch_point(curve->start, along, across);
  curve->end = neighbour_stretch_point(curve->end, along, across);
  curve->centre = neighbour_stretch_point(curve->centre, along, across);
  curve->axial_m *= along;
  curve->radial_m *= across;
  for (int k = 0; k < 4; k++) {
    curve->cubic[k] = neighbour_stretch_point(curve->cubic[k], along, across);
  }
}

/** Frees what neighbour_make() allocated. */
static inline void neighbour_clear(cavum_cell *neighbour) {
  free(neighbour->path.curves);
  neighbour->path = (cavum_contour){0};
}

/**
 * A neighbour with the mirror symmetry of the cell: of a two-ellipse cell every dimension is
 * changed by a factor of its own, a path is stretched along z and along r.
 *
 * @param[out] neighbour  Owns its path alone (neighbour_clear(), also after false); title, text and
 *                        all else are those of the cell.
 * @param[in]  cell       TWO_ELLIPSE or PATH.
 * @param[in]  step       Largest relative change of a dimension.
 * @return Whether there is such a cell.
 */
static inline bool neighbour_make(cavum_cell *neighbour, const cavum_cell *cell,
                                  random_state *state, double step) {
  cavum_contour contour = {0};
  size_t bytes = (size_t)cell->path.num_curves * sizeof *cell->path.curves;
  *neighbour = *cell;
  neighbour->path = (cavum_contour){0};
  if (cell->kind == CAVUM_CONTOUR_PATH) {
    double along = neighbour_factor(state, step), across = neighbour_factor(state, step);
    neighbour->path.curves = malloc(bytes);
    if (!neighbour->path.curves) return false;
    memcpy(neighbour->path.curves, cell->path.curves, bytes);
    neighbour->path.num_curves = cell->path.num_curves;
    for (cavum_index i = 0; i < neighbour->path.num_curves; i++) {
      neighbour_stretch_curve(&neighbour->path.curves[i], along, across);
    }
  } else {
    neighbour_change_two_ellipse(neighbour, state, step);
  }
  bool exists = cavum_cell_make_contour(&contour, neighbour, CAVUM_PART_WHOLE, NULL) == CAVUM_OK;
  cavum_contour_clear(&contour);
  return exists;
}

#endif
