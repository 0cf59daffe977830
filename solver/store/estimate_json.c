// SPDX-License-Identifier: GPL-3.0-or-later
// A value with its uncertainty as JSON.
#include "store/estimate_json.h"

#include <math.h>

bool cavum_estimate_json_set(json_t *object, const char *key, cavum_estimate estimate) {
  if (!isfinite(estimate.value)) return true;
  json_t *pair =
      json_pack("{s:f,s:f}", "value", estimate.value, "uncertainty", estimate.uncertainty);
  return pair && json_object_set_new(object, key, pair) == 0;
}
