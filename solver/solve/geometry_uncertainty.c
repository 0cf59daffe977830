// SPDX-License-Identifier: GPL-3.0-or-later
// Figures on the elements of a mesh file and on the same elements bent to smooth curves.
#include "solve/geometry_uncertainty.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "element/curve_bend.h"
#include "figures/boundary_shift.h"
#include "solve/accuracy.h"
#include "solve/figure_policy.h"
#include "solve/ladder.h"

// Of the change of a figure, and of the largest change that any figure may have had but for luck.
// The true error was 0.26 times the plain sum of the two in the median and 3 times at most, on
// walls and interfaces of 7 shapes, orders 1 to 6, 8 to 28 sides a turn
// (tests/bench/bench_meshfiles.c).
static const double CAUTION = 5.0, LUCK = 5.0;
// What the iteration leaves is an estimate, good to this factor.
static const double ITERATION_CAUTION = 2.0;
// A voltage is about this part of the sum of the sizes of its terms, or more, unless it cancels.
static const double USUAL_VOLTAGE = 0.3;
// Sides whose curve is a polynomial of their order, or straight, are guessed to lie off it by
// rounding: this part of the size of the mesh.
static const double ROUNDING = 1e-12;

static double size_of(const cavum_mesh *mesh) {
  double size = 0.0;
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    size = cavum_max(size, cavum_max(fabs(mesh->vertices[v].z_m), mesh->vertices[v].r_m));
  }
  return size;
}

// Change of a figure over its value; as large as itself where it cannot be compared, as peaks at
// corners that are sharp on one of the meshes only.
static double relative_change(const cavum_figure *figure, const cavum_figure *bent) {
  if (bent->state != CAVUM_FIGURE_PRESENT) return 1.0;
  return fabs(figure->value - bent->value) / fabs(figure->value);
}

// How much more than others a figure changes, because a voltage in it cancels.
static double magnification(cavum_figure_id id, const cavum_mode_values *values) {
  const double small = 1e-6;
  double own = cavum_figure_policy_vector_error(id, small, values);
  // Figures without an integral over the wall change twice as much with an error of the vector as
  // it does.
  double usual =
      2.0 * cavum_figure_policy_vector_error(CAVUM_FIGURE_GEOMETRY_FACTOR, small, values);
  return cavum_max(1.0, USUAL_VOLTAGE * own / usual);
}

// What the iteration left in a figure on both meshes, relative to it.
static double left_by_iteration(const cavum_ladder *ladder, const cavum_ladder *other, int m,
                                cavum_figure_id id) {
  const cavum_history *a = &ladder->history[m].figures[id], *b = &other->history[m].figures[id];
  if (a->count == 0 || b->count == 0) return 0.0;
  return (a->iteration_error[a->count - 1] + b->iteration_error[b->count - 1]) /
         fabs(a->value[a->count - 1]);
}

// Relative changes of the figures of one mode.
static void find_changes(double *change, const cavum_mode_values *values,
                         const cavum_mode_values *bent, const double *spread, double part) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *figure = &values->figures[id];
    change[id] = 0.0;
    if (figure->state != CAVUM_FIGURE_PRESENT) continue;
    double by_spread = spread[id] / fabs(figure->value);
    change[id] = cavum_max(relative_change(figure, &bent->figures[id]), by_spread) / part;
  }
}

// What bending does along the metal, relative to the loss integral: sums over the edges of the
// sizes of changes, which do not cancel.
typedef struct wall_change {
  double loss;   // of the loss integral: that of the field, and of the area with its curvature
  double field;  // of H, on the area as it was: half of that of H^2
} wall_change;

static wall_change change_along_wall(const cavum_mode_history *history,
                                     const cavum_mesh_boundary *boundary,
                                     const cavum_mode_history *bent,
                                     const cavum_mesh_boundary *boundary_bent) {
  wall_change change = {0.0, 0.0};
  double sum = 0.0;
  if (!history->samples || !bent->samples) return change;
  for (cavum_index i = 0; i < boundary->num_metal; i++) {
    const cavum_wall_shape *shape = &boundary->shape[i], *shape_bent = &boundary_bent->shape[i];
    const double *h = history->samples[i].h, *h_bent = bent->samples[i].h;
    double loss = 0.0, loss_bent = 0.0, field_bent = 0.0;
    for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
      double area = boundary->weight[k] * shape->r_m[k] * shape->length_s[k];
      double area_bent = boundary->weight[k] * shape_bent->r_m[k] * shape_bent->length_s[k];
      loss += area * h[k] * h[k];
      loss_bent += area_bent * h_bent[k] * h_bent[k];
      field_bent += area * h_bent[k] * h_bent[k];
    }
    sum += loss;
    change.loss += fabs(loss_bent - loss);
    change.field += fabs(field_bent - loss);
  }
  if (sum > 0.0) change = (wall_change){change.loss / sum, 0.5 * change.field / sum};
  return change;
}

