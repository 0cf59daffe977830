// SPDX-License-Identifier: GPL-3.0-or-later
// The points of a cold test as CSV: a column for every result and its standard uncertainty, SI.
#include <stdio.h>

#include "base/base.h"
#include "cavum/coldtest_report.h"
#include "format/number.h"

// With the digits that the JSON has.
static void print_number(FILE *out, double value) {
  char number[CAVUM_STORE_NUMBER_SIZE];
  fputc(',', out);
  if (!isfinite(value)) return;
  cavum_store_format_number(number, value);
  fputs(number, out);
}

static void print_header(FILE *out, bool emission, bool runs) {
  fputs(
      "point,line,frequency_Hz,bath_temperature_K,radiation_Sv_per_h,bath_pressure_Pa,by,branch,"
      "coupling_from",
      out);
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    const char *key = cavum_coldtest_describe_quantity((cavum_coldtest_quantity)i).key;
    fprintf(out, ",%s,%s_uncertainty", key, key);
  }
  fputs(",correlation_q0_gradient,flags,run,note", out);
  if (emission) {
    fputs(
        ",radiation_less_background_Sv_per_h,radiation_less_background_Sv_per_h_uncertainty"
        ",electron_power_W,electron_power_W_uncertainty",
        out);
  }
  for (int k = 0; runs && k < CAVUM_NUM_RUN_QUANTITIES; k++) {
    const char *key = cavum_run_quantity_describe((cavum_run_quantity)k).key;
    fprintf(out, ",run_%s,run_%s_uncertainty", key, key);
  }
  fputc('\n', out);
}

static void print_flags(FILE *out, uint32_t flags) {
  const char *separator = "";
  fputc(',', out);
  for (int i = 0; i < CAVUM_NUM_FLAGS; i++) {
    if (!(flags & (1u << i))) continue;
    fprintf(out, "%s%s", separator, cavum_coldtest_flag_key((cavum_coldtest_flag)i));
    separator = " ";
  }
}

// In quotes, those inside doubled (RFC 4180).
static void print_note(FILE *out, const char *note) {
  fputc(',', out);
  if (!note[0]) return;
  fputc('"', out);
  for (; *note; note++) {
    if (*note == '"') fputc('"', out);
    fputc(*note, out);
  }
  fputc('"', out);
}

static void print_emission(FILE *out, const cavum_field_emission *emission, int64_t index) {
  print_number(out, emission->excess_sv_per_h[index]);
  print_number(out, emission->excess_uncertainty_sv_per_h[index]);
  print_number(out, emission->power_w[index].value);
  print_number(out, emission->power_w[index].uncertainty);
}

// Of the run that the point belongs to.
static void print_run_fit(FILE *out, const cavum_coldtest_report *report, int run) {
  bool named = run > 0 && run <= report->num_run_fits;
  for (int k = 0; k < CAVUM_NUM_RUN_QUANTITIES; k++) {
    cavum_estimate e =
        cavum_run_fit_get(named ? &report->run_fits[run - 1] : NULL, (cavum_run_quantity)k);
    print_number(out, e.value);
    print_number(out, e.uncertainty);
  }
}

static void print_point(FILE *out, const cavum_coldtest_report *report, int64_t index) {
  const cavum_coldtest *test = report->test;
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, index);
  const cavum_coldtest_reading *reading = cavum_coldtest_get_reading(test, index);
  double setup_hz = cavum_coldtest_get_setup(test)->frequency_hz;
  fprintf(out, "%lld,%lld", (long long)index + 1, (long long)reading->line);
  print_number(out, isnan(reading->frequency_hz) ? setup_hz : reading->frequency_hz);
  print_number(out, reading->bath_temperature_k);
  print_number(out, reading->radiation_sv_per_h);
  print_number(out, reading->bath_pressure_pa);
  fprintf(out, ",%s,%s,%s", point->by_decay ? "decay" : "pickup", cavum_branch_name(point->branch),
          cavum_coupling_method_name(point->method));
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    print_number(out, point->value[i]);
    print_number(out, point->uncertainty[i]);
  }
  print_number(out, point->correlation);
  print_flags(out, point->flags);
  print_note(out, cavum_coldtest_get_run_name(test, reading->run));
  print_note(out, cavum_coldtest_get_note(test, index));
  if (report->has_emission) print_emission(out, &report->emission, index);
  if (report->num_run_fits > 0) print_run_fit(out, report, reading->run);
  fputc('\n', out);
}

cavum_status cavum_store_coldtest_to_csv(char **text, const cavum_coldtest_report *report,
                                         cavum_error *error) {
  if (!text || !report) return cavum_fail_null(error, __func__);
  char *made = NULL;
  size_t size = 0;
  if (!report->test) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "a plan has no readings: no CSV can be written");
  }
  FILE *out = open_memstream(&made, &size);
  if (!out) return cavum_fail_memory(error);
  print_header(out, report->has_emission, report->num_run_fits > 0);
  for (int64_t i = 0; i < cavum_coldtest_num_points(report->test); i++) {
    print_point(out, report, i);
  }
  bool good = ferror(out) == 0;
  good = fclose(out) == 0 && good;
  if (!good) {
    free(made);
    return cavum_fail_memory(error);
  }
  *text = made;
  return CAVUM_OK;
}
