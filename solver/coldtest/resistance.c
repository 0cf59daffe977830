// SPDX-License-Identifier: GPL-3.0-or-later
// R_s(T) at fixed field split into a BCS term and a residual:
//   R(T) = exp(q) (T_ref / T) exp(-g (1/T - 1/T_ref)) + R_0,
// with q = ln R_BCS(T_ref), which keeps q and g nearly uncorrelated. GSL's trust-region solver.
#include "coldtest/resistance.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit_nlinear.h>
#include <stdio.h>
#include <string.h>

#include "base/alone.h"

enum { NUM = CAVUM_NUM_RESISTANCE_PARAMETERS, MOST_ITERATIONS = 200, NUM_REWEIGHTINGS = 3 };
// First guess of Delta / k: the published fit for niobium.
static const double FIRST_GAP_K = 17.67;
// Delta / k of niobium is some 18 K, of compounds with twice its T_c some 40 K; of lead 16 K.
static const double LEAST_GAP_K = 8.0, LARGEST_GAP_K = 50.0;
// A chi squared that chance makes as large less often than this is no chance.
static const double UNLIKELY = 1e-3;
// T_c / 2 of niobium and the lambda point of helium.
static const double FIT_LIMIT_K = 4.6;
static const double LAMBDA_K = 2.17;

static double bcs_ohm(const double *parameter, double reference_k, double temperature_k) {
  return exp(parameter[CAVUM_RESISTANCE_LOG_BCS] -
             parameter[CAVUM_RESISTANCE_GAP] * (1.0 / temperature_k - 1.0 / reference_k)) *
         reference_k / temperature_k;
}

// d R / d (q, g, R_0).
static void gradient(double out[NUM], const double *parameter, double reference_k,
                     double temperature_k) {
  double bcs = bcs_ohm(parameter, reference_k, temperature_k);
  out[CAVUM_RESISTANCE_LOG_BCS] = bcs;
  out[CAVUM_RESISTANCE_GAP] = -bcs * (1.0 / temperature_k - 1.0 / reference_k);
  out[CAVUM_RESISTANCE_RESIDUAL] = 1.0;
}

/** What the solver's callbacks see; the residual is in units of scale_ohm inside the solver. */
typedef struct problem {
  const cavum_resistance_series *series;
  double reference_k, scale_ohm, fixed_gap_k;
  int map[NUM];  // Solver's parameter -> ours.
  size_t num_free;
} problem;

static void unpack(double parameter[NUM], const gsl_vector *x, const problem *p) {
  parameter[CAVUM_RESISTANCE_GAP] = p->fixed_gap_k;
  for (size_t i = 0; i < p->num_free; i++) parameter[p->map[i]] = gsl_vector_get(x, i);
  parameter[CAVUM_RESISTANCE_RESIDUAL] *= p->scale_ohm;
}

static int evaluate(const gsl_vector *x, void *data, gsl_vector *f) {
  const problem *p = data;
  double parameter[NUM];
  unpack(parameter, x, p);
  for (int64_t i = 0; i < p->series->count; i++) {
    double model = bcs_ohm(parameter, p->reference_k, p->series->temperature_k[i]) +
                   parameter[CAVUM_RESISTANCE_RESIDUAL];
    gsl_vector_set(f, (size_t)i, (model - p->series->resistance_ohm[i]) / p->scale_ohm);
  }
  return GSL_SUCCESS;
}

static int differentiate(const gsl_vector *x, void *data, gsl_matrix *jacobian) {
  const problem *p = data;
  double parameter[NUM], row[NUM];
  unpack(parameter, x, p);
  for (int64_t i = 0; i < p->series->count; i++) {
    gradient(row, parameter, p->reference_k, p->series->temperature_k[i]);
    row[CAVUM_RESISTANCE_RESIDUAL] *= p->scale_ohm;
    for (size_t j = 0; j < p->num_free; j++) {
      gsl_matrix_set(jacobian, (size_t)i, j, row[p->map[j]] / p->scale_ohm);
    }
  }
  return GSL_SUCCESS;
}

