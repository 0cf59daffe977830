// SPDX-License-Identifier: GPL-3.0-or-later
// The report of a cold test: readings with uncertainties, curves, budget, cautions.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/coldtest.h"
#include "format/quantity.h"
#include "picture/coldtest_budget.h"
#include "picture/coldtest_charts.h"
#include "picture/coldtest_readings.h"
#include "picture/coldtest_view.h"
#include "report/chart_html.h"
#include "report/formula.h"
#include "report/html.h"
#include "report/report_coldtest_plan.h"
#include "report/report_coldtest_series.h"
#include "report/report_private.h"

// Rows of the table of readings; what is beyond is in the file.
enum { MOST_ROWS = 2000 };

static const char meaning[] =
    "Uncertainties are standard (k = 1), propagated with all correlations: 1.76(4)\xc3\x97"
    "10\xc2\xb9\xe2\x81\xb0"
    " is 1.76 \xc2\xb1 0.04 in units of 10\xc2\xb9\xe2\x81\xb0. E_acc = sqrt(R/Q \xcf\x89U) / "
    "L_acc "
    "with R/Q in the linac convention, V\xc2\xb2/(\xcf\x89U); Q0 = \xcf\x89U / P_d; R_s = G / "
    "Q0. "
    "The coupling is that of the whole cavity, beta* = P_e / (P_d + P_t).";

static double value_at(const cavum_stored_coldtest *test, int column, int i) {
  return test->column[column] ? test->column[column][i] : NAN;
}

static void write_row(cavum_html *html, const cavum_stored_coldtest *test, int i,
                      const char *const *columns) {
  static const struct {
    int value, uncertainty;
    cavum_unit unit;
  } parts[] = {{CAVUM_STORED_GRADIENT, CAVUM_STORED_GRADIENT_U, CAVUM_UNIT_MV_PER_M},
               {CAVUM_STORED_Q0, CAVUM_STORED_Q0_U, CAVUM_UNIT_SI},
               {CAVUM_STORED_RESISTANCE, CAVUM_STORED_RESISTANCE_U, CAVUM_UNIT_NOHM},
               {CAVUM_STORED_WALL_POWER, CAVUM_STORED_WALL_POWER_U, CAVUM_UNIT_W},
               {CAVUM_STORED_COUPLING, CAVUM_STORED_COUPLING_U, CAVUM_UNIT_SI},
               {CAVUM_STORED_PEAK_E, CAVUM_STORED_PEAK_E_U, CAVUM_UNIT_MV_PER_M},
               {CAVUM_STORED_PEAK_B, CAVUM_STORED_PEAK_B_U, CAVUM_UNIT_MILLITESLA}};
  enum { PARTS = sizeof parts / sizeof parts[0] };
  char cells[PARTS + 3][96];
  const char *row[PARTS + 5];
  snprintf(cells[0], 96, "%d", i + 1);
  for (int k = 0; k < PARTS; k++) {
    cavum_report_format(cells[k + 1], value_at(test, parts[k].value, i),
                        value_at(test, parts[k].uncertainty, i), parts[k].unit);
  }
  double temperature = value_at(test, CAVUM_STORED_TEMPERATURE, i);
  snprintf(cells[PARTS + 1], 96, isfinite(temperature) ? "%.3f" : "\xe2\x80\x93", temperature);
  cavum_test_view_branch(cells[PARTS + 2], test, i);
  // The branch stands beside the gradient, which hangs on it.
  row[0] = cells[0];
  row[1] = cells[1];
  row[2] = cells[PARTS + 2];
  for (int k = 2; k < PARTS + 2; k++) row[k + 1] = cells[k];
  row[PARTS + 3] = value_at(test, CAVUM_STORED_BY_DECAY, i) > 0.0 ? "decay" : "pickup";
  double run = value_at(test, CAVUM_STORED_RUN, i);
  bool named = run >= 1.0 && run <= test->runs.count;
  row[PARTS + 4] = named ? test->runs.name[(int)run - 1] : "\xe2\x80\x93";
  cavum_html_row(html, PARTS + 4 + (test->runs.count > 0), row, columns);
}

