// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainties of the fields along axis and wall: the same points at the degrees p, p - 1 and
// p - 2, edge by edge. A point alone may change little by luck, the largest change of its edge
// hardly, and less so those of the edges around.
#include "solve/trace_uncertainty.h"

#include "base/base.h"
#include "figures/axis_vertices.h"
#include "figures/profile.h"
#include "figures/sharp_corner.h"
#include "solve/mode_levels.h"

// Fields of a profile.
enum { E_FIELD = 0, H_FIELD = 1 };

// Rounding of fields, against the largest: derivatives of sums of up to 17 polynomials.
static const double ROUNDING = 1e-11;
// Walls that turn by more than this (its sine) into the cell make a sharp corner; the steps between
// points of a curved edge turn by less.
static const double SHARP_TURN = 0.17;

// Profiles at falling degrees.
typedef struct trace_levels {
  cavum_profile at[CAVUM_MODE_LEVELS];  // at[0] is borrowed
  int count;
  double vector_error, ratio_at_corner;  // of the mode levels
  cavum_point *corners;                  // owned: where E has no limit, at both sides of a plane
  cavum_index num_corners;
} trace_levels;

typedef cavum_status fill_function(cavum_profile *profile, const cavum_view *view,
                                   cavum_error *error);

static cavum_status find_corners(trace_levels *levels, const cavum_view *view, cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double plane = cavum_mesh_mirror_plane_m(mesh);
  bool *marked = cavum_alloc(mesh->num_vertices, sizeof *marked);
  levels->corners = cavum_alloc(2 * (int64_t)mesh->num_vertices, sizeof *levels->corners);
  cavum_status status = marked && levels->corners ? cavum_sharp_corner_mark(marked, view, error)
                                                  : cavum_fail_memory(error);
  for (cavum_index v = 0; status == CAVUM_OK && v < mesh->num_vertices; v++) {
    cavum_point at = mesh->vertices[v];
    if (!marked[v]) continue;
    levels->corners[levels->num_corners++] = at;
    if (view->parity == CAVUM_PARITY_NONE) continue;
    at.z_m = 2.0 * plane - at.z_m;
    levels->corners[levels->num_corners++] = at;
  }
  free(marked);
  return status;
}

static cavum_status collect(trace_levels *levels, const cavum_profile *top,
                            const cavum_mode_levels *mode, fill_function *fill,
                            cavum_error *error) {
  levels->at[0] = *top;
  levels->vector_error = mode->vector_error + mode->spill;
  levels->ratio_at_corner = mode->ratio_at_corner;
  levels->count = 1;
  cavum_status status = find_corners(levels, &mode->view[0], error);
  while (status == CAVUM_OK && levels->count < mode->count) {
    int i = levels->count++;
    status = fill(&levels->at[i], &mode->view[i], error);
  }
  return status;
}

