// SPDX-License-Identifier: GPL-3.0-or-later
// Background and Fowler-Nordheim current through a series of readings.
#include "coldtest/fowler_nordheim.h"

#include <string.h>

#include "coldtest/coldtest_private.h"
#include "coldtest/linear_fit.h"

enum {
  NUM_SHARED = CAVUM_FIRST_LOCAL_INPUT + CAVUM_EMISSION_EXTRA + 1,
  NUM_STEPS = 48,     // Of the search over all slopes.
  NUM_ROUNDS = 6,     // Of weights from the fit before.
  NUM_SECTIONS = 45,  // Golden ones: 0.618^45 is 4e-10.
  MOST_TERMS = CAVUM_NUM_EMISSION_PARAMETERS
};
// Slope over the highest gradient: enhancements from 10,000 at 10 MV/m to 10 at 100 MV/m.
static const double LEAST_SLOPE = 0.1, MOST_SLOPE = 300.0;
// Emission is seen where it lowers chi squared by five standard deviations.
static const double CERTAIN = 25.0;
static const double GOLDEN = 0.61803398874989484820;

/** A trial: the parameters, and chi squared with the weights of this round. */
typedef struct trial {
  double background, level, slope, chi_squared;
} trial;

/** Work of a fit; arrays owned, shape [count]. */
typedef struct work {
  const cavum_emission_rows *rows;
  double reference;
  double *x, *y, *u;  // E/E_r, signal, its uncertainty.
} work;

// Emission at E_r is 1.
static double shape(double x, double slope) {
  return x * x * sqrt(x) * exp(-slope * (1.0 / x - 1.0));
}

double cavum_fowler_nordheim_slope_v_per_m(double work_function_ev) {
  return 6.53e9 * work_function_ev * sqrt(work_function_ev);
}

double cavum_emission_fit_at(const cavum_emission_fit *fit, double e_acc_v_per_m) {
  if (!fit || !fit->found) return NAN;
  double reference = fit->reference_v_per_m;
  return fit->level.value * shape(e_acc_v_per_m / reference, fit->slope_v_per_m.value / reference);
}

// d ln(shape) / d ln(x).
static double steepness(double x, double slope) { return 2.5 + slope / x; }

/** Weighted sums of one trial: of 1, f, f^2, y, f y, y^2. */
typedef struct sums {
  double one, f, ff, y, fy, yy;
} sums;

// Background and level that are best with a slope; the level is not below 0.
static trial solve_with(const work *w, double slope) {
  sums s = {0};
  for (int64_t i = 0; i < w->rows->count; i++) {
    double weight = 1.0 / (w->u[i] * w->u[i]), f = shape(w->x[i], slope), y = w->y[i];
    s.one += weight;
    s.f += weight * f;
    s.ff += weight * f * f;
    s.y += weight * y;
    s.fy += weight * f * y;
    s.yy += weight * y * y;
  }
  trial t = {.slope = slope};
  if (w->rows->with_background) {
    double determinant = s.one * s.ff - s.f * s.f;
    t.level = determinant > 0.0 ? (s.one * s.fy - s.f * s.y) / determinant : 0.0;
    t.level = cavum_max(t.level, 0.0);
    t.background = (s.y - t.level * s.f) / s.one;
  } else {
    t.level = cavum_max(s.fy / s.ff, 0.0);
  }
  for (int64_t i = 0; i < w->rows->count; i++) {
    double rest = (w->y[i] - t.background - t.level * shape(w->x[i], slope)) / w->u[i];
    t.chi_squared += rest * rest;
  }
  return t;
}

// No emission at all, with the same weights.
static trial solve_without(const work *w) {
  trial t = {.slope = NAN};
  double one = 0.0, y = 0.0;
  for (int64_t i = 0; i < w->rows->count; i++) {
    double weight = 1.0 / (w->u[i] * w->u[i]);
    one += weight;
    y += weight * w->y[i];
  }
  if (w->rows->with_background) t.background = y / one;
  for (int64_t i = 0; i < w->rows->count; i++) {
    double rest = (w->y[i] - t.background) / w->u[i];
    t.chi_squared += rest * rest;
  }
  return t;
}

