// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/result_private.h
 * Parts of the result file and the words that HDF5 and JSON share.
 */
#ifndef CAVUM_STORE_RESULT_PRIVATE_H
#define CAVUM_STORE_RESULT_PRIVATE_H

#include "cavum/solve.h"
#include "hdf5/hdf5_file.h"

/** Attribute `format` of the root group of every result file; the number counts layouts. */
#define CAVUM_STORE_FORMAT "cavum result 1"
/** Why a peak has no value. */
#define CAVUM_STORE_UNBOUNDED_REASON "sharp re-entrant corner"
/** Definition of k_cc, stored with it. */
#define CAVUM_STORE_COUPLING_DEFINITION \
  "2 (f_pi - f_0) / (f_pi + f_0) of the periodic cell; of unequal halves, the mean of both irises"

/** Writes /mesh: vertices, elements, edges, nodes, regions, degree, completeness. */
cavum_status cavum_store_write_mesh(cavum_hdf5_file *file, const cavum_result *result,
                                    cavum_error *error);

/** Writes /convergence and /warnings. */
cavum_status cavum_store_write_convergence(cavum_hdf5_file *file, const cavum_result *result,
                                           cavum_error *error);

/** Writes /VTKHDF, an unstructured grid of the field lattice; nothing when there is none. */
cavum_status cavum_store_write_vtk(cavum_hdf5_file *file, const cavum_result *result,
                                   cavum_error *error);

/** Checks that an open file is a result file of ours. */
cavum_status cavum_store_check_format(const cavum_hdf5_file *file, const char *path,
                                      cavum_error *error);

/** Reads one figure with its uncertainty and position; left as it is when the file has none. */
cavum_status cavum_store_read_figure(cavum_figure *figure, const cavum_hdf5_file *file,
                                     const char *path, cavum_error *error);

/** Reads /mesh into an empty mesh, and with it degree, unknowns and whether it is a half. */
cavum_status cavum_store_read_mesh(cavum_result *result, const cavum_hdf5_file *file,
                                   cavum_error *error);

/** A part of a result file that only some files have. */
typedef struct cavum_result_part {
  cavum_status (*write)(cavum_hdf5_file *file, const void *data, cavum_error *error);
  const void *data;
} cavum_result_part;

/** cavum_store_write_result(), with a part more; NULL for none. */
cavum_status cavum_store_write_result_with(const char *path, const cavum_result *result,
                                           const cavum_cell *cell,
                                           const cavum_solve_options *options,
                                           const cavum_result_part *part, cavum_error *error);

#endif
