// SPDX-License-Identifier: GPL-3.0-or-later
// What tolerances make of figures: linear by derivatives, and by drawn shapes.
#include "design/spread.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <stdlib.h>
#include <string.h>

#include "base/alone.h"
#include "base/base.h"
#include "base/sized.h"
#include "cavum/tolerance.h"
#include "cell/cell.h"
#include "design/correlation.h"
#include "design/drawn.h"
#include "design/spread_degree.h"
#include "design/spread_shape.h"
#include "design/spread_shares.h"
#include "design/spread_sums.h"
#include "design/trial.h"
#include "solve/options.h"

// The linear spread does not hold when what is not linear is more than this part of it.
static const double MOST_DEPARTURE = 0.1;
// And more than this many uncertainties of the figure: noise of solves is no curvature.
static const double NOISE = 2.0;
// Relative change that makes two halves differ that agree in a dimension, so that each has
// derivatives of its own: far below what figures are known to, far above rounding. A cell that is
// its own mirror image needs none: to first order a half does half of what both do.
static const double APART = 1e-10;
enum { NUM_PILOT = 32, NUM_SAMPLES = 1000, MOST_SAMPLES = 1000000, MOST = CAVUM_TOLERANCES_MOST };

static const cavum_sized SIZED = {.name = "spread options",
                                  .maker = "cavum_spread_options_default()",
                                  .first = offsetof(cavum_spread_options, num_threads),
                                  .full = sizeof(cavum_spread_options)};

void cavum_spread_options_set_defaults(cavum_spread_options *options, size_t struct_size) {
  const cavum_spread_options defaults = {.num_samples = -1};
  if (options) cavum_sized_give(options, struct_size, &defaults, &SIZED);
}

void cavum_spread_destroy(cavum_spread **spread) {
  if (!spread || !*spread) return;
  free((*spread)->dimensions);
  free((*spread)->tolerances);
  free((*spread)->covariance);
  free(*spread);
  *spread = NULL;
}

/** A spread on its way. */
typedef struct work {
  cavum_spread_options choices;
  bool is_linear_only;
  cavum_trial trial;
  cavum_solve_options of_samples;    // without derivatives
  cavum_spread_samples samples;      // owned: with these
  cavum_result *base;                // owned
  double offset[CAVUM_NUM_FIGURES];  // of figures at the degree of the samples; NAN: none
  cavum_spread *made;                // owned
  double root[MOST * MOST];
  gsl_rng *draws;  // owned
} work;

/** Drawn shapes and what their figures are. */
typedef struct drawn_shapes {
  int count;
  double *values;   // owned, shape [count][dimensions]
  double *figures;  // owned, shape [count][CAVUM_NUM_FIGURES]
  double *column;   // owned, shape [count]: one figure of all
} drawn_shapes;

static void clear_shapes(drawn_shapes *shapes) {
  free(shapes->values);
  free(shapes->figures);
  free(shapes->column);
}

// Numbers that can be coefficients; whether they go together is seen when they are drawn.
static cavum_status check_correlation(const cavum_tolerances *t, cavum_error *error) {
  for (int i = 0; i < t->count; i++) {
    for (int k = 0; k <= i; k++) {
      double c = t->correlation[i * t->count + k], mirrored = t->correlation[k * t->count + i];
      if (fabs(c) <= 1.0 && c == mirrored && (i != k || c == 1.0)) continue;
      return cavum_fail(error, CAVUM_ERR_USAGE,
                        "correlation of %s and %s: %g and %g, expected one number from -1 to 1, "
                        "and 1 of each with itself",
                        t->list[i].key, t->list[k].key, c, mirrored);
    }
  }
  return CAVUM_OK;
}

