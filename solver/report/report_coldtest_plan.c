// SPDX-License-Identifier: GPL-3.0-or-later
// Plans as tables.
#include "report/report_coldtest_plan.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "picture/coldtest_plan.h"

#define DASH "\xe2\x80\x93"

static void format(char text[96], const char *form, double value) {
  char number[64];
  snprintf(number, sizeof number, DASH);
  if (isfinite(value)) snprintf(number, sizeof number, form, value);
  cavum_html_beautify(text, 96, number);
}

static void write_meters(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"#E_acc in MV/m",
                                        "#Q0",
                                        "#Q_e",
                                        "#beta*",
                                        "#forward in dBm",
                                        "#reflected in dBm",
                                        "#transmitted in dBm",
                                        "#emitted in dBm",
                                        "#decay time in s",
                                        "#f/Q_L in Hz",
                                        "#P_forward in W",
                                        "#P_d in W"};
  enum { COLUMNS = sizeof columns / sizeof *columns };
  cavum_html_begin_table(
      html, "What the meters will show, through the stated chains; emitted power at switch-off",
      COLUMNS, columns);
  for (int i = 0; i < test->num_plans; i++) {
    const cavum_stored_plan *p = &test->plans[i];
    const struct {
      const char *form;
      double value;
    } parts[COLUMNS] = {{"%.5g", cavum_in_mv_per_m(p->gradient_v_per_m)},
                        {"%.3e", p->q0},
                        {"%.3e", p->q_external},
                        {"%.4g", p->coupling},
                        {"%.2f", cavum_test_plan_dbm(p->forward_meter_w)},
                        {"%.2f", cavum_test_plan_dbm(p->reflected_meter_w)},
                        {"%.2f", cavum_test_plan_dbm(p->transmitted_meter_w)},
                        {"%.2f", cavum_test_plan_dbm(p->emitted_meter_w)},
                        {"%.4g", p->decay_time_s},
                        {"%.4g", p->bandwidth_hz},
                        {"%.4g", p->forward_w},
                        {"%.4g", p->wall_power_w}};
    char cells[COLUMNS][96];
    const char *row[COLUMNS];
    for (int k = 0; k < COLUMNS; k++) {
      format(cells[k], parts[k].form, parts[k].value);
      row[k] = cells[k];
    }
    cavum_html_row(html, COLUMNS, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_share(char text[160], const char *input, double share) {
  snprintf(text, 160, DASH);
  if (input[0] && isfinite(share)) {
    snprintf(text, 160, "%.120s (%.0f %% of the variance)", input, cavum_in_percent(share));
  }
}

static void write_expected(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {
      "#E_acc in MV/m", "#Q0", "by", "#u(Q0) in %", "mostly from", "#u(E_acc) in %", "mostly from"};
  static const char *const ways[CAVUM_NUM_STORED_WAYS] = {
      [CAVUM_STORED_BY_DECAY_TIME] = "decay time", [CAVUM_STORED_BY_PICKUP] = "pickup"};
  enum { COLUMNS = sizeof columns / sizeof *columns };
  cavum_html_begin_table(html, "Standard uncertainties to expect, and which input dominates them",
                         COLUMNS, columns);
  for (int i = 0; i < test->num_plans; i++) {
    const cavum_stored_plan *p = &test->plans[i];
    for (int way = 0; way < CAVUM_NUM_STORED_WAYS; way++) {
      const cavum_stored_expected *e = &p->expected[way];
      char cells[4][96], inputs[2][160];
      if (!isfinite(e->q0_relative)) continue;
      format(cells[0], "%.5g", cavum_in_mv_per_m(p->gradient_v_per_m));
      format(cells[1], "%.3e", p->q0);
      format(cells[2], "%.3g", cavum_in_percent(e->q0_relative));
      format(cells[3], "%.3g", cavum_in_percent(e->gradient_relative));
      write_share(inputs[0], e->q0_input, e->q0_share);
      write_share(inputs[1], e->gradient_input, e->gradient_share);
      const char *row[] = {cells[0], cells[1], ways[way], cells[2], inputs[0], cells[3], inputs[1]};
      cavum_html_row(html, COLUMNS, row, columns);
    }
  }
  cavum_html_end_table(html);
}

static void write_limits(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"#E_acc in MV/m", "#Q0", "limit", "#share", "source"};
  if (test->num_limits == 0) return;
  cavum_html_begin_table(html, "How near the limits are; none is a pass mark", 5, columns);
  for (int i = 0; i < test->num_plans; i++) {
    const cavum_stored_plan *p = &test->plans[i];
    char cells[2][96], share[32];
    format(cells[0], "%.5g", cavum_in_mv_per_m(p->gradient_v_per_m));
    format(cells[1], "%.3e", p->q0);
    for (int k = 0; k < test->num_limits && p->limit_share; k++) {
      if (!isfinite(p->limit_share[k])) continue;
      snprintf(share, sizeof share, "%.1f %%%s", cavum_in_percent(p->limit_share[k]),
               p->limit_share[k] > 1.0 ? " above it" : "");
      const char *row[] = {cells[0], cells[1], test->limits[k].name, share, test->limits[k].source};
      cavum_html_row(html, 5, row, columns);
    }
  }
  cavum_html_end_table(html);
}

void cavum_report_coldtest_write_plans(cavum_html *html, const cavum_stored_coldtest *test) {
  if (test->num_plans == 0) return;
  cavum_html_heading(html, 2, "plan", "Plan");
  write_meters(html, test);
  write_expected(html, test);
  write_limits(html, test);
}
