// SPDX-License-Identifier: GPL-3.0-or-later
// The text of plans: a table of what the meters show, then the plans one by one.
#include "cli/coldtest_table_plan.h"

#include <math.h>

#include "base/units.h"

// Beyond this many only the table is printed; JSON and HDF5 hold all.
enum { MOST_IN_FULL = 4 };

// No directional coupler tells a reflection below a thousandth (-60 dB) from a match.
static const double CRITICAL_REFLECTION = 1e-3;

static const char *side_of(double coupling) {
  if (fabs(coupling - 1.0) < CRITICAL_REFLECTION * (coupling + 1.0)) return "critically coupled";
  return coupling > 1.0 ? "overcoupled" : "undercoupled";
}

static void print_expected(FILE *out, const char *name, const cavum_plan_expected *expected) {
  fprintf(out, "  to expect of %s\n", name);
  if (!expected->possible) {
    fputs("    no result: too close to critical coupling, or something needed is not read\n", out);
    return;
  }
  if (!(expected->q0_relative > 0.0)) {
    fputs("    no uncertainty is stated\n", out);
    return;
  }
  fprintf(out, "    u(Q0) %.3g %%, most of it (%.0f %% of the variance): %s\n",
          cavum_in_percent(expected->q0_relative), cavum_in_percent(expected->q0_share),
          cavum_coldtest_input_text(expected->q0_input));
  if (!(expected->e_acc_relative > 0.0)) return;
  fprintf(out, "    u(E_acc) %.3g %%, most of it (%.0f %% of the variance): %s\n",
          cavum_in_percent(expected->e_acc_relative), cavum_in_percent(expected->e_acc_share),
          cavum_coldtest_input_text(expected->e_acc_input));
}

static void print_shares(FILE *out, const cavum_coldtest_setup *setup, const cavum_plan *plan) {
  for (int i = 0; i < setup->num_limits; i++) {
    double share = plan->limit_share[i];
    if (!isfinite(share)) continue;
    fprintf(out, "  %5.1f %% of the stated limit %s (%s)%s\n", cavum_in_percent(share),
            setup->limits[i].name, setup->limits[i].source, share > 1.0 ? ": ABOVE IT" : "");
  }
}

static void print_plan(FILE *out, const cavum_coldtest_setup *setup, const cavum_plan *plan,
                       const cavum_plan_request *request) {
  const struct {
    const char *name;
    cavum_unit unit;
    double value_si;
  } rows[] = {
      {"forward power", CAVUM_UNIT_W, plan->state.power_w[CAVUM_CHANNEL_FORWARD]},
      {"reflected power", CAVUM_UNIT_W, plan->state.power_w[CAVUM_CHANNEL_REFLECTED]},
      {"transmitted power P_t", CAVUM_UNIT_W, plan->state.power_w[CAVUM_CHANNEL_TRANSMITTED]},
      {"emitted power at switch-off", CAVUM_UNIT_W, plan->state.power_w[CAVUM_CHANNEL_EMITTED]},
      {"dissipated power P_d", CAVUM_UNIT_W, plan->state.wall_power_w},
      {"forward power, if matched", CAVUM_UNIT_W, plan->matched_forward_w},
      {"coupling beta*", CAVUM_UNIT_SI, plan->state.coupling},
      {"loaded Q", CAVUM_UNIT_SI, plan->state.q_loaded},
      {"energy decay time", CAVUM_UNIT_S, plan->state.decay_time_s},
      {"bandwidth f/Q_L", CAVUM_UNIT_HZ, plan->state.bandwidth_hz},
      {"stored energy", CAVUM_UNIT_J, plan->stored_energy_j},
      {"voltage", CAVUM_UNIT_MV, plan->voltage_v},
      {"peak electric field", CAVUM_UNIT_MV_PER_M, plan->e_peak_v_per_m},
      {"peak magnetic field", CAVUM_UNIT_MILLITESLA, plan->b_peak_t},
      {"surface resistance", CAVUM_UNIT_NOHM, plan->surface_resistance_ohm}};
  fprintf(out, "\nPlan for E_acc %.5g MV/m, Q0 %.4g, Q_e %.4g (%s)\n",
          cavum_in_mv_per_m(request->e_acc_v_per_m), request->q0, request->q_external,
          side_of(plan->state.coupling));
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    if (isfinite(rows[i].value_si)) {
      fprintf(out, "  %-36s%.6g %s\n", rows[i].name, cavum_in_unit(rows[i].value_si, rows[i].unit),
              cavum_unit_symbol(rows[i].unit));
    }
  }
  print_expected(out, "a reading with a decay time", &plan->by_decay);
  if (isfinite(request->q_pickup)) {
    print_expected(out, "a reading by the pickup", &plan->by_pickup);
  }
  print_shares(out, setup, plan);
}

