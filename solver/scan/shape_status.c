// SPDX-License-Identifier: GPL-3.0-or-later
// The words for what became of a shape. A file of their own: whoever prints them alone does not
// load the library for expressions that a study needs.
#include "cavum/scan.h"

const char *cavum_shape_status_word(cavum_shape_status status) {
  static const char *const words[] = {
#define SHAPE_WORD(name, word, text) word,
      CAVUM_SHAPE_TABLE(SHAPE_WORD)
#undef SHAPE_WORD
  };
  return (unsigned)status < CAVUM_NUM_SHAPE_STATUSES ? words[status] : "unknown";
}

const char *cavum_shape_status_text(cavum_shape_status status) {
  static const char *const texts[] = {
#define SHAPE_TEXT(name, word, text) text,
      CAVUM_SHAPE_TABLE(SHAPE_TEXT)
#undef SHAPE_TEXT
  };
  return (unsigned)status < CAVUM_NUM_SHAPE_STATUSES ? texts[status] : "unknown";
}
