// SPDX-License-Identifier: GPL-3.0-or-later
// The text of surface resistance against field.
#include "cli/coldtest_table_field.h"

#include <math.h>

#include "base/units.h"
#include "cli/colour.h"
#include "format/quantity.h"

static void format(char text[CAVUM_QUANTITY_SIZE], cavum_estimate estimate, cavum_unit unit) {
  if (!isfinite(estimate.value)) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "-");
    return;
  }
  cavum_quantity_format(text, cavum_in_unit(estimate.value, unit),
                        cavum_in_unit(estimate.uncertainty, unit));
}

static void print_point(FILE *out, const cavum_resistance_field_point *point) {
  const struct {
    cavum_estimate estimate;
    cavum_unit unit;
  } cells[] = {{point->e_acc_v_per_m, CAVUM_UNIT_MV_PER_M},
               {point->b_peak_t, CAVUM_UNIT_MILLITESLA},
               {point->bcs_ohm, CAVUM_UNIT_NOHM},
               {point->residual_ohm, CAVUM_UNIT_NOHM},
               {point->local_bcs_ohm, CAVUM_UNIT_NOHM},
               {point->local_residual_ohm, CAVUM_UNIT_NOHM},
               {point->fit.gap_k, CAVUM_UNIT_K}};
  fputs("  ", out);
  for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) {
    char text[CAVUM_QUANTITY_SIZE];
    format(text, cells[i].estimate, cells[i].unit);
    fprintf(out, " %13s", text);
  }
  fprintf(out, " %9lld\n", (long long)point->fit.num_readings);
}

static void print_polynomial(FILE *out, const cavum_resistance_field *field, int part) {
  static const char *const names[] = {"BCS part", "residual"};
  bool local = field->weighting.known;
  fprintf(out, "  %s against field, %s\n", names[part],
          local ? "at a place of the wall, B the field there"
                : "averaged over the wall, B the peak on it");
  for (int n = 0; n <= field->degree; n++) {
    char text[CAVUM_QUANTITY_SIZE];
    format(text, (local ? field->local_ohm : field->average_ohm)[part][n], CAVUM_UNIT_NOHM);
    fprintf(out, "    (B / 100 mT)^%d  %18s nohm\n", n, text);
  }
  if (isfinite(field->chi_squared[part])) {
    fprintf(out, "    chi2 %.3g with %d degrees of freedom\n", field->chi_squared[part],
            field->degrees_of_freedom);
  }
}

static void print_resistance(FILE *out, const cavum_resistance_field *field) {
  fprintf(out, "\nSurface resistance against field, BCS part at %.4g K\n", field->reference_k);
  fprintf(out, "  %13s %13s %13s %13s %13s %13s %13s %9s\n", "E_acc", "B_pk", "BCS, mean",
          "res., mean", "BCS at B_pk", "res. at B_pk", "gap", "readings");
  fprintf(out, "  %13s %13s %13s %13s %13s %13s %13s\n", "MV/m", "mT", "nohm", "nohm", "nohm",
          "nohm", "K");
  for (int i = 0; i < field->num_points; i++) print_point(out, &field->points[i]);
  for (int part = 0; part < CAVUM_NUM_FIELD_PARTS; part++) print_polynomial(out, field, part);
  if (field->weighting.known) {
    fprintf(out,
            "  the mean over the wall weighs with H^2: mean of (H/H_pk)^n %.4f, %.4f, %.4f for n = "
            "1, 2, 3\n",
            field->weighting.moment[1], field->weighting.moment[2], field->weighting.moment[3]);
  } else {
    fputs("  no local values: they need the wall of a result file (geometry: {result: ...})\n",
          out);
  }
  for (int i = 0; i < field->num_points; i++) {
    if (!field->points[i].fit.caution[0]) continue;
    fprintf(out, "  caution at %.4g MV/m: %s\n",
            cavum_in_mv_per_m(field->points[i].e_acc_v_per_m.value), field->points[i].fit.caution);
  }
}

