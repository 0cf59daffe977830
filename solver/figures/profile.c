// SPDX-License-Identifier: GPL-3.0-or-later
// Sampling of a mode for files and pictures.
#include "figures/profile.h"

#include "base/base.h"
#include "element/element_map.h"

// Points on one edge: enough that a line through them looks smooth at any usual size.
enum { POINTS_PER_EDGE = 24 };

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

static double position(int i, int count) { return -1.0 + 2.0 * i / (count - 1); }

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

// The image of a half wall, which goes on from the plane where the half ends: the points backwards.
// The normal turns round in z as E_z does not, so where H_phi is even the normal E is odd.
static void mirror_wall(cavum_profile *wall, int64_t half, const cavum_view *view) {
  double sign = view->parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  double plane = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  for (int64_t i = 0; i < half; i++) {
    int64_t to = 2 * half - 1 - i;
    wall->arc_length_m[to] = 2.0 * wall->arc_length_m[half - 1] - wall->arc_length_m[i];
    wall->z_m[to] = 2.0 * plane - wall->z_m[i];
    wall->r_m[to] = wall->r_m[i];
    wall->e_v_per_m[to] = -sign * wall->e_v_per_m[i];
    wall->h_a_per_m[to] = sign * wall->h_a_per_m[i];
    wall->curve[to] = wall->curve[i];
  }
}

cavum_status cavum_profile_fill_wall(cavum_profile *profile, const cavum_view *view,
                                     cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  bool mirrored = view->parity != CAVUM_PARITY_NONE;
  int64_t count = (int64_t)view->boundary->num_metal * POINTS_PER_EDGE;
  cavum_status status = allocate(profile, count * (1 + mirrored), error);
  if (status != CAVUM_OK) return status;
  double length = 0.0, speed_before = 0.0;
  for (int64_t i = 0; i < count; i++) {
    cavum_boundary_edge edge = view->boundary->conducting[i / POINTS_PER_EDGE];
    cavum_trace trace = cavum_trace_create(&view->field, edge.element, edge.local_edge);
    int k = (int)(i % POINTS_PER_EDGE);
    cavum_wall_point at = cavum_trace_at(&trace, position(k, POINTS_PER_EDGE));
    double speed = hypot(at.z_s, at.r_s);
    // The trapezoidal rule is enough for the abscissa of a plot.
    if (k > 0) length += (speed + speed_before) / (POINTS_PER_EDGE - 1);
    speed_before = speed;
    profile->arc_length_m[i] = length;
    profile->z_m[i] = at.z_m;
    profile->r_m[i] = at.r_m;
    profile->e_v_per_m[i] = at.e_normal_v_per_m;
    profile->h_a_per_m[i] = at.h_phi_a_per_m;
    profile->curve[i] = mesh->edges[mesh->elements[edge.element].edge[edge.local_edge]].curve;
  }
  if (mirrored) mirror_wall(profile, count, view);
  return CAVUM_OK;
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
