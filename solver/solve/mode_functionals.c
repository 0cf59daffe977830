// SPDX-License-Identifier: GPL-3.0-or-later
// Functionals of one mode and their adjoint solves.
#include "solve/mode_functionals.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "fem/apply.h"
#include "figures/energy_mismatch.h"
#include "figures/functional_voltage.h"
#include "figures/functional_wall.h"
#include "figures/outline_voltage.h"
#include "solve/adjoint.h"
#include "solve/derivative_reason.h"

// Of the adjoint vectors, relative: a part of the accuracy asked of the figures.
static const double ADJOINT_PART = 1e-2, ADJOINT_LEAST = 1e-10;
// A solution is judged by the mass, a derivative by energies: beside a sharp corner, where all
// gradients are, it was off by up to eleven times the accuracy of the vector (exponent 0.661).
static const double AT_SHARP_CORNERS = 0.05, SHARP_EXPONENT = 0.9;
// A voltage that nearly cancels changes little too, while its adjoint vector is as large as what it
// is the sum of: below this part, what was left of that was up to seven times the accuracy.
static const double CANCELLING_RCOND = 0.1;
// Where more than this is asked of the figures, the vectors have their last digits improved first.
static const double POLISH_BELOW = 1e-6, POLISH_ACCURACY = 1e-7;
// Parts of int |E_z| dz of the other sign below this are rounding.
static const double OTHER_SIGN_LEAST = 1e-12;

// Adjoint vectors of the parts have a row each: k^2 has none.
enum { FIRST_ROW = CAVUM_FUNCTIONAL_K2 + 1 };
_Static_assert(CAVUM_NUM_FUNCTIONALS - FIRST_ROW <= CAVUM_ADJOINT_ROWS, "the parts have rows");
// Distance from the mirror plane, of the radius, up to which a peak stands on it.
static const double ON_PLANE = 1e-6;

typedef struct work {
  const cavum_mode_functionals_input *input;
  const cavum_solution_class *class;
  const cavum_modes *modes;
  int index;
  cavum_view view;
  const cavum_wall_samples *samples;              // of the input, or the next
  cavum_wall_samples *own_samples;                // owned
  cavum_axis_field axis;                          // owned
  cavum_wall_traces *traces;                      // owned, large
  cavum_functional parts[CAVUM_NUM_FUNCTIONALS];  // owned
  bool exists[CAVUM_NUM_FUNCTIONALS], sizes_as_integral;
  double *polished;  // owned: the vector, where that of the solution is not good enough
  double *adjoint;   // owned, [rows][num_unknowns]
  double *z[CAVUM_ADJOINT_ROWS];  // the adjoint vectors: there, or in the memory
  bool solved;
  cavum_functional odd[CAVUM_NUM_PEAK_PARTS];  // owned: peaks again, as odd motions change them
  bool has_odd[CAVUM_NUM_PEAK_PARTS], odd_solved;
  double *odd_room, *odd_z[CAVUM_ADJOINT_ROWS];  // owned, as above
} work;

static void clear_work(work *w) {
  free(w->own_samples);
  free(w->adjoint);
  free(w->odd_room);
  free(w->polished);
  cavum_axis_clear(&w->axis);
  if (w->traces) cavum_wall_traces_clear(w->traces);
  free(w->traces);
  for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) cavum_functional_clear(&w->parts[j]);
  for (int k = 0; k < CAVUM_NUM_PEAK_PARTS; k++) cavum_functional_clear(&w->odd[k]);
}

static cavum_adjoint_mode mode_of(const work *w) {
  return cavum_adjoint_mode_of(w->input->solution, w->input->mode, w->input->below, &w->view);
}

bool cavum_mode_functionals_polish(const cavum_cell *cell) {
  return cell->accuracy_other_figures < POLISH_BELOW;
}

double cavum_mode_functionals_accuracy(const cavum_cell *cell) {
  return cavum_max(ADJOINT_PART * cell->accuracy_other_figures, ADJOINT_LEAST);
}

static double adjoint_accuracy(const work *w) {
  const cavum_mode_values *values = &w->input->solution->modes[w->input->mode].values[0];
  double accuracy = cavum_mode_functionals_accuracy(w->input->cell), factor = 1.0;
  if (values->corner_exponent < SHARP_EXPONENT) factor = AT_SHARP_CORNERS;
  if (values->voltage_rcond > 0.0) {
    factor = cavum_min(factor, values->voltage_rcond / CANCELLING_RCOND);
  }
  return cavum_max(factor * accuracy, cavum_min(accuracy, ADJOINT_LEAST));
}

