// SPDX-License-Identifier: GPL-3.0-or-later
// The power that field-emitted electrons take: P_d less what the walls take, 1/Q0 of the walls
// being a polynomial in E_acc through the readings below the onset.
#include "coldtest/emission_power.h"

#include <gsl/gsl_cdf.h>
#include <string.h>

#include "coldtest/coldtest_private.h"
#include "coldtest/linear_fit.h"

enum { TERMS = CAVUM_NUM_EMISSION_TERMS, SHARED = CAVUM_FIRST_LOCAL_INPUT };
static const double BATH_TOLERANCE_K = 0.02;
// Below this probability of its chi squared a curve says how large the errors are.
static const double UNLIKELY = 0.01;

/** One reading of the bath. */
typedef struct wall_row {
  int64_t point;
  cavum_dual e, q0, power, voltage;
} wall_row;

/** The curve below the onset. */
typedef struct wall_curve {
  int64_t count;   // Of rows below the onset.
  int64_t *below;  // Owned, shape [rows]: their indices.
  int num_terms;
  double reference, scaling;
  cavum_linear_fit fit;
  double move[SHARED][CAVUM_MOST_TERMS];  // By the shared inputs.
  double own[TERMS][TERMS];               // Root of the covariance from the rows themselves.
} wall_curve;

static int by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

// The bath of most readings: the middle of the window of two tolerances that holds most of them.
cavum_status cavum_emission_find_bath(double *bath_k, const cavum_coldtest *test,
                                      const cavum_field_emission_options *options,
                                      double tolerance_k, cavum_error *error) {
  int64_t count = 0, first = 0, best = 0;
  double *all = cavum_alloc(test->readings.num_readings, sizeof *all);
  if (!all) return cavum_fail_memory(error);
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double k = test->readings.items[i].bath_temperature_k;
    if (isfinite(k) && cavum_emission_in_range(test, options, i)) all[count++] = k;
  }
  qsort(all, (size_t)count, sizeof *all, by_size);
  *bath_k = NAN;
  for (int64_t last = 0; last < count; last++) {
    while (all[last] - all[first] > 2.0 * tolerance_k) first++;
    if (last - first + 1 <= best) continue;
    best = last - first + 1;
    *bath_k = all[(first + last) / 2];
  }
  free(all);
  return CAVUM_OK;
}

static cavum_status gather(wall_row *rows, int64_t *count, const cavum_field_emission *out,
                           const cavum_coldtest *test, const cavum_field_emission_options *options,
                           double tolerance_k, cavum_error *error) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double bath = test->readings.items[i].bath_temperature_k;
    const double *value = test->points[i].value;
    bool here =
        isnan(out->bath_temperature_k) || fabs(bath - out->bath_temperature_k) <= tolerance_k;
    if (!here || !cavum_emission_in_range(test, options, i)) continue;
    if (!isfinite(value[CAVUM_QUANTITY_Q0]) || !isfinite(value[CAVUM_QUANTITY_WALL_POWER]))
      continue;
    cavum_inverted inverted;
    cavum_status status = cavum_coldtest_invert_reading(&inverted, test, i, error);
    if (status != CAVUM_OK) return status;
    const cavum_dual *result = inverted.result;
    rows[(*count)++] =
        (wall_row){.point = i,
                   .e = cavum_coldtest_share_phase(result[CAVUM_QUANTITY_E_ACC]),
                   .q0 = cavum_coldtest_share_phase(result[CAVUM_QUANTITY_Q0]),
                   .power = cavum_coldtest_share_phase(result[CAVUM_QUANTITY_WALL_POWER]),
                   .voltage = cavum_coldtest_share_phase(result[CAVUM_QUANTITY_VOLTAGE])};
  }
  return CAVUM_OK;
}

/** Value of the curve and E times its slope. */
typedef struct wall_value {
  double loss, by_log_e;
} wall_value;

static wall_value wall_at(const wall_curve *curve, double e) {
  double x = e / curve->reference, power = 1.0;
  wall_value value = {0};
  for (int n = 0; n < curve->num_terms; n++, power *= x) {
    value.loss += curve->fit.coefficient[n] * power;
    value.by_log_e += n * curve->fit.coefficient[n] * power;
  }
  return value;
}

/** Rows of the curve; owned. */
typedef struct wall_fit_rows {
  double *term, *value, *own, *shared;
} wall_fit_rows;

