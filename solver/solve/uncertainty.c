// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainty from a hierarchy of degrees.
#include "solve/uncertainty.h"

#include <string.h>

#include "base/base.h"

static const double RATIO_MOST = 0.95, RATIO_LEAST = 0.05, RATIO_UNRESOLVED = 0.7;
// Of the part of a sequence that falls geometrically beside an algebraic one, on meshes that are
// graded towards corners; a slower one counts as partly algebraic.
static const double RATIO_GEOMETRIC = 0.1;
// Over an algebraic tail, which is an estimate.
static const double ALGEBRAIC_SAFETY = 1.5;
// Degrees over which what a corner changes cannot have become smaller but by its power, and the
// largest ratio by which such a sequence is taken to go towards its limit.
enum { UNGRADED_DEGREES = 3 };
static const double UNGRADED_RATIO_MOST = 0.9;
// By how much the next power is higher, of which two steps that turn back say nothing.
static const double UNGRADED_NEXT_POWER = 2.0;

// Peaks at bends of small radius swing about their limit, as degrees resolve one wave along the
// wall after the other: two small last changes may be a turn of the swing. It is told by a change
// of the last four that is at least SWING_RATIO of the one before, or by values that turned back
// there while one of the last two is at least SWING_RATIO_BACK of the one before. Then changes so
// far back count, damped. Three values alone swing where the last change has the other sign and is
// no small part of the first. Of 1,152 values at degrees 5 to 16 of 100 random cells on two meshes
// (thin irises, bumps of ellipses 5:1 to 20:1, nose cones, gaps, lines, closed cavities) 13 lay
// outside without, by up to 3.4 times, now 3, two of them at the first degrees of one cell. The
// median of uncertainty over error rises by a tenth on two-ellipse cells, by a quarter on nose
// cones and closed spheroids, by nearly half on bumps, by nothing on pillboxes, gaps and lines.
enum { SWING_DEGREES = 4, SWING_BACK_DEGREES = 2, SWING_CHANGES_LEAST = 3 };
static const double SWING_RATIO = 0.8, SWING_RATIO_BACK = 0.5;
static const double SWING_DAMPING = 0.7, SWING_SAFETY = 1.5;
static const double SWING_OF_THREE = 1.0 / 16.0, SWING_OF_THREE_LUCK = 0.6;

typedef struct caution {
  double ratio_least, luck, safety;
} caution;

void cavum_history_add(cavum_history *history, double value, double spread,
                       double iteration_error) {
  if (history->count == CAVUM_HISTORY_MOST) {
    memmove(history->value, history->value + 1, sizeof history->value - sizeof *history->value);
    memmove(history->change, history->change + 1, sizeof history->change - sizeof *history->change);
    memmove(history->iteration_error, history->iteration_error + 1,
            sizeof history->iteration_error - sizeof *history->iteration_error);
    history->count--;
  }
  int n = history->count++;
  history->value[n] = value;
  history->iteration_error[n] = iteration_error;
  history->change[n] = n > 0 ? cavum_max(fabs(value - history->value[n - 1]), spread) : 0.0;
}

static caution caution_of(cavum_convergence convergence) {
  switch (convergence) {
    case CAVUM_CONVERGENCE_STEADY:
      // What falls with one sign is hardly small by luck. The worst of 400 random cells had 0.76 of
      // its uncertainty as an error; with 0.15 frequencies of analytic fields had a two-hundredth.
      return (caution){0.3, 0.05, 3.0};
    case CAVUM_CONVERGENCE_STEADY_BEHIND_CORNERS:
      // A change can be a fifteenth of the one before, and the next one larger again. Of 112
      // frequencies of 180 random steps at degrees 7 to 12 whose errors were large enough to be
      // told, 9 were outside with 0.05, 1 with 0.15, none from 0.2 on; the median of uncertainty
      // over error rises from 7 to 12.
      return (caution){0.3, 0.25, 3.0};
    case CAVUM_CONVERGENCE_SIGNED:
      return (caution){0.4, 0.25, 3.0};
    case CAVUM_CONVERGENCE_SPREAD:
      return (caution){0.4, 0.25, 2.0};
    case CAVUM_CONVERGENCE_UNEVEN:
      break;
  }
  return (caution){0.5, 0.3, 2.0};
}

