// SPDX-License-Identifier: GPL-3.0-or-later
// Counting modes by inertia, so that none was missed.
#include "solve/completeness.h"

#include "base/base.h"
#include "eigen/pencil_factorise.h"

// Least degree and margin (of k^2) of the cheap count, and margin of the fine one, which is far
// enough from the modes that the factorisation is not close to singular.
enum { COUNT_DEGREE = 4 };
static const double COUNT_MARGIN = 0.02, FINE_MARGIN = 1e-5;
// Error of a low degree over its margin, at most.
static const double MARGIN_PART = 0.25;
// Of cavum_thin_conductor_find() at the least degree: a smaller part has no mode of its own.
static const double LACK_MOST = 1.0, PART_MOST = 1e-2;
// A window about a frequency that reaches down to this part of it holds all below: only the static
// mode lies there.
static const double LOW_LEAST = 1e-3;

// Phase over the longest element, k times its longest edge.
static double largest_phase_rad(const cavum_solution *solution, double k2_per_m2) {
  const cavum_mesh *mesh = solution->mesh;
  double longest_m2 = 0.0;  // of vacuum
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    const cavum_region *region = &mesh->regions[element->region];
    for (int i = 0; i < element->num_corners; i++) {
      const cavum_point *a = &mesh->vertices[element->vertex[i]];
      const cavum_point *b = &mesh->vertices[element->vertex[(i + 1) % element->num_corners]];
      double z_m = b->z_m - a->z_m, r_m = b->r_m - a->r_m;
      longest_m2 = cavum_max(longest_m2, region->eps_r * region->mu_r * (z_m * z_m + r_m * r_m));
    }
  }
  return sqrt(k2_per_m2 * longest_m2);
}

// Whether no mode up to the highest one can be further off than a part of the margin at a degree p:
// plane waves have [p! / (2 p)!]^2 (k h)^(2 p) / (2 p + 1) as the relative error of k^2
// [Ainsworth2004]. Of a mode that is missing nothing else is known.
static bool carries_all(int degree, double phase_rad) {
  double error = 1.0 / (2.0 * degree + 1.0);
  for (int i = 1; i <= degree; i++) {
    double part = phase_rad / (degree + i);
    error *= part * part;
  }
  return error < MARGIN_PART * COUNT_MARGIN;
}

// Also of a class that was not asked for or lost all its modes.
static cavum_status get_skeleton(const cavum_skeleton **skeleton, cavum_ladder *ladder, int c,
                                 cavum_error *error) {
  cavum_problem_memory *memory = ladder->memory;
  return cavum_skeletons_get(skeleton, &memory->skeletons, &memory->mesh, memory->topology, c,
                             error);
}

// Modes of each class below a bound, shape [CAVUM_CLASSES], on a discretisation of the ladder's
// mesh. The bound becomes that which was safe to count at, the same of all classes.
static cavum_status count_below(int64_t *below, double *k2_per_m2, cavum_ladder *ladder,
                                const cavum_ladder_request *request,
                                const cavum_discretisation *discretisation, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_pencil pencils[CAVUM_CLASSES] = {{0}};
  cavum_condensed condensed = {0};
  for (int c = 0; c < CAVUM_CLASSES; c++) below[c] = 0;
  CAVUM_TRY(cavum_condensed_create(&condensed, discretisation, 1, error));
  for (int c = 0; c < (request->half_model ? 2 : 1); c++) {
    const cavum_skeleton *skeleton;
    CAVUM_TRY(get_skeleton(&skeleton, ladder, c, error));
    if (c == 0) CAVUM_TRY(cavum_pencil_create(&pencils[0], discretisation, skeleton, 1, error));
    if (c == 1) cavum_pencil_create_sharing(&pencils[1], &pencils[0], skeleton);
    CAVUM_TRY(cavum_modes_count_below(&below[c], &pencils[c], &condensed, *k2_per_m2, error));
  }
  *k2_per_m2 = pencils[0].shift_per_m2;
done:
  for (int c = CAVUM_CLASSES - 1; c >= 0; c--) cavum_pencil_clear(&pencils[c]);
  cavum_condensed_clear(&condensed);
  return status;
}

