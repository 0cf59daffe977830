// SPDX-License-Identifier: GPL-3.0-or-later
// Where the shift goes amid known modes.
#include "solve/shift_choice.h"

#include "base/base.h"

// Shift of a rough start over the k^2 of the last mode of a neighbour.
static const double ROUGH_SHIFT = 1.03;
// Place of a shift between the lowest and the highest mode.
static const double SHIFT_PLACE = 0.7;
// Width of a gap between modes, relative, in which a shift is well placed, and the least that may
// hold one; the part of it at both ends that may not.
static const double GAP_WIDE = 0.08, GAP_LEAST = 0.01, GAP_MARGIN = 0.25;

// k^2 of the lowest and the highest of the modes that are wanted of all classes, per m^2.
typedef struct extent {
  double lowest, highest;
} extent;

static extent extent_of(const cavum_modes *guess, const cavum_solution_request *input) {
  extent x = {HUGE_VAL, 0.0};
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    int wanted = input->requests[c].count;
    if (wanted == 0) continue;
    x.lowest = cavum_min(x.lowest, guess[c].k2_per_m2[0]);
    x.highest = cavum_max(x.highest, guess[c].k2_per_m2[wanted - 1]);
  }
  return x;
}

// The mode of any class that follows a k^2.
static double mode_after(const cavum_modes *modes, double k2_per_m2) {
  double next = HUGE_VAL;
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    for (int m = 0; m < modes[c].count; m++) {
      if (modes[c].k2_per_m2[m] > k2_per_m2) next = cavum_min(next, modes[c].k2_per_m2[m]);
    }
  }
  return next;
}

// A shift amid the modes that are wanted: the lowest and the highest converge at about the same
// pace where it is nearer to the highest, since those that are not wanted lie on its side; and
// projections to lower degrees take up little of others. It lies in a gap between modes that is
// wide enough, or else in the widest; below them all when they are too close.
static double shift_amid(const cavum_modes *guess, const cavum_solution_request *input) {
  extent x = extent_of(guess, input);
  double middle = x.lowest + SHIFT_PLACE * (x.highest - x.lowest), nearest = HUGE_VAL,
         widest = GAP_LEAST;
  double shift = (1.0 - GAP_WIDE) * x.lowest;
  for (double from = x.lowest; from < x.highest;) {
    double to = mode_after(guess, from), width = (to - from) / from;
    double margin = GAP_MARGIN * (to - from);
    double at = cavum_min(cavum_max(middle, from + margin), to - margin);
    if (width > GAP_WIDE && fabs(at - middle) < nearest) {
      shift = at;
      nearest = fabs(at - middle);
    } else if (nearest == HUGE_VAL && width > widest) {
      shift = at;
      widest = width;
    }
    from = to;
  }
  return shift;
}

double cavum_shift_choose(const cavum_modes *guess, const cavum_solution_request *input) {
  extent x = extent_of(guess, input);
  if (!input->rough) return shift_amid(guess, input);
  return cavum_min(ROUGH_SHIFT * x.highest, 0.5 * (x.highest + mode_after(guess, x.highest)));
}

double cavum_shift_choose_between(const cavum_modes *modes) {
  double widest = 0.0, at = modes->k2_per_m2[0] * (1.0 - GAP_WIDE);
  for (int m = 0; m + 1 < modes->count; m++) {
    double width = modes->k2_per_m2[m + 1] - modes->k2_per_m2[m];
    if (width <= widest) continue;
    widest = width;
    at = modes->k2_per_m2[m] + 0.5 * width;
  }
  return at;
}
