// SPDX-License-Identifier: GPL-3.0-or-later
#include "format/optimum_cost.h"

#include <math.h>
#include <stdio.h>

#include "base/units.h"
#include "cavum/geometry.h"

// What files of earlier versions call broken, though they do not say which limit.
static const double LEAST_SAID = 1e-4;

cavum_optimum_shown cavum_optimum_shown_of(const cavum_optimum *optimum) {
  cavum_optimum_shown s = {NULL, {0}};
  if (optimum->num_terms != 1 || fabs(optimum->terms[0].weight) != 1.0) return s;
  if (optimum->terms[0].what.kind != CAVUM_REQUIRE_FIGURE) return s;
  s.term = &optimum->terms[0];
  s.unit = cavum_quantity_unit_to_fit(s.term->what.figure, s.term->value);
  return s;
}

int cavum_optimum_best_start(const cavum_optimum *optimum) {
  int best = -1;
  double result = cavum_optimum_best_of_starts(optimum);
  for (int i = 0; i < optimum->num_starts; i++) {
    const cavum_optimum_start *start = &optimum->starts[i];
    if (!start->is_best) continue;
    double off = fabs(start->objective - result);
    if (best < 0 || off < fabs(optimum->starts[best].objective - result)) best = i;
  }
  return best;
}

double cavum_optimum_best_of_starts(const cavum_optimum *optimum) {
  bool robust = optimum->robust.kind != CAVUM_ROBUST_NONE;
  return robust ? optimum->robust.nominal : optimum->objective_exact;
}

static double percent_worse(double logarithm, double than) {
  return cavum_in_unit(expm1(logarithm - than), CAVUM_UNIT_PERCENT);
}

double cavum_optimum_shown_start(const cavum_optimum_shown *shown, const cavum_optimum *optimum,
                                 double logarithm) {
  if (!shown->term) return percent_worse(logarithm, cavum_optimum_best_of_starts(optimum));
  return cavum_optimum_shown_value(shown, optimum, logarithm);
}

double cavum_optimum_shown_value(const cavum_optimum_shown *shown, const cavum_optimum *optimum,
                                 double logarithm) {
  if (!shown->term) return percent_worse(logarithm, optimum->objective_exact);
  return cavum_in_unit(exp(logarithm / shown->term->weight), shown->unit.conversion);
}

const char *cavum_optimum_shown_unit(const cavum_optimum_shown *shown) {
  return shown->term ? shown->unit.name : "% worse";
}

void cavum_optimum_shown_text(char text[CAVUM_OPTIMUM_COST_SIZE], const cavum_optimum_shown *shown,
                              const cavum_optimum *optimum, double logarithm) {
  double value = cavum_optimum_shown_value(shown, optimum, logarithm);
  if (!isfinite(value)) {
    snprintf(text, CAVUM_OPTIMUM_COST_SIZE, "no shape");
  } else if (shown->term) {
    snprintf(text, CAVUM_OPTIMUM_COST_SIZE, "%.9g%s%s", value, shown->unit.name[0] ? " " : "",
             shown->unit.name);
  } else {
    snprintf(text, CAVUM_OPTIMUM_COST_SIZE, "%.3g %% %s", fabs(value),
             value < 0.0 ? "better" : "worse");
  }
}

void cavum_optimum_remark_on_tolerances(char text[CAVUM_OPTIMUM_REMARK_SIZE],
                                        const cavum_optimum *optimum) {
  static const char *const names[4] = {"", "E_pk / E_acc", "B_pk / E_acc",
                                       "E_pk / E_acc and B_pk / E_acc"};
  const cavum_optimum_robust *r = &optimum->robust;
  bool mean = r->kind == CAVUM_ROBUST_MEAN;
  text[0] = '\0';
  if (r->left_out && optimum->end == CAVUM_OPTIMUM_STOPPED) {
    snprintf(text, CAVUM_OPTIMUM_REMARK_SIZE,
             "TOLERANCES LEFT OUT: the search was stopped before they were included; objective and "
             "limits are nominal");
  } else if (r->left_out) {
    snprintf(text, CAVUM_OPTIMUM_REMARK_SIZE,
             "TOLERANCES LEFT OUT: the search without them found no best shape; objective and "
             "limits are nominal");
  } else if (r->whole_peaks > 0 && r->whole_peaks < 4) {
    snprintf(
        text, CAVUM_OPTIMUM_REMARK_SIZE,
        "%s: TAKEN AS A WHOLE, since the effect of the tolerances along the wall is not known: the "
        "%s is that of the peak at its nominal place, which is too low where other places compete",
        names[r->whole_peaks], mean ? "mean" : "worst case");
  }
}