// The best slope between two, by golden sections of its logarithm [Brent1973] ch. 5.
static trial search_between(const work *w, double low, double high) {
  double a = log(low), b = log(high), c = b - GOLDEN * (b - a), d = a + GOLDEN * (b - a);
  trial at_c = solve_with(w, exp(c)), at_d = solve_with(w, exp(d));
  for (int i = 0; i < NUM_SECTIONS; i++) {
    if (at_c.chi_squared <= at_d.chi_squared) {
      b = d;
      d = c;
      at_d = at_c;
      c = b - GOLDEN * (b - a);
      at_c = solve_with(w, exp(c));
    } else {
      a = c;
      c = d;
      at_c = at_d;
      d = a + GOLDEN * (b - a);
      at_d = solve_with(w, exp(d));
    }
  }
  return at_c.chi_squared <= at_d.chi_squared ? at_c : at_d;
}

static trial search(const work *w) {
  double step = pow(MOST_SLOPE / LEAST_SLOPE, 1.0 / (NUM_STEPS - 1.0)), best = LEAST_SLOPE;
  double least = INFINITY, slope = LEAST_SLOPE;
  for (int i = 0; i < NUM_STEPS; i++, slope *= step) {
    double found = solve_with(w, slope).chi_squared;
    if (found < least) best = slope;
    least = cavum_min(least, found);
  }
  return search_between(w, best / step, best * step);
}

// Uncertainties of the signals alone, with those of E as those of the signal.
static void set_weights(const work *w, const trial *t) {
  const cavum_emission_rows *rows = w->rows;
  double least = INFINITY;  // Of the model: what scales with it must not vanish.
  for (int64_t i = 0; i < rows->count; i++) least = cavum_min(least, fabs(w->y[i]));
  for (int64_t i = 0; i < rows->count; i++) {
    const cavum_emission_row *row = &rows->row[i];
    double emission = t->level * shape(w->x[i], t->slope);
    double all = cavum_max(emission + t->background, 0.1 * least);
    double by_e = emission * steepness(w->x[i], t->slope) / row->e_acc.value, square = 0.0;
    for (int k = CAVUM_FIRST_LOCAL_INPUT; k < CAVUM_NUM_INPUTS; k++) {
      double part = row->signal.part[k] - by_e * row->e_acc.part[k];
      square += part * part;
    }
    double u = hypot(hypot(row->own, row->exact ? 0.0 : rows->relative * all), sqrt(square));
    w->u[i] = rows->stated ? u : all;
  }
}

// The first weights are those of readings that are what the signal says.
static void set_first_weights(const work *w) {
  const cavum_emission_rows *rows = w->rows;
  double largest = 0.0;
  for (int64_t i = 0; i < rows->count; i++) largest = cavum_max(largest, fabs(w->y[i]));
  for (int64_t i = 0; i < rows->count; i++) {
    double all = cavum_max(fabs(w->y[i]), 1e-3 * largest);
    double own = sqrt(cavum_dual_covariance(&rows->row[i].signal, &rows->row[i].signal));
    double u = hypot(hypot(rows->row[i].own, rows->row[i].exact ? 0.0 : rows->relative * all), own);
    w->u[i] = rows->stated && u > 0.0 ? u : all;
  }
}

