// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/stored_derivative.h
 * Derivatives in files: of the figure in the unit that its key names, per unit of the dimension as
 * its key names that, Hz/mm.
 */
#ifndef CAVUM_STORE_STORED_DERIVATIVE_H
#define CAVUM_STORE_STORED_DERIVATIVE_H

#include "cavum/solve.h"
#include "hdf5/hdf5_file.h"

/** Bytes that hold any unit of cavum_stored_derivative_unit(). */
enum { CAVUM_STORED_UNIT_SIZE = 48 };

/** A derivative of a result in the units of files. */
cavum_derivative cavum_stored_derivative_make(const cavum_result *result, int mode, int dimension,
                                              cavum_figure_id id);

/** Its derivative to one side, likewise. */
cavum_derivative cavum_stored_one_sided_make(const cavum_result *result, int mode, int dimension,
                                             cavum_figure_id id, cavum_change change);

/** The unit of a figure over that of a dimension, UDUNITS spelling: "Hz mm-1". */
void cavum_stored_derivative_unit(char unit[CAVUM_STORED_UNIT_SIZE], cavum_figure_id id,
                                  const cavum_dimension *dimension);

/**
 * Writes the derivatives of a mode, counted from 0: /modes/N/derivatives/DIMENSION/FIGURE, a scalar
 * with its uncertainty each. What is absent for a reason is NaN with that reason,
 * and where it has one to each side with these: `grows` and `shrinks`, value and uncertainty each.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_derivatives_write(cavum_hdf5_file *file, const cavum_result *result,
                                            int mode, cavum_error *error);

/** The derivative of k_cc by a dimension, per unit of that. */
cavum_derivative cavum_stored_coupling_derivative_make(const cavum_result *result, int dimension);

/**
 * Writes those of k_cc: /coupling/derivatives/DIMENSION, likewise; nothing where there are none.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_coupling_derivatives_write(cavum_hdf5_file *file,
                                                     const cavum_result *result,
                                                     cavum_error *error);

/** The dimensions of a result with derivatives: their keys, and their values in the units of those.
 */
#define CAVUM_STORED_DIMENSION_KEYS "/input/dimension_key"
#define CAVUM_STORED_DIMENSION_VALUES "/input/dimension_value"

/**
 * Writes the two; nothing without derivatives.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_dimensions_write(cavum_hdf5_file *file, const cavum_result *result,
                                           cavum_error *error);

/**
 * Reads dimensions and derivatives back; nothing where the file has none. Those of the fields along
 * the wall stay in the file.
 * @param[in,out] result  With its modes, otherwise as of a file without derivatives.
 * @retval CAVUM_ERR_INPUT  damaged.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_derivatives_read(cavum_result *result, const cavum_hdf5_file *file,
                                           cavum_error *error);

#endif
