// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a spread: figures, contributions, allowances.
#include "cli/table_spread.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "format/quantity.h"
#include "format/shape_unit.h"
#include "format/spread_text.h"

enum { REMARK_SIZE = 2 * CAVUM_SPREAD_TEXT_SIZE + 32 };
enum { NAME_WIDTH = 38, KEY_WIDTH = 34, VALUE_WIDTH = 14, SHARE_WIDTH = 13 };

typedef struct column {
  cavum_figure_id id;
  const char *head;
} column;

static const column COLUMNS[] = {{CAVUM_FIGURE_FREQUENCY, "f"},
                                 {CAVUM_FIGURE_R_OVER_Q_LINAC, "R/Q"},
                                 {CAVUM_FIGURE_GEOMETRY_FACTOR, "G"},
                                 {CAVUM_FIGURE_EPK_OVER_EACC, "E_pk/E_acc"},
                                 {CAVUM_FIGURE_BPK_OVER_EACC, "B_pk/E_acc"}};
enum { NUM_COLUMNS = sizeof COLUMNS / sizeof *COLUMNS };

static void print_tolerances(FILE *out, const cavum_spread *spread) {
  fprintf(out, "\n%-*s %*s %*s\n", KEY_WIDTH + 2, "Tolerance", VALUE_WIDTH, "value", VALUE_WIDTH,
          "width");
  for (int j = 0; j < spread->num_dimensions; j++) {
    const cavum_tolerance *t = &spread->tolerances[j];
    fprintf(out, "  %-*s %*.9g %*.6g %s\n", KEY_WIDTH, t->key, VALUE_WIDTH,
            spread->dimensions[j].value, VALUE_WIDTH, t->width,
            t->kind == CAVUM_TOLERANCE_NORMAL ? "standard deviation" : "to either side, uniform");
  }
  char list[CAVUM_SPREAD_LIST_SIZE];
  cavum_spread_write_correlations(list, spread);
  if (list[0]) fprintf(out, "  correlated: %s\n", list);
}

static void print_number(FILE *out, double value) {
  char text[32] = "-";
  if (isfinite(value)) snprintf(text, sizeof text, "%.4g", value);
  fprintf(out, " %*s", VALUE_WIDTH, text);
}

static void write_remark(char text[REMARK_SIZE], const cavum_figure_spread *f,
                         const cavum_spread *spread) {
  char why[CAVUM_SPREAD_TEXT_SIZE];
  cavum_spread_write_why_curved(why, f, spread);
  const char *plain = f->has_linear ? "" : f->reason ? f->reason : "not differentiated";
  const char *lead = f->has_linear && why[0] ? "LINEAR DOES NOT HOLD: " : plain;
  const char *join = !f->has_linear && plain[0] && why[0] ? "; " : "";
  snprintf(text, REMARK_SIZE, "%s%s%s", lead, join, why);
}

/** A figure of a mode or of the shape, for a row. */
typedef struct spread_row {
  const cavum_figure_spread *f;
  const cavum_spread *spread;
  const char *name, *unit;
  double unit_si;
} spread_row;

static void print_row(FILE *out, const spread_row *row, bool sampled) {
  const cavum_figure_spread *f = row->f;
  char remark[REMARK_SIZE], value[CAVUM_SPREAD_VALUE_SIZE];
  write_remark(remark, f, row->spread);
  fprintf(out, "  %-*s", NAME_WIDTH, row->name);
  cavum_spread_write_value(value, f->value / row->unit_si,
                           f->has_linear ? f->deviation / row->unit_si : NAN);
  fprintf(out, " %*s", VALUE_WIDTH, value);
  print_number(out, f->has_linear ? f->deviation / row->unit_si : NAN);
  if (sampled) {
    print_number(out, f->sampled_deviation / row->unit_si);
    print_number(out, (f->sampled_low - f->value) / row->unit_si);
    print_number(out, (f->sampled_high - f->value) / row->unit_si);
  }
  if (remark[0]) {
    fprintf(out, " %-10s %s\n", row->unit, remark);
  } else {
    fprintf(out, "%s%s\n", row->unit[0] ? " " : "", row->unit);
  }
}

