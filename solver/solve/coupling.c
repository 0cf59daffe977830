// SPDX-License-Identifier: GPL-3.0-or-later
// The 0 mode and the pi mode of a cell.
#include "solve/coupling.h"

#include "base/base.h"
#include "solve/solve_problem.h"

// A cell from iris to iris with both ends closed by the same kind of plane.
static cavum_cell with_ends(const cavum_cell *cell, cavum_end_kind kind) {
  cavum_cell other = *cell;  // borrowed members stay those of the cell
  other.left_end = other.right_end = (cavum_end){.kind = kind};
  other.num_modes = 1;
  other.near_hz = 0.0;
  return other;
}

static bool end_allows(const cavum_end *end, bool of_inner_cell) {
  return end->kind == CAVUM_END_ELECTRIC || end->kind == CAVUM_END_MAGNETIC ||
         (of_inner_cell && end->kind == CAVUM_END_TUBE);
}

bool cavum_coupling_exists(const cavum_cell *cell, bool of_inner_cell) {
  return cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE && end_allows(&cell->left_end, of_inner_cell) &&
         end_allows(&cell->right_end, of_inner_cell);
}

// Frequency of the lowest mode with both ends closed by one kind of plane. Where the cell has these
// ends itself, that is its own lowest mode.
static cavum_status find_frequency(cavum_figure *frequency, const cavum_result *own,
                                   cavum_problem_memory *memory, const cavum_cell *cell,
                                   cavum_end_kind kind, const cavum_solve_options *options,
                                   bool half_model, cavum_error *error) {
  cavum_result *solved = NULL;
  if (cell->left_end.kind == kind && cell->right_end.kind == kind && cell->near_hz == 0.0 &&
      own->num_modes > 0) {
    *frequency = own->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
    return CAVUM_OK;
  }
  cavum_cell other = with_ends(cell, kind);
  cavum_status status = cavum_problem_solve(&solved, memory, &other, options, half_model, error);
  if (status == CAVUM_OK) *frequency = solved->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  cavum_result_destroy(&solved);
  return status;
}

cavum_status cavum_coupling_add(cavum_result *result, cavum_solver_memory *memory,
                                const cavum_cell *cell, const cavum_solve_options *options,
                                bool half_model, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_figure f0, f1;
  cavum_solve_options plain = *options;
  plain.profiles = false;
  plain.field_order = 0;
  plain.derivatives = false;
  CAVUM_TRY(find_frequency(&f0, result, &memory->zero, cell, CAVUM_END_ELECTRIC, &plain, half_model,
                           error));
  CAVUM_TRY(find_frequency(&f1, result, &memory->pi, cell, CAVUM_END_MAGNETIC, &plain, half_model,
                           error));
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
done:
  return status;
}
