// SPDX-License-Identifier: GPL-3.0-or-later
// From the values at a few degrees to derivatives with uncertainties.
#include "solve/derivative_fill.h"

#include "base/base.h"
#include "figures/sharp_corner.h"
#include "solve/derivative_reason.h"
#include "solve/figure_chain.h"
#include "solve/figure_policy.h"
#include "solve/mode_history.h"

// On a smooth contour two degrees are enough: a derivative falls as its figure does, which is known
// at three. No faster than this, so that a change is not small by the luck of the figure; nor is it
// by its own luck below this part of the largest change by a dimension of its unit. Where the
// figure says nothing, by this ratio.
static const double FALL_LEAST = 0.08, CHANGE_PART = 0.05, FALL_UNKNOWN = 0.5, FALL_MOST = 0.95;
// Of a peak of H what its place changes, which is held apart at two degrees, may cancel with what
// else the degrees change: of 23,596 derivatives the worst was 2.9 uncertainties off with the part
// above, 1.6 with this one.
static const double CHANGE_PART_OF_H = 0.1;
// At corners odd and even degrees cross: of f by two points of a spline the last change was a tenth
// and less of what was left. As much of the largest counts there as of the change before elsewhere.
// So do peaks of E, whose two places of the largest field differ, and which change little by all
// dimensions at some degrees: by half axes of an iris the last change was a sixth of what was left.
// Where they are known at a third degree, as much of that counts; where they are not, what two say
// is taken twice: of 36,716 derivatives 9 lay outside without, by up to 2.5 uncertainties, and 1,
// by 1.3, with it.
static const double CHANGE_PART_BY_LUCK = 0.25, PEAK_BY_TWO = 2.0;
// Over an algebraic tail, which is an estimate. Of a quotient of two integrals to a tip, which
// converge alike, a part of what one changed by counts.
static const double TIP_SAFETY = 1.5, OF_QUOTIENT = 0.25;

// What a region about a peak of E corrects is of short waves, as long as a bend is round: it
// changes with the dimensions as fast as the peak itself. The part of the largest derivative that
// counts.
static const double OF_REGION = 2.0;

// What dimensions do to the contour. What one of another kind changes says nothing of a peak of E:
// beside a tip that a turned wall makes its derivatives converge slowly, and the accelerating
// length moves nothing.
typedef enum motion_kind {
  MOVES_NOTHING,
  MOVES_WALLS,
  TURNS_AT_AXIS,
  NUM_MOTION_KINDS
} motion_kind;

// What the uncertainties of the derivatives of one figure have in common.
typedef struct figure_fall {
  double refined;      // of a peak of E, its value over that of the whole mesh; else 1
  bool is_peak;        // of E
  double uncertainty;  // of that peak, relative; else 0
  double largest[NUM_MOTION_KINDS][CAVUM_NUM_UNITS];  // derivative by a dimension of each unit
  double exponent, ratio;  // of its corners; last change over the one before
  double part;             // of the largest last change that counts
  int degree;
  double change[NUM_MOTION_KINDS][CAVUM_NUM_UNITS];  // largest last change by one of each unit
  double value;                                      // of the figure
  // Of integrals to the ends of the axis: their powers in it, and which are taken along the axis
  // itself.
  double power[CAVUM_NUM_AXIS_PARTS];
  bool of_axis[CAVUM_NUM_AXIS_PARTS], one_axis_edge;
} figure_fall;

static double last_change(const cavum_derivative_sequence *s) {
  return s->count > 1 ? fabs(s->value[s->count - 1] - s->value[s->count - 2]) : 0.0;
}

static double figure_ratio(const cavum_solution *solution, int mode, int id) {
  const cavum_mode_values *values = solution->modes[mode].values;
  double change[2];
  if (solution->num_degrees <= CAVUM_DEGREES_ON_SMOOTH) return FALL_UNKNOWN;
  for (int i = 0; i < 2; i++) {
    const cavum_figure *now = &values[i].figures[id], *before = &values[i + 1].figures[id];
    bool known = now->state == CAVUM_FIGURE_PRESENT && before->state == CAVUM_FIGURE_PRESENT;
    change[i] = known ? fabs(now->value - before->value) : 0.0;
  }
  if (!(change[1] > 0.0)) return FALL_UNKNOWN;
  return cavum_min(FALL_MOST, cavum_max(FALL_LEAST, change[0] / change[1]));
}

static motion_kind kind_of(const cavum_shape_motion *motion, int i, const figure_fall *fall) {
  if (!fall->is_peak) return MOVES_WALLS;
  if (motion->turned_tip[i] > 0.0) return TURNS_AT_AXIS;
  return motion->moved[i][1] > 0 || motion->has_odd[i] ? MOVES_WALLS : MOVES_NOTHING;
}

