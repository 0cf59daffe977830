// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainties of the fields along axis and wall: the same points at the degrees p, p - 1 and
// p - 2, edge by edge. A point alone may change little by luck; the largest change of its edge does
// not.
#include "solve/trace_uncertainty.h"

#include "base/base.h"
#include "figures/profile.h"

// Degrees that are compared, and fields of a profile.
enum { DEGREES = 3, E_FIELD = 0, H_FIELD = 1 };

// The change at the last degree over that at the one before: not below what one lucky change makes
// of it, since beside a jump of the wall's curvature, where E converges slowly, every second change
// may be small; and not above that of an algebraic sequence, p^-2 at p = 10.
static const double RATIO_LEAST = 0.5, RATIO_MOST = 0.8;
// Of the rest of the sequence. Against degree 16 on the same mesh the errors of some edges of cells
// of ellipses, arcs and splines, of one to five cells, were up to 2.5 times the rest.
static const double SAFETY = 3.0;
// Rounding of fields, against the largest: derivatives of sums of up to 17 polynomials.
static const double ROUNDING = 1e-11;
// Walls that turn by more than this (its sine) into the cell make a sharp corner; the steps between
// points of a curved edge turn by less.
static const double SHARP_TURN = 0.17;

// Profiles at falling degrees.
typedef struct trace_levels {
  cavum_profile at[DEGREES];  // at[0] is borrowed
  int count;
  double vector_error;  // relative, of the mode at the last degree
} trace_levels;

typedef cavum_status fill_function(cavum_profile *profile, const cavum_view *view,
                                   cavum_error *error);

// The solution that has a mode at a degree, and how far below its own; NULL: none.
static const cavum_solution *solution_at(int *below, const cavum_ladder *ladder, int m,
                                         int degree) {
  const cavum_solution *both[] = {ladder->solution, ladder->before};
  for (int i = 0; i < 2; i++) {
    const cavum_solution *s = both[i];
    if (!s || s == ladder->rough || s->num_modes <= m) continue;
    *below = s->reference.degree - degree;
    if (*below < 0 || *below >= s->num_degrees) continue;
    const cavum_solution_mode *mode = &s->modes[m];
    bool same_class = mode->in_class == ladder->solution->modes[m].in_class;
    if (same_class && mode->index < s->classes[mode->in_class].modes[*below].count) return s;
  }
  return NULL;
}

