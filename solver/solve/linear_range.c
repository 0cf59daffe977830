// SPDX-License-Identifier: GPL-3.0-or-later
// Modes close to each other, against what the dimensions do to their frequencies.
#include "solve/linear_range.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"

// Part of a dimension from which on a change is no small one.
static const double SMALL_CHANGE = 0.01;

// The mode of one symmetry class that is next to one, below or above it.
typedef struct neighbour {
  int mode;            // in the result; -1: nobody asked for it
  double distance_hz;  // above the mode; negative below
  bool opposite;       // of the other class: only what moves one side of a half model mixes the two
} neighbour;

// A change of one dimension by which one of two modes moves as far as they are apart.
typedef struct reach {
  int dimension;  // -1: none
  double change;  // SI
} reach;

static int find_mode(const cavum_problem *s, int in_class, int index) {
  const cavum_solution_mode *modes = s->ladder.solution->modes;
  for (int m = 0; m < s->result->num_modes; m++) {
    if (modes[m].in_class == in_class && modes[m].index == index) return m;
  }
  return -1;
}

// False where there is none in a class at this step, 1 or -1.
static bool find_neighbour(neighbour *found, const cavum_problem *s, int mode, int in_class,
                           int step) {
  const cavum_solution_mode *own = &s->ladder.solution->modes[mode];
  const cavum_modes *known = &s->ladder.solution->classes[in_class].modes[0];
  bool opposite = in_class != own->in_class;
  int at = own->index + step;
  if (opposite) {
    int below = 0;
    while (below < known->count && known->k2_per_m2[below] < own->k2_per_m2) below++;
    at = step > 0 ? below : below - 1;
  }
  if (at < 0 || at >= known->count) return false;
  double ratio = sqrt(known->k2_per_m2[at] / own->k2_per_m2);
  double f_hz = s->result->modes[mode].figures[CAVUM_FIGURE_FREQUENCY].value;
  *found = (neighbour){find_mode(s, in_class, at), f_hz * (ratio - 1.0), opposite};
  return true;
}

static double slope_of(const cavum_result *result, int mode, int dimension) {
  cavum_derivative d = cavum_result_derivative(result, mode, dimension, CAVUM_FIGURE_FREQUENCY);
  return d.state == CAVUM_FIGURE_PRESENT ? fabs(d.value) : 0.0;
}

// The least change that is none of a hundredth of its dimension.
static reach find_reach(const cavum_result *result, int mode, const neighbour *near,
                        const cavum_shape_motion *m) {
  reach least = {-1, HUGE_VAL};
  for (int i = 0; i < result->num_dimensions; i++) {
    if (near->opposite && !m->has_odd[i]) continue;
    double slope = slope_of(result, mode, i);
    if (near->mode >= 0) slope = cavum_max(slope, slope_of(result, near->mode, i));
    double change = fabs(near->distance_hz) / slope;
    bool is_large = !(change < SMALL_CHANGE * fabs(result->dimensions[i].value_si));
    if (!(slope > 0.0) || is_large || change >= least.change) continue;
    least = (reach){i, change};
  }
  return least;
}

static cavum_status warn(cavum_problem *s, int mode, const neighbour *near, const reach *least,
                         cavum_error *error) {
  const cavum_dimension *dimension = &s->result->dimensions[least->dimension];
  char text[512], other[48];
  snprintf(other, sizeof other, "mode %d", near->mode + 1);
  snprintf(
      text, sizeof text,
      "mode %d: %s lies %.3g MHz %s: derivatives hold for changes of %s far below %.2g %s, which "
      "moves one of the two as far",
      mode + 1, near->mode >= 0 ? other : "another mode", cavum_in_mhz(fabs(near->distance_hz)),
      near->distance_hz > 0.0 ? "above" : "below", dimension->key,
      least->change / dimension->unit_si, dimension->unit);
  return cavum_problem_warn(s, text, error);
}

cavum_status cavum_linear_range_warn(cavum_problem *s, const cavum_shape_motion *m,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int mode = 0; mode < s->result->num_modes && status == CAVUM_OK; mode++) {
    reach least = {-1, HUGE_VAL};
    neighbour nearest = {-1, 0.0, false};
    if (!s->result->modes[mode].derivatives) continue;
    for (int k = 0; k < 2 * CAVUM_CLASSES; k++) {
      neighbour near;
      if (!find_neighbour(&near, s, mode, k / 2, k % 2 == 0 ? -1 : 1)) continue;
      reach one = find_reach(s->result, mode, &near, m);
      if (one.change >= least.change) continue;
      least = one;
      nearest = near;
    }
    if (least.dimension >= 0) status = warn(s, mode, &nearest, &least, error);
  }
  return status;
}