static cavum_status check(const work *w, const cavum_cell *cell, const cavum_tolerances *tolerances,
                          cavum_error *error) {
  const cavum_spread_options *c = &w->choices;
  if (c->mode < 0 || c->mode >= cell->num_modes) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "spread of mode %d: the cell asks for %d mode%s",
                      c->mode + 1, cell->num_modes, cell->num_modes > 1 ? "s" : "");
  }
  if (c->num_threads < 0) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "%d threads: expected 0 or more", c->num_threads);
  }
  if (c->num_samples < -1 || c->num_samples > MOST_SAMPLES) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "%d samples: expected -1 to %d", c->num_samples,
                      (int)MOST_SAMPLES);
  }
  if (tolerances->count < 1 || tolerances->count > MOST || !tolerances->list ||
      !tolerances->correlation) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "1 to %d dimensions with a tolerance were expected",
                      (int)MOST);
  }
  for (int i = 0; i < tolerances->count; i++) {
    const cavum_tolerance *t = &tolerances->list[i];
    if (t->kind != CAVUM_TOLERANCE_NORMAL && t->kind != CAVUM_TOLERANCE_UNIFORM) {
      return cavum_fail(error, CAVUM_ERR_USAGE,
                        "%s: tolerance of kind %d, expected NORMAL or UNIFORM (0 or 1)", t->key,
                        (int)t->kind);
    }
    if (t->width > 0.0 && isfinite(t->width)) continue;
    return cavum_fail(error, CAVUM_ERR_USAGE, "%s: a tolerance above 0 was expected, not %g",
                      t->key, t->width);
  }
  return check_correlation(tolerances, error);
}

// Names the first dimension that does not go with those before it, and the one of these that it is
// correlated with most.
static cavum_status fail_correlation(const cavum_tolerances *t, const double *correlation,
                                     cavum_error *error) {
  double leading[MOST * MOST], root[MOST * MOST];
  int size = 1, with = 0;
  for (bool good = true; good && size < t->count;) {
    size++;
    for (int i = 0; i < size * size; i++) {
      leading[i] = correlation[i / size * t->count + i % size];
    }
    good = cavum_correlation_root(root, leading, size);
  }
  const double *row = t->correlation + (size - 1) * t->count;
  for (int k = 1; k < size - 1; k++) with = fabs(row[k]) > fabs(row[with]) ? k : with;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "no dimensions can be correlated like this: %s and %s with %g, and with the "
                    "others as stated",
                    t->list[with].key, t->list[size - 1].key, row[with]);
}

static cavum_status start(work *w, const cavum_tolerances *t, cavum_error *error) {
  double correlation[MOST * MOST];
  cavum_spread *made = w->made;
  made->num_dimensions = t->count;
  made->dimensions = cavum_alloc(t->count, sizeof *made->dimensions);
  made->tolerances = cavum_alloc(t->count, sizeof *made->tolerances);
  made->covariance = cavum_alloc(t->count * t->count, sizeof(double));
  if (!made->dimensions || !made->tolerances || !made->covariance) return cavum_fail_memory(error);
  memcpy(made->dimensions, w->trial.dimensions, (size_t)t->count * sizeof *made->dimensions);
  memcpy(made->tolerances, t->list, (size_t)t->count * sizeof *made->tolerances);
  for (int i = 0; i < t->count; i++) {
    for (int k = 0; k < t->count; k++) {
      made->covariance[i * t->count + k] = t->correlation[i * t->count + k] *
                                           cavum_tolerance_deviation(&t->list[i]) *
                                           cavum_tolerance_deviation(&t->list[k]);
    }
  }
  cavum_correlation_of_draws(correlation, t);
  if (cavum_correlation_root(w->root, correlation, t->count)) return CAVUM_OK;
  return fail_correlation(t, correlation, error);
}

static cavum_status make_draws(work *w, cavum_error *error) {
  // GSL's default handler would end the process.
  cavum_alone_enter(CAVUM_ALONE_GSL);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  w->draws = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_set_error_handler(handler);
  cavum_alone_leave(CAVUM_ALONE_GSL);
  if (!w->draws) return cavum_fail_memory(error);
  gsl_rng_set(w->draws, (unsigned long)w->choices.seed);
  return CAVUM_OK;
}

// ---- linear