static cavum_status collect(trace_levels *levels, const cavum_profile *top, const cavum_problem *s,
                            int m, fill_function *fill, cavum_error *error) {
  const cavum_ladder *ladder = &s->ladder;
  levels->at[0] = *top;
  levels->count = 1;
  levels->vector_error = cavum_solution_vector_error(ladder->solution, m, 0) +
                         cavum_solution_mixing(ladder->solution, m);
  for (int i = 1; i < DEGREES; i++) {
    int below = 0;
    const cavum_solution *solution =
        solution_at(&below, ladder, m, ladder->solution->reference.degree - i);
    if (!solution) break;
    cavum_view view = cavum_solution_view(solution, m, below, &s->memory->boundary);
    levels->count++;
    cavum_status status = fill(&levels->at[i], &view, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static void release(trace_levels *levels) {
  for (int i = 1; i < levels->count; i++) cavum_profile_clear(&levels->at[i]);
}

static const double *values_of(const cavum_profile *profile, int field) {
  return field == E_FIELD ? profile->e_v_per_m : profile->h_a_per_m;
}

// Vectors have no sign of their own.
static double sign_between(const cavum_profile *a, const cavum_profile *b, int field) {
  double sum = 0.0;
  const double *of_a = values_of(a, field), *of_b = values_of(b, field);
  for (cavum_index i = 0; i < a->num_points; i++) sum += of_a[i] * of_b[i];
  return sum < 0.0 ? -1.0 : 1.0;
}

// One field at the degrees: signs that bring each to that of the degree above.
typedef struct field_levels {
  const trace_levels *levels;
  int field;
  double sign[DEGREES];
} field_levels;

static field_levels levels_of(const trace_levels *levels, int field) {
  field_levels out = {.levels = levels, .field = field};
  for (int i = 0; i + 1 < levels->count; i++) {
    out.sign[i] = sign_between(&levels->at[i], &levels->at[i + 1], field);
  }
  return out;
}

// The largest change of a field on an edge, from its first point.
static double change_on_edge(const field_levels *f, int level, int64_t first) {
  const double *of_a = values_of(&f->levels->at[level], f->field);
  const double *of_b = values_of(&f->levels->at[level + 1], f->field);
  double sign = f->sign[level], largest = 0.0;
  for (int64_t i = first; i < first + CAVUM_PROFILE_POINTS_PER_EDGE; i++) {
    largest = cavum_max(largest, fabs(of_a[i] - sign * of_b[i]));
  }
  return largest;
}

// What the degrees to come can still add on an edge.
static double rest_on_edge(const field_levels *f, int64_t first) {
  if (f->levels->count < 2) return HUGE_VAL;
  double last = change_on_edge(f, 0, first), ratio = RATIO_MOST;
  if (f->levels->count > 2) {
    double before = change_on_edge(f, 1, first);
    ratio = last < RATIO_MOST * before ? cavum_max(last / before, RATIO_LEAST) : RATIO_MOST;
    last = cavum_max(last, RATIO_LEAST * RATIO_LEAST * before);
  }
  return SAFETY * last * ratio / (1.0 - ratio);
}

static double largest(const double *values, cavum_index count) {
  double most = 0.0;
  for (cavum_index i = 0; i < count; i++) most = cavum_max(most, fabs(values[i]));
  return most;
}

static cavum_status fill_field(double **uncertainty, const trace_levels *levels, int field,
                               cavum_error *error) {
  cavum_index count = levels->at[0].num_points;
  *uncertainty = cavum_alloc(count, sizeof **uncertainty);
  if (!*uncertainty) return cavum_fail_memory(error);
  const field_levels f = levels_of(levels, field);
  double everywhere =
      (ROUNDING + levels->vector_error) * largest(values_of(&levels->at[0], field), count);
  for (int64_t first = 0; first < count; first += CAVUM_PROFILE_POINTS_PER_EDGE) {
    double rest = rest_on_edge(&f, first) + everywhere;
    for (int i = 0; i < CAVUM_PROFILE_POINTS_PER_EDGE; i++) (*uncertainty)[first + i] = rest;
  }
  return CAVUM_OK;
}

// Whether the wall turns into the cell where an edge ends at point i - 1 and another begins at i.
static bool is_sharp(const cavum_profile *wall, int64_t i) {
  const double *z = wall->z_m, *r = wall->r_m;
  double length = wall->arc_length_m[wall->num_points - 1];
  if (hypot(z[i] - z[i - 1], r[i] - r[i - 1]) > 1e-9 * length) return false;
  double az = z[i - 1] - z[i - 2], ar = r[i - 1] - r[i - 2], bz = z[i + 1] - z[i];
  double br = r[i + 1] - r[i];
  return az * br - ar * bz < -SHARP_TURN * hypot(az, ar) * hypot(bz, br);
}

static void mark_corners(double *e_uncertainty, const cavum_profile *wall) {
  for (int64_t i = CAVUM_PROFILE_POINTS_PER_EDGE; i < wall->num_points;
       i += CAVUM_PROFILE_POINTS_PER_EDGE) {
    if (is_sharp(wall, i)) e_uncertainty[i - 1] = e_uncertainty[i] = HUGE_VAL;
  }
}

cavum_status cavum_trace_uncertainty_fill(cavum_mode_result *mode, const cavum_problem *problem,
                                          int m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  trace_levels axis = {0}, wall = {0};
  if (mode->axis.num_points > 0) {
    CAVUM_TRY(collect(&axis, &mode->axis, problem, m, cavum_profile_fill_axis, error));
    CAVUM_TRY(fill_field(&mode->axis_e_uncertainty_v_per_m, &axis, E_FIELD, error));
  }
  if (mode->wall.num_points > 0) {
    CAVUM_TRY(collect(&wall, &mode->wall, problem, m, cavum_profile_fill_wall, error));
    CAVUM_TRY(fill_field(&mode->wall_e_uncertainty_v_per_m, &wall, E_FIELD, error));
    CAVUM_TRY(fill_field(&mode->wall_h_uncertainty_a_per_m, &wall, H_FIELD, error));
    mark_corners(mode->wall_e_uncertainty_v_per_m, &mode->wall);
  }
done:
  release(&axis);
  release(&wall);
  return status;
}
