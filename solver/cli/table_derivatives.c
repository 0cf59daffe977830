// SPDX-License-Identifier: GPL-3.0-or-later
// One row a dimension, one column a figure.
#include "cli/table_derivatives.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "cli/colour.h"
#include "format/quantity.h"

enum { LEAST_CELL_WIDTH = 10 };

// Five digits say which way a dimension works; all are there on request.
static const double SHOWN_ACCURACY = 1e-4;

typedef struct column {
  cavum_figure_id id;
  const char *head, *unit;
} column;

static const column COLUMNS[] = {
    {CAVUM_FIGURE_FREQUENCY, "f", "MHz"},
    {CAVUM_FIGURE_R_OVER_Q_LINAC, "R/Q", "%"},
    {CAVUM_FIGURE_GEOMETRY_FACTOR, "G", "%"},
    {CAVUM_FIGURE_EPK_OVER_EACC, "E_pk/E_acc", "%"},
    {CAVUM_FIGURE_BPK_OVER_EACC, "B_pk/E_acc", "%"},
    {CAVUM_FIGURE_TRANSIT_TIME_FACTOR, "T", "%"},
};
enum { NUM_COLUMNS = sizeof COLUMNS / sizeof *COLUMNS };

static bool has_column(const cavum_result *result, int mode, int c) {
  return result->modes[mode].figures[COLUMNS[c].id].state == CAVUM_FIGURE_PRESENT;
}

// In place of a mode: the rows are those of k_cc.
enum { OF_COUPLING = -1 };

// Change of f, or of k_cc, per unit of a dimension, without sign.
static double weight(const cavum_result *result, int mode, int dimension) {
  cavum_derivative d = mode == OF_COUPLING ? cavum_result_coupling_derivative(result, dimension)
                                           : cavum_result_derivative(result, mode, dimension,
                                                                     CAVUM_FIGURE_FREQUENCY);
  if (d.state != CAVUM_FIGURE_PRESENT) return 0.0;
  return fabs(d.value) * result->dimensions[dimension].unit_si;
}

// The dimension with the next smaller weight, those of equal weight in their order; -1 at the end.
static int next_of(const cavum_result *result, int mode, int last) {
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

// A cell has room for both sides.
enum { CELL_SIZE = 2 * CAVUM_QUANTITY_SIZE + 1 };

static void write_one(char text[CAVUM_QUANTITY_SIZE], const cavum_derivative *of,
                      const cavum_result *result, int mode, int dimension, int c, bool all_digits) {
  const cavum_derivative d = *of;
  snprintf(text, CAVUM_QUANTITY_SIZE, "-");
  double per = result->dimensions[dimension].unit_si;
  double figure = result->modes[mode].figures[COLUMNS[c].id].value;
  bool is_frequency = COLUMNS[c].id == CAVUM_FIGURE_FREQUENCY;
  double scale =
      is_frequency ? cavum_in_mhz(per) : cavum_in_unit(per / fabs(figure), CAVUM_UNIT_PERCENT);
  if (d.state == CAVUM_FIGURE_PRESENT && d.value == 0.0 && d.uncertainty == 0.0) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "0");
  } else if (d.state == CAVUM_FIGURE_PRESENT) {
    cavum_quantity_format_to(text, d.value * scale, d.uncertainty * scale,
                             all_digits ? 0.0 : SHOWN_ACCURACY);
  }
}

static void write_cell(char text[CELL_SIZE], const cavum_result *result, int mode, int dimension,
                       int c, bool all_digits) {
  char grows[CAVUM_QUANTITY_SIZE], shrinks[CAVUM_QUANTITY_SIZE];
  cavum_derivative d = cavum_result_derivative(result, mode, dimension, COLUMNS[c].id);
  const cavum_derivative sides[2] = {
      cavum_result_one_sided_derivative(result, mode, dimension, COLUMNS[c].id, CAVUM_CHANGE_GROWS),
      cavum_result_one_sided_derivative(result, mode, dimension, COLUMNS[c].id,
                                        CAVUM_CHANGE_SHRINKS)};
  if (d.state == CAVUM_FIGURE_PRESENT || sides[0].state != CAVUM_FIGURE_PRESENT) {
    write_one(grows, &d, result, mode, dimension, c, all_digits);
    snprintf(text, CELL_SIZE, "%s", grows);
    return;
  }
  write_one(grows, &sides[0], result, mode, dimension, c, all_digits);
  write_one(shrinks, &sides[1], result, mode, dimension, c, all_digits);
  snprintf(text, CELL_SIZE, "%s|%s", grows, shrinks);
}

static int width_of(const cavum_result *result, int mode, int c, bool all_digits) {
  char text[CELL_SIZE];
  int width = LEAST_CELL_WIDTH;
  for (int i = 0; i < result->num_dimensions; i++) {
    write_cell(text, result, mode, i, c, all_digits);
    if ((int)strlen(text) > width) width = (int)strlen(text);
  }
  return width;
}

