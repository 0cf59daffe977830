// SPDX-License-Identifier: GPL-3.0-or-later
#include "format/key_words.h"

#include <stdbool.h>
#include <string.h>

#include "base/units.h"

static const char *without(const char *key, const char *front) {
  size_t size = strlen(front);
  return strncmp(key, front, size) == 0 ? key + size : NULL;
}

// Adds what fits; the end stays zero.
static size_t add(char *words, size_t size, size_t at, const char *text, size_t length) {
  for (size_t i = 0; i < length && at + 1 < size; i++) words[at++] = text[i];
  words[at] = '\0';
  return at;
}

void cavum_key_words(char *words, size_t size, const char *key) {
  size_t at = 0, length = 0;
  const char *bare = without(key, "contour.");
  if (!bare) bare = key;
  if (size == 0) return;
  words[0] = '\0';
  for (int side = 0; side < 2; side++) {
    const char *half = without(bare, side == 0 ? "left." : "right.");
    if (!half) continue;
    at = add(words, size, at, side == 0 ? "left " : "right ", side == 0 ? 5 : 6);
    bare = half;
  }
  (void)cavum_unit_split_key(&length, bare);
  for (size_t i = 0; i < length; i++) {
    bool dot = bare[i] == '.';
    const char *text = dot ? ", " : bare[i] == '_' ? " " : &bare[i];
    at = add(words, size, at, text, dot ? 2 : 1);
  }
}