static void find_axis_parts(figure_fall *fall, const cavum_mode_values *at, int id) {
  const cavum_figure_chain chain = cavum_figure_chain_of((cavum_figure_id)id, 0.0);
  for (int j = 0; j < CAVUM_NUM_AXIS_PARTS; j++) {
    fall->power[j] = chain.known ? chain.power[CAVUM_FUNCTIONAL_VOLTAGE + j] : 0.0;
    fall->of_axis[j] = j == 0 ? at->at_beta_of_axis : at->plain_of_axis;
  }
}

static double change_part(const figure_fall *fall, int id) {
  if (fall->exponent < CAVUM_SMOOTH_EXPONENT || fall->is_peak) return CHANGE_PART_BY_LUCK;
  return id == CAVUM_FIGURE_BPK_OVER_EACC ? CHANGE_PART_OF_H : CHANGE_PART;
}

static figure_fall fall_of(const cavum_problem *s, int mode, const cavum_derivative_values *w,
                           int id) {
  const cavum_solution *solution = s->ladder.solution;
  figure_fall fall = {.exponent = cavum_figure_policy_exponent((cavum_figure_id)id,
                                                               &solution->modes[mode].values[0]),
                      .ratio = figure_ratio(solution, mode, id),
                      .degree = solution->reference.degree};
  const cavum_figure *figure = &s->result->modes[mode].figures[id];
  fall.one_axis_edge = w->one_axis_edge;
  find_axis_parts(&fall, &solution->modes[mode].values[0], id);
  fall.value = figure->value;
  fall.is_peak = id == CAVUM_FIGURE_EPK_OVER_EACC && w->peak_of_mesh > 0.0;
  fall.part = change_part(&fall, id);
  fall.refined = fall.is_peak ? figure->value / w->peak_of_mesh : 1.0;
  fall.uncertainty = fall.is_peak ? figure->uncertainty / figure->value : 0.0;
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    const cavum_derivative_sequence *values = &w->values[i][id];
    cavum_unit unit = w->motion->dimensions.list[i].unit;
    if (values->count == 0) continue;
    double *change = &fall.change[kind_of(w->motion, i, &fall)][unit];
    double *largest = &fall.largest[kind_of(w->motion, i, &fall)][unit];
    *change = cavum_max(*change, last_change(values));
    *largest = cavum_max(*largest, fabs(values->value[values->count - 1]));
  }
  return fall;
}

// The values of a sequence; of two, with the one that would have come before them.
static void fill_history(cavum_history *history, const cavum_derivative_sequence *s,
                         const figure_fall *fall, double largest_change,
                         const cavum_followed_rate *peak) {
  history->count = 0;  // of the rest nothing is read
  if (s->count == CAVUM_DEGREES_ON_SMOOTH) {
    double ratio = fall->ratio;
    double change = cavum_max(last_change(s), fall->part * largest_change);
    double before = fall->is_peak ? fabs(fall->value * peak->change[1]) : 0.0;
    if (before > 0.0) {
      change = cavum_max(change, CHANGE_PART_BY_LUCK * before);
      ratio = cavum_min(FALL_MOST, cavum_max(ratio, change / before));
    }
    double value = s->value[1] - change;
    cavum_history_add(history, value - change / ratio, 0.0, s->error[0]);
    cavum_history_add(history, value, 0.0, s->error[0]);
    cavum_history_add(history, s->value[1], 0.0, s->error[1]);
    return;
  }
  for (int i = 0; i < s->count; i++) cavum_history_add(history, s->value[i], 0.0, s->error[i]);
}

// What a number changed by at the last two degrees, the latest first, as one change: d p / s is
// what C p^-s still adds. On an edge of the mesh from end to end of the axis a field is even or
// odd, or nearly so, and its expansion gains by every other degree.
static double change_of_two(const double change[2], bool by_every_other) {
  double last = fabs(change[0]), before = fabs(change[1]);
  return by_every_other ? 0.5 * (last + before) : cavum_max(last, CHANGE_PART_BY_LUCK * before);
}

// A wall that turns where it meets the axis at a right angle makes a tip of what was smooth: the
// derivative of the field is singular there, and integrals to the tip fall as p^(-s), s being 4 nu
// along the outline and 2 nu along the axis, as at a tip that is there.
static double tail_of_turned_tip(const cavum_followed_rate *rates, const figure_fall *fall,
                                 double nu) {
  double change = 0.0, sum[2] = {0.0}, power = HUGE_VAL;
  for (int j = 0; j < CAVUM_NUM_AXIS_PARTS; j++) {
    double size = fabs(fall->power[j]) * change_of_two(rates[j].change, fall->one_axis_edge);
    if (rates[j].count < CAVUM_DEGREES_ON_SMOOTH || size == 0.0) continue;
    for (int k = 0; k < 2; k++) sum[k] += fall->power[j] * rates[j].change[k];
    change = cavum_max(change, OF_QUOTIENT * size);
    power = cavum_min(power, (fall->of_axis[j] ? 2.0 : 4.0) * nu);
  }
  if (!(power > 0.0)) return 0.0;
  change = cavum_max(change, change_of_two(sum, fall->one_axis_edge));
  return TIP_SAFETY * fabs(fall->value) * change * fall->degree / power;
}

