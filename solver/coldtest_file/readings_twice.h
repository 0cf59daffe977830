// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_file/readings_twice.h
 * Records that stand in a table twice: exported again, or tables put behind each other.
 */
#ifndef CAVUM_COLDTEST_FILE_READINGS_TWICE_H
#define CAVUM_COLDTEST_FILE_READINGS_TWICE_H

#include "cavum/coldtest.h"

/** Places of the readings that were taken, by what they hold. */
typedef struct cavum_readings_seen {
  int64_t *place; /**< Owned, shape [size]: number of a reading, from 1; 0: none. */
  int64_t size;   /**< A power of two. */
} cavum_readings_seen;

/** Room for so many readings. */
cavum_status cavum_readings_seen_create(cavum_readings_seen *seen, int64_t count,
                                        cavum_error *error);

/** Frees the places. */
void cavum_readings_seen_clear(cavum_readings_seen *seen);

/**
 * Remembers the last reading, whose note is kept already.
 * @return  The earlier reading with the same numbers, run, branch and note, from 0; -1: none.
 */
int64_t cavum_readings_seen_add(cavum_readings_seen *seen, const cavum_coldtest_readings *readings);

#endif
