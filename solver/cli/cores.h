// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/cores.h
 * How many cores the libraries of linear algebra use: one, since the solver shares its work itself
 * (base/threads.h).
 *
 * Programs that link this file also start with one core: OpenBLAS starts its threads when it is
 * loaded, before main(), one for each core that the process may use, and each of them spins for
 * its first milliseconds. It is told of one core only, and cavum_cores_restore() gives the others
 * back. A user who sets OMP_NUM_THREADS or OPENBLAS_NUM_THREADS decides instead.
 */
#ifndef CAVUM_CLI_CORES_H
#define CAVUM_CLI_CORES_H

/** Once, first in main(): the process may run on all cores that it was given. */
void cavum_cores_restore(void);

/**
 * Limits the linear algebra of this process to one core, unless the user has set OMP_NUM_THREADS or
 * OPENBLAS_NUM_THREADS.
 *
 * The matrices of one cell are small: with two threads a factorisation takes more than twice as
 * long as with one, and the last bits of results would depend on the machine. The limit is set
 * inside the process, which costs nothing: no nested level of parallel regions is allowed
 * (omp_set_max_active_levels(0)), so a region that asks for threads of its own gets none either.
 */
void cavum_cores_use_one(void);

/** Cores that this process may use, at least 1. */
int cavum_cores_count(void);

#endif