// dR/dT of the BCS term.
static double slope_ohm_per_k(const double *parameter, double reference_k, double temperature_k) {
  return bcs_ohm(parameter, reference_k, temperature_k) *
         (parameter[CAVUM_RESISTANCE_GAP] / temperature_k - 1.0) / temperature_k;
}

static void set_weights(gsl_vector *weights, const problem *p, const gsl_vector *x) {
  double parameter[NUM];
  unpack(parameter, x, p);
  for (int64_t i = 0; i < p->series->count; i++) {
    double temperature_k = p->series->temperature_k[i];
    double slope = slope_ohm_per_k(parameter, p->reference_k, temperature_k);
    double u = hypot(p->series->uncertainty_ohm[i], slope * p->series->temperature_uncertainty_k) /
               p->scale_ohm;
    gsl_vector_set(weights, (size_t)i, p->series->weighted ? 1.0 / (u * u) : 1.0);
  }
}

static void store_covariance(cavum_resistance_fit *fit, const problem *p,
                             const gsl_matrix *covariance, double factor) {
  for (size_t i = 0; i < p->num_free; i++) {
    for (size_t j = 0; j < p->num_free; j++) {
      double scale = (p->map[i] == CAVUM_RESISTANCE_RESIDUAL ? p->scale_ohm : 1.0) *
                     (p->map[j] == CAVUM_RESISTANCE_RESIDUAL ? p->scale_ohm : 1.0);
      fit->statistical[p->map[i]][p->map[j]] = factor * scale * gsl_matrix_get(covariance, i, j);
    }
  }
}

static problem make_problem(const cavum_resistance_series *series, double fixed_gap_k) {
  problem p = {.series = series, .fixed_gap_k = fixed_gap_k};
  double inverse = 0.0;
  p.scale_ohm = INFINITY;
  for (int64_t i = 0; i < series->count; i++) {
    inverse += 1.0 / series->temperature_k[i];
    p.scale_ohm = cavum_min(p.scale_ohm, series->resistance_ohm[i]);
  }
  p.reference_k = (double)series->count / inverse;
  for (int i = 0; i < NUM; i++) {
    if (i != CAVUM_RESISTANCE_GAP || fixed_gap_k <= 0.0) p.map[p.num_free++] = i;
  }
  return p;
}

// Start: all of the resistance at the highest temperature but the smallest one seen is BCS.
static void set_start(gsl_vector *x, const problem *p) {
  double gap = p->fixed_gap_k > 0.0 ? p->fixed_gap_k : FIRST_GAP_K;
  int64_t warmest = 0;
  for (int64_t i = 1; i < p->series->count; i++) {
    if (p->series->temperature_k[i] > p->series->temperature_k[warmest]) warmest = i;
  }
  double largest = p->series->resistance_ohm[warmest], at = p->series->temperature_k[warmest];
  double bcs = cavum_max(largest - 0.5 * p->scale_ohm, 0.5 * p->scale_ohm);
  double q = log(bcs * at / p->reference_k) + gap * (1.0 / at - 1.0 / p->reference_k);
  const double start[NUM] = {q, gap, 0.5};
  for (size_t i = 0; i < p->num_free; i++) gsl_vector_set(x, i, start[p->map[i]]);
}

static cavum_status check_series(const cavum_resistance_series *series, const problem *p,
                                 cavum_error *error) {
  double lowest = INFINITY, highest = 0.0;
  for (int64_t i = 0; i < series->count; i++) {
    lowest = cavum_min(lowest, series->temperature_k[i]);
    highest = cavum_max(highest, series->temperature_k[i]);
  }
  if (series->count < (int64_t)p->num_free) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "surface resistance: %lld reading%s at this field for %d parameters",
                      (long long)series->count, series->count == 1 ? "" : "s", (int)p->num_free);
  }
  if (!(highest > 1.02 * lowest)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "surface resistance: temperatures from %g K to %g K are too close together",
                      lowest, highest);
  }
  return CAVUM_OK;
}

