// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape by the tolerances of dimensions.
#include "design/spread_shape.h"

#include "base/base.h"
#include "design/spread_shares.h"
#include "design/spread_sums.h"

enum { NUM = CAVUM_NUM_GEOMETRY_FIGURES };

static const char *const REASON =
    "it is set by several places at once, which change differently with a dimension";

// What is no curvature: rounding of a figure.
static const double ROUNDING = 1e-11;

static void take_slopes(cavum_figure_spread *f, cavum_spread *made, const cavum_geometry *geometry,
                        int id) {
  f->has_linear = true;
  for (int j = 0; j < made->num_dimensions && f->has_linear; j++) {
    f->has_linear = cavum_trial_shape_derivative(&f->slope[j], geometry, (cavum_geometry_id)id,
                                                 &made->dimensions[j], NULL) == CAVUM_OK;
  }
  if (f->has_linear) {
    cavum_spread_fill_linear(f, made);
  } else {
    f->reason = REASON;
  }
}

cavum_status cavum_spread_shape_measure(cavum_spread *made, const cavum_trial *trial,
                                        cavum_error *error) {
  cavum_geometry *geometry = NULL;
  cavum_status status = cavum_geometry_measure(&geometry, trial->cell, true, error);
  if (status != CAVUM_OK) return status;
  for (int id = 0; id < NUM; id++) {
    cavum_figure_spread *f = &made->shape[id];
    bool is_there = !isnan(geometry->value[id]);
    *f = (cavum_figure_spread){.state = is_there ? CAVUM_FIGURE_PRESENT : CAVUM_FIGURE_ABSENT,
                               .value = geometry->value[id],
                               .departure = NAN,
                               .sampled_mean = NAN,
                               .sampled_deviation = NAN,
                               .sampled_low = NAN,
                               .sampled_high = NAN};
    if (is_there) take_slopes(f, made, geometry, id);
  }
  cavum_geometry_destroy(&geometry);
  return CAVUM_OK;
}

// Figures of a drawn shape; NAN where it has none.
static cavum_status measure_one(double *figures, const cavum_trial *trial, const double *values,
                                cavum_error *error) {
  cavum_cell cell;
  cavum_geometry *geometry = NULL;
  bool owned = false;
  for (int id = 0; id < NUM; id++) figures[id] = NAN;
  cavum_status status = cavum_trial_make_cell(&cell, &owned, trial, values, error);
  if (status == CAVUM_ERR_MEMORY) return status;
  if (status != CAVUM_OK) return CAVUM_OK;
  status = cavum_geometry_measure(&geometry, &cell, false, error);
  if (owned) cavum_cell_clear(&cell);
  for (int id = 0; id < NUM && geometry; id++) figures[id] = geometry->value[id];
  cavum_geometry_destroy(&geometry);
  return status == CAVUM_ERR_MEMORY ? status : CAVUM_OK;
}

// Of drawn shapes: [figure][shape].
static cavum_status measure_all(double **figures, const cavum_trial *trial, const double *values,
                                int count, cavum_error *error) {
  double *made = cavum_alloc((int64_t)NUM * count, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    double of_one[NUM];
    cavum_status status =
        measure_one(of_one, trial, values + (int64_t)i * trial->num_dimensions, error);
    if (status != CAVUM_OK) {
      free(made);
      return status;
    }
    for (int id = 0; id < NUM; id++) made[(int64_t)id * count + i] = of_one[id];
  }
  *figures = made;
  return CAVUM_OK;
}

cavum_status cavum_spread_shape_check(cavum_spread *made, const cavum_trial *trial,
                                      const double *values, int count, double most,
                                      cavum_error *error) {
  double *figures = NULL;
  cavum_status status = measure_all(&figures, trial, values, count, error);
  for (int id = 0; id < NUM && status == CAVUM_OK; id++) {
    cavum_figure_spread *f = &made->shape[id];
    int kept;
    if (!f->has_linear) continue;
    double rest =
        cavum_spread_find_rest(&kept, f, made, figures + (int64_t)id * count, values, count);
    f->departure = rest > ROUNDING * fabs(f->value) ? rest / f->deviation : 0.0;
    f->is_curved = !(f->departure <= most) || kept < count;
  }
  free(figures);
  return status;
}

static bool wants_samples(const cavum_figure_spread *f) {
  return f->state == CAVUM_FIGURE_PRESENT && (f->is_curved || !f->has_linear);
}

cavum_status cavum_spread_shape_sample(cavum_spread *made, const cavum_trial *trial,
                                       const double *values, int count, cavum_error *error) {
  double *figures = NULL;
  bool wanted = false;
  for (int id = 0; id < NUM; id++) wanted = wanted || wants_samples(&made->shape[id]);
  if (!wanted) return CAVUM_OK;
  cavum_status status = measure_all(&figures, trial, values, count, error);
  for (int id = 0; id < NUM && status == CAVUM_OK; id++) {
    if (!wants_samples(&made->shape[id])) continue;
    double *sample = figures + (int64_t)id * count;
    status = cavum_spread_fill_sampled_shares(&made->shape[id], made, sample, values, count, error);
    cavum_spread_sum_up(&made->shape[id], sample, count);
  }
  free(figures);
  return status;
}
