// SPDX-License-Identifier: GPL-3.0-or-later
// Texts inside XML and HTML. What comes from users may hold anything, also what is no UTF-8.
#include "canvas/markup.h"

#include <string.h>

// Bytes of the UTF-8 character at the start, 0 when it is none (RFC 3629, overlong forms included).
static size_t character_length(const unsigned char *text, size_t length) {
  static const struct {
    unsigned char first_low, first_high, second_low, second_high;
    size_t length;
  } forms[] = {{0xc2, 0xdf, 0x80, 0xbf, 2}, {0xe0, 0xe0, 0xa0, 0xbf, 3},
               {0xe1, 0xec, 0x80, 0xbf, 3}, {0xed, 0xed, 0x80, 0x9f, 3},
               {0xee, 0xef, 0x80, 0xbf, 3}, {0xf0, 0xf0, 0x90, 0xbf, 4},
               {0xf1, 0xf3, 0x80, 0xbf, 4}, {0xf4, 0xf4, 0x80, 0x8f, 4}};
  if (text[0] < 0x80) return 1;
  for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
    if (text[0] < forms[i].first_low || text[0] > forms[i].first_high) continue;
    if (length < forms[i].length) return 0;
    if (text[1] < forms[i].second_low || text[1] > forms[i].second_high) return 0;
    for (size_t k = 2; k < forms[i].length; k++) {
      if ((text[k] & 0xc0) != 0x80) return 0;
    }
    return forms[i].length;
  }
  return 0;
}

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
    size_t size = character_length(here, length - at);
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
