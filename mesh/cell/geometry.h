// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/geometry.h
 * Figures of the shape of a cell (cavum/geometry.h), the parts of them that are needed alone.
 */
#ifndef CAVUM_CELL_GEOMETRY_H
#define CAVUM_CELL_GEOMETRY_H

#include "base/units.h"
#include "cavum/geometry.h"

/** Unit of a figure in files. */
cavum_unit cavum_geometry_file_unit(cavum_geometry_id id);

/** Figure of a key, CAVUM_NUM_GEOMETRY_FIGURES where there is none. */
cavum_geometry_id cavum_geometry_of_key(const char *key);

/**
 * The figures of two-ellipse cells, which cost no integral.
 * @param[out] value  Shape [CAVUM_GEOMETRY_ROOM]: NAN but for those; all NAN of other cells.
 * @param[in]  cell   Checked.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a half without a common tangent; everything is NAN.
 */
cavum_status cavum_geometry_measure_halves(double *value, const cavum_cell *cell,
                                           cavum_error *error);

/**
 * The other figures, from a contour.
 * @param[in,out] value  Shape [CAVUM_GEOMETRY_ROOM]: total length, volume and area are set.
 * @param[in]     contour  Whole.
 */
void cavum_geometry_measure_contour(double *value, const cavum_contour *contour);

#endif
