// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/base64.h
 * Bytes as text: base64 [RFC4648].
 */
#ifndef CAVUM_BASE_BASE64_H
#define CAVUM_BASE_BASE64_H

#include <stddef.h>

#include "cavum/status.h"

/**
 * Bytes as words of 76 digits or less with a space between them.
 * @param[in] data  Shape [size].
 * @param[in] size  Bytes.
 * @return Owned by the caller, free(); NULL when there is no memory.
 */
char *cavum_base64_encode(const void *data, size_t size);

/**
 * The bytes of a text; spaces and ends of lines in it do not count.
 * @param[out] data   Owned by the caller, free(); shape [size], untouched unless CAVUM_OK.
 * @param[out] size   Bytes; untouched unless CAVUM_OK.
 * @param[in]  text   Zero-terminated.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT   other characters, or a text that ends too early.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_base64_decode(char **data, size_t *size, const char *text, cavum_error *error);

#endif