static void take_figure(work *w, cavum_figure_id id) {
  cavum_figure_spread *f = &w->made->figures[id];
  cavum_figure figure = cavum_mode_figure(&w->base->modes[w->choices.mode], id);
  *f = (cavum_figure_spread){.state = figure.state,
                             .value = figure.value,
                             .has_linear = figure.state == CAVUM_FIGURE_PRESENT,
                             .departure = NAN,
                             .sampled_mean = NAN,
                             .sampled_deviation = NAN,
                             .sampled_low = NAN,
                             .sampled_high = NAN};
  for (int j = 0; j < w->made->num_dimensions && f->has_linear; j++) {
    cavum_derivative d =
        cavum_trial_find_derivative(w->base, w->choices.mode, id, &w->trial.dimensions[j]);
    f->slope[j] = d.value;
    f->has_linear = d.state == CAVUM_FIGURE_PRESENT;
    if (!f->has_linear) f->reason = d.reason;
  }
  if (f->has_linear) cavum_spread_fill_linear(f, w->made);
}

// The numbers of the cell as it stands; halves that are told apart where `apart` says so.
static void list_nominal(double *values, const work *w, bool apart) {
  for (int j = 0; j < w->trial.num_dimensions; j++) {
    // Each by another part: halves that change alike would agree still.
    values[j] = w->trial.dimensions[j].value;
    if (apart && cavum_trial_is_half_of_equal(&w->trial, j)) values[j] *= 1.0 + (j + 1) * APART;
  }
}

static cavum_status solve_nominal(cavum_result **result, work *w, bool apart, cavum_error *error) {
  double values[MOST];
  cavum_cell cell;
  bool owned = false;
  list_nominal(values, w, apart);
  cavum_status status = cavum_trial_make_cell(&cell, &owned, &w->trial, values, error);
  if (status != CAVUM_OK) return status;
  status = cavum_solver_solve(result, w->trial.solver, &cell, error);
  if (owned) cavum_cell_clear(&cell);
  return status;
}

static cavum_status solve_base(work *w, cavum_error *error) {
  bool mirrored = cavum_cell_is_mirror_symmetric(w->trial.cell);
  cavum_status status = solve_nominal(&w->base, w, !mirrored, error);
  if (status != CAVUM_OK) return status;
  for (int j = 0; j < w->trial.num_dimensions; j++) {
    double slope;
    // Of the frequency there is one by each dimension.
    status = cavum_trial_derivative(&slope, w->base, w->choices.mode, CAVUM_FIGURE_FREQUENCY,
                                    &w->trial.dimensions[j], error);
    if (status != CAVUM_OK) return status;
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) take_figure(w, (cavum_figure_id)id);
  status = cavum_spread_shape_measure(w->made, &w->trial, error);
  if (status != CAVUM_OK) return status;
  memcpy(w->made->label, w->base->modes[w->choices.mode].label, sizeof w->made->label);
  return CAVUM_OK;
}

// ---- drawn shapes

static cavum_drawn drawn_of(const work *w, const double *nominal) {
  return (cavum_drawn){.trial = &w->trial,
                       .options = &w->of_samples,
                       .nominal = nominal,
                       .mode = w->choices.mode,
                       .num_threads = w->choices.num_threads};
}

static cavum_status is_symmetric_at(bool *is, const work *w, const double *values,
                                    cavum_error *error) {
  cavum_cell cell;
  bool owned = false;
  cavum_status status = cavum_trial_make_cell(&cell, &owned, &w->trial, values, error);
  if (status != CAVUM_OK) return status;
  *is = cavum_cell_is_mirror_symmetric(&cell);
  if (owned) cavum_cell_clear(&cell);
  return CAVUM_OK;
}

// Shapes are compared with the cell itself, so both are solved whole where only the cell is its own
// mirror image: what a degree leaves out of a half is not what it leaves out of the whole.
static cavum_status choose_symmetry(work *w, const double *nominal, const double *shape,
                                    cavum_error *error) {
  bool of_cell = false, of_shape = false;
  cavum_status status = is_symmetric_at(&of_cell, w, nominal, error);
  if (status != CAVUM_OK) return status;
  // A shape that cannot be made is counted as failed later.
  if (is_symmetric_at(&of_shape, w, shape, NULL) == CAVUM_OK && of_cell && !of_shape) {
    w->of_samples.use_symmetry = false;
  }
  return CAVUM_OK;
}