// Takes out of the vector what the iteration left in it: (K - k^2 M) d = (K - k^2 M) x.
static cavum_status polish(work *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_adjoint_mode mode = mode_of(w);
  const cavum_bordered problem = cavum_adjoint_problem(&mode, POLISH_ACCURACY);
  const double *x = w->view.field.vector;
  double k2 = w->view.field.k2_per_m2;
  cavum_index n = w->modes->num_unknowns;
  double *change = cavum_alloc(n, sizeof *change), *residual = cavum_alloc(n, sizeof *residual);
  bool solved;
  w->polished = cavum_alloc(n, sizeof *w->polished);
  if (!change || !residual || !w->polished) CAVUM_TRY(cavum_fail_memory(error));
  cavum_discretisation_apply_mass(change, &w->input->solution->discretisation, x);
  cavum_discretisation_apply_stiffness(residual, &w->input->solution->discretisation, x);
  for (cavum_index i = 0; i < n; i++) residual[i] -= k2 * change[i];
  cavum_bordered_start none = {0};
  CAVUM_TRY(cavum_bordered_solve(&change, &none, &solved, &problem, &residual, 1, error));
  if (!solved) goto done;
  for (cavum_index i = 0; i < n; i++) w->polished[i] = x[i] - change[i];
  w->view.field.vector = w->polished;
done:
  free(change);
  free(residual);
  return status;
}

// Whether more than the eigenvalue is asked for.
static bool needs_field(const cavum_mode_functionals_input *input) {
  bool any = false;
  for (int j = CAVUM_FUNCTIONAL_K2 + 1; j < CAVUM_NUM_FUNCTIONALS; j++)
    any = any || input->needed[j];
  return any;
}

static cavum_status prepare(work *w, const cavum_mode_functionals_input *input,
                            cavum_error *error) {
  const cavum_solution_mode *mode = &input->solution->modes[input->mode];
  *w = (work){
      .input = input,
      .class = &input->solution->classes[mode->in_class],
      .index = mode->index,
      .view = cavum_solution_view(input->solution, input->mode, input->below, input->boundary)};
  w->modes = &w->class->modes[input->below];
  cavum_status status = CAVUM_OK;
  if (cavum_mode_functionals_polish(input->cell)) status = polish(w, error);
  if (status != CAVUM_OK || !needs_field(input)) return status;
  w->samples = input->below == 0 && !w->polished ? input->samples : NULL;
  if (!w->samples) {
    w->own_samples = cavum_alloc_aligned(input->boundary->num_conducting, sizeof *w->own_samples);
    if (!w->own_samples) return cavum_fail_memory(error);
    cavum_surface_sample(w->own_samples, &w->view);
    w->samples = w->own_samples;
  }
  w->adjoint =
      cavum_alloc_aligned(CAVUM_ADJOINT_ROWS * (int64_t)w->modes->num_unknowns, sizeof *w->adjoint);
  w->traces = cavum_alloc(1, sizeof *w->traces);
  if (!w->adjoint || !w->traces) return cavum_fail_memory(error);
  status = cavum_wall_traces_create(w->traces, &w->view, error);
  if (status != CAVUM_OK) return status;
  if (input->boundary->num_axis > 0) status = cavum_axis_expand(&w->axis, &w->view, error);
  return status;
}

// k^2 needs no derivatives by the vector: it is stationary.
static cavum_status begin(work *w, cavum_functional_id part, cavum_error *error) {
  cavum_functional *f = &w->parts[part];
  const cavum_mesh *mesh = w->view.field.discretisation->mesh;
  cavum_status status = part == CAVUM_FUNCTIONAL_K2
                            ? cavum_mesh_gradient_create(&f->gradient, mesh, error)
                            : cavum_functional_create(f, &w->view, error);
  w->exists[part] = status == CAVUM_OK;
  return status;
}

// What the figures of this very vector have been made of; NULL: they were made of another.
static const cavum_mode_values *values_of(const work *w) {
  const cavum_mode_values *values =
      &w->input->solution->modes[w->input->mode].values[w->input->below];
  return values->has_sums && !w->polished ? values : NULL;
}

