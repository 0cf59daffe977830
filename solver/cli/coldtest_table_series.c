// SPDX-License-Identifier: GPL-3.0-or-later
// The text of decay traces, surface resistance, trapped flux and plans.
#include <math.h>

#include "cli/coldtest_table.h"
#include "format/quantity.h"

static void print_quantity(FILE *out, const char *name, double value, double uncertainty,
                           const char *unit) {
  char text[CAVUM_QUANTITY_SIZE];
  if (!isfinite(value)) return;
  cavum_quantity_format(text, value, uncertainty);
  fprintf(out, "  %-36s%s %s\n", name, text, unit);
}

static void print_trace(FILE *out, const cavum_decay_analysis *analysis, const char *path) {
  fprintf(out, "\nDecay trace %s\n", path);
  fprintf(out, "  %-36s%lld used, %lld cut\n", "samples", (long long)analysis->num_used,
          (long long)analysis->num_cut);
  print_quantity(out, "energy decay time, one exponential", analysis->decay_time_s.value,
                 analysis->decay_time_s.uncertainty, "s");
  fprintf(out, "  %-36s%.3g %%", "scatter about it", 100.0 * analysis->scatter);
  if (isfinite(analysis->chi_squared)) {
    fprintf(out, ", chi2 %.4g with %lld degrees of freedom", analysis->chi_squared,
            (long long)analysis->degrees_of_freedom);
  }
  fprintf(out, "\n  %-36s%.2g of its uncertainty: %s\n", "curvature of ln P", analysis->curvature,
          analysis->exponential ? "one decay time describes it"
                                : "NOT EXPONENTIAL, one decay time does not describe it");
  fprintf(out, "  %10s %15s %16s %16s %8s\n", "time (s)", "E_acc (MV/m)", "Q0", "Q_L", "k");
  for (int i = 0; i < analysis->num_points; i++) {
    const cavum_decay_point *point = &analysis->points[i];
    char gradient[CAVUM_QUANTITY_SIZE], q0[CAVUM_QUANTITY_SIZE], loaded[CAVUM_QUANTITY_SIZE];
    cavum_quantity_format(gradient, 1e-6 * point->e_acc_v_per_m,
                          1e-6 * point->e_acc_uncertainty_v_per_m);
    cavum_quantity_format(q0, point->q0, point->q0_uncertainty);
    cavum_quantity_format(loaded, point->q_loaded, point->q_loaded_uncertainty);
    fprintf(out, "  %10.4g %15s %16s %16s %8.3f\n", point->time_s, gradient, q0, loaded,
            point->coverage_factor);
  }
}

static void print_fit(FILE *out, const cavum_coldtest_report *report) {
  const cavum_resistance_fit *fit = &report->fit;
  fprintf(out,
          "\nSurface resistance against temperature, %lld readings at %.4g MV/m, %.4g to %.4g K\n",
          (long long)fit->num_readings, 1e-6 * fit->e_acc_v_per_m, fit->lowest_k, fit->highest_k);
  fputs("  R_s = A exp(-gap/T) / T + residual\n", out);
  print_quantity(out, "A", fit->amplitude_ohm_k.value, fit->amplitude_ohm_k.uncertainty, "ohm K");
  print_quantity(out, fit->gap_fixed ? "gap Delta/k (held)" : "gap Delta/k", fit->gap_k.value,
                 fit->gap_k.uncertainty, "K");
  print_quantity(out, "residual", 1e9 * fit->residual_ohm.value,
                 1e9 * fit->residual_ohm.uncertainty, "nohm");
  cavum_estimate bcs = cavum_resistance_bcs_at_ohm(fit, 2.0);
  print_quantity(out, "BCS term at 2 K", 1e9 * bcs.value, 1e9 * bcs.uncertainty, "nohm");
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
  fprintf(out, "\nPredicted from it\n  %8s %12s %15s %15s %15s\n", "T (K)", "E (MV/m)",
          "R_s (nohm)", "Q0", "P_wall (W)");
  for (int i = 0; i < report->num_predictions; i++) {
    const cavum_resistance_prediction *p = &report->predictions[i];
    char resistance[CAVUM_QUANTITY_SIZE], q0[CAVUM_QUANTITY_SIZE], power[CAVUM_QUANTITY_SIZE];
    cavum_quantity_format(resistance, 1e9 * p->surface_resistance_ohm.value,
                          1e9 * p->surface_resistance_ohm.uncertainty);
    cavum_quantity_format(q0, p->q0.value, p->q0.uncertainty);
    cavum_quantity_format(power, p->wall_power_w.value, p->wall_power_w.uncertainty);
    fprintf(out, "  %8.4g %12.5g %15s %15s %15s%s%s\n", p->temperature_k, 1e-6 * p->e_acc_v_per_m,
            resistance, q0, power, p->caution[0] ? "  " : "", p->caution);
  }
}

