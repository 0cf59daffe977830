// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a comparison, for the screen.
#include "cli/compare_table.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cli/colour.h"

enum { NAME_WIDTH = 36, VALUE_WIDTH = 16, FIRST_CAPACITY = 32 };

cavum_status cavum_compare_table_add(cavum_compare_cell **row, cavum_compare_table *table,
                                     cavum_error *error) {
  size_t cells = (size_t)table->num_values + 2;
  if (table->num_rows == table->capacity) {
    int capacity = table->capacity > 0 ? 2 * table->capacity : FIRST_CAPACITY;
    cavum_compare_cell *more = cavum_alloc(capacity, cells * sizeof *more);
    if (!more) return cavum_fail_memory(error);
    if (table->num_rows > 0) {
      memcpy(more, table->cells, (size_t)table->num_rows * cells * sizeof *more);
    }
    free(table->cells);
    table->cells = more;
    table->capacity = capacity;
  }
  *row = table->cells + (size_t)table->num_rows++ * cells;
  return CAVUM_OK;
}

void cavum_compare_table_join(cavum_compare_cell *row, const cavum_compare_table *table) {
  for (int k = 1; k < table->num_values; k++) {
    if (strcmp(row[1 + k], row[1]) != 0) return;
  }
  for (int k = 1; k < table->num_values; k++) snprintf(row[1 + k], sizeof row[0], "same");
}

// All columns are as wide as the widest value.
static int width_of(const cavum_compare_table *table) {
  int width = VALUE_WIDTH;
  for (int i = 0; i < table->num_rows; i++) {
    for (int k = 1; k <= table->num_values; k++) {
      int length = (int)strlen(table->cells[i * (table->num_values + 2) + k]);
      if (length > width) width = length;
    }
  }
  return width;
}

void cavum_compare_table_print(FILE *out, const cavum_compare_table *table, const char *empty) {
  int count = table->num_values;
  int width = width_of(table);
  fprintf(out, "%s%-*s", cavum_colour(out, CAVUM_PRINT_HEAD), NAME_WIDTH + 2, table->head);
  for (int k = 0; k < count; k++) fprintf(out, "  %*c", width, 'A' + table->first + k);
  fprintf(out, "%s\n", cavum_colour(out, CAVUM_PRINT_END));
  if (table->num_rows == 0) fprintf(out, "  %s\n", empty);
  for (int i = 0; i < table->num_rows; i++) {
    const cavum_compare_cell *row = table->cells + (size_t)i * ((size_t)count + 2);
    fprintf(out, "  %-*s", NAME_WIDTH, row[0]);
    for (int k = 0; k < count; k++) fprintf(out, "  %*s", width, row[1 + k]);
    fprintf(out, "%s%s\n", row[count + 1][0] ? "  " : "", row[count + 1]);
  }
}

void cavum_compare_table_clear(cavum_compare_table *table) {
  free(table->cells);
  table->cells = NULL;
  table->num_rows = table->capacity = 0;
}
