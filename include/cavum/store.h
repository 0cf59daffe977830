// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store.h
 * Result files (HDF5) and machine-readable text (JSON).
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile. HDF5 is not thread-safe in every build: files are
 * read and written one thread at a time, but for what the disk does. A program that calls HDF5
 * itself from other threads meanwhile needs a build of HDF5 that is.
 */
#ifndef CAVUM_STORE_H
#define CAVUM_STORE_H

#include "cavum/requirement.h"
#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/**
 * Writes a result file: plain HDF5, written to a temporary name in the same folder, flushed and
 * renamed, so that a reader never sees half a file and a failure never costs an old one.
 *
 * Groups: /input, /mesh, /convergence, /modes/N/{figures,axis,wall,beta_curve,field}, /coupling
 * and, with a field grid, /VTKHDF. Every dataset outside the last has `units` and `long_name`,
 * every figure also `definition` and `uncertainty`. The same result gives the same bytes.
 *
 * @param[in]  path     File to write; replaced.
 * @param[in]  result   A solved result.
 * @param[in]  cell     The cell it came from, unchanged: cavum_cell_to_text() is stored with its
 * SHA-256.
 * @param[in]  options  The options it was solved with, stored with it; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE    the cell is not the one that was solved; no path, result or cell.
 * @retval CAVUM_ERR_INPUT    a cell that cavum_cell_to_text() refuses.
 * @retval CAVUM_ERR_FILE     unwritable folder, full disk; an old file is left as it was.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused, most often for want of memory.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_result(const char *path, const cavum_result *result,
                                                const cavum_cell *cell,
                                                const cavum_solve_options *options,
                                                cavum_error *error);

/** What a result file is of: `cavum solve` (also of optimise), coldtest, scan, tolerances, steps,
 * as-built. */
typedef enum cavum_stored_kind {
  CAVUM_STORED_RESULT,
  CAVUM_STORED_COLDTEST,
  CAVUM_STORED_SCAN,
  CAVUM_STORED_SPREAD,
  CAVUM_STORED_STEPS,
  CAVUM_STORED_AS_BUILT
} cavum_stored_kind;

/**
 * Finds the kind of a result file.
 * @param[out] kind   Untouched unless CAVUM_OK.
 * @param[in]  path   File name.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  none of ours.
 */
CAVUM_API cavum_status cavum_stored_find_kind(cavum_stored_kind *kind, const char *path,
                                              cavum_error *error);

/** The figures of one mode as a result file holds them. */
typedef struct cavum_stored_mode {
  char title[256];
  char label[16];
  double beta;
  double accelerating_length_m;
  char accelerating_length_from[64];
  char cell_sha256[65];
  cavum_figure figures[CAVUM_FIGURES_ROOM]; /**< By cavum_figure_id. */
} cavum_stored_mode;

/**
 * Reads the figures of one mode from a result file.
 * @param[out] mode   Untouched unless CAVUM_OK.
 * @param[in]  path   Result file of cavum_store_write_result().
 * @param[in]  index  Mode, from 0.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  no result file of ours, or no such mode.
 */
CAVUM_API cavum_status cavum_store_read_mode(cavum_stored_mode *mode, const char *path, int index,
                                             cavum_error *error);

/** A requirement of the cell and what became of it. */
typedef struct cavum_stored_requirement {
  cavum_requirement requirement; /**< Key and bounds. */
  cavum_verdict verdict;
} cavum_stored_requirement;

/** What a result file says about its origin; all owned. Members are appended only. */
typedef struct cavum_stored_origin {
  size_t struct_size;  /**< Set by cavum_store_read_result(). */
  char *cell_text;     /**< A cell file of the cell that was solved. */
  char *cell_sha256;   /**< Its fingerprint. */
  char *version_cavum; /**< Version that solved and wrote. */
  char *version_hdf5;  /**< Version of the HDF5 library that wrote. */
  int modes_wanted;
  double near_hz;                /**< 0: the lowest modes. */
  double accuracy_frequency;     /**< Relative accuracy asked for. */
  double accuracy_other_figures; /**< The same, every other figure. */
  cavum_solve_options *options;  /**< As they were asked for; profiles and field_order are not
                                      kept. Their struct_size says which the library knows. */
  int num_requirements;
  cavum_stored_requirement *requirements; /**< Shape [num_requirements]: of the first mode. */
} cavum_stored_origin;

/** Frees what an origin owns and empties it; NULL is accepted. */
CAVUM_API void cavum_stored_origin_clear(cavum_stored_origin *origin);

/** What cavum_store_read_result() calls; struct_size is sizeof(cavum_stored_origin). */
CAVUM_API cavum_status cavum_store_read_result_sized(cavum_result **result,
                                                     cavum_stored_origin *origin,
                                                     size_t struct_size, const char *path,
                                                     cavum_error *error);

/**
 * Reads a whole result file back.
 *
 * The result is that of the solve with four exceptions: its mesh has no curves (mesh.num_curves is
 * 0; curved shapes are in the positions of the field grids), the parameters t of its edges are 0,
 * its timings are 0, and derivatives of the fields along the wall stay in the file.
 *
 * @param[out] result  New result (cavum_result_destroy()); untouched unless CAVUM_OK.
 * @param[out] origin  Release with cavum_stored_origin_clear(); untouched unless CAVUM_OK; may be
 *                     NULL.
 * @param[in]  path    Result file of cavum_store_write_result().
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_FILE    cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT   no result file of ours, or damaged: sizes or indices that do not agree.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_store_read_result(cavum_result **result,
                                                   cavum_stored_origin *origin, const char *path,
                                                   cavum_error *error) {
  return cavum_store_read_result_sized(result, origin, sizeof(cavum_stored_origin), path, error);
}

/**
 * The result as JSON text (keys and SI units as in REFERENCE.md).
 * @param[out] text   Owned by the caller, release with cavum_free(); ends with a newline.
 * @param[in]  result Solved result.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_result_to_json(char **text, const cavum_result *result,
                                                  cavum_error *error);

/**
 * Like cavum_store_result_to_json(), with what the cell says: the figures of its shape, with
 * derivatives if the result has them, and what became of the requirements in its text.
 * @param[out] text    Owned by the caller, release with cavum_free(); ends with a newline.
 * @param[in]  result  Solved result.
 * @param[in]  cell    The cell it came from; NULL: none of this.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given.
 * @retval CAVUM_ERR_INPUT     a bad cell, or requirements that make no sense.
 * @retval CAVUM_ERR_GEOMETRY  no contour.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_cell_result_to_json(char **text, const cavum_result *result,
                                                       const cavum_cell *cell, cavum_error *error);

/**
 * Writes text to a file through a temporary name and a rename, or to standard output for "-".
 *
 * A path that exists and is no regular file (a pipe, a terminal) is written to as it is.
 *
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE    cannot be written; an old file is left as it was.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_text(const char *path, const char *text,
                                              cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
