// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/late.h
 * Libraries that are loaded when they are first needed: a program that never needs them starts
 * without them. They stay for the life of the process.
 */
#ifndef CAVUM_BASE_LATE_H
#define CAVUM_BASE_LATE_H

#include <stdatomic.h>

#include "cavum/status.h"

/** A library and what is wanted of it; a static variable, zero where nothing is written below. */
typedef struct cavum_late {
  const char *file; /**< What the loader looks for: the name with the version of its interface. */
  const char *purpose;      /**< What needs it, for the message. */
  int count;                /**< Names. */
  const char *const *names; /**< Shape [count]. */
  void *places;        /**< A struct of `count` pointers in the order of the names, filled once. */
  atomic_bool is_open; /**< All places are filled. */
} cavum_late;

/**
 * Loads the library unless that was done before; any number of threads may ask at once.
 * @param[in,out] late   Its places are untouched unless CAVUM_OK.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_LIBRARY  not found, or something is missing in it: the loader's message.
 */
cavum_status cavum_late_open(cavum_late *late, cavum_error *error);

#endif
