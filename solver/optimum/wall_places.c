// SPDX-License-Identifier: GPL-3.0-or-later
// Peaks as what they are: the largest of many values along the wall.
#include "optimum/wall_places.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "design/correlation.h"

// Points between the places about a maximum.
enum { STRIDE = 3, MOST_PLACES = 128 };

/** A field along the wall. */
typedef struct wall_field {
  const cavum_result *result;
  const cavum_profile *wall;
  const double *field, *by;
  cavum_index num_points;  // of the mesh's own wall
  int mode, num_variables;
  const cavum_optimum_rates *rates;
  double of_gradient[CAVUM_GOAL_MOST_VARIABLES];  // of ln E_acc
  const cavum_tolerances *tolerances;             // NULL: none, or not of these dimensions
  int of_tolerance[CAVUM_TOLERANCES_MOST];        // their dimensions
} wall_field;

static double size_at(const wall_field *w, cavum_index i) { return fabs(w->field[i]); }

// Sum over the dimensions of the derivative at a point; NaN where one is not known.
static double slope_at(const wall_field *w, cavum_index i, int variable) {
  double sum = 0.0, sign = w->field[i] < 0.0 ? -1.0 : 1.0;
  for (int k = 0; k < w->rates->num_dimensions; k++) {
    if (!w->rates->moves[k]) continue;
    sum += w->by[(int64_t)k * w->wall->num_points + i] * w->rates->by[k][variable];
  }
  return sign * sum;
}

static bool is_known(const wall_field *w, cavum_index i) {
  for (int j = 0; j < w->num_variables; j++) {
    if (!isfinite(slope_at(w, i, j))) return false;
  }
  for (int t = 0; w->tolerances && t < w->tolerances->count; t++) {
    if (!isfinite(w->by[(int64_t)w->of_tolerance[t] * w->wall->num_points + i])) return false;
  }
  return true;
}

/** Points of one element's side, which are equally far apart there. */
typedef struct wall_side {
  cavum_index first, last;
} wall_side;

// Whether two neighbours are on the same side: elements meet in two points at one place.
static bool is_joined(const wall_field *w, cavum_index i) {
  const double *s = w->wall->arc_length_m;
  return i >= 0 && i + 1 < w->num_points && s[i] < s[i + 1] && is_known(w, i) && is_known(w, i + 1);
}

// The points about one that a polynomial goes through: as many as are on its side, at most five.
static wall_side points_about(const wall_field *w, cavum_index i) {
  enum { REACH = 4, MOST_POINTS = 5 };
  wall_side side = {i, i};
  while (i - side.first < REACH && is_joined(w, side.first - 1)) side.first--;
  while (side.last - i < REACH && is_joined(w, side.last)) side.last++;
  while (side.last - side.first >= MOST_POINTS) {
    if (i - side.first > side.last - i) {
      side.first++;
    } else {
      side.last--;
    }
  }
  return side;
}

static bool is_maximum(const wall_field *w, cavum_index i) {
  double here = size_at(w, i);
  bool above_last = i == 0 || here >= size_at(w, i - 1);
  return above_last && (i + 1 == w->num_points || here >= size_at(w, i + 1));
}

// Lagrange's weights of points 0, 1, ... at a place between them.
static void weigh(double *weight, int num_points, double at) {
  for (int k = 0; k < num_points; k++) {
    weight[k] = 1.0;
    for (int l = 0; l < num_points; l++) {
      if (l != k) weight[k] *= (at - l) / (double)(k - l);
    }
  }
}

static double value_at(const wall_field *w, wall_side side, double at) {
  double weight[5], sum = 0.0;
  int num_points = (int)(side.last - side.first) + 1;
  weigh(weight, num_points, at);
  for (int k = 0; k < num_points; k++) sum += weight[k] * size_at(w, side.first + k);
  return sum;
}

