// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/nearest_word.h
 * How far a mistyped word is from a known one.
 */
#ifndef CAVUM_BASE_NEAREST_WORD_H
#define CAVUM_BASE_NEAREST_WORD_H

#include <stddef.h>

/**
 * Smallest number of inserted, deleted, replaced or swapped characters; a large number for long
 * words.
 */
int cavum_nearest_distance(const char *word, const char *known);

/** Largest distance at which a word of this length is worth suggesting: a third of it, at least 1.
 */
int cavum_nearest_limit(size_t length);

#endif