// 1/Q0 with the errors of E as those of 1/Q0, by the slope of the round before.
static void fill(const wall_fit_rows *to, const wall_curve *curve, const wall_row *rows) {
  for (int64_t j = 0; j < curve->count; j++) {
    const wall_row *row = &rows[curve->below[j]];
    double loss = 1.0 / row->q0.value, x = row->e.value / curve->reference, power = 1.0;
    double by_e = wall_at(curve, row->e.value).by_log_e / row->e.value, square = 0.0;
    for (int n = 0; n < curve->num_terms; n++, power *= x) {
      to->term[j * curve->num_terms + n] = power;
    }
    for (int k = 0; k < CAVUM_NUM_INPUTS; k++) {
      double part = -loss * loss * row->q0.part[k] - by_e * row->e.part[k];
      if (k < SHARED) to->shared[j * SHARED + k] = part;
      if (k >= SHARED) square += part * part;
    }
    to->value[j] = loss;
    to->own[j] = sqrt(square);
  }
}

// Lower triangular root of a covariance (Cholesky); what is not positive by rounding counts as 0.
static void take_root(wall_curve *curve) {
  for (int j = 0; j < curve->num_terms; j++) {
    for (int k = 0; k <= j; k++) {
      double sum = curve->scaling * curve->scaling * curve->fit.own[j][k];
      for (int m = 0; m < k; m++) sum -= curve->own[j][m] * curve->own[k][m];
      double pivot = curve->own[k][k];
      if (j == k) curve->own[j][k] = sqrt(cavum_max(sum, 0.0));
      if (j != k) curve->own[j][k] = pivot > 0.0 ? sum / pivot : 0.0;
    }
  }
}

// Errors that are too small for what the readings show are made as large as that.
static double find_scaling(const cavum_linear_fit *fit) {
  if (!(fit->chi_squared > 0.0) || fit->degrees_of_freedom < 1) return 1.0;
  double spare = fit->degrees_of_freedom;
  if (gsl_cdf_chisq_Q(fit->chi_squared, spare) > UNLIKELY) return 1.0;
  return sqrt(fit->chi_squared / spare);
}

static cavum_status fit_curve(wall_curve *curve, const wall_row *rows, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t count = curve->count;
  wall_fit_rows to = {cavum_alloc(count * TERMS, sizeof(double)),
                      cavum_alloc(count, sizeof(double)), cavum_alloc(count, sizeof(double)),
                      cavum_alloc(count * SHARED, sizeof(double))};
  if (!to.term || !to.value || !to.own || !to.shared) {
    status = cavum_fail_memory(error);
    goto done;
  }
  const cavum_linear_rows linear = {count,  curve->num_terms, to.term,  to.value,
                                    to.own, SHARED,           to.shared};
  for (int round = 0; round < 2; round++) {
    fill(&to, curve, rows);
    CAVUM_TRY(cavum_linear_fit_rows(&curve->fit, &linear, "Q0 below the onset", error));
  }
  for (int k = 0; k < SHARED; k++) {
    cavum_linear_fit_move(curve->move[k], &curve->fit, &linear, k);
  }
  curve->scaling = find_scaling(&curve->fit);
  take_root(curve);
done:
  free(to.term);
  free(to.value);
  free(to.own);
  free(to.shared);
  return status;
}

// As many terms as were asked for, or as the readings tell apart with two to spare.
static cavum_status make_curve(wall_curve *curve, const wall_row *rows, int64_t count, double below,
                               int wanted, cavum_error *error) {
  for (int64_t i = 0; i < count; i++) {
    if (!(rows[i].e.value < below)) continue;
    curve->below[curve->count++] = i;
    curve->reference = cavum_max(curve->reference, rows[i].e.value);
  }
  int most = wanted > 0 ? wanted : TERMS;
  for (curve->num_terms = most; curve->num_terms > 0; curve->num_terms--) {
    cavum_error found = {0};
    if (curve->count < curve->num_terms + 2) continue;
    cavum_status status = fit_curve(curve, rows, &found);
    if (status == CAVUM_OK) return CAVUM_OK;
    if (status == CAVUM_ERR_INPUT) continue;
    if (error) *error = found;
    return status;
  }
  curve->count = 0;
  return CAVUM_OK;
}

// P = P_d (1 - Q0 w(E)), w being the loss of the walls.
static void set_power(cavum_emission_row *out, const wall_row *row, const wall_curve *curve) {
  wall_value wall = wall_at(curve, row->e.value);
  double pd = row->power.value, q0 = row->q0.value, share = 1.0 - q0 * wall.loss;
  double x = row->e.value / curve->reference;
  out->signal.value = pd * share;
  for (int k = 0; k < CAVUM_NUM_INPUTS; k++) {
    double part = share * row->power.part[k] - pd * wall.loss * row->q0.part[k] -
                  pd * q0 * wall.by_log_e / row->e.value * row->e.part[k];
    double power = 1.0;
    for (int n = 0; k < SHARED && n < curve->num_terms; n++, power *= x) {
      part -= pd * q0 * power * curve->move[k][n];
    }
    out->signal.part[k] = k < SHARED ? part : curve->scaling * part;
  }
  for (int m = 0; m < curve->num_terms; m++) {
    double power = 1.0;
    out->extra[m] = 0.0;
    for (int n = 0; n < curve->num_terms; n++, power *= x) {
      out->extra[m] -= pd * q0 * power * curve->own[n][m];
    }
  }
}

