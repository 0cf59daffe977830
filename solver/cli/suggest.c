// SPDX-License-Identifier: GPL-3.0-or-later
// The nearest of the words that a command knows.
#include "cli/suggest.h"

#include <stdio.h>
#include <string.h>

#include "base/nearest_word.h"

void cavum_suggest_offer(cavum_suggestion *suggestion, const char *typed, const char *known) {
  int distance = cavum_nearest_distance(typed, known);
  if (distance > cavum_nearest_limit(strlen(typed))) return;
  if (suggestion->word && distance >= suggestion->distance) return;
  suggestion->word = known;
  suggestion->distance = distance;
}

void cavum_suggest_write(char text[CAVUM_SUGGESTION_SIZE], const cavum_suggestion *suggestion,
                         const char *before) {
  text[0] = '\0';
  if (!suggestion->word) return;
  snprintf(text, CAVUM_SUGGESTION_SIZE, ", did you mean %s%.120s?", before, suggestion->word);
}
