// SPDX-License-Identifier: GPL-3.0-or-later
#include "format/derivative_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"

// Five digits say which way a dimension works; all are there on request.
static const double SHOWN_ACCURACY = 1e-4;

static const cavum_derivative_column COLUMNS[CAVUM_DERIVATIVE_COLUMNS] = {
    {CAVUM_FIGURE_FREQUENCY, "f", "MHz"},
    {CAVUM_FIGURE_R_OVER_Q_LINAC, "R/Q", "%"},
    {CAVUM_FIGURE_GEOMETRY_FACTOR, "G", "%"},
    {CAVUM_FIGURE_EPK_OVER_EACC, "E_pk/E_acc", "%"},
    {CAVUM_FIGURE_BPK_OVER_EACC, "B_pk/E_acc", "%"},
    {CAVUM_FIGURE_TRANSIT_TIME_FACTOR, "T", "%"},
};

int cavum_derivative_find_columns(cavum_derivative_column columns[CAVUM_DERIVATIVE_COLUMNS],
                                  const cavum_result *result, int mode) {
  int count = 0;
  for (int c = 0; c < CAVUM_DERIVATIVE_COLUMNS; c++) {
    if (result->modes[mode].figures[COLUMNS[c].id].state != CAVUM_FIGURE_PRESENT) continue;
    columns[count++] = COLUMNS[c];
  }
  return count;
}

// Change of f, or of k_cc, per unit of a dimension, without sign.
static double weight(const cavum_result *result, int mode, int dimension) {
  cavum_derivative d =
      mode == CAVUM_DERIVATIVE_OF_COUPLING
          ? cavum_result_coupling_derivative(result, dimension)
          : cavum_result_derivative(result, mode, dimension, CAVUM_FIGURE_FREQUENCY);
  if (d.state != CAVUM_FIGURE_PRESENT) return 0.0;
  return fabs(d.value) * result->dimensions[dimension].unit_si;
}

int cavum_derivative_next_row(const cavum_result *result, int mode, int last) {
  int best = -1;
  double limit = last < 0 ? HUGE_VAL : weight(result, mode, last), most = -1.0;
  for (int i = 0; i < result->num_dimensions; i++) {
    double w = weight(result, mode, i);
    bool after = w < limit || (w == limit && i > last && last >= 0);
    if (!after || w <= most) continue;
    best = i;
    most = w;
  }
  return best;
}

// A number that is exactly none has no uncertainty to show.
static void write_one(char text[CAVUM_QUANTITY_SIZE], const cavum_derivative *d, double scale,
                      bool all_digits) {
  bool present = d->state == CAVUM_FIGURE_PRESENT;
  snprintf(text, CAVUM_QUANTITY_SIZE, "%s", present ? "0" : "-");
  if (!present || (d->value == 0.0 && d->uncertainty == 0.0)) return;
  cavum_quantity_format_to(text, d->value * scale, d->uncertainty * scale,
                           all_digits ? 0.0 : SHOWN_ACCURACY);
}

void cavum_derivative_write(char text[CAVUM_DERIVATIVE_TEXT_SIZE], const cavum_result *result,
                            int mode, int dimension, cavum_figure_id id, bool all_digits) {
  char grows[CAVUM_QUANTITY_SIZE], shrinks[CAVUM_QUANTITY_SIZE];
  double per = result->dimensions[dimension].unit_si;
  double figure = result->modes[mode].figures[id].value;
  double scale = id == CAVUM_FIGURE_FREQUENCY
                     ? cavum_in_mhz(per)
                     : cavum_in_unit(per / fabs(figure), CAVUM_UNIT_PERCENT);
  cavum_derivative d = cavum_result_derivative(result, mode, dimension, id);
  const cavum_derivative sides[2] = {
      cavum_result_one_sided_derivative(result, mode, dimension, id, CAVUM_CHANGE_GROWS),
      cavum_result_one_sided_derivative(result, mode, dimension, id, CAVUM_CHANGE_SHRINKS)};
  if (d.state == CAVUM_FIGURE_PRESENT || sides[0].state != CAVUM_FIGURE_PRESENT) {
    write_one(grows, &d, scale, all_digits);
    snprintf(text, CAVUM_DERIVATIVE_TEXT_SIZE, "%s", grows);
    return;
  }
  write_one(grows, &sides[0], scale, all_digits);
  write_one(shrinks, &sides[1], scale, all_digits);
  snprintf(text, CAVUM_DERIVATIVE_TEXT_SIZE, "%s|%s", grows, shrinks);
}

void cavum_derivative_write_coupling(char text[CAVUM_QUANTITY_SIZE], const cavum_result *result,
                                     int dimension, bool all_digits) {
  cavum_derivative d = cavum_result_coupling_derivative(result, dimension);
  double per = result->dimensions[dimension].unit_si / fabs(result->coupling.value);
  write_one(text, &d, cavum_in_unit(per, CAVUM_UNIT_PERCENT), all_digits);
}

cavum_derivative_reasons cavum_derivative_find_reasons(const cavum_result *result, int mode) {
  cavum_derivative_reasons found = {0};
  const int most = sizeof found.absent / sizeof *found.absent;
  for (int i = 0; i < result->num_dimensions * CAVUM_DERIVATIVE_COLUMNS; i++) {
    int dimension = i / CAVUM_DERIVATIVE_COLUMNS;
    cavum_figure_id id = COLUMNS[i % CAVUM_DERIVATIVE_COLUMNS].id;
    cavum_derivative d = cavum_result_derivative(result, mode, dimension, id);
    cavum_derivative side =
        cavum_result_one_sided_derivative(result, mode, dimension, id, CAVUM_CHANGE_GROWS);
    if (!d.reason) continue;
    bool known = side.state == CAVUM_FIGURE_PRESENT;
    if (known) found.two_sided = d.reason;
    for (int k = 0; k < found.count && !known; k++) known = strcmp(found.absent[k], d.reason) == 0;
    if (!known && found.count < most) found.absent[found.count++] = d.reason;
  }
  return found;
}
