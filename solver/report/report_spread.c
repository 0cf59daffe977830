// SPDX-License-Identifier: GPL-3.0-or-later
// The report of a spread by tolerances: figures, contributions as bars and in numbers, tolerances
// that keep a band.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "format/quantity.h"
#include "format/shape_unit.h"
#include "format/spread_text.h"
#include "picture/spread_view.h"
#include "report/report_private.h"

#define DASH "\xe2\x80\x93"

enum { REMARK_SIZE = 2 * CAVUM_SPREAD_TEXT_SIZE + 32 };
enum { MOST_COLUMNS = CAVUM_SPREAD_BAR_FIGURES + 1 };

static void write_number(char text[96], const char *form, double value) {
  char number[64] = DASH;
  if (isfinite(value)) snprintf(number, sizeof number, form, value);
  // What is rounded to nothing has no sign.
  bool nothing = number[0] == '-' && strtod(number, NULL) == 0.0;
  cavum_html_beautify(text, 96, nothing ? number + 1 : number);
}

static void write_head(cavum_html *html, const cavum_stored_spread *stored) {
  const cavum_spread *s = stored->spread;
  char text[256], of[64] = "", sampled[64] = "", failed[96] = "", trust[CAVUM_SPREAD_TEXT_SIZE];
  fputs("<header><h1>", html->out);
  cavum_markup_write(html->out, stored->title[0] ? stored->title : "Cell");
  fputs("</h1>\n<p class=\"lead\">Spread of the figures by the tolerances of the dimensions.</p>\n",
        html->out);
  if (s->label[0]) snprintf(of, sizeof of, "Mode %s. ", s->label);
  if (s->num_samples > 0) {
    snprintf(sampled, sizeof sampled, " %d were solved for the sampled one.", s->num_samples);
  }
  if (s->num_failed > 0) {
    snprintf(failed, sizeof failed, " %d of them had no shape or no solution.", s->num_failed);
  }
  snprintf(text, sizeof text, "%sThe linear spread was checked with %d random shapes.%s%s", of,
           s->num_pilot, sampled, failed);
  cavum_html_paragraph(html, "", text);
  cavum_spread_write_trust(trust, s);
  if (trust[0]) cavum_html_paragraph(html, "", trust);
  fputs(
      "</header>\n<nav aria-label=\"Contents\"><ul>\n"
      "<li><a href=\"#spread\">Spread</a></li>\n<li><a href=\"#parts\">Contributions</a></li>\n",
      html->out);
  if (stored->num_bands > 0) {
    fputs("<li><a href=\"#bands\">Tolerances for a band</a></li>\n", html->out);
  }
  fputs("<li><a href=\"#tolerances\">Tolerances</a></li>\n</ul></nav>\n", html->out);
}

/** A figure of a mode or of the shape. */
typedef struct spread_row {
  const cavum_figure_spread *f;
  const cavum_spread *spread;
  const char *name, *unit;
  double unit_si;
} spread_row;

static void write_remark(char text[REMARK_SIZE], const cavum_figure_spread *f,
                         const cavum_spread *spread) {
  char why[CAVUM_SPREAD_TEXT_SIZE];
  cavum_spread_write_why_curved(why, f, spread);
  const char *plain = f->has_linear ? "" : "no linear spread";
  const char *lead = f->has_linear && why[0] ? "linear does not hold: " : plain;
  const char *join = !f->has_linear && why[0] ? "; " : "";
  snprintf(text, REMARK_SIZE, "%s%s%s", lead, join, why);
}

// Columns of the table of figures; those of samples only where there are any.
static const char *const FIGURE_COLUMNS[] = {"figure",
                                             "#value",
                                             "unit",
                                             "#standard deviation, linear",
                                             "#standard deviation, sampled",
                                             "#2.5 % below",
                                             "#2.5 % above",
                                             "remark"};
enum { NUM_FIGURE_COLUMNS = 8, FIRST_SAMPLED = 4, NUM_SAMPLED = 3 };

