// SPDX-License-Identifier: GPL-3.0-or-later
// Results side by side on one page.
#include "report/compared_results.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/picture.h"
#include "picture/compare_view.h"
#include "report/html.h"

enum { MOST_COLUMNS = CAVUM_REPORT_RESULTS_MOST + 2 };

// A user's words: no symbol is read into them.
static void write_line(cavum_html *html, const char *line) {
  fputs("<p>", html->out);
  cavum_markup_write(html->out, line);
  fputs("</p>\n", html->out);
}

static const char *cell_at(const cavum_report_table *table, int row, int column) {
  size_t at = (size_t)row * ((size_t)table->num_values + 2) + (size_t)column;
  return table->cells + at * (size_t)table->cell_size;
}

static bool has_units(const cavum_report_table *table) {
  for (int i = 0; i < table->num_rows; i++) {
    if (cell_at(table, i, table->num_values + 1)[0]) return true;
  }
  return false;
}

static bool is_number(const char *text) {
  if (*text == '-') text++;
  return *text >= '0' && *text <= '9';
}

static void write_rows(cavum_html *html, const cavum_report_table *table, int num_columns,
                       const char *const *columns) {
  char shown[MOST_COLUMNS][192];
  const char *cells[MOST_COLUMNS];
  for (int i = 0; i < table->num_rows; i++) {
    for (int k = 0; k < num_columns; k++) {
      const char *cell = cell_at(table, i, k);
      bool pretty = k == table->num_values + 1 || (k > 0 && is_number(cell));
      snprintf(shown[k], sizeof shown[k], "%s", strcmp(cell, "-") == 0 ? "\xe2\x80\x93" : cell);
      if (pretty) cavum_html_beautify(shown[k], sizeof shown[k], cell);
      cells[k] = shown[k];
    }
    cavum_html_row(html, num_columns, cells, columns);
  }
}

static void write_table(cavum_html *html, const cavum_report_table *table) {
  char heads[CAVUM_REPORT_RESULTS_MOST][3];
  const char *columns[MOST_COLUMNS] = {""};
  int count = table->num_values, num_columns = count + (has_units(table) ? 2 : 1);
  cavum_html_heading(html, 2, table->id, table->head);
  if (table->num_rows == 0) {
    cavum_html_paragraph(html, "", "None.");
    return;
  }
  columns[0] = table->names;
  for (int k = 0; k < count; k++) {
    snprintf(heads[k], sizeof heads[k], "#%c", 'A' + table->first + k);
    columns[1 + k] = heads[k];
  }
  columns[1 + count] = "unit, remark";
  cavum_html_begin_table(html, table->caption, num_columns, columns);
  write_rows(html, table, num_columns, columns);
  cavum_html_end_table(html);
}

// Half of the curves: a page that has no room for both breaks between them. On paper as wide as the
// page, with letters that can be read.
static cavum_status draw_half(cavum_html *html, const cavum_overlay *overlay, bool wall,
                              cavum_error *error) {
  const cavum_draw_request request = {.view = wall ? CAVUM_VIEW_WALL : CAVUM_VIEW_AXIS,
                                      .kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .size = CAVUM_SIZE_TWO_COLUMNS,
                                      .section_height = 150.0,
                                      .image_scale = 1.0,
                                      .no_heading = true,
                                      .prefix = wall ? "over-wall" : "over"};
  char *svg = NULL;
  size_t size = 0;
  cavum_status status = cavum_overlay_draw(&svg, &size, overlay, &request, error);
  if (status == CAVUM_OK) {
    cavum_html_picture(html, svg,
                       wall ? "Fields along the wall; the arc length counts from the equators."
                            : "Outlines and E_z on the axis; z counts from the equators.");
  }
  free(svg);
  return status;
}

// Outlines and profiles; where they cannot be drawn, why.
static cavum_status write_picture(cavum_html *html, const cavum_report_results *content,
                                  cavum_error *error) {
  enum { NAME_SIZE = 128 };
  char letters[CAVUM_REPORT_RESULTS_MOST][NAME_SIZE];
  const char *names[CAVUM_REPORT_RESULTS_MOST];
  cavum_error why = {0};
  cavum_html_heading(html, 2, "curves", "Over each other");
  if (content->count > CAVUM_PICTURE_FILES_MOST) {
    cavum_html_paragraph(html, "note", "More results than one picture can show.");
    return CAVUM_OK;
  }
  for (int k = 0; k < content->count; k++) {
    // The key stands far from the lines that say which file a letter is.
    const char *path = content->paths[k] ? content->paths[k] : "", *slash = strrchr(path, '/');
    snprintf(letters[k], NAME_SIZE, "%c%s%.120s", 'A' + k, path[0] ? " " : "",
             slash ? slash + 1 : path);
    names[k] = letters[k];
  }
  const cavum_overlay overlay = {content->count, content->results, names, content->modes,
                                 CAVUM_ALIGN_EQUATOR};
  cavum_status status = draw_half(html, &overlay, false, &why);
  if (status == CAVUM_OK) status = draw_half(html, &overlay, true, &why);
  if (status == CAVUM_OK) return CAVUM_OK;
  if (status != CAVUM_ERR_INPUT) {
    if (error) *error = why;
    return status;
  }
  cavum_html_paragraph(html, "note", why.message);
  return CAVUM_OK;
}

cavum_status cavum_report_compared_results(char **bytes, size_t *size,
                                           const cavum_report_results *content,
                                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  CAVUM_TRY(cavum_html_create(&html, "Results compared", error));
  fputs("<header><h1>Results compared</h1></header>\n", html.out);
  for (int k = 0; k < content->count; k++) write_line(&html, content->lines[k]);
  for (int i = 0; i < content->num_tables; i++) write_table(&html, &content->tables[i]);
  for (int i = 0; i < content->num_notes; i++) {
    cavum_html_paragraph(&html, "note", content->notes[i]);
  }
  if (content->results[0]) CAVUM_TRY(write_picture(&html, content, error));
  cavum_html_heading(&html, 2, "input", "Input");
  for (int k = 0; k < content->count; k++) {
    write_line(&html, content->lines[k]);
    if (content->cell_texts[k]) cavum_html_code(&html, content->cell_texts[k]);
  }
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  cavum_html_clear(&html);
  return status;
}