static double ratio_of(double now, double before, double least) {
  if (before <= 0.0) return now > 0.0 ? RATIO_MOST : least;
  return cavum_min(RATIO_MOST, cavum_max(least, now / before));
}

// The n-th change over the one before. One that cannot be told from rounding is as small as a ratio
// may be; one that cannot be told from what the iteration left may be as large as that, and is
// hardly a ratio at all where the one before was no larger.
static double ratio_at(const cavum_history *history, int n, double rounding, double least) {
  double iteration_error = history->iteration_error[n] + history->iteration_error[n - 1],
         before = history->change[n - 1];
  if (history->change[n] <= rounding) return least;
  if (history->change[n] > iteration_error) return ratio_of(history->change[n], before, least);
  return cavum_min(RATIO_UNRESOLVED, ratio_of(iteration_error, before, least));
}

// The last change, of which a part that is small by luck counts as a part of those before.
static double last_change(const cavum_history *history, double luck) {
  int n = history->count;
  const double *change = history->change;
  double first = n > 3 ? change[n - 3] : 0.0;
  return cavum_max(change[n - 1], luck * cavum_max(change[n - 2], luck * first));
}

// Whether a change can be told from rounding and from what the iteration left.
static bool is_told(const cavum_history *history, int n, double rounding) {
  return history->change[n] > rounding &&
         history->change[n] > history->iteration_error[n] + history->iteration_error[n - 1];
}

// Whether the step to value n goes the other way than the one before, as far as both are told.
static bool turns_at(const cavum_history *history, int n, double rounding) {
  const double *value = history->value;
  return is_told(history, n, rounding) && is_told(history, n - 1, rounding) &&
         (value[n] - value[n - 1]) * (value[n - 1] - value[n - 2]) < 0.0;
}

static bool is_swinging(const cavum_history *history, double rounding) {
  int last = history->count - 1;
  const double *change = history->change;
  bool is_slow = false, is_slowish = false, has_turned = false;
  if (last < SWING_CHANGES_LEAST) return false;
  for (int n = last; n > 1 && n > last - SWING_DEGREES; n--) {
    double ratio = is_told(history, n, rounding) ? ratio_of(change[n], change[n - 1], 0.0) : 0.0;
    is_slow = is_slow || ratio > SWING_RATIO;
    is_slowish = is_slowish || (n > last - SWING_BACK_DEGREES && ratio > SWING_RATIO_BACK);
    // Four steps have three turns between them.
    has_turned = has_turned || (n > last - SWING_DEGREES + 1 && turns_at(history, n, rounding));
  }
  return is_slow || (has_turned && is_slowish);
}

// How a swing of the last degrees goes on.
static double swing(const cavum_history *history) {
  int last = history->count - 1;
  double largest = 0.0, damping = 1.0;
  for (int n = last; n > 0 && n >= last - SWING_DEGREES; n--, damping *= SWING_DAMPING) {
    largest = cavum_max(largest, damping * history->change[n]);
  }
  return SWING_SAFETY * largest;
}

// Whether the last of three values has turned back.
static bool has_swung_of_three(const cavum_history *history, double rounding) {
  return history->count == 3 && turns_at(history, 2, rounding) &&
         history->change[2] > SWING_OF_THREE * history->change[1];
}

double cavum_uncertainty_of_last(const cavum_history *history, cavum_convergence convergence,
                                 double floor_relative) {
  int n = history->count;
  if (n < 2) return HUGE_VAL;
  caution c = caution_of(convergence);
  double rounding = floor_relative * fabs(history->value[n - 1]);
  if (n < 3) return cavum_max(rounding, history->change[n - 1]);
  bool may_swing = convergence == CAVUM_CONVERGENCE_SPREAD;
  if (may_swing && has_swung_of_three(history, rounding)) c.luck = SWING_OF_THREE_LUCK;
  double ratio = ratio_at(history, n - 1, rounding, c.ratio_least);
  if (n > 3) ratio = cavum_max(ratio, ratio_at(history, n - 2, rounding, c.ratio_least));
  double tail = last_change(history, c.luck) * ratio / (1.0 - ratio);
  double uncertainty = cavum_max(rounding, c.safety * tail);
  if (!may_swing || !is_swinging(history, rounding)) return uncertainty;
  return cavum_max(uncertainty, swing(history));
}

