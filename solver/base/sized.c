// SPDX-License-Identifier: GPL-3.0-or-later
// Structs of programs that were built with another version of the headers.
#include "base/sized.h"

#include <string.h>

#include "base/base.h"

// A size beyond this many times the present one is no size but memory that was never set.
enum { GROWTH_MOST = 16 };

static bool is_zero(const char *bytes, size_t count) {
  for (size_t i = 0; i < count; i++) {
    if (bytes[i]) return false;
  }
  return true;
}

cavum_status cavum_sized_take(void *full, const void *given, const cavum_sized *sized,
                              cavum_error *error) {
  size_t size;
  if (!given) return cavum_fail(error, CAVUM_ERR_USAGE, "the %s is NULL", sized->name);
  memcpy(&size, given, sizeof size);
  // Every version's size is a multiple of this: another would take a part of a member.
  bool is_multiple = size % sizeof(size_t) == 0;
  if (!is_multiple || size < sized->first || size > GROWTH_MOST * sized->full) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "struct_size of the %s is %zu, expected what %s sets: begin with that",
                      sized->name, size, sized->maker);
  }
  size_t known = size < sized->full ? size : sized->full;
  if (!is_zero((const char *)given + known, size - known)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "members of the %s are set that version %s of the library does not know",
                      sized->name, cavum_version());
  }
  memset(full, 0, sized->full);
  memcpy(full, given, known);
  memcpy(full, &sized->full, sizeof size);
  return CAVUM_OK;
}

void cavum_sized_give(void *given, size_t struct_size, const void *full, const cavum_sized *sized) {
  size_t known = struct_size < sized->full ? struct_size : sized->full;
  memcpy(given, full, known);
  memset((char *)given + known, 0, struct_size - known);
  memcpy(given, &struct_size, sizeof struct_size);
}

size_t cavum_sized_known(size_t struct_size, const cavum_sized *sized) {
  if (struct_size < sized->first) return sized->first;
  return struct_size < sized->full ? struct_size : sized->full;
}
