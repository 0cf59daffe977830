// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/utf8.h
 * Characters of texts that may be anything.
 */
#ifndef CAVUM_BASE_UTF8_H
#define CAVUM_BASE_UTF8_H

#include <stdbool.h>
#include <stddef.h>

/**
 * Bytes of the UTF-8 character at the start of a text (RFC 3629), 1 to 4; 0: there is none.
 * @param[in] text  Shape [left].
 * @param[in] left  At least 1.
 */
int cavum_utf8_length(const char *text, size_t left);

/** Whether a byte stands within a character, behind its first one. */
static inline bool cavum_utf8_is_inside(char byte) { return ((unsigned char)byte & 0xC0) == 0x80; }

/**
 * A text, or as many whole characters of it as there is room for and "..." behind them.
 * @param[out] cut   Zero-terminated, shape [size].
 * @param[in]  size  At least 8.
 * @param[in]  text  UTF-8.
 */
void cavum_utf8_cut(char *cut, size_t size, const char *text);

#endif
