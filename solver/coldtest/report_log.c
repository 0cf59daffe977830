// SPDX-License-Identifier: GPL-3.0-or-later
// What the evaluation of a test says to the log hook of a program: all of it stands in the report
// too.
#include "coldtest/report_log.h"

#include <stdarg.h>
#include <stdio.h>

#include "base/units.h"

// Rows set aside that are told one by one.
enum { MOST_ROWS = 20 };

void cavum_coldtest_tell(const cavum_coldtest_watch *watch, cavum_log_severity severity,
                         const char *format, ...) {
  char line[2 * CAVUM_MESSAGE_SIZE];
  va_list arguments;
  if (!watch->log) return;
  va_start(arguments, format);
  (void)vsnprintf(line, sizeof line, format, arguments);
  va_end(arguments);
  watch->log(severity, "coldtest", line, watch->log_data);
}

// "subject: caution", where there is one.
static void warn(const cavum_coldtest_watch *watch, const char *subject, const char *caution) {
  if (*caution) cavum_coldtest_tell(watch, CAVUM_LOG_WARNING, "%s: %s", subject, caution);
}

static void tell_rows(const cavum_coldtest_watch *watch, const cavum_coldtest *test) {
  int64_t aside = cavum_coldtest_num_set_aside(test);
  for (int i = 0; i < cavum_coldtest_num_remarks(test); i++) {
    cavum_coldtest_tell(watch, CAVUM_LOG_WARNING, "%s", cavum_coldtest_get_remark(test, i));
  }
  for (int64_t i = 0; i < aside && i < MOST_ROWS; i++) {
    const cavum_coldtest_set_aside *row = cavum_coldtest_get_set_aside(test, i);
    cavum_coldtest_tell(watch, CAVUM_LOG_WARNING, "row set aside, line %lld: %s",
                        (long long)row->line, row->reason);
  }
  if (aside > MOST_ROWS) {
    cavum_coldtest_tell(watch, CAVUM_LOG_WARNING, "%lld more rows set aside",
                        (long long)(aside - MOST_ROWS));
  }
}

static void tell_flags(const cavum_coldtest_watch *watch, const cavum_coldtest *test) {
  int64_t count = cavum_coldtest_num_points(test), raised[CAVUM_NUM_FLAGS] = {0};
  for (int64_t i = 0; i < count; i++) {
    uint32_t flags = cavum_coldtest_get_point(test, i)->flags;
    for (int flag = 0; flag < CAVUM_NUM_FLAGS; flag++) raised[flag] += flags >> flag & 1U;
  }
  for (int flag = 0; flag < CAVUM_NUM_FLAGS; flag++) {
    if (raised[flag] == 0) continue;
    cavum_coldtest_tell(watch, CAVUM_LOG_WARNING, "%lld of %lld readings: %s",
                        (long long)raised[flag], (long long)count,
                        cavum_coldtest_flag_text((cavum_coldtest_flag)flag));
  }
}

static void tell_monte_carlo(const cavum_coldtest_watch *watch,
                             const cavum_coldtest_report *report) {
  int64_t undetermined = 0, unstable = 0;
  for (int64_t i = 0; i < report->num_monte_carlo; i++) {
    const cavum_coldtest_monte_carlo *outcome = &report->monte_carlo[i];
    undetermined += outcome->num_draws == 0;
    unstable += outcome->num_draws > 0 && !outcome->stable;
  }
  if (undetermined > 0) {
    cavum_coldtest_tell(watch, CAVUM_LOG_WARNING,
                        "%lld readings are not determined by their powers: too many draws leave no "
                        "dissipated power or no net power",
                        (long long)undetermined);
  }
  if (unstable > 0) {
    cavum_coldtest_tell(watch, CAVUM_LOG_WARNING,
                        "%lld readings: the digits asked for are not stable within %lld draws",
                        (long long)unstable, (long long)report->file.setup.max_draws);
  }
}

static void tell_series(const cavum_coldtest_watch *watch, const cavum_coldtest_report *report) {
  char subject[128];
  for (int i = 0; i < report->num_waiting; i++) {
    bool growing = report->file.setup.growing;
    cavum_coldtest_tell(watch, growing ? CAVUM_LOG_NOTE : CAVUM_LOG_WARNING, "%s: %s",
                        growing ? "waits for readings" : "not evaluated", report->waiting[i]);
  }
  if (report->has_fit) warn(watch, "surface resistance", report->fit.caution);
  for (int i = 0; i < report->num_predictions; i++) {
    const cavum_resistance_prediction *p = &report->predictions[i];
    (void)snprintf(subject, sizeof subject, "prediction at %.4g K", p->temperature_k);
    warn(watch, subject, p->caution);
  }
  for (int i = 0; report->has_field && i < report->field.num_points; i++) {
    const cavum_resistance_field_point *p = &report->field.points[i];
    (void)snprintf(subject, sizeof subject, "surface resistance at %.4g MV/m",
                   cavum_in_unit(p->e_acc_v_per_m.value, CAVUM_UNIT_MV_PER_M));
    warn(watch, subject, p->fit.caution);
  }
  if (report->has_emission) warn(watch, "field emission", report->emission.caution);
  for (int i = 0; i < report->num_run_fits; i++) {
    (void)snprintf(subject, sizeof subject, "run '%s'",
                   cavum_coldtest_get_run_name(report->test, i + 1));
    warn(watch, subject, report->run_fits[i].caution);
  }
}

void cavum_coldtest_tell_report(const cavum_coldtest_watch *watch,
                                const cavum_coldtest_report *report) {
  if (!watch->log || !report->test) return;
  tell_rows(watch, report->test);
  tell_flags(watch, report->test);
  tell_monte_carlo(watch, report);
  tell_series(watch, report);
}
