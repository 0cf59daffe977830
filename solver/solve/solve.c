// SPDX-License-Identifier: GPL-3.0-or-later
// The main job: contour, mesh, a ladder of degrees (on a finer mesh when that is not enough),
// completeness, and the result.
#include "cavum/solve.h"

#include <string.h>

#include "base/base.h"
#include "element/geometry_order.h"
#include "element/mesh.h"
#include "figures/energy.h"
#include "figures/label.h"
#include "figures/profile.h"
#include "solve/accuracy.h"
#include "solve/cell_mesh.h"
#include "solve/completeness.h"
#include "solve/ladder.h"
#include "solve/result.h"
#include "solve/solver_memory.h"

// First degree at 1e-6 / 1e-4, and how it rises with the decades asked for.
static const double START_DEGREE = 7.0, START_SLOPE = 1.3;
// A degree less is tried on the next cell where the predicted uncertainty is at most this part of
// what is asked for and few of the last tries of that degree failed: two in a row are too many. A
// try that fails costs two thirds of a solve, one that succeeds saves a quarter. What is remembered
// of the tries fades.
static const double TRY_BELOW = 0.95, FAILURES_MOST = 0.25, FADES_BY_TRY = 0.8, FADES = 0.99;
// Cells on a finer mesh until the one before is tried again: at first, and at most.
enum { COARSER_AFTER = 1, COARSER_SELDOM = 256 };
// Meshes of more elements than these start lower: their elements are small already.
enum { MANY_ELEMENTS = 400, VERY_MANY_ELEMENTS = 4000, DEGREE_LEAST = 5 };

typedef struct solve_state {
  const cavum_cell *cell;
  const cavum_solve_options *options;
  cavum_problem_memory *memory;
  cavum_mesh_notes notes;
  bool half_model;
  cavum_ladder ladder;
  cavum_ladder_request request;
  cavum_result *result;
  int64_t steps_capacity, warnings_capacity;
} solve_state;

static cavum_status warn(solve_state *s, const char *text, cavum_error *error) {
  cavum_result *r = s->result;
  if (!text[0]) return CAVUM_OK;
  char *copy = cavum_copy_text(text);
  if (!copy || !cavum_grow((void **)&r->warnings, &s->warnings_capacity, r->num_warnings + 1,
                           sizeof *r->warnings)) {
    free(copy);
    return cavum_fail_memory(error);
  }
  r->warnings[r->num_warnings++] = copy;
  return CAVUM_OK;
}

// The degree of the first solution, at which the accuracy asked for may be within reach: about one
// degree more for each factor of five in frequency, found on many shapes.
static int usual_degree(const cavum_cell *cell, const cavum_mesh *mesh) {
  if (mesh->num_elements > VERY_MANY_ELEMENTS) return 4;
  if (mesh->num_elements > MANY_ELEMENTS) return 5;
  double decades = -log10(cavum_min(cell->accuracy_frequency, 1e-2 * cell->accuracy_peak_field));
  int degree = (int)lround(START_DEGREE + START_SLOPE * (decades - 6.0));
  if (cell->num_modes > CAVUM_FEW_MODES) degree++;
  return degree < DEGREE_LEAST ? DEGREE_LEAST : (degree > 11 ? 11 : degree);
}

// The cell before reached what is asked of this one too.
static bool has_experience(const cavum_cell *cell, const cavum_problem_memory *memory) {
  return memory->degree > 0 && memory->last && memory->last->topology == memory->topology &&
         memory->accuracy_frequency == cell->accuracy_frequency &&
         memory->accuracy_peak_field == cell->accuracy_peak_field &&
         memory->num_modes == cell->num_modes;
}

// What the cell before needed, if it is a neighbour.
static int first_degree(const cavum_cell *cell, const cavum_problem_memory *memory) {
  return has_experience(cell, memory) ? memory->degree : usual_degree(cell, &memory->mesh);
}

