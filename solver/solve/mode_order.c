// SPDX-License-Identifier: GPL-3.0-or-later
// The lowest modes where both symmetries have some close together.
#include "solve/mode_order.h"

#include "base/base.h"
#include "solve/result.h"
#include "solve/solve_problem.h"

static void add_timings(cavum_timings *sum, const cavum_timings *other) {
  sum->contour_s += other->contour_s;
  sum->mesh_s += other->mesh_s;
  sum->assembly_s += other->assembly_s;
  sum->eigen_s += other->eigen_s;
  sum->figures_s += other->figures_s;
  sum->total_s += other->total_s;
}

void cavum_mode_order_settle(cavum_result **result, int num_close, cavum_problem_memory *memory,
                             const cavum_cell *cell, const cavum_solve_options *options,
                             bool half_model) {
  cavum_cell more = *cell;  // borrowed members stay those of the cell
  cavum_result *other = NULL;
  more.num_modes += num_close;
  cavum_status status = cavum_problem_solve(&other, memory, &more, options, half_model, NULL);
  if (status != CAVUM_OK) return;
  cavum_result_keep_lowest(other, cell->num_modes);
  cavum_timings both = other->timings;
  add_timings(&both, &(*result)->timings);
  if (other->num_modes >= (*result)->num_modes &&
      (other->accuracy_reached || !(*result)->accuracy_reached)) {
    cavum_result *first = *result;
    *result = other;
    other = first;
  }
  (*result)->timings = both;
  cavum_result_destroy(&other);
}
