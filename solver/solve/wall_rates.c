// SPDX-License-Identifier: GPL-3.0-or-later
// Fields along the wall, differentiated point by point, several points a solve.
#include "solve/wall_rates.h"

#include "base/base.h"
#include "fem/form_gradient.h"
#include "figures/functional_wall.h"
#include "figures/profile.h"
#include "solve/adjoint.h"
#include "solve/figure_policy.h"
#include "solve/mode_history.h"

// As in derivative_rates.c.
static const double VECTOR_FACTOR = 6.0, ROUNDING = 1e-11;

// One field at one point of the wall.
typedef struct wall_place {
  cavum_index point;
  bool electric;
} wall_place;

typedef struct work {
  const cavum_mode_functionals_input *input;
  const cavum_wall_motion *motion;
  cavum_mode_result *mode;
  cavum_view view;
  cavum_adjoint_mode of;
  int below;                         // of the view
  cavum_index num_unknowns, half;    // half: points of the mesh's own wall
  double *rates[CAVUM_LEVELS_MOST];  // owned, [2: H, E][dimensions][points]
  wall_place *places;                // owned, [num_places]
  cavum_index num_places;
  double *size;                                   // owned, [2][dimensions]: see take_places()
  cavum_functional numbers[CAVUM_BORDERED_MOST];  // owned
  double *adjoint[CAVUM_BORDERED_MOST];           // owned, [num_unknowns]
} work;

static void clear_work(work *w) {
  for (int i = 0; i < CAVUM_LEVELS_MOST; i++) free(w->rates[i]);
  free(w->size);
  free(w->places);
  for (int j = 0; j < CAVUM_BORDERED_MOST; j++) {
    cavum_functional_clear(&w->numbers[j]);
    free(w->adjoint[j]);
  }
}

