// SPDX-License-Identifier: GPL-3.0-or-later
// Adjoint solves with the factors of a solution.
#include "solve/adjoint.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/pencil_factorise.h"
#include "linalg/blas_calls.h"

// Where the factors of the solution do not serve: the shift over k^2.
static const double CLOSE_SHIFT = 1.01;
// Factors further from the mode than the first, relative in k^2, cost more solves than new ones at
// the second over k^2 do: of several modes the shift is amid them all.
static const double FAR_SHIFT = 0.1, BESIDE = 1.001;

// Of a higher mode, beside which the factors are: the part of the accuracy that is asked for. The
// iteration ends after fewer steps than tell how it falls, and left up to ten times as much.
static const double OF_HIGHER_MODE = 0.03;

// That of the solves.
static cavum_solution_class *class_of(const cavum_adjoint_mode *mode) {
  int own = mode->solution->modes[mode->mode].in_class;
  return &mode->solution->classes[mode->opposite ? 1 - own : own];
}

static cavum_index count_unknowns(const cavum_adjoint_mode *mode) {
  return mode->solution->discretisation.space.num_unknowns;
}

cavum_adjoint_mode cavum_adjoint_mode_of(cavum_solution *solution, int mode, int below,
                                         const cavum_view *view) {
  return (cavum_adjoint_mode){.solution = solution,
                              .mode = mode,
                              .below = below,
                              .vector = view->field.vector,
                              .k2_per_m2 = view->field.k2_per_m2};
}

// Both classes have the factors of the first.
cavum_status cavum_adjoint_turn_to_opposite(cavum_adjoint_mode *mode, cavum_skeletons *skeletons,
                                            cavum_error *error) {
  cavum_solution *solution = mode->solution;
  int other = 1 - solution->modes[mode->mode].in_class;
  cavum_status status = cavum_solution_prepare_class(solution, skeletons, other, error);
  if (status != CAVUM_OK) return status;
  mode->opposite = true;
  return cavum_pencil_factorise_from(&solution->classes[other].pencil, &solution->condensed,
                                     solution->classes[0].pencil.asked_per_m2, mode->below, error);
}

cavum_bordered cavum_adjoint_problem(const cavum_adjoint_mode *mode, double accuracy) {
  cavum_solution_class *class = class_of(mode);
  return (cavum_bordered){.pencil = &class->pencil,
                          .level = mode->below,
                          .modes = &class->modes[mode->below],
                          .index = mode->opposite ? -1 : mode->solution->modes[mode->mode].index,
                          .vector = mode->opposite ? NULL : mode->vector,
                          .k2_per_m2 = mode->k2_per_m2,
                          .accuracy = accuracy};
}

// Right-hand sides, which solves overwrite: the memory of the first is owned by the caller.
static cavum_status make_sides(double *b[CAVUM_BORDERED_MOST], cavum_index n, int count,
                               cavum_error *error) {
  b[0] = cavum_alloc_aligned((int64_t)count * n, sizeof *b[0]);
  if (!b[0]) return cavum_fail_memory(error);
  for (int j = 1; j < count; j++) b[j] = b[0] + (int64_t)j * n;
  return CAVUM_OK;
}

static void fill_sides(double *const *b, const cavum_functional *const *numbers, cavum_index n,
                       int count) {
  for (int j = 0; j < count; j++) memcpy(b[j], numbers[j]->by_vector, (size_t)n * sizeof *b[j]);
}

cavum_status cavum_adjoint_bring_close(cavum_adjoint_mode *mode, cavum_error *error) {
  cavum_pencil *pencil = &class_of(mode)->pencil;
  double k2 = mode->k2_per_m2, asked = pencil->asked_per_m2;
  if (fabs(asked - k2) <= FAR_SHIFT * k2) return CAVUM_OK;
  mode->far_per_m2 = asked;
  return cavum_pencil_factorise(pencil, &mode->solution->condensed, BESIDE * k2, error);
}

// The shifts that are tried: 0 for the factors at hand. Beside the mode another one may be in the
// way that is in none from where the solution has its factors.
static int list_shifts(double shifts[3], const cavum_adjoint_mode *mode) {
  int count = 0;
  shifts[count++] = 0.0;
  if (mode->far_per_m2 > 0.0) shifts[count++] = mode->far_per_m2;
  shifts[count++] = CLOSE_SHIFT * mode->k2_per_m2;
  return count;
}

cavum_status cavum_adjoint_solve(double *const *z, cavum_bordered_start *start, bool *solved,
                                 const cavum_adjoint_mode *mode, double accuracy,
                                 const cavum_functional *const *numbers, int count,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool is_higher = mode->mode > 0;
  const cavum_bordered problem =
      cavum_adjoint_problem(mode, is_higher ? OF_HIGHER_MODE * accuracy : accuracy);
  cavum_index n = count_unknowns(mode);
  double *b[CAVUM_BORDERED_MOST] = {NULL}, shifts[3];
  int num_shifts = list_shifts(shifts, mode);
  CAVUM_TRY(make_sides(b, n, count, error));
  *solved = false;
  for (int i = 0; i < num_shifts && !*solved; i++) {
    fill_sides(b, numbers, n, count);
    if (shifts[i] > 0.0) {
      CAVUM_TRY(
          cavum_pencil_factorise(problem.pencil, &mode->solution->condensed, shifts[i], error));
    }
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(cavum_bordered_solve(z, start, solved, &problem, b, count, error));
  }
done:
  free(b[0]);
  return status;
}

cavum_form cavum_adjoint_form(double *u, const double *z, const cavum_adjoint_mode *mode,
                              const cavum_functional *number) {
  const double *x = mode->vector;
  double k2 = mode->k2_per_m2, by_k2 = number->by_k / (2.0 * sqrt(k2));
  int degree = mode->solution->reference.degree - mode->below;
  cavum_index n = count_unknowns(mode);
  if (mode->opposite) {
    for (cavum_index i = 0; i < n; i++) u[i] = -z[i];
    return (cavum_form){.u = u, .x = x, .mass_u = k2, .degree = degree};
  }
  for (cavum_index i = 0; i < n; i++) u[i] = by_k2 * x[i] - z[i];
  return (cavum_form){.u = u,
                      .x = x,
                      .mass_u = k2,
                      .mass_x = 0.5 * cblas_ddot(n, number->by_vector, 1, x, 1),
                      .degree = degree};
}
