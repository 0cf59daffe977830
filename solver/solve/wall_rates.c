// SPDX-License-Identifier: GPL-3.0-or-later
// Fields along the wall, differentiated point by point, several points a solve.
#include "solve/wall_rates.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/bordered.h"
#include "eigen/pencil_factorise.h"
#include "fem/form_gradient.h"
#include "figures/functional_wall.h"
#include "figures/profile.h"

// One field at one point of the wall.
typedef struct wall_place {
  cavum_index point;
  bool electric;
} wall_place;

typedef struct work {
  const cavum_mode_functionals_input *input;
  const cavum_wall_motion *motion;
  cavum_mode_result *mode;
  const cavum_modes *modes;
  int index;
  cavum_view view;
  cavum_index half;                               // points of the mesh's own wall
  cavum_functional numbers[CAVUM_BORDERED_MOST];  // owned
  double *adjoint[CAVUM_BORDERED_MOST], *side[CAVUM_BORDERED_MOST];  // owned, [num_unknowns]
} work;

static void clear_work(work *w) {
  for (int j = 0; j < CAVUM_BORDERED_MOST; j++) {
    cavum_functional_clear(&w->numbers[j]);
    free(w->adjoint[j]);
    free(w->side[j]);
  }
}

static cavum_status prepare(work *w, cavum_error *error) {
  cavum_index n = w->modes->num_unknowns;
  for (int j = 0; j < CAVUM_BORDERED_MOST; j++) {
    cavum_status status = cavum_functional_create(&w->numbers[j], &w->view, error);
    if (status != CAVUM_OK) return status;
    w->adjoint[j] = cavum_alloc(n, sizeof(double));
    w->side[j] = cavum_alloc(n, sizeof(double));
    if (!w->adjoint[j] || !w->side[j]) return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

static double *rates_at(const work *w, const wall_place *place, int dimension) {
  double *all = place->electric ? w->mode->wall_e_by : w->mode->wall_h_by;
  return all + (int64_t)dimension * w->mode->wall.num_points + place->point;
}

static cavum_status solve(work *w, int count, bool *solved, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solution *solution = w->input->solution;
  const cavum_bordered problem = {
      .pencil = &solution->classes[solution->modes[w->input->mode].in_class].pencil,
      .level = w->input->below,
      .modes = w->modes,
      .index = w->index,
      .vector = w->view.field.vector,
      .accuracy = cavum_mode_functionals_accuracy(w->input->cell)};
  *solved = false;
  for (int attempt = 0; attempt < 2 && !*solved; attempt++) {
    cavum_bordered_start start = {0};
    for (int j = 0; j < count; j++) {
      memcpy(w->side[j], w->numbers[j].by_vector, (size_t)w->modes->num_unknowns * sizeof(double));
    }
    if (attempt > 0) {
      CAVUM_TRY(cavum_pencil_factorise(problem.pencil, &solution->condensed,
                                       1.01 * w->modes->k2_per_m2[w->index], error));
    }
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(cavum_bordered_solve(w->adjoint, &start, solved, &problem, w->side, count, error));
  }
done:
  return status;
}

// The form of the change of the mode; the adjoint vector is replaced.
static cavum_form form_of(work *w, int j) {
  const cavum_functional *f = &w->numbers[j];
  const double *x = w->view.field.vector;
  double k2 = w->view.field.k2_per_m2, along = 0.0, by_k2 = f->by_k / (2.0 * sqrt(k2));
  double *u = w->adjoint[j];
  for (cavum_index i = 0; i < w->modes->num_unknowns; i++) {
    along += f->by_vector[i] * x[i];
    u[i] = by_k2 * x[i] - u[i];
  }
  return (cavum_form){.u = u, .mass_u = k2, .mass_x = 0.5 * along};
}

// Several fields at once.
static cavum_status take_places(work *w, const wall_place *places, int count, bool *solved,
                                cavum_error *error) {
  cavum_mesh_gradient *gradients[CAVUM_BORDERED_MOST];
  cavum_form forms[CAVUM_BORDERED_MOST];
  for (int j = 0; j < count; j++) {
    cavum_index edge;
    double s = cavum_profile_wall_place(&edge, places[j].point);
    cavum_functional_reset(&w->numbers[j], &w->view);
    cavum_functional_add_field(&w->numbers[j], &w->view, w->view.boundary->conducting[edge], s,
                               places[j].electric);
  }
  cavum_status status = solve(w, count, solved, error);
  if (status != CAVUM_OK || !*solved) return status;
  for (int j = 0; j < count; j++) {
    gradients[j] = &w->numbers[j].gradient;
    forms[j] = form_of(w, j);
  }
  cavum_form_gradients_add(gradients, &w->input->solution->discretisation, w->view.field.vector,
                           forms, count);
  cavum_mesh_gradients_gather(gradients, count, w->input->follower);
  for (int j = 0; j < count; j++) {
    // The functional is the size of the field.
    const double *values = places[j].electric ? w->mode->wall.e_v_per_m : w->mode->wall.h_a_per_m;
    double sign = values[places[j].point] < 0.0 ? -1.0 : 1.0;
    for (int i = 0; i < w->motion->count; i++) {
      double size;
      const cavum_curve_rate *rates = w->motion->rates + (int64_t)i * w->motion->num_curves;
      if (!w->motion->known[i]) continue;
      *rates_at(w, &places[j], i) = sign * cavum_mesh_gradient_dot(&size, gradients[j], rates);
    }
  }
  return CAVUM_OK;
}

// The image of a half wall, as in the profile.
static void mirror(work *w) {
  cavum_index half = w->half, all = w->mode->wall.num_points;
  double sign = w->view.parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  for (int i = 0; i < w->motion->count && all > half; i++) {
    double *e = w->mode->wall_e_by + (int64_t)i * all, *h = w->mode->wall_h_by + (int64_t)i * all;
    for (cavum_index k = 0; k < half; k++) {
      e[all - 1 - k] = -sign * e[k];
      h[all - 1 - k] = sign * h[k];
    }
  }
}

cavum_status cavum_wall_rates_add(cavum_mode_result *mode,
                                  const cavum_mode_functionals_input *input,
                                  const cavum_wall_motion *motion, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution_mode *of = &input->solution->modes[input->mode];
  int64_t room = (int64_t)motion->count * mode->wall.num_points;
  bool solved = true;
  work w = {
      .input = input,
      .motion = motion,
      .mode = mode,
      .modes = &input->solution->classes[of->in_class].modes[input->below],
      .index = of->index,
      .view = cavum_solution_view(input->solution, input->mode, input->below, input->boundary)};
  w.half = w.view.parity == CAVUM_PARITY_NONE ? mode->wall.num_points : mode->wall.num_points / 2;
  mode->wall_e_by = cavum_alloc(room, sizeof(double));
  mode->wall_h_by = cavum_alloc(room, sizeof(double));
  if (!mode->wall_e_by || !mode->wall_h_by) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < room; i++) mode->wall_e_by[i] = mode->wall_h_by[i] = NAN;
  CAVUM_TRY(prepare(&w, error));
  for (cavum_index first = 0; solved && first < 2 * w.half; first += CAVUM_BORDERED_MOST) {
    wall_place places[CAVUM_BORDERED_MOST];
    int count = 0;
    for (cavum_index k = first; k < 2 * w.half && count < CAVUM_BORDERED_MOST; k++) {
      places[count++] = (wall_place){.point = k / 2, .electric = k % 2 == 0};
    }
    CAVUM_TRY(take_places(&w, places, count, &solved, error));
  }
  mirror(&w);
done:
  clear_work(&w);
  return status;
}
