// SPDX-License-Identifier: GPL-3.0-or-later
// Densities along the metal wall, at the Gauss points of its edges.
#include "figures/wall_density.h"

#include "base/base.h"
#include "element/element_map.h"
#include "fem/quadrature.h"

// Points between two neighbouring samples: the arc length between them to rounding.
enum { LENGTH_RULE = 4 };

// A point of the rule: sample k of edge i of the mesh.
typedef struct place {
  cavum_boundary_edge edge;
  const cavum_wall_shape *shape;
  const cavum_region *region;
  int k;
} place;

static place place_of(const cavum_view *view, int64_t point) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  int64_t i = point / CAVUM_WALL_RULE;
  cavum_boundary_edge edge = view->boundary->conducting[i];
  return (place){.edge = edge,
                 .shape = &view->boundary->shape[i],
                 .region = &mesh->regions[mesh->elements[edge.element].region],
                 .k = 1 + (int)(point % CAVUM_WALL_RULE)};
}

static int64_t points_of_mesh(const cavum_view *view) {
  return (int64_t)view->boundary->num_metal * CAVUM_WALL_RULE;
}

static bool is_mirrored(const cavum_view *view) { return view->parity != CAVUM_PARITY_NONE; }

static cavum_status allocate(cavum_wall_density *d, int64_t count, cavum_error *error) {
  double **lists[] = {&d->arc_length_m, &d->z_m,     &d->r_m,         &d->normal_z,
                      &d->normal_r,     &d->area_m2, &d->pressure_pa, &d->frequency_hz_per_m3};
  bool have = true;
  for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
    *lists[i] = cavum_alloc(count, sizeof(double));
    have = have && *lists[i];
  }
  d->curve = cavum_alloc(count, sizeof *d->curve);
  d->num_points = (cavum_index)count;
  return have && d->curve ? CAVUM_OK : cavum_fail_memory(error);
}

// Length of an edge between two positions on it.
static double length_between(const cavum_view *view, cavum_boundary_edge edge, double from,
                             double to, const double *s, const double *weight) {
  double sum = 0.0, half = 0.5 * (to - from);
  for (int i = 0; i < LENGTH_RULE; i++) {
    double at = from + half * (1.0 + s[i]);
    cavum_edge_position side =
        cavum_element_edge_at(view->field.discretisation->mesh, edge.element, edge.local_edge, at);
    sum += weight[i] * hypot(side.z_x, side.r_x);
  }
  return half * sum;
}

static void fill_places(cavum_wall_density *d, const cavum_view *view) {
  double s[LENGTH_RULE], weight[LENGTH_RULE], length = 0.0;
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_mesh_boundary *boundary = view->boundary;
  int64_t count = points_of_mesh(view);
  cavum_quadrature_gauss(s, weight, LENGTH_RULE);
  for (int64_t i = 0; i < count; i++) {
    place at = place_of(view, i);
    int k = at.k;
    const double *sample = boundary->sample;
    length += length_between(view, at.edge, sample[k - 1], sample[k], s, weight);
    d->arc_length_m[i] = length;
    if (k == CAVUM_WALL_RULE) {
      length += length_between(view, at.edge, sample[k], sample[k + 1], s, weight);
    }
    d->z_m[i] = at.shape->z_m[k];
    d->r_m[i] = at.shape->r_m[k];
    d->normal_z[i] = at.shape->r_s[k] / at.shape->length_s[k];  // right of travel
    d->normal_r[i] = -at.shape->z_s[k] / at.shape->length_s[k];
    d->area_m2[i] = 2.0 * CAVUM_PI * boundary->weight[k] * at.shape->length_s[k] * d->r_m[i];
    d->curve[i] = mesh->edges[mesh->elements[at.edge.element].edge[at.edge.local_edge]].curve;
  }
  if (!is_mirrored(view)) return;
  // The image goes on from the plane where the half ends: the points backwards.
  double plane = cavum_mesh_mirror_plane_m(mesh);
  for (int64_t i = 0; i < count; i++) {
    int64_t to = 2 * count - 1 - i;
    d->arc_length_m[to] = 2.0 * length - d->arc_length_m[i];
    d->z_m[to] = 2.0 * plane - d->z_m[i];
    d->r_m[to] = d->r_m[i];
    d->normal_z[to] = -d->normal_z[i];
    d->normal_r[to] = d->normal_r[i];
    d->area_m2[to] = d->area_m2[i];
    d->curve[to] = d->curve[i];
  }
}