static void print_row(FILE *out, const char *name, cavum_estimate estimate, cavum_unit unit) {
  char text[CAVUM_QUANTITY_SIZE];
  if (!isfinite(estimate.value)) return;
  format(text, estimate, unit);
  fprintf(out, "  %-36s%s %s\n", name, text, cavum_unit_symbol(unit));
}

static void print_frequency(FILE *out, const cavum_frequency_fit *fit) {
  fprintf(out, "\nFrequency against field%s, %lld readings\n",
          fit->has_pressure ? " and bath pressure" : "", (long long)fit->num_readings);
  print_row(out, "Lorentz force, df/d(E_acc^2)", fit->lorentz_hz_m2_per_v2, CAVUM_UNIT_HZ_PER_MV2);
  print_row(out, "df/dp", fit->pressure_hz_per_pa, CAVUM_UNIT_HZ_PER_MBAR);
  print_row(out, fit->has_pressure ? "frequency without field, mean p" : "frequency without field",
            fit->frequency_hz, CAVUM_UNIT_HZ);
  fprintf(out, "  %-36s%.3g Hz", "scatter", fit->scatter_hz);
  if (isfinite(fit->chi_squared)) {
    fprintf(out, ", chi2 %.3g with %d degrees of freedom", fit->chi_squared,
            fit->degrees_of_freedom);
  }
  fputc('\n', out);
  // More than readings of these uncertainties have in one of some ten thousand cases.
  double most = fit->degrees_of_freedom + 4.0 * sqrt(2.0 * fit->degrees_of_freedom);
  if (fit->degrees_of_freedom > 0 && fit->chi_squared > most) {
    fputs("  the scatter is larger than the readings' uncertainties allow: those above lack it\n",
          out);
  }
  if (!fit->has_pressure) {
    fputs("  no pressures that differ: a pressure that follows the field is in the slope\n", out);
  }
  if (!isfinite(fit->expected_lorentz_hz_m2_per_v2)) return;
  fprintf(out,
          "  the radiation pressure on a wall of the stated stiffness, a bed of springs: %.4g "
          "Hz/(MV/m)^2, %.4g Hz/mbar\n",
          cavum_in_unit(fit->expected_lorentz_hz_m2_per_v2, CAVUM_UNIT_HZ_PER_MV2),
          cavum_in_unit(fit->expected_pressure_hz_per_pa, CAVUM_UNIT_HZ_PER_MBAR));
}

void cavum_coldtest_table_print_field(FILE *out, const cavum_coldtest_report *report) {
  if (report->has_frequency) print_frequency(out, &report->frequency);
  if (report->has_field) print_resistance(out, &report->field);
}

void cavum_coldtest_table_print_run_fits(FILE *out, const cavum_coldtest_report *report) {
  static const struct {
    cavum_run_quantity quantity;
    const char *name;
    cavum_unit unit;
  } rows[] = {{CAVUM_RUN_RESIDUAL, "residual", CAVUM_UNIT_NOHM},
              {CAVUM_RUN_GAP, "gap Delta/k", CAVUM_UNIT_K},
              {CAVUM_RUN_BCS, "BCS term at 2 K", CAVUM_UNIT_NOHM},
              {CAVUM_RUN_LORENTZ, "Lorentz force, df/d(E_acc^2)", CAVUM_UNIT_HZ_PER_MV2},
              {CAVUM_RUN_PRESSURE, "df/dp", CAVUM_UNIT_HZ_PER_MBAR},
              {CAVUM_RUN_FREQUENCY, "frequency without field", CAVUM_UNIT_HZ}};
  if (report->num_run_fits > 0) cavum_colour_title(out, "Fits of each run alone");
  for (int run = 0; run < report->num_run_fits; run++) {
    const cavum_run_fit *fit = &report->run_fits[run];
    fprintf(out, "  %s\n", cavum_coldtest_get_run_name(report->test, run + 1));
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
      cavum_estimate estimate = cavum_run_fit_get(fit, rows[i].quantity);
      if (!isfinite(estimate.value)) continue;
      fputs("  ", out);
      print_row(out, rows[i].name, estimate, rows[i].unit);
    }
    if (fit->caution[0]) fprintf(out, "    caution: %s\n", fit->caution);
  }
}
