// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/fast.h
 * Marks hot kernels that are compiled for several vector instruction sets, chosen at load time.
 */
#ifndef CAVUM_BASE_FAST_H
#define CAVUM_BASE_FAST_H

#include <stdbool.h>

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__)
/** Compiled for 512-bit, 256-bit and baseline vectors. */
#define CAVUM_FAST __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
/** Compiled for 512-bit vectors alone: called where cavum_is_wide(). */
#define CAVUM_WIDE __attribute__((target("arch=x86-64-v4")))
#else
/** Compiled once. */
#define CAVUM_FAST
/** Never called. */
#define CAVUM_WIDE
#define CAVUM_NEVER_WIDE
#endif

/** Whether the processor has vectors of 512 bits: sums of whole lanes fit into its registers. */
static inline bool cavum_is_wide(void) {
#ifdef CAVUM_NEVER_WIDE
  return false;
#else
  return __builtin_cpu_supports("x86-64-v4") != 0;
#endif
}

#endif
