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

typedef struct work {
  const cavum_mode_functionals_input *input;
  cavum_view view;
  cavum_adjoint_mode mode;
  cavum_index num_unknowns;
  cavum_functional numbers[NUM_NUMBERS];  // owned
  bool exists[NUM_NUMBERS];
  double *adjoint[NUM_NUMBERS];  // owned, [num_unknowns]
} work;

static void clear_work(work *w) {
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
  cavum_wall_traces traces = {0};
  CAVUM_TRY(begin(w, LOSS, error));
  CAVUM_TRY(cavum_wall_traces_create(&traces, &w->view, error));
  cavum_functional_add_loss(&w->numbers[LOSS], &w->view, &traces);
done:
  cavum_wall_traces_clear(&traces);
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
  cavum_functional_add_axis(&w->numbers[VOLTAGE], &w->view, CAVUM_AXIS_VOLTAGE, 1.0, beta,
                            &voltage);
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
static cavum_status add_density(cavum_wall_density *d, work *w, int number, double figure,
                                double frequency_hz, cavum_error *error) {
  bool loss = number == LOSS;
  cavum_status status = CAVUM_OK;
  double *values = cavum_alloc(d->num_points, sizeof *values), *of_loss = NULL;
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
    values[i] = figure * (power * all / w->numbers[number].value +
                          power_of_k * d->frequency_hz_per_m3[i] / frequency_hz);
  }
  *(loss ? &d->geometry_factor_ohm_per_m3 : &d->r_over_q_linac_ohm_per_m3) = values;
  values = NULL;
done:
  free(values);
  free(of_loss);
  return status;
}

cavum_status cavum_wall_adjoints_add(cavum_wall_density *density,
                                     const cavum_mode_functionals_input *input,
                                     const cavum_mode_values *values, cavum_error *error) {
  static const cavum_figure_id ids[NUM_NUMBERS] = {CAVUM_FIGURE_GEOMETRY_FACTOR,
                                                   CAVUM_FIGURE_R_OVER_Q_LINAC};
  cavum_status status = CAVUM_OK;
  const cavum_solution_mode *mode = &input->solution->modes[input->mode];
  const cavum_solution_class *class = &input->solution->classes[mode->in_class];
  bool solved = false;
  work w = {
      .input = input,
      .num_unknowns = class->modes[input->below].num_unknowns,
      .view = cavum_solution_view(input->solution, input->mode, input->below, input->boundary)};
  w.mode = cavum_adjoint_mode_of(input->solution, input->mode, input->below, &w.view);
  if (input->boundary->num_metal == 0) goto done;
  CAVUM_TRY(add_loss(&w, error));
  if (input->boundary->num_axis > 0) CAVUM_TRY(add_voltage(&w, error));
  CAVUM_TRY(solve(&w, &solved, error));
  for (int j = 0; solved && j < NUM_NUMBERS; j++) {
    const cavum_figure *figure = &values->figures[ids[j]];
    if (!w.exists[j] || figure->state != CAVUM_FIGURE_PRESENT) continue;
    CAVUM_TRY(add_density(density, &w, j, figure->value,
                          values->figures[CAVUM_FIGURE_FREQUENCY].value, error));
  }
done:
  clear_work(&w);
  return status;
}
