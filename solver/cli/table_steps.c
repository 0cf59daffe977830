// SPDX-License-Identifier: GPL-3.0-or-later
// A chain of steps on the screen: what hangs at the bench, then how it was computed.
#include "cli/table_steps.h"

#include <math.h>
#include <string.h>

#include "base/units.h"

enum { NAME_WIDTH = 24, LONGEST = 40, CELL = 24 };

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

static int width_of_names(const cavum_steps_result *result) {
  int width = NAME_WIDTH;
  for (int i = 0; i < result->num_steps; i++) {
    int length = (int)strlen(result->steps[i]->name);
    if (length > width) width = length;
  }
  return width < LONGEST ? width : LONGEST;
}

static void print_bench(FILE *out, const cavum_steps_result *result, int width) {
  fprintf(out, "\n%-*s %12s %11s %12s %12s\n", width, "Behind step", "aim / MHz", "+- / kHz",
          "measured/MHz", "deviat./kHz");
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    fprintf(out, "%-*.*s %12s %11s %12s %12s\n", width, width, step->name,
            megahertz(step->aim_hz).text, kilohertz(step->tolerance_hz, "").text,
            megahertz(step->measured_hz).text,
            kilohertz(step->measured_hz - step->aim_hz, "+").text);
  }
}

static void print_forward(FILE *out, const cavum_steps_result *result, int width) {
  fprintf(out, "\n%-*s %12s %12s %9s %12s %9s\n", width, "From the drawing", "change / kHz",
          "f / MHz", "u / kHz", "expected/MHz", "u / kHz");
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    fprintf(out, "%-*.*s %12s %12s %9s %12s %9s\n", width, width, step->name,
            i > 0 ? kilohertz(step->change_hz, "+").text : "", megahertz(step->frequency_hz).text,
            kilohertz(step->uncertainty_hz, "").text, megahertz(step->expected_hz).text,
            kilohertz(step->expected_uncertainty_hz, "").text);
  }
}

static void print_what(FILE *out, const cavum_steps_result *result, int width) {
  fputc('\n', out);
  for (int i = 0; i < result->num_steps; i++) {
    fprintf(out, "%-*.*s %s\n", width, width, result->steps[i]->name, result->steps[i]->what);
  }
}

static void print_found(FILE *out, const cavum_steps_result *result, int width) {
  bool any = false;
  for (int s = 0; s < result->num_sources; s++) {
    const cavum_step_source *source = result->sources[s];
    if (source->found_uncertainty > 0.99) continue;  // nothing is known of it
    if (!any) {
      fprintf(out, "\n%-*s in standard deviations\n", width, "What the measurements say");
    }
    any = true;
    fprintf(out, "%-*.*s %+.2f +- %.2f\n", width, width, source->name, source->found,
            source->found_uncertainty);
  }
}

void cavum_table_steps_print(FILE *out, const cavum_steps_result *result) {
  int width = width_of_names(result);
  fprintf(out, "%s\n\nmode %d%s%s: frequency through the steps\n",
          result->title[0] ? result->title : "(no title)", result->mode + 1,
          result->label[0] ? ", " : "", result->label);
  if (!isnan(result->target_hz)) print_bench(out, result, width);
  print_forward(out, result, width);
  print_found(out, result, width);
  print_what(out, result, width);
  fputs(
      "\nf: as measured, with the gas that is in the cell. u: standard uncertainty. The tolerance "
      "of an aim\nleaves room for twice the uncertainty of the steps that follow, added in "
      "quadrature.\n",
      out);
}
