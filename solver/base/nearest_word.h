// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/nearest_word.h
 * The known word that a mistyped one was meant to be.
 */
#ifndef CAVUM_BASE_NEAREST_WORD_H
#define CAVUM_BASE_NEAREST_WORD_H

#include <stddef.h>

/** Longest word that is compared. */
enum { CAVUM_NEAREST_LONGEST = 48 };

/** The nearest of known words so far. Zero-initialise. */
typedef struct cavum_nearest {
  char word[CAVUM_NEAREST_LONGEST + 1]; /**< "": none is near. */
  int distance;
} cavum_nearest;

/** Takes a known word if it is nearer to what was typed than those before. */
void cavum_nearest_offer(cavum_nearest *nearest, const char *typed, const char *known);

/** Room for ", did you mean 'WORD'?". */
enum { CAVUM_NEAREST_SIZE = 160 };

/**
 * ", did you mean 'WORD'?" with `before` in front of the word, or "" where no word is near.
 *
 * @return text
 */
const char *cavum_nearest_write(char text[CAVUM_NEAREST_SIZE], const cavum_nearest *nearest,
                                const char *before);

/**
 * Smallest number of inserted, deleted, replaced or swapped characters; a large number for long
 * words.
 */
int cavum_nearest_distance(const char *word, const char *known);

/** Largest distance at which a word of this length is worth suggesting: a third of it, at least 1.
 */
int cavum_nearest_limit(size_t length);

#endif