// What became of a try of a degree less.
static void remember_try(cavum_problem_memory *memory, bool tried, bool failed) {
  for (int degree = 0; degree <= CAVUM_DEGREE_MOST; degree++) memory->failures[degree] *= FADES;
  if (!tried) return;
  double *failures = &memory->failures[memory->degree];
  *failures = FADES_BY_TRY * *failures + (failed ? 1.0 - FADES_BY_TRY : 0.0);
}

// What the next cell should know.
static void remember(solve_state *s) {
  cavum_problem_memory *memory = s->memory;
  int degree = s->ladder.solution->reference.degree;
  bool tried = memory->tries_less && has_experience(s->cell, memory);
  bool failed = tried && degree > memory->degree;
  remember_try(memory, tried, failed);
  memory->last = s->ladder.solution;
  bool less = s->ladder.worst_one_less < TRY_BELOW && degree > DEGREE_LEAST &&
              memory->failures[degree - 1] < FAILURES_MOST;
  memory->tries_less = less || (tried && !failed);
  memory->degree = s->ladder.reached && s->options->degree == 0 ? degree - (less ? 1 : 0) : 0;
  memory->accuracy_frequency = s->cell->accuracy_frequency;
  memory->accuracy_peak_field = s->cell->accuracy_peak_field;
  memory->num_modes = s->cell->num_modes;
}

static void set_request(solve_state *s) {
  int degree = s->options->degree;
  s->request =
      (cavum_ladder_request){.cell = s->cell,
                             .half_model = s->half_model,
                             .curves = s->options->profiles,
                             .fixed = degree > 0,
                             .watcher = s->options->watcher,
                             .watcher_data = s->options->watcher_data,
                             .first_degree = degree > 0 ? degree : first_degree(s->cell, s->memory),
                             .last_degree = degree > 0 ? degree : CAVUM_DEGREE_MOST};
}

static cavum_status keep_steps(solve_state *s, cavum_error *error) {
  cavum_result *r = s->result;
  int count = r->num_steps + s->ladder.num_steps;
  if (!cavum_grow((void **)&r->steps, &s->steps_capacity, count, sizeof *r->steps)) {
    return cavum_fail_memory(error);
  }
  memcpy(r->steps + r->num_steps, s->ladder.steps, (size_t)s->ladder.num_steps * sizeof *r->steps);
  r->num_steps = count;
  return CAVUM_OK;
}

// The mesh to begin with: the first in turn, or a finer one where the cell before, a neighbour,
// needed it; that is then in the memory. Now and then the one before that is tried again, more and
// more seldom.
static cavum_status choose_mesh(int *which, bool *is_made, solve_state *s,
                                const cavum_cell_mesh_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_problem_memory *memory = s->memory;
  bool is_finer = memory->refinement > 0 && has_experience(s->cell, memory);
  *which = 0;
  *is_made = false;
  if (is_finer && ++memory->cells_on_finer >= memory->coarser_after) {
    memory->cells_on_finer = 0;
    memory->coarser_after = (int)cavum_min(2.0 * memory->coarser_after, COARSER_SELDOM);
    *which = memory->refinement - 1;
    return CAVUM_OK;
  }
  if (is_finer) {
    CAVUM_TRY(cavum_cell_mesh_follow(is_made, memory, request, &s->result->timings, error));
  }
  if (*is_made) {
    *which = memory->refinement;
  } else {
    memory->cells_on_finer = 0;
    memory->coarser_after = COARSER_AFTER;
  }
done:
  return status;
}