// The voltage from where its figure has it; false: the axis.
static bool find_voltage(cavum_phasor *voltage, const work *w, double of_abs) {
  const cavum_mode_values *values = values_of(w);
  double beta = w->input->cell->beta, terms;
  if (values) {
    *voltage = values->at_beta;
    return !values->at_beta_of_axis;
  }
  if (cavum_outline_voltage(voltage, &terms, &w->view, w->samples, beta) &&
      (beta == 1.0 || terms <= CAVUM_CANCELLATION_MOST * of_abs)) {
    return true;
  }
  *voltage = cavum_axis_voltage(&w->axis, sqrt(w->view.field.k2_per_m2), beta);
  return false;
}

static bool find_integral(double *integral, const work *w, double of_e, double of_abs) {
  const cavum_mode_values *values = values_of(w);
  double terms;
  *integral = of_e;
  if (values) {
    if (!values->plain_of_axis) *integral = values->plain_v;
    return !values->plain_of_axis;
  }
  double outline;
  if (!cavum_outline_integral(&outline, &terms, &w->view, w->samples) ||
      terms > CAVUM_CANCELLATION_MOST * of_abs) {
    return false;
  }
  *integral = outline;
  return true;
}

static cavum_status add_voltage(work *w, double of_abs, cavum_error *error) {
  cavum_functional *f = &w->parts[CAVUM_FUNCTIONAL_VOLTAGE];
  double beta = w->input->cell->beta;
  cavum_phasor voltage;
  bool holds = find_voltage(&voltage, w, of_abs);
  if (!(hypot(voltage.re, voltage.im) > 0.0)) return CAVUM_OK;
  cavum_status status = begin(w, CAVUM_FUNCTIONAL_VOLTAGE, error);
  if (status != CAVUM_OK) return status;
  if (holds) {
    cavum_functional_add_outline(f, &w->view, w->traces, beta, &voltage);
  } else {
    cavum_functional_add_axis(f, &w->view, w->traces, CAVUM_AXIS_VOLTAGE, 1.0, beta, &voltage);
  }
  cavum_functional_add_beta(f, &w->view, w->traces, beta, &voltage);
  return CAVUM_OK;
}

// Whether E_z has one sign on the axis at the degree whose adjoint vectors are known.
static bool has_one_sign_above(const work *w) {
  const cavum_mode_adjoints *known = w->input->adjoints;
  return known->mode && known->exists[CAVUM_FUNCTIONAL_INTEGRAL - FIRST_ROW] &&
         !known->exists[CAVUM_FUNCTIONAL_SIZES - FIRST_ROW];
}

static cavum_status add_integrals(work *w, double of_e, double of_abs, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double outline;
  bool holds = find_integral(&outline, w, of_e, of_abs);
  cavum_phasor on_axis = {of_e, 0.0};
  if (outline != 0.0) {
    CAVUM_TRY(begin(w, CAVUM_FUNCTIONAL_INTEGRAL, error));
    if (holds) {
      cavum_functional_add_outline_integral(&w->parts[CAVUM_FUNCTIONAL_INTEGRAL], &w->view,
                                            w->traces, outline);
    } else {
      cavum_functional_add_axis(&w->parts[CAVUM_FUNCTIONAL_INTEGRAL], &w->view, w->traces,
                                CAVUM_AXIS_INTEGRAL, 1.0, 1.0, &on_axis);
    }
  }
  // What has the other sign is known on the axis alone. Where it has one sign at the highest
  // degree, the other one is an error of those below.
  w->sizes_as_integral = has_one_sign_above(w) || of_abs - fabs(of_e) <= OTHER_SIGN_LEAST * of_abs;
  if (w->sizes_as_integral) goto done;
  CAVUM_TRY(begin(w, CAVUM_FUNCTIONAL_SIZES, error));
  cavum_functional *sizes = &w->parts[CAVUM_FUNCTIONAL_SIZES];
  // The same integral both ways, with one sign: of an odd mode it is rounding, which may have
  // either.
  if (holds && outline != 0.0 && of_e != 0.0) {
    cavum_functional_add_outline_integral(sizes, &w->view, w->traces, of_e);
    cavum_functional_add_axis(sizes, &w->view, w->traces, CAVUM_AXIS_INTEGRAL, -1.0, 1.0, &on_axis);
  }
  cavum_functional_add_axis(sizes, &w->view, w->traces, CAVUM_AXIS_SIZES, 1.0, 1.0, &on_axis);
done:
  return status;
}