// A dimension that moves nothing of a figure: all terms are zero, not only their sum. What other
// dimensions of its unit change is no uncertainty of that.
static bool is_exactly_zero(const cavum_derivative_sequence *s) {
  for (int i = 0; i < s->count; i++) {
    if (s->value[i] != 0.0 || s->error[i] != 0.0) return false;
  }
  return true;
}

static void fill_derivative(cavum_derivative *to, const cavum_derivative_sequence *s,
                            const figure_fall *fall, const cavum_derivative_values *w, int i) {
  cavum_unit unit = w->motion->dimensions.list[i].unit;
  int last = s->count - 1;
  if (last < 0) return;
  const cavum_followed_rate *followed = w->followed[i];
  cavum_history history;
  to->state = CAVUM_FIGURE_PRESENT;
  to->value = fall->refined * s->value[last];
  if (is_exactly_zero(s)) return;
  motion_kind kind = kind_of(w->motion, i, fall);
  fill_history(&history, s, fall, fall->change[kind][unit], &followed[CAVUM_NUM_AXIS_PARTS]);
  double tail = cavum_mode_history_tail_of_derivative(&history, fall->exponent, fall->degree);
  bool by_two = followed[CAVUM_NUM_AXIS_PARTS].count == CAVUM_DEGREES_ON_SMOOTH;
  if (fall->is_peak && by_two) tail *= PEAK_BY_TWO;
  to->uncertainty = cavum_max(tail, tail_of_turned_tip(followed, fall, w->motion->turned_tip[i])) +
                    s->error[last] +
                    OF_REGION * fabs(fall->refined - 1.0) * fall->largest[kind][unit] +
                    fall->uncertainty * fabs(to->value);
}

// The peak is the largest of several that change at these rates: a derivative to each side, or one
// where they cannot be told apart.
static void fill_split(cavum_derivative *to, cavum_derivative sides[2],
                       const cavum_derivative_values *w, int i, int id, const figure_fall *fall) {
  const cavum_derivative_sequence *other = w->other[i][cavum_derivative_peak_of(id)];
  cavum_derivative most = {0}, least;
  fill_derivative(&most, &w->values[i][id], fall, w, i);
  least = most;
  for (int k = 0; k < CAVUM_OTHER_PLACES; k++) {
    cavum_derivative of = {0};
    if (other[k].count == 0) continue;
    fill_derivative(&of, &other[k], fall, w, i);
    if (of.value > most.value) most = of;
    if (of.value < least.value) least = of;
  }
  double apart = most.value - least.value;
  if (apart <= most.uncertainty + least.uncertainty) {
    *to = (cavum_derivative){
        .state = CAVUM_FIGURE_PRESENT,
        .value = 0.5 * (most.value + least.value),
        .uncertainty = cavum_max(most.uncertainty, least.uncertainty) + 0.5 * apart};
    return;
  }
  to->reason = CAVUM_REASON_TWO_PLACES;
  sides[CAVUM_CHANGE_GROWS] = most;
  sides[CAVUM_CHANGE_SHRINKS] = least;
}

// Why there is no derivative of a figure by a dimension, or NULL.
static const char *reason_against(const cavum_derivative_values *w, int i, int id) {
  return w->motion->smooth[i] ? w->reason[i][id] : CAVUM_REASON_SHAPE;
}

static void fill_figure(const cavum_problem *s, int index, const cavum_derivative_values *w, int id,
                        const char *reason) {
  cavum_mode_result *mode = &s->result->modes[index];
  if (!cavum_derivative_is_asked(w->figures, id)) {
    cavum_derivative *of = mode->derivatives + id;
    int count = w->motion->dimensions.count;
    for (int i = 0; i < count; i++, of += CAVUM_FIGURES_ROOM) of->reason = CAVUM_REASON_NOT_ASKED;
    return;
  }
  const figure_fall fall = fall_of(s, index, w, id);
  int peak = cavum_derivative_peak_of(id);
  for (int i = 0; i < w->motion->dimensions.count; i++) {
    cavum_derivative *to = &mode->derivatives[(int64_t)i * CAVUM_FIGURES_ROOM + id];
    const char *against = reason_against(w, i, id);
    to->reason = against ? against : reason;
    if (to->reason) continue;
    if (peak >= 0 && w->is_split[i][peak]) {
      fill_split(to, &mode->one_sided[4 * i + 2 * peak], w, i, id, &fall);
      continue;
    }
    fill_derivative(to, &w->values[i][id], &fall, w, i);
  }
}

void cavum_derivative_fill(const cavum_problem *s, int index, const cavum_derivative_values *w,
                           const char *reason) {
  const cavum_mode_result *mode = &s->result->modes[index];
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (mode->figures[id].state == CAVUM_FIGURE_PRESENT) fill_figure(s, index, w, id, reason);
  }
}
