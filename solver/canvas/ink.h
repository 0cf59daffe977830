// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/ink.h
 * Inks: colours by their role, on white paper and on a dark page.
 */
#ifndef CAVUM_CANVAS_INK_H
#define CAVUM_CANVAS_INK_H

#include <stdbool.h>
#include <stdint.h>

/** Rows: name, colour on white paper, colour on a dark page. Series colours: Okabe and Ito.
 * New rows go to the end: reports name inks by their number. */
#define CAVUM_INK_TABLE(X)          \
  X(PAPER, 0xffffff, 0x15181c)      \
  X(TEXT, 0x1b1f24, 0xe8eaed)       \
  X(MUTED, 0x5a636e, 0xa3acb7)      \
  X(GRID, 0xe2e5e9, 0x2d333b)       \
  X(FRAME, 0x8a929c, 0x6b7480)      \
  X(METAL, 0x23272c, 0xd5d9de)      \
  X(ELECTRIC, 0x0072b2, 0x56b4e9)   \
  X(MAGNETIC, 0xb0478a, 0xe29cc6)   \
  X(AXIS, 0x5a636e, 0xa3acb7)       \
  X(FIELD_LINE, 0x2a1a12, 0x2a1a12) \
  X(HALO, 0xffffff, 0xffffff)       \
  X(MARK, 0x101010, 0x101010)       \
  X(FIRST, 0xc24a00, 0xf08a4b)      \
  X(SECOND, 0x0072b2, 0x56b4e9)     \
  X(THIRD, 0x00805e, 0x2fc79b)      \
  X(FOURTH, 0xb0478a, 0xe29cc6)     \
  X(SHADE, 0xf1f3f5, 0x1f242a)      \
  X(FIELD_LINE_LIGHT, 0xfff6e6, 0xfff6e6)

/** Roles of colours. */
typedef enum cavum_ink {
#define CAVUM_INK_ENUM(name, light, dark) CAVUM_INK_##name,
  CAVUM_INK_TABLE(CAVUM_INK_ENUM)
#undef CAVUM_INK_ENUM
      CAVUM_NUM_INKS
} cavum_ink;

/** 0xRRGGBB of an ink on white paper, or on a dark page. */
uint32_t cavum_ink_colour(cavum_ink ink, bool dark);

#endif