// Climbs on finer and finer meshes. A mesh file is climbed once.
static cavum_status climb(solve_state *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_cell_mesh_request request = {
      .cell = s->cell, .half_model = s->half_model, .refinement = s->options->refinement};
  bool chosen = s->options->refinement > 0.0 || s->options->degree > 0 ||
                s->cell->kind == CAVUM_CONTOUR_MESH_FILE;
  int num_meshes = chosen ? 1 : CAVUM_CELL_MESHES, first = 0;
  bool is_made = false;
  if (!chosen) CAVUM_TRY(choose_mesh(&first, &is_made, s, &request, error));
  for (int i = first; i < num_meshes; i++) {
    cavum_ladder_clear(&s->ladder);
    if (!is_made) {
      CAVUM_TRY(
          cavum_cell_mesh_make(s->memory, &s->notes, &request, i, &s->result->timings, error));
    }
    is_made = false;
    set_request(s);
    s->request.can_refine = i + 1 < num_meshes;
    CAVUM_TRY(cavum_ladder_climb(&s->ladder, s->memory, &s->request, &s->result->timings, error));
    CAVUM_TRY(keep_steps(s, error));
    if (s->ladder.reached) break;
  }
  if (s->ladder.num_modes == 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_MESH, "the mesh carries %d of the %d modes asked for",
                         s->ladder.solution ? s->ladder.solution->num_modes : 0,
                         s->cell->num_modes));
  }
done:
  return status;
}

// What the geometry of a mesh file leaves uncertain: every figure again on the geometry variant.
static cavum_status add_geometry_uncertainty(solve_state *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mesh variant = {0};
  cavum_problem_memory variant_memory = {0};
  cavum_ladder other = {0};
  cavum_ladder_request request = s->request;
  if (s->memory->mesh.node_order == 0) return CAVUM_OK;
  bool differs;
  CAVUM_TRY(cavum_mesh_make_geometry_variant(&variant, &differs, &s->memory->mesh, error));
  if (!differs) goto done;
  cavum_problem_memory_set_mesh(&variant_memory, &variant);
  CAVUM_TRY(cavum_mesh_boundary_create(&variant_memory.boundary, &variant_memory.mesh, error));
  request.fixed = request.single = true;
  request.first_degree = request.last_degree = s->ladder.steps[s->ladder.num_steps - 1].degree;
  status = cavum_ladder_climb(&other, &variant_memory, &request, &s->result->timings, error);
  if (status == CAVUM_ERR_MESH) {  // the variant folds: say that nothing is known
    status = CAVUM_OK;
    CAVUM_TRY(warn(s,
                   "the geometry of the mesh file could not be varied: the uncertainties do not "
                   "cover how well its elements follow the wall",
                   error));
  }
  for (int m = 0; m < s->ladder.num_modes && m < other.num_modes; m++) {
    cavum_figure *figures = s->ladder.solution->modes[m].values[0].figures;
    cavum_uncertainty_add_geometry(figures, other.solution->modes[m].values[0].figures,
                                   cavum_mesh_geometry_part(&s->memory->mesh),
                                   s->memory->mesh.node_order == 2);
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      s->ladder.reached = s->ladder.reached &&
                          cavum_accuracy_is_reached(&figures[id], (cavum_figure_id)id, s->cell);
    }
  }
done:
  cavum_ladder_clear(&other);
  cavum_problem_memory_clear(&variant_memory);
  cavum_mesh_clear(&variant);
  return status;
}

static cavum_status fill_beta_curve(cavum_beta_curve *curve, const cavum_mode_values *values,
                                    const cavum_mode_history *history, cavum_error *error) {
  double w = 2.0 * CAVUM_PI * values->figures[CAVUM_FIGURE_FREQUENCY].value;
  if (values->figures[CAVUM_FIGURE_BETA_OPTIMUM].state != CAVUM_FIGURE_PRESENT) return CAVUM_OK;
  curve->beta = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->voltage_v = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->r_over_q_linac_ohm = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->uncertainty_ohm = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->num_points = CAVUM_BETA_POINTS;
  if (!curve->beta || !curve->voltage_v || !curve->r_over_q_linac_ohm || !curve->uncertainty_ohm) {
    return cavum_fail_memory(error);
  }
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    double v = values->voltage_of_beta[i];
    const cavum_history *of_beta = &history->voltage_of_beta[i];
    double dv = cavum_uncertainty_of_last(of_beta, CAVUM_CONVERGENCE_SIGNED, 1e-12) +
                of_beta->iteration_error[of_beta->count - 1];
    curve->beta[i] = cavum_mode_beta_point(i);
    curve->voltage_v[i] = v;
    curve->r_over_q_linac_ohm[i] = v * v / w;
    curve->uncertainty_ohm[i] = (2.0 * v + dv) * dv / w;
  }
  return CAVUM_OK;
}

