// SPDX-License-Identifier: GPL-3.0-or-later
// The 0 mode and the pi mode of a cell.
#include "solve/coupling.h"

#include <string.h>

#include "base/base.h"
#include "cell/inner_cell.h"
#include "cell/moved_cell.h"
#include "solve/solve_problem.h"

// A cell from iris to iris with both ends closed by the same kind of plane. What it owns is freed
// by free_other().
static cavum_status close_ends(cavum_cell *other, const cavum_cell *cell, cavum_end_kind kind,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (cell->kind == CAVUM_CONTOUR_PATH) {
    status = cavum_moved_cell_close(other, cell, kind, error);
    if (status != CAVUM_OK) return status;
  } else {
    *other = *cell;  // borrowed members stay those of the cell
    other->left_end = other->right_end = (cavum_end){.kind = kind};
  }
  other->num_modes = 1;
  other->near_hz = 0.0;
  return CAVUM_OK;
}

static void free_other(cavum_cell *other) {
  if (other->kind == CAVUM_CONTOUR_PATH) cavum_moved_cell_free_other(other);
}

static bool end_allows(const cavum_end *end, bool of_inner_cell) {
  return end->kind == CAVUM_END_ELECTRIC || end->kind == CAVUM_END_MAGNETIC ||
         (of_inner_cell && end->kind == CAVUM_END_TUBE);
}

cavum_status cavum_coupling_check_inner(const cavum_cell *cell, bool derivatives,
                                        cavum_error *error) {
  cavum_moved_cell moved;
  cavum_status status = cavum_moved_cell_look(&moved, cell, error);
  if (status != CAVUM_OK) return status;
  bool is_moved = moved.is_one && moved.base.kind == CAVUM_CONTOUR_TWO_ELLIPSE;
  cavum_moved_cell_clear(&moved);
  return is_moved ? cavum_inner_cell_check(cell, derivatives, error) : CAVUM_OK;
}

cavum_status cavum_coupling_exists(bool *exists, const cavum_cell *cell, bool of_inner_cell,
                                   cavum_error *error) {
  cavum_moved_cell moved;
  cavum_status status = cavum_moved_cell_look(&moved, cell, error);
  if (status != CAVUM_OK) return status;
  const cavum_cell *with_ends = moved.is_one ? &moved.base : cell;
  *exists = with_ends->kind == CAVUM_CONTOUR_TWO_ELLIPSE &&
            end_allows(&with_ends->left_end, of_inner_cell) &&
            end_allows(&with_ends->right_end, of_inner_cell);
  cavum_moved_cell_clear(&moved);
  return CAVUM_OK;
}

// A frequency and the result that it comes from, which has its derivatives.
typedef struct coupled_mode {
  cavum_figure frequency;
  const cavum_result *of;
  cavum_result *solved;  // owned: NULL where it is the cell's own
} coupled_mode;

// Frequency of the lowest mode with both ends closed by one kind of plane. Where the cell has these
// ends itself, that is its own lowest mode.
static cavum_status find_frequency(coupled_mode *mode, const cavum_result *own,
                                   cavum_problem_memory *memory, const cavum_cell *cell,
                                   cavum_end_kind kind, const cavum_solve_options *options,
                                   bool half_model, cavum_error *error) {
  *mode = (coupled_mode){.of = own};
  if (cell->left_end.kind == kind && cell->right_end.kind == kind && cell->near_hz == 0.0 &&
      own->num_modes > 0) {
    mode->frequency = own->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
    return CAVUM_OK;
  }
  cavum_cell other;
  cavum_status status = close_ends(&other, cell, kind, error);
  if (status != CAVUM_OK) return status;
  status = cavum_problem_solve(&mode->solved, memory, &other, options, half_model, error);
  free_other(&other);
  if (status != CAVUM_OK) return status;
  mode->of = mode->solved;
  mode->frequency = mode->solved->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  return CAVUM_OK;
}

