// SPDX-License-Identifier: GPL-3.0-or-later
// Adjoint fields of the loss integral and of the voltage on the axis, and what they say of the
// wall.
#include "solve/wall_adjoints.h"

#include "base/base.h"
#include "figures/functional_voltage.h"
#include "figures/functional_wall.h"
#include "figures/wall_density.h"
#include "solve/adjoint.h"

// The numbers that G and R/Q are products of, beside k.
enum { LOSS, VOLTAGE, NUM_NUMBERS };

// An end of an edge that is nearer to the axis than this part of the other end is on it.
static const double ON_AXIS = 1e-9;
// What the last degree changed on an edge, so many times, bounds what is missing: next to an edge
// with an end on the axis errors fall so slowly that they were up to 5 times the change.
static const double SAFETY = 6.0;

typedef struct work {
  const cavum_mode_functionals_input *input;
  cavum_view view;
  cavum_adjoint_mode mode;
  cavum_index num_unknowns;
  cavum_wall_traces traces;               // owned
  cavum_functional numbers[NUM_NUMBERS];  // owned
  bool exists[NUM_NUMBERS];
  double *adjoint[NUM_NUMBERS];  // owned, [num_unknowns]
} work;

static void clear_work(work *w) {
  cavum_wall_traces_clear(&w->traces);
  for (int j = 0; j < NUM_NUMBERS; j++) {
    cavum_functional_clear(&w->numbers[j]);
    free(w->adjoint[j]);
  }
}

static cavum_status begin(work *w, int number, cavum_error *error) {
  cavum_status status = cavum_functional_create(&w->numbers[number], &w->view, error);
  if (status != CAVUM_OK) return status;
  w->adjoint[number] = cavum_alloc(w->num_unknowns, sizeof(double));
  if (!w->adjoint[number]) return cavum_fail_memory(error);
  w->exists[number] = true;
  return CAVUM_OK;
}

static cavum_status add_loss(work *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(begin(w, LOSS, error));
  cavum_functional_add_loss(&w->numbers[LOSS], &w->view, &w->traces);
done:
  return status;
}

static cavum_status add_voltage(work *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_axis_field axis = {0};
  double beta = w->input->cell->beta;
  CAVUM_TRY(cavum_axis_expand(&axis, &w->view, error));
  cavum_phasor voltage = cavum_axis_voltage(&axis, sqrt(w->view.field.k2_per_m2), beta);
  if (!(hypot(voltage.re, voltage.im) > 0.0)) goto done;
  CAVUM_TRY(begin(w, VOLTAGE, error));
  cavum_functional_add_axis(&w->numbers[VOLTAGE], &w->view, &w->traces, CAVUM_AXIS_VOLTAGE, 1.0,
                            beta, &voltage);
done:
  cavum_axis_clear(&axis);
  return status;
}

static cavum_status solve(work *w, bool *solved, cavum_error *error) {
  double *z[NUM_NUMBERS];
  const cavum_functional *numbers[NUM_NUMBERS];
  cavum_bordered_start none = {0};
  int count = 0;
  for (int j = 0; j < NUM_NUMBERS; j++) {
    if (!w->exists[j]) continue;
    z[count] = w->adjoint[j];
    numbers[count++] = &w->numbers[j];
  }
  return cavum_adjoint_solve(z, &none, solved, &w->mode,
                             cavum_mode_functionals_accuracy(w->input->cell), numbers, count,
                             error);
}

// G is k over the loss integral, R/Q the square of the voltage over k.
static cavum_status make_density(double **made, const cavum_wall_density *d, work *w, int number,
                                 const cavum_mode_values *of, cavum_error *error) {
  static const cavum_figure_id ids[NUM_NUMBERS] = {CAVUM_FIGURE_GEOMETRY_FACTOR,
                                                   CAVUM_FIGURE_R_OVER_Q_LINAC};
  bool loss = number == LOSS;
  cavum_status status = CAVUM_OK;
  double *values = NULL, *of_loss = NULL;
  double frequency_hz = of->figures[CAVUM_FIGURE_FREQUENCY].value;
  if (!w->exists[number] || of->figures[ids[number]].state != CAVUM_FIGURE_PRESENT) goto done;
  values = cavum_alloc(d->num_points, sizeof *values);
  if (!values) CAVUM_TRY(cavum_fail_memory(error));
  const cavum_form form =
      cavum_adjoint_form(w->adjoint[number], w->adjoint[number], &w->mode, &w->numbers[number]);
  cavum_wall_density_of_form(values, &w->view, &form);
  if (loss) {
    of_loss = cavum_alloc(d->num_points, sizeof *of_loss);
    if (!of_loss) CAVUM_TRY(cavum_fail_memory(error));
    cavum_wall_density_of_loss(of_loss, &w->view);
  }
  double power = loss ? -1.0 : 2.0, power_of_k = loss ? 1.0 : -1.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    double all = values[i] + (loss ? of_loss[i] : 0.0);
    values[i] =
        of->figures[ids[number]].value * (power * all / w->numbers[number].value +
                                          power_of_k * d->frequency_hz_per_m3[i] / frequency_hz);
  }
  *made = values;
  values = NULL;
