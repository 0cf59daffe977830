// SPDX-License-Identifier: GPL-3.0-or-later
// Texts first, then the widths they need, then lines.
#include "cli/table_modes.h"

#include <string.h>

#include "cli/colour.h"
#include "format/quantity.h"

typedef struct column {
  cavum_figure_id id;
  const char *head;
} column;

static const column COLUMNS[] = {
    {CAVUM_FIGURE_FREQUENCY, "f"},
    {CAVUM_FIGURE_R_OVER_Q_LINAC, "R/Q, linac"},
    {CAVUM_FIGURE_GEOMETRY_FACTOR, "G"},
    {CAVUM_FIGURE_EPK_OVER_EACC, "E_pk/E_acc"},
    {CAVUM_FIGURE_BPK_OVER_EACC, "B_pk/E_acc"},
};
enum { NUM_COLUMNS = sizeof COLUMNS / sizeof *COLUMNS, LABEL_SIZE = 40 };

bool cavum_table_modes_shows(cavum_figure_id id) {
  for (int c = 0; c < NUM_COLUMNS; c++) {
    if (COLUMNS[c].id == id) return true;
  }
  return false;
}

static void write_label(char text[LABEL_SIZE], const cavum_result *result, int m) {
  const char *label = result->modes[m].label;
  snprintf(text, LABEL_SIZE, "%d  %.20s", m + 1, label[0] ? label : "-");
}

static const char *unit_of(int c) { return cavum_quantity_unit_of(COLUMNS[c].id, 1.0).name; }

static void write_cell(char text[CAVUM_QUANTITY_SIZE], const cavum_result *result, int m, int c,
                       const double accuracies[2]) {
  cavum_figure_id id = COLUMNS[c].id;
  const cavum_figure *figure = &result->modes[m].figures[id];
  cavum_unit unit = cavum_quantity_unit_of(id, 1.0).conversion;
  if (figure->state == CAVUM_FIGURE_PRESENT) {
    cavum_quantity_format_to(text, cavum_in_unit(figure->value, unit),
                             cavum_in_unit(figure->uncertainty, unit),
                             accuracies[id == CAVUM_FIGURE_FREQUENCY ? 0 : 1]);
  } else {
    snprintf(text, CAVUM_QUANTITY_SIZE, "%s",
             figure->state == CAVUM_FIGURE_UNBOUNDED ? "unbounded" : "-");
  }
}

static int larger(int a, int b) { return a > b ? a : b; }

// 0 for a column that no mode has.
static int width_of(const cavum_result *result, int c, const double accuracies[2]) {
  char text[CAVUM_QUANTITY_SIZE];
  int width = 0;
  for (int m = 0; m < result->num_modes; m++) {
    if (result->modes[m].figures[COLUMNS[c].id].state == CAVUM_FIGURE_ABSENT) continue;
    write_cell(text, result, m, c, accuracies);
    width = larger(width, (int)strlen(text));
  }
  return width == 0 ? 0
                    : larger(width, larger((int)strlen(COLUMNS[c].head), (int)strlen(unit_of(c))));
}

static void print_line(FILE *out, int first_width, const char *first, const int widths[NUM_COLUMNS],
                       const char *const texts[NUM_COLUMNS]) {
  char line[512];
  int used = snprintf(line, sizeof line, "%-*s", first_width, first);
  for (int c = 0; c < NUM_COLUMNS; c++) {
    if (widths[c] == 0) continue;
    used += snprintf(line + used, sizeof line - (size_t)used, "  %*s", widths[c], texts[c]);
  }
  while (used > 0 && line[used - 1] == ' ') used--;
  fprintf(out, "%.*s", used, line);
}

static void print_head(FILE *out, int first_width, const int widths[NUM_COLUMNS]) {
  const char *heads[NUM_COLUMNS], *units[NUM_COLUMNS];
  for (int c = 0; c < NUM_COLUMNS; c++) {
    heads[c] = COLUMNS[c].head;
    units[c] = unit_of(c);
  }
  fputs(cavum_colour(out, CAVUM_PRINT_HEAD), out);
  print_line(out, first_width, "mode", widths, heads);
  fprintf(out, "%s\n%s", cavum_colour(out, CAVUM_PRINT_END), cavum_colour(out, CAVUM_PRINT_ASIDE));
  print_line(out, first_width, "", widths, units);
  fprintf(out, "%s\n", cavum_colour(out, CAVUM_PRINT_END));
}

void cavum_table_modes_print(FILE *out, const cavum_result *result, const double accuracies[2]) {
  int widths[NUM_COLUMNS], first_width = (int)strlen("mode");
  char label[LABEL_SIZE], texts[NUM_COLUMNS][CAVUM_QUANTITY_SIZE];
  const char *cells[NUM_COLUMNS];
  for (int c = 0; c < NUM_COLUMNS; c++) widths[c] = width_of(result, c, accuracies);
  for (int m = 0; m < result->num_modes; m++) {
    write_label(label, result, m);
    first_width = larger(first_width, (int)strlen(label));
  }
  print_head(out, first_width, widths);
  for (int m = 0; m < result->num_modes; m++) {
    for (int c = 0; c < NUM_COLUMNS; c++) {
      write_cell(texts[c], result, m, c, accuracies);
      cells[c] = texts[c];
    }
    write_label(label, result, m);
    print_line(out, first_width, label, widths, cells);
    if (!result->modes[m].accuracy_reached) {
      fprintf(out, "  %sACCURACY NOT REACHED%s", cavum_colour(out, CAVUM_PRINT_BAD),
              cavum_colour(out, CAVUM_PRINT_END));
    }
    fputc('\n', out);
  }
}