static void print_flux(FILE *out, const cavum_coldtest_report *report) {
  if (!isfinite(report->flux_resistance_ohm)) return;
  fprintf(out,
          "\nTrapped flux, estimate: %.3g uT ambient, fraction %.3g trapped, %.3g nohm/uT (%s)"
          "\n  %-36s%.3g nohm\n",
          1e6 * report->file.ambient_field_t, report->file.trapped_fraction,
          1e3 * report->flux_sensitivity_ohm_per_t,
          report->file.flux_sensitivity_ohm_per_t > 0.0
              ? "stated"
              : "rule 0.3 nohm/mG sqrt(f/GHz), undoped Nb, from memory of Padamsee 1998",
          "R_s by trapped flux", 1e9 * report->flux_resistance_ohm);
  if (report->has_fit) {
    fprintf(out, "  %-36s%.3g nohm\n", "residual less this",
            1e9 * (report->fit.residual_ohm.value - report->flux_resistance_ohm));
  }
}

static void print_plan(FILE *out, const cavum_plan *plan, const cavum_plan_request *request) {
  const struct {
    const char *name, *unit;
    double value;
  } rows[] = {{"forward power", "W", plan->state.power_w[CAVUM_CHANNEL_FORWARD]},
              {"reflected power", "W", plan->state.power_w[CAVUM_CHANNEL_REFLECTED]},
              {"pickup power", "W", plan->state.power_w[CAVUM_CHANNEL_TRANSMITTED]},
              {"emitted power at switch-off", "W", plan->state.power_w[CAVUM_CHANNEL_EMITTED]},
              {"wall heat", "W", plan->state.wall_power_w},
              {"forward power, were it matched", "W", plan->matched_forward_w},
              {"coupling beta*", "", plan->state.coupling},
              {"loaded Q", "", plan->state.q_loaded},
              {"energy decay time", "s", plan->state.decay_time_s},
              {"bandwidth f/Q_L", "Hz", plan->state.bandwidth_hz},
              {"stored energy", "J", plan->stored_energy_j},
              {"voltage", "MV", 1e-6 * plan->voltage_v},
              {"peak electric field", "MV/m", 1e-6 * plan->e_peak_v_per_m},
              {"peak magnetic field", "mT", 1e3 * plan->b_peak_t},
              {"surface resistance", "nohm", 1e9 * plan->surface_resistance_ohm}};
  fprintf(out, "\nPlan for E_acc %.5g MV/m, Q0 %.4g, Q_e %.4g (%s)\n",
          1e-6 * request->e_acc_v_per_m, request->q0, request->q_external,
          plan->state.coupling >= 1.0 ? "overcoupled" : "undercoupled");
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    if (isfinite(rows[i].value)) {
      fprintf(out, "  %-36s%.6g %s\n", rows[i].name, rows[i].value, rows[i].unit);
    }
  }
}

void cavum_coldtest_table_print_series(FILE *out, const cavum_coldtest_report *report) {
  for (int i = 0; i < report->num_analyses; i++) {
    print_trace(out, &report->analyses[i], report->file.traces[i].path);
  }
  if (report->has_fit) print_fit(out, report);
  print_predictions(out, report);
  print_flux(out, report);
  for (int i = 0; i < report->num_plans; i++) {
    print_plan(out, &report->plans[i], &report->file.plans[i]);
  }
}
