// SPDX-License-Identifier: GPL-3.0-or-later
#include "base/utf8.h"

#include <stdio.h>
#include <string.h>

int cavum_utf8_length(const char *text, size_t left) {
  const unsigned char *byte = (const unsigned char *)text;
  unsigned char c = byte[0];
  if (c < 0x80) return 1;
  int length = c >= 0xC2 && c < 0xE0   ? 2
               : c >= 0xE0 && c < 0xF0 ? 3
               : c >= 0xF0 && c < 0xF5 ? 4
                                       : 0;
  if (length == 0 || (size_t)length > left) return 0;
  for (int i = 1; i < length; i++) {
    if ((byte[i] & 0xC0) != 0x80) return 0;
  }
  // Overlong forms, halves of pairs, and what is beyond the last character.
  if ((c == 0xE0 && byte[1] < 0xA0) || (c == 0xED && byte[1] > 0x9F)) return 0;
  if ((c == 0xF0 && byte[1] < 0x90) || (c == 0xF4 && byte[1] > 0x8F)) return 0;
  return length;
}

void cavum_utf8_cut(char *cut, size_t size, const char *text) {
  static const char mark[] = "...";
  size_t length = strlen(text);
  if (length < size) {
    memcpy(cut, text, length + 1);
    return;
  }
  length = size - sizeof mark;
  while (length > 0 && cavum_utf8_is_inside(text[length])) length--;
  snprintf(cut, size, "%.*s%s", (int)length, text, mark);
}
