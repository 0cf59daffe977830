// SPDX-License-Identifier: GPL-3.0-or-later
// Texts inside XML and HTML. What comes from users may hold anything, also what is no UTF-8.
#include "canvas/markup.h"

#include <string.h>

#include "base/utf8.h"

static const char *replacement(unsigned char c) {
  switch (c) {
    case '<':
      return "&lt;";
    case '>':
      return "&gt;";
    case '&':
      return "&amp;";
    case '"':
      return "&quot;";
    case '\'':
      return "&#39;";
    default:
      return (c < 0x20 && c != '\n' && c != '\t') || c == 0x7f ? "\xef\xbf\xbd" : NULL;
  }
}

void cavum_markup_write_bytes(FILE *out, const char *text, size_t length) {
  for (size_t at = 0; at < length;) {
    const unsigned char *here = (const unsigned char *)text + at;
    size_t size = (size_t)cavum_utf8_length(text + at, length - at);
    const char *instead = size == 0 ? "\xef\xbf\xbd" : size == 1 ? replacement(*here) : NULL;
    if (instead) fputs(instead, out);
    if (!instead) fwrite(here, 1, size, out);
    at += size ? size : 1;
  }
}

void cavum_markup_write(FILE *out, const char *text) {
  cavum_markup_write_bytes(out, text, strlen(text));
}

void cavum_markup_write_base64(FILE *out, const void *bytes, size_t size) {
  static const char digits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  const unsigned char *from = bytes;
  for (size_t at = 0; at < size; at += 3) {
    size_t have = size - at < 3 ? size - at : 3;
    unsigned int value = (unsigned int)from[at] << 16;
    if (have > 1) value |= (unsigned int)from[at + 1] << 8;
    if (have > 2) value |= from[at + 2];
    char quad[4];
    for (int k = 0; k < 4; k++) {
      quad[k] = (size_t)k <= have ? digits[value >> (18 - 6 * k) & 63] : '=';
    }
    fwrite(quad, 1, 4, out);
  }
}
