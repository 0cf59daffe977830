// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/alone.h
 * One thread at a time in libraries that are not reentrant. These locks, the places of libraries
 * that are opened late (base/late.h) and what a thread was told about stopping (base/stop.h) are
 * the mutable state that is not in an object of the caller's.
 *
 * ARPACK keeps the state of an iteration in variables of its own from the first call to the last;
 * HDF5 is thread-safe in some builds only; GSL has one error handler for the process.
 */
#ifndef CAVUM_BASE_ALONE_H
#define CAVUM_BASE_ALONE_H

/** What is entered. */
typedef enum cavum_alone {
  CAVUM_ALONE_ARPACK,
  CAVUM_ALONE_HDF5,
  CAVUM_ALONE_GSL,
  CAVUM_ALONE_LOADER /**< Of base/late.h. */
} cavum_alone;

/** Waits until no other thread is in it; one thread may enter again before it has left. */
void cavum_alone_enter(cavum_alone library);

/** Leaves what was entered. */
void cavum_alone_leave(cavum_alone library);

#endif
