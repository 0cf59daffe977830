// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file hdf5/seal.h
 * The seal at the end of a file: what kind of file it is, and the digest of all bytes before it.
 *
 * HDF5 ignores what follows its own bytes, so every reader still reads the file; we look at the
 * seal before HDF5 sees a byte, since HDF5 trusts what it reads and may crash on damage. A seal is
 * one line of 128 characters:
 *
 *     cavum seal 1 KIND sha256 DIGEST size BYTES
 *
 * with an empty line before it; `head -c -128 FILE | sha256sum` gives the digest. A program that
 * changes the file through HDF5 cuts the seal off: the file then counts as one without.
 */
#ifndef CAVUM_HDF5_SEAL_H
#define CAVUM_HDF5_SEAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "cavum/status.h"

enum { CAVUM_SEAL_SIZE = 128, CAVUM_SEAL_KIND_SIZE = 12 };

/** What a seal says. */
typedef struct cavum_seal {
  char kind[CAVUM_SEAL_KIND_SIZE]; /**< One word, "" when there is no seal. */
  char digest[65];
  int64_t size; /**< Bytes before the seal. */
} cavum_seal;

/**
 * Makes the seal of bytes in memory.
 * @param[out] text  Shape [CAVUM_SEAL_SIZE], no final zero.
 * @param[in]  kind  One word, shorter than CAVUM_SEAL_KIND_SIZE.
 * @param[in]  data  Shape [size].
 * @param[in]  size  Bytes.
 */
void cavum_seal_make(char text[CAVUM_SEAL_SIZE], const char *kind, const void *data, size_t size);

/**
 * Seals a finished file.
 * @retval CAVUM_ERR_FILE  cannot be read or written.
 */
cavum_status cavum_seal_append(const char *path, const char *kind, cavum_error *error);

/** Reads the seal of a file without checking its digest; false when it has none. */
bool cavum_seal_find(cavum_seal *seal, const char *path);

/**
 * Checks a file against its seal. A file without one passes.
 * @retval CAVUM_ERR_FILE   cannot be read.
 * @retval CAVUM_ERR_INPUT  damaged: its bytes are not those that were sealed.
 */
cavum_status cavum_seal_check(const char *path, cavum_error *error);

#endif
