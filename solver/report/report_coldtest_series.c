// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers behind the curves of a cold test.
#include "report/report_coldtest_series.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "format/quantity.h"

enum { MOST_ROWS = 2000 };

static double at(const double *column, int i) { return column ? column[i] : NAN; }

void cavum_report_format(char text[96], double value, double uncertainty, cavum_unit unit) {
  char number[CAVUM_QUANTITY_SIZE];
  if (!isfinite(value)) {
    snprintf(text, 96, "\xe2\x80\x93");
    return;
  }
  if (isfinite(uncertainty)) {
    cavum_quantity_format(number, cavum_in_unit(value, unit), cavum_in_unit(uncertainty, unit));
  } else {  // Nothing says which digits mean something.
    snprintf(number, sizeof number, "%.5g", cavum_in_unit(value, unit));
  }
  cavum_html_beautify(text, 96, number);
}

static void format_column(char text[96], const cavum_stored_column *column, int i,
                          cavum_unit unit) {
  cavum_report_format(text, at(column->value, i), at(column->uncertainty, i), unit);
}

// Quantities that limits are stated for: what readings reached, and how a page writes it.
static const struct {
  const char *key, *name;
  int column;
  cavum_unit unit;
} LIMITED[] = {{"gradient_V_per_m", "E_acc", CAVUM_STORED_GRADIENT, CAVUM_UNIT_MV_PER_M},
               {"peak_electric_field_V_per_m", "E_pk", CAVUM_STORED_PEAK_E, CAVUM_UNIT_MV_PER_M},
               {"peak_magnetic_field_T", "B_pk", CAVUM_STORED_PEAK_B, CAVUM_UNIT_MILLITESLA},
               {"wall_power_W", "P_d", CAVUM_STORED_WALL_POWER, CAVUM_UNIT_W},
               {"bath_heat_W", "heat to the bath", CAVUM_STORED_BATH_HEAT, CAVUM_UNIT_W},
               {"forward_power_W", "P_forward", CAVUM_STORED_FORWARD, CAVUM_UNIT_W}};

static double highest(const cavum_stored_coldtest *test, int column) {
  double most = NAN;
  for (int i = 0; test->column[column] && i < test->num_points; i++) {
    double value = test->column[column][i];
    if (isfinite(value) && !(value <= most)) most = value;
  }
  return most;
}

static void write_limit(cavum_html *html, const cavum_stored_coldtest *test,
                        const cavum_stored_limit *limit, const char *const *columns) {
  for (size_t k = 0; k < sizeof LIMITED / sizeof *LIMITED; k++) {
    if (strcmp(limit->quantity, LIMITED[k].key) != 0) continue;
    char value[64], reached[64] = "\xe2\x80\x93", share[32] = "\xe2\x80\x93";
    double most = highest(test, LIMITED[k].column);
    const char *symbol = cavum_unit_symbol(LIMITED[k].unit);
    snprintf(value, sizeof value, "%s %.4g %s", LIMITED[k].name,
             cavum_in_unit(limit->value, LIMITED[k].unit), symbol);
    if (isfinite(most)) {
      snprintf(reached, sizeof reached, "%.4g %s", cavum_in_unit(most, LIMITED[k].unit), symbol);
      snprintf(share, sizeof share, "%.1f %%", cavum_in_percent(most / limit->value));
    }
    const char *row[] = {limit->name, value, reached, share, limit->source};
    cavum_html_row(html, 5, row, columns);
  }
}

static void write_limits(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"limit", "#value", "#highest reached", "#share", "source"};
  if (test->num_limits == 0) return;
  cavum_html_begin_table(html, "Stated limits; none is a pass mark", 5, columns);
  for (int i = 0; i < test->num_limits; i++) write_limit(html, test, &test->limits[i], columns);
  cavum_html_end_table(html);
}

