// SPDX-License-Identifier: GPL-3.0-or-later
// Putting a contour together piece by piece. Curves are appended in the order of travel; that they
// close and do not cross is left to check.c.
#include "contour/builder.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

void cavum_contour_clear(cavum_contour *contour) {
  if (!contour) return;
  free(contour->curves);
  memset(contour, 0, sizeof *contour);
}

void cavum_contour_builder_clear(cavum_contour_builder *builder) {
  cavum_contour_clear(&builder->contour);
  free(builder->labels);
  memset(builder, 0, sizeof *builder);
}

cavum_status cavum_contour_builder_append(cavum_contour_builder *builder, const cavum_curve *curve,
                                          const char *label, cavum_error *error) {
  int64_t count = builder->contour.num_curves;
  if (count >= CAVUM_LARGEST_CONTOUR) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "more than %d curves in one contour",
                      CAVUM_LARGEST_CONTOUR);
  }
  void *curves = builder->contour.curves, *labels = builder->labels;
  bool grown = cavum_grow(&curves, &builder->curve_capacity, count + 1, sizeof *curve);
  builder->contour.curves = curves;
  if (grown) {
    grown = cavum_grow(&labels, &builder->label_capacity, count + 1, sizeof *builder->labels);
    builder->labels = labels;
  }
  if (!grown) return cavum_fail_memory(error);
  builder->contour.curves[count] = *curve;
  snprintf(builder->labels[count].text, CAVUM_LABEL_SIZE, "%s", label);
  builder->contour.num_curves = (cavum_index)(count + 1);
  return CAVUM_OK;
}

cavum_contour cavum_contour_builder_release(cavum_contour_builder *builder) {
  cavum_contour contour = builder->contour;
  free(builder->labels);
  memset(builder, 0, sizeof *builder);
  return contour;
}