static void print_shape(FILE *out, const cavum_spread *spread, bool sampled) {
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    const cavum_figure_spread *f = &spread->shape[id];
    cavum_shape_unit unit = cavum_shape_unit_of((cavum_geometry_id)id);
    if (f->state != CAVUM_FIGURE_PRESENT || (!f->has_linear && !sampled)) continue;
    // A figure of dimensions that have no tolerance stays as it is.
    if (f->has_linear && f->deviation == 0.0) continue;
    const spread_row row = {f, spread, cavum_geometry_describe((cavum_geometry_id)id).long_name,
                            unit.name, unit.unit_si};
    print_row(out, &row, sampled);
  }
}

static void print_figures(FILE *out, const cavum_spread *spread) {
  char trust[CAVUM_SPREAD_TEXT_SIZE];
  bool sampled = spread->num_samples > 0;
  fprintf(out, "\n%-*s %*s %*s", NAME_WIDTH + 2, "Standard deviation of the figures", VALUE_WIDTH,
          "value", VALUE_WIDTH, "linear");
  if (sampled) {
    fprintf(out, " %*s %*s %*s", VALUE_WIDTH, "sampled", VALUE_WIDTH, "95 % from", VALUE_WIDTH,
            "to");
  }
  fputc('\n', out);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *f = &spread->figures[id];
    if (f->state != CAVUM_FIGURE_PRESENT || (!f->has_linear && !sampled)) continue;
    cavum_quantity_unit unit = cavum_quantity_unit_to_fit((cavum_figure_id)id, f->value);
    const spread_row row = {f, spread, cavum_figure_describe((cavum_figure_id)id).long_name,
                            unit.name, cavum_from_unit(1.0, unit.conversion)};
    print_row(out, &row, sampled);
  }
  print_shape(out, spread, sampled);
  fprintf(out, "  The linear spread was checked with %d random shapes", spread->num_pilot);
  if (sampled) fprintf(out, "; %d more were solved for the sampled one", spread->num_samples);
  if (spread->num_failed > 0) fprintf(out, "; %d WITHOUT A SHAPE", spread->num_failed);
  fputs(".\n", out);
  cavum_spread_write_trust(trust, spread);
  if (trust[0]) fprintf(out, "  %s\n", trust);
}

// The dimension with the next smaller part in the variance of f; -1 at the end.
static int next_of(const cavum_spread *spread, int last) {
  const double *share = spread->figures[CAVUM_FIGURE_FREQUENCY].share;
  int best = -1;
  for (int j = 0; j < spread->num_dimensions; j++) {
    double size = fabs(share[j]);
    bool after = last < 0 || size < fabs(share[last]) || (size == fabs(share[last]) && j > last);
    if (after && (best < 0 || size > fabs(share[best]))) best = j;
  }
  return best;
}

// What no dimension makes by itself, and of which figures the parts are not those of derivatives.
static void print_together(FILE *out, const cavum_spread *spread) {
  char sentence[CAVUM_SPREAD_TEXT_SIZE];
  bool any = false;
  for (int c = 0; c < NUM_COLUMNS; c++) {
    any = any || (spread->num_dimensions > 1 && spread->figures[COLUMNS[c].id].has_sampled_shares);
  }
  if (any) {
    fprintf(out, "  %-*s", KEY_WIDTH, CAVUM_SPREAD_TOGETHER);
    for (int c = 0; c < NUM_COLUMNS; c++) {
      const cavum_figure_spread *f = &spread->figures[COLUMNS[c].id];
      if (!f->has_shares) continue;
      fprintf(out, " %*.1f", SHARE_WIDTH, cavum_in_unit(f->share_together, CAVUM_UNIT_PERCENT));
    }
    fputc('\n', out);
  }
  for (int c = 0; c < NUM_COLUMNS; c++) {
    cavum_spread_write_shares(sentence, COLUMNS[c].head, &spread->figures[COLUMNS[c].id]);
    if (sentence[0]) fprintf(out, "  %s\n", sentence);
  }
}

