// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/hdf5_columns.h
 * Long columns in an HDF5 file on disk, written and read in blocks: files larger than memory.
 *
 * Texts and attributes go through the functions of hdf5_file.h.
 */
#ifndef CAVUM_HDF5_HDF5_COLUMNS_H
#define CAVUM_HDF5_HDF5_COLUMNS_H

#include "hdf5/hdf5_file.h"

/**
 * Rows of a chunk, and of the blocks in which columns are best written and read; those of texts, so
 * that a chunk of theirs fits into HDF5's cache of a megabyte as well.
 */
enum { CAVUM_HDF5_COLUMN_BLOCK = 65536, CAVUM_HDF5_TEXT_BLOCK = 1024 };

/** Number type of a column. */
typedef enum cavum_hdf5_column_type {
  CAVUM_HDF5_COLUMN_DOUBLE,
  CAVUM_HDF5_COLUMN_FLOAT,
  CAVUM_HDF5_COLUMN_INT64,
  CAVUM_HDF5_COLUMN_INT32,
  CAVUM_HDF5_COLUMN_UINT8,
  CAVUM_HDF5_COLUMN_TEXT /**< Fixed length, UTF-8, zero-padded. */
} cavum_hdf5_column_type;

/** A column to make, all borrowed. */
typedef struct cavum_hdf5_column {
  const char *path;
  cavum_hdf5_column_type type;
  int text_size; /**< TEXT: bytes of each. */
  int64_t num_rows;
  const char *units, *long_name, *definition; /**< NULL: no attribute. */
} cavum_hdf5_column;

/**
 * New empty file on disk under this very name (a temporary one, which the caller renames).
 * @param[out] file   Owned by the caller (cavum_hdf5_destroy()); untouched unless CAVUM_OK.
 * @param[in]  path   Replaced.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE  cannot be made.
 */
cavum_status cavum_hdf5_create_on_disk(cavum_hdf5_file **file, const char *path,
                                       cavum_error *error);

/** Makes a group that remembers the order in which its members were made. */
cavum_status cavum_hdf5_make_ordered_group(cavum_hdf5_file *file, const char *path,
                                           cavum_error *error);

/** Makes a chunked, compressed column. */
cavum_status cavum_hdf5_make_column(cavum_hdf5_file *file, const cavum_hdf5_column *column,
                                    cavum_error *error);

/**
 * Writes rows of a column.
 * @param[in]  file   File on disk.
 * @param[in]  path   Column made before.
 * @param[in]  first  First row; a multiple of CAVUM_HDF5_COLUMN_BLOCK writes whole chunks.
 * @param[in]  count  Rows.
 * @param[in]  data   Of the column's type, shape [count].
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE  disk full, most likely.
 */
cavum_status cavum_hdf5_write_column(cavum_hdf5_file *file, const char *path, int64_t first,
                                     int64_t count, const void *data, cavum_error *error);

/**
 * Closes a file on disk and seals it (seal.h).
 * @param[in,out] file   NULL afterwards, whatever happens.
 * @param[in]     kind   One word for the seal.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_FILE  disk full, most likely, now or at any write before.
 */
cavum_status cavum_hdf5_finish(cavum_hdf5_file **file, const char *kind, cavum_error *error);

/** Called for each member of a group with its name; false ends the walk. */
typedef bool cavum_hdf5_visitor(const char *name, void *data);

/** Walks the members of an ordered group in the order in which they were made. */
cavum_status cavum_hdf5_visit(const cavum_hdf5_file *file, const char *path,
                              cavum_hdf5_visitor *visitor, void *data, cavum_error *error);

/** Rows of a one-dimensional column; -1 when there is none of this path. */
int64_t cavum_hdf5_column_rows(const cavum_hdf5_file *file, const char *path);

/**
 * Type of a column, as it was made.
 * @retval CAVUM_ERR_INPUT  no such column, or none of these types.
 */
cavum_status cavum_hdf5_read_column_type(cavum_hdf5_column_type *type, const cavum_hdf5_file *file,
                                         const char *path, cavum_error *error);

/**
 * Reads rows of a column of numbers as doubles.
 * @param[out] values  Shape [count].
 * @retval CAVUM_ERR_INPUT  no such column, or rows beyond its end.
 */
cavum_status cavum_hdf5_read_column(double *values, const cavum_hdf5_file *file, const char *path,
                                    int64_t first, int64_t count, cavum_error *error);

/**
 * Reads rows of a column of texts of a fixed length.
 * @param[out] texts  New memory, shape [count, *width], zero-padded; release with free().
 * @param[out] width  Bytes of each, with a zero behind the longest.
 * @param[in]  file   Open file.
 * @param[in]  path   Column.
 * @param[in]  first  First row.
 * @param[in]  count  Rows, at least 1.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT   no such column, or rows beyond its end.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_hdf5_read_text_column(char **texts, size_t *width, const cavum_hdf5_file *file,
                                         const char *path, int64_t first, int64_t count,
                                         cavum_error *error);

#endif
