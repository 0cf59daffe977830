// SPDX-License-Identifier: GPL-3.0-or-later
// The outline of a cell from the boundary edges of its mesh, in order, with the curved shape that
// the positions of the field grid hold; scales for its fields.
#include "picture/scene.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "canvas/quantile.h"

// Divisions of a boundary edge: an eighth of a circle in 32 pieces is a circle at any usual size.
enum { EDGE_LEVEL = 5, EDGE_PIECES = 1 << EDGE_LEVEL };
// Share of the area that the colour scale of a field covers when a sharp corner makes the largest
// value meaningless.
static const double COVERED_SHARE = 0.995;
// Corners as close as this, of the length of the cell, are one: both curves there have a point.
static const double SAME_CORNER = 1e-6;

const char *cavum_scene_e_label(const cavum_scene *scene) {
  return scene->per_gradient ? "|E| / E_{acc}" : "|E| at 1 J in MV/m";
}

const char *cavum_scene_h_label(const cavum_scene *scene) {
  return scene->per_gradient ? "\xc2\xb5_{0}|H| / E_{acc} in mT/(MV/m)"
                             : "\xc2\xb5_{0}|H| at 1 J in mT";
}

cavum_mark_places cavum_scene_peak_places(const cavum_scene *scene, const cavum_figure *peak) {
  if (peak->state == CAVUM_FIGURE_ABSENT || !peak->has_position) return (cavum_mark_places){0};
  bool unbounded = peak->state == CAVUM_FIGURE_UNBOUNDED;
  if (unbounded && scene->num_corners > 0) {
    return (cavum_mark_places){scene->num_corners, scene->corners, true};
  }
  return (cavum_mark_places){1, &peak->at, unbounded};
}

static cavum_index start_vertex(const cavum_mesh *mesh, cavum_index edge, int after) {
  const cavum_element *element = &mesh->elements[mesh->edges[edge].element[0]];
  return element->vertex[(mesh->edges[edge].local[0] + after) % element->num_corners];
}

static bool is_boundary(const cavum_edge *edge) {
  return edge->element[1] < 0 && edge->element[0] >= 0;
}

static bool reserve_loop(cavum_scene_loop *loop, int64_t count) {
  loop->z_m = cavum_alloc(count, sizeof *loop->z_m);
  loop->r_m = cavum_alloc(count, sizeof *loop->r_m);
  loop->boundary = cavum_alloc(count, sizeof *loop->boundary);
  return loop->z_m && loop->r_m && loop->boundary;
}

static cavum_status add_edge(cavum_scene_loop *loop, cavum_scene *scene, cavum_index index,
                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_edge *edge = &scene->result->mesh.edges[index];
  const cavum_field_grid *field = &scene->mode->field;
  int corners = scene->result->mesh.elements[edge->element[0]].num_corners;
  int64_t first = scene->first_point[edge->element[0]];
  double z[EDGE_PIECES + 1], r[EDGE_PIECES + 1];
  CAVUM_TRY(cavum_lattice_refine_edge(z, &scene->lattice, field->z_m + first, corners,
                                      edge->local[0], EDGE_LEVEL, error));
  CAVUM_TRY(cavum_lattice_refine_edge(r, &scene->lattice, field->r_m + first, corners,
                                      edge->local[0], EDGE_LEVEL, error));
  for (int i = 0; i < EDGE_PIECES; i++) {
    int n = loop->num_points++;
    loop->z_m[n] = z[i];
    loop->r_m[n] = r[i];
    loop->boundary[n] = (unsigned char)edge->boundary;
  }
  // The end, for the case that no edge follows; overwritten by the next edge's start.
  loop->z_m[loop->num_points] = z[EDGE_PIECES];
  loop->r_m[loop->num_points] = r[EDGE_PIECES];
done:
  return status;
}

// The chain from mirror plane to mirror plane, followed by its image backwards.
static void add_image(cavum_scene_loop *loop, double mirror_m) {
  int n = loop->num_points;  // Pieces of the half; point n is its end.
  for (int i = 0; i < n; i++) {
    loop->z_m[n + i] = i == 0 ? loop->z_m[n] : 2.0 * mirror_m - loop->z_m[n - i];
    loop->r_m[n + i] = loop->r_m[n - i];
    loop->boundary[n + i] = loop->boundary[n - 1 - i];
  }
  loop->num_points = 2 * n;
}

// Follows one boundary from an edge; edges of the mirror plane are left out of a half model.
static cavum_status walk(cavum_scene_loop *loop, cavum_scene *scene, cavum_index first,
                         const cavum_index *edge_from, bool *taken, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  int64_t count = 0;
  cavum_index edge = first;
  for (; edge >= 0 && !taken[edge]; count++) {
    taken[edge] = true;
    edge = edge_from[start_vertex(mesh, edge, 1)];
  }
  if (!reserve_loop(loop, 2 * count * EDGE_PIECES + 1)) CAVUM_TRY(cavum_fail_memory(error));
  edge = first;
  for (int64_t i = 0; i < count; i++) {
    if (!scene->result->half_model || mesh->edges[edge].boundary != CAVUM_BOUNDARY_SYMMETRY) {
      CAVUM_TRY(add_edge(loop, scene, edge, error));
    }
    edge = edge_from[start_vertex(mesh, edge, 1)];
  }
  if (scene->result->half_model) add_image(loop, scene->mirror_m);
done:
  return status;
}