// Rows of the fit that is linear about a trial, in units of their uncertainties.
static void fill(const work *w, const trial *t, int num_terms, double *term, double *value,
                 double *one, double *shared) {
  const cavum_emission_rows *rows = w->rows;
  for (int64_t i = 0; i < rows->count; i++) {
    const cavum_emission_row *row = &rows->row[i];
    double *parts = shared + i * NUM_SHARED, u = w->u[i];
    double emission = t->level * shape(w->x[i], t->slope);
    double by_e = emission * steepness(w->x[i], t->slope) / row->e_acc.value;
    term[i * num_terms + CAVUM_EMISSION_LEVEL] = emission / u;
    term[i * num_terms + CAVUM_EMISSION_SLOPE] = -emission * (1.0 / w->x[i] - 1.0) / u;
    if (rows->with_background) term[i * num_terms + CAVUM_EMISSION_BACKGROUND] = 1.0 / u;
    value[i] = (w->y[i] - t->background - emission) / u;
    one[i] = rows->stated ? 1.0 : 0.0;
    for (int k = 0; k < CAVUM_FIRST_LOCAL_INPUT; k++) {
      parts[k] = (row->signal.part[k] - by_e * row->e_acc.part[k]) / u;
    }
    for (int k = 0; k < CAVUM_EMISSION_EXTRA; k++) {
      parts[CAVUM_FIRST_LOCAL_INPUT + k] = row->extra[k] / u;
    }
    parts[NUM_SHARED - 1] = rows->gain * (emission + t->background) / u;
  }
}

static void store(cavum_emission_solution *out, const work *w, const trial *t,
                  const cavum_linear_fit *line) {
  double sum = 0.0;
  for (int64_t i = 0; i < w->rows->count; i++) {
    double model = t->level * shape(w->x[i], t->slope) + t->background;
    double rest = (w->y[i] - model) / model;
    sum += rest * rest;
  }
  cavum_emission_fit *fit = &out->fit;
  fit->found = true;
  fit->level.value = t->level;
  fit->level.uncertainty = t->level * sqrt(line->covariance[0][0]);
  fit->slope_v_per_m.value = t->slope * w->reference;
  fit->slope_v_per_m.uncertainty = sqrt(line->covariance[1][1]) * w->reference;
  fit->chi_squared = line->chi_squared;
  fit->degrees_of_freedom = line->degrees_of_freedom;
  fit->scatter = line->degrees_of_freedom > 0 ? sqrt(sum / line->degrees_of_freedom) : 0.0;
  for (int j = 0; j < MOST_TERMS; j++) {
    for (int k = 0; k < MOST_TERMS; k++) out->covariance[j][k] = line->covariance[j][k];
  }
}

static cavum_status make_covariance(cavum_emission_solution *out, const work *w, const trial *t,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_linear_fit line = {.degrees_of_freedom = 0};
  int64_t count = w->rows->count;
  int num_terms = w->rows->with_background ? 3 : 2;
  double *term = cavum_alloc(count * num_terms, sizeof *term);
  double *value = cavum_alloc(2 * count, sizeof *value);
  double *shared = cavum_alloc(count * NUM_SHARED, sizeof *shared);
  if (!term || !value || !shared) {
    status = cavum_fail_memory(error);
    goto done;
  }
  fill(w, t, num_terms, term, value, value + count, shared);
  const cavum_linear_rows linear = {count,         num_terms,  term,  value,
                                    value + count, NUM_SHARED, shared};
  CAVUM_TRY(cavum_linear_fit_rows(&line, &linear, w->rows->what, error));
  store(out, w, t, &line);
done:
  free(term);
  free(value);
  free(shared);
  return status;
}

// The weighted mean where there is no emission. Its uncertainty stands for that of the background.
static void store_background(cavum_emission_solution *out, const work *w) {
  double weight = 0.0, shared = 0.0, factor = 1.0;
  for (int64_t i = 0; i < w->rows->count; i++) weight += 1.0 / (w->u[i] * w->u[i]);
  if (!w->rows->stated && w->rows->count > 1) {
    factor = out->fit.chi_squared / (double)(w->rows->count - 1);
  }
  shared = w->rows->gain * out->background;
  out->covariance[CAVUM_EMISSION_BACKGROUND][CAVUM_EMISSION_BACKGROUND] =
      factor / weight + shared * shared;
  if (!w->rows->stated) out->fit.chi_squared = NAN;
}