// The window just outside the reported modes, wider by `margin` of their k^2. About a frequency it
// reaches as far on both sides, so that none can be nearer.
typedef struct window {
  double low_k2_per_m2, high_k2_per_m2;
  int64_t count, of_class[CAVUM_CLASSES];  // the latter where classes are counted apart
} window;

static void set_window(window *w, const cavum_solution *solution, double near_hz, double margin) {
  const cavum_solution_mode *first = &solution->modes[0], *last = first + solution->num_modes - 1;
  double low = first->k2_per_m2, high = last->k2_per_m2;
  if (near_hz > 0.0) {
    double near = 2.0 * CAVUM_PI * near_hz / CAVUM_C_M_PER_S;
    double farthest =
        cavum_max(cavum_modes_distance(low, near * near), cavum_modes_distance(high, near * near));
    double from = near - farthest, to = near + farthest;
    low = from > LOW_LEAST * near ? cavum_min(low, from * from) : 0.0;
    high = cavum_max(high, to * to);
  }
  w->low_k2_per_m2 = near_hz > 0.0 ? low * (1.0 - margin) : 0.0;
  w->high_k2_per_m2 = high * (1.0 + margin);
}

static cavum_status count_window(window *w, double margin, cavum_ladder *ladder,
                                 const cavum_ladder_request *request,
                                 const cavum_discretisation *discretisation, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution *solution = ladder->solution;
  int64_t low[CAVUM_CLASSES] = {0}, high[CAVUM_CLASSES];
  set_window(w, solution, request->cell->near_hz, margin);
  CAVUM_TRY(count_below(high, &w->high_k2_per_m2, ladder, request, discretisation, error));
  if (w->low_k2_per_m2 > 0.0) {
    CAVUM_TRY(count_below(low, &w->low_k2_per_m2, ladder, request, discretisation, error));
  }
  w->count = 0;
  for (int c = 0; c < CAVUM_CLASSES; c++) w->count += w->of_class[c] = high[c] - low[c];
done:
  return status;
}

// Modes of both classes below the shift that a solution was factorised with, if that is above the
// k^2 given; count stays -1 otherwise.
static cavum_status count_at_shift(window *w, cavum_ladder *ladder,
                                   const cavum_ladder_request *request, cavum_solution *solution,
                                   double k2_per_m2, cavum_error *error) {
  const cavum_pencil *pencil = &solution->classes[0].pencil;
  bool fits = request->cell->near_hz <= 0.0 && pencil->condensed && !pencil->is_single &&
              pencil->shift_per_m2 > k2_per_m2 &&
              pencil->shift_per_m2 == solution->condensed.shift_per_m2 &&
              !(pencil->is_lean && pencil->shift_per_m2 != pencil->asked_per_m2);
  if (!fits) return CAVUM_OK;
  int64_t other = 0;
  if (request->half_model) {
    cavum_pencil *odd = &solution->classes[1].pencil;
    cavum_status status =
        cavum_solution_prepare_class(solution, &ladder->memory->skeletons, 1, error);
    if (status != CAVUM_OK) return status;
    status = cavum_pencil_factorise(odd, &solution->condensed, pencil->asked_per_m2, error);
    if (status != CAVUM_OK) return status;
    other = odd->levels[0].num_negative;
  }
  w->high_k2_per_m2 = pencil->shift_per_m2;
  w->count = pencil->levels[0].num_negative - (cavum_modes_has_static(pencil) ? 1 : 0) + other;
  return CAVUM_OK;
}

cavum_status cavum_completeness_count_start(cavum_ladder *ladder,
                                            const cavum_ladder_request *request,
                                            cavum_error *error) {
  cavum_solution *rough = ladder->rough;
  window w = {.count = -1};
  double k2 = rough->modes[rough->num_modes - 1].k2_per_m2;
  cavum_status status = count_at_shift(&w, ladder, request, rough, k2, error);
  if (status != CAVUM_OK || w.count < 0) return status;
  ladder->counted_k2_per_m2 = w.high_k2_per_m2;
  ladder->num_counted = w.count;
  return CAVUM_OK;
}

