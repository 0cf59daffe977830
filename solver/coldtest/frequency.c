// SPDX-License-Identifier: GPL-3.0-or-later
// Lorentz-force coefficient and pressure sensitivity of the frequency.
#include <math.h>
#include <string.h>

#include "cavum/coldtest_frequency.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/linear_fit.h"
#include "coldtest/options.h"

enum { MOST_TERMS = 3, NUM_SHARED = CAVUM_FIRST_LOCAL_INPUT + 1, NUM_REWEIGHTINGS = 3 };
static const double MU0 = 4e-7 * CAVUM_PI, LIGHT_M_PER_S = 299792458.0;

cavum_status cavum_wall_integrate_pressure(cavum_wall_pressure *pressure, int64_t count,
                                           const double *arc_length_m, const double *r_m,
                                           const double *e_v_per_m, const double *h_a_per_m,
                                           double h_square_a2, cavum_error *error) {
  if (!pressure || !arc_length_m || !r_m || !e_v_per_m || !h_a_per_m) {
    return cavum_fail_null(error, __func__);
  }
  const double eps0 = 1.0 / (MU0 * LIGHT_M_PER_S * LIGHT_M_PER_S);
  double force = 0.0, square = 0.0, magnetic = 0.0;
  for (int64_t i = 0; i + 1 < count; i++) {
    double step = arc_length_m[i + 1] - arc_length_m[i];
    for (int64_t k = i; k < i + 2; k++) {
      double area = CAVUM_PI * step * r_m[k], h2 = h_a_per_m[k] * h_a_per_m[k];
      double p = 0.25 * (MU0 * h2 - eps0 * e_v_per_m[k] * e_v_per_m[k]);
      magnetic += area * h2;
      force += area * p;
      square += area * p * p;
    }
  }
  if (!(magnetic > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the wall of the mode has no magnetic field");
  }
  double whole = h_square_a2 > 0.0 ? h_square_a2 / magnetic : 1.0;
  *pressure = (cavum_wall_pressure){
      .known = true, .force_n = whole * force, .square_pa2m2 = whole * square};
  return CAVUM_OK;
}

/** Readings that are used. */
typedef struct rows {
  int64_t count;
  int num_terms;
  double scale, mean_pressure_pa, mean_hz;
  int64_t *index;                       // Owned, shape [count].
  cavum_dual *field;                    // Owned, shape [count].
  double *term, *value, *own, *shared;  // Owned.
} rows;

static bool belongs(const cavum_coldtest *test, int64_t i, const cavum_frequency_options *options,
                    bool with_pressure) {
  const cavum_coldtest_reading *reading = &test->readings.items[i];
  double e = test->points[i].value[CAVUM_QUANTITY_E_ACC];
  if (options->run > 0 && reading->run != options->run) return false;
  return isfinite(reading->frequency_hz) && isfinite(e) &&
         (!with_pressure || isfinite(reading->bath_pressure_pa)) &&
         (options->highest_e_acc_v_per_m <= 0.0 || e <= options->highest_e_acc_v_per_m);
}

// Enough of them for three parameters, and further apart than what their own errors make of them.
static bool pressures_differ(const cavum_coldtest *test, const cavum_frequency_options *options) {
  double low = INFINITY, high = -INFINITY;
  int64_t count = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (!belongs(test, i, options, true)) continue;
    count++;
    low = cavum_min(low, test->readings.items[i].bath_pressure_pa);
    high = cavum_max(high, test->readings.items[i].bath_pressure_pa);
  }
  return count >= MOST_TERMS && high - low > 4.0 * options->pressure_pa;
}

