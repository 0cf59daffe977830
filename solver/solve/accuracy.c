// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainties against what is asked for, and the prediction of degrees.
#include "solve/accuracy.h"

#include "base/base.h"
#include "fem/shape.h"
#include "solve/figure_policy.h"

// Of the first three degrees there is one ratio, whose first change may have been small by luck: no
// slower ratio than this is expected then. Of five modes some figure nearly always has such luck,
// and good meshes were given up for it. Voltages of the modes of a long chain still have it at four
// degrees and more, where their changes do fall over all of these: then the same holds.
static const double RATIO_EXPECTED = 0.7;

double cavum_accuracy_wanted(cavum_figure_id id, const cavum_cell *cell) {
  return id == CAVUM_FIGURE_FREQUENCY ? cell->accuracy_frequency : cell->accuracy_other_figures;
}

// What holds up a solve: what more degrees make more accurate.
static bool is_required(const cavum_figure *figure, cavum_figure_id id) {
  bool computed = figure->basis == CAVUM_BASIS_COMPUTED || figure->basis == CAVUM_BASIS_WITH_FIT;
  return figure->state == CAVUM_FIGURE_PRESENT && computed &&
         cavum_figure_policy_of(id)->role == CAVUM_ROLE_REQUIRED;
}

// What mixes a mode with another by rounding stays: a figure is as good as it gets where it leaves
// hardly more open than that does.
static const double OF_MIXING = 2.0;

// The largest uncertainty that is accurate enough.
static double allowed(const cavum_mode_values *values, cavum_figure_id id, const cavum_cell *cell) {
  return cavum_accuracy_wanted(id, cell) * fabs(values->figures[id].value) *
         cavum_figure_policy_relaxation(id, values);
}

bool cavum_accuracy_is_reached(const cavum_mode_values *values, cavum_figure_id id,
                               const cavum_cell *cell) {
  const cavum_figure *figure = &values->figures[id];
  return !is_required(figure, id) || figure->uncertainty <= allowed(values, id, cell);
}

// The same, or where more degrees are of no use.
static double attainable(const cavum_mode_values *values, cavum_figure_id id,
                         const cavum_cell *cell) {
  double mixing = cavum_figure_policy_vector_error(id, values->mixing, values);
  return cavum_max(allowed(values, id, cell), OF_MIXING * mixing * fabs(values->figures[id].value));
}

bool cavum_accuracy_is_exhausted(const cavum_mode_values *values, cavum_figure_id id,
                                 const cavum_cell *cell) {
  const cavum_figure *figure = &values->figures[id];
  return !is_required(figure, id) || figure->uncertainty <= attainable(values, id, cell);
}

double cavum_accuracy_over_wanted(double uncertainty, const cavum_mode_values *values,
                                  cavum_figure_id id, const cavum_cell *cell) {
  double most = attainable(values, id, cell);
  return is_required(&values->figures[id], id) && most > 0.0 ? uncertainty / most : 0.0;
}

// Whether a ratio may be slow by luck: of the first degrees, or where changes fell faster on
// average.
static bool is_slow_by_luck(const cavum_history *history, double ratio) {
  int n = history->count;
  if (!(ratio > RATIO_EXPECTED)) return false;
  if (n <= CAVUM_DEGREES_LEAST) return n == CAVUM_DEGREES_LEAST;
  return history->change[n - 1] < pow(RATIO_EXPECTED, n - 2) * history->change[1];
}

int cavum_accuracy_missing_degrees(const cavum_mode_values *values, cavum_figure_id id,
                                   const cavum_cell *cell, const cavum_history *history) {
  const cavum_figure *figure = &values->figures[id];
  if (cavum_accuracy_is_exhausted(values, id, cell)) return 0;
  double wanted = attainable(values, id, cell);
  if (!(wanted > 0.0) || !(figure->uncertainty < HUGE_VAL)) return CAVUM_DEGREE_MOST;
  double ratio = cavum_uncertainty_ratio(history), expected = figure->uncertainty;
  if (is_slow_by_luck(history, ratio)) {
    expected *= RATIO_EXPECTED / (1.0 - RATIO_EXPECTED) * (1.0 - ratio) / ratio;
    ratio = RATIO_EXPECTED;
  }
  double count = cavum_max(0.0, log(expected / wanted) / -log(ratio));
  return count < CAVUM_DEGREE_MOST ? 1 + (int)count : CAVUM_DEGREE_MOST;
}

// Two changes over the two before, which odd and even degrees share alike, against that of an
// algebraic sequence: p^-s changes by s p^(-s - 1) a degree.
static const double ALGEBRAIC_LEAST = 0.8, ALGEBRAIC_MOST = 1.3;

bool cavum_accuracy_is_out_of_reach(const cavum_mode_values *values, cavum_figure_id id,
                                    const cavum_cell *cell, const cavum_history *history,
                                    int degree) {
  enum { CHANGES = 4 };
  int n = history->count;
  const double *change = history->change;
  double exponent = cavum_figure_policy_exponent(id, values), power = 4.0 * exponent;
  if (n <= CHANGES || exponent >= 1.0 || cavum_accuracy_is_exhausted(values, id, cell))
    return false;
  double last = change[n - 1] + change[n - 2], before = change[n - 3] + change[n - 4];
  if (!(before > 0.0)) return false;
  double algebraic = pow((degree - 2.5) / (degree - 0.5), power + 1.0);
  if (!(last >= ALGEBRAIC_LEAST * algebraic * before) ||
      !(last <= ALGEBRAIC_MOST * algebraic * before)) {
    return false;
  }
  double as_before = pow(last / before, 0.5 * (CAVUM_DEGREE_MOST - degree));
  double as_power = pow((double)degree / CAVUM_DEGREE_MOST, power);
  return values->figures[id].uncertainty * cavum_min(as_before, as_power) >
         attainable(values, id, cell);
}
