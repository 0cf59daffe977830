// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/dimension.h
 * The dimensions of a cell by which figures have derivatives, and how the contour moves with each.
 *
 * All other dimensions are fixed meanwhile. A dimension in which the halves of a two-ellipse cell
 * agree is one of both; a tube as wide as the iris of its side follows that.
 */
#ifndef CAVUM_CELL_DIMENSION_H
#define CAVUM_CELL_DIMENSION_H

#include "base/units.h"
#include "cavum/cell_key.h"
#include "cell/moved_cell.h"
#include "contour/curve_rate.h"

/** A number of a cell. */
typedef struct cavum_cell_dimension {
  char key[CAVUM_CELL_KEY_SIZE]; /**< Dotted, as cavum_cell_set() takes it, without the word
                                    contour. */
  cavum_unit unit;               /**< That the key names. */
  double value;                  /**< SI. */
  bool of_left, of_right;        /**< The half or end of that side changes. */
  size_t offset;                 /**< In cavum_half_cell; in cavum_cell where of_cell. */
  bool of_cell;                  /**< A member of the cell itself, not of a half. */
  bool of_path;                  /**< A number of a path: of one of its curves. */
  cavum_index curve;             /**< Of a path: whose end, centre or half axis it is. */
  bool is_circle[2]; /**< Of a path: that curve, and the next one, is an arc with one radius. */
  cavum_index first[2],
      count[2];         /**< Likewise: the spans of the spline that it is one of, if any. */
  bool is_stated[2][2]; /**< Likewise: whether the directions at its start and end are. */
  bool of_moved;        /**< Of a shape that was moved, or of what was done to it. */
  bool keeps_length;    /**< Likewise: the accelerating length does not go along. */
} cavum_cell_dimension;

/** Dimensions of a cell. */
typedef struct cavum_cell_dimensions {
  int count;
  cavum_cell_dimension *list; /**< Owned, [count]. */
} cavum_cell_dimensions;

/**
 * Lists the dimensions of a cell, in the order of its file; none of a mesh file.
 *
 * Of a path: all coordinates, also of the points of splines, and half axes but the radii of the
 * axis, which stay 0. The last point is the start: it follows that. Paths with cubics that are
 * given by their coefficients have none. Of a shape that contour.moved changes: those of the shape
 * before, and the amounts of what is done to it, with the numbers of profiles of at most 12 places.
 * @param[out] dimensions  Release with cavum_cell_dimensions_clear(); untouched unless CAVUM_OK.
 * @param[in]  cell        Checked.
 * @retval CAVUM_ERR_INPUT, CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_dimensions_list(cavum_cell_dimensions *dimensions, const cavum_cell *cell,
                                        cavum_error *error);

/**
 * The same where cells with one text follow one another.
 * @param[in,out] known  Of the text of the cells before, then of this one.
 */
cavum_status cavum_cell_dimensions_list_known(cavum_cell_dimensions *dimensions,
                                              const cavum_cell *cell, cavum_text_path *known,
                                              cavum_error *error);

/**
 * The same of a cell that nothing is done to.
 * @param[in,out] known  As above; NULL: the path is the one of the text before moves, which need
 *                       not be found out.
 */
cavum_status cavum_cell_dimensions_list_unmoved(cavum_cell_dimensions *dimensions,
                                                const cavum_cell *cell, cavum_text_path *known,
                                                cavum_error *error);

/**
 * Appends one.
 * @param[in,out] capacity  Of the list, 0 at first.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_dimensions_append(cavum_cell_dimensions *dimensions, int64_t *capacity,
                                          const cavum_cell_dimension *dimension,
                                          cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_cell_dimensions_clear(cavum_cell_dimensions *dimensions);

/** What programs are told of a dimension. */
cavum_dimension cavum_cell_dimension_describe(const cavum_cell_dimension *dimension);

/** Whether a dimension changes the mirrored halves of a symmetric cell alike, or neither. */
bool cavum_cell_dimension_keeps_mirror(const cavum_cell_dimension *dimension);

/** What a dimension changes besides the contour. */
typedef struct cavum_cell_rate {
  double beta;                  /**< d(beta). */
  double accelerating_length_m; /**< Of the length where that is given or from half lengths. */
} cavum_cell_rate;

/**
 * Rates of the contour of a cell by a dimension in SI.
 *
 * Of a half model (CAVUM_PART_RIGHT) a dimension of one side alone counts as half of the same of
 * both: to first order the other half of the change, which is odd about the mirror plane, does
 * nothing to a figure of a mode that is even or odd.
 *
 * Of a moved shape: by differences of the exact curves, of the fourth order, which are right to
 * some 1e-11; not smooth where the curves have another form at the neighbouring numbers.
 *
 * @param[out] rates    Shape [contour->num_curves].
 * @param[out] rate     What else changes.
 * @param[out] smooth   False where the contour does not change smoothly with the dimension.
 * @param[in]  contour  Of this cell and part.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_dimension_rate(cavum_curve_rate *rates, cavum_cell_rate *rate, bool *smooth,
                                       const cavum_contour *contour, const cavum_cell *cell,
                                       cavum_cell_part part, const cavum_cell_dimension *dimension,
                                       cavum_error *error);

/** The same by a dimension that is not of_moved. */
cavum_status cavum_cell_dimension_rate_unmoved(cavum_curve_rate *rates, cavum_cell_rate *rate,
                                               bool *smooth, const cavum_contour *contour,
                                               const cavum_cell *cell, cavum_cell_part part,
                                               const cavum_cell_dimension *dimension,
                                               cavum_error *error);

#endif
