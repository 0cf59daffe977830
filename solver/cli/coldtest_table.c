// SPDX-License-Identifier: GPL-3.0-or-later
// The text of a cold test: head with conventions, calibration, limits, what to read the results
// with, the points; on request distributions, budgets and more. Standard uncertainties stand in
// parentheses in units of the last digit.
#include "cli/coldtest_table.h"

#include <math.h>
#include <string.h>

#include "base/units.h"
#include "cli/coldtest_table_field.h"
#include "cli/coldtest_table_plan.h"
#include "cli/coldtest_table_series.h"
#include "cli/colour.h"
#include "format/quantity.h"

/** A column of the table of points. */
typedef struct table_column {
  cavum_coldtest_quantity quantity;
  const char *head;
  cavum_unit unit;
  int width;
} table_column;

static const table_column columns[] = {
    {CAVUM_QUANTITY_E_ACC, "E_acc", CAVUM_UNIT_MV_PER_M, 13},
    {CAVUM_QUANTITY_Q0, "Q0", CAVUM_UNIT_SI, 15},
    {CAVUM_QUANTITY_SURFACE_RESISTANCE, "R_s", CAVUM_UNIT_NOHM, 13},
    {CAVUM_QUANTITY_WALL_POWER, "P_d", CAVUM_UNIT_W, 13},
    {CAVUM_QUANTITY_COUPLING, "beta*", CAVUM_UNIT_SI, 12},
    {CAVUM_QUANTITY_Q_LOADED, "Q_L", CAVUM_UNIT_SI, 14},
    {CAVUM_QUANTITY_Q_EXTERNAL, "Q_e", CAVUM_UNIT_SI, 14},
    {CAVUM_QUANTITY_Q_PICKUP, "Q_t", CAVUM_UNIT_SI, 14},
    {CAVUM_QUANTITY_STORED_ENERGY, "U", CAVUM_UNIT_J, 13},
    {CAVUM_QUANTITY_VOLTAGE, "V", CAVUM_UNIT_MV, 13},
    {CAVUM_QUANTITY_E_PEAK, "E_pk", CAVUM_UNIT_MV_PER_M, 13},
    {CAVUM_QUANTITY_B_PEAK, "B_pk", CAVUM_UNIT_MILLITESLA, 13},
};
enum { NUM_COLUMNS = sizeof columns / sizeof columns[0], COLUMNS_A_BLOCK = 6 };

// Without an uncertainty nothing says how many digits count: five.
static void format_result(char text[CAVUM_QUANTITY_SIZE], double value, double uncertainty) {
  if (isfinite(value) && uncertainty == 0.0) {
    snprintf(text, CAVUM_QUANTITY_SIZE, "%.5g", value);
  } else {
    cavum_quantity_format(text, value, uncertainty);
  }
}

static void print_estimate(FILE *out, const char *name, cavum_estimate estimate, cavum_unit unit) {
  char text[CAVUM_QUANTITY_SIZE];
  if (estimate.value == 0.0) return;
  const char *symbol = cavum_unit_symbol(unit);
  cavum_quantity_format(text, cavum_in_unit(estimate.value, unit),
                        cavum_in_unit(estimate.uncertainty, unit));
  fprintf(out, "  %-30s%s%s%s\n", name, text, symbol[0] ? " " : "", symbol);
}

static void print_head(FILE *out, const cavum_coldtest_report *report) {
  const cavum_coldtest_setup *setup = &report->file.setup;
  if (setup->title[0]) fprintf(out, "%s\n\n", setup->title);
  fprintf(out, "Cavity (%s)\n", setup->geometry_from);
  print_estimate(out, "R/Q, linac, V^2/(omega U)", setup->r_over_q_linac_ohm, CAVUM_UNIT_OHM);
  print_estimate(out, "accelerating length L_acc", setup->accelerating_length_m, CAVUM_UNIT_MM);
  print_estimate(out, "geometry factor G", setup->geometry_factor_ohm, CAVUM_UNIT_OHM);
  print_estimate(out, "E_pk / E_acc", setup->epk_over_eacc, CAVUM_UNIT_SI);
  print_estimate(out, "B_pk / E_acc", setup->bpk_over_eacc_t_per_v_per_m,
                 CAVUM_UNIT_MILLITESLA_PER_MV_PER_M);
  if (setup->ended[0]) fprintf(out, "The test ended: %s\n", setup->ended);
  fputs("E_acc = V / L_acc. Uncertainties are standard (k = 1), in units of the last digit.\n",
        out);
}

