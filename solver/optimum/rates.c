// SPDX-License-Identifier: GPL-3.0-or-later
// From variables to inputs, and from inputs to the dimensions that figures have derivatives by.
#include "optimum/rates.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "scan/input_derivatives.h"

void cavum_optimum_inputs(double *values, const cavum_goal *goal, const double *place) {
  for (int j = 0; j < goal->num_variables; j++) {
    double low = goal->low[j], high = goal->high[j];
    // At the ends the very bounds.
    values[j] = place[j] >= 1.0 ? high : low + place[j] * (high - low);
  }
  cavum_study_link(values, goal->study);
}

// Derivative of all inputs by the place of a variable: exact to rounding for expressions that are
// polynomials of the fourth degree, and good to 1e-10 for others.
static void differentiate_inputs(double *slope, const cavum_goal *goal, const double *place,
                                 int variable) {
  static const double STEP = 1e-3, WEIGHTS[2] = {2.0 / 3.0, -1.0 / 12.0};
  int num = goal->study->num_inputs;
  double at[CAVUM_GOAL_MOST_VARIABLES], values[CAVUM_STUDY_MOST_INPUTS];
  memcpy(at, place, (size_t)goal->num_variables * sizeof *at);
  for (int i = 0; i < num; i++) slope[i] = 0.0;
  for (int k = 1; k <= 2; k++) {
    for (int sign = -1; sign <= 1; sign += 2) {
      // Not cavum_optimum_inputs(): a place may leave the bounds here.
      for (int j = 0; j < goal->num_variables; j++) {
        double moved = at[j] + (j == variable ? sign * k * STEP : 0.0);
        values[j] = goal->low[j] + moved * (goal->high[j] - goal->low[j]);
      }
      cavum_study_link(values, goal->study);
      for (int i = 0; i < num; i++) slope[i] += sign * WEIGHTS[k - 1] * values[i] / STEP;
    }
  }
  for (int j = 0; j < goal->num_variables; j++) {
    slope[j] = j == variable ? goal->high[j] - goal->low[j] : 0.0;
  }
}

const char *cavum_optimum_key_of_both(const char *key) {
  if (strncmp(key, "left.", 5) == 0) return key + 5;
  return strncmp(key, "right.", 6) == 0 ? key + 6 : NULL;
}

// Whether the first is a dimension of one half and the second the same of both.
static bool is_half(const char *half, const char *both) {
  const char *of_both = cavum_optimum_key_of_both(half);
  return of_both && strcmp(of_both, both) == 0;
}

// How much of a dimension an input sets: all, or half of one that is that of both halves.
static double part_of(const char *key, const cavum_input *input) {
  const char *name = cavum_input_dimension(input);
  const cavum_place *place = &input->place;
  if (strcmp(key, name) == 0) {
    bool both = place->kind != CAVUM_PLACE_HALVES || place->set_left == place->set_right;
    return both ? 1.0 : 0.5;
  }
  if (place->kind == CAVUM_PLACE_HALVES && is_half(key, name)) {
    return (key[0] == 'l' ? place->set_left : place->set_right) ? 1.0 : 0.0;
  }
  return is_half(name, key) ? 0.5 : 0.0;
}

// Numbers in the name of a point that a spline goes through,
// path[ENTRY].spline_through[POINT].z_mm.
static bool spline_point(const char *name, long *entry, long *point) {
  static const char BEFORE[] = "path[", BETWEEN[] = "].spline_through[";
  char *end = NULL;
  if (strncmp(name, BEFORE, strlen(BEFORE)) != 0) return false;
  *entry = strtol(name + strlen(BEFORE), &end, 10);
  if (strncmp(end, BETWEEN, strlen(BETWEEN)) != 0) return false;
  *point = strtol(end + strlen(BETWEEN), &end, 10);
  return strncmp(end, "].", 2) == 0;
}

// The last point of a path is its start, which has the derivatives of both.
static bool is_last_point(const cavum_study *study, const cavum_input *input,
                          const cavum_dimension *dimensions, int num_dimensions) {
  char prefix[64];
  const cavum_cell *cell = &study->cell;
  long entry = 0, point = 0;
  if (cell->kind != CAVUM_CONTOUR_PATH) return false;
  // Of a spline: the point before it is a dimension.
  const char *name = cavum_input_dimension(input);
  if (spline_point(name, &entry, &point)) {
    snprintf(prefix, sizeof prefix, "path[%ld].spline_through[%ld].z_mm", entry, point - 1);
    for (int k = 0; k < num_dimensions; k++) {
      if (strcmp(dimensions[k].key, prefix) == 0) return true;
    }
    return false;
  }
  snprintf(prefix, sizeof prefix, "path[%lld].", (long long)cell->path.num_curves);
  return strncmp(cavum_input_dimension(input), prefix, strlen(prefix)) == 0;
}

static cavum_status check_inputs(const cavum_study *study, const cavum_dimension *dimensions,
                                 int num_dimensions, cavum_error *error) {
  for (int i = 0; i < study->num_inputs; i++) {
    const cavum_input *input = &study->inputs[i];
    bool found = is_last_point(study, input, dimensions, num_dimensions);
    for (int k = 0; k < num_dimensions; k++) {
      found = found || part_of(dimensions[k].key, input) != 0.0;
    }
    if (found) continue;
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s is not a dimension: figures have no derivatives by it",
                      input->place.name);
  }
  return CAVUM_OK;
}

cavum_status cavum_optimum_rates_make(cavum_optimum_rates *rates, const cavum_goal *goal,
                                      int of_cell, const double *place,
                                      const cavum_dimension *dimensions, int num_dimensions,
                                      cavum_error *error) {
  double slope[CAVUM_STUDY_MOST_INPUTS];
  const cavum_study *study = goal->cells[of_cell].study;
  cavum_status status = check_inputs(study, dimensions, num_dimensions, error);
  if (status != CAVUM_OK) return status;
  rates->num_dimensions = num_dimensions;
  rates->by = cavum_alloc(num_dimensions, sizeof *rates->by);
  rates->moves = cavum_alloc(num_dimensions, sizeof *rates->moves);
  if (!rates->by || !rates->moves) return cavum_fail_memory(error);
  for (int j = 0; j < goal->num_variables; j++) {
    differentiate_inputs(slope, goal, place, j);
    for (int k = 0; k < num_dimensions; k++) {
      for (int i = 0; i < goal->study->num_inputs; i++) {
        double part = part_of(dimensions[k].key, &study->inputs[i]);
        rates->by[k][j] += part * slope[i] * dimensions[k].unit_si;
      }
      rates->moves[k] = rates->moves[k] || rates->by[k][j] != 0.0;
    }
  }
  return CAVUM_OK;
}

void cavum_optimum_rates_clear(cavum_optimum_rates *rates) {
  free(rates->by);
  free(rates->moves);
  *rates = (cavum_optimum_rates){0};
}