static cavum_status fill_mode(solve_state *s, int m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution *solution = s->ladder.solution;
  const cavum_solution_mode *from = &solution->modes[m];
  const cavum_solution_class *class = &solution->classes[from->in_class];
  cavum_mode_result *mode = &s->result->modes[m];
  cavum_view view = cavum_solution_view(solution, m, 0, &s->memory->boundary);
  CAVUM_TRY(cavum_label_mode(mode->label, &view, error));
  mode->parity = class->parity;
  mode->k2_per_m2 = from->k2_per_m2;
  memcpy(mode->figures, from->values[0].figures, sizeof mode->figures);
  mode->accuracy_reached = true;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    mode->accuracy_reached =
        mode->accuracy_reached &&
        cavum_accuracy_is_reached(&mode->figures[id], (cavum_figure_id)id, s->cell);
  }
  CAVUM_TRY(
      cavum_modes_residual(&mode->residual, &class->modes[0], from->index, &class->pencil, error));
  if (s->options->profiles) {
    CAVUM_TRY(fill_beta_curve(&mode->beta_curve, &from->values[0], &s->ladder.history[m], error));
    CAVUM_TRY(cavum_profile_fill_axis(&mode->axis, &view, error));
    CAVUM_TRY(cavum_profile_fill_wall(&mode->wall, &view, error));
  }
  if (s->options->field_order != 0) {
    int order = s->options->field_order;
    if (order < 0) order = cavum_profile_choose_order(&s->memory->mesh, s->result->degree);
    CAVUM_TRY(cavum_profile_fill_grid(&mode->field, &view, order, error));
  }
done:
  return status;
}

static cavum_status fill_energies(solve_state *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = s->ladder.num_modes;
  cavum_view *views = cavum_alloc(count, sizeof *views);
  double *mismatch = cavum_alloc(count, sizeof *mismatch);
  if (!views || !mismatch) CAVUM_TRY(cavum_fail_memory(error));
  for (int m = 0; m < count; m++) {
    views[m] = cavum_solution_view(s->ladder.solution, m, 0, &s->memory->boundary);
  }
  CAVUM_TRY(cavum_energy_mismatch(mismatch, views, count, error));
  for (int m = 0; m < count; m++) s->result->modes[m].energy_mismatch = mismatch[m];
done:
  free(views);
  free(mismatch);
  return status;
}

static cavum_status fill_result(solve_state *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_result *r = s->result;
  r->title = cavum_copy_text(s->cell->title);
  r->beta = s->cell->beta;
  r->half_model = s->half_model;
  r->degree = s->ladder.solution->reference.degree;
  r->num_unknowns = (cavum_index)cavum_space_size(&s->memory->mesh, r->degree);
  r->accelerating_length = s->ladder.solution->modes[0].values[0].length;
  r->modes = cavum_alloc(s->ladder.num_modes, sizeof *r->modes);
  if (!r->title || !r->modes) CAVUM_TRY(cavum_fail_memory(error));
  r->num_modes = s->ladder.num_modes;
  r->accuracy_reached = s->ladder.reached;
  for (int m = 0; m < r->num_modes; m++) CAVUM_TRY(fill_mode(s, m, error));
  CAVUM_TRY(fill_energies(s, error));
  CAVUM_TRY(warn(s, s->notes.boundaries, error));
  CAVUM_TRY(warn(s, s->notes.kinks, error));
done:
  return status;
}

static cavum_status run(solve_state *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(climb(s, error));
  remember(s);
  CAVUM_TRY(add_geometry_uncertainty(s, error));
  CAVUM_TRY(fill_result(s, error));
  CAVUM_TRY(cavum_completeness_check(&s->result->complete_below_hz, &s->result->complete_above_hz,
                                     &s->memory->num_close, &s->ladder, &s->request, error));
done:
  return status;
}

static void clear_state(solve_state *s) {
  cavum_ladder_clear(&s->ladder);
  cavum_result_destroy(&s->result);
}