static void release(trace_levels *levels) {
  for (int i = 1; i < levels->count; i++) cavum_profile_clear(&levels->at[i]);
  free(levels->corners);
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
  double sign[CAVUM_MODE_LEVELS];
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

// Whether an edge ends at a corner where E has no limit.
static bool ends_at_corner(const trace_levels *levels, int64_t edge) {
  const cavum_profile *p = &levels->at[0];
  double reach = 1e-13 * p->arc_length_m[p->num_points - 1];
  for (int k = 0; k < 2; k++) {
    int64_t i = (edge + k) * CAVUM_PROFILE_POINTS_PER_EDGE - k;
    for (cavum_index c = 0; c < levels->num_corners; c++) {
      const cavum_point *at = &levels->corners[c];
      if (hypot(p->z_m[i] - at->z_m, p->r_m[i] - at->r_m) < reach) return true;
    }
  }
  return false;
}

// An edge that ends there, or has a point in common with one that does.
static bool is_at_corner(const trace_levels *levels, int64_t edge, int64_t num_edges) {
  return ends_at_corner(levels, edge) || (edge > 0 && ends_at_corner(levels, edge - 1)) ||
         (edge + 1 < num_edges && ends_at_corner(levels, edge + 1));
}

// What the degrees to come can still add on an edge.
static double rest_on_edge(const field_levels *f, int64_t edge, int64_t num_edges) {
  const trace_levels *levels = f->levels;
  double change[CAVUM_MODE_LEVELS];
  for (int i = 0; i + 1 < levels->count; i++) {
    change[i] = change_on_edge(f, i, edge * CAVUM_PROFILE_POINTS_PER_EDGE);
  }
  if (!is_at_corner(levels, edge, num_edges)) {
    return cavum_mode_levels_rest(change, levels->count);
  }
  return cavum_mode_levels_rest_at_corner(change, levels->count, levels->ratio_at_corner);
}

static double larger_of_two(const double *rest, int64_t a, int64_t b, int64_t count) {
  double of_a = a >= 0 && a < count ? rest[a] : 0.0, of_b = b >= 0 && b < count ? rest[b] : 0.0;
  return cavum_max(of_a, of_b);
}

// Degrees may agree by chance on an edge or two, whose rest is then far smaller than on both sides;
// fields go on from edge to edge, and so do their errors. Towards a corner, where the rest rises
// from edge to edge, this changes nothing.
static double rest_without_dip(const double *rest, int64_t edge, int64_t count) {
  double before = larger_of_two(rest, edge - 1, edge - 2, count);
  double after = larger_of_two(rest, edge + 1, edge + 2, count);
  return cavum_max(rest[edge], cavum_min(before, after));
}

// The largest of a field, but on edges that end where E has no limit, if there are others.
static double largest(const field_levels *f, int64_t num_edges) {
  const double *values = values_of(&f->levels->at[0], f->field);
  double of_all = 0.0, away = 0.0;
  for (int64_t e = 0; e < num_edges; e++) {
    double most = 0.0;
    for (int i = 0; i < CAVUM_PROFILE_POINTS_PER_EDGE; i++) {
      most = cavum_max(most, fabs(values[e * CAVUM_PROFILE_POINTS_PER_EDGE + i]));
    }
    of_all = cavum_max(of_all, most);
    if (!ends_at_corner(f->levels, e)) away = cavum_max(away, most);
  }
  return away > 0.0 ? away : of_all;
}

static cavum_status fill_field(double **uncertainty, const trace_levels *levels, int field,
                               cavum_error *error) {
  cavum_index count = levels->at[0].num_points;
  *uncertainty = cavum_alloc(count, sizeof **uncertainty);
  if (!*uncertainty) return cavum_fail_memory(error);
  const field_levels f = levels_of(levels, field);
  int64_t num_edges = count / CAVUM_PROFILE_POINTS_PER_EDGE;
  double everywhere = (ROUNDING + levels->vector_error) * largest(&f, num_edges);
  double *rest = cavum_alloc(num_edges, sizeof *rest);
  if (!rest) return cavum_fail_memory(error);
  for (int64_t e = 0; e < num_edges; e++) {
    rest[e] = rest_on_edge(&f, e, num_edges);
  }
  for (int64_t i = 0; i < num_edges * CAVUM_PROFILE_POINTS_PER_EDGE; i++) {
    int64_t edge = i / CAVUM_PROFILE_POINTS_PER_EDGE;
    (*uncertainty)[i] = rest_without_dip(rest, edge, num_edges) + everywhere;
  }
  free(rest);
  return CAVUM_OK;
}

// Whether two points are the same but for rounding.
static bool are_one(const cavum_profile *wall, int64_t i, int64_t k) {
  double apart = hypot(wall->z_m[i] - wall->z_m[k], wall->r_m[i] - wall->r_m[k]);
  return apart <= 1e-9 * wall->arc_length_m[wall->num_points - 1];
}

// Whether the wall turns into the cell where an edge ends at point i - 1 and another begins at i.
static bool is_sharp(const cavum_profile *wall, int64_t i) {
  const double *z = wall->z_m, *r = wall->r_m;
  if (!are_one(wall, i - 1, i)) return false;
  double az = z[i - 1] - z[i - 2], ar = r[i - 1] - r[i - 2], bz = z[i + 1] - z[i];
  double br = r[i + 1] - r[i];
  return az * br - ar * bz < -SHARP_TURN * hypot(az, ar) * hypot(bz, br);
}

// Not below a value, on one edge of a profile.
static void raise_edge(double *uncertainty, int64_t edge, double least) {
  double *of_edge = uncertainty + edge * CAVUM_PROFILE_POINTS_PER_EDGE;
  for (int i = 0; i < CAVUM_PROFILE_POINTS_PER_EDGE; i++) {
    of_edge[i] = cavum_max(of_edge[i], least);
  }
}

// E is the same on both edges that meet on the wall, and is zero where that turns out of the cell;
// degrees may agree by chance on an edge that does not agree with the next one.
static void raise_at_joints(double *e_uncertainty, const cavum_profile *wall) {
  int64_t num_edges = wall->num_points / CAVUM_PROFILE_POINTS_PER_EDGE;
  for (int64_t edge = 0; edge < num_edges; edge++) {
    int64_t next = (edge + 1) % num_edges, begin = next * CAVUM_PROFILE_POINTS_PER_EDGE,
            end = (edge + 1) * CAVUM_PROFILE_POINTS_PER_EDGE - 1;
    bool is_known = isfinite(e_uncertainty[begin]) && isfinite(e_uncertainty[end]);
    if (!is_known || !are_one(wall, begin, end)) continue;
    double gap = fabs(wall->e_v_per_m[begin] - wall->e_v_per_m[end]);
    raise_edge(e_uncertainty, edge, gap);
    raise_edge(e_uncertainty, next, gap);
  }
}

static void mark_corners(double *e_uncertainty, const cavum_profile *wall) {
  for (int64_t i = CAVUM_PROFILE_POINTS_PER_EDGE; i < wall->num_points;
       i += CAVUM_PROFILE_POINTS_PER_EDGE) {
    if (is_sharp(wall, i)) e_uncertainty[i - 1] = e_uncertainty[i] = HUGE_VAL;
  }
}

// Edges that end at a tip, and those within so many times their length, two layers of elements.
static const double REACH_OF_TIP = 10.0;
// Without layers the one edge may be half the cell: beyond this part of the profile E is known.
static const double NEAR_TIP = 1e-3;

// E has no limit at a tip on the axis, and where its exponent is nearly 1 degrees change little:
// what the innermost elements are off shows in no difference.
static void mark_tip(double *e_uncertainty, const cavum_profile *p, double tip_z_m) {
  enum { POINTS = CAVUM_PROFILE_POINTS_PER_EDGE };
  double length = p->arc_length_m[p->num_points - 1], reach = 0.0;
  for (int pass = 0; pass < 2; pass++) {
    for (int64_t first = 0; first < p->num_points; first += POINTS) {
      double a = hypot(p->z_m[first] - tip_z_m, p->r_m[first]);
      double b = hypot(p->z_m[first + POINTS - 1] - tip_z_m, p->r_m[first + POINTS - 1]);
      bool at_tip = cavum_min(a, b) < 1e-13 * length;
      if (pass == 0 && at_tip) reach = REACH_OF_TIP * cavum_max(a, b);
      bool near = cavum_min(a, b) < reach && cavum_max(a, b) < NEAR_TIP * length;
      for (int i = 0; pass == 1 && near && i < POINTS; i++) e_uncertainty[first + i] = HUGE_VAL;
      if (at_tip) e_uncertainty[a < b ? first : first + POINTS - 1] = HUGE_VAL;
    }
  }
}

static cavum_status mark_tips(double *e_uncertainty, const cavum_profile *profile,
                              const cavum_view *view, cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double plane = cavum_mesh_mirror_plane_m(mesh);
  bool *marked = cavum_alloc(mesh->num_vertices, sizeof *marked);
  if (!marked) return cavum_fail_memory(error);
  cavum_status status = cavum_sharp_corner_mark(marked, view, error);
  for (cavum_index v = 0; status == CAVUM_OK && v < mesh->num_vertices; v++) {
    if (!marked[v] || mesh->vertices[v].r_m != 0.0) continue;
    mark_tip(e_uncertainty, profile, mesh->vertices[v].z_m);
    if (view->parity == CAVUM_PARITY_NONE) continue;
    mark_tip(e_uncertainty, profile, 2.0 * plane - mesh->vertices[v].z_m);
  }
  free(marked);
  return status;
}

// Degrees may agree by chance at a vertex of the axis, while the elements beside it do not.
static cavum_status raise_at_vertices(double *e_uncertainty, const cavum_view *view,
                                      cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  int64_t num_edges = view->boundary->num_axis;
  bool is_half = view->parity != CAVUM_PARITY_NONE;
  double *off = cavum_alloc(mesh->num_vertices, sizeof *off);
  if (!off) return cavum_fail_memory(error);
  cavum_status status = cavum_axis_vertices_error(off, view, error);
  for (int64_t i = 0; status == CAVUM_OK && i < num_edges; i++) {
    cavum_boundary_edge edge = view->boundary->axis[i];
    const cavum_element *element = &mesh->elements[edge.element];
    int next = (edge.local_edge + 1) % element->num_corners;
    double least = cavum_max(off[element->vertex[edge.local_edge]], off[element->vertex[next]]);
    raise_edge(e_uncertainty, is_half ? num_edges + i : i, least);
    if (is_half) raise_edge(e_uncertainty, num_edges - 1 - i, least);
  }
  free(off);
  return status;
}

cavum_status cavum_trace_uncertainty_fill(cavum_mode_result *mode, const cavum_problem *problem,
                                          int m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  trace_levels axis = {0}, wall = {0};
  const cavum_mode_levels levels = cavum_mode_levels_find(problem, m);
  if (mode->axis.num_points > 0) {
    CAVUM_TRY(collect(&axis, &mode->axis, &levels, cavum_profile_fill_axis, error));
    CAVUM_TRY(fill_field(&mode->axis_e_uncertainty_v_per_m, &axis, E_FIELD, error));
    CAVUM_TRY(raise_at_vertices(mode->axis_e_uncertainty_v_per_m, &levels.view[0], error));
    CAVUM_TRY(mark_tips(mode->axis_e_uncertainty_v_per_m, &mode->axis, &levels.view[0], error));
  }
  if (mode->wall.num_points > 0) {
    CAVUM_TRY(collect(&wall, &mode->wall, &levels, cavum_profile_fill_wall, error));
    CAVUM_TRY(fill_field(&mode->wall_e_uncertainty_v_per_m, &wall, E_FIELD, error));
    CAVUM_TRY(fill_field(&mode->wall_h_uncertainty_a_per_m, &wall, H_FIELD, error));
    mark_corners(mode->wall_e_uncertainty_v_per_m, &mode->wall);
    CAVUM_TRY(mark_tips(mode->wall_e_uncertainty_v_per_m, &mode->wall, &levels.view[0], error));
    raise_at_joints(mode->wall_e_uncertainty_v_per_m, &mode->wall);
  }
done:
  release(&axis);
  release(&wall);
  return status;
}