// In a half model a walk starts just behind the mirror plane.
static bool may_start(const cavum_scene *scene, const cavum_index *edge_to, cavum_index edge) {
  const cavum_mesh *mesh = &scene->result->mesh;
  if (!scene->result->half_model) return true;
  if (mesh->edges[edge].boundary == CAVUM_BOUNDARY_SYMMETRY) return false;
  cavum_index before = edge_to[start_vertex(mesh, edge, 0)];
  return before >= 0 && mesh->edges[before].boundary == CAVUM_BOUNDARY_SYMMETRY;
}

static cavum_status collect_loops(cavum_scene *scene, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &scene->result->mesh;
  cavum_index *edge_from = cavum_alloc(mesh->num_vertices, sizeof *edge_from);
  cavum_index *edge_to = cavum_alloc(mesh->num_vertices, sizeof *edge_to);
  bool *taken = cavum_alloc(mesh->num_edges, sizeof *taken);
  scene->loops = cavum_alloc(mesh->num_edges, sizeof *scene->loops);
  if (!edge_from || !edge_to || !taken || !scene->loops) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index v = 0; v < mesh->num_vertices; v++) edge_from[v] = edge_to[v] = -1;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (!is_boundary(&mesh->edges[e])) continue;
    edge_from[start_vertex(mesh, e, 0)] = e;
    edge_to[start_vertex(mesh, e, 1)] = e;
  }
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (taken[e] || !is_boundary(&mesh->edges[e]) || !may_start(scene, edge_to, e)) continue;
    CAVUM_TRY(walk(&scene->loops[scene->num_loops++], scene, e, edge_from, taken, error));
  }
done:
  free(edge_from);
  free(edge_to);
  free(taken);
  return status;
}

// Area of each element shared among its points.
static void fill_weights(double *weights, const cavum_scene *scene) {
  const cavum_mesh *mesh = &scene->result->mesh;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    int count = cavum_element_lattice_count(element->num_corners, scene->mode->field.order);
    double area = 0.0;
    for (int k = 0; k < element->num_corners; k++) {
      cavum_point a = mesh->vertices[element->vertex[k]];
      cavum_point b = mesh->vertices[element->vertex[(k + 1) % element->num_corners]];
      area += 0.5 * (a.z_m * b.r_m - b.z_m * a.r_m);
    }
    for (int i = 0; i < count; i++) weights[scene->first_point[e] + i] = fabs(area) / count;
  }
}

// Largest value of a field (a, b), or of a alone; near a sharp corner the one that nearly all of
// the area stays below.
static cavum_status find_largest(double *largest, const cavum_scene *scene, const double *a,
                                 const double *b, bool unbounded, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index count = scene->mode->field.num_points;
  double *sizes = cavum_alloc(count, sizeof *sizes);
  double *weights = cavum_alloc(count, sizeof *weights);
  if (!sizes || !weights) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index i = 0; i < count; i++) sizes[i] = b ? hypot(a[i], b[i]) : fabs(a[i]);
  fill_weights(weights, scene);
  CAVUM_TRY(
      cavum_quantile_find(largest, sizes, weights, count, unbounded ? COVERED_SHARE : 1.0, error));
  if (!(*largest > 0.0)) *largest = 1.0;
done:
  free(sizes);
  free(weights);
  return status;
}

// Whether E has no limit in some elements, as at the edge of a dielectric that touches no wall:
// its uncertainty is infinite there. After a solve at one degree alone it is so everywhere.
static bool is_unbounded_inside(const cavum_scene *scene) {
  const double *uncertainty = scene->mode->field_e_uncertainty_v_per_m;
  cavum_index all = scene->result->mesh.num_elements, count = 0;
  for (cavum_index e = 0; uncertainty && e < all; e++) count += isinf(uncertainty[e]) != 0;
  return count > 0 && count < all;
}