// A solver for them, and what its degree leaves out.
static cavum_status open_samples(work *w, const cavum_solve_options *options, const double *shapes,
                                 cavum_error *error) {
  double nominal[MOST] = {0};
  const cavum_drawn drawn = drawn_of(w, nominal);
  list_nominal(nominal, w, true);
  w->of_samples = *options;
  w->of_samples.derivatives = false;
  cavum_status status = choose_symmetry(w, nominal, shapes, error);
  if (status != CAVUM_OK) return status;
  status = cavum_spread_degree_open(&w->samples, &w->of_samples, &drawn, w->made, shapes,
                                    w->base->degree, error);
  if (status != CAVUM_OK) return status;
  w->made->samples_degree = w->samples.degree;
  w->made->samples_error = w->samples.error;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    w->offset[id] = w->samples.nominal[id] - w->made->figures[id].value;
  }
  return CAVUM_OK;
}

static void draw(double *values, const work *w) {
  const cavum_spread *made = w->made;
  int n = made->num_dimensions;
  double normal[MOST];
  for (int i = 0; i < n; i++) normal[i] = gsl_ran_ugaussian(w->draws);
  for (int i = 0; i < n; i++) {
    const cavum_tolerance *t = &made->tolerances[i];
    double z = 0.0;
    for (int k = 0; k <= i; k++) z += w->root[i * n + k] * normal[k];
    if (t->kind == CAVUM_TOLERANCE_UNIFORM) z = 2.0 * gsl_cdf_ugaussian_P(z) - 1.0;
    values[i] = made->dimensions[i].value + t->width * z;
  }
}

static cavum_status draw_shapes(drawn_shapes *shapes, const work *w, int count,
                                cavum_error *error) {
  int n = w->made->num_dimensions;
  shapes->count = count;
  shapes->values = cavum_alloc((int64_t)count * n, sizeof(double));
  shapes->figures = cavum_alloc((int64_t)count * CAVUM_NUM_FIGURES, sizeof(double));
  shapes->column = cavum_alloc(count, sizeof(double));
  if (!shapes->values || !shapes->figures || !shapes->column) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) draw(shapes->values + (int64_t)i * n, w);
  return CAVUM_OK;
}

// One figure of all shapes, without what the degree left out; NAN where there is none.
static const double *list_figure(drawn_shapes *shapes, const work *w, int id) {
  for (int i = 0; i < shapes->count; i++) {
    shapes->column[i] = shapes->figures[(int64_t)i * CAVUM_NUM_FIGURES + id] - w->offset[id];
  }
  return shapes->column;
}

// Each shape that was solved has a frequency.
static int count_failed(const drawn_shapes *shapes) {
  int failed = 0;
  for (int i = 0; i < shapes->count; i++) {
    failed += isnan(shapes->figures[(int64_t)i * CAVUM_NUM_FIGURES + CAVUM_FIGURE_FREQUENCY]);
  }
  return failed;
}

// Shapes that there are, without a figure.
static int count_missing(const drawn_shapes *shapes, int id) {
  int missing = 0;
  for (int i = 0; i < shapes->count; i++) {
    const double *figures = shapes->figures + (int64_t)i * CAVUM_NUM_FIGURES;
    missing += isnan(figures[id]) && !isnan(figures[CAVUM_FIGURE_FREQUENCY]);
  }
  return missing;
}

// What solves scatter by. The uncertainty of R_s of a fit is that of the fit, the same for all
// shapes: R_s itself is as good as the frequency, and grows with its square at most.
static double noise_of(const work *w, int id) {
  const cavum_figure *figures = w->base->modes[w->choices.mode].figures;
  const cavum_figure *f = &figures[CAVUM_FIGURE_FREQUENCY];
  if (figures[id].basis != CAVUM_BASIS_FIT) return NOISE * figures[id].uncertainty;
  return NOISE * 2.0 * fabs(figures[id].value) * f->uncertainty / f->value;
}