// How much the k^2 of a mode is off at the degree of the rough start at most, relative.
static double error_of_start(const cavum_ladder *ladder) {
  const cavum_solution *rough = ladder->rough, *solution = ladder->solution;
  double largest = 0.0;
  if (rough->num_modes < solution->num_modes) return HUGE_VAL;
  double phase_rad =
      largest_phase_rad(solution, solution->modes[solution->num_modes - 1].k2_per_m2);
  if (!carries_all(rough->reference.degree, phase_rad)) return HUGE_VAL;
  for (int m = 0; m < solution->num_modes; m++) {
    double ratio = rough->modes[m].k2_per_m2 / solution->modes[m].k2_per_m2;
    largest = cavum_max(largest, fabs(ratio - 1.0));
  }
  return largest;
}

// The count by the rough start: by the factorisation it was found with, if its shift is above the
// modes, or by another one. count is -1 where its degree is too low for the margin.
static cavum_status count_by_start(window *w, cavum_ladder *ladder,
                                   const cavum_ladder_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solution *rough = ladder->rough;
  double k2 = ladder->solution->modes[ladder->solution->num_modes - 1].k2_per_m2;
  double error_k2 = error_of_start(ladder);
  *w = (window){.count = -1};
  if (ladder->counted_k2_per_m2 > k2) {
    *w = (window){.high_k2_per_m2 = ladder->counted_k2_per_m2, .count = ladder->num_counted};
  } else {
    CAVUM_TRY(count_at_shift(w, ladder, request, rough, k2, error));
  }
  bool is_wide = error_k2 < MARGIN_PART * (w->high_k2_per_m2 / k2 - 1.0);
  if (w->count == ladder->solution->num_modes && is_wide) return CAVUM_OK;
  w->high_k2_per_m2 = k2 * (1.0 + COUNT_MARGIN);
  w->count = -1;
  if (!(error_k2 < MARGIN_PART * COUNT_MARGIN)) return CAVUM_OK;
  w->count = 0;
  for (int c = 0; c < (request->half_model ? 2 : 1); c++) {
    int64_t below;
    CAVUM_TRY(cavum_solution_prepare_class(rough, &ladder->memory->skeletons, c, error));
    CAVUM_TRY(cavum_modes_count_below(&below, &rough->classes[c].pencil, &rough->condensed,
                                      w->high_k2_per_m2, error));
    w->count += below;
  }
done:
  return status;
}

// That the last mode lies between a margin below it and one above it at a low degree too.
static cavum_status check_margin(window *w, cavum_ladder *ladder,
                                 const cavum_ladder_request *request,
                                 const cavum_discretisation *discretisation, cavum_error *error) {
  const cavum_solution *solution = ladder->solution;
  double bound = solution->modes[solution->num_modes - 1].k2_per_m2 * (1.0 - COUNT_MARGIN);
  int64_t below[CAVUM_CLASSES], expected = 0;
  cavum_status status = count_below(below, &bound, ladder, request, discretisation, error);
  for (int m = 0; m < solution->num_modes; m++) expected += solution->modes[m].k2_per_m2 < bound;
  if (status == CAVUM_OK && below[0] + below[1] != expected) w->count = -1;
  return status;
}