static bool has_loss(cavum_figure_id id) {
  switch (id) {
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
    case CAVUM_FIGURE_G_TIMES_R_OVER_Q:
    case CAVUM_FIGURE_Q0:
    case CAVUM_FIGURE_SHUNT_IMPEDANCE:
    case CAVUM_FIGURE_WALL_POWER:
      return true;
    default:
      return false;
  }
}

// Of what the wall says what the iteration may have left is no change of the shape: frequencies,
// which are far better known, would have it as their own.
//
// Returns the relative change but for luck; shape_sum is cavum_boundary_shift_sum(), iteration is
// what that left in G, wall is what bending does along it.
static double add_changes(cavum_mode_values *values, const cavum_mode_values *bent,
                          const double *spread, double iteration, double part, double shape_sum,
                          const wall_change *wall) {
  double change[CAVUM_NUM_FIGURES], left = ITERATION_CAUTION * iteration;
  find_changes(change, values, bent, spread, part);
  double least = cavum_max(shape_sum, (wall->field - left) / part);
  double of_loss = (wall->loss - left) / part;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure *figure = &values->figures[id];
    if (change[id] == 0.0) continue;  // absent, or a surface resistance that is stated
    double by_luck = least * magnification((cavum_figure_id)id, values);
    if (has_loss((cavum_figure_id)id)) by_luck = cavum_max(by_luck, of_loss);
    figure->uncertainty += (CAUTION * change[id] + LUCK * by_luck) * fabs(figure->value);
  }
  return least;
}

static void add_unknown(cavum_figure *figures) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    bool stated = figures[id].basis == CAVUM_BASIS_STATED;
    if (figures[id].state != CAVUM_FIGURE_PRESENT || stated) continue;
    figures[id].uncertainty += fabs(figures[id].value);
  }
}

// What the sides leave open of the voltage at every speed of the curve; it goes where the error
// that the iteration left is.
static void add_to_curve(cavum_mode_history *history, const cavum_mode_values *values,
                         const cavum_mode_values *bent, double part, double least) {
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    cavum_history *of_beta = &history->voltage_of_beta[i];
    double v = values->voltage_of_beta[i], change = fabs(v - bent->voltage_of_beta[i]) / part;
    if (of_beta->count == 0) continue;
    of_beta->iteration_error[of_beta->count - 1] += CAUTION * change + LUCK * least * fabs(v);
  }
}

// Judges the accuracy again. Returns whether a figure misses it by its sides above all.
static bool judge(cavum_problem *s, const cavum_mode_values *values, const double *before) {
  bool limits = false;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (cavum_accuracy_is_reached(values, (cavum_figure_id)id, s->cell)) continue;
    s->ladder.reached = false;
    limits = limits || values->figures[id].uncertainty > 2.0 * before[id];
  }
  return limits;
}

// Spreads of the peaks of a mode between the two meshes.
static void find_spreads(double *spread, const cavum_problem *s, int m, const cavum_ladder *other) {
  const cavum_mode_history *history = &s->ladder.history[m], *bent = &other->history[m];
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    spread[id] = 0.0;
    if (!bent->samples) continue;
    spread[id] = cavum_mode_history_spread(history, bent->samples, bent->eacc_v_per_m,
                                           &s->memory->boundary, (cavum_figure_id)id);
  }
}

