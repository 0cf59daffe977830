// SPDX-License-Identifier: GPL-3.0-or-later
// Modes by shift-invert Lanczos on a condensed, factorised pencil.
#include "eigen/modes_find.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/lanczos.h"
#include "eigen/mode_start.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "fem/mass_matrices.h"

// What the iteration multiplies with.
typedef struct operators {
  cavum_pencil *pencil;
  cavum_mass_matrices mass;
} operators;

static cavum_status solve_operator(double *y, const double *b, void *context, cavum_error *error) {
  const operators *of = context;
  cavum_pencil_solve(y, of->pencil, 0, b);
  return cavum_stop_check(error);
}

static void mass_operator(double *y, const double *x, void *context) {
  const operators *of = context;
  cavum_mass_matrices_apply(y, &of->mass, x);
  cavum_pencil_clear_essential(y, of->pencil);
}

// Unknowns that the closure leaves free.
static int64_t dimension(const cavum_pencil *pencil) {
  const cavum_space *space = &pencil->discretisation->space;
  return cavum_space_size(space->mesh, space->degree) - space->num_skeleton +
         pencil->levels[0].num_rows;
}

// Runs the iteration on the factorised pencil; keeps all pairs found.
static cavum_status iterate(cavum_modes *modes, cavum_pencil *pencil, int count,
                            const cavum_modes *guess, double tolerance, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index size = pencil->discretisation->space.num_unknowns;
  cavum_modes found = {0};
  operators of = {.pencil = pencil};
  double *start = cavum_alloc(size, sizeof *start);
  if (!start) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_mass_matrices_create(&of.mass, pencil->discretisation, error));
  CAVUM_TRY(cavum_modes_allocate(&found, count, size, error));
  cavum_mode_start_fill(start, pencil, guess);
  cavum_lanczos_problem problem = {size, dimension(pencil), &of, solve_operator, mass_operator};
  CAVUM_TRY(cavum_lanczos_solve(found.k2_per_m2, found.vectors, &problem, count,
                                pencil->shift_per_m2, tolerance, start, error));
  // A pair that has settled is better than that by more than close neighbours take away.
  for (int m = 0; m < found.count; m++) found.vector_error[m] = tolerance;
  *modes = found;
  found = (cavum_modes){0};
done:
  free(start);
  cavum_mass_matrices_clear(&of.mass);
  cavum_modes_clear(&found);
  return status;
}

static void drop_first(cavum_modes *modes) {
  modes->count--;
  memmove(modes->k2_per_m2, modes->k2_per_m2 + 1, (size_t)modes->count * sizeof(double));
  memmove(modes->vector_error, modes->vector_error + 1, (size_t)modes->count * sizeof(double));
  memmove(modes->accuracy_factor, modes->accuracy_factor + 1,
          (size_t)modes->count * sizeof(double));
  memmove(modes->vectors, modes->vectors + modes->num_unknowns,
          (size_t)modes->count * (size_t)modes->num_unknowns * sizeof(double));
}

cavum_status cavum_modes_find_lowest(cavum_modes *modes, cavum_pencil *pencil,
                                     cavum_condensed *condensed, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error) {
  cavum_modes found = {0};
  bool has_static = cavum_modes_has_static(pencil);
  int extra = has_static ? 1 : 0, most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  int wanted = count + extra < most ? count + extra : most;
  if (wanted < 1 + extra) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the mesh is too coarse to carry a mode");
  }
  cavum_status status = cavum_mode_start_factorise(pencil, condensed, guess, error);
  if (status == CAVUM_OK) status = iterate(&found, pencil, wanted, guess, tolerance, error);
  if (status != CAVUM_OK) return status;
  if (has_static) drop_first(&found);
  *modes = found;
  return CAVUM_OK;
}

// Modes about a shift in k^2, so that those nearest in k are among them.
typedef struct search {
  double near_per_m2, shift_per_m2;
  int wanted, asked;       // nearest modes, and modes of the iteration
  double low_k2, high_k2;  // between which the iteration found all, 1/m^2; 0: all below
} search;

// What a density of modes that is not the same throughout needs beyond an estimate.
static const double ASKED_MORE = 1.1;
// The static mode lies at zero to rounding; real modes lie above 1 / extent^2.
static const double STATIC_MOST = 1e-6;

// The first of so many modes nearest to a k.
static int first_nearest(const cavum_modes *modes, int count, double near_per_m2) {
  int first = 0, end = modes->count;
  while (end - first > count) {
    double low = cavum_modes_distance(modes->k2_per_m2[first], near_per_m2);
    double high = cavum_modes_distance(modes->k2_per_m2[end - 1], near_per_m2);
    if (low > high) first++;
    if (low <= high) end--;
  }
  return first;
}

