// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/sha256.h
 * Fingerprints: SHA-256 in 64 lower-case hexadecimal digits [FIPS180-4].
 */
#ifndef CAVUM_BASE_SHA256_H
#define CAVUM_BASE_SHA256_H

#include <stddef.h>
#include <stdint.h>

/** A digest on its way; room for that of the library, which one file alone sees. */
typedef struct cavum_sha256_state {
  uint64_t room[16];
} cavum_sha256_state;

/** Starts a digest. */
void cavum_sha256_begin(cavum_sha256_state *state);

/** Takes bytes in, shape [size]. */
void cavum_sha256_add(cavum_sha256_state *state, const void *data, size_t size);

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
