// SPDX-License-Identifier: GPL-3.0-or-later
// From the dimensions of a result to the inputs of a study.
#include "scan/input_derivatives.h"

#include <math.h>
#include <string.h>

#include "base/base.h"

const char *cavum_input_dimension(const cavum_input *input) {
  static const char section[] = "contour.";
  const char *name = input->place.name;
  return strncmp(name, section, sizeof section - 1) == 0 ? name + sizeof section - 1 : name;
}

uint64_t cavum_study_differentiated(const cavum_study *study) {
  uint64_t figures = 0;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (study->differentiated[id]) figures |= UINT64_C(1) << id;
  }
  return figures;
}

// Whether a dimension is what an input sets, or one half of it.
static bool is_set_by(const char *key, const cavum_input *input) {
  const char *name = cavum_input_dimension(input);
  if (strcmp(key, name) == 0) return true;
  const cavum_place *place = &input->place;
  if (place->kind != CAVUM_PLACE_HALVES || !place->set_left || !place->set_right) return false;
  const char *of_half = strchr(key, '.');
  bool left = strncmp(key, "left.", 5) == 0, right = strncmp(key, "right.", 6) == 0;
  return (left || right) && strcmp(of_half + 1, name) == 0;
}

cavum_derivative cavum_input_derivative(const cavum_result *result, int mode,
                                        const cavum_input *input, cavum_figure_id id) {
  cavum_derivative sum = {.state = CAVUM_FIGURE_ABSENT};
  for (int i = 0; i < result->num_dimensions; i++) {
    if (!is_set_by(result->dimensions[i].key, input)) continue;
    cavum_derivative one = cavum_result_derivative(result, mode, i, id);
    if (one.state != CAVUM_FIGURE_PRESENT) return one;
    sum.state = CAVUM_FIGURE_PRESENT;
    sum.value += one.value * result->dimensions[i].unit_si;
    sum.uncertainty += one.uncertainty * result->dimensions[i].unit_si;
  }
  return sum;
}