static void print_dbm(FILE *out, double power_w) {
  double milliwatts = cavum_in_unit(power_w, CAVUM_UNIT_MILLIWATT);
  if (milliwatts > 0.0) {
    fprintf(out, " %11.2f", 10.0 * log10(milliwatts));
  } else {
    fprintf(out, " %11s", "-");
  }
}

static void print_percent(FILE *out, bool possible, double relative) {
  if (possible) fprintf(out, " %8.2f", cavum_in_percent(relative));
  if (!possible) fprintf(out, " %8s", "-");
}

static void print_row(FILE *out, const cavum_coldtest_setup *setup, const cavum_plan *plan,
                      const cavum_plan_request *request) {
  static const cavum_coldtest_channel_id channels[] = {
      CAVUM_CHANNEL_FORWARD, CAVUM_CHANNEL_REFLECTED, CAVUM_CHANNEL_TRANSMITTED,
      CAVUM_CHANNEL_EMITTED};
  const cavum_plan_expected *expected =
      plan->by_pickup.possible ? &plan->by_pickup : &plan->by_decay;
  int above = 0;
  fprintf(out, "  %8.4g %9.3g", cavum_in_mv_per_m(request->e_acc_v_per_m), request->q0);
  for (int i = 0; i < 4; i++) print_dbm(out, plan->meter_w[channels[i]]);
  fprintf(out, " %8.4g %8.3g", plan->state.decay_time_s, plan->state.wall_power_w);
  print_percent(out, expected->possible, expected->q0_relative);
  print_percent(out, expected->possible, expected->e_acc_relative);
  for (int i = 0; i < setup->num_limits; i++) above += plan->limit_share[i] > 1.0;
  if (above > 0) fprintf(out, "  above %d limit%s", above, above == 1 ? "" : "s");
  fputc('\n', out);
}

void cavum_coldtest_table_print_plans(FILE *out, const cavum_coldtest_report *report) {
  const cavum_coldtest_file *file = &report->file;
  if (report->num_plans == 0) return;
  fprintf(out,
          "\nWhat the meters show (dBm, through the stated chains), and what to expect\n"
          "  %8s %9s %11s %11s %11s %11s %8s %8s %8s %8s\n  %8s %9s %11s %11s %11s %11s %8s %8s "
          "%8s %8s\n",
          "E_acc", "Q0", "forward", "reflected", "transmitted", "emitted", "decay", "P_d", "u(Q0)",
          "u(E_acc)", "MV/m", "", "dBm", "dBm", "dBm", "dBm", "s", "W", "%", "%");
  for (int i = 0; i < report->num_plans; i++) {
    print_row(out, &file->setup, &report->plans[i], &file->plans[i]);
  }
  fputs(
      "  u: of a reading by the pickup where Q_t is stated, else with a decay time; k = "
      "1\n",
      out);
  for (int i = 0; i < report->num_plans && i < MOST_IN_FULL; i++) {
    print_plan(out, &file->setup, &report->plans[i], &file->plans[i]);
  }
  if (report->num_plans > MOST_IN_FULL) {
    fprintf(out, "\n  ... %d more plans in full: --json, --output\n",
            report->num_plans - MOST_IN_FULL);
  }
}
