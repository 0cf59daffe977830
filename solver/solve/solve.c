// SPDX-License-Identifier: GPL-3.0-or-later
// The main job: the problem that a cell is, on half of it where it is mirrored; then, where they
// are needed, the order of close modes and the coupling.
#include "solve/solve.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "base/told_apart.h"
#include "base/units.h"
#include "cell/cell.h"
#include "cell/cell_check.h"
#include "cell/cell_digest.h"
#include "cell/dimension.h"
#include "cell/moved_cell.h"
#include "contour/parallel.h"
#include "solve/accuracy.h"
#include "solve/coupling.h"
#include "solve/mode_order.h"
#include "solve/options.h"
#include "solve/peak_side.h"
#include "solve/solve_problem.h"

// All element sizes are divided by this at most: a thousand elements become four millions.
static const double REFINEMENT_MOST = 64.0;

static cavum_status check_coupling(const cavum_cell *cell, const cavum_solve_options *options,
                                   cavum_error *error) {
  bool exists = false, has_one = false;
  cavum_status status =
      cavum_coupling_exists(&exists, cell, options->coupling_of_inner_cell, error);
  if (status == CAVUM_OK) status = cavum_coupling_exists(&has_one, cell, true, error);
  if (status != CAVUM_OK) return status;
  if (exists && !options->coupling_of_inner_cell) return CAVUM_OK;
  if (exists) return cavum_coupling_check_inner(cell, options->derivatives, error);
  return cavum_fail(error, CAVUM_ERR_USAGE,
                    "k_cc needs a two-ellipse cell with electric or magnetic ends%s",
                    has_one ? "; for this cell without its tubes use --coupling=inner-cell" : "");
}

static cavum_status check_request(const cavum_cell *cell, const cavum_solve_options *options,
                                  cavum_error *error) {
  cavum_status status = cavum_cell_check_whole(cell, error);
  if (status != CAVUM_OK) return status;
  if (options->degree != 0 && (options->degree < 3 || options->degree > CAVUM_DEGREE_MOST)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "degree %d: expected 0 (chosen) or 3 to %d",
                      options->degree, CAVUM_DEGREE_MOST);
  }
  if (!(options->refinement >= 0.0 && options->refinement <= REFINEMENT_MOST)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "refinement %g: expected 0 (chosen) or up to %g",
                      options->refinement, REFINEMENT_MOST);
  }
  if (options->field_order < CAVUM_FIELD_ORDER_CHOSEN || options->field_order > CAVUM_DEGREE_MOST) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "field_order %d: expected 0 (no field), 1 to %d, or %d (chosen)",
                      options->field_order, CAVUM_DEGREE_MOST, CAVUM_FIELD_ORDER_CHOSEN);
  }
  if (!(options->work_limit_s >= 0.0)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "work_limit_s %g: expected 0 (chosen) or more",
                      options->work_limit_s);
  }
  if (!(options->memory_limit_bytes >= 0.0)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "memory_limit_bytes %g: expected 0 (chosen) or more",
                      options->memory_limit_bytes);
  }
  if (!(options->wall_derivatives_above >= 0.0 && options->wall_derivatives_above <= 1.0)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "wall_derivatives_above %g: expected 0 to 1",
                      options->wall_derivatives_above);
  }
  return options->coupling ? check_coupling(cell, options, error) : CAVUM_OK;
}

// As much of what a mode was computed from as its result tells.
static cavum_mode_values values_of(const cavum_mode_result *mode) {
  cavum_mode_values values = {.optimum_rcond = 1.0};
  memcpy(values.figures, mode->figures, sizeof values.figures);
  double by_abs = mode->figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS].value;
  double by_integral = mode->figures[CAVUM_FIGURE_TRANSIT_TIME_FACTOR].value;
  values.voltage_rcond = by_abs;
  values.integral_rcond = by_integral > 0.0 ? by_abs / by_integral : 0.0;
  return values;
}

// Names the conductor that the modes do not feel.
static cavum_status report_unfelt(cavum_point at, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "the accuracy asked for was not reached: the conductor of radius %.3g mm at z "
                    "= %.4g mm is too thin for the elements beside it, which do not resolve it",
                    cavum_in_mm(at.r_m), cavum_in_mm(at.z_m));
}