// The cells of a row that are shown; their number is returned.
static int choose_columns(const char *shown[NUM_FIGURE_COLUMNS], const char *const *all,
                          bool sampled) {
  int count = 0;
  for (int i = 0; i < NUM_FIGURE_COLUMNS; i++) {
    bool of_samples = i >= FIRST_SAMPLED && i < FIRST_SAMPLED + NUM_SAMPLED;
    if (sampled || !of_samples) shown[count++] = all[i];
  }
  return count;
}

static void write_row(cavum_html *html, const spread_row *of, bool sampled) {
  const cavum_figure_spread *f = of->f;
  double one = of->unit_si;
  char cells[6][96], remark[REMARK_SIZE], number[CAVUM_SPREAD_VALUE_SIZE];
  if (f->state != CAVUM_FIGURE_PRESENT) return;
  cavum_spread_write_value(number, f->value / one, f->has_linear ? f->deviation / one : NAN);
  cavum_html_beautify(cells[0], sizeof cells[0], number);
  write_number(cells[1], "%.4g", f->has_linear ? f->deviation / one : NAN);
  write_number(cells[2], "%.4g", f->sampled_deviation / one);
  write_number(cells[3], "%.4g", (f->sampled_low - f->value) / one);
  write_number(cells[4], "%.4g", (f->sampled_high - f->value) / one);
  snprintf(cells[5], sizeof cells[5], "%s", "");
  if (of->unit[0]) cavum_html_beautify(cells[5], 96, of->unit);
  write_remark(remark, f, of->spread);
  const char *row[NUM_FIGURE_COLUMNS] = {of->name, cells[0], cells[5], cells[1],
                                         cells[2], cells[3], cells[4], remark};
  const char *shown[NUM_FIGURE_COLUMNS], *columns[NUM_FIGURE_COLUMNS];
  (void)choose_columns(columns, FIGURE_COLUMNS, sampled);
  cavum_html_row(html, choose_columns(shown, row, sampled), shown, columns);
}

static void write_figures(cavum_html *html, const cavum_spread *s) {
  bool sampled = s->num_samples > 0;
  const char *columns[NUM_FIGURE_COLUMNS];
  int count = choose_columns(columns, FIGURE_COLUMNS, sampled);
  cavum_html_heading(html, 2, "spread", "Spread of the figures");
  cavum_html_begin_table(html,
                         sampled ? "Standard deviations, and between which limits 95 % of the "
                                   "random shapes are, as differences from the value"
                                 : "Standard deviations",
                         count, columns);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *f = &s->figures[id];
    cavum_quantity_unit unit = cavum_quantity_unit_to_fit((cavum_figure_id)id, f->value);
    const spread_row row = {f, s, cavum_figure_describe((cavum_figure_id)id).long_name, unit.name,
                            cavum_from_unit(1.0, unit.conversion)};
    write_row(html, &row, sampled);
  }
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
    const spread_row row = {&s->shape[id], s,
                            cavum_geometry_describe((cavum_geometry_id)id).long_name, unit.name,
                            unit.unit_si};
    write_row(html, &row, sampled);
  }
  cavum_html_end_table(html);
}

// What no dimension makes by itself, where any figure has sampled parts.
static void write_together(cavum_html *html, const cavum_spread *s, const int *shown, int count,
                           const char *const *columns) {
  char cells[MOST_COLUMNS][96];
  const char *row[MOST_COLUMNS] = {CAVUM_SPREAD_TOGETHER};
  bool any = false;
  for (int i = 0; i < count; i++) {
    const cavum_figure_spread *f = &s->figures[cavum_spread_bar_figure_at(shown[i]).id];
    write_number(cells[i], "%.1f", cavum_in_unit(f->share_together, CAVUM_UNIT_PERCENT));
    row[i + 1] = cells[i];
    any = any || (s->num_dimensions > 1 && f->has_sampled_shares);
  }
  if (any) cavum_html_row(html, count + 1, row, columns);
}

