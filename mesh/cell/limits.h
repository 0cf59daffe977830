// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/limits.h
 * Ranges of the members of a cell, the same for a cell file and for a cell filled in memory.
 */
#ifndef CAVUM_CELL_LIMITS_H
#define CAVUM_CELL_LIMITS_H

#include "cell/keys.h"

/** Smallest length, as the reader of cell files converts it. */
#define CAVUM_LENGTH_LEAST_M (CAVUM_CELL_SMALLEST_LENGTH_MM / 1e3)
/** Largest length. */
#define CAVUM_LENGTH_MOST_M (CAVUM_CELL_LARGEST_LENGTH_MM / 1e3)
/** Slowest particle over c. */
#define CAVUM_CELL_BETA_LEAST 1e-6
/** Modes of one solve. */
#define CAVUM_MODES_MOST 1000
/** Frequencies near which modes are looked for. */
#define CAVUM_NEAR_LEAST_HZ 1.0
/** Highest of them. */
#define CAVUM_NEAR_MOST_HZ 1e15
/** Accuracy of the frequency: rounding. */
#define CAVUM_ACCURACY_FREQUENCY_LEAST 1e-13
/** Loosest. */
#define CAVUM_ACCURACY_FREQUENCY_MOST 0.1
/** Accuracy of other figures. */
#define CAVUM_ACCURACY_FIGURES_LEAST 1e-12
/** Loosest. */
#define CAVUM_ACCURACY_FIGURES_MOST 0.5
/** Niobium is superconducting below this. */
#define CAVUM_NIOBIUM_MOST_K 9.25
/** Coldest wall. */
#define CAVUM_TEMPERATURE_LEAST_K 1e-3
/** Residual resistance. */
#define CAVUM_RESIDUAL_MOST_OHM 1.0
/** Conductivity of a metal. */
#define CAVUM_CONDUCTIVITY_LEAST_S_PER_M 1.0
/** Largest. */
#define CAVUM_CONDUCTIVITY_MOST_S_PER_M 1e15
/** Surface resistance; a millionth of a nano-ohm as the reader converts it. */
#define CAVUM_RESISTANCE_LEAST_OHM (1e-6 / 1e9)
/** Largest. */
#define CAVUM_RESISTANCE_MOST_OHM 1e3
/** Bytes of a title, which goes into fixed-size fields of result files. */
#define CAVUM_TITLE_LONGEST 200
/** Bytes of a cell file, which may hold a mesh file. */
#define CAVUM_CELL_LARGEST_TEXT ((size_t)1 << 26)
/** Bytes of a mesh file in a cell, so that its base64 fits in there with all else. */
#define CAVUM_CELL_LARGEST_MESH (CAVUM_CELL_LARGEST_TEXT / 4 * 3 - ((size_t)1 << 22))

#endif
