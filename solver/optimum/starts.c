// SPDX-License-Identifier: GPL-3.0-or-later
// Where searches start.
#include "optimum/starts.h"

#include "base/base.h"
#include "scan/sampling.h"

// The first start is the base cell, moved into the bounds; the others are points of the sequence.
bool cavum_starts_next(double *place, cavum_starts *starts) {
  cavum_goal *goal = starts->goal;
  double values[CAVUM_STUDY_MOST_INPUTS];
  int64_t point = starts->next++;
  if (point > 0 && point >= goal->study->sampling.num_points) return false;
  // The first point of the sequence is a corner of the bounds.
  if (point > 0) cavum_sampling_point(values, &goal->study->sampling, point);
  for (int j = 0; j < goal->num_variables; j++) {
    bool given = point == 0 || j == goal->study->hold.input;
    double value = given ? goal->study->inputs[j].place.base : values[j];
    double at = (value - goal->low[j]) / (goal->high[j] - goal->low[j]);
    place[j] = cavum_min(cavum_max(at, 0.0), 1.0);
  }
  return true;
}