// Whether the linear spread of each figure holds, from a few shapes.
static cavum_status run_pilot(work *w, const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_spread *made = w->made;
  drawn_shapes shapes = {0};
  const cavum_drawn drawn = drawn_of(w, NULL);
  CAVUM_TRY(draw_shapes(&shapes, w, NUM_PILOT, error));
  CAVUM_TRY(open_samples(w, options, shapes.values, error));
  for (int i = 0; i < NUM_PILOT; i++) {
    CAVUM_TRY(cavum_drawn_solve_one(shapes.figures + (int64_t)i * CAVUM_NUM_FIGURES,
                                    w->samples.solver, &drawn,
                                    shapes.values + (int64_t)i * made->num_dimensions, error));
  }
  made->num_pilot = NUM_PILOT;
  made->num_failed += count_failed(&shapes);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_spread *f = &made->figures[id];
    int kept;
    if (!f->has_linear) continue;
    double rest = cavum_spread_find_rest(&kept, f, made, list_figure(&shapes, w, id), shapes.values,
                                         NUM_PILOT);
    f->departure = rest > noise_of(w, id) ? rest / f->deviation : 0.0;
    f->is_curved = !(f->departure <= MOST_DEPARTURE) || kept < NUM_PILOT;
  }
  CAVUM_TRY(
      cavum_spread_shape_check(made, &w->trial, shapes.values, NUM_PILOT, MOST_DEPARTURE, error));
done:
  clear_shapes(&shapes);
  return status;
}

static cavum_status run_samples(work *w, int count, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double nominal[MOST];
  drawn_shapes shapes = {0};
  const cavum_drawn drawn = drawn_of(w, nominal);
  list_nominal(nominal, w, true);
  CAVUM_TRY(draw_shapes(&shapes, w, count, error));
  CAVUM_TRY(cavum_drawn_solve(shapes.figures, &drawn, shapes.values, count, error));
  w->made->num_samples = count;
  w->made->num_failed += count_failed(&shapes);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_spread *f = &w->made->figures[id];
    if (f->state != CAVUM_FIGURE_PRESENT) continue;
    list_figure(&shapes, w, id);
    w->made->num_missing[id] = count_missing(&shapes, id);
    if (f->is_curved || !f->has_linear) {
      CAVUM_TRY(
          cavum_spread_fill_sampled_shares(f, w->made, shapes.column, shapes.values, count, error));
    }
    cavum_spread_sum_up(f, shapes.column, count);
  }
  CAVUM_TRY(cavum_spread_shape_sample(w->made, &w->trial, shapes.values, count, error));
done:
  clear_shapes(&shapes);
  return status;
}

// Figures without derivatives by definition are no reason to sample.
static bool is_never_linear(cavum_figure_id id) {
  return id == CAVUM_FIGURE_BETA_OPTIMUM || id == CAVUM_FIGURE_R_OVER_Q_OPTIMUM ||
         !cavum_spread_is_figure(id);
}

static bool wants_samples(const work *w) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure_spread *f = &w->made->figures[id];
    if (is_never_linear((cavum_figure_id)id) || f->state != CAVUM_FIGURE_PRESENT) continue;
    if (f->is_curved || !f->has_linear) return true;
  }
  return false;
}

static cavum_status run(work *w, const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = solve_base(w, error);
  if (status != CAVUM_OK || w->is_linear_only) return status;
  int count = w->choices.num_samples;
  status = run_pilot(w, options, error);
  if (status != CAVUM_OK) return status;
  if (count < 0) count = wants_samples(w) ? NUM_SAMPLES : 0;
  return count > 0 ? run_samples(w, count, error) : CAVUM_OK;
}