// Solves with what the memory holds; after an error in the solution the memory is empty.
static cavum_status solve_with(cavum_result **result, cavum_problem_memory *memory,
                               const cavum_cell *cell, const cavum_solve_options *options,
                               bool half_model, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double start = cavum_seconds();
  solve_state s = {.cell = cell, .options = options, .half_model = half_model, .memory = memory};
  s.result = cavum_alloc(1, sizeof *s.result);
  if (!s.result) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(run(&s, error));
  CAVUM_TRY(cavum_mesh_copy(&s.result->mesh, &memory->mesh, error));
  s.result->timings.total_s = cavum_seconds() - start;
  *result = s.result;
  s.result = NULL;
done:
  // A cell that has no contour has touched nothing.
  if (status != CAVUM_OK && status != CAVUM_ERR_GEOMETRY) cavum_problem_memory_clear(memory);
  clear_state(&s);
  return status;
}

// A neighbour may mislead: what fails with a memory is tried once more without.
static cavum_status solve_once(cavum_result **result, cavum_problem_memory *memory,
                               const cavum_cell *cell, const cavum_solve_options *options,
                               bool half_model, cavum_error *error) {
  bool fresh = memory->topology == 0;
  cavum_status status = solve_with(result, memory, cell, options, half_model, error);
  if (status == CAVUM_OK || status == CAVUM_ERR_GEOMETRY || fresh) return status;
  return solve_with(result, memory, cell, options, half_model, error);
}

static void add_timings(cavum_timings *sum, const cavum_timings *other) {
  sum->contour_s += other->contour_s;
  sum->mesh_s += other->mesh_s;
  sum->assembly_s += other->assembly_s;
  sum->eigen_s += other->eigen_s;
  sum->figures_s += other->figures_s;
  sum->total_s += other->total_s;
}

// Modes of the two classes that are nearly degenerate may have been taken in the wrong order: those
// close behind are asked for too, and the lowest are kept, unless that spoils the accuracy.
static void settle_order(cavum_result **result, int num_close, cavum_problem_memory *memory,
                         const cavum_cell *cell, const cavum_solve_options *options,
                         bool half_model) {
  cavum_cell more = *cell;  // borrowed members stay those of the cell
  cavum_result *other = NULL;
  more.num_modes += num_close;
  cavum_status status = solve_once(&other, memory, &more, options, half_model, NULL);
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

// A cell from iris to iris with both ends closed by the same kind of plane.
static cavum_cell with_ends(const cavum_cell *cell, cavum_end_kind kind) {
  cavum_cell other = *cell;  // borrowed members stay those of the cell
  other.left_end = other.right_end = (cavum_end){.kind = kind};
  other.num_modes = 1;
  other.near_hz = 0.0;
  return other;
}

static bool is_periodic(const cavum_cell *cell) {
  return cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE && cell->left_end.kind != CAVUM_END_TUBE &&
         cell->right_end.kind != CAVUM_END_TUBE && cell->left_end.kind != CAVUM_END_METAL &&
         cell->right_end.kind != CAVUM_END_METAL;
}

static cavum_status add_coupling(cavum_result *result, cavum_solver_memory *memory,
                                 const cavum_cell *cell, const cavum_solve_options *options,
                                 bool half_model, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_result *zero = NULL, *pi = NULL;
  cavum_cell zero_cell = with_ends(cell, CAVUM_END_ELECTRIC);
  cavum_cell pi_cell = with_ends(cell, CAVUM_END_MAGNETIC);
  cavum_solve_options plain = *options;
  plain.profiles = false;
  plain.field_order = 0;
  CAVUM_TRY(solve_once(&zero, &memory->zero, &zero_cell, &plain, half_model, error));
  CAVUM_TRY(solve_once(&pi, &memory->pi, &pi_cell, &plain, half_model, error));
  cavum_figure f0 = zero->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  cavum_figure f1 = pi->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  double sum = f0.value + f1.value;
  result->zero_mode_hz = f0.value;
  result->pi_mode_hz = f1.value;
  // d k_cc = 4 (f0 df1 + f1 df0) / (f0 + f1)^2 in the worst case of the two signs.
  result->coupling = (cavum_figure){
      .state = CAVUM_FIGURE_PRESENT,
      .value = 2.0 * (f1.value - f0.value) / sum,
      .uncertainty = 4.0 * (f0.value * f1.uncertainty + f1.value * f0.uncertainty) / (sum * sum)};
done:
  cavum_result_destroy(&zero);
  cavum_result_destroy(&pi);
  return status;
}

static cavum_status check_request(const cavum_cell *cell, const cavum_solve_options *options,
                                  cavum_error *error) {
  if (options->degree != 0 && (options->degree < 3 || options->degree > CAVUM_DEGREE_MOST)) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "degree %d: expected 0 (chosen) or 3 to %d",
                      options->degree, CAVUM_DEGREE_MOST);
  }
  if (options->coupling && !is_periodic(cell)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "the coupling needs a two-ellipse cell whose ends are electric or magnetic");
  }
  return CAVUM_OK;
}