// Names the figure that is farthest from the accuracy asked for.
static cavum_status report_not_reached(const cavum_result *result, const cavum_cell *cell,
                                       const cavum_problem_memory *memory, cavum_error *error) {
  if (memory->unfelt.part > 0.0) return report_unfelt(memory->unfelt.place, error);
  double worst = 0.0;
  int mode = 0, figure = CAVUM_FIGURE_FREQUENCY;
  for (int m = 0; m < result->num_modes; m++) {
    cavum_mode_values values = values_of(&result->modes[m]);
    if (result->modes[m].accuracy_reached) continue;
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_figure *f = &result->modes[m].figures[id];
      if (cavum_accuracy_is_reached(&values, (cavum_figure_id)id, cell)) continue;
      double relative = f->uncertainty / fabs(f->value);
      if (relative <= worst) continue;
      worst = relative;
      mode = m;
      figure = id;
    }
  }
  double asked = cavum_accuracy_wanted((cavum_figure_id)figure, cell);
  char found[CAVUM_TOLD_APART_SIZE], wanted[CAVUM_TOLD_APART_SIZE];
  cavum_told_apart_write(found, wanted, worst, asked);
  return cavum_fail(
      error, CAVUM_ERR_NOT_CONVERGED,
      "the accuracy asked for was not reached: %s of mode %d has a relative uncertainty of %s, "
      "more than %s%s",
      cavum_figure_describe((cavum_figure_id)figure).long_name, mode + 1, found, wanted,
      !memory->work_ended    ? ""
      : memory->memory_ended ? "; the limit of memory was reached"
                             : "; the limit of work was reached");
}

// Half a path has no derivatives of fields along both its walls, by numbers that move one of them,
// nor rates of parallels.
static bool needs_whole_path(const cavum_cell *cell, const cavum_solve_options *options) {
  bool parallel = false;
  for (cavum_index i = 0; i < cell->path.num_curves; i++) {
    parallel = parallel || cavum_curve_is_parallel(&cell->path.curves[i]);
  }
  return (options->profiles && options->wall_derivatives) || parallel;
}

// Whether derivatives are asked for that half a cell cannot give: of fields along both walls by a
// dimension of one half.
static cavum_status needs_whole(bool *needs, const cavum_cell *cell,
                                const cavum_solve_options *options, cavum_error *error) {
  cavum_cell_dimensions dimensions = {0};
  *needs =
      options->derivatives && cell->kind == CAVUM_CONTOUR_PATH && needs_whole_path(cell, options);
  bool along_wall = options->derivatives && options->profiles && options->wall_derivatives &&
                    options->wall_derivatives_above == 0.0;
  if (*needs || !along_wall || cell->kind != CAVUM_CONTOUR_TWO_ELLIPSE) return CAVUM_OK;
  cavum_status status = cavum_cell_dimensions_list(&dimensions, cell, error);
  for (int i = 0; i < dimensions.count; i++) {
    *needs = *needs || !cavum_cell_dimension_keeps_mirror(&dimensions.list[i]);
  }
  cavum_cell_dimensions_clear(&dimensions);
  return status;
}

// The unknowns of a mirror plane are eliminated last, all at once: their matrix is dense. Along a
// plane that is much longer than the half is wide they are most of the mesh, and the whole cell is
// less work; it takes twice the unknowns.
static bool is_flat(const cavum_cell *cell) {
  const double flat = 20.0;
  double low_m = HUGE_VAL, high_m = -HUGE_VAL, radius_m = cell->left.equator_radius_m;
  if (cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) return radius_m > flat * cell->left.half_length_m;
  radius_m = 0.0;
  for (cavum_index i = 0; i < cell->path.num_curves; i++) {
    cavum_point at = cell->path.curves[i].start;
    low_m = fmin(low_m, at.z_m);
    high_m = fmax(high_m, at.z_m);
    radius_m = fmax(radius_m, at.r_m);
  }
  return radius_m > flat * 0.5 * (high_m - low_m);
}