/** Owned objects of GSL. */
typedef struct solver {
  gsl_multifit_nlinear_workspace *workspace;
  gsl_vector *x, *weights;
  gsl_matrix *covariance;
} solver;

static bool solver_create(solver *s, const problem *p) {
  gsl_multifit_nlinear_parameters parameters = gsl_multifit_nlinear_default_parameters();
  size_t count = (size_t)p->series->count;
  s->workspace =
      gsl_multifit_nlinear_alloc(gsl_multifit_nlinear_trust, &parameters, count, p->num_free);
  s->x = gsl_vector_alloc(p->num_free);
  s->weights = gsl_vector_alloc(count);
  s->covariance = gsl_matrix_alloc(p->num_free, p->num_free);
  return s->workspace && s->x && s->weights && s->covariance;
}

static void solver_destroy(solver *s) {
  if (s->workspace) gsl_multifit_nlinear_free(s->workspace);
  if (s->x) gsl_vector_free(s->x);
  if (s->weights) gsl_vector_free(s->weights);
  if (s->covariance) gsl_matrix_free(s->covariance);
}

static bool iterate(solver *s, problem *p) {
  gsl_multifit_nlinear_fdf equations = {.f = evaluate,
                                        .df = differentiate,
                                        .n = (size_t)p->series->count,
                                        .p = p->num_free,
                                        .params = p};
  for (int round = 0; round < NUM_REWEIGHTINGS; round++) {
    int info = 0;
    set_weights(s->weights, p, s->x);
    if (gsl_multifit_nlinear_winit(s->x, s->weights, &equations, s->workspace) != GSL_SUCCESS) {
      return false;
    }
    int code = gsl_multifit_nlinear_driver(MOST_ITERATIONS, 1e-12, 1e-12, 0.0, NULL, NULL, &info,
                                           s->workspace);
    // A later round starts at the minimum of the one before and may find nothing to improve.
    bool no_progress = code == GSL_ENOPROG || info == GSL_ENOPROG;
    if (code != GSL_SUCCESS && !(round > 0 && no_progress)) return false;
    gsl_vector_memcpy(s->x, gsl_multifit_nlinear_position(s->workspace));
  }
  return true;
}

static void store_fit(cavum_resistance_fit *fit, const solver *s, const problem *p) {
  unpack(fit->parameter, s->x, p);
  fit->num_readings = p->series->count;
  fit->reference_k = p->reference_k;
  fit->gap_fixed = p->fixed_gap_k > 0.0;
  fit->degrees_of_freedom = (int)(p->series->count - (int64_t)p->num_free);
  double chi_squared = 0.0;
  const gsl_vector *f = gsl_multifit_nlinear_residual(s->workspace);
  for (size_t i = 0; i < f->size; i++) chi_squared += gsl_vector_get(f, i) * gsl_vector_get(f, i);
  bool judged = p->series->weighted && fit->degrees_of_freedom > 0;
  fit->chi_squared = judged ? chi_squared : NAN;
  fit->probability = judged ? gsl_cdf_chisq_Q(chi_squared, fit->degrees_of_freedom) : NAN;
  double factor = 1.0;
  if (!p->series->weighted) {
    factor = fit->degrees_of_freedom > 0 ? chi_squared / fit->degrees_of_freedom : 0.0;
  } else if (fit->probability < UNLIKELY) {
    factor = chi_squared / fit->degrees_of_freedom;  // As for Q_t and Q_e.
  }
  gsl_multifit_nlinear_covar(gsl_multifit_nlinear_jac(s->workspace), 0.0, s->covariance);
  store_covariance(fit, p, s->covariance, factor);
}