static void print_calibration(FILE *out, const char *name, cavum_coldtest_calibration calibration) {
  char text[CAVUM_QUANTITY_SIZE];
  if (calibration.value.value == 0.0) return;
  format_result(text, calibration.value.value, calibration.value.uncertainty);
  fprintf(out, "  %-30s%s ", name, text);
  if (calibration.num_readings == 0) {
    fputs("(stated)\n", out);
    return;
  }
  fprintf(out, "from %lld reading%s with a decay time", (long long)calibration.num_readings,
          calibration.num_readings == 1 ? "" : "s");
  if (isfinite(calibration.chi_squared)) {
    fprintf(out, ", chi2 %.3g with %d degrees of freedom", calibration.chi_squared,
            calibration.degrees_of_freedom);
  }
  fputc('\n', out);
}

static void print_cell(FILE *out, const cavum_coldtest_point *point, const table_column *column) {
  char text[CAVUM_QUANTITY_SIZE];
  format_result(text, cavum_in_unit(point->value[column->quantity], column->unit),
                cavum_in_unit(point->uncertainty[column->quantity], column->unit));
  fprintf(out, " %*s", column->width, text);
}

static int64_t shown(const cavum_coldtest_report *report, int64_t most) {
  int64_t count = cavum_coldtest_num_points(report->test);
  return count < most ? count : most;
}

static void print_block(FILE *out, const cavum_coldtest_report *report, int first, int64_t rows) {
  int last = first + COLUMNS_A_BLOCK < NUM_COLUMNS ? first + COLUMNS_A_BLOCK : NUM_COLUMNS;
  fprintf(out, "\n%7s", "reading");
  for (int i = first; i < last; i++) fprintf(out, " %*s", columns[i].width, columns[i].head);
  fprintf(out, "%s\n%7s", first == 0 ? "   T in K  from, branch" : "", "");
  for (int i = first; i < last; i++) {
    fprintf(out, " %*s", columns[i].width, cavum_unit_symbol(columns[i].unit));
  }
  fputc('\n', out);
  for (int64_t row = 0; row < rows; row++) {
    const cavum_coldtest_point *point = cavum_coldtest_get_point(report->test, row);
    double temperature_k = cavum_coldtest_get_reading(report->test, row)->bath_temperature_k;
    fprintf(out, "%7lld", (long long)row + 1);
    for (int i = first; i < last; i++) print_cell(out, point, &columns[i]);
    if (first == 0) {
      if (isnan(temperature_k)) fprintf(out, " %8s", "-");
      if (!isnan(temperature_k)) fprintf(out, " %8.3f", temperature_k);
      fprintf(out, "  %s, %s", point->by_decay ? "decay" : "pickup",
              cavum_branch_name(point->branch));
      int run = cavum_coldtest_get_reading(report->test, row)->run;
      if (run > 0) fprintf(out, ", %s", cavum_coldtest_get_run_name(report->test, run));
    }
    fputc('\n', out);
  }
}

static void print_calibrations(FILE *out, const cavum_coldtest_report *report) {
  cavum_colour_title(out, "Calibration");
  print_calibration(out, "Q_t of the pickup", cavum_coldtest_get_pickup(report->test));
  print_calibration(out, "external quality factor Q_e", cavum_coldtest_get_external(report->test));
}

static void print_runs(FILE *out, const cavum_coldtest *test) {
  cavum_coldtest_run_summary run;
  if (cavum_coldtest_num_runs(test) > 0) cavum_colour_title(out, "Runs");
  for (int number = 1; number <= cavum_coldtest_num_runs(test); number++) {
    if (cavum_coldtest_summarise_run(&run, test, number, NULL) != CAVUM_OK) continue;
    fprintf(out, "  %s: %lld readings", cavum_coldtest_get_run_name(test, number),
            (long long)run.num_points);
    if (run.num_points > 0) {
      fprintf(out, ", E_acc %.4g to %.4g MV/m", cavum_in_mv_per_m(run.lowest_e_acc_v_per_m),
              cavum_in_mv_per_m(run.highest_e_acc_v_per_m));
    }
    if (isfinite(run.q0_ratio.value)) {
      char text[CAVUM_QUANTITY_SIZE];
      format_result(text, run.q0_ratio.value, run.q0_ratio.uncertainty);
      fprintf(out, "; Q0 over that of %s: %s at %.4g MV/m", cavum_coldtest_get_run_name(test, 1),
              text, cavum_in_mv_per_m(run.ratio_e_acc_v_per_m));
    }
    fputc('\n', out);
  }
}

