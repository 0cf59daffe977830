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

/**
 * Half of the lanes, as many as 256 bits hold. Sums that loops carry are kept in halves: compilers
 * keep a vector that is wider than the registers in memory from one turn of a loop to the next, and
 * that takes several times as long as the sums.
 */
typedef double cavum_half
    __attribute__((vector_size(CAVUM_LANES / 2 * sizeof(double)), aligned(32), may_alias));

/** The same somewhere in an array of numbers. */
typedef double cavum_half_anywhere
    __attribute__((vector_size(CAVUM_LANES / 2 * sizeof(double)), aligned(8), may_alias));

/** A sum in halves. */
typedef struct cavum_sum {
  cavum_half low, high;
} cavum_sum;

/** Adds factor * x. */
static inline void cavum_sum_add(cavum_sum *sum, double factor, const cavum_lanes *x) {
  const cavum_half *halves = (const cavum_half *)x;
  sum->low += factor * halves[0];
  sum->high += factor * halves[1];
}

/** Adds x. */
static inline void cavum_sum_take(cavum_sum *sum, const cavum_lanes *x) {
  const cavum_half *halves = (const cavum_half *)x;
  sum->low += halves[0];
  sum->high += halves[1];
}

/** Stores a sum. */
static inline void cavum_sum_store(cavum_lanes *to, const cavum_sum *sum) {
  cavum_half *halves = (cavum_half *)to;
  halves[0] = sum->low;
  halves[1] = sum->high;
}

/** Entry (a, b), a >= b, of a packed lower triangle by columns: column b starts here less b. */
static inline size_t cavum_packed_column(int size, int b) {
  return (size_t)b * (size_t)size - (size_t)b * (size_t)(b + 1) / 2;
}

/** Entries of a packed triangle. */
static inline size_t cavum_packed_count(int size) { return (size_t)size * (size_t)(size + 1) / 2; }

#endif
