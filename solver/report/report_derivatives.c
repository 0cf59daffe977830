// SPDX-License-Identifier: GPL-3.0-or-later
// What each dimension does to the figures of a mode, and to the coupling, as tables of a report.
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "format/derivative_text.h"
#include "format/key_words.h"
#include "report/report_private.h"

// The dimension in words and the unit per which a row is.
static void name_row(char words[CAVUM_CELL_KEY_SIZE], char per[24],
                     const cavum_dimension *dimension) {
  bool pure = strcmp(dimension->unit, "1") == 0;
  cavum_key_words(words, CAVUM_CELL_KEY_SIZE, dimension->key);
  cavum_html_beautify(per, 24, pure ? "1" : dimension->unit);
}

static void write_row(cavum_html *html, const cavum_result *result, int mode, int dimension,
                      int num_figures, const cavum_derivative_column *figures,
                      const char *const *columns) {
  char words[CAVUM_CELL_KEY_SIZE], per[24], text[CAVUM_DERIVATIVE_TEXT_SIZE];
  char shown[CAVUM_DERIVATIVE_COLUMNS][2 * CAVUM_DERIVATIVE_TEXT_SIZE];
  const char *cells[2 + CAVUM_DERIVATIVE_COLUMNS] = {words, per};
  name_row(words, per, &result->dimensions[dimension]);
  for (int c = 0; c < num_figures; c++) {
    cavum_derivative_write(text, result, mode, dimension, figures[c].id, false);
    cavum_html_beautify(shown[c], sizeof shown[c], strcmp(text, "-") == 0 ? "\xe2\x80\x93" : text);
    cells[2 + c] = shown[c];
  }
  cavum_html_row(html, 2 + num_figures, cells, columns);
}

static void write_reasons(cavum_html *html, const cavum_result *result, int mode) {
  char text[320];
  cavum_derivative_reasons reasons = cavum_derivative_find_reasons(result, mode);
  if (reasons.two_sided) {
    snprintf(text, sizeof text, "a|b: %s: a where the dimension grows, b where it shrinks.",
             reasons.two_sided);
    cavum_html_paragraph(html, "note", text);
  }
  for (int k = 0; k < reasons.count; k++) {
    snprintf(text, sizeof text, "\xe2\x80\x93: there is none, %s.", reasons.absent[k]);
    cavum_html_paragraph(html, "note", text);
  }
}

void cavum_report_write_derivatives(cavum_html *html, const cavum_result *result, int mode) {
  cavum_derivative_column figures[CAVUM_DERIVATIVE_COLUMNS];
  char heads[CAVUM_DERIVATIVE_COLUMNS][32], id[40];
  const char *columns[2 + CAVUM_DERIVATIVE_COLUMNS] = {"dimension", "per"};
  if (!result->modes[mode].derivatives || result->num_dimensions == 0) return;
  int count = cavum_derivative_find_columns(figures, result, mode);
  for (int c = 0; c < count; c++) {
    snprintf(heads[c], sizeof heads[c], "#%s in %s", figures[c].head, figures[c].unit);
    columns[2 + c] = heads[c];
  }
  snprintf(id, sizeof id, "mode-%d-derivatives", mode + 1);
  cavum_html_heading(html, 3, id, "What each dimension does");
  cavum_html_begin_table(html,
                         "Change per unit of a dimension, the others fixed, with its numerical "
                         "uncertainty; of all but f in percent of the figure",
                         2 + count, columns);
  for (int i = cavum_derivative_next_row(result, mode, -1); i >= 0;
       i = cavum_derivative_next_row(result, mode, i)) {
    write_row(html, result, mode, i, count, figures, columns);
  }
  cavum_html_end_table(html);
  write_reasons(html, result, mode);
}

void cavum_report_write_coupling_derivatives(cavum_html *html, const cavum_result *result) {
  static const char *const columns[] = {"dimension", "per", "#k_cc in %"};
  const int of = CAVUM_DERIVATIVE_OF_COUPLING;
  if (!result->coupling_derivatives || result->num_dimensions == 0) return;
  cavum_html_begin_table(html,
                         "Change of k_cc per unit of a dimension, the others fixed, in percent of "
                         "k_cc, with its numerical uncertainty",
                         3, columns);
  for (int i = cavum_derivative_next_row(result, of, -1); i >= 0;
       i = cavum_derivative_next_row(result, of, i)) {
    char words[CAVUM_CELL_KEY_SIZE], per[24], text[CAVUM_QUANTITY_SIZE],
        shown[2 * CAVUM_QUANTITY_SIZE];
    cavum_derivative_write_coupling(text, result, i, false);
    if (strcmp(text, "0") == 0) continue;
    name_row(words, per, &result->dimensions[i]);
    cavum_html_beautify(shown, sizeof shown, strcmp(text, "-") == 0 ? "\xe2\x80\x93" : text);
    const char *cells[] = {words, per, shown};
    cavum_html_row(html, 3, cells, columns);
  }
  cavum_html_end_table(html);
}