// Derivative of its frequency by a dimension of the cell. What the problem does not have, its
// tubes, does nothing to it.
static cavum_derivative derivative_of(const coupled_mode *mode, const char *key) {
  for (int i = 0; i < mode->of->num_dimensions; i++) {
    if (strcmp(mode->of->dimensions[i].key, key) != 0) continue;
    return cavum_result_derivative(mode->of, 0, i, CAVUM_FIGURE_FREQUENCY);
  }
  return (cavum_derivative){.state = CAVUM_FIGURE_PRESENT};
}

// d k_cc = 4 (f0 df1 - f1 df0) / (f0 + f1)^2; uncertainties in the worst case of their signs.
static cavum_derivative derivative_of_coupling(const coupled_mode *zero, const coupled_mode *pi,
                                               const char *key) {
  cavum_derivative d0 = derivative_of(zero, key), d1 = derivative_of(pi, key);
  double f0 = zero->frequency.value, f1 = pi->frequency.value, sum = f0 + f1;
  double u0 = zero->frequency.uncertainty, u1 = pi->frequency.uncertainty;
  if (d0.state != CAVUM_FIGURE_PRESENT) return d0;
  if (d1.state != CAVUM_FIGURE_PRESENT) return d1;
  double value = 4.0 * (f0 * d1.value - f1 * d0.value) / (sum * sum);
  return (cavum_derivative){.state = CAVUM_FIGURE_PRESENT,
                            .value = value,
                            .uncertainty = 4.0 *
                                               (f0 * d1.uncertainty + f1 * d0.uncertainty +
                                                fabs(d1.value) * u0 + fabs(d0.value) * u1) /
                                               (sum * sum) +
                                           2.0 * fabs(value) * (u0 + u1) / sum};
}

static cavum_status add_derivatives(cavum_result *result, const coupled_mode *zero,
                                    const coupled_mode *pi, cavum_error *error) {
  int count = result->num_dimensions;
  result->coupling_derivatives = cavum_alloc(count, sizeof *result->coupling_derivatives);
  if (!result->coupling_derivatives) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    result->coupling_derivatives[i] = derivative_of_coupling(zero, pi, result->dimensions[i].key);
  }
  return CAVUM_OK;
}

cavum_status cavum_coupling_add(cavum_result *result, cavum_solver_memory *memory,
                                const cavum_cell *cell, const cavum_solve_options *options,
                                bool half_model, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  coupled_mode zero = {0}, pi = {0};
  cavum_solve_options plain = *options;
  plain.profiles = false;
  plain.field_order = 0;
  plain.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
  CAVUM_TRY(find_frequency(&zero, result, &memory->zero, cell, CAVUM_END_ELECTRIC, &plain,
                           half_model, error));
  CAVUM_TRY(find_frequency(&pi, result, &memory->pi, cell, CAVUM_END_MAGNETIC, &plain, half_model,
                           error));
  cavum_figure f0 = zero.frequency, f1 = pi.frequency;
  double sum = f0.value + f1.value;
  result->zero_mode_hz = f0.value;
  result->pi_mode_hz = f1.value;
  result->coupling_without_tubes =
      cell->left_end.kind == CAVUM_END_TUBE || cell->right_end.kind == CAVUM_END_TUBE;
  result->zero_mode_uncertainty_hz = f0.uncertainty;
  result->pi_mode_uncertainty_hz = f1.uncertainty;
  // d k_cc = 4 (f0 df1 + f1 df0) / (f0 + f1)^2 in the worst case of the two signs.
  result->coupling = (cavum_figure){
      .state = CAVUM_FIGURE_PRESENT,
      .value = 2.0 * (f1.value - f0.value) / sum,
      .uncertainty = 4.0 * (f0.value * f1.uncertainty + f1.value * f0.uncertainty) / (sum * sum)};
  if (options->derivatives) CAVUM_TRY(add_derivatives(result, &zero, &pi, error));
done:
  cavum_result_destroy(&zero.solved);
  cavum_result_destroy(&pi.solved);
  return status;
}