// Densities are even about a mirror plane.
static void mirror_values(double *values, const cavum_view *view) {
  int64_t count = points_of_mesh(view);
  for (int64_t i = 0; is_mirrored(view) && i < count; i++) values[2 * count - 1 - i] = values[i];
}

cavum_status cavum_wall_density_fill(cavum_wall_density *density, const cavum_view *view,
                                     cavum_error *error) {
  int64_t count = points_of_mesh(view);
  cavum_status status = allocate(density, count * (1 + is_mirrored(view)), error);
  if (status != CAVUM_OK) return status;
  double frequency_hz = view->field.angular_frequency / (2.0 * CAVUM_PI);
  fill_places(density, view);
  for (int64_t i = 0; i < count; i++) {
    place at = place_of(view, i);
    cavum_trace trace = cavum_trace_create(&view->field, at.edge.element, at.edge.local_edge);
    cavum_wall_point field = cavum_trace_at(&trace, view->boundary->sample[at.k]);
    double h = field.h_phi_a_per_m, e = field.e_normal_v_per_m;
    double pressure =
        0.25 * (CAVUM_MU0 * at.region->mu_r * h * h - CAVUM_EPS0 * at.region->eps_r * e * e);
    density->pressure_pa[i] = pressure;
    density->frequency_hz_per_m3[i] = -frequency_hz * pressure;  // at one joule
  }
  mirror_values(density->pressure_pa, view);
  mirror_values(density->frequency_hz_per_m3, view);
  return CAVUM_OK;
}

void cavum_wall_density_of_form(double *values, const cavum_view *view, const cavum_form *form) {
  cavum_field of_x = view->field, of_u = view->field;
  double w_eps0 = view->field.angular_frequency * CAVUM_EPS0;
  of_x.scale = of_u.scale = 1.0;
  of_u.vector = form->u;
  for (int64_t i = 0; i < points_of_mesh(view); i++) {
    place at = place_of(view, i);
    double s = view->boundary->sample[at.k];
    cavum_trace x = cavum_trace_create(&of_x, at.edge.element, at.edge.local_edge);
    cavum_trace u = cavum_trace_create(&of_u, at.edge.element, at.edge.local_edge);
    cavum_wall_point on_x = cavum_trace_at(&x, s), on_u = cavum_trace_at(&u, s);
    double electric =
        at.region->eps_r * w_eps0 * w_eps0 * on_u.e_normal_v_per_m * on_x.e_normal_v_per_m;
    double mass = form->mass_u * on_u.h_phi_a_per_m + form->mass_x * on_x.h_phi_a_per_m;
    double magnetic = at.region->mu_r * mass * on_x.h_phi_a_per_m;
    values[i] = (electric - magnetic) / (2.0 * CAVUM_PI * view->copies);
  }
  mirror_values(values, view);
}

// Of the wall in the section, 1/m; positive where the cell is convex.
static double curvature(const cavum_view *view, const place *at) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_element *element = &mesh->elements[at->edge.element];
  const cavum_edge *edge = &mesh->edges[element->edge[at->edge.local_edge]];
  if (edge->curve < 0) return 0.0;
  double sense = element->reversed[at->edge.local_edge] ? -1.0 : 1.0;
  double t = 0.5 * (edge->t[0] + edge->t[1]) +
             0.5 * sense * (edge->t[1] - edge->t[0]) * view->boundary->sample[at->k];
  const cavum_curve *curve = &mesh->curves[edge->curve];
  cavum_point first = cavum_curve_derivative(curve, t);
  cavum_point second = cavum_curve_second_derivative(curve, t);
  double speed = hypot(first.z_m, first.r_m);
  return (first.z_m * second.r_m - first.r_m * second.z_m) / (speed * speed * speed);
}

void cavum_wall_density_of_loss(double *values, const cavum_view *view) {
  for (int64_t i = 0; i < points_of_mesh(view); i++) {
    place at = place_of(view, i);
    cavum_trace trace = cavum_trace_create(&view->field, at.edge.element, at.edge.local_edge);
    cavum_wall_point on = cavum_trace_at(&trace, view->boundary->sample[at.k]);
    double normal_r = -at.shape->z_s[at.k] / at.shape->length_s[at.k];
    double h2 = on.h_phi_a_per_m * on.h_phi_a_per_m;
    values[i] = h2 * (curvature(view, &at) - normal_r / on.r_m);
  }
  mirror_values(values, view);
}
