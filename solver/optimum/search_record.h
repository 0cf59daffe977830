// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/search_record.h
 * An ended search as bytes, so that another process goes on from it as if it had searched itself.
 *
 * One description serves both ways: what passes a member writes it or reads it, as the bytes say.
 * Numbers are as this machine has them; parts of one goal are computed by one version on machines
 * of one kind, as parts of a scan are.
 */
#ifndef CAVUM_OPTIMUM_SEARCH_RECORD_H
#define CAVUM_OPTIMUM_SEARCH_RECORD_H

#include "optimum/search.h"

/** Bytes on their way. Zero-initialise but for `writing`. */
typedef struct cavum_record_bytes {
  bool writing;
  unsigned char *data; /**< Owned: release with free(). */
  int64_t capacity;
  size_t size, at;     /**< Bytes there are; the next one that is read. */
  cavum_status status; /**< CAVUM_ERR_INPUT: they end too early or say nonsense. */
} cavum_record_bytes;

/** Writes or reads a number of any kind, shape [size] of bytes; nothing after a failure. */
void cavum_record_pass(cavum_record_bytes *bytes, void *value, size_t size);

/** The same of a whole number within [least, most]; another one is nonsense. */
void cavum_record_pass_int(cavum_record_bytes *bytes, int *value, int least, int most);

/** The same of a truth. */
void cavum_record_pass_bool(cavum_record_bytes *bytes, bool *value);

/**
 * Writes or reads an ended search with its point, its path and what it has learnt.
 * @param[in,out] bytes
 * @param[in,out] search  Read: zeroed before, release with cavum_search_clear(), also after a
 *                        failure; what it borrows stays NULL.
 * @param[in]     goal    That it is of.
 */
void cavum_record_pass_search(cavum_record_bytes *bytes, cavum_search *search,
                              const cavum_goal *goal);

#endif
