// SPDX-License-Identifier: GPL-3.0-or-later
// Plans on a page.
#include "picture/coldtest_plan.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/flow.h"
#include "canvas/ticks.h"
#include "picture/coldtest_limits.h"

static const double ROW_HEIGHT = 14.0;
enum { NOTE_LINES = 12 };

const cavum_stored_expected *cavum_test_plan_expected(const cavum_stored_plan *plan, int *way) {
  for (int k = CAVUM_NUM_STORED_WAYS - 1; k >= 0; k--) {
    if (way) *way = k;
    if (isfinite(plan->expected[k].q0_relative)) return &plan->expected[k];
  }
  return NULL;
}

void cavum_test_plan_exceeds(char *text, size_t size, const cavum_stored_coldtest *test,
                             const cavum_stored_plan *plan) {
  size_t n = 0;
  text[0] = '\0';
  for (int i = 0; plan->limit_share && i < test->num_limits && n < size; i++) {
    if (!(plan->limit_share[i] > 1.0)) continue;
    n +=
        (size_t)snprintf(text + n, size - n, "%s%s", n > 0 ? ", " : "above ", test->limits[i].name);
  }
}

double cavum_test_plan_dbm(double power_w) {
  return power_w > 0.0 ? 10.0 * log10(cavum_in_unit(power_w, CAVUM_UNIT_MILLIWATT)) : NAN;
}

// Columns of the table: right ends of numbers, in points from the margin.
static const struct {
  const char *name, *unit;
  double right;
} COLUMNS[] = {{"E_{acc}", "MV/m", 36.0}, {"Q_{0}", "", 88.0},       {"Q_{e}", "", 140.0},
               {"P_{f}", "dBm", 186.0},   {"P_{r}", "dBm", 234.0},   {"P_{t}", "dBm", 290.0},
               {"P_{e}", "dBm", 336.0},   {"\xcf\x84", "s", 378.0},  {"P_{d}", "W", 424.0},
               {"u(Q_{0})", "%", 462.0},  {"u(E_{acc})", "%", 504.0}};
enum { NUM_COLUMNS = sizeof COLUMNS / sizeof *COLUMNS };
static const double WORDS_LEFT = 516.0;

static void write_number(char text[24], double value, int digits) {
  snprintf(text, 24, "\xe2\x80\x93");
  if (isfinite(value)) cavum_ticks_format(text, value, digits);
}

static void write_decibels(char text[24], double power_w) {
  double dbm = cavum_test_plan_dbm(power_w);
  snprintf(text, 24, "\xe2\x80\x93");
  if (!isfinite(dbm)) return;
  snprintf(text, 24, "%s%.2f", dbm < 0.0 ? "\xe2\x88\x92" : "", fabs(dbm));
}

// A part of the table: its columns, and whether words stand behind them.
typedef struct table_part {
  int count, columns[NUM_COLUMNS];
  bool words;
} table_part;

