// SPDX-License-Identifier: GPL-3.0-or-later
// From figures and their derivatives to rows.
#include "optimum/rows.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/geometry.h"

// Places along a spline whose limit is that much less broken than another are no rivals for a step:
// of curvature and lean, and of the radius, which a step changes less.
static const double FAR_BENDS = 1.5, FAR_RADII = 0.3;
// Figures of the shape are known to rounding and take no solve: a shape that was made for a limit
// meets it.
static const double SHAPE_ACCURACY = 1e-7;
// Limits on splines of a wall, which are known to rounding, are met to this.
static const double MET_WALL = 1e-8;

bool cavum_rows_is_bound(const cavum_goal *goal, const cavum_optimum_point *point, int quantity) {
  const cavum_goal_quantity *q = &goal->quantities[quantity];
  return quantity < goal->num_terms && q->weight > 0.0 && point->values[quantity].num_places > 0;
}

// Whether a figure is above 0 in any shape.
static bool is_positive(const cavum_requirement *what) {
  return what->kind != CAVUM_REQUIRE_K_CC && what->kind != CAVUM_REQUIRE_WALL_ANGLE &&
         what->kind != CAVUM_REQUIRE_STRAIGHT_LENGTH;
}

// Below this part of a unit of its key the logarithm of a figure that may be 0 goes on as a
// straight line: the worst case of a short wall is below 0, and a search has to come out of there.
static const double LEAST_PART = 1e-3;

static double least_of(const cavum_requirement *what) {
  return is_positive(what) ? 0.0 : LEAST_PART * what->unit_si;
}

static double log_of(const cavum_goal_quantity *q, double value) {
  double least = least_of(&q->what);
  return value >= least ? log(value) : log(least) + value / least - 1.0;
}

// Its derivative.
static double slope_of_log(const cavum_goal_quantity *q, double value) {
  return 1.0 / cavum_max(value, least_of(&q->what));
}

double cavum_rows_objective(const cavum_goal *goal, const cavum_optimum_point *point) {
  double sum = 0.0;
  for (int i = 0; i < goal->num_terms; i++) {
    sum += goal->quantities[i].weight * log_of(&goal->quantities[i], point->values[i].value);
  }
  return sum;
}

double cavum_rows_objective_uncertainty(const cavum_goal *goal, const cavum_optimum_point *point) {
  double sum = 0.0;
  for (int i = 0; i < goal->num_terms; i++) {
    const cavum_optimum_value *v = &point->values[i];
    const cavum_goal_quantity *q = &goal->quantities[i];
    sum += fabs(q->weight) * v->uncertainty * slope_of_log(q, v->value);
  }
  return sum;
}

double cavum_rows_limit(const cavum_goal_quantity *quantity, double sign) {
  const cavum_requirement *what = &quantity->what;
  return (sign > 0.0 ? what->most : what->least) * what->unit_si;
}

// Size of a limit that is a difference: where it is 0, one unit of its key.
static double size_of(const cavum_goal_quantity *q, double limit) {
  return limit != 0.0 ? fabs(limit) : q->what.unit_si;
}

// The straight wall vanishes as a root does, while its square changes evenly: the square is what
// derivatives tell something of. Half of it over that of the limit has the slope of the length
// over the limit there.
static bool is_by_square(const cavum_goal_quantity *q, double limit) {
  return q->what.kind == CAVUM_REQUIRE_STRAIGHT_LENGTH && limit > 0.0;
}

// A radius of curvature is limited by its reciprocal, which goes through 0 where the wall turns.
static bool is_radius(const cavum_goal_quantity *q) {
  return q->is_of_wall && q->what.kind >= CAVUM_REQUIRE_IRIS_SIDE_RADIUS;
}

double cavum_rows_excess(const cavum_goal_quantity *quantity, double value, double sign) {
  double limit = cavum_rows_limit(quantity, sign);
  if (!isfinite(limit)) return -HUGE_VAL;
  if (is_radius(quantity)) return limit / value - 1.0;
  if (is_by_square(quantity, limit)) {
    // Below 0 in the worst case where the wall is gone: further from the limit, not nearer.
    return 0.5 * sign * (value * fabs(value) - limit * limit) / (limit * limit);
  }
  if (is_positive(&quantity->what) && limit > 0.0) return sign * log(value / limit);
  return sign * (value - limit) / size_of(quantity, limit);
}

bool cavum_rows_is_far(double room, double tolerance) { return room > sqrt(tolerance); }