// J'W times the part of each shared input in every R_s; the last input is the thermometer, which
// moves the curve along the temperature.
static void project(double right[][NUM], const cavum_resistance_fit *fit, const solver *s,
                    const problem *p) {
  const cavum_resistance_series *series = p->series;
  double parts[CAVUM_NUM_INPUTS + 1], row[NUM];
  for (int64_t i = 0; i < series->count; i++) {
    double temperature_k = series->temperature_k[i];
    if (series->num_shared > 0) series->shared_ohm(parts, series->shared_data, i);
    parts[series->num_shared] = slope_ohm_per_k(fit->parameter, fit->reference_k, temperature_k) *
                                series->temperature_common_k;
    gradient(row, fit->parameter, p->reference_k, temperature_k);
    row[CAVUM_RESISTANCE_RESIDUAL] *= p->scale_ohm;
    double weight = gsl_vector_get(s->weights, (size_t)i);
    for (int input = 0; input <= series->num_shared; input++) {
      double part = parts[input] / p->scale_ohm;
      for (size_t j = 0; j < p->num_free; j++) {
        right[input][j] += weight * row[p->map[j]] / p->scale_ohm * part;
      }
    }
  }
}

// What all readings share moves the parameters by (J'WJ)^-1 J'W times its part in each R_s.
static void add_systematics(cavum_resistance_fit *fit, double *moves, const solver *s,
                            const problem *p) {
  double all[CAVUM_NUM_INPUTS + 1][NUM] = {{0.0}};
  memcpy(fit->covariance, fit->statistical, sizeof fit->covariance);
  project(all, fit, s, p);
  for (int input = 0; input <= p->series->num_shared; input++) {
    const double *right = all[input];
    double move[NUM] = {0.0};
    for (size_t j = 0; j < p->num_free; j++) {
      for (size_t k = 0; k < p->num_free; k++) {
        move[p->map[j]] += gsl_matrix_get(s->covariance, j, k) * right[k];
      }
    }
    move[CAVUM_RESISTANCE_RESIDUAL] *= p->scale_ohm;
    if (moves) memcpy(moves + (size_t)input * NUM, move, sizeof move);
    for (int j = 0; j < NUM; j++) {
      for (int k = 0; k < NUM; k++) fit->covariance[j][k] += move[j] * move[k];
    }
  }
}

// sqrt(g' C g).
static double deviation(const double covariance[NUM][NUM], const double *g) {
  double sum = 0.0;
  for (int j = 0; j < NUM; j++) {
    for (int k = 0; k < NUM; k++) sum += g[j] * covariance[j][k] * g[k];
  }
  return sqrt(cavum_max(sum, 0.0));
}

static void set_estimates(cavum_resistance_fit *fit) {
  const double *parameter = fit->parameter;
  double amplitude = exp(parameter[CAVUM_RESISTANCE_LOG_BCS] +
                         parameter[CAVUM_RESISTANCE_GAP] / fit->reference_k) *
                     fit->reference_k;
  const double g[NUM] = {amplitude, amplitude / fit->reference_k, 0.0};
  fit->amplitude_ohm_k =
      (cavum_estimate){.value = amplitude, .uncertainty = deviation(fit->covariance, g)};
  fit->gap_k = (cavum_estimate){
      .value = parameter[CAVUM_RESISTANCE_GAP],
      .uncertainty = sqrt(fit->covariance[CAVUM_RESISTANCE_GAP][CAVUM_RESISTANCE_GAP])};
  fit->residual_ohm = (cavum_estimate){
      .value = parameter[CAVUM_RESISTANCE_RESIDUAL],
      .uncertainty = sqrt(fit->covariance[CAVUM_RESISTANCE_RESIDUAL][CAVUM_RESISTANCE_RESIDUAL])};
}

static void add_caution(char *text, size_t size, const char *more) {
  size_t used = strlen(text);
  snprintf(text + used, size - used, "%s%s", used > 0 ? "; " : "", more);
}