const char *cavum_optimum_unit_of_limit(const cavum_requirement *what) {
  int id = (int)what->kind - (int)CAVUM_REQUIRE_WALL_ANGLE;
  if (id >= 0 && id < CAVUM_NUM_GEOMETRY_FIGURES)
    return cavum_geometry_describe((cavum_geometry_id)id).file_unit;
  return cavum_unit_symbol(cavum_unit_of_key(what->key));
}

// A step that the derivative may be shown for: a tenth of a unit, and of what is below 1 the power
// of ten that is a hundredth of it at most.
static double step_of_cost(double value) {
  static const double STEP = 0.1, PART = 0.01;
  double size = fabs(value);
  return size >= 1.0 || !(size > 0.0) ? STEP : pow(10.0, floor(log10(PART * size)));
}

// A step that would change more than this part of the objective is beyond what a derivative says:
// the places of a wall beside an end that stays hardly move.
static const double STEEP = 0.3;

// From what one unit more gains.
static void write_cost(char text[CAVUM_OPTIMUM_COST_SIZE], const cavum_optimum_shown *s,
                       double multiplier, double step, const char *unit, const char *way) {
  double logs = step * multiplier;
  double change = s->term ? cavum_in_unit(logs * s->term->value, s->unit.conversion)
                          : cavum_in_unit(logs, CAVUM_UNIT_PERCENT);
  const char *of_change = s->term ? s->unit.name : "% of the objective";
  const char *gap = unit[0] ? " " : "";
  if (fabs(logs) > STEEP) {
    snprintf(text, CAVUM_OPTIMUM_COST_SIZE, "%s by %g%s%s: too far for a derivative", way, step,
             gap, unit);
    return;
  }
  snprintf(text, CAVUM_OPTIMUM_COST_SIZE, "%s by %g%s%s: gains %.3g%s%s", way, step, gap, unit,
           change, of_change[0] ? " " : "", of_change);
}

void cavum_optimum_cost_of_limit(char text[CAVUM_OPTIMUM_COST_SIZE],
                                 const cavum_optimum_shown *shown,
                                 const cavum_optimum_limit *limit) {
  const cavum_requirement *what = &limit->what;
  bool exact = what->least == what->most;
  const char *way = !exact ? "relaxed" : limit->active > 0 ? "raised" : "lowered";
  double bound = limit->active > 0 ? what->most : what->least;
  text[0] = '\0';
  if (limit->active == 0) return;
  write_cost(text, shown, limit->multiplier, step_of_cost(bound), cavum_optimum_unit_of_limit(what),
             way);
}

void cavum_optimum_cost_of_bound(char text[CAVUM_OPTIMUM_COST_SIZE],
                                 const cavum_optimum_shown *shown,
                                 const cavum_optimum_variable *variable) {
  text[0] = '\0';
  if (variable->at_bound == 0) return;
  write_cost(text, shown, variable->multiplier, step_of_cost(variable->high - variable->low),
             cavum_unit_symbol(cavum_unit_of_key(variable->key)), "relaxed");
}

void cavum_optimum_nominal_at_limits(char text[CAVUM_OPTIMUM_BROKEN_SIZE],
                                     const cavum_optimum *optimum) {
  double violation = optimum->robust.nominal_violation;
  if (optimum->nominal_broken[0]) {
    snprintf(text, CAVUM_OPTIMUM_BROKEN_SIZE, "%s", optimum->nominal_broken);
  } else if (violation > LEAST_SAID) {
    snprintf(text, CAVUM_OPTIMUM_BROKEN_SIZE, "it breaks a limit by %.2g, relative", violation);
  } else {
    snprintf(text, CAVUM_OPTIMUM_BROKEN_SIZE, "it keeps the limits");
  }
}