static double uncertainty_of(const cavum_emission_row *row) {
  double square = cavum_dual_covariance(&row->signal, &row->signal);
  for (int m = 0; m < CAVUM_EMISSION_EXTRA; m++) square += row->extra[m] * row->extra[m];
  return sqrt(square);
}

// The current: power over voltage.
static void divide_by_voltage(cavum_emission_row *row, const cavum_dual *voltage) {
  row->signal = cavum_dual_divide(&row->signal, voltage);
  for (int m = 0; m < CAVUM_EMISSION_EXTRA; m++) row->extra[m] /= voltage->value;
}

static bool has_own(const cavum_emission_row *row) {
  for (int k = SHARED; k < CAVUM_NUM_INPUTS; k++) {
    if (row->signal.part[k] != 0.0) return true;
  }
  return false;
}

static cavum_status store_powers(cavum_field_emission *out, const cavum_coldtest *test,
                                 const wall_row *rows, int64_t count, const wall_curve *curve,
                                 double below, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_emission_rows to = {.row = cavum_alloc(count, sizeof *to.row),
                            .stated = true,
                            .what = "field emission, power against field"};
  if (!to.row) return cavum_fail_memory(error);
  double highest = 0.0;
  for (int64_t i = 0; i < count; i++) {
    if (rows[i].e.value < below) continue;
    cavum_emission_row *row = &to.row[to.count++];
    row->e_acc = rows[i].e;
    set_power(row, &rows[i], curve);
    out->power_w[rows[i].point] =
        (cavum_estimate){.value = row->signal.value, .uncertainty = uncertainty_of(row)};
    if (rows[i].e.value > highest) out->strongest = rows[i].point;
    highest = cavum_max(highest, rows[i].e.value);
    divide_by_voltage(row, &rows[i].voltage);
    to.stated = to.stated && has_own(row);
  }
  cavum_emission_solution solution;
  cavum_error found = {0};
  status = to.count < 4 ? CAVUM_ERR_INPUT : cavum_emission_solve(&solution, &to, &found);
  if (status == CAVUM_OK) {
    out->power = solution.fit;
    cavum_emission_set_enhancement(&out->power, test, out->work_function_ev);
  }
  if (status == CAVUM_ERR_INPUT) status = CAVUM_OK;
  if (status != CAVUM_OK && error) *error = found;
  free(to.row);
  return status;
}

cavum_status cavum_emission_find_power(cavum_field_emission *out, const cavum_coldtest *test,
                                       const cavum_field_emission_options *options,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t count = 0, room = test->readings.num_readings;
  double below = out->wall_below_v_per_m;
  if (!(below > 0.0)) return CAVUM_OK;
  double tolerance = options->bath_tolerance_k > 0.0 ? options->bath_tolerance_k : BATH_TOLERANCE_K;
  wall_row *rows = cavum_alloc(room, sizeof *rows);
  wall_curve curve = {.below = cavum_alloc(room, sizeof *curve.below)};
  if (!rows || !curve.below) {
    status = cavum_fail_memory(error);
    goto done;
  }
  out->bath_temperature_k = options->bath_temperature_k;
  if (!(out->bath_temperature_k > 0.0)) {
    CAVUM_TRY(cavum_emission_find_bath(&out->bath_temperature_k, test, options, tolerance, error));
  }
  CAVUM_TRY(gather(rows, &count, out, test, options, tolerance, error));
  CAVUM_TRY(make_curve(&curve, rows, count, below, options->wall_terms, error));
  out->num_below = curve.count;
  if (curve.count == 0) goto done;
  out->wall_terms = curve.num_terms;
  out->wall_reference_v_per_m = curve.reference;
  out->wall_chi_squared = curve.fit.chi_squared;
  out->wall_degrees_of_freedom = curve.fit.degrees_of_freedom;
  out->wall_scaling = curve.scaling;
  memcpy(out->wall_coefficient, curve.fit.coefficient, sizeof out->wall_coefficient);
  CAVUM_TRY(store_powers(out, test, rows, count, &curve, below, error));
done:
  free(rows);
  free(curve.below);
  return status;
}