static bool add_to_mode(cavum_problem *s, int m, const cavum_ladder *other, double part,
                        const cavum_curve_guess *guess) {
  double before[CAVUM_NUM_FIGURES], spread[CAVUM_NUM_FIGURES];
  cavum_mode_values *values = &s->ladder.solution->modes[m].values[0];
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) before[id] = values->figures[id].uncertainty;
  if (part > 0.0 && m < other->num_modes) {
    const cavum_mode_values *bent = &other->solution->modes[m].values[0];
    cavum_view view = cavum_solution_view(s->ladder.solution, m, 0, &s->memory->boundary);
    double sum = cavum_boundary_shift_sum(&view, guess);
    find_spreads(spread, s, m, other);
    double iteration = left_by_iteration(&s->ladder, other, m, CAVUM_FIGURE_GEOMETRY_FACTOR);
    wall_change wall = change_along_wall(&s->ladder.history[m], &s->memory->boundary,
                                         &other->history[m], &other->memory->boundary);
    double least = add_changes(values, bent, spread, iteration, part, sum, &wall);
    if (s->request.curves) add_to_curve(&s->ladder.history[m], values, bent, part, least);
  } else {
    add_unknown(values->figures);
  }
  cavum_mode_history_drop_lost(values);
  return judge(s, values, before);
}

// What was factorised on the mesh is not needed beside that of the bent one.
static void drop_large(const cavum_problem *s) {
  if (!s->ladder.solution->discretisation.is_large || s->options->derivatives) return;
  cavum_solution_drop_matrices(s->ladder.solution);
  if (s->ladder.rough) cavum_solution_drop_matrices(s->ladder.rough);
}

// Figures on the bent mesh, if it can be bent: part is 0 otherwise.
static cavum_status solve_bent(cavum_ladder *other, cavum_problem_memory *memory, double *part,
                               cavum_problem *s, const cavum_curve_guess *guess,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mesh bent = {0};
  cavum_ladder_request request = s->request;
  CAVUM_TRY(cavum_curve_bend_safely(&bent, part, &s->memory->mesh, guess, error));
  if (*part == 0.0) goto done;
  cavum_problem_memory_set_mesh(memory, &bent);
  CAVUM_TRY(cavum_mesh_boundary_create(&memory->boundary, &memory->mesh, error));
  request.fixed = request.single = true;
  request.start = s->ladder.solution;
  memory->skeletons.like = &s->memory->skeletons;
  request.first_degree = request.last_degree = s->ladder.steps[s->ladder.num_steps - 1].degree;
  status = cavum_ladder_climb(other, memory, &request, &s->result->timings, error);
  if (status == CAVUM_ERR_MESH) {  // it folds between the places that were looked at
    status = CAVUM_OK;
    *part = 0.0;
  }
done:
  cavum_mesh_clear(&bent);
  return status;
}

static cavum_status tell(cavum_problem *s, bool known, bool limits, const cavum_curve_guess *guess,
                         cavum_error *error) {
  char text[320];
  if (!known) {
    return cavum_problem_warn(
        s,
        "how well the sides of the mesh file follow its curves could not be found out: "
        "uncertainties are as large as the figures; use a finer mesh",
        error);
  }
  if (!limits) return CAVUM_OK;
  snprintf(text, sizeof text,
           "the sides of the mesh file limit the accuracy: the largest distance from a smooth wall "
           "or interface is about %.2g mm, at z = %.4g, r = %.4g mm; use a finer mesh or a higher "
           "order",
           cavum_in_mm(guess->largest_m), cavum_in_mm(guess->largest_at.z_m),
           cavum_in_mm(guess->largest_at.r_m));
  return cavum_problem_warn(s, text, error);
}

cavum_status cavum_geometry_uncertainty_add(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_curve_guess guess = {0};
  cavum_problem_memory memory = {0};
  cavum_ladder other = {0};
  double part = 0.0;
  bool limits = false;
  if (s->memory->mesh.node_order == 0) return CAVUM_OK;
  CAVUM_TRY(cavum_curve_guess_create(&guess, &s->memory->mesh, error));
  if (guess.largest_m <= ROUNDING * size_of(&s->memory->mesh)) goto done;
  drop_large(s);
  CAVUM_TRY(solve_bent(&other, &memory, &part, s, &guess, error));
  for (int m = 0; m < s->ladder.num_modes; m++) {
    bool limits_mode = add_to_mode(s, m, &other, part, &guess);
    limits = limits || limits_mode;
  }
  CAVUM_TRY(tell(s, part > 0.0, limits, &guess, error));
done:
  cavum_ladder_clear(&other);
  cavum_problem_memory_clear(&memory);
  cavum_curve_guess_clear(&guess);
  if (status == CAVUM_OK) status = cavum_solution_restore_products(s->ladder.solution, error);
  return status;
}