// Where the polynomial about a point is largest, within a point of it: golden sections, since the
// polynomial has one top there, at the end of a side perhaps.
static double top_of(const wall_field *w, wall_side side, cavum_index i) {
  static const double GOLDEN = 0.6180339887498949, NARROW = 1e-7;
  double here = (double)(i - side.first), most = (double)(side.last - side.first);
  double low = cavum_max(here - 1.0, 0.0), high = cavum_min(here + 1.0, most);
  double left = high - GOLDEN * (high - low), right = low + GOLDEN * (high - low);
  double at_left = value_at(w, side, left), at_right = value_at(w, side, right);
  while (high - low > NARROW) {
    if (at_left > at_right) {
      high = right;
      right = left;
      at_right = at_left;
      left = high - GOLDEN * (high - low);
      at_left = value_at(w, side, left);
    } else {
      low = left;
      left = right;
      at_left = at_right;
      right = low + GOLDEN * (high - low);
      at_right = value_at(w, side, right);
    }
  }
  double top = 0.5 * (low + high);
  return value_at(w, side, top) > size_at(w, i) ? top : here;
}

// The dimensions that have a tolerance. One of a half is none of them where both halves have it as
// one: what it does place by place is not known then.
static void find_tolerances(wall_field *w) {
  for (int t = 0; w->tolerances && t < w->tolerances->count; t++) {
    int k = 0;
    while (k < w->result->num_dimensions &&
           strcmp(w->result->dimensions[k].key, w->tolerances->list[t].key) != 0) {
      k++;
    }
    w->of_tolerance[t] = k;
    if (k == w->result->num_dimensions) w->tolerances = NULL;
    if (!w->tolerances) return;
  }
}

static double deviation_of(const wall_field *w, int t) {
  double unit = w->result->dimensions[w->of_tolerance[t]].unit_si;
  return cavum_tolerance_deviation(&w->tolerances->list[t]) * unit;
}

// Standard deviation of ln of a field over E_acc: sqrt(s' C s) of its slopes s over the deviations.
static double spread_at(double slope[CAVUM_TOLERANCES_MOST], const wall_field *w,
                        const double *weight, wall_side side, double field) {
  double sum = 0.0;
  if (!w->tolerances) return NAN;
  int count = w->tolerances->count;
  double gradient = w->result->modes[w->mode].figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  for (int t = 0; t < count; t++) {
    int k = w->of_tolerance[t];
    double of_field = 0.0;
    for (cavum_index i = side.first; i <= side.last; i++) {
      double sign = w->field[i] < 0.0 ? -1.0 : 1.0;
      of_field += sign * weight[i - side.first] * w->by[(int64_t)k * w->wall->num_points + i];
    }
    cavum_derivative d = cavum_result_derivative(w->result, w->mode, k, CAVUM_FIGURE_EACC_AT_1_J);
    slope[t] = (of_field / field - d.value / gradient) * deviation_of(w, t);
  }
  for (int t = 0; t < count; t++) {
    for (int u = 0; u < count; u++) {
      sum += slope[t] * w->tolerances->correlation[t * count + u] * slope[u];
    }
  }
  return sqrt(cavum_max(sum, 0.0));
}

// Adds a place; `below` is the field there until the highest is known.
static void add(cavum_optimum_value *value, const wall_field *w, cavum_index i, bool as_maximum) {
  double weight[5] = {1.0}, slope[CAVUM_TOLERANCES_MOST];
  wall_side side = {i, i};
  if (value->num_places == MOST_PLACES) return;
  cavum_optimum_place *place = &value->places[value->num_places++];
  if (as_maximum) side = points_about(w, i);
  int num_points = (int)(side.last - side.first) + 1;
  if (as_maximum) weigh(weight, num_points, top_of(w, side, i));
  *place = (cavum_optimum_place){.point = i, .at_point = !as_maximum};
  for (int k = 0; k < num_points; k++) place->below += weight[k] * size_at(w, side.first + k);
  place->spread = spread_at(slope, w, weight, side, place->below);
  for (int j = 0; j < w->num_variables; j++) {
    for (int k = 0; k < num_points; k++) {
      place->slope[j] += weight[k] * slope_at(w, side.first + k, j);
    }
    place->slope[j] = place->slope[j] / place->below - w->of_gradient[j];
  }
}

// ln of fields over that of the highest place, whose field is the value.
static void level(cavum_optimum_value *value, double gradient, double unit) {
  double most = 0.0;
  for (int k = 0; k < value->num_places; k++) most = cavum_max(most, value->places[k].below);
  for (int k = 0; k < value->num_places; k++) {
    value->places[k].below = log(value->places[k].below / most);
  }
  value->value = unit * most / gradient;
}