// The count at the lowest degree at which a window is wide against its error: as good, and far
// cheaper, unless another mode lies inside the margin; -1 where there is no such degree.
static cavum_status count_coarsely(window *w, cavum_ladder *ladder,
                                   const cavum_ladder_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution *solution = ladder->solution;
  cavum_reference reference = {0};
  cavum_discretisation discretisation = {0};
  int degree = COUNT_DEGREE, highest = solution->reference.degree;
  if (ladder->rough) return count_by_start(w, ladder, request, error);
  set_window(w, solution, request->cell->near_hz, 0.0);
  double phase_rad = largest_phase_rad(solution, w->high_k2_per_m2);
  while (degree < highest && !carries_all(degree, phase_rad)) degree++;
  *w = (window){.count = -1};
  if (degree >= highest) return CAVUM_OK;
  CAVUM_TRY(cavum_reference_create(&reference, degree, 0, solution->reference.triangle_points > 0,
                                   error));
  CAVUM_TRY(cavum_discretisation_create(&discretisation, solution->mesh, &reference,
                                        solution->discretisation.unknown, error));
  CAVUM_TRY(count_window(w, COUNT_MARGIN, ladder, request, &discretisation, error));
  if (request->cell->near_hz <= 0.0) {
    CAVUM_TRY(check_margin(w, ladder, request, &discretisation, error));
  }
done:
  cavum_discretisation_clear(&discretisation);
  cavum_reference_clear(&reference);
  return status;
}

// Reported modes strictly inside a window.
static int count_inside(const cavum_solution *solution, const window *w, bool near) {
  int count = 0;
  for (int m = 0; m < solution->num_modes; m++) {
    double k2_per_m2 = solution->modes[m].k2_per_m2;
    if (k2_per_m2 < w->high_k2_per_m2 && (!near || k2_per_m2 > w->low_k2_per_m2)) count++;
  }
  return count;
}

// Modes in a window that are not reported, of the class other than that of the last one: within a
// class none is skipped, so only these may be below it.
static int count_others(const cavum_solution *solution, const window *w) {
  int other = 1 - solution->modes[solution->num_modes - 1].in_class;
  int64_t count = w->of_class[other];
  for (int m = 0; m < solution->num_modes; m++) {
    const cavum_solution_mode *mode = &solution->modes[m];
    count -= mode->in_class == other && mode->k2_per_m2 < w->high_k2_per_m2;
  }
  return count > 0 ? (int)count : 0;
}

static double to_hz(double k2_per_m2) {
  return CAVUM_C_M_PER_S * sqrt(k2_per_m2) / (2.0 * CAVUM_PI);
}

cavum_status cavum_completeness_check(double *below_hz, double *above_hz, int *num_close,
                                      cavum_ladder *ladder, const cavum_ladder_request *request,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution *solution = ladder->solution;
  bool near = request->cell->near_hz > 0.0;
  window w = {.count = -1};
  double last_k2 = solution->modes[solution->num_modes - 1].k2_per_m2;
  *num_close = 0;
  CAVUM_TRY(count_at_shift(&w, ladder, request, ladder->solution, last_k2, error));
  // A mode of a thin conductor is missing where that is not felt, at a low degree.
  bool feels =
      cavum_thin_conductor_find(solution->mesh, COUNT_DEGREE, last_k2, LACK_MOST).part < PART_MOST;
  bool has_lower = feels && (ladder->rough || solution->reference.degree > COUNT_DEGREE);
  if (w.count != solution->num_modes && has_lower) {
    CAVUM_TRY(count_coarsely(&w, ladder, request, error));
  }
  int expected = solution->num_modes;
  if (w.count != expected) {
    CAVUM_TRY(count_window(&w, FINE_MARGIN, ladder, request, &solution->discretisation, error));
    expected = count_inside(solution, &w, near);
  }
  if (w.count > expected) {
    // Others may lie within the margin of the outermost reported modes. What can be said then is
    // that nothing is missing inside of those.
    *num_close = near ? 0 : count_others(solution, &w);
    CAVUM_TRY(count_window(&w, -FINE_MARGIN, ladder, request, &solution->discretisation, error));
    expected = count_inside(solution, &w, near);
  }
  if (w.count != expected) {
    return cavum_fail(error, CAVUM_ERR_INCOMPLETE, "%lld modes lie %s %.9g Hz but %d were found",
                      (long long)w.count, near ? "in the window up to" : "below",
                      to_hz(w.high_k2_per_m2), expected);
  }
  *below_hz = to_hz(w.high_k2_per_m2);
  *above_hz = near ? to_hz(w.low_k2_per_m2) : 0.0;
done:
  return status;
}
