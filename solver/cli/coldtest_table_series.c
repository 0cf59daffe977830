// SPDX-License-Identifier: GPL-3.0-or-later
// The text of decay traces, surface resistance and trapped flux.
#include "cli/coldtest_table_series.h"

#include <math.h>

#include "base/units.h"
#include "cli/coldtest_table_emission.h"
#include "cli/coldtest_table_field.h"
#include "format/quantity.h"

static void print_estimate(FILE *out, const char *name, cavum_estimate estimate, cavum_unit unit) {
  char text[CAVUM_QUANTITY_SIZE];
  if (!isfinite(estimate.value)) return;
  cavum_quantity_format(text, cavum_in_unit(estimate.value, unit),
                        cavum_in_unit(estimate.uncertainty, unit));
  fprintf(out, "  %-36s%s %s\n", name, text, cavum_unit_symbol(unit));
}

static void print_trace(FILE *out, const cavum_decay_analysis *analysis, const char *path,
                        bool windows) {
  fprintf(out, "\nDecay trace %s\n", path);
  fprintf(out, "  %-36s%lld used, %lld cut", "samples", (long long)analysis->num_used,
          (long long)analysis->num_cut);
  if (analysis->num_outliers > 0) {
    fprintf(out, ", %lld that stand alone left out", (long long)analysis->num_outliers);
  }
  fputc('\n', out);
  print_estimate(out, "energy decay time, one exponential", analysis->decay_time_s, CAVUM_UNIT_S);
  fprintf(out, "  %-36s%.3g %%", "scatter about it", cavum_in_percent(analysis->scatter));
  if (isfinite(analysis->chi_squared)) {
    fprintf(out, ", chi2 %.4g with %lld degrees of freedom", analysis->chi_squared,
            (long long)analysis->degrees_of_freedom);
  }
  fprintf(out, "\n  %-36s%.2g of its uncertainty: %s\n", "curvature of ln P", analysis->curvature,
          analysis->exponential ? "one decay time describes it"
                                : "NOT EXPONENTIAL, one decay time does not describe it");
  if (!windows) return;
  fprintf(out, "  %10s %15s %16s %16s %8s\n", "time in s", "E_acc in MV/m", "Q0", "Q_L", "k");
  for (int i = 0; i < analysis->num_points; i++) {
    const cavum_decay_point *point = &analysis->points[i];
    char gradient[CAVUM_QUANTITY_SIZE], q0[CAVUM_QUANTITY_SIZE], loaded[CAVUM_QUANTITY_SIZE];
    cavum_quantity_format(gradient, cavum_in_mv_per_m(point->e_acc_v_per_m),
                          cavum_in_mv_per_m(point->e_acc_uncertainty_v_per_m));
    cavum_quantity_format(q0, point->q0, point->q0_uncertainty);
    cavum_quantity_format(loaded, point->q_loaded, point->q_loaded_uncertainty);
    fprintf(out, "  %10.4g %15s %16s %16s %8.3f\n", point->time_s, gradient, q0, loaded,
            point->coverage_factor);
  }
}

static void print_fit(FILE *out, const cavum_coldtest_report *report) {
  const cavum_resistance_fit *fit = &report->fit;
  fprintf(out,
          "\nSurface resistance against temperature, R_s = A exp(-gap/T) / T + residual: %lld "
          "readings at %.4g MV/m, %.4g to %.4g K\n",
          (long long)fit->num_readings, cavum_in_mv_per_m(fit->e_acc_v_per_m), fit->lowest_k,
          fit->highest_k);
  print_estimate(out, "A", fit->amplitude_ohm_k, CAVUM_UNIT_OHM_K);
  print_estimate(out, fit->gap_fixed ? "gap Delta/k (held)" : "gap Delta/k", fit->gap_k,
                 CAVUM_UNIT_K);
  print_estimate(out, "residual", fit->residual_ohm, CAVUM_UNIT_NOHM);
  print_estimate(out, "BCS term at 2 K", cavum_resistance_bcs_at_ohm(fit, 2.0), CAVUM_UNIT_NOHM);
  if (isfinite(fit->chi_squared)) {
    fprintf(out, "  %-36s%.3g with %d degrees of freedom, probability %.2g\n", "chi2",
            fit->chi_squared, fit->degrees_of_freedom, fit->probability);
  }
  fprintf(out,
          "  meant for T < T_c/2 (4.6 K for Nb), one gap, wall at bath temperature (at high\n"
          "  field the wall is warmer: ten per cent and more in R_s in published cases)\n");
  if (fit->caution[0]) fprintf(out, "  caution: %s\n", fit->caution);
}

static void print_predictions(FILE *out, const cavum_coldtest_report *report) {
  if (report->num_predictions == 0) return;
  fprintf(out, "\nPredicted from it\n  %8s %15s %15s %15s %15s\n", "T in K", "E_acc in MV/m",
          "R_s in nohm", "Q0", "P_d in W");
  for (int i = 0; i < report->num_predictions; i++) {
    const cavum_resistance_prediction *p = &report->predictions[i];
    char resistance[CAVUM_QUANTITY_SIZE], q0[CAVUM_QUANTITY_SIZE], power[CAVUM_QUANTITY_SIZE];
    cavum_quantity_format(resistance, cavum_in_nohm(p->surface_resistance_ohm.value),
                          cavum_in_nohm(p->surface_resistance_ohm.uncertainty));
    cavum_quantity_format(q0, p->q0.value, p->q0.uncertainty);
    cavum_quantity_format(power, p->wall_power_w.value, p->wall_power_w.uncertainty);
    fprintf(out, "  %8.4g %15.5g %15s %15s %15s%s%s\n", p->temperature_k,
            cavum_in_mv_per_m(p->e_acc_v_per_m), resistance, q0, power, p->caution[0] ? "  " : "",
            p->caution);
  }
}

static void print_flux(FILE *out, const cavum_coldtest_report *report) {
  if (!isfinite(report->flux_resistance_ohm)) return;
  fprintf(out,
          "\nTrapped flux, estimate: %.3g uT ambient, fraction %.3g trapped, %.3g nohm/uT (%s)"
          "\n  %-36s%.3g nohm",
          cavum_in_unit(report->file.ambient_field_t, CAVUM_UNIT_MICROTESLA),
          report->file.trapped_fraction,
          cavum_in_unit(report->flux_sensitivity_ohm_per_t, CAVUM_UNIT_NOHM_PER_MICROTESLA),
          report->file.flux_sensitivity_ohm_per_t > 0.0
              ? "stated"
              : "rule 0.3 nohm/mG sqrt(f/GHz), undoped Nb",
          "R_s by trapped flux", cavum_in_nohm(report->flux_resistance_ohm));
  if (report->has_fit) {
    fprintf(out, ", residual less this %.3g nohm",
            cavum_in_nohm(report->fit.residual_ohm.value - report->flux_resistance_ohm));
  }
  fputc('\n', out);
}

void cavum_coldtest_table_print_series(FILE *out, const cavum_coldtest_report *report,
                                       bool windows) {
  for (int i = 0; i < report->num_analyses; i++) {
    print_trace(out, &report->analyses[i], report->file.traces[i].path, windows);
  }
  if (report->has_fit) print_fit(out, report);
  print_predictions(out, report);
  cavum_coldtest_table_print_field(out, report);
  cavum_coldtest_table_print_emission(out, report);
  print_flux(out, report);
  // Of a test that is over they are remarks.
  for (int i = 0; report->file.setup.growing && i < report->num_waiting; i++) {
    fprintf(out, "\nNot yet: %s\n", report->waiting[i]);
  }
}