// Reasons of what is absent, each once.
static void print_reasons(FILE *out, const cavum_result *result, int mode) {
  const char *told[8];
  int count = 0;
  bool sided = false;
  for (int i = 0; i < result->num_dimensions * NUM_COLUMNS; i++) {
    cavum_derivative d =
        cavum_result_derivative(result, mode, i / NUM_COLUMNS, COLUMNS[i % NUM_COLUMNS].id);
    cavum_derivative side = cavum_result_one_sided_derivative(
        result, mode, i / NUM_COLUMNS, COLUMNS[i % NUM_COLUMNS].id, CAVUM_CHANGE_GROWS);
    bool of_side = d.reason && side.state == CAVUM_FIGURE_PRESENT;
    bool known = !d.reason || of_side;
    if (of_side && !sided) {
      fprintf(out, "  a|b: %s: a where the dimension grows, b where it shrinks\n", d.reason);
    }
    sided = sided || of_side;
    for (int k = 0; k < count && !known; k++) known = strcmp(told[k], d.reason) == 0;
    if (known || count == 8) continue;
    told[count++] = d.reason;
    fprintf(out, "  -: %s\n", d.reason);
  }
}

static void print_rows(FILE *out, const cavum_result *result, int mode, int key_width,
                       const int widths[NUM_COLUMNS], bool all_digits) {
  char text[CELL_SIZE];
  for (int i = next_of(result, mode, -1); i >= 0; i = next_of(result, mode, i)) {
    fprintf(out, "  %-*s", key_width, result->dimensions[i].key);
    for (int c = 0; c < NUM_COLUMNS; c++) {
      if (!has_column(result, mode, c)) continue;
      write_cell(text, result, mode, i, c, all_digits);
      fprintf(out, "  %*s", widths[c], text);
    }
    fputc('\n', out);
  }
}

static void print_mode(FILE *out, const cavum_result *result, int mode, bool all_digits) {
  int widths[NUM_COLUMNS], key_width = 0;
  for (int i = 0; i < result->num_dimensions; i++) {
    int length = (int)strlen(result->dimensions[i].key);
    if (length > key_width) key_width = length;
  }
  for (int c = 0; c < NUM_COLUMNS; c++) widths[c] = width_of(result, mode, c, all_digits);
  fprintf(out, "\n%sChange of mode %d per unit of a dimension, the others fixed%s\n",
          cavum_colour(out, CAVUM_PRINT_HEAD), mode + 1, cavum_colour(out, CAVUM_PRINT_END));
  for (int line = 0; line < 2; line++) {
    fprintf(out, "%s  %-*s", cavum_colour(out, line == 0 ? CAVUM_PRINT_HEAD : CAVUM_PRINT_ASIDE),
            key_width, "");
    for (int c = 0; c < NUM_COLUMNS; c++) {
      if (!has_column(result, mode, c)) continue;
      fprintf(out, "  %*s", widths[c], line == 0 ? COLUMNS[c].head : COLUMNS[c].unit);
    }
    fprintf(out, "%s\n", cavum_colour(out, CAVUM_PRINT_END));
  }
  print_rows(out, result, mode, key_width, widths, all_digits);
  print_reasons(out, result, mode);
}

// Of k_cc, in percent of itself.
static void write_coupling(char text[CAVUM_QUANTITY_SIZE], const cavum_result *result,
                           int dimension, bool all_digits) {
  cavum_derivative d = cavum_result_coupling_derivative(result, dimension);
  double per = result->dimensions[dimension].unit_si / fabs(result->coupling.value);
  double scale = cavum_in_unit(per, CAVUM_UNIT_PERCENT);
  snprintf(text, CAVUM_QUANTITY_SIZE, "%s", d.state == CAVUM_FIGURE_PRESENT ? "0" : "-");
  if (d.state != CAVUM_FIGURE_PRESENT || (d.value == 0.0 && d.uncertainty == 0.0)) return;
  cavum_quantity_format_to(text, d.value * scale, d.uncertainty * scale,
                           all_digits ? 0.0 : SHOWN_ACCURACY);
}

static void print_coupling(FILE *out, const cavum_result *result, bool all_digits) {
  char text[CAVUM_QUANTITY_SIZE];
  int key_width = 0, width = LEAST_CELL_WIDTH;
  for (int i = 0; i < result->num_dimensions; i++) {
    write_coupling(text, result, i, all_digits);
    if ((int)strlen(text) > width) width = (int)strlen(text);
    if ((int)strlen(result->dimensions[i].key) > key_width) {
      key_width = (int)strlen(result->dimensions[i].key);
    }
  }
  fprintf(out, "\n%sChange of k_cc, in %% of k_cc, per unit of a dimension, the others fixed%s\n",
          cavum_colour(out, CAVUM_PRINT_HEAD), cavum_colour(out, CAVUM_PRINT_END));
  fprintf(out, "%s  %-*s  %*s%s\n", cavum_colour(out, CAVUM_PRINT_ASIDE), key_width, "", width, "%",
          cavum_colour(out, CAVUM_PRINT_END));
  for (int i = next_of(result, OF_COUPLING, -1); i >= 0; i = next_of(result, OF_COUPLING, i)) {
    write_coupling(text, result, i, all_digits);
    if (strcmp(text, "0") == 0) continue;
    fprintf(out, "  %-*s  %*s\n", key_width, result->dimensions[i].key, width, text);
  }
}

void cavum_table_derivatives_print(FILE *out, const cavum_result *result, bool all_digits) {
  for (int mode = 0; mode < result->num_modes; mode++) {
    if (result->modes[mode].derivatives) print_mode(out, result, mode, all_digits);
  }
  if (result->coupling_derivatives) print_coupling(out, result, all_digits);
}
