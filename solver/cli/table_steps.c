// SPDX-License-Identifier: GPL-3.0-or-later
// A chain of steps on the screen: what hangs at the bench, then how it was computed.
#include "cli/table_steps.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "format/quantity.h"
#include "format/step_amount.h"

enum { NAME_WIDTH = 24, LONGEST = 40, CELL = 24 };

// The last digit that the table has of a share.
static const double SMALLEST_SHARE = 1e-6;

static double in_khz(double hz) { return cavum_in_unit(hz, CAVUM_UNIT_KHZ); }

// A number, or a dash for one that is not there.
typedef struct number_text {
  char text[CELL];
} number_text;

static number_text megahertz(double hz) {
  number_text made = {"-"};
  if (!isnan(hz)) snprintf(made.text, sizeof made.text, "%.4f", cavum_in_mhz(hz));
  return made;
}

static number_text kilohertz(double hz, const char *sign) {
  number_text made = {"-"};
  if (isnan(hz)) return made;
  if (sign[0]) {
    snprintf(made.text, sizeof made.text, "%+.1f", in_khz(hz));
  } else {
    snprintf(made.text, sizeof made.text, "%.1f", in_khz(hz));
  }
  return made;
}

// How far an aim may be missed.
static number_text tolerance_of(const cavum_step *step) {
  if (step->tolerance_hz == 0.0) return (number_text){"none"};
  return kilohertz(step->tolerance_hz, "");
}

// Letters of a name may have several bytes each.
static bool starts_letter(char byte) { return ((unsigned char)byte & 0xc0) != 0x80; }

static int num_letters(const char *name) {
  int count = 0;
  for (; *name; name++) count += starts_letter(*name);
  return count;
}

// A name in a column: cut where it is longer, with dots, padded where it is shorter, by letters.
static void print_name(FILE *out, const char *name, int width) {
  static const char dots[] = "...";
  int letters = num_letters(name), shown = 0;
  int room = letters > width ? width - (int)strlen(dots) : width;
  for (; *name; name++) {
    shown += starts_letter(*name);
    if (shown > room) break;
    fputc(*name, out);
  }
  if (letters > width) {
    fputs(dots, out);
  } else {
    fprintf(out, "%*s", width - letters, "");
  }
}

static int width_of_names(const cavum_steps_result *result) {
  int width = NAME_WIDTH;
  for (int i = 0; i < result->num_steps; i++) {
    int length = num_letters(result->steps[i]->name);
    if (length > width) width = length;
  }
  return width < LONGEST ? width : LONGEST;
}

static void print_bench(FILE *out, const cavum_steps_result *result, int width) {
  fprintf(out, "\n%-*s %12s %11s %12s %12s\n", width, "After step", "aim / MHz", "+- / kHz",
          "measured/MHz", "deviat./kHz");
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    print_name(out, step->name, width);
    fprintf(out, " %12s %11s %12s %12s\n", megahertz(step->aim_hz).text, tolerance_of(step).text,
            megahertz(step->measured_hz).text,
            kilohertz(step->measured_hz - step->aim_hz, "+").text);
  }
}

// In lines of about the width of the tables.
static void print_sentence(FILE *out, const char *sentence) {
  enum { LINE = 96 };
  while (*sentence) {
    int length = (int)strlen(sentence), end = length;
    for (int i = 1; i < length && i <= LINE && length > LINE; i++) {
      if (sentence[i] == ' ') end = i;
    }
    fprintf(out, "\n%.*s", end, sentence);
    sentence += end + (sentence[end] == ' ');
    if (!*sentence) fputc('\n', out);
  }
}

static bool any_solved(const cavum_steps_result *result) {
  for (int i = 1; i < result->num_steps; i++) {
    if (result->steps[i]->solved) return true;
  }
  return false;
}

static void print_forward(FILE *out, const cavum_steps_result *result, int width) {
  bool estimates = any_solved(result);
  fprintf(out, "\n%-*s %12s", width, "From the drawing", "change / kHz");
  if (estimates) fprintf(out, " %12s", "derivative");
  fprintf(out, " %12s %9s %12s %9s\n", "f / MHz", "u / kHz", "expected/MHz", "u / kHz");
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    print_name(out, step->name, width);
    fprintf(out, " %12s", i > 0 ? kilohertz(step->change_hz, "+").text : "");
    if (estimates) {
      fprintf(out, " %12s", step->solved && i > 0 ? kilohertz(step->estimate_hz, "+").text : "");
    }
    fprintf(out, " %12s %9s %12s %9s\n", megahertz(step->frequency_hz).text,
            kilohertz(step->uncertainty_hz, "").text, megahertz(step->expected_hz).text,
            kilohertz(step->expected_uncertainty_hz, "").text);
  }
  for (int i = 1; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    if (!step->reason[0]) continue;
    print_name(out, step->name, width);
    fprintf(out, " %s\n", step->reason);
  }
}

static void print_amount(FILE *out, const cavum_step *step, const char *amount, int width) {
  char stated[CAVUM_STEP_AMOUNT_SIZE];
  cavum_step_write_stated(stated, step);
  print_name(out, step->name, width);
  fprintf(out, " %s; stated: %s\n", amount, stated);
}

