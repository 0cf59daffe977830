// SPDX-License-Identifier: GPL-3.0-or-later
// A decay trace beside the readings of its test: slips of units, of attenuators and of time bases
// move all of a trace, and only the readings can tell.
#include "coldtest/trace_remark.h"

#include "base/units.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/decay.h"

// A decay begins at a field that was held: higher than every reading by one step of a test at most.
static const double LARGEST_STEP = 1.2;
// Decay times at the same field differ by a coupler that was moved; Q0 changes little within a
// factor of two in field.
static const double SAME_FIELD = 2.0, LARGEST_RATIO = 1.5;
// 1/Q_L is the sum of all inverse Q: Q_L above Q_e beyond what calibrations are wrong by.
static const double LARGEST_LOADED = 1.5;
// Q_L of a window lies between those beside it, or is an extremum: beyond both by less than this.
static const double LARGEST_JUMP = 1.15, SURE = 5.0;
// Q_L above Q_e from here to the end, in its uncertainty: 1 in 700 windows by chance.
static const double ABOVE = 3.0;
// Within these ratios of the field, Q_L of one bath is the same within the second.
static const double NEAR_FIELD = 1.15, NEAR_LOADED = 1.1;
enum { FEWEST_COMPARED = 3 };

static double in_log(double ratio) { return fabs(log(ratio)); }

static void remark_on_gaps(cavum_coldtest *test, const cavum_decay_trace *trace) {
  int64_t gaps = 0, first = 0;
  char where[300];
  for (int64_t i = trace->num_samples - 1; i >= 0; i--) {
    if (!isnan(trace->transmitted_w[i])) continue;
    gaps++;
    first = i;
  }
  if (gaps == 0) return;
  cavum_coldtest_remark(test,
                        "%.130s: the first of %lld sample%s, of %lld, that %s left out: no time of "
                        "its own, or no power",
                        cavum_decay_place(where, trace, first), (long long)gaps,
                        gaps == 1 ? "" : "s", (long long)trace->num_samples,
                        gaps == 1 ? "is" : "are");
}

static double highest_reading(const cavum_coldtest *test) {
  double highest = 0.0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double e_acc = test->points[i].value[CAVUM_QUANTITY_E_ACC];
    if (isfinite(e_acc)) highest = cavum_max(highest, e_acc);
  }
  return highest;
}

static bool start_is_possible(cavum_coldtest *test, const char *file,
                              const cavum_decay_analysis *analysis) {
  double start = analysis->points[0].e_acc_v_per_m, highest = highest_reading(test);
  if (!(highest > 0.0) || !(start > LARGEST_STEP * highest)) {
    return !(start > CAVUM_COLDTEST_LARGEST_GRADIENT_V_PER_M);
  }
  bool possible = start <= CAVUM_COLDTEST_LARGEST_GRADIENT_V_PER_M;
  cavum_coldtest_remark(
      test,
      "%.100s%s: E_acc of %.4g MV/m where the decay starts, %.4g MV/m at the highest reading: %s",
      file, possible ? "" : ", set aside", cavum_in_mv_per_m(start), cavum_in_mv_per_m(highest),
      "another attenuator, or another unit of power?");
  return possible;
}

// Q_L is below Q_e in every window, or the times are no seconds.
static bool times_are_possible(cavum_coldtest *test, const char *file,
                               const cavum_decay_analysis *analysis, double omega) {
  if (!test->main.has_external) return true;
  double q_external = test->main.q_external.value, least = INFINITY;
  for (int i = 0; i < analysis->num_points; i++) {
    least = cavum_min(least, analysis->points[i].q_loaded);
  }
  if (!(least > LARGEST_LOADED * q_external)) return true;
  cavum_coldtest_remark(test,
                        "%.100s, set aside: decay time of %.4g s, Q_e of %.4g allows no more than "
                        "%.4g s: another unit of time?",
                        file, least / omega, q_external, q_external / omega);
  return false;
}

// The reading with a decay time and the window that are nearest to each other in field.
static bool remark_on_times(cavum_coldtest *test, const char *file,
                            const cavum_decay_analysis *analysis, double omega) {
  double nearest = log(SAME_FIELD), trace_s = NAN, reading_s = NAN, e_acc = NAN;
  int64_t reading = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double at = test->points[i].value[CAVUM_QUANTITY_E_ACC];
    if (isnan(test->readings.items[i].decay_time_s) || !(at > 0.0)) continue;
    for (int k = 0; k < analysis->num_points; k++) {
      double apart = in_log(analysis->points[k].e_acc_v_per_m / at);
      if (!(apart < nearest)) continue;
      nearest = apart;
      reading = i;
      e_acc = at;
      reading_s = test->readings.items[i].decay_time_s;
      trace_s = analysis->points[k].q_loaded / omega;
    }
  }
  if (!(in_log(trace_s / reading_s) > log(LARGEST_RATIO))) return false;
  cavum_coldtest_remark(test,
                        "%.100s: decay time of %.4g s at %.4g MV/m, reading %lld has %.4g s there: "
                        "a coupler that was moved, or another unit of time?",
                        file, trace_s, cavum_in_mv_per_m(e_acc), (long long)reading + 1, reading_s);
  return true;
}