// The first block of columns, or all others.
static void print_points(FILE *out, const cavum_coldtest_report *report, int64_t most,
                         bool others) {
  int64_t count = cavum_coldtest_num_points(report->test), rows = shown(report, most);
  int first = others ? COLUMNS_A_BLOCK : 0, end = others ? NUM_COLUMNS : COLUMNS_A_BLOCK;
  for (; first < end; first += COLUMNS_A_BLOCK) print_block(out, report, first, rows);
  if (rows < count) {
    fprintf(out, "  ... %lld more readings: --rows, --csv, --output\n", (long long)(count - rows));
  }
}

static void print_interval(FILE *out, const cavum_coldtest_distribution *d, cavum_unit unit) {
  char text[CAVUM_QUANTITY_SIZE];
  format_result(text, cavum_in_unit(d->mean, unit), cavum_in_unit(d->uncertainty, unit));
  fprintf(out, " %15s  %8.4g to %-8.4g %8.4g to %-8.4g %s", text,
          cavum_in_unit(d->linear_low, unit), cavum_in_unit(d->linear_high, unit),
          cavum_in_unit(d->low, unit), cavum_in_unit(d->high, unit), d->linear_holds ? " " : "*");
}

static void print_intervals(FILE *out, const cavum_coldtest_report *report, int64_t most) {
  double percent = cavum_in_percent(report->file.setup.coverage);
  int64_t rows = report->num_monte_carlo < most ? report->num_monte_carlo : most;
  if (rows == 0) {
    fprintf(out,
            "\nMonte Carlo not run (more readings than monte_carlo_points, or switched off); "
            "expanded: k = %.3f for %.4g %%\n",
            cavum_coldtest_coverage_factor(report->file.setup.coverage), percent);
    return;
  }
  fprintf(out,
          "\nIntervals of %.4g %%: linear (k = %.3f, less where a wave of unknown phase dominates) "
          "and Monte Carlo (shortest); * where the linear one does not hold\n",
          percent, cavum_coldtest_coverage_factor(report->file.setup.coverage));
  fprintf(out, "%7s %15s  %-20s %-21s %15s  %-20s %-21s %s\n", "reading", "Q0, mean", "linear",
          "Monte Carlo", "E_acc in MV/m", "linear", "Monte Carlo", "r(Q0,E)  draws");
  for (int64_t i = 0; i < rows; i++) {
    const cavum_coldtest_monte_carlo *outcome = &report->monte_carlo[i];
    fprintf(out, "%7lld", (long long)i + 1);
    if (outcome->num_draws == 0) {
      fputs(" the powers do not determine this reading: too many draws leave no dissipated power\n",
            out);
      continue;
    }
    print_interval(out, &outcome->results[CAVUM_MC_Q0], CAVUM_UNIT_SI);
    print_interval(out, &outcome->results[CAVUM_MC_E_ACC], CAVUM_UNIT_MV_PER_M);
    fprintf(out, " %6.3f  %lld%s\n", cavum_coldtest_get_point(report->test, i)->correlation,
            (long long)outcome->num_draws, outcome->stable ? "" : " (digits not stable)");
  }
}

