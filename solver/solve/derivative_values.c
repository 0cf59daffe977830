// SPDX-License-Identifier: GPL-3.0-or-later
// Room for the derivatives of one mode.
#include "solve/derivative_values.h"

#include "base/base.h"

void cavum_derivative_values_clear(cavum_derivative_values *values) {
  free(values->values);
  free(values->reason);
  free(values->other);
  free(values->is_split);
  free(values->followed);
  *values = (cavum_derivative_values){0};
}

cavum_status cavum_derivative_values_create(cavum_derivative_values *values,
                                            const cavum_shape_motion *motion, uint64_t figures,
                                            cavum_error *error) {
  int count = motion->dimensions.count;
  cavum_derivative_values made = {.motion = motion,
                                  .figures = figures,
                                  .values = cavum_alloc_aligned(count, sizeof *made.values),
                                  .reason = cavum_alloc(count, sizeof *made.reason),
                                  .other = cavum_alloc(count, sizeof *made.other),
                                  .is_split = cavum_alloc(count, sizeof *made.is_split),
                                  .followed = cavum_alloc(count, sizeof *made.followed)};
  if (!made.values || !made.reason || !made.other || !made.is_split || !made.followed) {
    cavum_derivative_values_clear(&made);
    return cavum_fail_memory(error);
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!cavum_derivative_is_asked(figures, id)) continue;
    for (int i = 0; i < count; i++) made.values[i][id].count = 0;
  }
  *values = made;
  return CAVUM_OK;
}