static cavum_status set_scales(cavum_scene *scene, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mode_result *mode = scene->mode;
  const cavum_field_grid *field = &mode->field;
  const cavum_figure *gradient = &mode->figures[CAVUM_FIGURE_EACC_AT_1_J];
  scene->per_gradient = gradient->state == CAVUM_FIGURE_PRESENT && gradient->value > 0.0;
  if (scene->per_gradient) {
    scene->e_factor = 1.0 / gradient->value;
    scene->h_factor =
        cavum_in_unit(CAVUM_MU0 / gradient->value, CAVUM_UNIT_MILLITESLA_PER_MV_PER_M);
  } else {
    scene->e_factor = cavum_in_unit(1.0, CAVUM_UNIT_MV_PER_M);
    scene->h_factor = cavum_in_unit(CAVUM_MU0, CAVUM_UNIT_MILLITESLA);
  }
  bool on_metal = mode->figures[CAVUM_FIGURE_EPK_OVER_EACC].state == CAVUM_FIGURE_UNBOUNDED;
  scene->e_goes_on_inside = !on_metal && is_unbounded_inside(scene);
  scene->e_goes_on = on_metal || scene->e_goes_on_inside;
  scene->h_goes_on = mode->figures[CAVUM_FIGURE_BPK_OVER_EACC].state == CAVUM_FIGURE_UNBOUNDED;
  CAVUM_TRY(find_largest(&scene->e_largest, scene, field->e_z_v_per_m, field->e_r_v_per_m,
                         scene->e_goes_on, error));
  CAVUM_TRY(
      find_largest(&scene->h_largest, scene, field->h_phi_a_per_m, NULL, scene->h_goes_on, error));
  scene->e_largest *= scene->e_factor;
  scene->h_largest *= scene->h_factor;
done:
  return status;
}

static void set_extent(cavum_scene *scene) {
  scene->z_low_m = HUGE_VAL;
  scene->z_high_m = -HUGE_VAL;
  for (int l = 0; l < scene->num_loops; l++) {
    for (int i = 0; i < scene->loops[l].num_points; i++) {
      scene->z_low_m = cavum_min(scene->z_low_m, scene->loops[l].z_m[i]);
      scene->z_high_m = cavum_max(scene->z_high_m, scene->loops[l].z_m[i]);
      scene->r_high_m = cavum_max(scene->r_high_m, scene->loops[l].r_m[i]);
    }
  }
}

static void take_corner(cavum_scene *scene, cavum_point at) {
  double near = SAME_CORNER * (scene->z_high_m - scene->z_low_m);
  for (int i = 0; i < scene->num_corners; i++) {
    const cavum_point *c = &scene->corners[i];
    if (hypot(c->z_m - at.z_m, c->r_m - at.r_m) <= near) return;
  }
  scene->corners[scene->num_corners++] = at;
}

// An unbounded peak names one corner. The others are where E along the wall has no limit, so that
// its uncertainty is infinite; after a solve at one degree alone it is so everywhere.
static cavum_status collect_corners(cavum_scene *scene, cavum_error *error) {
  const cavum_figure *peak = &scene->mode->figures[CAVUM_FIGURE_EPK_OVER_EACC];
  const cavum_profile *wall = &scene->mode->wall;
  const double *uncertainty = scene->mode->wall_e_uncertainty_v_per_m;
  cavum_index count = 0;
  if (peak->state != CAVUM_FIGURE_UNBOUNDED || !peak->has_position) return CAVUM_OK;
  for (cavum_index i = 0; uncertainty && i < wall->num_points; i++) count += isinf(uncertainty[i]);
  if (count == wall->num_points) count = 0;
  scene->corners = cavum_alloc((int64_t)count + 1, sizeof *scene->corners);
  if (!scene->corners) return cavum_fail_memory(error);
  take_corner(scene, peak->at);
  for (cavum_index i = 0; count > 0 && i < wall->num_points; i++) {
    if (isinf(uncertainty[i])) take_corner(scene, (cavum_point){wall->z_m[i], wall->r_m[i]});
  }
  return CAVUM_OK;
}

cavum_status cavum_scene_create(cavum_scene *scene, const cavum_result *result, int number,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &result->mesh;
  int64_t first = 0;
  memset(scene, 0, sizeof *scene);
  if (number < 1 || number > result->num_modes) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no mode %d: the result has %d", number,
                      result->num_modes);
  }
  scene->result = result;
  scene->mode = &result->modes[number - 1];
  scene->mode_number = number;
  scene->mirror_m = cavum_mesh_mirror_plane_m(mesh);
  if (scene->mode->field.num_points == 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "mode %d has no field grid to draw: solve again "
                      "without --field-order 0",
                      number);
  }
  scene->first_point = cavum_alloc(mesh->num_elements, sizeof *scene->first_point);
  if (!scene->first_point) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_lattice_create(&scene->lattice, scene->mode->field.order, error));
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    scene->first_point[e] = first;
    first += cavum_element_lattice_count(mesh->elements[e].num_corners, scene->mode->field.order);
  }
  CAVUM_TRY(collect_loops(scene, error));
  CAVUM_TRY(set_scales(scene, error));
  set_extent(scene);
  CAVUM_TRY(collect_corners(scene, error));
  if (!(scene->z_high_m > scene->z_low_m) || !(scene->r_high_m > 0.0)) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "the mesh of the result has no outline"));
  }
done:
  return status;
}

void cavum_scene_clear(cavum_scene *scene) {
  if (!scene) return;
  for (int l = 0; scene->loops && l < scene->num_loops; l++) {
    free(scene->loops[l].z_m);
    free(scene->loops[l].r_m);
    free(scene->loops[l].boundary);
  }
  free(scene->loops);
  free(scene->first_point);
  free(scene->corners);
  cavum_lattice_clear(&scene->lattice);
  memset(scene, 0, sizeof *scene);
}
