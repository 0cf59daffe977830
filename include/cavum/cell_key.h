// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell_key.h
 * Numbers of a cell by their dotted keys, as in its file: "contour.iris_radius_mm",
 * "contour.left.equator_ellipse.axial_mm", "ends.right.length_mm", "contour.path[3].line_to.z_mm",
 * "beta", "wall.temperature_K". `contour.` may be left out.
 *
 * Values are in the unit that the key names, as in a cell file: 35 for an "iris_radius_mm" of 35
 * mm.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_CELL_KEY_H
#define CAVUM_CELL_KEY_H

#include "cavum/cell.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Bytes that hold any full dotted key. */
enum { CAVUM_CELL_KEY_SIZE = 96 };

/** A number of a cell. */
typedef struct cavum_cell_key_info {
  char key[CAVUM_CELL_KEY_SIZE]; /**< Full dotted key. */
  const char *unit;              /**< The unit that the key names, "1" for pure numbers; static. */
  double value;                  /**< In that unit; 0: a length or frequency that is not stated. */
  double low, high; /**< Range that a cell may have; infinite: known to the cell alone. */
} cavum_cell_key_info;

/** A dimension of a cell by which its figures have derivatives. */
typedef struct cavum_dimension {
  char key[CAVUM_CELL_KEY_SIZE]; /**< Dotted, as cavum_cell_set() takes it: "iris_radius_mm". */
  const char *unit;              /**< The unit that the key names, "1" for pure numbers; static. */
  double value_si;               /**< Metres, or a pure number. */
  double unit_si;                /**< How many SI units one of that unit is: 1e-3 for mm. */
} cavum_dimension;

/**
 * What a key stands for in a cell.
 *
 * A key of both halves of a two-ellipse cell, "contour.iris_radius_mm", needs halves that agree in
 * that dimension: where they differ, "contour.left..." and "contour.right..." say which is meant.
 * Entries of a list are counted from 1, as in messages about cell files.
 *
 * @param[out] info   Untouched unless CAVUM_OK.
 * @param[in]  cell   Read or filled in, as for cavum_cell_check().
 * @param[in]  key    Dotted key.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT     no number of this key in such a cell, halves that differ, or a cell
 * that cavum_cell_check() refuses.
 * @retval CAVUM_ERR_GEOMETRY  a path that cannot exist.
 * @retval CAVUM_ERR_USAGE     no place, cell or key, or a cell that never saw its defaults.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_cell_describe_key(cavum_cell_key_info *info, const cavum_cell *cell,
                                               const char *key, cavum_error *error);

/**
 * A number of a cell: the value of cavum_cell_describe_key(), which has the errors too.
 * @param[out] value  In the unit of the key; untouched unless CAVUM_OK.
 * @param[in]  cell   Read or filled in.
 * @param[in]  key    Dotted key.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT     as cavum_cell_describe_key().
 * @retval CAVUM_ERR_GEOMETRY  as there.
 * @retval CAVUM_ERR_USAGE     as there.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_cell_get(double *value, const cavum_cell *cell, const char *key,
                                      cavum_error *error);

/**
 * Sets a number of a cell. A tube that is as wide as the iris of its side stays so. Whether the
 * shape exists is found by cavum_cell_make_contour(), for a path here.
 *
 * @param[in,out] cell   Read or filled in; unchanged unless CAVUM_OK.
 * @param[in]     key    Dotted key, as for cavum_cell_describe_key().
 * @param[in]     value  In the unit of the key, within its range.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_INPUT     as cavum_cell_describe_key(), or a value out of range.
 * @retval CAVUM_ERR_GEOMETRY  a path that cannot exist, before or with this number.
 * @retval CAVUM_ERR_USAGE     no cell or key, or a cell that never saw its defaults.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_cell_set(cavum_cell *cell, const char *key, double value,
                                      cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