static void print_budget(FILE *out, const cavum_coldtest *test, int64_t index) {
  cavum_coldtest_budget q0, gradient;
  if (cavum_coldtest_make_budget(&q0, test, index, CAVUM_QUANTITY_Q0, NULL) != CAVUM_OK ||
      cavum_coldtest_make_budget(&gradient, test, index, CAVUM_QUANTITY_E_ACC, NULL) != CAVUM_OK) {
    return;
  }
  fprintf(out, "  reading %lld\n", (long long)index + 1);
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) {
    double in_q0 = cavum_in_percent(q0.contribution[i] / q0.value);
    double in_gradient = cavum_in_percent(gradient.contribution[i] / gradient.value);
    if (fabs(in_q0) < 5e-4 && fabs(in_gradient) < 5e-4) continue;
    fprintf(out, "    %-52s %9.3f %9.3f\n", cavum_coldtest_input_text((cavum_coldtest_input)i),
            in_q0, in_gradient);
  }
  fprintf(out, "    %-52s %9.3f %9.3f\n", "combined", cavum_in_percent(q0.uncertainty / q0.value),
          cavum_in_percent(gradient.uncertainty / gradient.value));
  double coverage = cavum_coldtest_get_setup(test)->coverage;
  char text[64];
  snprintf(text, sizeof text, "coverage factor k of %.4g %%", cavum_in_percent(coverage));
  fprintf(out, "    %-52s %9.3f %9.3f\n", text,
          cavum_coldtest_budget_coverage_factor(&q0, coverage),
          cavum_coldtest_budget_coverage_factor(&gradient, coverage));
}

static void print_budgets(FILE *out, const cavum_coldtest_report *report, int64_t most) {
  int64_t count = cavum_coldtest_num_points(report->test), rows = shown(report, most);
  if (rows == 0) return;
  fprintf(out, "\nUncertainty budgets, signed contributions in %%%24s %9s\n", "Q0", "E_acc");
  for (int64_t i = 0; i < rows; i++) print_budget(out, report->test, i);
  if (rows < count) {
    fprintf(out, "  ... %lld more readings: --budgets, --json, --output\n",
            (long long)(count - rows));
  }
}

static void print_couplings(FILE *out, const cavum_coldtest_report *report, int64_t most) {
  bool head = false;
  for (int64_t i = 0; i < shown(report, most); i++) {
    cavum_coldtest_checks checks;
    int known = 0;
    if (cavum_coldtest_check_point(&checks, report->test, i, NULL) != CAVUM_OK) continue;
    for (int m = 0; m < CAVUM_NUM_COUPLING_METHODS; m++) known += isfinite(checks.coupling_by[m]);
    if (known < 2) continue;
    if (!head) cavum_colour_title(out, "Coupling by each method");
    head = true;
    fprintf(out, "%7lld", (long long)i + 1);
    for (int m = 0; m < CAVUM_NUM_COUPLING_METHODS; m++) {
      char text[CAVUM_QUANTITY_SIZE];
      if (!isfinite(checks.coupling_by[m])) continue;
      format_result(text, checks.coupling_by[m], checks.coupling_by_uncertainty[m]);
      fprintf(out, "  %s %s", cavum_coupling_method_name((cavum_coupling_method)m), text);
    }
    if (isfinite(checks.disagreement)) {
      uint32_t flags = cavum_coldtest_get_point(report->test, i)->flags;
      bool apart = flags & (1u << CAVUM_FLAG_INDEX_INCONSISTENT);
      fprintf(out, "  %s: largest difference %.2f of its uncertainty",
              apart ? "INCONSISTENT" : "consistent", checks.disagreement);
    }
    fputc('\n', out);
  }
}

static void print_bounds(FILE *out, const cavum_coldtest_report *report, int64_t most) {
  double directivity_db = report->file.setup.directivity_db;
  if (directivity_db <= 0.0) return;
  fprintf(
      out,
      "\nBounds by the directional coupler, %.4g dB (leak of unknown phase in the\nreading's own "
      "reflected power, Q_t held)\n",
      directivity_db);
  for (int64_t i = 0; i < shown(report, most); i++) {
    cavum_coldtest_checks checks;
    if (cavum_coldtest_check_point(&checks, report->test, i, NULL) != CAVUM_OK) continue;
    const double *q0 = checks.q0_bounds, *e_acc = checks.e_acc_bounds_v_per_m;
    if (!isfinite(q0[0]) || !isfinite(q0[1])) continue;
    fprintf(out, "%5lld  Q0 %.4g to %.4g, E_acc %.5g to %.5g MV/m\n", (long long)i + 1,
            fmin(q0[0], q0[1]), fmax(q0[0], q0[1]), cavum_in_mv_per_m(fmin(e_acc[0], e_acc[1])),
            cavum_in_mv_per_m(fmax(e_acc[0], e_acc[1])));
  }
}

/** Columns of limits that are in no table. */
static const table_column forward_column = {CAVUM_QUANTITY_FORWARD, "P_f", CAVUM_UNIT_W, 13};