// Of the readings at the field of a window the one whose Q_L is nearest; -1: none is at that field.
static int64_t nearest_reading(const cavum_coldtest *test, const cavum_decay_point *window) {
  int64_t found = -1;
  double nearest = INFINITY;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    const double *value = test->points[i].value;
    double apart = in_log(window->q_loaded / value[CAVUM_QUANTITY_Q_LOADED]);
    if (!(in_log(window->e_acc_v_per_m / value[CAVUM_QUANTITY_E_ACC]) < log(NEAR_FIELD))) continue;
    if (!(apart < nearest)) continue;
    nearest = apart;
    found = i;
  }
  return found;
}

// Most windows that have a reading at their field have another Q_L than all such readings, and all
// of them err to one side.
static void remark_on_loaded(cavum_coldtest *test, const char *file,
                             const cavum_decay_analysis *analysis) {
  int compared = 0, above = 0, below = 0;
  int64_t first = -1;
  double sum = 0.0;
  for (int k = 0; k < analysis->num_points; k++) {
    const cavum_decay_point *window = &analysis->points[k];
    int64_t i = nearest_reading(test, window);
    if (i < 0) continue;
    const cavum_coldtest_point *point = &test->points[i];
    double ratio = window->q_loaded / point->value[CAVUM_QUANTITY_Q_LOADED];
    double off = window->q_loaded - point->value[CAVUM_QUANTITY_Q_LOADED];
    double u = hypot(window->q_loaded_uncertainty, point->uncertainty[CAVUM_QUANTITY_Q_LOADED]);
    bool sure = fabs(off) > SURE * u && in_log(ratio) > log(NEAR_LOADED);
    if (first < 0) first = i;
    compared++;
    above += sure && off > 0.0;
    below += sure && off < 0.0;
    sum += log(ratio);
  }
  int most = above > below ? above : below;
  if (compared < FEWEST_COMPARED || 3 * most < 2 * compared) return;
  double percent = cavum_in_unit(exp(sum / compared) - 1.0, CAVUM_UNIT_PERCENT);
  cavum_coldtest_remark(test,
                        "%.100s: the loaded Q is %.3g %% %s that of the readings at the same field "
                        "(%.4g of reading %lld): the time base, another bath temperature, or a "
                        "coupler that was moved?",
                        file, fabs(percent), percent > 0.0 ? "above" : "below",
                        test->points[first].value[CAVUM_QUANTITY_Q_LOADED], (long long)first + 1);
}

// 1/Q_L is the sum of all inverse Q: what falls more slowly than the coupler empties the cavity is
// the meter.
static bool remark_on_floor(cavum_coldtest *test, const char *file,
                            const cavum_decay_analysis *analysis) {
  int from = analysis->num_points;
  if (!test->main.has_external) return false;
  double q_external = test->main.q_external.value;
  double uncertainty = cavum_dual_uncertainty(&test->main.q_external);
  while (from > 0) {
    const cavum_decay_point *p = &analysis->points[from - 1];
    double u = hypot(p->q_loaded_uncertainty, uncertainty);
    if (!(p->q_loaded - q_external > ABOVE * u)) break;
    from--;
  }
  if (from == analysis->num_points) return false;
  if (from == 0) {
    cavum_coldtest_remark(
        test,
        "%.100s: the loaded Q is above Q_e of %.4g all along, as in no cavity: an "
        "amplitude in place of the power, the time base, or a coupler that was "
        "moved?",
        file, q_external);
    return true;
  }
  cavum_coldtest_remark(
      test,
      "%.100s: from %.4g s on the loaded Q is above Q_e of %.4g, as in no cavity, "
      "and Q0 is too high before: a zero or a floor of the meter? State zero_mW "
      "or floor_uW, or end the trace earlier with last_s",
      file, analysis->points[from].time_s, q_external);
  return true;
}

// A window whose Q_L is far below or above both of its neighbours.
static void remark_on_jumps(cavum_coldtest *test, const char *file,
                            const cavum_decay_analysis *analysis) {
  for (int i = 1; i + 1 < analysis->num_points; i++) {
    const cavum_decay_point *p = &analysis->points[i];
    double before = p[-1].q_loaded, after = p[1].q_loaded, sum = 0.0;
    for (int k = -1; k <= 1; k++) sum = hypot(sum, p[k].q_loaded_uncertainty);
    double low = cavum_min(before, after), high = cavum_max(before, after);
    bool falls = LARGEST_JUMP * p->q_loaded < low && low - p->q_loaded > SURE * sum;
    bool rises = p->q_loaded > LARGEST_JUMP * high && p->q_loaded - high > SURE * sum;
    if (!falls && !rises) continue;
    cavum_coldtest_remark(test,
                          "%.100s: about %.4g s the loaded Q is %.4g, %.4g before and %.4g after: "
                          "%s, or a range of the meter that was switched?",
                          file, p->time_s, p->q_loaded, before, after,
                          falls ? "a quench in the decay, losses at this field alone"
                                : "samples that the recorder left out");
    return;
  }
}

bool cavum_coldtest_remark_on_trace(cavum_coldtest *test, const cavum_decay_trace *trace,
                                    const cavum_decay_analysis *analysis, double frequency_hz) {
  double omega = 2.0 * CAVUM_PI * frequency_hz;
  remark_on_gaps(test, trace);
  if (analysis->num_points == 0) return true;
  if (!start_is_possible(test, trace->file, analysis)) return false;
  if (!times_are_possible(test, trace->file, analysis, omega)) return false;
  bool told = remark_on_times(test, trace->file, analysis, omega);
  told = remark_on_floor(test, trace->file, analysis) || told;
  if (!told) remark_on_loaded(test, trace->file, analysis);
  remark_on_jumps(test, trace->file, analysis);
  return true;
}