static void write_notes(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"reading", "note"};
  char number[16];
  if (!test->notes) return;
  cavum_html_begin_table(html, "Notes taken with the readings", 2, columns);
  for (int i = 0; i < test->num_points && i < MOST_ROWS; i++) {
    const char *row[] = {number, test->notes[i]};
    snprintf(number, sizeof number, "%d", i + 1);
    if (test->notes[i][0]) cavum_html_row(html, 2, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_readings(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {
      "reading",           "#E_acc in MV/m", "branch", "#Q0",
      "#R_s in n\xce\xa9", "#P_d in W",      "#beta*", "#E_pk in MV/m",
      "#B_pk in mT",       "#T in K",        "from",   "run"};
  cavum_html_heading(html, 2, "readings", "Readings");
  cavum_html_begin_table(html, "Results of the readings", test->runs.count > 0 ? 12 : 11, columns);
  for (int i = 0; i < test->num_points && i < MOST_ROWS; i++) write_row(html, test, i, columns);
  cavum_html_end_table(html);
  if (test->num_points > MOST_ROWS) {
    cavum_html_paragraph(html, "note", "The first 2000 readings; the others are in the file.");
  }
  write_notes(html, test);
  cavum_html_paragraph(html, "note", meaning);
}

// Flags that some reading has, with the readings that have them.
static void write_flags(cavum_html *html, const cavum_stored_coldtest *test) {
  const double *flags = test->column[CAVUM_STORED_FLAGS];
  bool open = false;
  for (int flag = 0; flags && flag < CAVUM_NUM_FLAGS; flag++) {
    int count = 0, first = 0;
    for (int i = test->num_points - 1; i >= 0; i--) {
      if (!(flags[i] >= 0.0) || !((uint32_t)flags[i] >> flag & 1u)) continue;
      count++;
      first = i + 1;
    }
    if (count == 0) continue;
    if (!open) {
      fputs("<div class=\"caution\" role=\"note\"><strong>Read with care</strong><ul>\n",
            html->out);
    }
    open = true;
    fputs("<li>", html->out);
    cavum_formula_write(html->out, cavum_coldtest_flag_text((cavum_coldtest_flag)flag), false);
    fprintf(html->out, " (%d of %d readings, the first is %d)</li>\n", count, test->num_points,
            first);
  }
  if (open) fputs("</ul></div>\n", html->out);
}

static void write_lines(cavum_html *html, const char *head, const char *text) {
  if (!text[0]) return;
  fprintf(html->out, "<div class=\"caution\" role=\"note\"><strong>%s</strong>\n<ul>\n", head);
  for (const char *line = text; *line;) {
    size_t length = strcspn(line, "\n");
    if (length > 0) {
      fputs("<li>", html->out);
      cavum_markup_write_bytes(html->out, line, length);
      fputs("</li>\n", html->out);
    }
    line += length;
    if (*line) line++;
  }
  fputs("</ul></div>\n", html->out);
}

static double positive(double value) { return isfinite(value) && value > 0.0 ? value : 0.0; }

static cavum_status write_curves(cavum_html *html, const cavum_stored_coldtest *test,
                                 cavum_error *error) {
  cavum_test_charts charts = {0};
  cavum_status status = cavum_test_charts_make(&charts, test, error);
  cavum_html_heading(html, 2, "curves", "Curves");
  for (int i = 0; status == CAVUM_OK && i < charts.count; i++) {
    status = cavum_html_write_chart(html, &charts.chart[i], error);
  }
  cavum_test_charts_clear(&charts);
  return status;
}

static void write_fit(cavum_html *html, const cavum_stored_fit *fit) {
  char text[512], gap[96], residual[96], amplitude[96];
  if (!fit->present) return;
  cavum_report_format(gap, fit->gap_k, sqrt(positive(fit->covariance[4])), CAVUM_UNIT_K);
  cavum_report_format(residual, fit->residual_ohm, sqrt(positive(fit->covariance[8])),
                      CAVUM_UNIT_NOHM);
  // The file has no uncertainty of A: digits as of the gap.
  snprintf(text, sizeof text, "%.3g", fit->amplitude_ohm_k);
  cavum_html_beautify(amplitude, sizeof amplitude, text);
  snprintf(text, sizeof text,
           "Fit R_s = A exp(\xe2\x88\x92\xce\x94/kT)/T + R_res: \xce\x94/k = %s K, R_res = %s "
           "n\xce\xa9, A = %s \xce\xa9 K.",
           gap, residual, amplitude);
  cavum_html_paragraph(html, "", text);
  if (isfinite(fit->chi_squared)) {
    snprintf(text, sizeof text, "Chi squared %.3g with %.0f degrees of freedom.", fit->chi_squared,
             fit->degrees_of_freedom);
    cavum_html_paragraph(html, "note", text);
  }
  if (fit->caution[0]) cavum_html_paragraph(html, "caution", fit->caution);
}

static void write_budget(cavum_html *html, const cavum_stored_coldtest *test, const char *picture) {
  static const char *const columns[] = {"input", "#share of E_acc's variance",
                                        "#share of Q0's variance"};
  cavum_budget_bar bars[CAVUM_BUDGET_BARS_MOST];
  int count = cavum_test_budget_find(bars, test, cavum_test_view_choose_point(test));
  if (count == 0) return;
  cavum_html_heading(html, 2, "budget", "Where the uncertainty comes from");
  cavum_html_picture(html, picture, "Budget of the reading of the largest gradient.");
  cavum_html_begin_table(html, "The same as numbers", 3, columns);
  for (int i = 0; i < count; i++) {
    char shares[2][32];
    for (int k = 0; k < 2; k++)
      snprintf(shares[k], 32, "%.1f %%", cavum_in_percent(bars[i].share[k]));
    const char *row[] = {bars[i].text, shares[0], shares[1]};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

static cavum_status draw_view(char **svg, const cavum_stored_coldtest *test,
                              cavum_picture_view view, const char *prefix, cavum_error *error) {
  size_t size = 0;
  const cavum_draw_request request = {.view = view,
                                      .kind = CAVUM_CANVAS_SVG_FRAGMENT,
                                      .image_scale = 2.0,
                                      .no_heading = true,
                                      .prefix = prefix};
  cavum_error ignored = {0};
  cavum_status status = cavum_test_view_draw(svg, &size, test, -1, &request, &ignored);
  if (status == CAVUM_ERR_INPUT) status = CAVUM_OK;  // Nothing to draw: the part is left out.
  if (status != CAVUM_OK && error) *error = ignored;
  return status;
}

static void write_contents(cavum_html *html, const cavum_stored_coldtest *test) {
  const struct {
    const char *id, *name;
    bool there;
  } parts[] = {{"plan", "Plan", test->num_plans > 0},
               {"curves", "Curves", true},
               {"series", "Limits and series", true},
               {"readings", "Readings", test->num_points > 0},
               {"budget", "Budget", test->num_inputs > 0},
               {"cautions", "Cautions", true},
               {"input", "Input", true},
               {"provenance", "Provenance", true}};
  fputs("<nav aria-label=\"Contents\"><ul>", html->out);
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    if (!parts[i].there) continue;
    fprintf(html->out, "<li><a href=\"#%s\">%s</a></li>", parts[i].id, parts[i].name);
  }
  fputs("</ul></nav></header>\n", html->out);
}

static void write_cavity(cavum_html *html, const cavum_stored_coldtest *test) {
  char text[640], number[CAVUM_QUANTITY_SIZE], q[2][96];
  const double values[2] = {test->q_pickup, test->q_external};
  const double uncertainties[2] = {test->q_pickup_uncertainty, test->q_external_uncertainty};
  int n = snprintf(text, sizeof text,
                   "Cavity: R/Q = %.6g \xce\xa9 (linac, V\xc2\xb2/(\xcf\x89U)), L_acc = %.6g mm, "
                   "G = %.6g \xce\xa9 (%.120s).",
                   test->r_over_q_linac_ohm, cavum_in_mm(test->accelerating_length_m),
                   test->geometry_factor_ohm, test->geometry_from);
  for (int k = 0; k < 2; k++) {
    if (uncertainties[k] > 0.0) cavum_quantity_format(number, values[k], uncertainties[k]);
    if (!(uncertainties[k] > 0.0)) snprintf(number, sizeof number, "%.3e", values[k]);
    cavum_html_beautify(q[k], sizeof q[k], number);
  }
  if (test->num_points > 0 && n > 0 && (size_t)n < sizeof text) {
    snprintf(text + n, sizeof text - (size_t)n, " Calibration: Q_t = %.64s, Q_e = %.64s.", q[0],
             q[1]);
  }
  cavum_html_paragraph(html, "", text);
}

static void write_head(cavum_html *html, const cavum_stored_coldtest *test) {
  char text[640];
  fputs("<header><h1>", html->out);
  cavum_markup_write(html->out, test->title[0] ? test->title : "Cold test");
  fprintf(html->out, "</h1>\n<p class=\"lead\">%s</p>\n",
          test->num_points > 0 ? "Cold test of an accelerating cavity: gradient, quality factor, "
                                 "surface resistance."
                               : "Plan of a cold test of an accelerating cavity: what the meters "
                                 "will show, and what to expect.");
  write_contents(html, test);
  write_flags(html, test);
  write_lines(html, "Implausible inputs", test->remarks);
  write_lines(html, "Rows set aside", test->set_aside);
  write_cavity(html, test);
  if (test->ended[0]) {
    snprintf(text, sizeof text, "The test ended: %.500s", test->ended);
    cavum_html_paragraph(html, "", text);
  }
}

static void write_foot(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"what", "value"};
  cavum_html_heading(html, 2, "cautions", "Cautions");
  fputs("<div class=\"caution\" role=\"note\">\n", html->out);
  cavum_html_flowing(html, cavum_coldtest_cautions());
  fputs("</div>\n", html->out);
  cavum_html_heading(html, 2, "input", "Input");
  cavum_html_heading(html, 3, "test-file", "The test file, as it was read");
  cavum_html_code(html, test->test_text);
  if (test->readings_text[0]) {
    fputs("<details><summary>The readings, as they were read</summary>\n", html->out);
    cavum_html_code(html, test->readings_text);
    fputs("</details>\n", html->out);
  }
  cavum_html_heading(html, 2, "provenance", "Provenance");
  cavum_html_begin_table(html, "Where this comes from", 2, columns);
  const char *rows[][2] = {{"evaluated with cavum", test->version},
                           {"reported with cavum", cavum_version()},
                           {"SHA-256 of the test file", test->test_sha256},
                           {"SHA-256 of the readings", test->readings_sha256}};
  int count = test->readings_sha256[0] ? 4 : 3;
  for (int i = 0; i < count; i++) cavum_html_row(html, 2, rows[i], columns);
  cavum_html_end_table(html);
}

cavum_status cavum_report_coldtest(char **bytes, size_t *size, const cavum_stored_coldtest *test,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  char *budget = NULL;
  CAVUM_TRY(draw_view(&budget, test, CAVUM_VIEW_BUDGET, "budget-bars", error));
  CAVUM_TRY(cavum_html_create(&html, test->title[0] ? test->title : "Cold test", error));
  write_head(&html, test);
  cavum_report_coldtest_write_plans(&html, test);
  CAVUM_TRY(write_curves(&html, test, error));
  write_fit(&html, &test->fit);
  cavum_report_coldtest_write_series(&html, test);
  if (test->num_points > 0) write_readings(&html, test);
  if (budget) write_budget(&html, test, budget);
  write_foot(&html, test);
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  free(budget);
  cavum_html_clear(&html);
  return status;
}

cavum_status cavum_report_coldtest_file(char **bytes, size_t *size, const char *path,
                                        cavum_error *error) {
  cavum_stored_coldtest test = {0};
  cavum_status status = cavum_stored_coldtest_read(&test, path, error);
  if (status == CAVUM_OK) status = cavum_report_coldtest(bytes, size, &test, error);
  cavum_stored_coldtest_clear(&test);
  return status;
}
