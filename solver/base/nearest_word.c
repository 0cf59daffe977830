// SPDX-License-Identifier: GPL-3.0-or-later
// Edit distance between two words, by rows of the usual table.
#include "base/nearest_word.h"

#include <stdio.h>
#include <string.h>

enum { LONGEST_WORD = CAVUM_NEAREST_LONGEST, FAR_AWAY = 1000 };

static int smaller(int a, int b) { return a < b ? a : b; }

int cavum_nearest_distance(const char *word, const char *known) {
  size_t rows = strlen(word), columns = strlen(known);
  int cost[3][LONGEST_WORD + 1];  // rows i - 2, i - 1 and i of the table, in turn
  if (rows > LONGEST_WORD || columns > LONGEST_WORD) return FAR_AWAY;
  for (size_t j = 0; j <= columns; j++) cost[0][j] = (int)j;
  for (size_t i = 1; i <= rows; i++) {
    int *current = cost[i % 3];
    const int *last = cost[(i + 2) % 3], *last_but_one = cost[(i + 1) % 3];
    current[0] = (int)i;
    for (size_t j = 1; j <= columns; j++) {
      int replaced = last[j - 1] + (word[i - 1] != known[j - 1]);
      current[j] = smaller(replaced, 1 + smaller(last[j], current[j - 1]));
      if (i < 2 || j < 2 || word[i - 1] != known[j - 2] || word[i - 2] != known[j - 1]) continue;
      current[j] = smaller(current[j], 1 + last_but_one[j - 2]);
    }
  }
  return cost[rows % 3][columns];
}

int cavum_nearest_limit(size_t length) {
  if (length < 3) return 1;
  return (int)(length < LONGEST_WORD ? length / 3 : LONGEST_WORD / 3);
}

void cavum_nearest_offer(cavum_nearest *nearest, const char *typed, const char *known) {
  size_t length = strlen(typed);
  int distance = cavum_nearest_distance(typed, known);
  if (distance > cavum_nearest_limit(length) || distance >= (int)length) return;
  if (*nearest->word && distance >= nearest->distance) return;
  snprintf(nearest->word, sizeof nearest->word, "%s", known);
  nearest->distance = distance;
}

const char *cavum_nearest_write(char text[CAVUM_NEAREST_SIZE], const cavum_nearest *nearest,
                                const char *before) {
  text[0] = '\0';
  if (!*nearest->word) return text;
  snprintf(text, CAVUM_NEAREST_SIZE, ", did you mean '%s%s'?", before, nearest->word);
  return text;
}
