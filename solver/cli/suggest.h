// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/suggest.h
 * The word that a mistyped one was meant to be.
 */
#ifndef CAVUM_CLI_SUGGEST_H
#define CAVUM_CLI_SUGGEST_H

#include <stddef.h>

/** The nearest of known words so far. Zero-initialise. */
typedef struct cavum_suggestion {
  const char *word; /**< Borrowed; NULL: none is near. */
  int distance;
} cavum_suggestion;

/** Takes a known word (borrowed) if it is nearer to what was typed than those before. */
void cavum_suggest_offer(cavum_suggestion *suggestion, const char *typed, const char *known);

/** Room for ", did you mean WORD?". */
enum { CAVUM_SUGGESTION_SIZE = 160 };

/** ", did you mean `before`WORD?", or "" where no word is near. */
void cavum_suggest_write(char text[CAVUM_SUGGESTION_SIZE], const cavum_suggestion *suggestion,
                         const char *before);

#endif