double cavum_rows_scale(const cavum_goal_quantity *quantity, double value, double sign) {
  double limit = cavum_rows_limit(quantity, sign);
  if (is_radius(quantity)) return sign * limit / (value * value);
  if (is_by_square(quantity, limit)) return sign * fabs(value) / (limit * limit);
  if (is_positive(&quantity->what) && limit > 0.0) return sign / value;
  return sign / size_of(quantity, limit);
}

static double accuracy_of(const cavum_goal *goal, const cavum_goal_quantity *q) {
  const cavum_cell *cell = &cavum_goal_study_of(goal, q)->cell;
  const cavum_requirement *what = &q->what;
  if (what->kind == CAVUM_REQUIRE_FIGURE && what->figure == CAVUM_FIGURE_FREQUENCY) {
    return cell->accuracy_frequency;
  }
  bool of_shape = what->kind != CAVUM_REQUIRE_FIGURE && what->kind != CAVUM_REQUIRE_K_CC;
  // Splines of a wall bend by steps as peaks do.
  if (of_shape && !q->is_of_wall) return cavum_min(SHAPE_ACCURACY, cell->accuracy_other_figures);
  return cell->accuracy_other_figures;
}

static double largest_excess(const cavum_goal *goal, const cavum_optimum_point *point,
                             bool in_accuracies) {
  double most = 0.0;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    double accuracy = in_accuracies ? accuracy_of(goal, q) : 1.0;
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      most = cavum_max(most, cavum_rows_excess(q, point->values[i].value, sign) / accuracy);
    }
  }
  return most;
}

double cavum_rows_violation(const cavum_goal *goal, const cavum_optimum_point *point) {
  return largest_excess(goal, point, false);
}

double cavum_rows_violation_in_accuracies(const cavum_goal *goal,
                                          const cavum_optimum_point *point) {
  return largest_excess(goal, point, true);
}

// To what a limit is met.
static double asked_of(const cavum_goal *goal, const cavum_goal_quantity *q) {
  double asked = CAVUM_ROWS_MET * accuracy_of(goal, q);
  return q->is_of_wall ? cavum_min(asked, MET_WALL) : asked;
}

// The side of a limit that is farthest from what is asked for, in units of that; NULL: there is no
// limit.
static const cavum_goal_quantity *find_farthest(double *most, const cavum_goal *goal,
                                                const cavum_optimum_point *point) {
  const cavum_goal_quantity *found = NULL;
  *most = -HUGE_VAL;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      double part = cavum_rows_excess(q, point->values[i].value, sign) / asked_of(goal, q);
      if (!(part > *most)) continue;
      *most = part;
      found = q;
    }
  }
  return found;
}

bool cavum_rows_are_met(const cavum_goal *goal, const cavum_optimum_point *point) {
  double most;
  find_farthest(&most, goal, point);
  return most <= 1.0;
}

void cavum_rows_tell_unmet(char *text, size_t size, const cavum_goal *goal,
                           const cavum_optimum_point *point) {
  double most;
  const cavum_goal_quantity *q = find_farthest(&most, goal, point);
  text[0] = '\0';
  if (!q || most <= 1.0) return;
  double asked = asked_of(goal, q);
  snprintf(text, size, "%s is met to %.2g (%.2g is asked for)", q->what.key, most * asked, asked);
}

double cavum_rows_broken_by(const cavum_goal *goal, const cavum_optimum_point *point,
                            int quantity) {
  const cavum_goal_quantity *q = &goal->quantities[quantity];
  double value = point->values[quantity].figure, accuracy = accuracy_of(goal, q);
  for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
    if (cavum_rows_excess(q, value, sign) <= accuracy) continue;
    return sign * (value - cavum_rows_limit(q, sign));
  }
  return 0.0;
}

static const char *unit_of(const cavum_requirement *what) {
  int id = (int)what->kind - (int)CAVUM_REQUIRE_WALL_ANGLE;
  if (id >= 0 && id < CAVUM_NUM_GEOMETRY_FIGURES)
    return cavum_geometry_describe((cavum_geometry_id)id).file_unit;
  return cavum_unit_symbol(cavum_unit_of_key(what->key));
}

bool cavum_rows_is_held_frequency(const cavum_goal_quantity *q) {
  return q->what.kind == CAVUM_REQUIRE_FIGURE && q->what.figure == CAVUM_FIGURE_FREQUENCY &&
         q->what.least == q->what.most;
}

