// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/markup.h
 * Texts and bytes inside XML and HTML.
 */
#ifndef CAVUM_CANVAS_MARKUP_H
#define CAVUM_CANVAS_MARKUP_H

#include <stddef.h>
#include <stdio.h>

/** Writes a text with <, >, &, quotes replaced, also fit for attributes; control characters and
 * bytes that are no UTF-8 become U+FFFD. */
void cavum_markup_write(FILE *out, const char *text);

/** Like cavum_markup_write() for some bytes of a text. */
void cavum_markup_write_bytes(FILE *out, const char *text, size_t length);

/** Writes bytes in base 64. */
void cavum_markup_write_base64(FILE *out, const void *bytes, size_t size);

#endif
