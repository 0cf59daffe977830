// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/hdf5_file.h
 * HDF5 behind checked calls: a file is built in memory and written whole, or opened and read.
 *
 * Paths name objects from the root ("/modes/1/figures/q0"); the groups on the way are made when
 * they are missing. The same calls give the same bytes: no times are stored.
 */
#ifndef CAVUM_HDF5_HDF5_FILE_H
#define CAVUM_HDF5_HDF5_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cavum/status.h"

/** Number type of an array in memory and in the file (little-endian there). */
typedef enum cavum_hdf5_type {
  CAVUM_HDF5_DOUBLE,
  CAVUM_HDF5_INT32,
  CAVUM_HDF5_INT64,
  CAVUM_HDF5_UINT8
} cavum_hdf5_type;

/** An attribute beside units and long_name: doubles, or a text when `text` is set. */
typedef struct cavum_hdf5_attribute {
  const char *name;
  const char *text;      /**< UTF-8; NULL: numbers. */
  const double *numbers; /**< Shape [count]. */
  int count;             /**< 1 gives a scalar. */
} cavum_hdf5_attribute;

/** A dataset of numbers, all borrowed. */
typedef struct cavum_hdf5_array {
  const char *path;
  cavum_hdf5_type type;
  int rank;          /**< 0 (scalar), 1 or 2. */
  int64_t extent[2]; /**< Row-major shape, [rank] used. */
  const void *data;
  const char *units;     /**< UDUNITS spelling, "1" for pure numbers; NULL: no attribute. */
  const char *long_name; /**< NULL: no attribute. */
  const cavum_hdf5_attribute *attributes; /**< Shape [num_attributes], may be NULL. */
  int num_attributes;
} cavum_hdf5_array;

/** A file that is being built in memory, or one that is open for reading. */
typedef struct cavum_hdf5_file cavum_hdf5_file;

/**
 * New empty file in memory. One thread at a time is in HDF5, and its error
 * printing is silent while any of these functions runs.
 * @param[out] file   Owned by the caller; untouched unless CAVUM_OK.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused.
 */
cavum_status cavum_hdf5_create(cavum_hdf5_file **file, cavum_error *error);

/**
 * Checks a file against its seal (seal.h) and opens it for reading; HDF5's error printing is silent
 * until cavum_hdf5_destroy().
 * @param[out] file   Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  path   File name.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  damaged: not the bytes that were written.
 */
cavum_status cavum_hdf5_open(cavum_hdf5_file **file, const char *path, cavum_error *error);

/** Closes a file without writing it and sets the pointer to NULL; NULL is accepted. */
void cavum_hdf5_destroy(cavum_hdf5_file **file);

/**
 * Writes the file that was built with its seal (seal.h): temporary name, fsync, rename.
 * @param[in]  file   Built; still to be destroyed.
 * @param[in]  path   File name.
 * @param[in]  kind   One word for the seal.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE  unwritable folder, full disk; an old file is left as it was.
 */
cavum_status cavum_hdf5_save(cavum_hdf5_file *file, const char *path, const char *kind,
                             cavum_error *error);

/**
 * Adds a dataset; large ones are chunked, shuffled and deflated.
 * @retval CAVUM_ERR_LIBRARY  HDF5 refused, most often for want of memory.
 */
cavum_status cavum_hdf5_write_array(cavum_hdf5_file *file, const cavum_hdf5_array *array,
                                    cavum_error *error);

/** Adds a text dataset, fixed-length UTF-8: a scalar when count is 0, else shape [count]. */
cavum_status cavum_hdf5_write_texts(cavum_hdf5_file *file, const char *path, int count,
                                    const char *const *texts, const char *long_name,
                                    cavum_error *error);

/** Adds a fixed-length UTF-8 text attribute to an object ("/" is the root). */
cavum_status cavum_hdf5_write_text_attribute(cavum_hdf5_file *file, const char *path,
                                             const char *name, const char *text,
                                             cavum_error *error);

/** Adds a fixed-length ASCII attribute, which readers of VTKHDF files expect for its type. */
cavum_status cavum_hdf5_write_ascii_attribute(cavum_hdf5_file *file, const char *path,
                                              const char *name, const char *text,
                                              cavum_error *error);

