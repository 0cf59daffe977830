// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file test_cell.h
 * An invented cell that is small, cheap and its own mirror image, as the text of a cell file.
 */
#ifndef CAVUM_TEST_TEST_CELL_H
#define CAVUM_TEST_TEST_CELL_H

/** Its contour; keys of `contour` may follow. */
#define TEST_CELL_CONTOUR                                  \
  "contour:\n"                                             \
  "  kind: two-ellipse\n"                                  \
  "  half_length_mm: 57.7\n"                               \
  "  iris_radius_mm: 35.0\n"                               \
  "  equator_radius_mm: 103.3\n"                           \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"

/** The whole cell, a half-wave cavity; keys of the file may follow. */
#define TEST_CELL                        \
  "title: Test cell\n" TEST_CELL_CONTOUR \
  "ends:\n"                              \
  "  left: {kind: magnetic}\n"           \
  "  right: {kind: magnetic}\n"

#endif
