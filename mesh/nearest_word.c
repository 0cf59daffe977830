// SPDX-License-Identifier: GPL-3.0-or-later
// Edit distance between two words, by rows of the usual table.
#include "nearest_word.h"

#include <string.h>

enum { LONGEST_WORD = 48, FAR_AWAY = 1000 };

static int smaller(int a, int b) { return a < b ? a : b; }

int cavum_nearest_distance(const char *word, const char *known) {
  size_t rows = strlen(word), columns = strlen(known);
  int cost[LONGEST_WORD + 1];
  if (rows > LONGEST_WORD || columns > LONGEST_WORD) return FAR_AWAY;
  for (size_t j = 0; j <= columns; j++) cost[j] = (int)j;
  for (size_t i = 1; i <= rows; i++) {
    int diagonal = cost[0];
    cost[0] = (int)i;
    for (size_t j = 1; j <= columns; j++) {
      int replaced = diagonal + (word[i - 1] != known[j - 1]);
      diagonal = cost[j];
      cost[j] = smaller(replaced, 1 + smaller(cost[j], cost[j - 1]));
    }
  }
  return cost[columns];
}

int cavum_nearest_limit(size_t length) {
  if (length < 3) return 1;
  return (int)(length < LONGEST_WORD ? length / 3 : LONGEST_WORD / 3);
}