cavum_status cavum_mode_functionals_place_peaks(cavum_peak_places *peaks,
                                                const cavum_mode_functionals_input *input,
                                                const double tie[2], cavum_error *error) {
  cavum_view view =
      cavum_solution_view(input->solution, input->mode, input->below, input->boundary);
  const cavum_wall_samples *samples = input->samples;
  cavum_wall_samples *own = NULL;
  if (!samples) {
    own = cavum_alloc_aligned(input->boundary->num_conducting, sizeof *own);
    if (!own) return cavum_fail_memory(error);
    cavum_surface_sample(own, &view);
    samples = own;
  }
  peaks->of = input->solution;
  peaks->samples = input->samples;
  double plane_m = cavum_mesh_mirror_plane_m(input->solution->mesh);
  for (int electric = 0; electric < 2; electric++) {
    cavum_peak_place *places = peaks->places[electric];
    int count = cavum_surface_place_peak(places, samples, &view, electric == 1, tie[electric]);
    peaks->count[electric] = count;
    for (int i = 0; i < count && input->mirror; i++) {
      cavum_point at = cavum_surface_point_of(&view, &places[i]);
      peaks->is_mirrored[electric][i] = fabs(at.z_m - plane_m) > ON_PLANE * at.r_m;
    }
  }
  free(own);
  return CAVUM_OK;
}

// Where a peak stands. Of two degrees the lower one has it as far away as both may be off; where
// edges meet, all of them may be held there by the bend of the approximations.
static cavum_peak_place place_of(const work *w, int i, bool electric) {
  const cavum_mode_functionals_input *input = w->input;
  const cavum_peak_places *peaks = input->peaks;
  const cavum_peak_place *first = &peaks->places[electric][i];
  bool of_same = peaks->of == input->solution;
  if (of_same && input->below == 0 && !w->polished) return *first;
  cavum_peak_place place = cavum_surface_follow_peak(first, w->samples, &w->view, electric);
  bool held = input->num_degrees <= 2 || input->needed_at_last || cavum_surface_is_at_end(first);
  if ((of_same && input->below == 0) || !peaks->samples || !held) return place;
  return cavum_surface_hold_apart(&place, first, w->samples, peaks->samples, w->view.boundary,
                                  electric);
}

static cavum_status add_peaks(work *w, bool electric, cavum_error *error) {
  static const cavum_functional_id parts[2][2] = {
      {CAVUM_FUNCTIONAL_PEAK_H, CAVUM_FUNCTIONAL_OTHER_H},
      {CAVUM_FUNCTIONAL_PEAK_E, CAVUM_FUNCTIONAL_OTHER_E}};
  const cavum_peak_place *places = w->input->peaks->places[electric];
  for (int i = 0; i < w->input->peaks->count[electric] && places[0].value > 0.0; i++) {
    cavum_functional_id part = parts[electric][i];
    cavum_peak_place place = place_of(w, i, electric);
    cavum_boundary_edge edge = w->view.boundary->conducting[place.edge];
    cavum_status status = begin(w, part, error);
    if (status != CAVUM_OK) return status;
    cavum_functional_add_field(&w->parts[part], &w->view, edge, place.s, electric);
    if (!w->input->peaks->is_mirrored[electric][i]) continue;
    int k = (int)(part - CAVUM_FUNCTIONAL_PEAK_E);
    status = cavum_functional_create(&w->odd[k], &w->view, error);
    if (status != CAVUM_OK) return status;
    w->has_odd[k] = true;
    cavum_functional_add_field(&w->odd[k], &w->view, edge, place.s, electric);
  }
  return CAVUM_OK;
}

