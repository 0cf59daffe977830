// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/sha256.h
 * Fingerprint of an input.
 */
#ifndef CAVUM_BASE_SHA256_H
#define CAVUM_BASE_SHA256_H

#include <stddef.h>

/**
 * SHA-256 in 64 lower-case hexadecimal digits [FIPS180-4].
 * @param[out] text  Zero-terminated.
 * @param[in]  data  Shape [size].
 * @param[in]  size  Bytes.
 */
void cavum_sha256(char text[65], const void *data, size_t size);

#endif
