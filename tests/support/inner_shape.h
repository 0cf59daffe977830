// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file inner_shape.h
 * An inner cell of 1300 MHz that searches start from.
 */
#ifndef CAVUM_TEST_INNER_SHAPE_H
#define CAVUM_TEST_INNER_SHAPE_H

/** With this equator radius in millimetres, a text. */
#define INNER_SHAPE_OF(equator_radius_mm)                        \
  "contour:\n"                                                   \
  "  kind: two-ellipse\n"                                        \
  "  half_length_mm: 57.652\n"                                   \
  "  iris_radius_mm: 35.0\n"                                     \
  "  equator_radius_mm: " equator_radius_mm                      \
  "\n"                                                           \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"       \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"          \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n" \
  "modes: {count: 1}\n"

/** Above its frequency, to which a search has to hold it. */
#define INNER_SHAPE INNER_SHAPE_OF("101.2")

/** Near its frequency. */
#define INNER_SHAPE_TUNED INNER_SHAPE_OF("103.3")

#endif