// The shift into the middle, in k^2, of all that is as near in k as the last mode that is wanted;
// the width of that, 1/m^2, is returned.
static double place_shift(search *s, const cavum_modes *modes) {
  int first = first_nearest(modes, s->wanted, s->near_per_m2);
  int last = first + (s->wanted < modes->count ? s->wanted : modes->count) - 1;
  double radius = cavum_max(cavum_modes_distance(modes->k2_per_m2[first], s->near_per_m2),
                            cavum_modes_distance(modes->k2_per_m2[last], s->near_per_m2));
  double near = sqrt(s->near_per_m2), low = cavum_max(near - radius, 0.0), high = near + radius;
  s->shift_per_m2 = 0.5 * (low * low + high * high);
  return high * high - low * low;
}

// The iteration finds the modes nearest to the shift in k^2, up to its farthest one.
static void set_known_range(search *s, const cavum_modes *found) {
  double low = found->k2_per_m2[0], high = found->k2_per_m2[found->count - 1];
  double below = s->shift_per_m2 - low, above = high - s->shift_per_m2;
  if (below < above) low = s->shift_per_m2 - above;
  if (above < below) high = s->shift_per_m2 + below;
  s->low_k2 = low > STATIC_MOST * s->near_per_m2 ? low : 0.0;
  s->high_k2 = high;
}

// Whether as many modes as are wanted are no farther in k than all modes are known.
static bool knows_wanted(const search *s, const cavum_modes *found) {
  double radius = sqrt(cavum_max(s->high_k2, 0.0)) - sqrt(s->near_per_m2);
  int count = 0;
  if (s->low_k2 > 0.0) radius = cavum_min(radius, sqrt(s->near_per_m2) - sqrt(s->low_k2));
  for (int m = 0; m < found->count; m++) {
    count += cavum_modes_distance(found->k2_per_m2[m], s->near_per_m2) <= radius;
  }
  return count >= s->wanted;
}

// The next shift and how many modes about it, by the density of those that were found.
static void widen(search *s, const cavum_modes *found, int most) {
  double part = place_shift(s, found) / (s->high_k2 - s->low_k2);
  double asked = cavum_max(ASKED_MORE * part * s->asked, s->asked + 0.125 * s->asked) + 1.0;
  s->asked = (int)cavum_min(asked, most);
}

static void keep_nearest(cavum_modes *modes, int count, double near_per_m2) {
  int first = first_nearest(modes, count, near_per_m2);
  for (int i = 0; i < first; i++) drop_first(modes);
  if (modes->count > count) modes->count = count;
}

static cavum_status find_about(cavum_modes *found, search *s, cavum_pencil *pencil,
                               cavum_condensed *condensed, const cavum_modes *guess,
                               double tolerance, cavum_error *error) {
  cavum_status status = cavum_pencil_factorise(pencil, condensed, s->shift_per_m2, error);
  if (status == CAVUM_OK) status = iterate(found, pencil, s->asked, guess, tolerance, error);
  if (status != CAVUM_OK) return status;
  s->shift_per_m2 = pencil->shift_per_m2;
  set_known_range(s, found);
  bool has_static = cavum_modes_has_static(pencil);
  if (has_static && found->k2_per_m2[0] < STATIC_MOST * s->near_per_m2) drop_first(found);
  return CAVUM_OK;
}

cavum_status cavum_modes_find_near(cavum_modes *modes, cavum_pencil *pencil,
                                   cavum_condensed *condensed, int count, int spare,
                                   double k2_per_m2, const cavum_modes *guess, double tolerance,
                                   cavum_error *error) {
  cavum_modes found = {0};
  int extra = cavum_modes_has_static(pencil) ? 1 : 0, all = count + spare + extra;
  int most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  search s = {.near_per_m2 = k2_per_m2, .shift_per_m2 = k2_per_m2, .wanted = count};
  if (most < 1 + extra) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the mesh is too coarse to carry a mode");
  }
  s.asked = all < most ? all : most;
  if (guess) (void)place_shift(&s, guess);
  for (;;) {
    cavum_status status = find_about(&found, &s, pencil, condensed, guess, tolerance, error);
    if (status != CAVUM_OK) return status;
    if (s.asked == most || knows_wanted(&s, &found)) break;
    widen(&s, &found, most);
    cavum_modes_clear(&found);
  }
  keep_nearest(&found, count + spare, k2_per_m2);
  *modes = found;
  return CAVUM_OK;
}

cavum_status cavum_modes_find_around(cavum_modes *modes, cavum_pencil *pencil, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error) {
  int most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  if (most < 1) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the mesh is too coarse to carry a mode");
  }
  return iterate(modes, pencil, count < most ? count : most, guess, tolerance, error);
}
