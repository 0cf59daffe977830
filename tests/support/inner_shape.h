// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file inner_shape.h
 * An inner cell of 1300 MHz that searches start from.
 */
#ifndef CAVUM_TEST_INNER_SHAPE_H
#define CAVUM_TEST_INNER_SHAPE_H

#define INNER_SHAPE                                              \
  "contour:\n"                                                   \
  "  kind: two-ellipse\n"                                        \
  "  half_length_mm: 57.652\n"                                   \
  "  iris_radius_mm: 35.0\n"                                     \
  "  equator_radius_mm: 101.2\n"                                 \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"       \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"          \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n" \
  "modes: {count: 1}\n"

#endif