static void print_shares(FILE *out, const cavum_spread *spread) {
  fprintf(out, "\n%-*s", KEY_WIDTH + 2, "Part in the variance / %");
  for (int c = 0; c < NUM_COLUMNS; c++) {
    if (spread->figures[COLUMNS[c].id].has_shares) {
      fprintf(out, " %*s", SHARE_WIDTH, COLUMNS[c].head);
    }
  }
  fputc('\n', out);
  for (int j = next_of(spread, -1); j >= 0; j = next_of(spread, j)) {
    fprintf(out, "  %-*s", KEY_WIDTH, spread->tolerances[j].key);
    for (int c = 0; c < NUM_COLUMNS; c++) {
      const cavum_figure_spread *f = &spread->figures[COLUMNS[c].id];
      if (!f->has_shares) continue;
      double share = cavum_in_unit(f->share[j], CAVUM_UNIT_PERCENT);
      // No -0.0.
      fprintf(out, " %*.1f", SHARE_WIDTH, fabs(share) < 0.05 ? 0.0 : share);
    }
    fputc('\n', out);
  }
  print_together(out, spread);
  char list[CAVUM_SPREAD_LIST_SIZE];
  cavum_spread_write_correlations(list, spread);
  if (list[0]) fputs("  " CAVUM_SPREAD_CORRELATED_SHARES "\n", out);
}

static void print_band(FILE *out, const cavum_spread *spread, const cavum_spread_band *band) {
  double alone[CAVUM_TOLERANCES_MOST], shared[CAVUM_TOLERANCES_MOST], factor = 0.0;
  cavum_quantity_unit unit = cavum_quantity_unit_of(band->figure, band->band);
  const char *name = cavum_figure_describe(band->figure).long_name;
  fprintf(out, "\nTolerances that keep two standard deviations of %s within +- %.9g%s%s\n", name,
          cavum_in_unit(band->band, unit.conversion), unit.name[0] ? " " : "", unit.name);
  if (!cavum_spread_allow(alone, shared, &factor, spread, band->figure, band->band)) {
    fputs("  unknown: it has no linear spread\n", out);
    return;
  }
  fprintf(out, "  %-*s %*s %*s %*s\n", KEY_WIDTH, "", VALUE_WIDTH, "as stated", VALUE_WIDTH,
          "equal shares", VALUE_WIDTH, "alone");
  for (int j = 0; j < spread->num_dimensions; j++) {
    fprintf(out, "  %-*s %*.4g %*.4g %*.4g\n", KEY_WIDTH, spread->tolerances[j].key, VALUE_WIDTH,
            spread->tolerances[j].width, VALUE_WIDTH, shared[j], VALUE_WIDTH, alone[j]);
  }
  fprintf(out, "  or all as stated, times %.3g\n", factor);
  char caution[CAVUM_SPREAD_TEXT_SIZE];
  cavum_spread_write_band_caution(caution, &spread->figures[band->figure], spread);
  if (caution[0]) fprintf(out, "  %s\n", caution);
}

void cavum_table_spread_print(FILE *out, const char *title, int mode, const cavum_spread *spread,
                              const cavum_spread_band *bands, int num_bands) {
  if (title && title[0]) fprintf(out, "%s\n\n", title);
  fprintf(out, "mode %d%s%s: spread by the tolerances of dimensions\n", mode + 1,
          spread->label[0] ? ", " : "", spread->label);
  print_tolerances(out, spread);
  print_figures(out, spread);
  print_shares(out, spread);
  for (int i = 0; i < num_bands; i++) print_band(out, spread, &bands[i]);
}
