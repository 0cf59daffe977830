// SPDX-License-Identifier: GPL-3.0-or-later
// Sampling of a mode for files and pictures.
#include "figures/profile.h"

#include "base/base.h"
#include "element/element_map.h"
#include "fem/quadrature.h"

// Points on one edge: enough that a line through them looks smooth at any usual size.
enum { POINTS_PER_EDGE = CAVUM_PROFILE_POINTS_PER_EDGE };
// Points of a rule between two of them: the arc length between them to rounding.
enum { LENGTH_RULE = 4 };

static cavum_status allocate(cavum_profile *profile, int64_t count, cavum_error *error) {
  profile->num_points = (cavum_index)count;
  profile->arc_length_m = cavum_alloc(count, sizeof(double));
  profile->z_m = cavum_alloc(count, sizeof(double));
  profile->r_m = cavum_alloc(count, sizeof(double));
  profile->e_v_per_m = cavum_alloc(count, sizeof(double));
  profile->h_a_per_m = cavum_alloc(count, sizeof(double));
  profile->curve = cavum_alloc(count, sizeof(cavum_index));
  bool have = profile->arc_length_m && profile->z_m && profile->r_m && profile->e_v_per_m &&
              profile->h_a_per_m && profile->curve;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

void cavum_profile_clear(cavum_profile *profile) {
  free(profile->arc_length_m);
  free(profile->z_m);
  free(profile->r_m);
  free(profile->e_v_per_m);
  free(profile->h_a_per_m);
  free(profile->curve);
  *profile = (cavum_profile){0};
}

static double position(int i, int count) { return -1.0 + 2.0 * i / (count - 1); }

double cavum_profile_wall_place(cavum_index *edge, cavum_index point) {
  *edge = point / POINTS_PER_EDGE;
  return position(point % POINTS_PER_EDGE, POINTS_PER_EDGE);
}

cavum_status cavum_profile_fill_axis(cavum_profile *profile, const cavum_view *view,
                                     cavum_error *error) {
  bool mirrored = view->parity != CAVUM_PARITY_NONE;
  int64_t half = (int64_t)view->boundary->num_axis * POINTS_PER_EDGE, count = half * (1 + mirrored);
  cavum_status status = allocate(profile, count, error);
  if (status != CAVUM_OK) return status;
  double sign = view->parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  double plane = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  for (int64_t i = 0; i < half; i++) {
    cavum_boundary_edge edge = view->boundary->axis[i / POINTS_PER_EDGE];
    cavum_trace trace = cavum_trace_create(&view->field, edge.element, edge.local_edge);
    double s = position((int)(i % POINTS_PER_EDGE), POINTS_PER_EDGE);
    int64_t at = mirrored ? half + i : i;
    profile->z_m[at] = cavum_trace_at(&trace, s).z_m;
    profile->e_v_per_m[at] = cavum_trace_axis_e_z(&trace, s);
    if (!mirrored) continue;
    profile->z_m[half - 1 - i] = 2.0 * plane - profile->z_m[at];
    profile->e_v_per_m[half - 1 - i] = sign * profile->e_v_per_m[at];
  }
  for (int64_t i = 0; i < count; i++) {
    profile->arc_length_m[i] = profile->z_m[i] - profile->z_m[0];
    profile->curve[i] = -1;
  }
  return CAVUM_OK;
}

/** A wall of a half model on its way to that of the whole cell. */
typedef struct wall_mirror {
  cavum_profile *whole;  // Filled from the front.
  const cavum_profile *half;
  double plane_m, sign;  // The mirror plane; -1 where H_phi is odd.
  int64_t filled;
} wall_mirror;

// Point i of the half, or its image. The normal turns round in z as E_z does not, so where H_phi is
// even the normal E is odd.
static void put_wall_point(wall_mirror *m, int64_t i, bool image, double arc_length_m) {
  int64_t to = m->filled++;
  const cavum_profile *half = m->half;
  m->whole->arc_length_m[to] = arc_length_m;
  m->whole->z_m[to] = image ? 2.0 * m->plane_m - half->z_m[i] : half->z_m[i];
  m->whole->r_m[to] = half->r_m[i];
  m->whole->e_v_per_m[to] = image ? -m->sign * half->e_v_per_m[i] : half->e_v_per_m[i];
  m->whole->h_a_per_m[to] = image ? m->sign * half->h_a_per_m[i] : half->h_a_per_m[i];
  m->whole->curve[to] = half->curve[i];
}

// A piece of wall without gaps, from `first` up to `end`, and its image, whose points run
// backwards: before the piece where that begins at the plane, else behind it.
static void put_wall_piece(wall_mirror *m, int64_t first, int64_t end, bool image_first) {
  const double *s = m->half->arc_length_m;
  double start_m = m->filled > 0 ? m->whole->arc_length_m[m->filled - 1] : 0.0;
  double length_m = s[end - 1] - s[first];
  for (int pass = 0; pass < 2; pass++) {
    bool image = (pass == 0) == image_first;
    for (int64_t k = 0; k < end - first; k++) {
      int64_t i = image ? end - 1 - k : first + k;
      double along_m = image ? s[end - 1] - s[i] : s[i] - s[first];
      put_wall_point(m, i, image, start_m + (pass == 0 ? 0.0 : length_m) + along_m);
    }
  }
}

// Two edges that follow each other share a point, but for rounding.
static bool is_gap(const cavum_profile *wall, int64_t i) {
  double jump = hypot(wall->z_m[i] - wall->z_m[i - 1], wall->r_m[i] - wall->r_m[i - 1]);
  return i % POINTS_PER_EDGE == 0 && jump > 1e-9 * wall->arc_length_m[wall->num_points - 1];
}

static void mirror_wall(cavum_profile *whole, const cavum_profile *half, const cavum_view *view) {
  wall_mirror m = {.whole = whole,
                   .half = half,
                   .plane_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh),
                   .sign = view->parity == CAVUM_PARITY_ODD ? -1.0 : 1.0};
  double near_m = 1e-9 * half->arc_length_m[half->num_points - 1];
  for (int64_t i = 1, first = 0; i <= half->num_points; i++) {
    if (i < half->num_points && !is_gap(half, i)) continue;
    bool begins = fabs(half->z_m[first] - m.plane_m) <= near_m;
    bool ends = fabs(half->z_m[i - 1] - m.plane_m) <= near_m;
    put_wall_piece(&m, first, i, begins && !ends);
    first = i;
  }
}

