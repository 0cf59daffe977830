// SPDX-License-Identifier: GPL-3.0-or-later
// Depths are shown in um, lengths in mm.
#include "format/step_amount.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"

enum { NUMBER_SIZE = 96 };

static bool is_depth(const cavum_step *step) {
  return step->kind == CAVUM_STEP_REMOVE || step->kind == CAVUM_STEP_DEPOSIT ||
         step->kind == CAVUM_STEP_PRESSURE;
}

static cavum_unit unit_of(const cavum_step *step) {
  return is_depth(step) ? CAVUM_UNIT_UM : CAVUM_UNIT_MM;
}

// Where a depth that varies is meant: the line about the step has the same words.
static const char *place_of(const cavum_step *step) {
  return is_depth(step) && strstr(step->what, " at the equator") ? " at the equator" : "";
}

// Two digits of the uncertainty, and the value as far.
static void write_amount(char *text, size_t size, const cavum_step *step, double amount_m,
                         double uncertainty_m) {
  cavum_unit unit = unit_of(step);
  double value = cavum_in_unit(amount_m, unit), u = cavum_in_unit(uncertainty_m, unit);
  if (!(u > 0.0) || !isfinite(u)) {
    snprintf(text, size, "%.5g %s%s", value, cavum_unit_symbol(unit), place_of(step));
    return;
  }
  int decimals = 1 - (int)floor(log10(u));
  double last = pow(10.0, -decimals);
  snprintf(text, size, "%.*f +- %.*f %s%s", decimals > 0 ? decimals : 0, last * round(value / last),
           decimals > 0 ? decimals : 0, last * round(u / last), cavum_unit_symbol(unit),
           place_of(step));
}

void cavum_step_write_found(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step) {
  char amount[NUMBER_SIZE];
  write_amount(amount, sizeof amount, step, step->found_amount, step->found_amount_uncertainty);
  if (!step->found_obstacle[0]) {
    snprintf(text, CAVUM_STEP_AMOUNT_SIZE, "%s", amount);
    return;
  }
  snprintf(text, CAVUM_STEP_AMOUNT_SIZE, "impossible: it would be %s, which is %s", amount,
           step->found_obstacle);
}

void cavum_step_write_next(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step) {
  char amount[NUMBER_SIZE];
  if (!step->next_obstacle[0]) {
    write_amount(amount, sizeof amount, step, step->next_amount, step->next_amount_uncertainty);
    snprintf(text, CAVUM_STEP_AMOUNT_SIZE, "%s%s%s", amount, step->next_caution[0] ? ", " : "",
             step->next_caution);
    return;
  }
  cavum_unit unit = unit_of(step);
  snprintf(text, CAVUM_STEP_AMOUNT_SIZE, "not by this step: it would take %.*f %s%s, which is %s",
           is_depth(step) ? 0 : 3, cavum_in_unit(step->next_amount, unit), cavum_unit_symbol(unit),
           place_of(step), step->next_obstacle);
}

void cavum_step_write_stated(char text[CAVUM_STEP_AMOUNT_SIZE], const cavum_step *step) {
  cavum_unit unit = unit_of(step);
  if (is_depth(step) && step->what[0]) {
    // "120 um off the metal at the equator, 180 um at the iris" says which of both the amount is.
    snprintf(text, CAVUM_STEP_AMOUNT_SIZE, "%s", step->what);
  } else {
    snprintf(text, CAVUM_STEP_AMOUNT_SIZE, "%.5g %s", cavum_in_unit(step->amount, unit),
             cavum_unit_symbol(unit));
  }
}

// Of the standard deviation of a source as stated; with more left than this nothing is known of it.
static const double FOUND_MOST = 0.99;

bool cavum_step_source_is_found(const cavum_step_source *source) {
  return source->found_uncertainty <= FOUND_MOST;
}
