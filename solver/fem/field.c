// SPDX-License-Identifier: GPL-3.0-or-later
// Evaluation of one mode.
#include "fem/field.h"

#include "base/base.h"
#include "element/element_map.h"

static double permittivity(const cavum_field *field, cavum_index e) {
  const cavum_mesh *mesh = field->discretisation->mesh;
  return CAVUM_EPS0 * mesh->regions[mesh->elements[e].region].eps_r;
}

static bool solves_for_w(const cavum_field *field) {
  return field->discretisation->unknown == CAVUM_UNKNOWN_H_OVER_R;
}

cavum_field cavum_field_create(const cavum_discretisation *discretisation, const double *vector,
                               double k2_per_m2) {
  const cavum_mesh *mesh = discretisation->mesh;
  cavum_field field = {.discretisation = discretisation, .vector = vector, .k2_per_m2 = k2_per_m2};
  field.angular_frequency = CAVUM_C_M_PER_S * sqrt(cavum_max(k2_per_m2, 0.0));
  field.scale = 1.0 / sqrt(CAVUM_PI * CAVUM_MU0);
  double largest = 0.0;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    double h = vector[i] * (solves_for_w(&field) ? mesh->vertices[i].r_m : 1.0);
    // A margin keeps the sign from hanging on rounding where a mode is odd.
    if (fabs(h) > 1.0001 * fabs(largest)) largest = h;
  }
  if (largest < 0.0) field.scale = -field.scale;
  return field;
}

void cavum_field_gather(double *local, const cavum_field *field, cavum_index element) {
  const cavum_mesh *mesh = field->discretisation->mesh;
  int count = cavum_shape_count(mesh->elements[element].num_corners,
                                field->discretisation->reference->degree);
  cavum_space_gather(local, &field->discretisation->space, element, field->vector);
  for (int a = 0; a < count; a++) local[a] *= field->scale;
}

// The function and its reference derivatives; on quadrilaterals from the segment functions.
static void sum_functions(double out[3], const cavum_reference *ref, int corners,
                          const double *local, double xi, double eta) {
  out[0] = out[1] = out[2] = 0.0;
  if (corners == 3) {
    double value[CAVUM_SHAPES_MOST], d_xi[CAVUM_SHAPES_MOST], d_eta[CAVUM_SHAPES_MOST];
    cavum_shape_element(value, d_xi, d_eta, corners, ref->degree, xi, eta);
    for (int a = 0; a < cavum_shape_count(corners, ref->degree); a++) {
      out[0] += local[a] * value[a];
      out[1] += local[a] * d_xi[a];
      out[2] += local[a] * d_eta[a];
    }
    return;
  }
  double x[CAVUM_DEGREE_MOST + 1], dx[CAVUM_DEGREE_MOST + 1];
  double y[CAVUM_DEGREE_MOST + 1], dy[CAVUM_DEGREE_MOST + 1];
  cavum_shape_segment(x, dx, ref->degree, xi);
  cavum_shape_segment(y, dy, ref->degree, eta);
  for (int a = 0; a < ref->n * ref->n; a++) {
    double factor = ref->quad_sign[a] * local[a];
    int i = ref->quad_i[a], j = ref->quad_j[a];
    out[0] += factor * x[i] * y[j];
    out[1] += factor * dx[i] * y[j];
    out[2] += factor * x[i] * dy[j];
  }
}

// Fields from the map and the function with its two reference derivatives.
static cavum_field_point field_from(const cavum_field *field, cavum_index e,
                                    const cavum_map_point *map, const double sum[3]) {
  double jacobian = cavum_map_jacobian(map), x = sum[0];
  double x_z = (sum[1] * map->r_eta - sum[2] * map->r_xi) / jacobian;
  double x_r = (-sum[1] * map->z_eta + sum[2] * map->z_xi) / jacobian;
  double admittance = 1.0 / (field->angular_frequency * permittivity(field, e));
  cavum_field_point out = {.z_m = map->z, .r_m = map->r};
  if (solves_for_w(field)) {
    out.h_phi_a_per_m = map->r * x;
    out.e_z_v_per_m = admittance * (2.0 * x + map->r * x_r);
    out.e_r_v_per_m = -admittance * map->r * x_z;
  } else {
    out.h_phi_a_per_m = x / map->r;
    out.e_z_v_per_m = admittance * x_r / map->r;
    out.e_r_v_per_m = -admittance * x_z / map->r;
  }
  return out;
}

cavum_field_point cavum_field_at(const cavum_field *field, cavum_index e, const double *local,
                                 double xi, double eta) {
  const cavum_discretisation *d = field->discretisation;
  double sum[3];
  sum_functions(sum, d->reference, d->mesh->elements[e].num_corners, local, xi, eta);
  cavum_map_point map = cavum_element_map_at(d->mesh, e, xi, eta);
  return field_from(field, e, &map, sum);
}

// Segment functions and their derivatives at the abscissae of a tensor grid.
typedef struct segment_table {
  double value[CAVUM_FIELD_GRID_MOST][CAVUM_DEGREE_MOST + 1];
  double derivative[CAVUM_FIELD_GRID_MOST][CAVUM_DEGREE_MOST + 1];
} segment_table;