// A Gauss rule, and the length of an edge from point k - 1 to point k by it.
typedef struct length_rule {
  double s[LENGTH_RULE], weight[LENGTH_RULE];
} length_rule;

static double length_before(const length_rule *rule, const cavum_mesh *mesh,
                            cavum_boundary_edge edge, int k) {
  double from = position(k - 1, POINTS_PER_EDGE), half = 1.0 / (POINTS_PER_EDGE - 1), sum = 0.0;
  for (int i = 0; i < LENGTH_RULE; i++) {
    double s = from + half * (1.0 + rule->s[i]);
    cavum_edge_position at = cavum_element_edge_at(mesh, edge.element, edge.local_edge, s);
    sum += rule->weight[i] * hypot(at.z_x, at.r_x);
  }
  return half * sum;
}

static void sample_wall(cavum_profile *profile, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double length = 0.0;
  length_rule rule;
  cavum_quadrature_gauss(rule.s, rule.weight, LENGTH_RULE);
  for (int64_t i = 0; i < profile->num_points; i++) {
    cavum_boundary_edge edge = view->boundary->conducting[i / POINTS_PER_EDGE];
    cavum_trace trace = cavum_trace_create(&view->field, edge.element, edge.local_edge);
    int k = (int)(i % POINTS_PER_EDGE);
    cavum_wall_point at = cavum_trace_at(&trace, position(k, POINTS_PER_EDGE));
    if (k > 0) length += length_before(&rule, mesh, edge, k);
    profile->arc_length_m[i] = length;
    profile->z_m[i] = at.z_m;
    profile->r_m[i] = at.r_m;
    profile->e_v_per_m[i] = at.e_normal_v_per_m;
    profile->h_a_per_m[i] = at.h_phi_a_per_m;
    profile->curve[i] = mesh->edges[mesh->elements[edge.element].edge[edge.local_edge]].curve;
  }
}