static cavum_status gather(rows *r, const cavum_coldtest *test,
                           const cavum_frequency_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t room = test->readings.num_readings, n = 0;
  bool with_pressure = pressures_differ(test, options);
  r->num_terms = with_pressure ? 3 : 2;
  r->index = cavum_alloc(room, sizeof *r->index);
  r->field = cavum_alloc(room, sizeof *r->field);
  r->term = cavum_alloc(room * MOST_TERMS, sizeof *r->term);
  r->value = cavum_alloc(room, sizeof *r->value);
  r->own = cavum_alloc(room, sizeof *r->own);
  r->shared = cavum_alloc(room * NUM_SHARED, sizeof *r->shared);
  if (!r->index || !r->field || !r->term || !r->value || !r->own || !r->shared) {
    return cavum_fail_memory(error);
  }
  for (int64_t i = 0; i < room; i++) {
    cavum_inverted inverted;
    if (!belongs(test, i, options, with_pressure)) continue;
    CAVUM_TRY(cavum_coldtest_invert_reading(&inverted, test, i, error));
    r->field[n] = cavum_coldtest_share_phase(inverted.result[CAVUM_QUANTITY_E_ACC]);
    r->scale = cavum_max(r->scale, r->field[n].value);
    r->mean_pressure_pa += test->readings.items[i].bath_pressure_pa;
    r->mean_hz += test->readings.items[i].frequency_hz;
    r->index[n++] = i;
  }
  r->count = n;
  if (n < r->num_terms) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "frequency against field: %lld reading%s with a frequency for %d parameters",
                      (long long)n, n == 1 ? "" : "s", r->num_terms);
  }
  r->mean_hz /= (double)n;
  r->mean_pressure_pa = with_pressure ? r->mean_pressure_pa / (double)n : NAN;
done:
  return status;
}

static void rows_clear(rows *r) {
  void *owned[] = {r->index, r->field, r->term, r->value, r->own, r->shared};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++) free(owned[i]);
}

// Rows with the errors of E and p as those of f, by the slopes of the round before. Pressures are
// in units of the largest distance from their mean.
static void fill(rows *r, double *pressure_scale_pa, const cavum_coldtest *test,
                 const cavum_frequency_options *options, const double slope[MOST_TERMS]) {
  double largest = 0.0;
  for (int64_t n = 0; n < r->count && r->num_terms == 3; n++) {
    double p = test->readings.items[r->index[n]].bath_pressure_pa - r->mean_pressure_pa;
    largest = cavum_max(largest, fabs(p));
  }
  *pressure_scale_pa = largest > 0.0 ? largest : 1.0;
  for (int64_t n = 0; n < r->count; n++) {
    const cavum_coldtest_reading *reading = &test->readings.items[r->index[n]];
    double *term = r->term + n * r->num_terms, e = r->field[n].value / r->scale;
    double moved = 2.0 * slope[1] * e / r->scale;  // df / dE.
    double by_pressure = slope[2] / *pressure_scale_pa, own = 0.0;
    term[0] = 1.0;
    term[1] = e * e;
    if (r->num_terms == 3) term[2] = (reading->bath_pressure_pa - r->mean_pressure_pa) / largest;
    for (int k = CAVUM_FIRST_LOCAL_INPUT; k < CAVUM_NUM_INPUTS; k++) {
      own += r->field[n].part[k] * r->field[n].part[k];
    }
    r->value[n] = reading->frequency_hz - r->mean_hz;
    r->own[n] = options->reading_hz > 0.0 ? hypot(hypot(options->reading_hz, moved * sqrt(own)),
                                                  by_pressure * options->pressure_pa)
                                          : 0.0;
    for (int k = 0; k < CAVUM_FIRST_LOCAL_INPUT; k++) {
      r->shared[n * NUM_SHARED + k] = -moved * r->field[n].part[k];
    }
    r->shared[n * NUM_SHARED + CAVUM_FIRST_LOCAL_INPUT] =
        r->num_terms == 3 ? -slope[2] * term[2] * options->pressure_scale : 0.0;
  }
}