// Sums along xi: for every function of eta and every abscissa.
static void sum_along_xi(double (*half)[CAVUM_FIELD_GRID_MOST],
                         double (*half_d)[CAVUM_FIELD_GRID_MOST], const cavum_reference *ref,
                         const segment_table *table, const double *local, int count) {
  double tensor[CAVUM_DEGREE_MOST + 1][CAVUM_DEGREE_MOST + 1];
  for (int a = 0; a < ref->n * ref->n; a++) {
    tensor[ref->quad_j[a]][ref->quad_i[a]] = ref->quad_sign[a] * local[a];
  }
  for (int j = 0; j < ref->n; j++) {
    for (int i = 0; i < count; i++) {
      half[j][i] = half_d[j][i] = 0.0;
      for (int k = 0; k < ref->n; k++) {
        half[j][i] += tensor[j][k] * table->value[i][k];
        half_d[j][i] += tensor[j][k] * table->derivative[i][k];
      }
    }
  }
}

void cavum_field_on_grid(cavum_field_point *out, const cavum_field *field, cavum_index e,
                         const double *local, int count, const double *x) {
  const cavum_discretisation *d = field->discretisation;
  const cavum_reference *ref = d->reference;
  cavum_map_point map[CAVUM_FIELD_GRID_MOST * CAVUM_FIELD_GRID_MOST];
  double half[CAVUM_DEGREE_MOST + 1][CAVUM_FIELD_GRID_MOST];
  double half_d[CAVUM_DEGREE_MOST + 1][CAVUM_FIELD_GRID_MOST];
  segment_table table;
  CAVUM_ASSERT(count <= CAVUM_FIELD_GRID_MOST && d->mesh->elements[e].num_corners == 4);
  for (int i = 0; i < count; i++) {
    cavum_shape_segment(table.value[i], table.derivative[i], ref->degree, x[i]);
  }
  cavum_element_map_tensor(map, d->mesh, e, count, x);
  sum_along_xi(half, half_d, ref, &table, local, count);
  for (int j = 0; j < count; j++) {
    for (int i = 0; i < count; i++) {
      double sum[3] = {0.0, 0.0, 0.0};
      for (int k = 0; k < ref->n; k++) {
        sum[0] += table.value[j][k] * half[k][i];
        sum[1] += table.value[j][k] * half_d[k][i];
        sum[2] += table.derivative[j][k] * half[k][i];
      }
      out[j * count + i] = field_from(field, e, &map[j * count + i], sum);
    }
  }
}

cavum_trace cavum_trace_create(const cavum_field *field, cavum_index e, int local_edge) {
  const cavum_discretisation *d = field->discretisation;
  const cavum_element *element = &d->mesh->elements[e];
  int degree = d->reference->degree, corners = element->num_corners;
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  cavum_space_skeleton(index, sign, &d->space, e);
  cavum_trace trace = {.field = field, .element = e, .local_edge = local_edge};
  for (int k = 0; k <= degree; k++) {
    int a = cavum_shape_on_edge(corners, degree, local_edge, k);
    trace.coeff[k] = field->scale * sign[a] * field->vector[index[a]];
  }
  return trace;
}

static void trace_value(double *x, double *x_s, const cavum_trace *trace, double s) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  int degree = trace->field->discretisation->reference->degree;
  cavum_shape_segment(value, derivative, degree, s);
  *x = *x_s = 0.0;
  for (int k = 0; k <= degree; k++) {
    *x += trace->coeff[k] * value[k];
    *x_s += trace->coeff[k] * derivative[k];
  }
}

// Position on a local edge and its derivative along s.
static void edge_shape(cavum_wall_point *out, const cavum_trace *trace, double s) {
  const cavum_mesh *mesh = trace->field->discretisation->mesh;
  cavum_edge_position at = cavum_element_edge_at(mesh, trace->element, trace->local_edge, s);
  *out = (cavum_wall_point){.z_m = at.z, .r_m = at.r, .z_s = at.z_x, .r_s = at.r_x};
}

cavum_wall_point cavum_trace_at(const cavum_trace *trace, double s) {
  cavum_wall_point out;
  double x, x_s;
  edge_shape(&out, trace, s);
  trace_value(&x, &x_s, trace, s);
  double length = hypot(out.z_s, out.r_s), r = out.r_m, flux_s;  // (1/r) d(r H_phi)/ds
  if (solves_for_w(trace->field)) {
    out.h_phi_a_per_m = r * x;
    out.h_s = r * x_s + out.r_s * x;
    flux_s = 2.0 * out.r_s * x + r * x_s;
  } else {
    out.h_phi_a_per_m = x / r;
    out.h_s = (x_s - out.r_s * x / r) / r;
    flux_s = x_s / r;
  }
  // Counterclockwise travel, the inside on the left: the inward normal is (-r_s, z_s) / length, so
  // e . n = (-e_z r_s + e_r z_s) / length = -(1 / (w eps r)) d(r H_phi)/ds / length.
  out.e_normal_v_per_m = -flux_s / (trace->field->angular_frequency *
                                    permittivity(trace->field, trace->element) * length);
  return out;
}

double cavum_trace_axis_e_z(const cavum_trace *trace, double s) {
  double x, x_s;
  trace_value(&x, &x_s, trace, s);
  return 2.0 * x / (trace->field->angular_frequency * permittivity(trace->field, trace->element));
}

double cavum_trace_axis_e_r_over_r(const cavum_trace *trace, double s) {
  double x, x_s;
  trace_value(&x, &x_s, trace, s);
  cavum_wall_point at;
  edge_shape(&at, trace, s);
  return -x_s /
         (at.z_s * trace->field->angular_frequency * permittivity(trace->field, trace->element));
}