cavum_status cavum_profile_fill_wall(cavum_profile *profile, const cavum_view *view,
                                     cavum_error *error) {
  bool mirrored = view->parity != CAVUM_PARITY_NONE;
  int64_t count = (int64_t)view->boundary->num_metal * POINTS_PER_EDGE;
  cavum_profile half = {0};
  cavum_status status = allocate(profile, count * (1 + mirrored), error);
  if (status == CAVUM_OK && mirrored) status = allocate(&half, count, error);
  if (status == CAVUM_OK && !mirrored) sample_wall(profile, view);
  if (status == CAVUM_OK && mirrored && count > 0) {
    sample_wall(&half, view);
    mirror_wall(profile, &half, view);
  }
  cavum_profile_clear(&half);
  return status;
}

// Fields are not polynomials on curved elements: four orders more than the degree bring what is
// between the lattice points to about 1e-6 on the example cells, and low degrees need 12.
int cavum_profile_choose_order(const cavum_mesh *mesh, int degree) {
  enum { EXTRA_ORDER = 4, SMALLEST_ORDER = 12, LARGEST_ORDER = 16, MOST_POINTS = 1000000 };
  int order = degree + EXTRA_ORDER;
  if (order < SMALLEST_ORDER) order = SMALLEST_ORDER;
  if (order > LARGEST_ORDER) order = LARGEST_ORDER;
  while (order > degree && order > 1 &&
         (int64_t)mesh->num_elements * (order + 1) * (order + 1) > MOST_POINTS) {
    order--;
  }
  return order;
}

static void put_point(cavum_field_grid *grid, int64_t at, const cavum_field_point *point) {
  grid->z_m[at] = point->z_m;
  grid->r_m[at] = point->r_m;
  grid->h_phi_a_per_m[at] = point->h_phi_a_per_m;
  grid->e_z_v_per_m[at] = point->e_z_v_per_m;
  grid->e_r_v_per_m[at] = point->e_r_v_per_m;
}

static void fill_quadrilateral(cavum_field_grid *grid, int64_t at, const cavum_view *view,
                               cavum_index e, const double *local) {
  cavum_field_point point[CAVUM_FIELD_GRID_MOST * CAVUM_FIELD_GRID_MOST];
  double x[CAVUM_FIELD_GRID_MOST];
  int count = grid->order + 1;
  for (int i = 0; i < count; i++) x[i] = 2.0 * i / grid->order - 1.0;
  cavum_field_on_grid(point, &view->field, e, local, count, x);
  for (int i = 0; i < count * count; i++) put_point(grid, at + i, &point[i]);
}

static void fill_element(cavum_field_grid *grid, int64_t at, const cavum_view *view, cavum_index e,
                         const double *local, int corners) {
  if (corners == 4 && grid->order < CAVUM_FIELD_GRID_MOST) {
    fill_quadrilateral(grid, at, view, e, local);
    return;
  }
  for (int j = 0; j <= grid->order; j++) {
    for (int i = 0; i <= (corners == 4 ? grid->order : grid->order - j); i++, at++) {
      double a = (double)i / grid->order, b = (double)j / grid->order;
      cavum_field_point point =
          corners == 4 ? cavum_field_at(&view->field, e, local, 2.0 * a - 1.0, 2.0 * b - 1.0)
                       : cavum_field_at(&view->field, e, local, a, b);
      put_point(grid, at, &point);
    }
  }
}

cavum_status cavum_profile_fill_grid(cavum_field_grid *grid, const cavum_view *view, int order,
                                     cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double local[CAVUM_SHAPES_MOST];
  int64_t count = 0, at = 0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    count += cavum_element_lattice_count(mesh->elements[e].num_corners, order);
  }
  if (count > INT32_MAX) return cavum_fail_memory(error);
  grid->order = order;
  grid->num_points = (cavum_index)count;
  grid->z_m = cavum_alloc(count, sizeof(double));
  grid->r_m = cavum_alloc(count, sizeof(double));
  grid->h_phi_a_per_m = cavum_alloc(count, sizeof(double));
  grid->e_z_v_per_m = cavum_alloc(count, sizeof(double));
  grid->e_r_v_per_m = cavum_alloc(count, sizeof(double));
  if (!grid->z_m || !grid->r_m || !grid->h_phi_a_per_m || !grid->e_z_v_per_m ||
      !grid->e_r_v_per_m) {
    return cavum_fail_memory(error);
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_field_gather(local, &view->field, e);
    fill_element(grid, at, view, e, local, mesh->elements[e].num_corners);
    at += cavum_element_lattice_count(mesh->elements[e].num_corners, order);
  }
  return CAVUM_OK;
}
