// SPDX-License-Identifier: GPL-3.0-or-later
// Limits as lines. With w U = (E L)^2 / (R/Q): P_d = w U / Q0, and from the circuit model
// P_f = (1 + beta*)^2 / (4 beta*) (w U / Q_eff) = w U Q_e / (4 Q_L^2) [Padamsee1998] ch. 8.
#include "picture/coldtest_limits.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"

enum { LINE_POINTS = 96 };

// w U at a gradient, in W.
static double flow_w(const cavum_stored_coldtest *test, double mv_per_m) {
  double voltage = cavum_from_unit(mv_per_m, CAVUM_UNIT_MV_PER_M) * test->accelerating_length_m;
  return voltage * voltage / test->r_over_q_linac_ohm;
}

static bool has_cavity(const cavum_stored_coldtest *test) {
  return test->r_over_q_linac_ohm > 0.0 && test->accelerating_length_m > 0.0;
}

double cavum_test_limit_gradient_v_per_m(const cavum_stored_coldtest *test,
                                         const cavum_stored_limit *limit) {
  if (strcmp(limit->quantity, "gradient_V_per_m") == 0) return limit->value;
  if (strcmp(limit->quantity, "peak_electric_field_V_per_m") == 0 && test->epk_over_eacc > 0.0) {
    return limit->value / test->epk_over_eacc;
  }
  if (strcmp(limit->quantity, "peak_magnetic_field_T") == 0 &&
      test->bpk_over_eacc_t_per_v_per_m > 0.0) {
    return limit->value / test->bpk_over_eacc_t_per_v_per_m;
  }
  return NAN;
}

static double quality_at_wall_power(const cavum_stored_coldtest *test, double mv_per_m,
                                    double power_w) {
  return flow_w(test, mv_per_m) / power_w;
}

// Q0 that needs just this forward power; NAN where less does whatever Q0 is, or none is enough.
static double quality_at_forward_power(const cavum_stored_coldtest *test, double mv_per_m,
                                       double power_w, double q_external) {
  double inverse_loaded = sqrt(4.0 * power_w / (flow_w(test, mv_per_m) * q_external));
  double inverse = inverse_loaded - 1.0 / q_external;
  if (test->q_pickup > 0.0 && isfinite(test->q_pickup)) inverse -= 1.0 / test->q_pickup;
  return inverse > 0.0 ? 1.0 / inverse : NAN;
}

static void add_line(cavum_chart *chart, const cavum_stored_coldtest *test,
                     const cavum_stored_limit *limit, double q_external, double high) {
  char name[96], text[CAVUM_CHART_TEXT_SIZE];
  bool forward = strcmp(limit->quantity, "forward_power_W") == 0;
  bool bath = strcmp(limit->quantity, "bath_heat_W") == 0;
  if (!forward && !bath && strcmp(limit->quantity, "wall_power_W") != 0) return;
  // What the bath has left for the wall.
  double power_w = limit->value - (bath ? test->static_heat_w : 0.0);
  if (!(power_w > 0.0) || (bath && !(test->static_heat_w > 0.0))) return;
  if (!has_cavity(test) || (forward && !(q_external > 0.0))) return;
  cavum_chart_quote(name, sizeof name, limit->name);
  snprintf(text, sizeof text, "%s, %s %.4g W", name, forward ? "forward power" : "dissipated power",
           power_w);
  if (bath) {
    snprintf(text, sizeof text, "%s, %.4g W with %.4g W of static heat", name, limit->value,
             test->static_heat_w);
  }
  cavum_chart_series *line = cavum_chart_add(chart, LINE_POINTS, text);
  if (!line) return;
  line->beside = true;
  line->ink = forward ? CAVUM_INK_FOURTH : bath ? CAVUM_INK_MUTED : CAVUM_INK_FIRST;
  line->dash = CAVUM_DASH_LONG;
  line->width = 1.4;
  for (int i = 1; i <= LINE_POINTS; i++) {
    double e = high * i / LINE_POINTS;
    cavum_chart_put(line, e,
                    forward ? quality_at_forward_power(test, e, power_w, q_external)
                            : quality_at_wall_power(test, e, power_w),
                    0.0, 0.0);
  }
}

void cavum_test_add_limits(cavum_chart *chart, const cavum_stored_coldtest *test, double q_external,
                           double high_mv_per_m) {
  for (int i = 0; i < test->num_limits; i++) {
    const cavum_stored_limit *limit = &test->limits[i];
    char name[96], text[CAVUM_CHART_TEXT_SIZE];
    double at = cavum_in_mv_per_m(cavum_test_limit_gradient_v_per_m(test, limit));
    add_line(chart, test, limit, q_external, high_mv_per_m);
    cavum_chart_quote(name, sizeof name, limit->name);
    snprintf(text, sizeof text, "%s, %.4g MV/m", name, at);
    cavum_chart_add_rule(chart, true, at, CAVUM_INK_FIRST, text);
  }
}

void cavum_test_add_power_lines(cavum_chart *chart, const cavum_stored_coldtest *test,
                                double high_mv_per_m) {
  const char *text = "constant dissipated power";
  for (int exponent = -3; exponent <= 4 && has_cavity(test); exponent++) {
    double power_w = pow(10.0, exponent);
    cavum_chart_series *line = cavum_chart_add(chart, LINE_POINTS, text);
    if (!line) return;
    text = "";
    line->beside = line->guide = true;
    line->ink = CAVUM_INK_FRAME;
    line->dash = CAVUM_DASH_LONG;
    line->width = 0.7;
    snprintf(line->end, sizeof line->end, "%g W", power_w);
    // Equal steps of ln E, so that steep lines are as smooth as flat ones.
    for (int i = 0; i < LINE_POINTS; i++) {
      double e = high_mv_per_m * pow(1e-3, 1.0 - i / (LINE_POINTS - 1.0));
      cavum_chart_put(line, e, quality_at_wall_power(test, e, power_w), 0.0, 0.0);
    }
  }
}