static cavum_status write_parts(cavum_html *html, const cavum_stored_spread *stored,
                                cavum_error *error) {
  static const char *const heads[CAVUM_SPREAD_BAR_FIGURES] = {
      "#f in %", "#R/Q in %", "#G in %", "#E_pk/E_acc in %", "#B_pk/E_acc in %"};
  const cavum_spread *s = stored->spread;
  const cavum_draw_request request = {
      .kind = CAVUM_CANVAS_SVG_FRAGMENT, .image_scale = 1.0, .no_heading = true, .prefix = "parts"};
  const char *columns[MOST_COLUMNS] = {"dimension"};
  int order[CAVUM_TOLERANCES_MOST], shown[CAVUM_SPREAD_BAR_FIGURES], count = 0;
  char *svg = NULL;
  size_t size = 0;
  for (int i = 0; i < CAVUM_SPREAD_BAR_FIGURES; i++) {
    if (!s->figures[cavum_spread_bar_figure_at(i).id].has_shares) continue;
    shown[count++] = i;
    columns[count] = heads[i];
  }
  if (count == 0) return CAVUM_OK;
  cavum_html_heading(html, 2, "parts", "Contributions");
  cavum_status status = cavum_spread_view_draw(&svg, &size, stored, &request, error);
  if (status != CAVUM_OK) return status;
  cavum_html_picture(html, svg, "Parts of the dimensions in the variance of each figure.");
  free(svg);
  cavum_spread_rank(order, s);
  cavum_html_begin_table(html,
                         "Parts in the variance, those first that do most to the first figure",
                         count + 1, columns);
  for (int j = 0; j < s->num_dimensions; j++) {
    char cells[MOST_COLUMNS][96];
    char words[CAVUM_REPORT_NAME_SIZE];
    cavum_report_name_dimension(words, s->tolerances[order[j]].key, false);
    const char *row[MOST_COLUMNS] = {words};
    for (int i = 0; i < count; i++) {
      double share = s->figures[cavum_spread_bar_figure_at(shown[i]).id].share[order[j]];
      write_number(cells[i], "%.1f", cavum_in_unit(share, CAVUM_UNIT_PERCENT));
      row[i + 1] = cells[i];
    }
    cavum_html_row(html, count + 1, row, columns);
  }
  write_together(html, s, shown, count, columns);
  cavum_html_end_table(html);
  for (int i = 0; i < count; i++) {
    char sentence[CAVUM_SPREAD_TEXT_SIZE];
    cavum_figure_id id = cavum_spread_bar_figure_at(shown[i]).id;
    cavum_spread_write_shares(sentence, cavum_figure_describe(id).long_name, &s->figures[id]);
    if (sentence[0]) cavum_html_paragraph(html, "", sentence);
  }
  char list[CAVUM_SPREAD_LIST_SIZE];
  cavum_spread_write_correlations(list, s);
  if (list[0]) cavum_html_paragraph(html, "", CAVUM_SPREAD_CORRELATED_SHARES);
  return CAVUM_OK;
}

