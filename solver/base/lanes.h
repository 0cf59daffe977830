// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/lanes.h
 * Several numbers that are computed with as one.
 *
 * The kernels of the solver work on CAVUM_LANES elements at a time, one to a lane: all elements of
 * a degree need the same operations in the same order, so every instruction is a full vector
 * instruction, whatever the size of the element matrices. Passed by pointer only, since how such a
 * type is passed by value depends on the instruction set.
 */
#ifndef CAVUM_BASE_LANES_H
#define CAVUM_BASE_LANES_H

#include <stddef.h>

/** Elements treated together. */
enum { CAVUM_LANES = 8 };

/** One number of each of CAVUM_LANES elements. */
typedef double cavum_lanes
    __attribute__((vector_size(CAVUM_LANES * sizeof(double)), aligned(64), may_alias));

/** The same somewhere in an array of numbers. */
typedef double cavum_lanes_anywhere
    __attribute__((vector_size(CAVUM_LANES * sizeof(double)), aligned(8), may_alias));

/** Entry (a, b), a >= b, of a packed lower triangle by columns: column b starts here less b. */
static inline size_t cavum_packed_column(int size, int b) {
  return (size_t)b * (size_t)size - (size_t)b * (size_t)(b + 1) / 2;
}

/** Entries of a packed triangle. */
static inline size_t cavum_packed_count(int size) { return (size_t)size * (size_t)(size + 1) / 2; }

#endif
