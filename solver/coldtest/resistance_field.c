// SPDX-License-Identifier: GPL-3.0-or-later
// BCS part and residual against field, averaged over the wall and at one place of it.
#include <math.h>

#include "base/units.h"
#include "cavum/coldtest_field.h"
#include "coldtest/linear_fit.h"
#include "coldtest/options.h"
#include "coldtest/resistance.h"

enum { NUM = CAVUM_NUM_RESISTANCE_PARAMETERS, NUM_SHARED = CAVUM_FIRST_LOCAL_INPUT + 1 };
enum { TERMS = CAVUM_NUM_FIELD_TERMS, DEFAULT_DEGREE = 2, NUM_REWEIGHTINGS = 3 };
// The field in which the polynomials are written.
static const double UNIT_T = 0.1;

/** What one series gives for the polynomials. */
typedef struct entry {
  cavum_resistance_field_point point;
  double own_b_t, shared_b_t[NUM_SHARED];
  double value_ohm[CAVUM_NUM_FIELD_PARTS], own_ohm[CAVUM_NUM_FIELD_PARTS];
  double shared_ohm[CAVUM_NUM_FIELD_PARTS][NUM_SHARED];
} entry;

cavum_status cavum_wall_weigh(cavum_wall_weighting *weighting, int64_t count,
                              const double *arc_length_m, const double *r_m, const double *h,
                              cavum_error *error) {
  if (!weighting || !arc_length_m || !r_m || !h) return cavum_fail_null(error, __func__);
  double peak = 0.0, sum[TERMS] = {0.0};
  for (int64_t i = 0; i < count; i++) peak = cavum_max(peak, fabs(h[i]));
  if (count < 2 || !(peak > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the wall of the mode has no magnetic field");
  }
  for (int64_t i = 0; i + 1 < count; i++) {
    double step = arc_length_m[i + 1] - arc_length_m[i];
    for (int side = 0; side < 2; side++) {
      double x = fabs(h[i + side]) / peak, power = 0.5 * step * r_m[i + side] * x * x;
      for (int n = 0; n < TERMS; n++, power *= x) sum[n] += power;
    }
  }
  cavum_wall_weighting out = {.known = true};
  for (int n = 0; n < TERMS; n++) out.moment[n] = sum[n] / sum[0];
  *weighting = out;
  return CAVUM_OK;
}

// Value and parts of one of the two numbers of a fit from its derivatives g.
static void set_part(entry *e, int part, double value, const double g[NUM],
                     const cavum_resistance_shared *shared) {
  double own = 0.0;
  for (int j = 0; j < NUM; j++) {
    for (int k = 0; k < NUM; k++) own += g[j] * e->point.fit.statistical[j][k] * g[k];
  }
  e->value_ohm[part] = value;
  e->own_ohm[part] = sqrt(cavum_max(own, 0.0));
  for (int input = 0; input < NUM_SHARED; input++) {
    double move = 0.0;
    for (int j = 0; j < NUM; j++) move += g[j] * shared->moves[input][j];
    e->shared_ohm[part][input] = move;
  }
}

static cavum_estimate estimate_of(const entry *e, int part) {
  double square = e->own_ohm[part] * e->own_ohm[part];
  for (int i = 0; i < NUM_SHARED; i++) square += e->shared_ohm[part][i] * e->shared_ohm[part][i];
  return (cavum_estimate){.value = e->value_ohm[part], .uncertainty = sqrt(square)};
}

static cavum_status make_entry(entry *e, const cavum_coldtest *test,
                               const cavum_resistance_field_options *options, double e_acc_v_per_m,
                               cavum_error *error) {
  cavum_resistance_shared shared;
  const cavum_resistance_options one = {.e_acc_v_per_m = e_acc_v_per_m,
                                        .e_acc_tolerance = options->e_acc_tolerance,
                                        .fixed_gap_k = options->fixed_gap_k};
  cavum_resistance_field_point *point = &e->point;
  cavum_status status = cavum_resistance_fit_gradient(&point->fit, &shared, test, &one, error);
  if (status != CAVUM_OK) return status;
  cavum_dual factor =
      cavum_coldtest_figure(&test->setup.bpk_over_eacc_t_per_v_per_m, CAVUM_INPUT_BPK_OVER_EACC);
  cavum_dual b = cavum_dual_multiply(&shared.e_acc_v_per_m, &factor);
  point->e_acc_v_per_m =
      (cavum_estimate){.value = shared.e_acc_v_per_m.value,
                       .uncertainty = cavum_dual_uncertainty(&shared.e_acc_v_per_m)};
  point->b_peak_t = (cavum_estimate){.value = b.value, .uncertainty = cavum_dual_uncertainty(&b)};
  e->own_b_t = b.part[CAVUM_INPUT_NOISE_FORWARD];
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) e->shared_b_t[i] = b.part[i];
  e->shared_b_t[CAVUM_FIRST_LOCAL_INPUT] = 0.0;
  double g[NUM];
  double bcs = cavum_resistance_bcs_gradient(g, &point->fit, options->reference_k);
  set_part(e, CAVUM_FIELD_BCS, bcs, g, &shared);
  const double only_residual[NUM] = {[CAVUM_RESISTANCE_RESIDUAL] = 1.0};
  set_part(e, CAVUM_FIELD_RESIDUAL, point->fit.residual_ohm.value, only_residual, &shared);
  point->bcs_ohm = estimate_of(e, CAVUM_FIELD_BCS);
  point->residual_ohm = estimate_of(e, CAVUM_FIELD_RESIDUAL);
  return CAVUM_OK;
}