// Where the whole table is too wide, parts of it stand below each other, each with its gradients.
static const table_part WHOLE = {NUM_COLUMNS, {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, true};
static const table_part PARTS[] = {
    {5, {0, 1, 2, 3, 4}, false}, {5, {0, 5, 6, 7, 8}, false}, {3, {0, 9, 10}, true}};
enum { NUM_PARTS = sizeof PARTS / sizeof *PARTS };
static const double LEAST_WORDS = 100.0, BETWEEN_PARTS = 8.0;
// Right ends of the columns of a part.
static const double PART_RIGHTS[] = {38.0, 102.0, 166.0, 216.0, 266.0};

static double right_of(const table_part *part, int k) {
  double right = part == &WHOLE ? COLUMNS[part->columns[k]].right : PART_RIGHTS[k];
  return CAVUM_PAGE_MARGIN + right;
}

static double words_of(const table_part *part) {
  return part == &WHOLE ? CAVUM_PAGE_MARGIN + WORDS_LEFT : right_of(part, part->count - 1) + 12.0;
}

static void fill_cells(char cells[NUM_COLUMNS][24], const cavum_stored_plan *plan,
                       const cavum_stored_expected *expected) {
  write_number(cells[0], cavum_in_mv_per_m(plan->gradient_v_per_m), 4);
  write_number(cells[1], plan->q0, 3);
  write_number(cells[2], plan->q_external, 3);
  write_decibels(cells[3], plan->forward_meter_w);
  write_decibels(cells[4], plan->reflected_meter_w);
  write_decibels(cells[5], plan->transmitted_meter_w);
  write_decibels(cells[6], plan->emitted_meter_w);
  write_number(cells[7], plan->decay_time_s, 3);
  write_number(cells[8], plan->wall_power_w, 3);
  write_number(cells[9], expected ? cavum_in_percent(expected->q0_relative) : NAN, 2);
  write_number(cells[10], expected ? cavum_in_percent(expected->gradient_relative) : NAN, 2);
}

static void draw_row(cavum_page *page, const cavum_stored_coldtest *test,
                     const cavum_stored_plan *plan, const table_part *part) {
  const cavum_stored_expected *expected = cavum_test_plan_expected(plan, NULL);
  char cells[NUM_COLUMNS][24], above[160], words[320];
  fill_cells(cells, plan, expected);
  cavum_test_plan_exceeds(above, sizeof above, test, plan);
  const cavum_text_style number = {
      .size = 9.0, .ink = above[0] ? CAVUM_INK_FIRST : CAVUM_INK_TEXT, .anchor = CAVUM_ANCHOR_END};
  const cavum_text_style text = {.size = 9.0, .ink = number.ink, .plain = true};
  for (int k = 0; k < part->count; k++) {
    cavum_canvas_text(page->canvas, right_of(part, k), page->y, cells[part->columns[k]], &number);
  }
  double next = page->y + ROW_HEIGHT;
  if (part->words) {
    snprintf(words, sizeof words, "%s%s%s", above, above[0] ? "; " : "",
             expected ? expected->q0_input : "no result");
    double left = words_of(part), room = page->width - CAVUM_PAGE_MARGIN - left;
    double behind =
        cavum_flow_write_text(page->canvas, left, page->y, room, words, &text, NOTE_LINES);
    next = cavum_max(next, behind + 2.0);
  }
  page->y = next;
}

static void draw_part(cavum_page *page, const cavum_stored_coldtest *test, const table_part *part) {
  const cavum_text_style head = {
      .size = 9.0, .ink = CAVUM_INK_MUTED, .anchor = CAVUM_ANCHOR_END, .bold = true};
  const cavum_text_style left = {.size = 9.0, .ink = CAVUM_INK_MUTED, .bold = true};
  for (int k = 0; k < part->count; k++) {
    double x = right_of(part, k);
    cavum_canvas_text(page->canvas, x, page->y, COLUMNS[part->columns[k]].name, &head);
    cavum_canvas_text(page->canvas, x, page->y + ROW_HEIGHT, COLUMNS[part->columns[k]].unit, &head);
  }
  if (part->words) {
    cavum_canvas_text(page->canvas, words_of(part), page->y, "u(Q_{0}) mostly from", &left);
  }
  page->y += 2.0 * ROW_HEIGHT;
  for (int i = 0; i < test->num_plans; i++) draw_row(page, test, &test->plans[i], part);
}

void cavum_test_plan_draw_table(cavum_page *page, const cavum_stored_coldtest *test) {
  const cavum_text_style small = {.size = 9.0, .ink = CAVUM_INK_MUTED};
  if (test->num_plans == 0) return;
  page->y += 16.0;
  if (page->width - 2.0 * CAVUM_PAGE_MARGIN - WORDS_LEFT >= LEAST_WORDS) {
    draw_part(page, test, &WHOLE);
  } else {
    for (int i = 0; i < NUM_PARTS; i++) {
      draw_part(page, test, &PARTS[i]);
      page->y += BETWEEN_PARTS;
    }
  }
  page->y = cavum_flow_write_text(
      page->canvas, CAVUM_PAGE_MARGIN, page->y + 4.0, page->width - 2.0 * CAVUM_PAGE_MARGIN,
      "P_{f}, P_{r}, P_{t}, P_{e}: forward, reflected, transmitted and emitted power as the meters "
      "show them, through the stated chains. \xcf\x84: energy decay time. u: standard uncertainty "
      "of "
      "a reading by the pickup where Q_{t} is stated, else with a decay time.",
      &small, NOTE_LINES);
}

// Values over the gradient, one line for each pair of Q0 and Q_e; the text of the first is in the
// key.
typedef double plan_value(const cavum_stored_plan *plan);

static bool same_line(const cavum_stored_plan *a, const cavum_stored_plan *b) {
  return a->q0 == b->q0 && a->q_external == b->q_external && a->q_pickup == b->q_pickup;
}

static bool is_first_of_line(const cavum_stored_coldtest *test, int index) {
  for (int i = 0; i < index; i++) {
    if (same_line(&test->plans[i], &test->plans[index])) return false;
  }
  return true;
}

static void add_line(cavum_chart *chart, const cavum_stored_coldtest *test, int first,
                     plan_value *value, cavum_ink ink, bool named) {
  cavum_chart_series *line = cavum_chart_add(chart, test->num_plans, "");
  if (!line) return;
  line->ink = ink;
  line->width = 0.8;
  char q0[24];
  cavum_ticks_format(q0, test->plans[first].q0, 2);
  if (named) snprintf(line->end, sizeof line->end, "%.15s", q0);
  for (int i = first; i < test->num_plans; i++) {
    const cavum_stored_plan *plan = &test->plans[i];
    if (!same_line(plan, &test->plans[first])) continue;
    cavum_chart_put(line, cavum_in_mv_per_m(plan->gradient_v_per_m), value(plan), 0.0, 0.0);
  }
}

static void add_values(cavum_chart *chart, const cavum_stored_coldtest *test, plan_value *value,
                       const char *text, cavum_plot_mark mark, cavum_ink ink) {
  bool named = chart->num_series == 0;  // Lines of the other values stand near those of the first.
  for (int i = 0; i < test->num_plans; i++) {
    if (is_first_of_line(test, i)) add_line(chart, test, i, value, ink, named);
  }
  cavum_chart_series *marks = cavum_chart_add(chart, test->num_plans, text);
  if (!marks) return;
  marks->points = true;
  marks->mark = mark;
  marks->ink = ink;
  for (int i = 0; i < test->num_plans; i++) {
    cavum_chart_put(marks, cavum_in_mv_per_m(test->plans[i].gradient_v_per_m),
                    value(&test->plans[i]), 0.0, 0.0);
  }
}

static void set_axes(cavum_chart *chart, const char *y_label, const char *y_unit) {
  cavum_chart_over_gradient(chart);
  chart->y_label = y_label;
  chart->y_unit = y_unit;
  chart->from_zero = true;
}

static double highest(const cavum_stored_coldtest *test) {
  double most = 0.0;
  for (int i = 0; i < test->num_plans; i++) {
    most = cavum_max(most, cavum_in_mv_per_m(test->plans[i].gradient_v_per_m));
  }
  return most;
}

// Q_e of all plans; 0 where they differ.
static double common_external(const cavum_stored_coldtest *test) {
  for (int i = 1; i < test->num_plans; i++) {
    if (test->plans[i].q_external != test->plans[0].q_external) return 0.0;
  }
  return test->plans[0].q_external;
}

void cavum_test_chart_plan(cavum_chart *chart, const cavum_stored_coldtest *test) {
  chart->name = "plan";
  chart->caption = "Planned gradients and Q0 among the stated limits.";
  set_axes(chart, "Q_{0}", "");
  chart->logarithmic = true;
  if (test->num_plans == 0) return;
  double high = 1.7 * highest(test), q_external = common_external(test);
  cavum_stored_coldtest planned = *test;
  planned.q_pickup = test->plans[0].q_pickup;
  cavum_test_add_power_lines(chart, test, high);
  cavum_test_add_limits(chart, &planned, q_external, high);
  cavum_chart_series *marks = cavum_chart_add(chart, test->num_plans, "planned");
  if (!marks) return;
  marks->points = true;
  for (int i = 0; i < test->num_plans; i++) {
    const cavum_stored_plan *plan = &test->plans[i];
    const cavum_stored_expected *e = cavum_test_plan_expected(plan, NULL);
    double gradient = cavum_in_mv_per_m(plan->gradient_v_per_m);
    cavum_chart_put(marks, gradient, plan->q0, e ? gradient * e->gradient_relative : 0.0,
                    e ? plan->q0 * e->q0_relative : 0.0);
  }
  snprintf(chart->remark, sizeof chart->remark, "Bars: uncertainties to expect, k = 1.%s",
           q_external > 0.0 ? "" : " Plans of several Q_e: no lines of forward power.");
}

static double forward_dbm(const cavum_stored_plan *p) {
  return cavum_test_plan_dbm(p->forward_meter_w);
}
static double reflected_dbm(const cavum_stored_plan *p) {
  return cavum_test_plan_dbm(p->reflected_meter_w);
}
static double transmitted_dbm(const cavum_stored_plan *p) {
  return cavum_test_plan_dbm(p->transmitted_meter_w);
}
static double emitted_dbm(const cavum_stored_plan *p) {
  return cavum_test_plan_dbm(p->emitted_meter_w);
}

void cavum_test_chart_plan_meters(cavum_chart *chart, const cavum_stored_coldtest *test) {
  chart->name = "plan-meters";
  chart->caption =
      "What the meters will show, through the stated chains; a line for each Q0, named at "
      "its end.";
  set_axes(chart, "meter in dBm", "dBm");
  if (test->num_plans == 0) return;
  add_values(chart, test, forward_dbm, "forward", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND);
  add_values(chart, test, reflected_dbm, "reflected", CAVUM_MARK_SQUARE, CAVUM_INK_FIRST);
  add_values(chart, test, transmitted_dbm, "transmitted", CAVUM_MARK_DIAMOND, CAVUM_INK_THIRD);
  add_values(chart, test, emitted_dbm, "emitted, at switch-off", CAVUM_MARK_TRIANGLE,
             CAVUM_INK_FOURTH);
}

static double forward_w(const cavum_stored_plan *p) { return p->forward_w; }
static double wall_w(const cavum_stored_plan *p) { return p->wall_power_w; }

void cavum_test_chart_plan_powers(cavum_chart *chart, const cavum_stored_coldtest *test) {
  chart->name = "plan-powers";
  chart->caption =
      "Forward power at the cavity and dissipated power with their limits; a line for each Q0, "
      "named at its end.";
  set_axes(chart, "P in W", "W");
  chart->logarithmic = true;
  if (test->num_plans == 0) return;
  add_values(chart, test, forward_w, "forward power", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND);
  add_values(chart, test, wall_w, "dissipated power", CAVUM_MARK_SQUARE, CAVUM_INK_FIRST);
  for (int i = 0; i < test->num_limits; i++) {
    const cavum_stored_limit *limit = &test->limits[i];
    bool forward = strcmp(limit->quantity, "forward_power_W") == 0;
    bool bath = strcmp(limit->quantity, "bath_heat_W") == 0;
    if (!forward && !bath && strcmp(limit->quantity, "wall_power_W") != 0) continue;
    if (bath && !(test->static_heat_w > 0.0)) continue;
    double power_w = limit->value - (bath ? test->static_heat_w : 0.0);
    char name[96], text[CAVUM_CHART_TEXT_SIZE];
    cavum_chart_quote(name, sizeof name, limit->name);
    snprintf(text, sizeof text, "%s, %.4g W%s", name, power_w,
             bath ? " beside the static heat" : "");
    cavum_chart_add_rule(chart, false, power_w,
                         forward ? CAVUM_INK_SECOND
                         : bath  ? CAVUM_INK_MUTED
                                 : CAVUM_INK_FIRST,
                         text);
  }
}

static double q0_percent(const cavum_stored_plan *p) {
  const cavum_stored_expected *e = cavum_test_plan_expected(p, NULL);
  return e ? cavum_in_percent(e->q0_relative) : NAN;
}
static double gradient_percent(const cavum_stored_plan *p) {
  const cavum_stored_expected *e = cavum_test_plan_expected(p, NULL);
  return e ? cavum_in_percent(e->gradient_relative) : NAN;
}

void cavum_test_chart_plan_expected(cavum_chart *chart, const cavum_stored_coldtest *test) {
  chart->name = "plan-expected";
  chart->caption = "Relative standard uncertainty to expect; a line for each Q0, named at its end.";
  set_axes(chart, "u in %", "%");
  if (test->num_plans == 0) return;
  add_values(chart, test, q0_percent, "u(Q_{0})", CAVUM_MARK_CIRCLE, CAVUM_INK_SECOND);
  add_values(chart, test, gradient_percent, "u(E_{acc})", CAVUM_MARK_SQUARE, CAVUM_INK_FIRST);
}

void cavum_test_chart_plan_decay(cavum_chart *chart, const cavum_stored_coldtest *test) {
  chart->name = "plan-decay";
  chart->caption = "Energy decay time to expect against Q0.";
  set_axes(chart, "decay time in s", "s");
  chart->x_name = "Q0";
  chart->x_unit = "";
  chart->x_label = "Q_{0} in 10^{10}";
  if (test->num_plans == 0) return;
  cavum_chart_series *marks = cavum_chart_add(chart, test->num_plans, "planned");
  if (!marks) return;
  marks->points = true;
  for (int i = 0; i < test->num_plans; i++) {
    cavum_chart_put(marks, 1e-10 * test->plans[i].q0, test->plans[i].decay_time_s, 0.0, 0.0);
  }
}