static cavum_status add_parts(work *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double of_e, of_abs;
  const bool *needed = w->input->needed;
  CAVUM_TRY(begin(w, CAVUM_FUNCTIONAL_K2, error));
  if (!needs_field(w->input)) goto done;
  if (needed[CAVUM_FUNCTIONAL_LOSS] && w->view.boundary->num_metal > 0) {
    CAVUM_TRY(begin(w, CAVUM_FUNCTIONAL_LOSS, error));
    cavum_functional_add_loss(&w->parts[CAVUM_FUNCTIONAL_LOSS], &w->view, w->traces);
  }
  if (w->view.boundary->num_axis == 0) goto done;
  cavum_axis_plain_integrals(&of_e, &of_abs, &w->axis);
  if (!(of_abs > 0.0)) goto done;
  if (needed[CAVUM_FUNCTIONAL_VOLTAGE]) CAVUM_TRY(add_voltage(w, of_abs, error));
  if (needed[CAVUM_FUNCTIONAL_INTEGRAL] || needed[CAVUM_FUNCTIONAL_SIZES]) {
    CAVUM_TRY(add_integrals(w, of_e, of_abs, error));
  }
  if (needed[CAVUM_FUNCTIONAL_VOLTAGE] && !w->exists[CAVUM_FUNCTIONAL_VOLTAGE]) goto done;
  if (needed[CAVUM_FUNCTIONAL_PEAK_E]) CAVUM_TRY(add_peaks(w, true, error));
  if (needed[CAVUM_FUNCTIONAL_PEAK_H]) CAVUM_TRY(add_peaks(w, false, error));
done:
  return status;
}

static void request_own(cavum_mode_adjoints_request *request, cavum_adjoint_mode *mode,
                        const work *w) {
  *request = (cavum_mode_adjoints_request){.mode = mode,
                                           .accuracy = adjoint_accuracy(w),
                                           .known = w->input->adjoints,
                                           .memory = w->input->memory,
                                           .room = w->adjoint};
  for (int j = FIRST_ROW; j < CAVUM_NUM_FUNCTIONALS; j++) {
    if (w->exists[j]) request->numbers[j - FIRST_ROW] = &w->parts[j];
  }
}

static bool has_any_odd(const work *w) {
  bool any = false;
  for (int k = 0; k < CAVUM_NUM_PEAK_PARTS; k++) any = any || w->has_odd[k];
  return any;
}

// In the other symmetry class.
static cavum_status request_odd(cavum_mode_adjoints_request *request, cavum_adjoint_mode *mode,
                                work *w, cavum_error *error) {
  w->odd_room = cavum_alloc_aligned(CAVUM_ADJOINT_ROWS * (int64_t)w->modes->num_unknowns,
                                    sizeof *w->odd_room);
  if (!w->odd_room) return cavum_fail_memory(error);
  *request = (cavum_mode_adjoints_request){.mode = mode,
                                           .mirror = w->input->mirror,
                                           .accuracy = adjoint_accuracy(w),
                                           .known = w->input->odd_adjoints,
                                           .memory = w->input->odd_memory,
                                           .room = w->odd_room};
  for (int k = 0; k < CAVUM_NUM_PEAK_PARTS; k++) {
    if (w->has_odd[k]) request->numbers[k] = &w->odd[k];
  }
  return CAVUM_OK;
}

static cavum_status solve_adjoints(work *w, cavum_error *error) {
  enum { OWN, ODD };
  cavum_adjoint_mode modes[CAVUM_ADJOINT_REQUESTS] = {mode_of(w), mode_of(w)};
  cavum_mode_adjoints_request requests[CAVUM_ADJOINT_REQUESTS];
  bool has_odd = has_any_odd(w);
  cavum_status status = CAVUM_OK;
  w->solved = w->odd_solved = true;
  if (!needs_field(w->input)) return CAVUM_OK;
  request_own(&requests[OWN], &modes[OWN], w);
  if (has_odd) CAVUM_TRY(request_odd(&requests[ODD], &modes[ODD], w, error));
  CAVUM_TRY(cavum_mode_adjoints_solve(requests, has_odd ? 2 : 1, error));
  w->solved = requests[OWN].solved;
  memcpy(w->z, requests[OWN].z, sizeof w->z);
  if (!has_odd) goto done;
  w->odd_solved = requests[ODD].solved;
  memcpy(w->odd_z, requests[ODD].z, sizeof w->odd_z);
done:
  return status;
}

// The form of the change of the mode.
static cavum_form form_of(work *w, cavum_functional_id part) {
  const cavum_adjoint_mode mode = mode_of(w);
  if (part == CAVUM_FUNCTIONAL_K2) {
    w->parts[part].value = mode.k2_per_m2;
    return (cavum_form){.u = mode.vector,
                        .x = mode.vector,
                        .mass_u = mode.k2_per_m2,
                        .degree = w->class->pencil.levels[w->input->below].degree};
  }
  int row = (int)part - FIRST_ROW;
  double *u = w->adjoint + row * (int64_t)w->modes->num_unknowns;
  return cavum_adjoint_form(u, w->z[row], &mode, &w->parts[part]);
}