static void set_powers(double out[TERMS], double b_t, int num_terms) {
  double power = 1.0;
  for (int n = 0; n < TERMS; n++, power *= b_t / UNIT_T) out[n] = n < num_terms ? power : 0.0;
}

// dR/dB of a polynomial.
static double slope_ohm_per_t(const double coefficient[TERMS], double b_t, int num_terms) {
  double slope = 0.0, power = 1.0;
  for (int n = 1; n < num_terms; n++, power *= b_t / UNIT_T) {
    slope += n * coefficient[n] * power / UNIT_T;
  }
  return slope;
}

// One polynomial. An error of B moves a point along the curve, which is an error of R by -dR/dB
// times it; the slope is that of the round before.
static cavum_status fit_part(cavum_linear_fit *fit, const entry *entries, int count, int part,
                             int num_terms, cavum_error *error) {
  double term[CAVUM_MAX_GRADIENTS * TERMS], value[CAVUM_MAX_GRADIENTS], own[CAVUM_MAX_GRADIENTS];
  double shared[CAVUM_MAX_GRADIENTS * NUM_SHARED];
  for (int round = 0; round < NUM_REWEIGHTINGS; round++) {
    for (int i = 0; i < count; i++) {
      const entry *e = &entries[i];
      double power[TERMS], b_t = e->point.b_peak_t.value;
      double slope = round > 0 ? slope_ohm_per_t(fit->coefficient, b_t, num_terms) : 0.0;
      set_powers(power, b_t, num_terms);
      for (int n = 0; n < num_terms; n++) term[i * num_terms + n] = power[n];
      value[i] = e->value_ohm[part];
      own[i] = e->own_ohm[part] > 0.0 ? hypot(e->own_ohm[part], slope * e->own_b_t) : 0.0;
      for (int k = 0; k < NUM_SHARED; k++) {
        shared[i * NUM_SHARED + k] = e->shared_ohm[part][k] - slope * e->shared_b_t[k];
      }
    }
    const cavum_linear_rows rows = {count, num_terms, term, value, own, NUM_SHARED, shared};
    cavum_status status =
        cavum_linear_fit_rows(fit, &rows, "surface resistance against field", error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static void store_part(cavum_resistance_field *field, const cavum_linear_fit *fit, int part) {
  const cavum_wall_weighting *wall = &field->weighting;
  field->chi_squared[part] = fit->chi_squared;
  field->degrees_of_freedom = fit->degrees_of_freedom;
  for (int n = 0; n < TERMS; n++) {
    bool in_use = n <= field->degree;
    double u = sqrt(cavum_max(fit->covariance[n][n], 0.0));
    double local = wall->known ? 1.0 / wall->moment[n] : NAN;
    cavum_estimate none = {.value = NAN, .uncertainty = NAN};
    field->average_ohm[part][n] =
        in_use ? (cavum_estimate){.value = fit->coefficient[n], .uncertainty = u} : none;
    field->local_ohm[part][n] =
        in_use ? (cavum_estimate){.value = local * fit->coefficient[n], .uncertainty = local * u}
               : none;
  }
  for (int i = 0; i < field->num_points; i++) {
    cavum_resistance_field_point *point = &field->points[i];
    double g[TERMS], sum = 0.0;
    set_powers(g, point->b_peak_t.value, field->degree + 1);
    for (int n = 0; n < TERMS; n++) {
      g[n] *= wall->known ? 1.0 / wall->moment[n] : NAN;
      if (n > field->degree) g[n] = 0.0;
      sum += g[n] * fit->coefficient[n];
    }
    cavum_estimate local = {.value = sum, .uncertainty = cavum_linear_fit_deviation(fit, g)};
    if (!wall->known) local.uncertainty = NAN;
    if (part == CAVUM_FIELD_BCS) point->local_bcs_ohm = local;
    if (part == CAVUM_FIELD_RESIDUAL) point->local_residual_ohm = local;
  }
}

// A reading in two series would count twice, as if it had been taken twice.
static cavum_status check_apart(const double *gradients, int count, double tolerance,
                                cavum_error *error) {
  for (int i = 0; i + 1 < count; i++) {
    if (gradients[i] * (1.0 + tolerance) < gradients[i + 1] * (1.0 - tolerance)) continue;
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "surface resistance against field: %g and %g MV/m share readings: a "
        "tolerance below %.3g %% was expected",
        cavum_in_mv_per_m(gradients[i]), cavum_in_mv_per_m(gradients[i + 1]),
        cavum_in_percent((gradients[i + 1] - gradients[i]) / (gradients[i + 1] + gradients[i])));
  }
  return CAVUM_OK;
}

static int compare_fields(const void *left, const void *right) {
  const double *a = left, *b = right;
  return (*a > *b) - (*a < *b);
}

static cavum_status check(const cavum_coldtest *test, const cavum_resistance_field_options *options,
                          cavum_error *error) {
  int count = options->num_gradients;
  if (!(test->setup.bpk_over_eacc_t_per_v_per_m.value > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "surface resistance against field: needs B_pk/E_acc of the cavity");
  }
  if (count < 2 || count > CAVUM_MAX_GRADIENTS) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "surface resistance against field: 2 to %d gradients were expected, found %d",
                      CAVUM_MAX_GRADIENTS, count);
  }
  if (options->degree >= count || options->degree >= TERMS) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "surface resistance against field: degree %d with %d gradients, at most %d "
                      "was expected",
                      options->degree, count, count < TERMS ? count - 1 : TERMS - 1);
  }
  return CAVUM_OK;
}