static void set_expected(cavum_frequency_fit *fit, const cavum_coldtest *test,
                         const cavum_frequency_options *options,
                         const cavum_wall_pressure *pressure) {
  fit->expected_lorentz_hz_m2_per_v2 = fit->expected_pressure_hz_per_pa = NAN;
  if (!pressure || !pressure->known || !(options->stiffness_pa_per_m > 0.0)) return;
  double length_m = test->setup.accelerating_length_m.value, f = fit->frequency_hz.value;
  // E_acc^2 at 1 J.
  double square = test->setup.r_over_q_linac_ohm.value * 2.0 * CAVUM_PI * f / (length_m * length_m);
  double give = f / options->stiffness_pa_per_m;
  fit->expected_lorentz_hz_m2_per_v2 = -give * pressure->square_pa2m2 / square;
  fit->expected_pressure_hz_per_pa = give * pressure->force_n;
}

static void store(cavum_frequency_fit *out, const cavum_linear_fit *fit, const rows *r,
                  double pressure_scale_pa, double reference) {
  double sum = 0.0, square = r->scale * r->scale;
  for (int64_t n = 0; n < r->count; n++) {
    double rest = r->value[n];
    for (int k = 0; k < r->num_terms; k++) {
      rest -= fit->coefficient[k] * r->term[n * r->num_terms + k];
    }
    sum += rest * rest;
  }
  out->num_readings = r->count;
  out->has_pressure = r->num_terms == 3;
  out->mean_pressure_pa = r->mean_pressure_pa;
  out->frequency_hz =
      (cavum_estimate){.value = r->mean_hz + fit->coefficient[0],
                       .uncertainty = hypot(sqrt(fit->covariance[0][0]), reference * r->mean_hz)};
  out->lorentz_hz_m2_per_v2 = (cavum_estimate){.value = fit->coefficient[1] / square,
                                               .uncertainty = sqrt(fit->covariance[1][1]) / square};
  out->pressure_hz_per_pa = (cavum_estimate){.value = NAN, .uncertainty = NAN};
  if (out->has_pressure) {
    out->pressure_hz_per_pa =
        (cavum_estimate){.value = fit->coefficient[2] / pressure_scale_pa,
                         .uncertainty = sqrt(fit->covariance[2][2]) / pressure_scale_pa};
  }
  out->chi_squared = fit->chi_squared;
  out->degrees_of_freedom = fit->degrees_of_freedom;
  out->scatter_hz = fit->degrees_of_freedom > 0 ? sqrt(sum / fit->degrees_of_freedom) : 0.0;
}

cavum_status cavum_frequency_make_fit_sized(cavum_frequency_fit *fit, size_t struct_size,
                                            const cavum_coldtest *test,
                                            const cavum_frequency_options *options,
                                            const cavum_wall_pressure *pressure,
                                            cavum_error *error) {
  if (!fit || !test) return cavum_fail_null(error, __func__);
  cavum_frequency_options full;
  cavum_status status = cavum_frequency_options_take(&full, options, error);
  if (status != CAVUM_OK) return status;
  options = &full;
  cavum_frequency_fit out = {0};
  cavum_linear_fit line = {.degrees_of_freedom = 0};
  rows r = {0};
  double pressure_scale_pa = 1.0, slope[MOST_TERMS] = {0.0};
  CAVUM_TRY(gather(&r, test, options, error));
  for (int round = 0; round < NUM_REWEIGHTINGS; round++) {
    fill(&r, &pressure_scale_pa, test, options, slope);
    const cavum_linear_rows linear = {r.count, r.num_terms, r.term,  r.value,
                                      r.own,   NUM_SHARED,  r.shared};
    CAVUM_TRY(cavum_linear_fit_rows(&line, &linear, "frequency against field", error));
    memcpy(slope, line.coefficient, sizeof slope);
  }
  store(&out, &line, &r, pressure_scale_pa, test->setup.frequency_uncertainty);
  set_expected(&out, test, options, pressure);
  cavum_sized_give(fit, struct_size, &out, &cavum_frequency_fit_sized);
done:
  rows_clear(&r);
  return status;
}