// Names the figure that is farthest from the accuracy asked for.
static cavum_status report_not_reached(const cavum_result *result, const cavum_cell *cell,
                                       cavum_error *error) {
  double worst = 0.0;
  int mode = 0, figure = CAVUM_FIGURE_FREQUENCY;
  for (int m = 0; m < result->num_modes; m++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      const cavum_figure *f = &result->modes[m].figures[id];
      if (cavum_accuracy_is_reached(f, (cavum_figure_id)id, cell)) continue;
      double relative = f->uncertainty / fabs(f->value);
      if (relative <= worst) continue;
      worst = relative;
      mode = m;
      figure = id;
    }
  }
  double asked =
      figure == CAVUM_FIGURE_FREQUENCY ? cell->accuracy_frequency : cell->accuracy_peak_field;
  return cavum_fail(
      error, CAVUM_ERR_NOT_CONVERGED,
      "the accuracy asked for was not reached: the %s of mode %d is uncertain by %.1e "
      "of itself, %.1e was asked for",
      cavum_figure_describe((cavum_figure_id)figure).long_name, mode + 1, worst, asked);
}

cavum_status cavum_solve_remembering(cavum_result **result, cavum_solver_memory *memory,
                                     const cavum_cell *cell, const cavum_solve_options *options,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_result *made = NULL;
  CAVUM_TRY(check_request(cell, options, error));
  bool half = options->use_symmetry && cavum_cell_is_mirror_symmetric(cell);
  status = solve_once(&made, &memory->main, cell, options, half, error);
  // Modes of the two symmetry classes may have changed places between degrees; the whole cell has
  // one class only and cannot miss any that way.
  if (status == CAVUM_ERR_INCOMPLETE && half) {
    half = false;
    status = solve_once(&made, &memory->main, cell, options, half, error);
  }
  if (status != CAVUM_OK) goto done;
  if (half && memory->main.num_close > 0) {
    settle_order(&made, memory->main.num_close, &memory->close, cell, options, half);
  }
  if (error) *error = (cavum_error){0};  // of attempts that were followed by a better one
  if (options->coupling) CAVUM_TRY(add_coupling(made, memory, cell, options, half, error));
  *result = made;
  if (!made->accuracy_reached && options->degree == 0) {
    status = report_not_reached(made, cell, error);
  }
  made = NULL;
done:
  cavum_result_destroy(&made);
  return status;
}

void cavum_solver_memory_clear(cavum_solver_memory *memory) {
  cavum_problem_memory_clear(&memory->main);
  cavum_problem_memory_clear(&memory->zero);
  cavum_problem_memory_clear(&memory->pi);
  cavum_problem_memory_clear(&memory->close);
}

cavum_status cavum_solve(cavum_result **result, const cavum_cell *cell,
                         const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options defaults = cavum_solve_options_default();
  cavum_solver_memory memory = {0};
  cavum_status status =
      cavum_solve_remembering(result, &memory, cell, options ? options : &defaults, error);
  cavum_solver_memory_clear(&memory);
  return status;
}