cavum_status cavum_resistance_make_field_sized(cavum_resistance_field *field, size_t struct_size,
                                               const cavum_coldtest *test,
                                               const cavum_resistance_field_options *options,
                                               const cavum_wall_weighting *weighting,
                                               cavum_error *error) {
  if (!field || !test || !options) return cavum_fail_null(error, __func__);
  cavum_resistance_field_options full;
  cavum_status status = cavum_resistance_field_options_take(&full, options, error);
  options = &full;
  if (status == CAVUM_OK) status = check(test, options, error);
  if (status != CAVUM_OK) return status;
  int count = options->num_gradients;
  cavum_resistance_field *out = cavum_alloc(1, sizeof *out);
  entry *entries = cavum_alloc(count, sizeof *entries);
  double gradients[CAVUM_MAX_GRADIENTS] = {0.0};
  if (!out || !entries) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (int i = 0; i < count; i++) gradients[i] = options->e_acc_v_per_m[i];
  qsort(gradients, (size_t)count, sizeof *gradients, compare_fields);
  CAVUM_TRY(check_apart(gradients, count, options->e_acc_tolerance, error));
  out->num_points = count;
  out->reference_k = options->reference_k;
  out->degree = options->degree >= 0     ? options->degree
                : count > DEFAULT_DEGREE ? DEFAULT_DEGREE
                                         : count - 1;
  if (weighting) out->weighting = *weighting;
  for (int i = 0; i < count; i++) {
    CAVUM_TRY(make_entry(&entries[i], test, options, gradients[i], error));
    out->points[i] = entries[i].point;
  }
  for (int part = 0; part < CAVUM_NUM_FIELD_PARTS; part++) {
    cavum_linear_fit fit = {.degrees_of_freedom = 0};
    CAVUM_TRY(fit_part(&fit, entries, count, part, out->degree + 1, error));
    store_part(out, &fit, part);
  }
  cavum_sized_give(field, struct_size, out, &cavum_resistance_field_sized);
done:
  free(out);
  free(entries);
  return status;
}
