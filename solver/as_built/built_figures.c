// SPDX-License-Identifier: GPL-3.0-or-later
// Figures as products of powers of f, G and R/Q: their relative changes add.
#include "as_built/built_figures.h"

#include <math.h>

#include "base/base.h"
#include "cavum/wall.h"
#include "solve/figure_chain.h"

// Step of log f for the power of the surface resistance.
static const double LOG_STEP = 1e-4;

/** Powers of a figure. */
typedef struct powers {
  bool known;
  double of[CAVUM_NUM_BUILT_FIGURES];
} powers;

static double resistance_power(const cavum_cell *cell, double frequency_hz) {
  double more = NAN, less = NAN;
  if (cell->wall.kind == CAVUM_WALL_NONE) return 0.0;
  bool good = cavum_wall_resistance(&more, NULL, &cell->wall, frequency_hz * exp(LOG_STEP), NULL) ==
                  CAVUM_OK &&
              cavum_wall_resistance(&less, NULL, &cell->wall, frequency_hz * exp(-LOG_STEP),
                                    NULL) == CAVUM_OK;
  return good ? log(more / less) / (2.0 * LOG_STEP) : NAN;
}

// k^2 goes with f^2, the loss integral with f / G, the voltage with the root of f R/Q.
static powers powers_of(cavum_figure_id id, double resistance, bool length_is_stated) {
  const cavum_figure_chain chain = cavum_figure_chain_of(id, resistance);
  double loss = chain.power[CAVUM_FUNCTIONAL_LOSS], voltage = chain.power[CAVUM_FUNCTIONAL_VOLTAGE];
  powers p = {.known = chain.known};
  for (int k = 0; k < CAVUM_NUM_FUNCTIONALS; k++) {
    bool has_density =
        k == CAVUM_FUNCTIONAL_K2 || k == CAVUM_FUNCTIONAL_LOSS || k == CAVUM_FUNCTIONAL_VOLTAGE;
    if (!has_density && chain.power[k] != 0.0) p.known = false;
  }
  p.of[CAVUM_BUILT_FIGURE_F] = 2.0 * chain.power[CAVUM_FUNCTIONAL_K2] + loss + 0.5 * voltage;
  p.of[CAVUM_BUILT_FIGURE_G] = -loss;
  p.of[CAVUM_BUILT_FIGURE_R_OVER_Q] = 0.5 * voltage;
  if (!length_is_stated) p.of[CAVUM_BUILT_FIGURE_F] -= chain.length_power;
  return p;
}

static bool has_all(const powers *p, const cavum_built_points *points) {
  for (int k = 0; k < CAVUM_NUM_BUILT_FIGURES; k++) {
    if (p->of[k] != 0.0 && !points->exists[k]) return false;
  }
  return p->known;
}

// Relative change of a figure by metre that a point's part of the wall is moved.
static double relative_weight(const powers *p, const cavum_built_points *points, cavum_index i) {
  double sum = 0.0;
  for (int k = 0; k < CAVUM_NUM_BUILT_FIGURES; k++) {
    if (p->of[k] != 0.0) sum += p->of[k] * points->points[i].change[k] / points->figures[k];
  }
  return sum;
}

static double change_by_deviation(const powers *p, const cavum_built_points *points) {
  double sum = 0.0;
  for (cavum_index i = 0; i < points->num_points; i++) {
    sum += relative_weight(p, points, i) * points->points[i].deviation_m;
  }
  return sum;
}

/** Work for one figure after the other. */
typedef struct weighing {
  cavum_foot *places;  // shape [num_points]
  double *weights;     // the same
} weighing;

static cavum_status fill_figure(cavum_as_built_figure *f, const powers *p, weighing *w,
                                const cavum_built_pair *pair, cavum_error *error) {
  const cavum_built_points *built = &pair->built;
  double all = 0.0;
  if (has_all(p, &pair->drawn)) {
    f->by_deviation = 0.5 * (f->drawn * change_by_deviation(p, &pair->drawn) +
                             f->value * change_by_deviation(p, built));
  }
  if (!has_all(p, built)) return CAVUM_OK;
  for (cavum_index i = 0; i < built->num_points; i++) {
    w->weights[i] = f->value * relative_weight(p, built, i);
    all += w->weights[i];
  }
  cavum_status status = cavum_survey_uncertainty(&f->by_noise, pair->survey, w->places, w->weights,
                                                 built->num_points, error);
  if (status != CAVUM_OK) return status;
  f->by_probe = all * pair->probe_uncertainty_m;
  f->uncertainty = hypot(f->by_noise, f->by_probe);
  return CAVUM_OK;
}

static double value_of(const cavum_mode_result *mode, cavum_figure_id id) {
  const cavum_figure *f = &mode->figures[id];
  return f->state == CAVUM_FIGURE_PRESENT ? f->value : NAN;
}

static void start_figure(cavum_as_built_figure *f, cavum_figure_id id,
                         const cavum_solved_pair *solved) {
  *f = (cavum_as_built_figure){.value = value_of(solved->built, id),
                               .drawn = value_of(solved->drawn, id),
                               .numerical = NAN,
                               .by_deviation = NAN,
                               .by_noise = NAN,
                               .by_probe = NAN,
                               .uncertainty = NAN,
                               .sampled = NAN,
                               .sampled_shift = NAN};
  f->exists = !isnan(f->value);
  f->unbounded = solved->built->figures[id].state == CAVUM_FIGURE_UNBOUNDED;
  if (f->exists) f->numerical = solved->built->figures[id].uncertainty;
}

cavum_status cavum_built_figures_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                      const cavum_solved_pair *solved, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_built_points *built = &pair->built;
  double resistance =
      resistance_power(solved->cell, solved->built->figures[CAVUM_FIGURE_FREQUENCY].value);
  weighing w = {0};
  w.places = cavum_alloc(built->num_points, sizeof *w.places);
  w.weights = cavum_alloc(built->num_points, sizeof *w.weights);
  if (!w.places || !w.weights) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < built->num_points; i++) w.places[i] = built->points[i].foot;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_as_built_figure *f = &made->figures[id];
    start_figure(f, (cavum_figure_id)id, solved);
    if (!f->exists) continue;
    powers p = powers_of((cavum_figure_id)id, resistance, solved->accelerating_length_m > 0.0);
    CAVUM_TRY(fill_figure(f, &p, &w, pair, error));
  }
done:
  free(w.places);
  free(w.weights);
  return status;
}