static void list(cavum_optimum_value *value, const wall_field *w) {
  double most = 0.0;
  for (cavum_index i = 0; i < w->num_points; i++) most = cavum_max(most, size_at(w, i));
  // Maxima first: there may be more points than room.
  for (int pass = 0; pass < 2; pass++) {
    for (cavum_index i = 0; i < w->num_points; i++) {
      bool maximum = is_maximum(w, i);
      if (size_at(w, i) < CAVUM_WALL_PLACES_ABOVE * most || maximum != (pass == 0)) continue;
      if (pass == 1 && i % STRIDE != 0) continue;
      if (is_known(w, i)) add(value, w, i, maximum);
    }
  }
}

// False: the result has no derivatives along the wall.
static bool open_field(wall_field *w, const cavum_result *result, int mode, bool electric,
                       const cavum_optimum_rates *rates, const cavum_tolerances *tolerances,
                       int num_variables) {
  const cavum_mode_result *of = &result->modes[mode];
  *w = (wall_field){.result = result,
                    .wall = &of->wall,
                    .field = electric ? of->wall.e_v_per_m : of->wall.h_a_per_m,
                    .by = electric ? of->wall_e_by : of->wall_h_by,
                    .num_points = of->wall.num_points,
                    .mode = mode,
                    .num_variables = num_variables,
                    .rates = rates,
                    .tolerances = tolerances};
  if (!w->by) return false;
  if (result->half_model) w->num_points /= 2;
  double gradient = of->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  for (int k = 0; k < rates->num_dimensions; k++) {
    if (!rates->moves[k]) continue;
    cavum_derivative d = cavum_result_derivative(result, mode, k, CAVUM_FIGURE_EACC_AT_1_J);
    for (int j = 0; j < num_variables; j++) {
      w->of_gradient[j] += d.value * rates->by[k][j] / gradient;
    }
  }
  find_tolerances(w);
  return true;
}

cavum_status cavum_wall_places_list(cavum_optimum_value *value, bool *known,
                                    const cavum_result *result, int mode, bool electric,
                                    const cavum_optimum_rates *rates,
                                    const cavum_tolerances *tolerances, int num_variables,
                                    cavum_error *error) {
  wall_field w;
  *known = false;
  if (!open_field(&w, result, mode, electric, rates, tolerances, num_variables)) return CAVUM_OK;
  // One more: that of a mean over them all.
  value->places = cavum_alloc(MOST_PLACES + 1, sizeof *value->places);
  if (!value->places) return cavum_fail_memory(error);
  list(value, &w);
  if (value->num_places == 0) return CAVUM_OK;
  level(value, result->modes[mode].figures[CAVUM_FIGURE_EACC_AT_1_J].value,
        electric ? 1.0 : CAVUM_MU0);
  *known = true;
  return CAVUM_OK;
}

// ---- the field point by point

static void take_point(cavum_optimum_wall_point *point, const wall_field *w, cavum_index i,
                       double unit) {
  const double one = 1.0;
  const wall_side at = {i, i};
  *point = (cavum_optimum_wall_point){
      .index = i, .value = unit * size_at(w, i), .joined = is_joined(w, i)};
  point->spread = spread_at(point->by, w, &one, at, size_at(w, i));
  for (int j = 0; j < w->num_variables; j++) {
    point->slope[j] = slope_at(w, i, j) / size_at(w, i) - w->of_gradient[j];
  }
}

cavum_status cavum_wall_points_list(cavum_optimum_value *value, const cavum_result *result,
                                    int mode, bool electric, const cavum_optimum_rates *rates,
                                    const cavum_tolerances *tolerances, int num_variables,
                                    cavum_error *error) {
  wall_field w;
  double most = 0.0;
  if (!open_field(&w, result, mode, electric, rates, tolerances, num_variables)) return CAVUM_OK;
  if (!w.tolerances) return CAVUM_OK;
  value->points = cavum_alloc(w.num_points, sizeof *value->points);
  if (!value->points) return cavum_fail_memory(error);
  double unit =
      (electric ? 1.0 : CAVUM_MU0) / result->modes[mode].figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  for (cavum_index i = 0; i < w.num_points; i++) most = cavum_max(most, size_at(&w, i));
  for (cavum_index i = 0; i < w.num_points; i++) {
    if (size_at(&w, i) < CAVUM_WALL_PLACES_ABOVE * most || !is_known(&w, i)) continue;
    take_point(&value->points[value->num_points++], &w, i, unit);
  }
  return CAVUM_OK;
}
