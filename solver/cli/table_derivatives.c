// SPDX-License-Identifier: GPL-3.0-or-later
// One row a dimension, one column a figure.
#include "cli/table_derivatives.h"

#include <string.h>

#include "cli/colour.h"
#include "format/derivative_text.h"

enum { LEAST_CELL_WIDTH = 10 };

// What is printed of one mode.
typedef struct mode_table {
  const cavum_result *result;
  int mode, num_columns, key_width;
  cavum_derivative_column columns[CAVUM_DERIVATIVE_COLUMNS];
  int widths[CAVUM_DERIVATIVE_COLUMNS];
  bool all_digits;
} mode_table;

static int longer(int width, const char *text) {
  int length = (int)strlen(text);
  return length > width ? length : width;
}

static int find_key_width(const cavum_result *result) {
  int width = 0;
  for (int i = 0; i < result->num_dimensions; i++) width = longer(width, result->dimensions[i].key);
  return width;
}

static mode_table make_table(const cavum_result *result, int mode, bool all_digits) {
  mode_table t = {.result = result, .mode = mode, .all_digits = all_digits};
  char text[CAVUM_DERIVATIVE_TEXT_SIZE];
  t.key_width = find_key_width(result);
  t.num_columns = cavum_derivative_find_columns(t.columns, result, mode);
  for (int c = 0; c < t.num_columns; c++) {
    t.widths[c] = LEAST_CELL_WIDTH;
    for (int i = 0; i < result->num_dimensions; i++) {
      cavum_derivative_write(text, result, mode, i, t.columns[c].id, all_digits);
      t.widths[c] = longer(t.widths[c], text);
    }
  }
  return t;
}

// What stands in place of numbers, each once.
static void print_reasons(FILE *out, const mode_table *t) {
  cavum_derivative_reasons reasons = cavum_derivative_find_reasons(t->result, t->mode);
  if (reasons.two_sided) {
    fprintf(out, "  a|b: %s: a where the dimension grows, b where it shrinks\n", reasons.two_sided);
  }
  for (int k = 0; k < reasons.count; k++) fprintf(out, "  -: %s\n", reasons.absent[k]);
}

static void print_rows(FILE *out, const mode_table *t) {
  char text[CAVUM_DERIVATIVE_TEXT_SIZE];
  for (int i = cavum_derivative_next_row(t->result, t->mode, -1); i >= 0;
       i = cavum_derivative_next_row(t->result, t->mode, i)) {
    fprintf(out, "  %-*s", t->key_width, t->result->dimensions[i].key);
    for (int c = 0; c < t->num_columns; c++) {
      cavum_derivative_write(text, t->result, t->mode, i, t->columns[c].id, t->all_digits);
      fprintf(out, "  %*s", t->widths[c], text);
    }
    fputc('\n', out);
  }
}

static void print_mode(FILE *out, const cavum_result *result, int mode, bool all_digits) {
  mode_table t = make_table(result, mode, all_digits);
  fprintf(out, "\n%sChange of mode %d per unit of a dimension, the others fixed%s\n",
          cavum_colour(out, CAVUM_PRINT_HEAD), mode + 1, cavum_colour(out, CAVUM_PRINT_END));
  for (int line = 0; line < 2; line++) {
    fprintf(out, "%s  %-*s", cavum_colour(out, line == 0 ? CAVUM_PRINT_HEAD : CAVUM_PRINT_ASIDE),
            t.key_width, "");
    for (int c = 0; c < t.num_columns; c++) {
      fprintf(out, "  %*s", t.widths[c], line == 0 ? t.columns[c].head : t.columns[c].unit);
    }
    fprintf(out, "%s\n", cavum_colour(out, CAVUM_PRINT_END));
  }
  print_rows(out, &t);
  print_reasons(out, &t);
}

static void print_coupling(FILE *out, const cavum_result *result, bool all_digits) {
  char text[CAVUM_QUANTITY_SIZE];
  int key_width = find_key_width(result), width = LEAST_CELL_WIDTH;
  for (int i = 0; i < result->num_dimensions; i++) {
    cavum_derivative_write_coupling(text, result, i, all_digits);
    width = longer(width, text);
  }
  fprintf(out, "\n%sChange of k_cc, in %% of k_cc, per unit of a dimension, the others fixed%s\n",
          cavum_colour(out, CAVUM_PRINT_HEAD), cavum_colour(out, CAVUM_PRINT_END));
  fprintf(out, "%s  %-*s  %*s%s\n", cavum_colour(out, CAVUM_PRINT_ASIDE), key_width, "", width, "%",
          cavum_colour(out, CAVUM_PRINT_END));
  const int of = CAVUM_DERIVATIVE_OF_COUPLING;
  for (int i = cavum_derivative_next_row(result, of, -1); i >= 0;
       i = cavum_derivative_next_row(result, of, i)) {
    cavum_derivative_write_coupling(text, result, i, all_digits);
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
