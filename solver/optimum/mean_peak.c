// SPDX-License-Identifier: GPL-3.0-or-later
#include "optimum/mean_peak.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "optimum/mean.h"

// A point that is this many spreads of both below the peak never is the peak.
static const double NEVER = 6.0;
// Points to each side of one that may be the peak, for the parabola through three.
enum { REACH = 2 };

// The spread that makes the highest points compete.
static double find_top(cavum_index *top, const cavum_optimum_value *v) {
  *top = 0;
  for (cavum_index k = 0; k < v->num_points; k++) {
    if (v->points[k].value > v->points[*top].value) *top = k;
  }
  return v->points[*top].value;
}

static bool competes(const cavum_optimum_value *v, cavum_index k, cavum_index top) {
  const cavum_optimum_wall_point *p = &v->points[k], *most = &v->points[top];
  return log(most->value / p->value) <= NEVER * (p->spread + most->spread);
}

static bool is_near_one(const cavum_optimum_value *v, cavum_index k, cavum_index top) {
  for (cavum_index i = k - REACH; i <= k + REACH; i++) {
    if (i < 0 || i >= v->num_points || abs(v->points[i].index - v->points[k].index) > REACH) {
      continue;
    }
    if (competes(v, i, top)) return true;
  }
  return false;
}

static bool allocate(cavum_mean_peak *peak, cavum_index num_points, int count) {
  int64_t squares = (int64_t)num_points * count;
  peak->points = cavum_alloc(num_points, sizeof *peak->points);
  peak->value = cavum_alloc(num_points, sizeof *peak->value);
  peak->joined = cavum_alloc(num_points, sizeof *peak->joined);
  peak->part = cavum_alloc(num_points, sizeof *peak->part);
  peak->slope = cavum_alloc(squares, sizeof *peak->slope);
  peak->along = cavum_alloc(squares, sizeof *peak->along);
  return peak->points && peak->value && peak->joined && peak->part && peak->slope && peak->along;
}

cavum_status cavum_mean_peak_list(cavum_mean_peak *peak, const cavum_optimum_value *value,
                                  const cavum_goal *goal, cavum_error *error) {
  int count = goal->tolerances->count;
  cavum_index top = 0;
  *peak = (cavum_mean_peak){.num_tolerances = count};
  if (!allocate(peak, value->num_points, count)) return cavum_fail_memory(error);
  if (value->num_points > 0) find_top(&top, value);
  for (cavum_index k = 0; k < value->num_points; k++) {
    const cavum_optimum_wall_point *p = &value->points[k];
    if (!is_near_one(value, k, top)) continue;
    int m = peak->num_points++;
    peak->points[m] = p;
    peak->value[m] = p->value;
    for (int t = 0; t < count; t++) peak->slope[m * count + t] = p->value * p->by[t];
    if (m > 0) {
      const cavum_optimum_wall_point *last = peak->points[m - 1];
      peak->joined[m - 1] = last->joined && last->index + 1 == p->index;
    }
  }
  return CAVUM_OK;
}

void cavum_mean_peak_clear(cavum_mean_peak *peak) {
  free(peak->points);
  free(peak->value);
  free(peak->joined);
  free(peak->part);
  free(peak->slope);
  free(peak->along);
  *peak = (cavum_mean_peak){0};
}

double cavum_mean_peak_find(cavum_mean_peak *peak, const cavum_goal *goal) {
  const cavum_mean_values values = {.num_values = peak->num_points,
                                    .count = peak->num_tolerances,
                                    .value = peak->value,
                                    .slope = peak->slope,
                                    .joined = peak->joined};
  return cavum_mean_of_largest(peak->part, peak->along, &values, goal->mean_draws,
                               CAVUM_MEAN_DRAWS);
}

const cavum_optimum_wall_point *cavum_mean_peak_match(const cavum_optimum_value *value,
                                                      const cavum_optimum_value *neighbour,
                                                      cavum_index index) {
  cavum_index low = 0, high = neighbour->num_points;
  if (value->num_wall_points != neighbour->num_wall_points) return NULL;
  while (low < high) {
    cavum_index middle = low + (high - low) / 2;
    if (neighbour->points[middle].index < index) low = middle + 1;
    if (neighbour->points[middle].index >= index) high = middle;
  }
  bool found = low < neighbour->num_points && neighbour->points[low].index == index;
  return found ? &neighbour->points[low] : NULL;
}

// Derivative of the mean of the largest by a variable: of the values, whose changes by tolerances
// are parts of them.
static double slope_of_mean(const cavum_mean_peak *peak, int variable) {
  double sum = 0.0;
  int count = peak->num_tolerances;
  for (int m = 0; m < peak->num_points; m++) {
    double with_value = peak->part[m] * peak->value[m];
    for (int t = 0; t < count; t++) {
      with_value += peak->along[m * count + t] * peak->slope[m * count + t];
    }
    sum += with_value * peak->points[m]->slope[variable];
  }
  return sum;
}

// The places below the mean, and one that is the mean.
static void take_mean(cavum_optimum_value *v, const cavum_mean_peak *peak, const cavum_goal *goal,
                      const cavum_goal_margin *margin, double after, double bend) {
  double before = v->value;
  cavum_optimum_place mean = {.point = CAVUM_OPTIMUM_MEAN_POINT, .spread = NAN};
  for (int j = 0; j < goal->num_variables; j++) {
    v->slope[j] = slope_of_mean(peak, j) + margin->tilt[j] + margin->slope[j];
    mean.slope[j] = v->slope[j] / after;
  }
  for (int k = 0; k < v->num_places; k++) {
    cavum_optimum_place *p = &v->places[k];
    double here = before * exp(p->below);
    for (int j = 0; j < goal->num_variables; j++) {
      p->slope[j] = (here * p->slope[j] + margin->slope[j]) / (here + bend);
    }
    p->below = cavum_min(log((here + bend) / after), 0.0);
  }
  v->places[v->num_places++] = mean;
  v->has_slope = true;
  v->margin = after - before;
  v->value = after;
  v->figure += after - before;
}

cavum_status cavum_mean_peak_take(cavum_optimum_value *value, const cavum_goal *goal,
                                  const cavum_goal_quantity *quantity, double bend,
                                  cavum_error *error) {
  cavum_mean_peak peak;
  cavum_status status = cavum_mean_peak_list(&peak, value, goal, error);
  if (status == CAVUM_OK && peak.num_points > 0) {
    double after = cavum_mean_peak_find(&peak, goal) + bend;
    take_mean(value, &peak, goal, &quantity->margin, after, bend);
  }
  cavum_mean_peak_clear(&peak);
  return status;
}