static const table_column bath_column = {CAVUM_QUANTITY_BATH_HEAT, "bath heat", CAVUM_UNIT_W, 13};

static const table_column *column_of(cavum_coldtest_quantity quantity) {
  int i = 0;
  if (quantity == CAVUM_QUANTITY_FORWARD) return &forward_column;
  if (quantity == CAVUM_QUANTITY_BATH_HEAT) return &bath_column;
  while (i < NUM_COLUMNS - 1 && columns[i].quantity != quantity) i++;
  return &columns[i];
}

static void print_limit(FILE *out, const cavum_coldtest_report *report,
                        const cavum_coldtest_limit *limit) {
  double largest = -1.0;
  int64_t at = -1;
  for (int64_t i = 0; i < cavum_coldtest_num_points(report->test); i++) {
    double value = cavum_coldtest_get_point(report->test, i)->value[limit->quantity];
    if (value > largest) {
      largest = value;
      at = i;
    }
  }
  if (at < 0) return;
  const cavum_coldtest_point *point = cavum_coldtest_get_point(report->test, at);
  const table_column *column = column_of(limit->quantity);
  char text[CAVUM_QUANTITY_SIZE];
  format_result(text, cavum_in_unit(largest, column->unit),
                cavum_in_unit(point->uncertainty[limit->quantity], column->unit));
  fprintf(out, "  %s %s %s at reading %lld: %.1f %% of %.4g %s, %s (%s)\n", column->head, text,
          cavum_unit_symbol(column->unit), (long long)at + 1,
          cavum_in_percent(largest / limit->value), cavum_in_unit(limit->value, column->unit),
          cavum_unit_symbol(column->unit), limit->name, limit->source);
}

static void print_limits(FILE *out, const cavum_coldtest_report *report) {
  const cavum_coldtest_setup *setup = &report->file.setup;
  if (setup->num_limits == 0) return;
  cavum_colour_title(
      out, "Largest value against stated limits (for orientation; none of them is a pass mark)");
  for (int i = 0; i < setup->num_limits; i++) print_limit(out, report, &setup->limits[i]);
}

static void print_flags(FILE *out, const cavum_coldtest_report *report) {
  enum { MOST_NAMED = 12 };
  bool head = false;
  for (int flag = 0; flag < CAVUM_NUM_FLAGS; flag++) {
    int64_t raised = 0;
    for (int64_t i = 0; i < cavum_coldtest_num_points(report->test); i++) {
      if (!(cavum_coldtest_get_point(report->test, i)->flags & (1u << flag))) continue;
      if (raised == 0) {
        fprintf(out, "%s  %s:", head ? "" : "\nRemarks\n",
                cavum_coldtest_flag_text((cavum_coldtest_flag)flag));
      }
      head = true;
      if (++raised <= MOST_NAMED) fprintf(out, " %lld", (long long)i + 1);
    }
    if (raised > MOST_NAMED) fprintf(out, " ... (%lld readings)", (long long)raised);
    if (raised > 0) fputc('\n', out);
  }
}

static void print_words(FILE *out, const cavum_coldtest *test) {
  enum { MOST_ROWS = 20 };
  int64_t aside = cavum_coldtest_num_set_aside(test);
  int remarks = cavum_coldtest_num_remarks(test);
  if (remarks > 0) cavum_colour_title(out, "Implausible inputs");
  for (int i = 0; i < remarks; i++) {
    fprintf(out, "  %s\n", cavum_coldtest_get_remark(test, i));
  }
  if (aside > 0) cavum_colour_title(out, "Rows set aside");
  for (int64_t i = 0; i < aside && i < MOST_ROWS; i++) {
    const cavum_coldtest_set_aside *row = cavum_coldtest_get_set_aside(test, i);
    char line[32];
    snprintf(line, sizeof line, ":%lld:", (long long)row->line);
    if (!strstr(row->reason, line)) fprintf(out, "  line %lld:", (long long)row->line);
    fprintf(out, "%s %s\n", strstr(row->reason, line) ? " " : "", row->reason);
  }
  if (aside > MOST_ROWS) fprintf(out, "  ... %lld more\n", (long long)(aside - MOST_ROWS));
}

static const char *const PART_WORDS[] = {
#define PART_WORD(name, word, text) word,
    CAVUM_COLDTEST_PART_TABLE(PART_WORD)
#undef PART_WORD
};

