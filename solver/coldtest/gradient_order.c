// SPDX-License-Identifier: GPL-3.0-or-later
// Readings by rising gradient.
#include "coldtest/gradient_order.h"

#include <stdlib.h>

static int compare(const void *left, const void *right) {
  const cavum_gradient_place *a = left, *b = right;
  if (a->gradient != b->gradient) return a->gradient > b->gradient ? 1 : -1;
  return (a->index > b->index) - (a->index < b->index);
}

void cavum_gradient_places_sort(cavum_gradient_place *places, int64_t count) {
  if (count > 1) qsort(places, (size_t)count, sizeof *places, compare);
}