static cavum_status make(cavum_spread **spread, const cavum_cell *cell,
                         const cavum_tolerances *tolerances, const cavum_spread_options *choices,
                         const cavum_solve_options *options, bool is_linear_only,
                         cavum_error *error) {
  cavum_cell full;
  cavum_solve_options whole_options;
  cavum_spread_options defaults = cavum_spread_options_default();
  cavum_status status = CAVUM_OK;
  work *w = cavum_alloc(1, sizeof *w);
  if (!w) return cavum_fail_memory(error);
  w->is_linear_only = is_linear_only;
  CAVUM_TRY(cavum_sized_take(&w->choices, choices ? choices : &defaults, &SIZED, error));
  CAVUM_TRY(cavum_sized_take(&full, cell, &cavum_cell_sized, error));
  CAVUM_TRY(cavum_cell_check(cell, error));
  CAVUM_TRY(check(w, &full, tolerances, error));
  cavum_cell_drop_modes(&full, w->choices.mode + 1);
  CAVUM_TRY(cavum_solve_options_take(&whole_options, options, error));
  CAVUM_TRY(cavum_trial_open(&w->trial, &full, options, error));
  for (int i = 0; i < tolerances->count; i++) {
    CAVUM_TRY(cavum_trial_add(&w->trial, tolerances->list[i].key, error));
  }
  w->made = cavum_alloc(1, sizeof *w->made);
  if (!w->made) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(start(w, tolerances, error));
  CAVUM_TRY(make_draws(w, error));
  CAVUM_TRY(run(w, &whole_options, error));
  *spread = w->made;
  w->made = NULL;
done:
  if (w->draws) gsl_rng_free(w->draws);
  cavum_spread_destroy(&w->made);
  cavum_result_destroy(&w->base);
  cavum_solver_destroy(&w->samples.solver);
  cavum_trial_clear(&w->trial);
  free(w);
  return status;
}

cavum_status cavum_spread_make(cavum_spread **spread, const cavum_cell *cell,
                               const cavum_tolerances *tolerances,
                               const cavum_spread_options *choices,
                               const cavum_solve_options *options, cavum_error *error) {
  if (!spread || !cell || !tolerances) return cavum_fail_null(error, __func__);
  return make(spread, cell, tolerances, choices, options, false, error);
}

cavum_status cavum_spread_make_linear(cavum_spread **spread, const cavum_cell *cell,
                                      const cavum_tolerances *tolerances,
                                      const cavum_spread_options *choices,
                                      const cavum_solve_options *options, cavum_error *error) {
  return make(spread, cell, tolerances, choices, options, true, error);
}

cavum_status cavum_spread_bands_check(const cavum_spread_band *bands, int count,
                                      cavum_error *error) {
  for (int i = 0; i < count; i++) {
    int figure = (int)bands[i].figure;
    if (figure >= 0 && figure < CAVUM_NUM_FIGURES && bands[i].band > 0.0 &&
        isfinite(bands[i].band)) {
      continue;
    }
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "band %d: figure %d and %g to either side, expected a figure (0 to %d) and a "
                      "number above 0",
                      i + 1, figure, bands[i].band, (int)CAVUM_NUM_FIGURES - 1);
  }
  return CAVUM_OK;
}

// The variance of a figure over what each dimension that does something makes of it by itself, all
// alike: their number, or more where correlated ones err to the same side. What errs against each
// other takes nothing off, since shapes may be less correlated than is said.
static double count_parts(const cavum_figure_spread *f, const cavum_spread *spread) {
  int n = spread->num_dimensions;
  double acting = 0.0, together = 0.0;
  for (int i = 0; i < n; i++) {
    acting += f->slope[i] != 0.0;
    for (int k = 0; k < n; k++) {
      double widths = sqrt(spread->covariance[i * n + i] * spread->covariance[k * n + k]);
      double sign = f->slope[i] * f->slope[k] < 0.0 ? -1.0 : 1.0;
      bool both = f->slope[i] != 0.0 && f->slope[k] != 0.0;
      if (both) together += sign * spread->covariance[i * n + k] / widths;
    }
  }
  return cavum_max(1.0, cavum_max(acting, together));
}

bool cavum_spread_allow(double *alone, double *shared, double *factor, const cavum_spread *spread,
                        cavum_figure_id figure, double band) {
  if (!alone || !shared || !factor || !spread || (int)figure < 0 || figure >= CAVUM_NUM_FIGURES) {
    return false;
  }
  const cavum_figure_spread *f = &spread->figures[figure];
  if (!f->has_linear || !(band > 0.0) || !isfinite(band)) return false;
  double parts = count_parts(f, spread);
  for (int j = 0; j < spread->num_dimensions; j++) {
    bool uniform = spread->tolerances[j].kind == CAVUM_TOLERANCE_UNIFORM;
    alone[j] = 0.5 * band / fabs(f->slope[j]) * (uniform ? sqrt(3.0) : 1.0);
    shared[j] = alone[j] / sqrt(parts);
  }
  *factor = 0.5 * band / f->deviation;
  return true;
}
