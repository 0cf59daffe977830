// SPDX-License-Identifier: GPL-3.0-or-later
// Means over tolerances. The largest of values that are linear has a mean above the largest mean
// where they compete: sums over draws, which are smooth in the values, as the mean is.
#include "optimum/mean.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_qrng.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "design/correlation.h"

// Normal draws with the correlation of the tolerances become draws of each over its deviation.
static void turn(double *draw, const double *normal, const double *root,
                 const cavum_tolerances *tolerances) {
  int n = tolerances->count;
  for (int i = 0; i < n; i++) {
    double z = 0.0;
    for (int k = 0; k <= i; k++) z += root[i * n + k] * normal[k];
    bool uniform = tolerances->list[i].kind == CAVUM_TOLERANCE_UNIFORM;
    draw[i] = uniform ? sqrt(3.0) * (2.0 * gsl_cdf_ugaussian_P(z) - 1.0) : z;
  }
}

// Points of a sequence have second moments of their own: they are turned so that these are 1 and 0,
// which makes the mean of all that is quadratic exact.
static void match_moments(double *normal, int n) {
  double moments[CAVUM_TOLERANCES_MOST * CAVUM_TOLERANCES_MOST] = {0.0};
  double root[CAVUM_TOLERANCES_MOST * CAVUM_TOLERANCES_MOST];
  for (int64_t i = 0; i < CAVUM_MEAN_DRAWS; i++) {
    const double *z = normal + i * n;
    for (int a = 0; a < n; a++) {
      for (int b = 0; b < n; b++) moments[a * n + b] += z[a] * z[b] / CAVUM_MEAN_DRAWS;
    }
  }
  if (!cavum_correlation_root(root, moments, n)) return;
  for (int64_t i = 0; i < CAVUM_MEAN_DRAWS; i++) {
    double *z = normal + i * n;
    for (int a = 0; a < n; a++) {
      for (int b = 0; b < a; b++) z[a] -= root[a * n + b] * z[b];
      z[a] /= root[a * n + a];
    }
  }
}

// Normal numbers, not correlated, each with its mirror image.
static bool draw_normal(double *normal, int n) {
  double fraction[CAVUM_TOLERANCES_MOST];
  gsl_qrng *sequence = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)n);
  if (!sequence) return false;
  for (int64_t i = 0; i < CAVUM_MEAN_DRAWS; i += 2) {
    gsl_qrng_get(sequence, fraction);
    for (int k = 0; k < n; k++) {
      normal[i * n + k] = gsl_cdf_ugaussian_Pinv(fraction[k]);
      normal[(i + 1) * n + k] = -normal[i * n + k];
    }
  }
  gsl_qrng_free(sequence);
  match_moments(normal, n);
  return true;
}

cavum_status cavum_mean_draws_make(double **draws, const cavum_tolerances *tolerances,
                                   cavum_error *error) {
  int n = tolerances->count;
  double root[CAVUM_TOLERANCES_MOST * CAVUM_TOLERANCES_MOST];
  double correlation[CAVUM_TOLERANCES_MOST * CAVUM_TOLERANCES_MOST];
  double normal[CAVUM_TOLERANCES_MOST];
  cavum_correlation_of_draws(correlation, tolerances);
  if (!cavum_correlation_root(root, correlation, n)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no dimensions can be correlated like this");
  }
  double *made = cavum_alloc((int64_t)CAVUM_MEAN_DRAWS * n, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  if (!draw_normal(made, n)) {
    free(made);
    return cavum_fail_memory(error);
  }
  for (int64_t i = 0; i < CAVUM_MEAN_DRAWS; i++) {
    memcpy(normal, made + i * n, (size_t)n * sizeof *normal);
    turn(made + i * n, normal, root, tolerances);
  }
  *draws = made;
  return CAVUM_OK;
}

static double value_of(const cavum_mean_values *v, int k, const double *z) {
  double sum = v->value[k];
  for (int t = 0; t < v->count; t++) sum += v->slope[k * v->count + t] * z[t];
  return sum;
}

static bool are_joined(const cavum_mean_values *v, int first, int last) {
  if (!v->joined || first < 0 || last >= v->num_values) return false;
  for (int k = first; k < last; k++) {
    if (!v->joined[k]) return false;
  }
  return true;
}

// The middle one of three neighbours of which the largest is one; -1: there are no three.
static int middle_of(const cavum_mean_values *v, int top) {
  static const int off[3] = {0, -1, 1};
  for (int k = 0; k < 3; k++) {
    if (are_joined(v, top + off[k] - 1, top + off[k] + 1)) return top + off[k];
  }
  return -1;
}

/** The top of a drawn shape: a sum over three values at most. */
typedef struct drawn_top {
  int first, num;
  double weight[3], value;
} drawn_top;

// By the envelope theorem the weights are the derivatives of the top as well.
static drawn_top top_of(const cavum_mean_values *v, const double *z, int top, double most) {
  drawn_top made = {.first = top, .num = 1, .weight = {1.0}, .value = most};
  int middle = middle_of(v, top);
  if (middle < 0) return made;
  double f[3];
  for (int k = 0; k < 3; k++) f[k] = value_of(v, middle - 1 + k, z);
  double bend = f[0] - 2.0 * f[1] + f[2];
  if (!(bend < 0.0)) return made;
  double at = cavum_min(cavum_max(0.5 * (f[0] - f[2]) / bend, -1.0), 1.0);
  double weight[3] = {0.5 * at * (at - 1.0), 1.0 - at * at, 0.5 * at * (at + 1.0)}, value = 0.0;
  for (int k = 0; k < 3; k++) value += weight[k] * f[k];
  if (!(value > most)) return made;
  made = (drawn_top){.first = middle - 1, .num = 3, .value = value};
  memcpy(made.weight, weight, sizeof weight);
  return made;
}

double cavum_mean_of_largest(double *part, double *along, const cavum_mean_values *values,
                             const double *draws, int num_draws) {
  int count = values->count;
  double sum = 0.0, share = 1.0 / num_draws;
  memset(part, 0, (size_t)values->num_values * sizeof *part);
  memset(along, 0, (size_t)values->num_values * (size_t)count * sizeof *along);
  for (int64_t i = 0; i < num_draws; i++) {
    const double *z = draws + i * count;
    double most = -HUGE_VAL;
    int largest = 0;
    for (int k = 0; k < values->num_values; k++) {
      double here = value_of(values, k, z);
      if (here > most) largest = k;
      most = cavum_max(most, here);
    }
    drawn_top top = top_of(values, z, largest, most);
    sum += share * top.value;
    for (int k = 0; k < top.num; k++) {
      double weight = share * top.weight[k];
      part[top.first + k] += weight;
      for (int t = 0; t < count; t++) along[(top.first + k) * count + t] += weight * z[t];
    }
  }
  return sum;
}

double cavum_mean_bend(const double *low, const double *high, const double *column, int count) {
  double sum = 0.0;
  for (int t = 0; t < count; t++) sum += column[t] * (high[t] - low[t]);
  return 0.25 * sum;
}