double cavum_rows_off_frequency(const cavum_goal *goal, const cavum_optimum_point *point) {
  double most = 0.0;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (!cavum_rows_is_held_frequency(q)) continue;
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      double excess = cavum_rows_excess(q, point->values[i].value, sign);
      most = cavum_max(most, excess / accuracy_of(goal, q));
    }
  }
  return most;
}

/** A limit that is broken. */
typedef struct broken_limit {
  const cavum_goal_quantity *q;
  double value, limit, by;  // in the unit of its key
  double rank;              // relative, and above all others of a frequency that is held
  bool at_least;
} broken_limit;

static int by_falling_rank(const void *a, const void *b) {
  double of_a = ((const broken_limit *)a)->rank, of_b = ((const broken_limit *)b)->rank;
  return of_a < of_b ? 1 : of_a > of_b ? -1 : 0;
}

static double miss_in_percent(const broken_limit *l) { return 100.0 * l->by / fabs(l->limit); }

static int find_broken(broken_limit list[2 * CAVUM_GOAL_MOST_QUANTITIES], const cavum_goal *goal,
                       const cavum_optimum_point *point) {
  static const double ABOVE_ALL = 1e9;
  int count = 0;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    double value = point->values[i].value, accuracy = accuracy_of(goal, q);
    bool held = q->what.least == q->what.most;
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      double excess = cavum_rows_excess(q, value, sign), limit = cavum_rows_limit(q, sign);
      if (!(excess > accuracy)) continue;
      broken_limit *l = &list[count++];
      *l = (broken_limit){.q = q,
                          .value = value / q->what.unit_si,
                          .limit = limit / q->what.unit_si,
                          .by = sign * (value - limit) / q->what.unit_si,
                          .at_least = sign < 0.0};
      l->rank = limit != 0.0 ? l->by / fabs(l->limit) : excess;
      // Of two that are missed as far but for their accuracies the one that is held goes first.
      if (held) l->rank += 2.0 * accuracy;
      if (cavum_rows_is_held_frequency(q)) l->rank += ABOVE_ALL;
    }
  }
  qsort(list, (size_t)count, sizeof *list, by_falling_rank);
  return count;
}

// A frequency ten times off the one that is held is in another unit, or of another cell.
static bool is_a_slip(const broken_limit *l) {
  bool far = l->by > 9.0 * fabs(l->limit) || (l->at_least && l->by > 0.9 * fabs(l->limit));
  return far && cavum_rows_is_held_frequency(l->q);
}

static void write_miss(char *text, size_t size, const broken_limit *l) {
  const char *unit = unit_of(&l->q->what), *blank = unit[0] ? " " : "";
  int length = snprintf(text, size, " by %.3g%s%s", l->by, blank, unit);
  bool relative = l->limit != 0.0 && length > 0 && (size_t)length < size;
  if (relative && is_a_slip(l)) {
    snprintf(text + length, size - (size_t)length, " (a slip of units?)");
  } else if (relative) {
    double percent = miss_in_percent(l);
    snprintf(text + length, size - (size_t)length, percent < 99.5 ? " (%.2g %%)" : " (%.0f %%)",
             percent);
  }
}

void cavum_rows_tell_broken(char text[CAVUM_OPTIMUM_BROKEN_SIZE], const cavum_goal *goal,
                            const cavum_optimum_point *point) {
  enum { ROOM_AT_END = 16 };  // for how many more there are
  broken_limit list[2 * CAVUM_GOAL_MOST_QUANTITIES];
  char next[256], miss[96];
  int count = find_broken(list, goal, point), told = 1;
  text[0] = '\0';
  if (count == 0) return;
  const cavum_requirement *what = &list[0].q->what;
  const char *unit = unit_of(what), *blank = unit[0] ? " " : "";
  const char *kind = what->least == what->most ? "exactly"
                     : list[0].at_least        ? "at least"
                                               : "at most";
  write_miss(miss, sizeof miss, &list[0]);
  snprintf(text, CAVUM_OPTIMUM_BROKEN_SIZE, "%s = %.6g%s%s breaks the limit of %s %.9g%s%s%s",
           what->key, list[0].value, blank, unit, kind, list[0].limit, blank, unit, miss);
  for (; told < count; told++) {
    write_miss(miss, sizeof miss, &list[told]);
    snprintf(next, sizeof next, "%s %s%s", told == 1 ? ", then" : ",", list[told].q->what.key,
             miss);
    if (strlen(text) + strlen(next) + ROOM_AT_END >= CAVUM_OPTIMUM_BROKEN_SIZE) break;
    strcat(text, next);
  }
  size_t length = strlen(text);
  if (told == count) return;
  snprintf(text + length, CAVUM_OPTIMUM_BROKEN_SIZE - length, ", and %d more", count - told);
}

