// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/fast.h
 * Marks hot kernels that are compiled for several vector instruction sets, chosen at load time.
 */
#ifndef CAVUM_BASE_FAST_H
#define CAVUM_BASE_FAST_H

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__)
/** Compiled for 512-bit, 256-bit and baseline vectors. */
#define CAVUM_FAST __attribute__((target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#else
/** Compiled once. */
#define CAVUM_FAST
#endif

#endif