static cavum_form form_of_odd(work *w, int k) {
  cavum_adjoint_mode mode = mode_of(w);
  mode.opposite = true;
  double *u = w->odd_room + k * (int64_t)w->modes->num_unknowns;
  return cavum_adjoint_form(u, w->odd_z[k], &mode, &w->odd[k]);
}

// Adds the changes of the mode to the derivatives by the shape, and moves these to the curves: of
// all degrees at once, which have one mesh and one rule.
static cavum_status finish_parts(work *works, int num_degrees, cavum_error *error) {
  enum { MOST = CAVUM_LEVELS_MOST * (CAVUM_NUM_FUNCTIONALS + CAVUM_NUM_PEAK_PARTS) };
  cavum_mesh_gradient *gradients[MOST];
  cavum_form forms[MOST];
  const cavum_mode_functionals_input *input = works[0].input;
  int count = 0;
  for (int i = 0; i < num_degrees; i++) {
    for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
      if (!works[i].exists[j]) continue;
      gradients[count] = &works[i].parts[j].gradient;
      forms[count++] = form_of(&works[i], (cavum_functional_id)j);
    }
    for (int k = 0; k < CAVUM_NUM_PEAK_PARTS; k++) {
      if (!works[i].has_odd[k]) continue;
      gradients[count] = &works[i].odd[k].gradient;
      forms[count++] = form_of_odd(&works[i], k);
    }
  }
  // The first form is of the mode at the highest degree.
  cavum_energy_sums energies = {0.0, 0.0};
  bool wanted = input->energy_mismatch && !works[0].polished;
  cavum_form_gradients_add(gradients, &input->solution->discretisation, forms, count,
                           wanted ? &energies : NULL);
  if (wanted) {
    *input->energy_mismatch =
        cavum_energy_mismatch_of(&energies, works[0].view.field.angular_frequency);
  }
  return cavum_mesh_gradients_gather(gradients, count, input->follower, error);
}

static cavum_mode_functional take_part(cavum_functional *from, bool exists, const char *reason) {
  cavum_mode_functional part = {.exists = exists,
                                .reason = reason,
                                .value = from->value,
                                .by_beta = from->by_beta,
                                .gradient = from->gradient};
  from->gradient = (cavum_mesh_gradient){0};
  return part;
}

static void hand_over(cavum_mode_functionals *made, work *w) {
  made->sizes_as_integral = w->sizes_as_integral;
  for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
    const char *reason = w->solved || j == CAVUM_FUNCTIONAL_K2 ? NULL : CAVUM_REASON_CLOSE;
    made->parts[j] = take_part(&w->parts[j], w->exists[j], reason);
  }
  for (int k = 0; k < CAVUM_NUM_PEAK_PARTS; k++) {
    made->odd[k] = take_part(&w->odd[k], w->has_odd[k], w->odd_solved ? NULL : CAVUM_REASON_CLOSE);
  }
}

cavum_status cavum_mode_functionals_compute(cavum_mode_functionals *made,
                                            const cavum_mode_functionals_input *input,
                                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int num_degrees = input->num_degrees;
  cavum_mode_functionals_input at[CAVUM_LEVELS_MOST];
  work *works = cavum_alloc(num_degrees, sizeof *works);
  if (!works) return cavum_fail_memory(error);
  for (int i = 0; i < num_degrees; i++) {
    at[i] = *input;
    at[i].below = i;
    if (i == num_degrees - 1 && input->needed_at_last) at[i].needed = input->needed_at_last;
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(prepare(&works[i], &at[i], error));
    CAVUM_TRY(add_parts(&works[i], error));
    CAVUM_TRY(solve_adjoints(&works[i], error));
  }
  CAVUM_TRY(finish_parts(works, num_degrees, error));
  for (int i = 0; i < num_degrees; i++) hand_over(&made[i], &works[i]);
done:
  for (int i = 0; i < num_degrees; i++) clear_work(&works[i]);
  free(works);
  return status;
}

void cavum_mode_functionals_clear(cavum_mode_functionals *functionals) {
  if (!functionals) return;
  for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
    cavum_mesh_gradient_clear(&functionals->parts[j].gradient);
  }
  for (int k = 0; k < CAVUM_NUM_PEAK_PARTS; k++) {
    cavum_mesh_gradient_clear(&functionals->odd[k].gradient);
  }
  *functionals = (cavum_mode_functionals){0};
}
