// SPDX-License-Identifier: GPL-3.0-or-later
// The chain is cut again and again at the point that is farthest from its chord.
#include "canvas/simplify.h"

#include <string.h>

#include "base/base.h"

static double distance_to_chord(const double *p, const double *a, const double *b) {
  double dx = b[0] - a[0], dy = b[1] - a[1], length2 = dx * dx + dy * dy;
  double t = length2 > 0.0 ? ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2 : 0.0;
  t = cavum_max(0.0, cavum_min(1.0, t));
  return hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
}

void cavum_simplify_mark(unsigned char *needed, int64_t *stack, const double *points, int64_t first,
                         int64_t last, double tolerance) {
  int64_t depth = 0;
  needed[first] = needed[last] = 1;
  stack[depth++] = first;
  stack[depth++] = last;
  while (depth > 0) {
    int64_t high = stack[--depth], low = stack[--depth], farthest = -1;
    double largest = tolerance;
    for (int64_t i = low + 1; i < high; i++) {
      double distance = distance_to_chord(points + 2 * i, points + 2 * low, points + 2 * high);
      if (distance <= largest) continue;
      largest = distance;
      farthest = i;
    }
    if (farthest < 0) continue;
    needed[farthest] = 1;
    const int64_t halves[4] = {low, farthest, farthest, high};
    memcpy(stack + depth, halves, sizeof halves);
    depth += 4;
  }
}
