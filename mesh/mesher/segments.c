// SPDX-License-Identifier: GPL-3.0-or-later
// Cutting each curve at equal parts of its running sum of the density gives segments that obey both
// of its limits and change their length gradually.
#include "mesher/segments.h"

#include <string.h>

#include "base/base.h"

void cavum_segments_clear(cavum_segments *segments) {
  if (!segments) return;
  free(segments->segments);
  memset(segments, 0, sizeof *segments);
}

cavum_status cavum_segments_build(cavum_segments *segments, const cavum_density *density,
                                  cavum_error *error) {
  segments->num_segments = 0;
  for (cavum_index c = 0; c < density->num_curves; c++) {
    double total = cavum_density_total(density, c);
    cavum_index n = (cavum_index)ceil(total - 1e-6);
    if (n < 1) n = 1;
    if (!cavum_grow((void **)&segments->segments, &segments->capacity,
                    (int64_t)segments->num_segments + n, sizeof *segments->segments)) {
      return cavum_fail_memory(error);
    }
    for (cavum_index k = 0; k < n; k++) {
      cavum_segment *segment = &segments->segments[segments->num_segments++];
      segment->curve = c;
      for (int i = 0; i < 3; i++) {
        segment->t[i] = cavum_density_parameter(density, c, total * (2.0 * k + i) / (2.0 * n));
      }
      if (k == 0) segment->t[0] = 0.0;
      if (k == n - 1) segment->t[2] = 1.0;
    }
  }
  return CAVUM_OK;
}