bool cavum_coldtest_parts_read(unsigned *parts, const char *list) {
  unsigned wanted = 0;
  for (const char *word = list; word; word = strchr(word, ',') ? strchr(word, ',') + 1 : NULL) {
    size_t length = strcspn(word, ",");
    unsigned bits = length == 3 && strncmp(word, "all", 3) == 0 ? ~0U : 0;
    for (int i = 0; i < CAVUM_NUM_COLDTEST_PARTS; i++) {
      bool same = strlen(PART_WORDS[i]) == length && strncmp(word, PART_WORDS[i], length) == 0;
      if (same) bits |= 1U << i;
    }
    if (bits == 0) return false;
    wanted |= bits;
  }
  *parts |= wanted;
  return true;
}

void cavum_coldtest_parts_suggest(char text[CAVUM_NEAREST_SIZE], const char *list) {
  cavum_nearest nearest = {0};
  char typed[64];
  for (const char *word = list; word; word = strchr(word, ',') ? strchr(word, ',') + 1 : NULL) {
    unsigned bits = 0;
    snprintf(typed, sizeof typed, "%.*s", (int)(strcspn(word, ",") % sizeof typed), word);
    if (cavum_coldtest_parts_read(&bits, typed)) continue;
    for (int i = 0; i < CAVUM_NUM_COLDTEST_PARTS; i++) {
      cavum_nearest_offer(&nearest, typed, PART_WORDS[i]);
    }
  }
  cavum_nearest_write(text, &nearest, "");
}

static void print_notes(FILE *out, const cavum_coldtest_report *report, int64_t most) {
  bool head = false;
  for (int64_t i = 0; i < shown(report, most); i++) {
    const char *note = cavum_coldtest_get_note(report->test, i);
    if (!note[0]) continue;
    if (!head) cavum_colour_title(out, "Notes");
    head = true;
    fprintf(out, "%5lld  %s\n", (long long)i + 1, note);
  }
}

static bool wants(const cavum_coldtest_table_options *options, cavum_coldtest_part part) {
  return options->parts & (1U << part);
}

static void print_parts(FILE *out, const cavum_coldtest_report *report,
                        const cavum_coldtest_table_options *options) {
  int64_t rows = options->most_rows;
  if (wants(options, CAVUM_COLDTEST_PART_POINTS)) print_points(out, report, rows, true);
  if (wants(options, CAVUM_COLDTEST_PART_INTERVALS)) print_intervals(out, report, rows);
  if (wants(options, CAVUM_COLDTEST_PART_COUPLINGS)) print_couplings(out, report, rows);
  if (wants(options, CAVUM_COLDTEST_PART_BOUNDS)) print_bounds(out, report, rows);
  if (wants(options, CAVUM_COLDTEST_PART_BUDGETS)) {
    print_budgets(out, report, options->most_budgets);
  }
  if (wants(options, CAVUM_COLDTEST_PART_NOTES)) print_notes(out, report, rows);
  if (wants(options, CAVUM_COLDTEST_PART_RUNS)) cavum_coldtest_table_print_run_fits(out, report);
}

// What can be asked for and was not.
static void print_rest(FILE *out, const cavum_coldtest_table_options *options) {
  bool any = false;
  for (int i = 0; i < CAVUM_NUM_COLDTEST_PARTS; i++) {
    if (wants(options, (cavum_coldtest_part)i)) continue;
    fprintf(out, "%s%s", any ? "," : "\nOn request: --show ", PART_WORDS[i]);
    any = true;
  }
  if (any) fputs(", or all\n", out);
}

void cavum_coldtest_table_print(FILE *out, const cavum_coldtest_report *report,
                                const cavum_coldtest_table_options *options) {
  print_head(out, report);
  if (report->test) {
    print_calibrations(out, report);
    print_limits(out, report);
    print_flags(out, report);
    print_words(out, report->test);
    print_points(out, report, options->most_rows, false);
    print_runs(out, report->test);
    print_parts(out, report, options);
  }
  cavum_coldtest_table_print_series(out, report, wants(options, CAVUM_COLDTEST_PART_TRACES));
  cavum_coldtest_table_print_plans(out, report);
  if (report->test) print_rest(out, options);
  fprintf(out, "\n%s", cavum_coldtest_cautions());
}