static void set_caution(cavum_resistance_fit *fit, const cavum_resistance_series *series) {
  fit->lowest_k = INFINITY;
  fit->highest_k = 0.0;
  for (int64_t i = 0; i < series->count; i++) {
    fit->lowest_k = cavum_min(fit->lowest_k, series->temperature_k[i]);
    fit->highest_k = cavum_max(fit->highest_k, series->temperature_k[i]);
  }
  fit->caution[0] = '\0';
  size_t size = sizeof fit->caution;
  if (fit->highest_k > FIT_LIMIT_K) {
    add_caution(fit->caution, size,
                "readings above T_c/2 of niobium (4.6 K), where the formula does not hold");
  }
  if (fit->lowest_k < LAMBDA_K && fit->highest_k > LAMBDA_K) {
    add_caution(fit->caution, size,
                "readings on both sides of 2.17 K: the wall may be warmer than the bath above it");
  }
  if (fit->residual_ohm.value < 0.0) {
    add_caution(fit->caution, size, "the residual came out negative");
  }
  if (fit->degrees_of_freedom == 0) {
    add_caution(fit->caution, size, "as many readings as parameters: nothing tests the fit");
  }
  if (!fit->gap_fixed && !(fit->gap_k.value > LEAST_GAP_K && fit->gap_k.value < LARGEST_GAP_K)) {
    add_caution(fit->caution, size,
                "a gap that no superconductor of cavities has (niobium: 16 to 20 K)");
  }
  if (fit->probability < UNLIKELY) {
    add_caution(fit->caution, size,
                "the scatter is larger than the readings' uncertainties allow, and is taken in");
  } else if (fit->probability < 0.01) {
    add_caution(fit->caution, size, "the scatter is larger than the readings' uncertainties allow");
  }
}

cavum_status cavum_resistance_fit_series(cavum_resistance_fit *fit, double *moves,
                                         const cavum_resistance_series *series, double fixed_gap_k,
                                         cavum_error *error) {
  cavum_status status = CAVUM_OK;
  problem p = make_problem(series, fixed_gap_k);
  cavum_resistance_fit out = {0};
  solver s = {0};
  // GSL's default handler would end the process.
  cavum_alone_enter(CAVUM_ALONE_GSL);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  CAVUM_TRY(check_series(series, &p, error));
  if (!solver_create(&s, &p)) {
    status = cavum_fail_memory(error);
    goto done;
  }
  set_start(s.x, &p);
  if (!iterate(&s, &p)) {
    status = cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                        "surface resistance: the fit of BCS term and residual did not converge");
    goto done;
  }
  store_fit(&out, &s, &p);
  add_systematics(&out, moves, &s, &p);
  set_estimates(&out);
  set_caution(&out, series);
  *fit = out;
done:
  solver_destroy(&s);
  gsl_set_error_handler(handler);
  cavum_alone_leave(CAVUM_ALONE_GSL);
  return status;
}

cavum_estimate cavum_resistance_at_ohm(const cavum_resistance_fit *fit, double temperature_k) {
  double g[NUM];
  if (!fit) return (cavum_estimate){.value = NAN, .uncertainty = NAN};
  gradient(g, fit->parameter, fit->reference_k, temperature_k);
  return (cavum_estimate){.value = bcs_ohm(fit->parameter, fit->reference_k, temperature_k) +
                                   fit->parameter[CAVUM_RESISTANCE_RESIDUAL],
                          .uncertainty = deviation(fit->covariance, g)};
}

double cavum_resistance_bcs_gradient(double out[NUM], const cavum_resistance_fit *fit,
                                     double temperature_k) {
  gradient(out, fit->parameter, fit->reference_k, temperature_k);
  out[CAVUM_RESISTANCE_RESIDUAL] = 0.0;
  return bcs_ohm(fit->parameter, fit->reference_k, temperature_k);
}

cavum_estimate cavum_resistance_bcs_at_ohm(const cavum_resistance_fit *fit, double temperature_k) {
  double g[NUM];
  if (!fit) return (cavum_estimate){.value = NAN, .uncertainty = NAN};
  double value = cavum_resistance_bcs_gradient(g, fit, temperature_k);
  return (cavum_estimate){.value = value, .uncertainty = deviation(fit->covariance, g)};
}