double cavum_uncertainty_algebraic(const cavum_history *history, cavum_convergence convergence,
                                   double power, int degree) {
  int n = history->count;
  if (n < 3) return 0.0;
  const double *change = history->change;
  double ratio = ratio_of(change[n - 1], change[n - 2], RATIO_LEAST);
  if (n > 3) ratio = cavum_max(ratio, ratio_of(change[n - 2], change[n - 3], RATIO_LEAST));
  double part = cavum_max(0.0, 1.0 - RATIO_GEOMETRIC / ratio) / (1.0 - RATIO_GEOMETRIC);
  return part * cavum_uncertainty_all_algebraic(history, convergence, power, degree);
}

double cavum_uncertainty_all_algebraic(const cavum_history *history, cavum_convergence convergence,
                                       double power, int degree) {
  if (history->count < 3) return 0.0;
  double d = last_change(history, caution_of(convergence).luck);
  return ALGEBRAIC_SAFETY * d * degree / power;
}

// What the change `back` degrees before the last one has become when it falls by its power alone.
static double carried(double change, int back, double power, double at) {
  return change * pow(1.0 - back / at, power + 1.0);
}

// The step to the value `back` before the last, with its sign.
static double step_at(const cavum_history *history, int back) {
  int n = history->count - 1 - back;
  return history->value[n] - history->value[n - 1];
}

// Where steps go that are carried by their power: towards one of that power, as what falls faster
// dies out. Two that turned back tell that they do, not how fast: as a higher power. 0 where
// nothing tells.
static double step_ahead(const cavum_history *history, double power, double at, double rounding) {
  double step[3] = {0.0};
  int steps = history->count > 3 ? 3 : history->count - 1;
  for (int back = 0; back < steps; back++) {
    if (history->change[history->count - 1 - back] <= rounding) return 0.0;
    step[back] = carried(step_at(history, back), back, power, at);
  }
  double now = step[0] - step[1], before = step[1] - step[2];
  double x = carried(1.0, 1, UNGRADED_NEXT_POWER - 1.0, at);
  if (steps > 2) {
    if (now * before <= 0.0) return 0.0;
    x = cavum_min(UNGRADED_RATIO_MOST, now / before);
  } else if (step[0] * step[1] >= 0.0) {
    return 0.0;
  }
  return fabs(step[0] + now * x / (1.0 - x));
}

double cavum_uncertainty_ungraded(const cavum_history *history, double power, double degree,
                                  double floor_relative) {
  int n = history->count;
  if (n < 3) return 0.0;
  // A change stands half a degree below its value.
  double at = degree - 0.5, rounding = floor_relative * fabs(history->value[n - 1]), largest = 0.0;
  for (int back = 0; back < UNGRADED_DEGREES && back < n - 1; back++) {
    largest = cavum_max(largest, carried(history->change[n - 1 - back], back, power, at));
  }
  double ahead = step_ahead(history, power, at, rounding);
  return cavum_max(ALGEBRAIC_SAFETY * largest, ahead) * degree / power;
}

double cavum_uncertainty_one_less(const cavum_history *history, cavum_convergence convergence,
                                  double floor_relative) {
  int n = history->count;
  if (n < 3) return HUGE_VAL;
  caution c = caution_of(convergence);
  double rounding = floor_relative * fabs(history->value[n - 1]);
  double ratio = ratio_at(history, n - 1, rounding, c.ratio_least);
  return cavum_max(rounding, c.safety * history->change[n - 2] * ratio / (1.0 - ratio));
}

double cavum_uncertainty_ratio(const cavum_history *history) {
  int n = history->count;
  if (n < 3) return RATIO_MOST;
  double ratio = ratio_at(history, n - 1, 0.0, RATIO_LEAST);
  return n == 3 ? ratio : cavum_max(ratio, ratio_at(history, n - 2, 0.0, RATIO_LEAST));
}
