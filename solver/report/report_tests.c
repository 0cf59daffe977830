// SPDX-License-Identifier: GPL-3.0-or-later
// The report of several cold tests: what changed, Q0 over each other, ratios.
#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/picture.h"
#include "picture/tests_view.h"
#include "report/chart_html.h"
#include "report/report_coldtest_series.h"

// Rows of a table of ratios; what is beyond is in the file.
enum { MOST_RATIOS = 200 };

// Units of a page, in the order of the changes.
static const struct {
  const char *text;
  cavum_unit unit;
  double factor;
} SHOWN[CAVUM_NUM_CHANGES] = {
    [CAVUM_CHANGE_RESIDUAL] = {"n\xce\xa9", CAVUM_UNIT_NOHM, 1.0},
    [CAVUM_CHANGE_BCS] = {"n\xce\xa9", CAVUM_UNIT_NOHM, 1.0},
    [CAVUM_CHANGE_LOW_FIELD] = {"n\xce\xa9", CAVUM_UNIT_NOHM, 1.0},
    [CAVUM_CHANGE_SLOPE] = {"n\xce\xa9/(MV/m)\xc2\xb2", CAVUM_UNIT_NOHM, 1e12},
    [CAVUM_CHANGE_ONSET] = {"MV/m", CAVUM_UNIT_MV_PER_M, 1.0},
    [CAVUM_CHANGE_HIGHEST] = {"MV/m", CAVUM_UNIT_MV_PER_M, 1.0}};

static void write_changes(cavum_html *html, const cavum_coldtest_pair *pair, const char *name,
                          double k) {
  static const char *const columns[] = {"quantity",   "unit",    "#first test",
                                        "#this",      "#change", "#change over its uncertainty",
                                        "significant"};
  char caption[256];
  snprintf(caption, sizeof caption,
           "%s against the first test; shared: %s%s%s. Significant: above %.3g uncertainties", name,
           pair->shares_calibration ? "calibration" : "",
           pair->shares_calibration && pair->shares_shape ? ", " : "",
           pair->shares_shape         ? "shape"
           : pair->shares_calibration ? ""
                                      : "nothing",
           k);
  cavum_html_begin_table(html, caption, 7, columns);
  for (int i = 0; i < CAVUM_NUM_CHANGES; i++) {
    const cavum_coldtest_change *c = &pair->changes[i];
    const cavum_estimate estimates[] = {c->first, c->later, c->change};
    char cells[3][96], over[96];
    if (!isfinite(c->first.value) && !isfinite(c->later.value)) continue;
    for (int n = 0; n < 3; n++) {
      cavum_report_format(cells[n], SHOWN[i].factor * estimates[n].value,
                          SHOWN[i].factor * estimates[n].uncertainty, SHOWN[i].unit);
    }
    snprintf(over, sizeof over, "\xe2\x80\x93");
    if (c->change.uncertainty > 0.0) {
      snprintf(over, sizeof over, "%.3g", fabs(c->change.value) / c->change.uncertainty);
    }
    const char *row[] = {cavum_change_describe((cavum_change_id)i).text,
                         SHOWN[i].text,
                         cells[0],
                         cells[1],
                         cells[2],
                         over,
                         !isfinite(c->change.value) ? "\xe2\x80\x93"
                         : c->significant           ? "yes"
                                                    : "no"};
    cavum_html_row(html, 7, row, columns);
  }
  cavum_html_end_table(html);
  if (pair->caution[0]) cavum_html_paragraph(html, "caution", pair->caution);
}

// Q0 over that of the first test, at the gradients of its curve.
static void write_ratios(cavum_html *html, const cavum_coldtest_pair *pair, const char *name) {
  static const char *const columns[] = {"#E_acc in MV/m", "#Q0 over that of the first test"};
  char caption[160];
  if (pair->num_ratios == 0) return;
  snprintf(caption, sizeof caption,
           "%.64s: Q0 over that of the first test; what both share cancels", name);
  cavum_html_begin_table(html, caption, 2, columns);
  for (int64_t i = 0; i < pair->num_ratios && i < MOST_RATIOS; i++) {
    const cavum_coldtest_ratio *r = &pair->ratios[i];
    char gradient[96], ratio[96];
    snprintf(gradient, sizeof gradient, "%.3f", cavum_in_mv_per_m(r->e_acc_v_per_m.value));
    cavum_report_format(ratio, r->q0_ratio.value, r->q0_ratio.uncertainty, CAVUM_UNIT_SI);
    const char *row[] = {gradient, ratio};
    cavum_html_row(html, 2, row, columns);
  }
  cavum_html_end_table(html);
}

static cavum_status write_chart(const cavum_chart *chart, void *data, cavum_error *error) {
  return cavum_html_write_chart(data, chart, error);
}

cavum_status cavum_picture_report_comparison(char **bytes, size_t *size,
                                             const cavum_coldtest_comparison *comparison, int count,
                                             const cavum_coldtest_report *const *reports,
                                             cavum_error *error) {
  if (!bytes || !size || !comparison || !reports) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_html html = {0};
  const cavum_tests_content content = {comparison, count, reports};
  CAVUM_TRY(cavum_html_create(&html, "Cold tests compared", error));
  fputs("<header><h1>Cold tests compared</h1></header>\n", html.out);
  cavum_html_heading(&html, 2, "changes", "What changed");
  for (int i = 0; i < comparison->num_pairs; i++) {
    char name[64];
    cavum_comparison_name(name, reports[i + 1], i + 2);
    write_changes(&html, &comparison->pairs[i], name, comparison->coverage_factor);
    write_ratios(&html, &comparison->pairs[i], name);
  }
  cavum_html_heading(&html, 2, "curves", "Curves");
  CAVUM_TRY(cavum_tests_each_chart(&content, write_chart, &html, error));
  cavum_html_heading(&html, 2, "cautions", "Cautions");
  cavum_html_paragraph(&html, "caution", cavum_coldtest_cautions());
  cavum_html_heading(&html, 2, "input", "Input");
  for (int i = 0; i < count; i++) {
    char name[64];
    cavum_comparison_name(name, reports[i], i + 1);
    cavum_html_paragraph(&html, "", name);
    cavum_html_code(&html, reports[i]->file.text);
  }
  CAVUM_TRY(cavum_html_finish(bytes, size, &html, error));
done:
  cavum_html_clear(&html);
  return status;
}
