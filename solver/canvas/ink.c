// SPDX-License-Identifier: GPL-3.0-or-later
// The colours behind the inks.
#include "canvas/ink.h"

uint32_t cavum_ink_colour(cavum_ink ink, bool dark) {
  static const uint32_t colours[CAVUM_NUM_INKS][2] = {
#define INK_COLOURS(name, light, dark) {light, dark},
      CAVUM_INK_TABLE(INK_COLOURS)
#undef INK_COLOURS
  };
  return colours[ink][dark];
}