// Where no length is stated, that of a cell that was moved is its half lengths, moved as well.
static cavum_status name_moved_length(cavum_accelerating_length *length, const cavum_cell *cell,
                                      cavum_error *error) {
  bool moved = false;
  cavum_status status = cavum_moved_cell_has_moved_length(&moved, cell, error);
  if (status != CAVUM_OK || !moved) return status;
  bool same = cell->left.half_length_m == cell->right.half_length_m;
  length->from = same ? "2 x half_length, moved" : "left half_length + right half_length, moved";
  return CAVUM_OK;
}

static cavum_status solve_and_ask(cavum_result **result, cavum_solver_memory *memory,
                                  const cavum_cell *given, const cavum_solve_options *options,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_result *made = NULL;
  cavum_cell full;
  const cavum_cell *cell = &full;
  CAVUM_TRY(cavum_sized_take(&full, given, &cavum_cell_sized, error));
  CAVUM_TRY(check_request(cell, options, error));
  bool one_sided;
  CAVUM_TRY(needs_whole(&one_sided, cell, options, error));
  bool half =
      options->use_symmetry && !one_sided && !is_flat(cell) && cavum_cell_whole_is_symmetric(cell);
  memory->main.one_degree = memory->one_degree;
  memory->main.densities_alone = memory->close.densities_alone = memory->densities_alone;
  status = cavum_problem_solve(&made, &memory->main, cell, options, half, error);
  // Modes of the two symmetry classes may have changed places between degrees; the whole cell has
  // one class only and cannot miss any that way.
  if (status == CAVUM_ERR_INCOMPLETE && half) {
    half = false;
    status = cavum_problem_solve(&made, &memory->main, cell, options, half, error);
  }
  if (status != CAVUM_OK) goto done;
  uint64_t digest = cavum_cell_digest_full(cell);
  if (half && memory->main.num_close > 0) {
    cavum_mode_order_settle(&made, memory->main.num_close, &memory->close, cell, options, half);
  }
  if (error) *error = (cavum_error){0};  // of attempts that were followed by a better one
  if (options->coupling) CAVUM_TRY(cavum_coupling_add(made, memory, cell, options, half, error));
  cavum_peak_side_settle(made, cell);
  CAVUM_TRY(name_moved_length(&made->accelerating_length, cell, error));
  made->cell_digest = digest;
  *result = made;
  if (!made->accuracy_reached && options->degree == 0) {
    status = report_not_reached(made, cell, &memory->main, error);
  }
  made = NULL;
done:
  cavum_result_destroy(&made);
  return status;
}

// What a result says of itself, and what was read of its cell.
static void log_result(const cavum_solve_options *options, const cavum_cell *cell,
                       const cavum_result *result) {
  cavum_cell full;
  if (cavum_sized_take(&full, cell, &cavum_cell_sized, NULL) == CAVUM_OK && full.note[0]) {
    options->log(CAVUM_LOG_NOTE, "cell", full.note, options->log_data);
  }
  for (int i = 0; result && i < result->num_warnings; i++) {
    options->log(CAVUM_LOG_WARNING, "solve", result->warnings[i], options->log_data);
  }
}

// A request to stop ends the solve with CAVUM_ERR_STOPPED also when it came after the last step, or
// while something was tried that may fail.
cavum_status cavum_solve_remembering(cavum_result **result, cavum_solver_memory *memory,
                                     const cavum_cell *cell, const cavum_solve_options *options,
                                     cavum_error *error) {
  cavum_stop stop = {.ask = options->stop, .data = options->stop_data};
  cavum_result *made = NULL;
  cavum_stop *before = cavum_stop_set(&stop);
  cavum_status status = solve_and_ask(&made, memory, cell, options, error);
  cavum_stop_set(before);
  if (stop.stopped) {
    cavum_result_destroy(&made);
    cavum_solver_memory_clear(memory);
    return cavum_fail(error, CAVUM_ERR_STOPPED, "the solve was stopped on request");
  }
  if (options->log) log_result(options, cell, made);
  if (made) *result = made;
  return status;
}

cavum_status cavum_solve(cavum_result **result, const cavum_cell *cell,
                         const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options full;
  cavum_solver_memory memory = {0};
  if (!result) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_solve_options_take(&full, options, error);
  if (status == CAVUM_OK) status = cavum_solve_remembering(result, &memory, cell, &full, error);
  cavum_solver_memory_clear(&memory);
  return status;
}