static cavum_status prepare(work *w, const cavum_emission_rows *rows, cavum_error *error) {
  w->rows = rows;
  if (rows->count < (rows->with_background ? 4 : 3)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: %lld readings for %d parameters", rows->what,
                      (long long)rows->count, rows->with_background ? 3 : 2);
  }
  w->x = cavum_alloc(3 * rows->count, sizeof *w->x);
  if (!w->x) return cavum_fail_memory(error);
  w->y = w->x + rows->count;
  w->u = w->y + rows->count;
  for (int64_t i = 0; i < rows->count; i++) {
    w->reference = cavum_max(w->reference, rows->row[i].e_acc.value);
  }
  for (int64_t i = 0; i < rows->count; i++) {
    w->x[i] = rows->row[i].e_acc.value / w->reference;
    w->y[i] = rows->row[i].signal.value;
  }
  return CAVUM_OK;
}

// Chi squared over that of the scatter, where it is the scatter that says what a reading is worth.
static double gain_of(const work *w, const trial *none, const trial *best) {
  double less = none->chi_squared - best->chi_squared;
  int64_t spare = w->rows->count - (w->rows->with_background ? 3 : 2);
  return w->rows->stated ? less : less * (double)spare / cavum_max(best->chi_squared, 1e-300);
}

cavum_status cavum_emission_solve(cavum_emission_solution *solution,
                                  const cavum_emission_rows *rows, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_emission_solution out = {.background = 0.0};
  work w = {0};
  out.fit.enhancement = (cavum_estimate){.value = NAN, .uncertainty = NAN};
  out.fit.level = out.fit.slope_v_per_m = out.fit.enhancement;
  CAVUM_TRY(prepare(&w, rows, error));
  set_first_weights(&w);
  trial best = search(&w);
  for (int round = 0; round < NUM_ROUNDS; round++) {
    set_weights(&w, &best);
    best = round < 2 ? search(&w) : search_between(&w, 0.8 * best.slope, 1.25 * best.slope);
  }
  trial none = solve_without(&w);
  out.fit.num_readings = rows->count;
  out.fit.reference_v_per_m = w.reference;
  bool inside = best.slope > 1.01 * LEAST_SLOPE && best.slope < 0.99 * MOST_SLOPE;
  if (inside && best.level > 0.0 && gain_of(&w, &none, &best) > CERTAIN) {
    if (rows->with_background) out.background = best.background;
    CAVUM_TRY(make_covariance(&out, &w, &best, error));
  } else {
    out.fit.chi_squared = none.chi_squared;
    out.fit.degrees_of_freedom = (int)rows->count - 1;
    if (rows->with_background) out.background = none.background;
    store_background(&out, &w);
  }
  *solution = out;
done:
  free(w.x);
  return status;
}

double cavum_emission_deviation(const cavum_emission_solution *solution,
                                const double g[CAVUM_NUM_EMISSION_PARAMETERS]) {
  double sum = 0.0;
  for (int j = 0; j < MOST_TERMS; j++) {
    for (int k = 0; k < MOST_TERMS; k++) sum += g[j] * solution->covariance[j][k] * g[k];
  }
  return sqrt(cavum_max(sum, 0.0));
}

bool cavum_emission_in_range(const cavum_coldtest *test,
                             const cavum_field_emission_options *options, int64_t point) {
  double e = test->points[point].value[CAVUM_QUANTITY_E_ACC];
  return isfinite(e) && e > 0.0 && e >= options->lowest_e_acc_v_per_m &&
         (options->highest_e_acc_v_per_m <= 0.0 || e <= options->highest_e_acc_v_per_m);
}

static double relative(cavum_estimate e) { return e.value > 0.0 ? e.uncertainty / e.value : 0.0; }

void cavum_emission_set_enhancement(cavum_emission_fit *fit, const cavum_coldtest *test,
                                    cavum_estimate work_function_ev) {
  cavum_estimate ratio = test->setup.epk_over_eacc;
  if (!fit->found || !(ratio.value > 0.0)) return;
  double slope = cavum_fowler_nordheim_slope_v_per_m(work_function_ev.value);
  fit->enhancement.value = slope / (ratio.value * fit->slope_v_per_m.value);
  fit->enhancement.uncertainty =
      fit->enhancement.value *
      hypot(hypot(relative(fit->slope_v_per_m), relative(ratio)), 1.5 * relative(work_function_ev));
}