static cavum_status prepare(work *w, cavum_error *error) {
  for (int j = 0; j < CAVUM_BORDERED_MOST; j++) {
    cavum_status status = cavum_functional_create(&w->numbers[j], &w->view, error);
    if (status != CAVUM_OK) return status;
    w->adjoint[j] = cavum_alloc(w->num_unknowns, sizeof(double));
    if (!w->adjoint[j]) return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

static double *rates_at(const work *w, int below, const wall_place *place, int dimension) {
  int64_t row = (place->electric ? w->motion->count : 0) + dimension;
  return w->rates[below] + row * w->mode->wall.num_points + place->point;
}

static double *size_of(const work *w, bool electric, int dimension) {
  return &w->size[(electric ? w->motion->count : 0) + dimension];
}

// Several fields at once. The largest of the sizes of what the derivatives by a dimension are sums
// of is kept: what is left of a vector is of that size everywhere.
static cavum_status take_places(work *w, const wall_place *places, int count, bool *solved,
                                cavum_error *error) {
  cavum_mesh_gradient *gradients[CAVUM_BORDERED_MOST];
  cavum_form forms[CAVUM_BORDERED_MOST];
  const cavum_functional *numbers[CAVUM_BORDERED_MOST];
  cavum_bordered_start none = {0};
  for (int j = 0; j < count; j++) {
    cavum_index edge;
    double s = cavum_profile_wall_place(&edge, places[j].point);
    cavum_functional_reset(&w->numbers[j], &w->view);
    cavum_functional_add_field(&w->numbers[j], &w->view, w->view.boundary->conducting[edge], s,
                               places[j].electric);
    numbers[j] = &w->numbers[j];
  }
  cavum_status status =
      cavum_adjoint_solve(w->adjoint, &none, solved, &w->of,
                          cavum_mode_functionals_accuracy(w->input->cell), numbers, count, error);
  if (status != CAVUM_OK || !*solved) return status;
  for (int j = 0; j < count; j++) {
    gradients[j] = &w->numbers[j].gradient;
    forms[j] = cavum_adjoint_form(w->adjoint[j], w->adjoint[j], &w->of, &w->numbers[j]);
  }
  cavum_form_gradients_add(gradients, &w->input->solution->discretisation, forms, count, NULL);
  status = cavum_mesh_gradients_gather(gradients, count, w->input->follower, error);
  if (status != CAVUM_OK) return status;
  for (int j = 0; j < count; j++) {
    // The functional is the size of the field.
    const double *values = places[j].electric ? w->mode->wall.e_v_per_m : w->mode->wall.h_a_per_m;
    double sign = values[places[j].point] < 0.0 ? -1.0 : 1.0;
    for (int i = 0; i < w->motion->count; i++) {
      double part, *size = size_of(w, places[j].electric, i);
      const cavum_curve_rate *rates = w->motion->rates + (int64_t)i * w->motion->num_curves;
      if (!w->motion->known[i]) continue;
      *rates_at(w, w->below, &places[j], i) =
          sign * cavum_mesh_gradient_dot(&part, gradients[j], rates);
      if (w->below == 0) *size = cavum_max(*size, part);
    }
  }
  return CAVUM_OK;
}

static double largest(const double *values, cavum_index count) {
  double most = 0.0;
  for (cavum_index k = 0; k < count; k++) most = cavum_max(most, fabs(values[k]));
  return most;
}

// The places where a field is large enough, E and H of a point in a row.
static cavum_index list_places(wall_place *places, const work *w, double above) {
  const cavum_profile *wall = &w->mode->wall;
  double least_e = above * largest(wall->e_v_per_m, w->half);
  double least_h = above * largest(wall->h_a_per_m, w->half);
  cavum_index count = 0;
  for (cavum_index k = 0; k < w->half; k++) {
    if (fabs(wall->e_v_per_m[k]) >= least_e) places[count++] = (wall_place){k, true};
    if (fabs(wall->h_a_per_m[k]) >= least_h) places[count++] = (wall_place){k, false};
  }
  return count;
}

// The image of a half wall, as in the profile.
static void mirror(work *w) {
  cavum_index half = w->half, all = w->mode->wall.num_points;
  int rows = w->motion->count;
  double sign = w->view.parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  for (int i = 0; i < 2 * rows && all > half; i++) {
    double *e = w->mode->wall_e_by + (int64_t)i * all, *h = w->mode->wall_h_by + (int64_t)i * all;
    // Values come first, then their uncertainties.
    double of_e = i < rows ? -sign : 1.0, of_h = i < rows ? sign : 1.0;
    for (cavum_index k = 0; k < half; k++) {
      e[all - 1 - k] = of_e * e[k];
      h[all - 1 - k] = of_h * h[k];
    }
  }
}

// All points at one degree.
static cavum_status take_degree(work *w, int below, bool *solved, cavum_error *error) {
  const cavum_mode_functionals_input *input = w->input;
  w->below = below;
  w->view = cavum_solution_view(input->solution, input->mode, below, input->boundary);
  w->of = cavum_adjoint_mode_of(input->solution, input->mode, below, &w->view);
  *solved = true;
  for (cavum_index first = 0; *solved && first < w->num_places; first += CAVUM_BORDERED_MOST) {
    cavum_index left = w->num_places - first;
    int count = left < CAVUM_BORDERED_MOST ? (int)left : (int)CAVUM_BORDERED_MOST;
    cavum_status status = take_places(w, w->places + first, count, solved, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// What the degrees to come can still change, and what the solves leave.
static double uncertainty_of(const work *w, const wall_place *place, int dimension, int num_degrees,
                             double relative) {
  static const cavum_figure_id ids[2] = {CAVUM_FIGURE_BPK_OVER_EACC, CAVUM_FIGURE_EPK_OVER_EACC};
  const cavum_solution *solution = w->input->solution;
  const cavum_mode_values *values = &solution->modes[w->input->mode].values[0];
  double left = relative * *size_of(w, place->electric, dimension);
  double exponent = cavum_figure_policy_exponent(ids[place->electric], values);
  cavum_history history = {.count = 0};
  if (num_degrees < 2) return NAN;
  for (int below = num_degrees - 1; below >= 0; below--) {
    cavum_history_add(&history, *rates_at(w, below, place, dimension), 0.0, left);
  }
  return left +
         cavum_mode_history_tail_of_derivative(&history, exponent, solution->reference.degree);
}

static void fill(work *w, int num_degrees) {
  const cavum_mode_functionals_input *input = w->input;
  cavum_index all = w->mode->wall.num_points;
  int64_t behind = (int64_t)w->motion->count * all;
  double vector_error = cavum_solution_vector_error(input->solution, input->mode, 0);
  double relative =
      VECTOR_FACTOR * vector_error + cavum_mode_functionals_accuracy(input->cell) + ROUNDING;
  for (int i = 0; i < w->motion->count; i++) {
    if (!w->motion->known[i]) continue;
    for (cavum_index k = 0; k < w->num_places; k++) {
      const wall_place place = w->places[k];
      double *to = place.electric ? w->mode->wall_e_by : w->mode->wall_h_by;
      int64_t at = (int64_t)i * all + place.point;
      to[at] = *rates_at(w, 0, &place, i);
      to[behind + at] = uncertainty_of(w, &place, i, num_degrees, relative);
    }
  }
}

cavum_status cavum_wall_rates_add(cavum_mode_result *mode,
                                  const cavum_mode_functionals_input *input,
                                  const cavum_wall_motion *motion, double above,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solution *solution = input->solution;
  const cavum_solution_mode *of = &solution->modes[input->mode];
  int64_t room = 2 * (int64_t)motion->count * mode->wall.num_points;
  // Those who ask for some of the points are after speed, not after uncertainties.
  int num_degrees = above > 0.0 ? 1 : solution->num_degrees;
  bool solved = true;
  work w = {.input = input,
            .motion = motion,
            .mode = mode,
            .num_unknowns = solution->classes[of->in_class].modes[0].num_unknowns,
            .view = cavum_solution_view(solution, input->mode, 0, input->boundary),
            .size = cavum_alloc(2 * (int64_t)motion->count, sizeof *w.size)};
  w.half = w.view.parity == CAVUM_PARITY_NONE ? mode->wall.num_points : mode->wall.num_points / 2;
  mode->wall_e_by = cavum_alloc(room, sizeof(double));
  mode->wall_h_by = cavum_alloc(room, sizeof(double));
  if (!mode->wall_e_by || !mode->wall_h_by || !w.size) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < room; i++) mode->wall_e_by[i] = mode->wall_h_by[i] = NAN;
  CAVUM_TRY(prepare(&w, error));
  w.places = cavum_alloc(2 * (int64_t)w.half, sizeof *w.places);
  if (!w.places) CAVUM_TRY(cavum_fail_memory(error));
  w.num_places = list_places(w.places, &w, above);
  for (int below = 0; solved && below < num_degrees; below++) {
    w.rates[below] = cavum_alloc(room, sizeof(double));
    if (!w.rates[below]) CAVUM_TRY(cavum_fail_memory(error));
    CAVUM_TRY(take_degree(&w, below, &solved, error));
  }
  if (solved) fill(&w, num_degrees);
  mirror(&w);
done:
  clear_work(&w);
  return status;
}
