// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/sha256.h
 * Fingerprints: SHA-256 in 64 lower-case hexadecimal digits [FIPS180-4].
 */
#ifndef CAVUM_BASE_SHA256_H
#define CAVUM_BASE_SHA256_H

#include <stddef.h>
#include <stdint.h>

#include "cavum/status.h"

/** A digest on its way; room for that of the library, which one file alone sees. */
typedef struct cavum_sha256_state {
  uint64_t room[16];
} cavum_sha256_state;

/** Starts a digest. */
void cavum_sha256_begin(cavum_sha256_state *state);

/** Takes bytes in, shape [size]. */
void cavum_sha256_add(cavum_sha256_state *state, const void *data, size_t size);

/** Takes a text in with its zero, so that two texts are not another one; NULL: an empty one. */
void cavum_sha256_add_text(cavum_sha256_state *state, const char *text);

/**
 * Takes the bytes of an open file in, from where it stands, without holding them.
 * @param[in] descriptor  Open for reading.
 * @param[in] most        Bytes; INT64_MAX: to its end.
 * @return  Bytes that were taken; -1 where it cannot be read, as errno says.
 */
int64_t cavum_sha256_add_open_file(cavum_sha256_state *state, int descriptor, int64_t most);

/**
 * Takes a whole file in.
 * @retval CAVUM_ERR_FILE    cannot be read.
 * @retval CAVUM_ERR_MEMORY  none left.
 */
cavum_status cavum_sha256_add_file(cavum_sha256_state *state, const char *path, cavum_error *error);

/** Ends a digest; text is zero-terminated. */
void cavum_sha256_end(char text[65], cavum_sha256_state *state);

/**
 * Digest of bytes in memory.
 * @param[out] text  Zero-terminated.
 * @param[in]  data  Shape [size].
 * @param[in]  size  Bytes.
 */
void cavum_sha256(char text[65], const void *data, size_t size);

#endif