double cavum_rows_objective_noise(const cavum_goal *goal, const cavum_optimum_point *point) {
  double sum = 0.0;
  for (int i = 0; i < goal->num_terms; i++) {
    const cavum_optimum_value *v = &point->values[i];
    const cavum_goal_quantity *q = &goal->quantities[i];
    sum += fabs(q->weight) * v->noise * slope_of_log(q, v->value);
  }
  return sum;
}

double cavum_rows_limit_noise(const cavum_goal *goal, const cavum_optimum_point *point) {
  double worst = -HUGE_VAL, noise = 0.0;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    const cavum_optimum_value *v = &point->values[i];
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      double excess = cavum_rows_excess(q, v->value, sign);
      if (!(excess > worst)) continue;
      worst = excess;
      noise = v->noise * fabs(cavum_rows_scale(q, v->value, sign));
    }
  }
  return noise;
}

// The place of another point that is the nearest along the wall; -1: walls that do not compare.
static int find_place(const cavum_optimum_point *of, const cavum_optimum_point *at, int quantity,
                      int place) {
  const cavum_optimum_value *there = &at->values[quantity];
  cavum_index point = of->values[quantity].places[place].point, least = 0;
  int nearest = -1;
  if (of == at) return place;
  if (of->values[quantity].num_wall_points != there->num_wall_points) return -1;
  for (int k = 0; k < there->num_places; k++) {
    cavum_index off = abs(there->places[k].point - point);
    if (nearest >= 0 && off >= least) continue;
    nearest = k;
    least = off;
  }
  return nearest;
}

// Likewise along the splines of a wall.
static int find_bend(const cavum_optimum_point *of, const cavum_optimum_point *at, int quantity,
                     int bend) {
  const cavum_optimum_value *there = &at->values[quantity];
  cavum_index place = of->values[quantity].bends[bend].at, least = 0;
  int nearest = 0;
  if (of == at) return bend;
  for (int k = 0; k < there->num_bends; k++) {
    cavum_index off = abs(there->bends[k].at - place);
    if (k > 0 && off >= least) continue;
    nearest = k;
    least = off;
  }
  return nearest;
}

// Excess of a limit by the value of a place along a spline, and its derivative.
static double bend_excess(const cavum_goal_quantity *q, double value) {
  double limit = cavum_rows_limit(q, -1.0);
  return is_radius(q) ? limit * value - 1.0 : (limit - value) / size_of(q, limit);
}

static double bend_scale(const cavum_goal_quantity *q) {
  double limit = cavum_rows_limit(q, -1.0);
  return is_radius(q) ? limit : -1.0 / size_of(q, limit);
}

// Slope of a row at a point, by a variable.
static double slope_of(const cavum_row_origin *origin, const cavum_goal *goal,
                       const cavum_optimum_point *of, const cavum_optimum_point *at, int variable) {
  const cavum_optimum_value *v = &at->values[origin->quantity];
  const cavum_goal_quantity *q = &goal->quantities[origin->quantity];
  double factor = slope_of_log(q, v->value);
  if (q->is_of_wall) {
    int bend = find_bend(of, at, origin->quantity, origin->place);
    return bend_scale(q) * v->bends[bend].slope[variable];
  }
  if (origin->quantity >= goal->num_terms) {
    factor = cavum_rows_scale(q, v->value, origin->sign);
  }
  if (origin->place >= 0) {
    int place = find_place(of, at, origin->quantity, origin->place);
    if (place >= 0) return factor * v->value * v->places[place].slope[variable];
  }
  return factor * v->slope[variable];
}

// Of rows that stand for places along a wall, the one that is the farthest from mattering; -1:
// none.
static int find_least(const cavum_model *model, const cavum_rows *rows) {
  int least = -1;
  for (int k = 0; k < model->num_rows; k++) {
    if (rows->origin[k].place < 0) continue;
    if (least < 0 || model->rows[k].constant < model->rows[least].constant) least = k;
  }
  return least;
}

