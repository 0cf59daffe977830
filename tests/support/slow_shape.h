// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file slow_shape.h
 * A cell of 650 MHz for slower particles. Its electric peak stands on tall irises, where two solves
 * at the accuracy asked for tell it apart by most of that.
 */
#ifndef CAVUM_TEST_SLOW_SHAPE_H
#define CAVUM_TEST_SLOW_SHAPE_H

#define SLOW_SHAPE                                            \
  "beta: 0.61\n"                                              \
  "contour:\n"                                                \
  "  kind: two-ellipse\n"                                     \
  "  half_length_mm: 70.3\n"                                  \
  "  iris_radius_mm: 48.0\n"                                  \
  "  equator_radius_mm: 197.75\n"                             \
  "  equator_ellipse: {axial_mm: 52, radial_mm: 55}\n"        \
  "  iris_ellipse: {axial_mm: 14, radial_mm: 26}\n"           \
  "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n" \
  "modes: {count: 1}\n"

/** What a goal for its lowest magnetic peak varies and holds. */
#define SLOW_SHAPE_VARIED                                                   \
  "vary:\n"                                                                 \
  "  equator_ellipse.axial_mm: {from: 30, to: 62}\n"                        \
  "  equator_ellipse.radial_mm: {from: 30, to: 80}\n"                       \
  "  iris_ellipse.axial_mm: {from: 6, to: 30}\n"                            \
  "  iris_ellipse.radial_mm: {from: 8, to: 50}\n"                           \
  "hold: {frequency_MHz: 650, by: equator_radius_mm, from: 180, to: 210}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"

#endif