static void write_band(cavum_html *html, const cavum_spread *s, const cavum_spread_band *band) {
  static const char *const columns[] = {"dimension", "#as stated", "#equal shares", "#alone"};
  double alone[CAVUM_TOLERANCES_MOST], shared[CAVUM_TOLERANCES_MOST], factor = NAN;
  cavum_quantity_unit unit = cavum_quantity_unit_of(band->figure, band->band);
  char text[256];
  bool known = cavum_spread_allow(alone, shared, &factor, s, band->figure, band->band);
  snprintf(text, sizeof text,
           "Tolerances that keep two standard deviations of the %s within \xc2\xb1 %.9g %s",
           cavum_figure_describe(band->figure).long_name,
           cavum_in_unit(band->band, unit.conversion), unit.name);
  cavum_html_begin_table(html, text, 4, columns);
  for (int j = 0; j < s->num_dimensions && known; j++) {
    char cells[3][96];
    write_number(cells[0], "%.4g", s->tolerances[j].width);
    write_number(cells[1], "%.4g", shared[j]);
    write_number(cells[2], "%.4g", alone[j]);
    char words[CAVUM_REPORT_NAME_SIZE];
    cavum_report_name_dimension(words, s->tolerances[j].key, true);
    const char *row[] = {words, cells[0], cells[1], cells[2]};
    cavum_html_row(html, 4, row, columns);
  }
  cavum_html_end_table(html);
  if (known) {
    snprintf(text, sizeof text, "All stated tolerances together may be %.3g times as wide.",
             factor);
  } else {
    snprintf(text, sizeof text, "Unknown: this figure has no linear spread.");
  }
  cavum_html_paragraph(html, "", text);
  char caution[CAVUM_SPREAD_TEXT_SIZE];
  cavum_spread_write_band_caution(caution, &s->figures[band->figure], s);
  if (caution[0]) cavum_html_paragraph(html, "", caution);
}

static void write_tolerances(cavum_html *html, const cavum_spread *s) {
  static const char *const columns[] = {"dimension", "#value", "#tolerance", "unit", "kind"};
  cavum_html_heading(html, 2, "tolerances", "Tolerances");
  cavum_html_begin_table(html, "As they were stated", 5, columns);
  for (int j = 0; j < s->num_dimensions; j++) {
    const cavum_tolerance *t = &s->tolerances[j];
    char cells[2][96];
    write_number(cells[0], "%.9g", s->dimensions[j].value);
    write_number(cells[1], "%.6g", t->width);
    char words[CAVUM_REPORT_NAME_SIZE];
    cavum_report_name_dimension(words, t->key, false);
    const char *row[] = {
        words, cells[0], cells[1], s->dimensions[j].unit,
        t->kind == CAVUM_TOLERANCE_NORMAL ? "standard deviation" : "to either side, uniform"};
    cavum_html_row(html, 5, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_correlations(cavum_html *html, const cavum_spread *s) {
  static const char *const columns[] = {"dimension", "with", "#correlation"};
  char list[CAVUM_SPREAD_LIST_SIZE];
  cavum_spread_write_correlations(list, s);
  if (!list[0]) return;
  cavum_html_begin_table(html, "Correlated dimensions", 3, columns);
  for (int i = 0; i < s->num_dimensions; i++) {
    for (int k = i + 1; k < s->num_dimensions; k++) {
      char one[CAVUM_REPORT_NAME_SIZE], other[CAVUM_REPORT_NAME_SIZE], number[96];
      double correlation = cavum_spread_correlation(s, i, k);
      if (correlation == 0.0) continue;
      cavum_report_name_dimension(one, s->tolerances[i].key, false);
      cavum_report_name_dimension(other, s->tolerances[k].key, false);
      write_number(number, "%.4g", correlation);
      const char *row[] = {one, other, number};
      cavum_html_row(html, 3, row, columns);
    }
  }
  cavum_html_end_table(html);
}

cavum_status cavum_report_spread_file(char **bytes, size_t *size, const char *path,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  cavum_stored_spread stored = {0};
  CAVUM_TRY(cavum_stored_spread_read(&stored, path, error));
  CAVUM_TRY(cavum_html_create(&html, stored.title[0] ? stored.title : "Tolerances", error));
  write_head(&html, &stored);
  write_figures(&html, stored.spread);
  CAVUM_TRY(write_parts(&html, &stored, error));
  if (stored.num_bands > 0) cavum_html_heading(&html, 2, "bands", "Tolerances for a band");
  for (int i = 0; i < stored.num_bands; i++) write_band(&html, stored.spread, &stored.bands[i]);
  write_tolerances(&html, stored.spread);
  write_correlations(&html, stored.spread);
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  cavum_html_clear(&html);
  cavum_stored_spread_clear(&stored);
  return status;
}