done:
  free(values);
  free(of_loss);
  return status;
}

// The densities from one degree of a solution; NULL where there is none.
static cavum_status make_densities(double *made[NUM_NUMBERS], const cavum_wall_density *d,
                                   const cavum_mode_functionals_input *input,
                                   const cavum_mode_values *of, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution_mode *mode = &input->solution->modes[input->mode];
  const cavum_solution_class *class = &input->solution->classes[mode->in_class];
  bool solved = false;
  work w = {
      .input = input,
      .num_unknowns = class->modes[input->below].num_unknowns,
      .view = cavum_solution_view(input->solution, input->mode, input->below, input->boundary)};
  w.mode = cavum_adjoint_mode_of(input->solution, input->mode, input->below, &w.view);
  CAVUM_TRY(cavum_wall_traces_create(&w.traces, &w.view, error));
  CAVUM_TRY(add_loss(&w, error));
  if (input->boundary->num_axis > 0) CAVUM_TRY(add_voltage(&w, error));
  CAVUM_TRY(solve(&w, &solved, error));
  for (int j = 0; solved && j < NUM_NUMBERS; j++) {
    CAVUM_TRY(make_density(&made[j], d, &w, j, of, error));
  }
done:
  clear_work(&w);
  return status;
}

// Edge i of the wall; the image of a half goes on from its end, edges backwards.
static bool touches_axis(const cavum_mesh_boundary *boundary, cavum_index i) {
  cavum_index edge = i < boundary->num_metal ? i : 2 * boundary->num_metal - 1 - i;
  const double *r_m = boundary->shape[edge].r_m;
  double first = r_m[0], last = r_m[CAVUM_WALL_SAMPLES - 1];
  return cavum_min(first, last) < ON_AXIS * cavum_max(first, last);
}

// One uncertainty for all points of an edge.
static cavum_status make_uncertainty(double **made, const double *values, const double *before,
                                     int number, const cavum_mesh_boundary *boundary,
                                     cavum_index num_points, cavum_error *error) {
  double *uncertainty = cavum_alloc(num_points, sizeof *uncertainty);
  if (!uncertainty) return cavum_fail_memory(error);
  for (cavum_index first = 0; first < num_points; first += CAVUM_WALL_RULE) {
    bool on_axis = number == VOLTAGE && touches_axis(boundary, first / CAVUM_WALL_RULE);
    double change = before && !on_axis ? 0.0 : INFINITY;
    for (int k = 0; before && k < CAVUM_WALL_RULE; k++) {
      change = cavum_max(change, fabs(values[first + k] - before[first + k]));
    }
    for (int k = 0; k < CAVUM_WALL_RULE; k++) uncertainty[first + k] = SAFETY * change;
  }
  *made = uncertainty;
  return CAVUM_OK;
}

cavum_status cavum_wall_adjoints_add(cavum_mode_result *to,
                                     const cavum_mode_functionals_input *input,
                                     const cavum_mode_functionals_input *lower,
                                     const cavum_mode_values *values, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_wall_density *d = &to->wall_density;
  double **const densities[NUM_NUMBERS] = {&d->geometry_factor_ohm_per_m3,
                                           &d->r_over_q_linac_ohm_per_m3};
  double **const uncertainties[NUM_NUMBERS] = {&to->wall_geometry_factor_uncertainty_ohm_per_m3,
                                               &to->wall_r_over_q_uncertainty_ohm_per_m3};
  double *made[NUM_NUMBERS] = {NULL}, *before[NUM_NUMBERS] = {NULL};
  if (input->boundary->num_metal == 0) goto done;
  CAVUM_TRY(make_densities(made, d, input, values, error));
  if (lower) CAVUM_TRY(make_densities(before, d, lower, values, error));
  for (int j = 0; j < NUM_NUMBERS; j++) {
    if (!made[j]) continue;
    CAVUM_TRY(make_uncertainty(uncertainties[j], made[j], before[j], j, input->boundary,
                               d->num_points, error));
    *densities[j] = made[j];
    made[j] = NULL;
  }
done:
  for (int j = 0; j < NUM_NUMBERS; j++) {
    free(made[j]);
    free(before[j]);
  }
  return status;
}
