// SPDX-License-Identifier: GPL-3.0-or-later
// Storage of a solution, and views of its modes.
#include "solve/solution.h"

#include <string.h>

#include "base/base.h"
#include "eigen/mode_block.h"

cavum_view cavum_solution_view(const cavum_solution *solution, int mode, int below,
                               const cavum_mesh_boundary *boundary) {
  const cavum_solution_mode *m = &solution->modes[mode];
  const cavum_solution_class *class = &solution->classes[m->in_class];
  const cavum_modes *modes = &class->modes[below];
  CAVUM_ASSERT(m->index < modes->count);
  const double *vector = modes->vectors + (int64_t)m->index * modes->num_unknowns;
  return cavum_view_create(&solution->discretisation, boundary, vector, modes->k2_per_m2[m->index],
                           class->parity);
}

// Relative rounding of the matrices between two modes, from symmetric pairs of cells whose modes
// are 1e-10 to 1e-8 apart, on meshes that are not symmetric: 1e-15 to 2.5e-15. Twice that.
static const double ROUNDING_BETWEEN_MODES = 5e-15;

double cavum_solution_mixing(const cavum_solution *solution, int mode) {
  const cavum_solution_mode *m = &solution->modes[mode];
  const cavum_modes *modes = &solution->classes[m->in_class].modes[0];
  double k2 = modes->k2_per_m2[m->index], gap = HUGE_VAL;
  if (m->index > 0) gap = k2 - modes->k2_per_m2[m->index - 1];
  if (m->index + 1 < modes->count) gap = cavum_min(gap, modes->k2_per_m2[m->index + 1] - k2);
  if (gap > CAVUM_NEARLY_DEGENERATE * k2) return 0.0;
  double rounding = ROUNDING_BETWEEN_MODES * k2;
  return rounding / cavum_max(gap, rounding);
}

double cavum_solution_vector_error(const cavum_solution *solution, int mode, int below) {
  const cavum_solution_mode *m = &solution->modes[mode];
  return solution->classes[m->in_class].modes[below].vector_error[m->index];
}

void cavum_solution_free_modes(cavum_solution *solution) {
  for (int m = 0; m < solution->num_modes; m++) {
    for (int l = 0; l < CAVUM_LEVELS_MOST; l++) free(solution->modes[m].samples[l]);
  }
  free(solution->modes);
  solution->modes = NULL;
  solution->num_modes = 0;
}

// The pencil of a class; that of the second lives on the factors of the first.
cavum_status cavum_solution_prepare_class(cavum_solution *solution, cavum_skeletons *skeletons,
                                          int c, cavum_error *error) {
  cavum_pencil *pencil = &solution->classes[c].pencil;
  const cavum_skeleton *skeleton;
  if (pencil->skeleton && pencil->num_levels > 0) return CAVUM_OK;
  cavum_status status = cavum_solution_restore_products(solution, error);
  if (status != CAVUM_OK) return status;
  if (!solution->condensed.discretisation) {
    status = cavum_condensed_create(&solution->condensed, &solution->discretisation,
                                    solution->num_degrees, error);
    if (status != CAVUM_OK) return status;
  }
  status = cavum_skeletons_get(&skeleton, skeletons, solution->mesh, solution->topology, c, error);
  if (status != CAVUM_OK) return status;
  if (c == 0) {
    return cavum_pencil_create(pencil, &solution->discretisation, skeleton,
                               solution->condensed.num_levels, error);
  }
  status = cavum_solution_prepare_class(solution, skeletons, 0, error);
  if (status != CAVUM_OK) return status;
  cavum_pencil_create_sharing(pencil, &solution->classes[0].pencil, skeleton);
  return CAVUM_OK;
}

void cavum_solution_clear_class(cavum_solution_class *class) {
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&class->modes[l]);
}

void cavum_solution_drop_matrices(cavum_solution *solution) {
  for (int c = 0; c < CAVUM_CLASSES; c++) {
    cavum_pencil_drop_factors(&solution->classes[c].pencil);
  }
  cavum_condensed_clear(&solution->condensed);
  cavum_discretisation_drop_coefficients(&solution->discretisation);
}

cavum_status cavum_solution_restore_products(cavum_solution *solution, cavum_error *error) {
  if (solution->discretisation.coeff) return CAVUM_OK;
  return cavum_discretisation_refill(&solution->discretisation, error);
}

void cavum_solution_clear(cavum_solution *solution) {
  if (!solution) return;
  cavum_solution_free_modes(solution);
  cavum_solution_drop_matrices(solution);
  for (int c = 0; c < CAVUM_CLASSES; c++) cavum_solution_clear_class(&solution->classes[c]);
  cavum_discretisation_clear(&solution->discretisation);
  cavum_reference_clear(&solution->reference);
  memset(solution, 0, sizeof *solution);
}