static void write_runs(cavum_html *html, const cavum_stored_runs *runs) {
  static const char *const columns[] = {"run", "#readings", "#E_acc in MV/m",
                                        "#Q0 over that of the first run", "#at E_acc in MV/m"};
  if (runs->count == 0) return;
  cavum_html_begin_table(
      html, "Runs. Errors that all readings share, as a calibration, cancel in the ratios", 5,
      columns);
  for (int i = 0; i < runs->count; i++) {
    char count[24], range[64], cells[2][96];
    snprintf(count, sizeof count, "%.0f", runs->readings[i]);
    snprintf(range, sizeof range, "%.4g to %.4g", cavum_in_mv_per_m(runs->lowest_v_per_m[i]),
             cavum_in_mv_per_m(runs->highest_v_per_m[i]));
    format_column(cells[0], &runs->q0_ratio, i, CAVUM_UNIT_SI);
    cavum_report_format(cells[1], runs->ratio_v_per_m[i], NAN, CAVUM_UNIT_MV_PER_M);
    const char *row[] = {runs->name[i], count, range, cells[0], cells[1]};
    cavum_html_row(html, 5, row, columns);
  }
  cavum_html_end_table(html);
}

// Fits of the runs, one column a run's number; what no run has is left out.
static void write_run_fits(cavum_html *html, const cavum_stored_runs *runs) {
  static const char *const columns[] = {"run", "fitted to this run alone", "#value", "caution"};
  static const struct {
    const char *name;
    cavum_unit unit;
  } rows[CAVUM_NUM_RUN_QUANTITIES] = {
      [CAVUM_RUN_RESIDUAL] = {"residual resistance in n\xce\xa9", CAVUM_UNIT_NOHM},
      [CAVUM_RUN_GAP] = {"gap \xce\x94/k in K", CAVUM_UNIT_K},
      [CAVUM_RUN_AMPLITUDE] = {"A of A exp(-\xce\x94/kT)/T / \xce\xa9 K", CAVUM_UNIT_SI},
      [CAVUM_RUN_BCS] = {"BCS term at 2 K in n\xce\xa9", CAVUM_UNIT_NOHM},
      [CAVUM_RUN_LORENTZ] = {"df/d(E_acc\xc2\xb2) in Hz/(MV/m)\xc2\xb2", CAVUM_UNIT_HZ_PER_MV2},
      [CAVUM_RUN_PRESSURE] = {"df/dp in Hz/mbar", CAVUM_UNIT_HZ_PER_MBAR},
      [CAVUM_RUN_FREQUENCY] = {"frequency without field f0 in MHz", CAVUM_UNIT_MHZ}};
  if (!runs->fit_caution) return;
  cavum_html_begin_table(html, "Fits of each run alone", 4, columns);
  for (int i = 0; i < runs->count; i++) {
    const char *caution = runs->fit_caution[i];
    for (int k = 0; k < CAVUM_NUM_RUN_QUANTITIES; k++) {
      char value[96];
      if (!isfinite(at(runs->fit[k].value, i))) continue;
      format_column(value, &runs->fit[k], i, rows[k].unit);
      const char *row[] = {runs->name[i], rows[k].name, value, caution};
      cavum_html_row(html, 4, row, columns);
      caution = "";
    }
    if (!caution[0]) continue;
    const char *row[] = {runs->name[i], "none", "\xe2\x80\x93", caution};
    cavum_html_row(html, 4, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_predictions(cavum_html *html, const cavum_stored_predictions *p) {
  static const char *const columns[] = {"#T in K", "#E_acc in MV/m", "#R_s in n\xce\xa9",
                                        "#Q0",     "#P_d in W",      "caution"};
  if (p->count == 0) return;
  cavum_html_begin_table(html, "Predicted from the fit of R_s", 6, columns);
  for (int i = 0; i < p->count; i++) {
    char cells[5][96];
    format_column(cells[0], &p->temperature_k, i, CAVUM_UNIT_K);
    format_column(cells[1], &p->gradient_v_per_m, i, CAVUM_UNIT_MV_PER_M);
    format_column(cells[2], &p->resistance_ohm, i, CAVUM_UNIT_NOHM);
    format_column(cells[3], &p->q0, i, CAVUM_UNIT_SI);
    format_column(cells[4], &p->wall_power_w, i, CAVUM_UNIT_W);
    const char *row[] = {cells[0], cells[1], cells[2], cells[3], cells[4], p->caution[i]};
    cavum_html_row(html, 6, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_field(cavum_html *html, const cavum_stored_field *field) {
  static const char *const columns[] = {"#E_acc in MV/m",
                                        "#B_pk in mT",
                                        "#BCS, mean in n\xce\xa9",
                                        "#residual, mean in n\xce\xa9",
                                        "#BCS at B_pk in n\xce\xa9",
                                        "#residual at B_pk in n\xce\xa9"};
  char caption[160];
  if (field->num_points == 0) return;
  snprintf(caption, sizeof caption,
           "Surface resistance against field: BCS part at %.4g K and residual, averaged over the "
           "wall and where the field is B_pk",
           field->reference_k);
  cavum_html_begin_table(html, caption, 6, columns);
  for (int i = 0; i < field->num_points; i++) {
    char cells[2 + CAVUM_NUM_STORED_PARTS][96];
    format_column(cells[0], &field->gradient_v_per_m, i, CAVUM_UNIT_MV_PER_M);
    format_column(cells[1], &field->b_peak_t, i, CAVUM_UNIT_MILLITESLA);
    for (int k = 0; k < CAVUM_NUM_STORED_PARTS; k++) {
      format_column(cells[2 + k], &field->part[k], i, CAVUM_UNIT_NOHM);
    }
    const char *row[] = {cells[0], cells[1], cells[2], cells[3], cells[4], cells[5]};
    cavum_html_row(html, 6, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_frequency(cavum_html *html, const cavum_stored_frequency *f) {
  static const char *const columns[] = {"coefficient", "#measured", "#by radiation pressure"};
  const struct {
    const char *name;
    double value, uncertainty, expected;
    cavum_unit unit;
  } rows[] = {{"df/d(E_acc\xc2\xb2) in Hz/(MV/m)\xc2\xb2", f->lorentz, f->lorentz_uncertainty,
               f->expected_lorentz, CAVUM_UNIT_HZ_PER_MV2},
              {"df/dp in Hz/mbar", f->pressure, f->pressure_uncertainty, f->expected_pressure,
               CAVUM_UNIT_HZ_PER_MBAR}};
  if (!f->present) return;
  cavum_html_begin_table(html, "Frequency against field and bath pressure", 3, columns);
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char value[96], expected[96];
    cavum_report_format(value, rows[i].value, rows[i].uncertainty, rows[i].unit);
    snprintf(expected, sizeof expected, "\xe2\x80\x93");
    if (isfinite(rows[i].expected)) {
      snprintf(expected, sizeof expected, "%.4g", cavum_in_unit(rows[i].expected, rows[i].unit));
    }
    const char *row[] = {rows[i].name, value, expected};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_emission(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"field emission", "#value"};
  const cavum_stored_emission *e = &test->emission;
  if (!e->present) return;
  char power[96] = "power of electrons";
  double most = NAN, uncertainty = NAN;
  int strongest = isfinite(e->strongest_point) ? (int)e->strongest_point - 1 : -1;
  if (strongest >= 0 && strongest < test->num_points) {
    most = e->power_w.value[strongest];
    uncertainty = e->power_w.uncertainty[strongest];
    snprintf(power, sizeof power, "power of electrons at %.4g MV/m in W",
             cavum_in_mv_per_m(test->column[CAVUM_STORED_GRADIENT][strongest]));
  }
  const struct {
    const char *name;
    double value, uncertainty;
    cavum_unit unit;
  } rows[] = {
      {"background / \xc2\xb5Sv/h", e->background_sv_per_h, e->background_uncertainty_sv_per_h,
       CAVUM_UNIT_MICROSIEVERT_PER_H},
      {"onset, E_acc in MV/m", e->onset_v_per_m, e->onset_uncertainty_v_per_m, CAVUM_UNIT_MV_PER_M},
      {"emission at the onset / \xc2\xb5Sv/h", e->onset_sv_per_h, NAN,
       CAVUM_UNIT_MICROSIEVERT_PER_H},
      {"enhancement beta_FN, by radiation", e->enhancement, e->enhancement_uncertainty,
       CAVUM_UNIT_SI},
      {"enhancement beta_FN, by power", e->power_enhancement, e->power_enhancement_uncertainty,
       CAVUM_UNIT_SI},
      {power, most, uncertainty, CAVUM_UNIT_W}};
  cavum_html_heading(html, 3, "emission", "Field emission");
  cavum_html_begin_table(html, "Onset, enhancement and power", 2, columns);
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    char value[96];
    cavum_report_format(value, rows[i].value, rows[i].uncertainty, rows[i].unit);
    const char *row[] = {rows[i].name, value};
    cavum_html_row(html, 2, row, columns);
  }
  cavum_html_end_table(html);
  if (e->caution && e->caution[0]) cavum_html_paragraph(html, "caution", e->caution);
  cavum_html_paragraph(html, "caution",
                       "Field emission makes X-rays without source or beam; they rise steeply with "
                       "the field, and an "
                       "emitter turns on without warning. Shielding, interlocked access and survey "
                       "follow local rules "
                       "and the radiation officer. This page is no safety function.");
}

// The name of a file without its folders: paths of other machines say nothing here.
static const char *name_of(const char *path) {
  const char *slash = path ? strrchr(path, '/') : NULL;
  return slash ? slash + 1 : path ? path : "";
}

static void write_trace(cavum_html *html, const cavum_stored_trace *trace) {
  static const char *const columns[] = {"#t in s", "#E_acc in MV/m", "#Q_L", "#Q0"};
  char caption[400], tau[96];
  cavum_report_format(tau, trace->decay_time_s, trace->decay_time_uncertainty_s, CAVUM_UNIT_S);
  snprintf(caption, sizeof caption, "Along the decay %.200s; energy decay time %s s",
           name_of(trace->file), tau);
  cavum_html_begin_table(html, caption, 4, columns);
  for (int i = 0; i < trace->num_windows && i < MOST_ROWS; i++) {
    char time[32], cells[3][96];
    snprintf(time, sizeof time, "%.4g", trace->window_time_s[i]);
    format_column(cells[0], &trace->gradient_v_per_m, i, CAVUM_UNIT_MV_PER_M);
    format_column(cells[1], &trace->q_loaded, i, CAVUM_UNIT_SI);
    format_column(cells[2], &trace->q0, i, CAVUM_UNIT_SI);
    const char *row[] = {time, cells[0], cells[1], cells[2]};
    cavum_html_row(html, 4, row, columns);
  }
  cavum_html_end_table(html);
}

static void write_intervals(cavum_html *html, const cavum_stored_coldtest *test) {
  static const char *const columns[] = {"reading", "#E_acc in MV/m", "#Q0"};
  const cavum_stored_intervals *m = &test->intervals;
  char caption[96];
  if (m->count == 0) return;
  snprintf(caption, sizeof caption, "Shortest %.3g %% intervals by Monte Carlo",
           cavum_in_percent(test->coverage));
  cavum_html_begin_table(html, caption, 3, columns);
  for (int i = 0; i < m->count && i < MOST_ROWS; i++) {
    char number[16], gradient[96], q0[2][48], both[96];
    snprintf(number, sizeof number, "%d", i + 1);
    snprintf(gradient, sizeof gradient, "%.5g to %.5g", cavum_in_mv_per_m(m->gradient_low[i]),
             cavum_in_mv_per_m(m->gradient_high[i]));
    const double ends[2] = {m->q0_low[i], m->q0_high[i]};
    for (int k = 0; k < 2; k++) {
      char plain[32];
      snprintf(plain, sizeof plain, "%.4e", ends[k]);
      cavum_html_beautify(q0[k], sizeof q0[k], plain);
    }
    snprintf(both, sizeof both, "%.40s to %.40s", q0[0], q0[1]);
    const char *row[] = {number, gradient, both};
    cavum_html_row(html, 3, row, columns);
  }
  cavum_html_end_table(html);
}

void cavum_report_coldtest_write_series(cavum_html *html, const cavum_stored_coldtest *test) {
  cavum_html_heading(html, 2, "series", "Limits and series");
  write_limits(html, test);
  write_runs(html, &test->runs);
  write_run_fits(html, &test->runs);
  write_predictions(html, &test->predictions);
  write_field(html, &test->field);
  write_frequency(html, &test->frequency);
  write_emission(html, test);
  for (int i = 0; i < test->num_traces; i++) write_trace(html, &test->traces[i]);
  write_intervals(html, test);
}
