// SPDX-License-Identifier: GPL-3.0-or-later
// Fields along the wall, differentiated point by point, several points a solve.
#include "solve/wall_rates.h"

#include "base/base.h"
#include "fem/form_gradient.h"
#include "figures/functional_wall.h"
#include "figures/profile.h"
#include "solve/adjoint.h"

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
  cavum_index num_unknowns, half;                 // half: points of the mesh's own wall
  cavum_functional numbers[CAVUM_BORDERED_MOST];  // owned
  double *adjoint[CAVUM_BORDERED_MOST];           // owned, [num_unknowns]
} work;

static void clear_work(work *w) {
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

static double *rates_at(const work *w, const wall_place *place, int dimension) {
  double *all = place->electric ? w->mode->wall_e_by : w->mode->wall_h_by;
  return all + (int64_t)dimension * w->mode->wall.num_points + place->point;
}

// Several fields at once.
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
    forms[j] = cavum_adjoint_form(w->adjoint[j], &w->of, &w->numbers[j]);
  }
  cavum_form_gradients_add(gradients, &w->input->solution->discretisation, forms, count);
  status = cavum_mesh_gradients_gather(gradients, count, w->input->follower, error);
  if (status != CAVUM_OK) return status;
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
                                  const cavum_wall_motion *motion, double above,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  wall_place *places = NULL;
  const cavum_solution_mode *of = &input->solution->modes[input->mode];
  int64_t room = (int64_t)motion->count * mode->wall.num_points;
  bool solved = true;
  work w = {
      .input = input,
      .motion = motion,
      .mode = mode,
      .num_unknowns = input->solution->classes[of->in_class].modes[input->below].num_unknowns,
      .view = cavum_solution_view(input->solution, input->mode, input->below, input->boundary)};
  w.of = cavum_adjoint_mode_of(input->solution, input->mode, input->below, &w.view);
  w.half = w.view.parity == CAVUM_PARITY_NONE ? mode->wall.num_points : mode->wall.num_points / 2;
  mode->wall_e_by = cavum_alloc(room, sizeof(double));
  mode->wall_h_by = cavum_alloc(room, sizeof(double));
  if (!mode->wall_e_by || !mode->wall_h_by) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < room; i++) mode->wall_e_by[i] = mode->wall_h_by[i] = NAN;
  CAVUM_TRY(prepare(&w, error));
  places = cavum_alloc(2 * (int64_t)w.half, sizeof *places);
  if (!places) CAVUM_TRY(cavum_fail_memory(error));
  cavum_index num_places = list_places(places, &w, above);
  for (cavum_index first = 0; solved && first < num_places; first += CAVUM_BORDERED_MOST) {
    cavum_index left = num_places - first;
    int count = left < CAVUM_BORDERED_MOST ? (int)left : (int)CAVUM_BORDERED_MOST;
    CAVUM_TRY(take_places(&w, places + first, count, &solved, error));
  }
  mirror(&w);
done:
  free(places);
  clear_work(&w);
  return status;
}
