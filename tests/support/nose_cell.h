// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file nose_cell.h
 * A search that ends where a piece of the wall vanishes.
 */
#ifndef CAVUM_TEST_NOSE_CELL_H
#define CAVUM_TEST_NOSE_CELL_H

// Half a re-entrant cell: two fillets of a nose with a line between them, whose length is what the
// height of the second one leaves of it.
#define NOSE                                                                                   \
  "beta: 0.15\naccelerating_length_mm: 64\ncontour:\n  kind: path\n"                           \
  "  start: {z_mm: 0, r_mm: 0}\n  path:\n"                                                     \
  "    - {line_to: {z_mm: 130, r_mm: 0}, boundary: axis}\n"                                    \
  "    - {line_to: {z_mm: 130, r_mm: 15}, boundary: metal}\n"                                  \
  "    - {line_to: {z_mm: 24, r_mm: 15}, boundary: metal}\n"                                   \
  "    - {arc_to: {z_mm: 18, r_mm: 21}, centre: {z_mm: 24, r_mm: 21}, turn: right, boundary: " \
  "metal}\n"                                                                                   \
  "    - {line_to: {z_mm: 18, r_mm: 27}, boundary: metal}\n"                                   \
  "    - {arc_to: {z_mm: 28, r_mm: 37}, centre: {z_mm: 28, r_mm: 27}, turn: right, boundary: " \
  "metal}\n"                                                                                   \
  "    - {line_to: {z_mm: 75, r_mm: 44}, boundary: metal}\n"                                   \
  "    - {line_to: {z_mm: 75, r_mm: 270}, boundary: metal}\n"                                  \
  "    - {line_to: {z_mm: 0, r_mm: 270}, boundary: metal}\n"                                   \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}\n"                                  \
  "modes: {count: 1}\nwall: {kind: metal, conductivity_S_per_m: 5.7e+7}\n"

#define NOSE_GOAL                                               \
  "vary: {\"path[6].arc_to.r_mm\": {from: 30, to: 45}}\n"       \
  "linked:\n"                                                   \
  "  - path[6].centre.r_mm = path[6].arc_to.r_mm - 10\n"        \
  "  - path[5].line_to.r_mm = path[6].arc_to.r_mm - 10\n"       \
  "maximise: shunt_impedance_linac_ohm\nstarts: 1\nsolves: 9\n" \
  "limits: {epk_over_eacc: {most: 8}}\n"

#endif