static void print_amounts(FILE *out, const cavum_steps_result *result, int width) {
  char amount[CAVUM_STEP_AMOUNT_SIZE];
  bool before = false, next = false;
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    if (isnan(step->found_amount)) continue;
    if (!before) fprintf(out, "\nWhat was done, as measured\n");
    before = true;
    cavum_step_write_found(amount, step);
    print_amount(out, step, amount, width);
  }
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    if (isnan(step->next_amount)) continue;
    if (!next) fprintf(out, "\nWhat leads to the target, each step by itself\n");
    next = true;
    cavum_step_write_next(amount, step);
    print_amount(out, step, amount, width);
  }
}

enum { LAST_WIDTH = 24 };  // of the column of B_pk/E_acc

static void print_shape_figures(FILE *out, const cavum_steps_result *result, int width) {
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_FIGURE_GEOMETRY_FACTOR,
                                        CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_FIGURE_BPK_OVER_EACC};
  if (!any_solved(result)) return;
  fprintf(out, "\n%-*s %16s %16s %16s %*s\n", width, "Other figures", "R/Q / ohm", "G / ohm",
          "E_pk/E_acc", LAST_WIDTH, "B_pk/E_acc / mT/(MV/m)");
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    if (!step->solved) continue;
    print_name(out, step->name, width);
    for (int k = 0; k < 4; k++) {
      const cavum_figure *figure = &step->figures[ids[k]];
      cavum_quantity_unit unit = cavum_quantity_unit_of(ids[k], figure->value);
      char text[CAVUM_QUANTITY_SIZE] = "-";
      if (figure->state == CAVUM_FIGURE_PRESENT) {
        cavum_quantity_format(text, cavum_in_unit(figure->value, unit.conversion),
                              cavum_in_unit(figure->uncertainty, unit.conversion));
      }
      fprintf(out, " %*s", k < 3 ? 16 : LAST_WIDTH, text);
    }
    fputc('\n', out);
  }
}

static number_text percent(double share) {
  number_text made = {"-"};
  if (isnan(share)) return made;
  // Halves behind a long bore do not couple: what is left is rounding.
  if (fabs(share) < SMALLEST_SHARE) {
    snprintf(made.text, sizeof made.text, "< %.4f", cavum_in_percent(SMALLEST_SHARE));
  } else {
    snprintf(made.text, sizeof made.text, "%.4f", cavum_in_percent(share));
  }
  return made;
}

// What halves show between plates before they are welded.
static void print_halves(FILE *out, const cavum_steps_result *result, int width) {
  if (!result->zero_sensitivity_hz) return;
  fprintf(out, "\n%-*s %11s %8s %11s %11s %11s %11s %9s\n", width, "Halves between plates",
          "0 mode/MHz", "u / kHz", "aim / MHz", "pi mode/MHz", "u / kHz", "aim / MHz", "k_cc / %");
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    print_name(out, step->name, width);
    fprintf(out, " %11s %8s %11s %11s %11s %11s %9s\n", megahertz(step->zero_hz).text,
            kilohertz(step->zero_uncertainty_hz, "").text, megahertz(step->zero_aim_hz).text,
            megahertz(step->pi_hz).text, kilohertz(step->pi_uncertainty_hz, "").text,
            megahertz(step->pi_aim_hz).text, percent(step->coupling).text);
    if (isnan(step->measured_zero_hz) && isnan(step->measured_pi_hz)) continue;
    fprintf(out, "%-*s %11s %8s %11s %11s\n", width, "  measured",
            megahertz(step->measured_zero_hz).text, "", "", megahertz(step->measured_pi_hz).text);
  }
}

static void print_what(FILE *out, const cavum_steps_result *result, int width) {
  fputc('\n', out);
  for (int i = 0; i < result->num_steps; i++) {
    print_name(out, result->steps[i]->name, width);
    fprintf(out, " %s\n", result->steps[i]->what);
  }
}

static void print_found(FILE *out, const cavum_steps_result *result, int width) {
  bool any = false;
  for (int s = 0; s < result->num_sources; s++) {
    const cavum_step_source *source = result->sources[s];
    if (!cavum_step_source_is_found(source)) continue;
    if (!any) {
      fprintf(out, "\n%-*s in standard deviations\n", width, "What the measurements say");
    }
    any = true;
    print_name(out, source->name, width);
    fprintf(out, " %+.2f +- %.2f\n", source->found, source->found_uncertainty);
  }
}

void cavum_table_steps_print(FILE *out, const cavum_steps_result *result) {
  int width = width_of_names(result);
  if (result->title[0]) fprintf(out, "%s\n\n", result->title);
  fprintf(out, "mode %d%s%s: frequency through the steps\n", result->mode + 1,
          result->label[0] ? ", " : "", result->label);
  if (!isnan(result->target_hz)) print_bench(out, result, width);
  print_sentence(out, result->contradiction);
  print_sentence(out, result->not_stated);
  print_forward(out, result, width);
  print_amounts(out, result, width);
  print_found(out, result, width);
  print_halves(out, result, width);
  print_shape_figures(out, result, width);
  print_what(out, result, width);
  fputs(
      "\nf: as measured, with the gas that is in the cell. u: standard uncertainty. The tolerance "
      "of an aim\nleaves room for twice the uncertainty of the steps that follow, added in "
      "quadrature; none: they\nare less certain than the tolerance of the target.\n",
      out);
}
