// SPDX-License-Identifier: GPL-3.0-or-later
// Weighted linear least squares by GSL, and what shared errors do to its result.
#include "coldtest/linear_fit.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_multifit.h>
#include <string.h>

#include "base/alone.h"

// Terms that differ by less, relative to the largest, are not told apart.
static const double SINGULAR = 1e-9;

/** Owned objects of GSL. */
typedef struct solver {
  gsl_multifit_linear_workspace *workspace;
  gsl_matrix *terms, *covariance;
  gsl_vector *values, *weights, *coefficients;
} solver;

static bool solver_create(solver *s, const cavum_linear_rows *rows) {
  size_t count = (size_t)rows->count, num = (size_t)rows->num_terms;
  s->workspace = gsl_multifit_linear_alloc(count, num);
  s->terms = gsl_matrix_alloc(count, num);
  s->covariance = gsl_matrix_alloc(num, num);
  s->values = gsl_vector_alloc(count);
  s->weights = gsl_vector_alloc(count);
  s->coefficients = gsl_vector_alloc(num);
  return s->workspace && s->terms && s->covariance && s->values && s->weights && s->coefficients;
}

static void solver_destroy(solver *s) {
  if (s->workspace) gsl_multifit_linear_free(s->workspace);
  if (s->terms) gsl_matrix_free(s->terms);
  if (s->covariance) gsl_matrix_free(s->covariance);
  if (s->values) gsl_vector_free(s->values);
  if (s->weights) gsl_vector_free(s->weights);
  if (s->coefficients) gsl_vector_free(s->coefficients);
}

static bool is_weighted(const cavum_linear_rows *rows) {
  for (int64_t i = 0; i < rows->count; i++) {
    if (!(rows->uncertainty[i] > 0.0)) return false;
  }
  return true;
}

static void fill(const solver *s, const cavum_linear_rows *rows, bool weighted) {
  for (int64_t i = 0; i < rows->count; i++) {
    double u = rows->uncertainty[i];
    gsl_vector_set(s->values, (size_t)i, rows->value[i]);
    gsl_vector_set(s->weights, (size_t)i, weighted ? 1.0 / (u * u) : 1.0);
    for (int k = 0; k < rows->num_terms; k++) {
      gsl_matrix_set(s->terms, (size_t)i, (size_t)k, rows->term[i * rows->num_terms + k]);
    }
  }
}

// (X'WX)^-1 X'W times the part of the input in each row.
void cavum_linear_fit_move(double move[CAVUM_MOST_TERMS], const cavum_linear_fit *fit,
                           const cavum_linear_rows *rows, int input) {
  int num = rows->num_terms;
  bool weighted = is_weighted(rows);
  double right[CAVUM_MOST_TERMS] = {0.0};
  for (int64_t i = 0; i < rows->count; i++) {
    double u = weighted ? rows->uncertainty[i] : 1.0;
    double part = rows->shared[i * rows->num_shared + input] / (u * u);
    for (int k = 0; k < num; k++) right[k] += part * rows->term[i * num + k];
  }
  for (int j = 0; j < CAVUM_MOST_TERMS; j++) {
    move[j] = 0.0;
    for (int k = 0; k < num; k++) move[j] += fit->inverse[j][k] * right[k];
  }
}

static void add_shared(cavum_linear_fit *fit, const cavum_linear_rows *rows) {
  for (int input = 0; input < rows->num_shared; input++) {
    double move[CAVUM_MOST_TERMS];
    cavum_linear_fit_move(move, fit, rows, input);
    for (int j = 0; j < rows->num_terms; j++) {
      for (int k = 0; k < rows->num_terms; k++) fit->covariance[j][k] += move[j] * move[k];
    }
  }
}

static void store(cavum_linear_fit *fit, const solver *s, const cavum_linear_rows *rows,
                  bool weighted, double chi_squared) {
  fit->degrees_of_freedom = (int)(rows->count - rows->num_terms);
  bool spare = fit->degrees_of_freedom > 0;
  fit->chi_squared = weighted && spare ? chi_squared : NAN;
  double factor = weighted ? 1.0 : spare ? chi_squared / fit->degrees_of_freedom : 0.0;
  for (int j = 0; j < rows->num_terms; j++) {
    fit->coefficient[j] = gsl_vector_get(s->coefficients, (size_t)j);
    for (int k = 0; k < rows->num_terms; k++) {
      fit->inverse[j][k] = gsl_matrix_get(s->covariance, (size_t)j, (size_t)k);
      fit->own[j][k] = factor * fit->inverse[j][k];
    }
  }
  memcpy(fit->covariance, fit->own, sizeof fit->covariance);
  add_shared(fit, rows);
}

cavum_status cavum_linear_fit_rows(cavum_linear_fit *fit, const cavum_linear_rows *rows,
                                   const char *what, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_linear_fit out = {.degrees_of_freedom = 0};
  solver s = {0};
  double chi_squared = 0.0;
  size_t rank = 0;
  if (rows->count < rows->num_terms) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %lld values for %d parameters", what,
                      (long long)rows->count, rows->num_terms);
  }
  bool weighted = is_weighted(rows);
  if (!weighted && rows->count == rows->num_terms) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "%s: %lld values without an uncertainty for %d parameters, expected more values "
        "or the uncertainty of one",
        what, (long long)rows->count, rows->num_terms);
  }
  // GSL's default handler would end the process.
  cavum_alone_enter(CAVUM_ALONE_GSL);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  if (!solver_create(&s, rows)) {
    status = cavum_fail_memory(error);
    goto done;
  }
  fill(&s, rows, weighted);
  int code = gsl_multifit_wlinear_tsvd(s.terms, s.weights, s.values, SINGULAR, s.coefficients,
                                       s.covariance, &chi_squared, &rank, s.workspace);
  if (code != GSL_SUCCESS || rank < (size_t)rows->num_terms) {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "%s: the readings do not tell %d parameters apart",
                        what, rows->num_terms);
    goto done;
  }
  store(&out, &s, rows, weighted, chi_squared);
  *fit = out;
done:
  solver_destroy(&s);
  gsl_set_error_handler(handler);
  cavum_alone_leave(CAVUM_ALONE_GSL);
  return status;
}

double cavum_linear_fit_deviation(const cavum_linear_fit *fit, const double g[CAVUM_MOST_TERMS]) {
  double sum = 0.0;
  for (int j = 0; j < CAVUM_MOST_TERMS; j++) {
    for (int k = 0; k < CAVUM_MOST_TERMS; k++) sum += g[j] * fit->covariance[j][k] * g[k];
  }
  return sqrt(cavum_max(sum, 0.0));
}