// Where there is no room a place along a wall is left out, the one that a step least likely comes
// to; what is no place has its row always.
static void add_row(cavum_model *model, cavum_rows *rows, const cavum_goal *goal,
                    const cavum_optimum_point *point, const cavum_row_origin *origin,
                    double constant, int bound) {
  int at = model->num_rows;
  if (at == CAVUM_MODEL_MOST_ROWS) {
    model->num_left_out++;
    at = find_least(model, rows);
    bool matters_less = at >= 0 && origin->place >= 0 && constant <= model->rows[at].constant;
    if (at < 0 || matters_less) return;
  } else {
    model->num_rows++;
  }
  cavum_model_row *row = &model->rows[at];
  row->constant = constant;
  row->bound = bound;
  for (int j = 0; j < model->num_variables; j++) {
    row->slope[j] = slope_of(origin, goal, point, point, j);
  }
  rows->origin[at] = *origin;
}

static void fill_term(cavum_model *model, cavum_rows *rows, const cavum_goal *goal,
                      const cavum_optimum_point *point, int i) {
  const cavum_optimum_value *v = &point->values[i];
  double weight = goal->quantities[i].weight, slope = slope_of_log(&goal->quantities[i], v->value);
  if (!cavum_rows_is_bound(goal, point, i)) {
    for (int j = 0; j < model->num_variables; j++) {
      model->gradient[j] += weight * v->slope[j] * slope;
    }
    return;
  }
  model->weight[model->num_bounds] = weight;
  for (int k = 0; k < v->num_places; k++) {
    const cavum_row_origin origin = {.quantity = i, .place = k, .sign = 1.0};
    add_row(model, rows, goal, point, &origin, v->places[k].below, model->num_bounds);
  }
  model->num_bounds++;
}

// The ends of a wall may stay where they are: nothing changes a limit that they touch.
static bool is_movable(const cavum_optimum_bend *bend, int num_variables) {
  for (int j = 0; j < num_variables; j++) {
    if (bend->slope[j] != 0.0) return true;
  }
  return false;
}

static void fill_limit(cavum_model *model, cavum_rows *rows, const cavum_goal *goal,
                       const cavum_optimum_point *point, int i, double sign) {
  const cavum_optimum_value *v = &point->values[i];
  double excess = cavum_rows_excess(&goal->quantities[i], v->value, sign);
  bool of_radius = goal->quantities[i].what.kind == CAVUM_REQUIRE_APERTURE_RADIUS;
  double far = of_radius ? FAR_RADII : FAR_BENDS;
  if (!isfinite(excess)) return;
  for (int k = 0; k < v->num_bends && sign < 0.0; k++) {
    const cavum_row_origin origin = {.quantity = i, .place = k, .sign = sign};
    double own = bend_excess(&goal->quantities[i], v->bends[k].value);
    if (own <= excess - far || !is_movable(&v->bends[k], model->num_variables)) continue;
    add_row(model, rows, goal, point, &origin, own, -1);
  }
  if (v->num_bends > 0) return;
  if (sign < 0.0 || v->num_places == 0) {
    const cavum_row_origin origin = {.quantity = i, .place = -1, .sign = sign};
    add_row(model, rows, goal, point, &origin, excess, -1);
    return;
  }
  for (int k = 0; k < v->num_places; k++) {
    const cavum_row_origin origin = {.quantity = i, .place = k, .sign = sign};
    add_row(model, rows, goal, point, &origin, excess + v->places[k].below, -1);
  }
}

void cavum_rows_fill(cavum_model *model, cavum_rows *rows, const cavum_goal *goal,
                     const cavum_optimum_point *point) {
  model->num_variables = goal->num_variables;
  model->num_rows = model->num_bounds = model->num_left_out = 0;
  for (int j = 0; j < goal->num_variables; j++) model->gradient[j] = 0.0;
  for (int i = 0; i < goal->num_terms; i++) fill_term(model, rows, goal, point, i);
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    fill_limit(model, rows, goal, point, i, -1.0);
    fill_limit(model, rows, goal, point, i, 1.0);
  }
}

void cavum_rows_lagrange(double *slope, const cavum_rows *rows, const double *multiplier,
                         int num_rows, const cavum_goal *goal, const cavum_optimum_point *of,
                         const cavum_optimum_point *at) {
  for (int j = 0; j < goal->num_variables; j++) {
    slope[j] = 0.0;
    for (int i = 0; i < goal->num_terms; i++) {
      const cavum_optimum_value *v = &at->values[i];
      if (cavum_rows_is_bound(goal, of, i)) continue;
      const cavum_goal_quantity *q = &goal->quantities[i];
      slope[j] += q->weight * v->slope[j] * slope_of_log(q, v->value);
    }
    for (int k = 0; k < num_rows; k++) {
      if (multiplier[k] == 0.0) continue;
      slope[j] += multiplier[k] * slope_of(&rows->origin[k], goal, of, at, j);
    }
  }
}