/** Adds a one-dimensional attribute of 64-bit integers, shape [count]. */
cavum_status cavum_hdf5_write_integers_attribute(cavum_hdf5_file *file, const char *path,
                                                 const char *name, int count, const int64_t *values,
                                                 cavum_error *error);

/** Makes an empty group, with those on the way. */
cavum_status cavum_hdf5_make_group(cavum_hdf5_file *file, const char *path, cavum_error *error);

/** Gives an existing object a second name (hard link). */
cavum_status cavum_hdf5_link(cavum_hdf5_file *file, const char *existing, const char *path,
                             cavum_error *error);

/** True when an object of this path exists. */
bool cavum_hdf5_has(const cavum_hdf5_file *file, const char *path);

/** True when the object exists and has this attribute. */
bool cavum_hdf5_has_attribute(const cavum_hdf5_file *file, const char *path, const char *name);

/**
 * Reads a scalar number.
 * @retval CAVUM_ERR_INPUT  missing, not a number, or not a scalar.
 */
cavum_status cavum_hdf5_read_number(double *value, const cavum_hdf5_file *file, const char *path,
                                    cavum_error *error);

/**
 * Reads the numbers of an attribute that has exactly `count` of them.
 * @param[out] values  Shape [count].
 * @param[in]  count   Numbers expected.
 * @param[in]  file    Open file.
 * @param[in]  path    Object.
 * @param[in]  name    Attribute of it.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT  missing, no numbers, or another count.
 */
cavum_status cavum_hdf5_read_numbers_attribute(double *values, int count,
                                               const cavum_hdf5_file *file, const char *path,
                                               const char *name, cavum_error *error);

/**
 * Reads a text dataset, or an attribute of it when `attribute` is not NULL.
 * @param[out] text       Shape [size], zero-terminated, cut to fit; untouched unless CAVUM_OK.
 * @param[in]  size       Bytes of text.
 * @param[in]  file       Open file.
 * @param[in]  path       Object.
 * @param[in]  attribute  Name of an attribute, or NULL.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_INPUT  missing, or no text scalar.
 */
cavum_status cavum_hdf5_read_text(char *text, size_t size, const cavum_hdf5_file *file,
                                  const char *path, const char *attribute, cavum_error *error);

/**
 * Reads a dataset of numbers, whatever its number type, as doubles in row-major order.
 * @param[out] values  New memory, shape [*count], release with free(); untouched unless CAVUM_OK.
 * @param[out] count   How many there are, all extents multiplied.
 * @param[in]  file    Open file.
 * @param[in]  path    Object.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT   missing, no numbers, more than the file can hold, or unreadable.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_hdf5_read_doubles(double **values, int64_t *count, const cavum_hdf5_file *file,
                                     const char *path, cavum_error *error);

/** Like cavum_hdf5_read_doubles() for integers that fit into 32 bits. */
cavum_status cavum_hdf5_read_integers(int32_t **values, int64_t *count, const cavum_hdf5_file *file,
                                      const char *path, cavum_error *error);

/**
 * Reads a text dataset whole: a scalar, or a list.
 * @param[out] texts  New memory, shape [*count], each owned too; untouched unless CAVUM_OK.
 * @param[out] count  1 for a scalar.
 * @param[in]  file   Open file.
 * @param[in]  path   Object.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT   missing, no text, or more than 10 000 of them.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_hdf5_read_texts(char ***texts, int *count, const cavum_hdf5_file *file,
                                   const char *path, cavum_error *error);

/** Frees texts that were read, some of which may be NULL; NULL is accepted. */
void cavum_hdf5_free_texts(char **texts, int count);

/**
 * Reads a text: the first one, where there are several.
 * @param[out] text  New memory; untouched unless CAVUM_OK. The rest as of cavum_hdf5_read_texts().
 */
cavum_status cavum_hdf5_read_first_text(char **text, const cavum_hdf5_file *file, const char *path,
                                        cavum_error *error);

/** Version of the HDF5 library in use, for example "1.10.8"; a file is open. */
void cavum_hdf5_version(char text[32]);

#endif
