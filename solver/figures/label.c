// SPDX-License-Identifier: GPL-3.0-or-later
// Mode labels from sign changes of E_z along the axis and of H_phi along the rest of the outline.
// H_phi of TM0np of a pillbox, J1(x0n r / R) cos(p pi z / L), changes its sign n - 1 times along
// either end plate and p times along the outer wall. Nodal lines keep their ends when the outline
// is bent, so the count 2 (n - 1) + p tells n for other cells too, where a line across the cell
// would not. A chain of cells has as many such lines as cells.
#include "figures/label.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "element/element_map.h"
#include "element/topology.h"
#include "figures/axis.h"

// r H_phi weaker than this part of its largest value on the outline has no sign: far above the
// error of the field, and far below what stands on a magnetic plane, which is looked at from a
// little inside.
static const double LOBE_LEAST = 1e-3;
static const double INSET = 0.05;
// Cells are apart where the wall between them reaches below the nodal line of TM020, at 3.83 / 5.52
// of the radius of a pillbox: such a line cannot go through all of them.
static const double NARROW = 0.69;
enum { SAMPLES = 12, INDEX_MOST = 9 };

// Boundary edge that leaves every vertex counterclockwise, or -1.
static void collect_leaving(cavum_index *leaving, const cavum_mesh *mesh) {
  for (cavum_index i = 0; i < mesh->num_vertices; i++) leaving[i] = -1;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    cavum_index from, to;
    if (mesh->edges[i].element[1] >= 0) continue;
    cavum_topology_boundary_ends(&from, &to, mesh, i);
    leaving[from] = i;
  }
}

static cavum_index end_vertex(const cavum_mesh *mesh, cavum_index edge) {
  cavum_index from, to;
  cavum_topology_boundary_ends(&from, &to, mesh, edge);
  return to;
}

// Reference points a little inside of an edge, along it.
static void sample_point(double *xi, double *eta, const cavum_element *element, int local,
                         int sample) {
  double centre = element->num_corners == 4 ? 0.0 : 1.0 / 3.0;
  cavum_element_edge_point(xi, eta, element, local, -1.0 + (2.0 * sample + 1.0) / SAMPLES);
  *xi += INSET * (centre - *xi);
  *eta += INSET * (centre - *eta);
}

// r H_phi along an edge, a little inside of it; any element.
static void sample_triangle(double *value, const cavum_view *view, const cavum_edge *edge) {
  const cavum_element *element = &view->field.discretisation->mesh->elements[edge->element[0]];
  double local[CAVUM_SHAPES_MOST];
  cavum_field_gather(local, &view->field, edge->element[0]);
  for (int i = 0; i < SAMPLES; i++) {
    double xi, eta;
    sample_point(&xi, &eta, element, edge->local[0], i);
    cavum_field_point at = cavum_field_at(&view->field, edge->element[0], local, xi, eta);
    value[i] = at.r_m * at.h_phi_a_per_m;
  }
}

// The segment functions at the samples of a quadrilateral and at the place of its edges.
typedef struct sample_table {
  double along[SAMPLES][CAVUM_DEGREE_MOST + 1];  // at sample i of an edge with rising coordinate
  double across[2][CAVUM_DEGREE_MOST + 1];       // at the lower and the upper edge
} sample_table;

static void fill_table(sample_table *table, int degree) {
  double unused[CAVUM_DEGREE_MOST + 1];
  for (int i = 0; i < SAMPLES; i++) {
    double x = (1.0 - INSET) * (-1.0 + (2.0 * i + 1.0) / SAMPLES);
    cavum_shape_segment(table->along[i], unused, degree, x);
  }
  cavum_shape_segment(table->across[0], unused, degree, INSET - 1.0);
  cavum_shape_segment(table->across[1], unused, degree, 1.0 - INSET);
}

// sample_triangle() for a quadrilateral: functions are summed across the edge first. The radius, a
// smooth positive factor, is interpolated between the corners.
static void sample_quad(double *value, const cavum_view *view, const cavum_edge *edge,
                        const sample_table *table) {
  const cavum_discretisation *d = view->field.discretisation;
  const cavum_reference *ref = d->reference;
  const cavum_element *element = &d->mesh->elements[edge->element[0]];
  double local[CAVUM_SHAPES_MOST], sum[CAVUM_DEGREE_MOST + 1] = {0.0};
  int local_edge = edge->local[0];
  bool along_xi = local_edge % 2 == 0, falls = local_edge >= 2;
  const double *across = table->across[local_edge == 1 || local_edge == 2];
  cavum_field_gather(local, &view->field, edge->element[0]);
  for (int a = 0; a < ref->n * ref->n; a++) {
    int i = along_xi ? ref->quad_i[a] : ref->quad_j[a];
    int j = along_xi ? ref->quad_j[a] : ref->quad_i[a];
    sum[i] += ref->quad_sign[a] * local[a] * across[j];
  }
  const cavum_point *vertices = d->mesh->vertices;
  for (int k = 0; k < SAMPLES; k++) {
    const double *along = table->along[falls ? SAMPLES - 1 - k : k];
    double x = 0.0, xi, eta, r = 0.0;
    for (int i = 0; i < ref->n; i++) x += sum[i] * along[i];
    sample_point(&xi, &eta, element, local_edge, k);
    for (int c = 0; c < 4; c++) {
      double wx = 0.5 * (c == 1 || c == 2 ? 1.0 + xi : 1.0 - xi);
      double wy = 0.5 * (c >= 2 ? 1.0 + eta : 1.0 - eta);
      r += wx * wy * vertices[element->vertex[c]].r_m;
    }
    value[k] = d->unknown == CAVUM_UNKNOWN_H_OVER_R ? r * r * x : x;
  }
}

static int count_changes(const double *value, cavum_index count) {
  double largest = 0.0;
  int changes = 0, sign = 0;
  for (cavum_index i = 0; i < count; i++) largest = cavum_max(largest, fabs(value[i]));
  for (cavum_index i = 0; i < count; i++) {
    if (fabs(value[i]) < LOBE_LEAST * largest) continue;
    int now = value[i] > 0.0 ? 1 : -1;
    changes += sign != 0 && now != sign;
    sign = now;
  }
  return changes;
}

static bool ends_outline(const cavum_mesh *mesh, cavum_index edge) {
  return edge < 0 || mesh->edges[edge].boundary == CAVUM_BOUNDARY_AXIS ||
         mesh->edges[edge].boundary == CAVUM_BOUNDARY_SYMMETRY;
}

// The axis is one piece, and so the rest of the outline; in a half model it begins at the plane.
static bool has_one_axis(const cavum_mesh *mesh, const cavum_view *view) {
  const cavum_mesh_boundary *boundary = view->boundary;
  cavum_boundary_edge first = boundary->axis[0];
  double begin = mesh->vertices[mesh->elements[first.element].vertex[first.local_edge]].z_m;
  if (view->parity != CAVUM_PARITY_NONE && begin != cavum_mesh_mirror_plane_m(mesh)) return false;
  for (cavum_index i = 0; i + 1 < boundary->num_axis; i++) {
    cavum_boundary_edge here = boundary->axis[i], next = boundary->axis[i + 1];
    cavum_index edge = mesh->elements[here.element].edge[here.local_edge];
    if (end_vertex(mesh, edge) != mesh->elements[next.element].vertex[next.local_edge])
      return false;
  }
  return true;
}

// Cells of a chain: wide places of the outline with a narrow one between each two. The last half
// of a model with its mirror image follows as that.
static int count_cells(const double *radius_m, cavum_index count, bool mirrored) {
  double widest = 0.0, narrowest = HUGE_VAL;
  int cells = 1;
  cavum_index whole = mirrored ? 2 * count : count;
  for (cavum_index i = 0; i < whole; i++) {
    double r = radius_m[i < count ? i : whole - 1 - i];
    if (r < NARROW * widest) narrowest = cavum_min(narrowest, r);
    if (r * NARROW > narrowest) {
      cells++;
      widest = r;
      narrowest = HUGE_VAL;
    }
    widest = cavum_max(widest, r);
  }
  return cells;
}

// Sign changes from the end of the axis round to its beginning, and cells along it, the mirrored
// half included.
static cavum_status count_outline(int *changes, int *cells, const cavum_view *view,
                                  cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  cavum_status status = CAVUM_OK;
  sample_table table;
  double *value = cavum_alloc((int64_t)SAMPLES * mesh->num_edges, sizeof *value);
  double *radius_m = cavum_alloc(mesh->num_edges, sizeof *radius_m);
  cavum_index *leaving = cavum_alloc(mesh->num_vertices, sizeof *leaving), count = 0;
  if (!value || !radius_m || !leaving) CAVUM_TRY(cavum_fail_memory(error));
  fill_table(&table, view->field.discretisation->reference->degree);
  collect_leaving(leaving, mesh);
  cavum_boundary_edge last = view->boundary->axis[view->boundary->num_axis - 1];
  cavum_index edge = leaving[end_vertex(mesh, mesh->elements[last.element].edge[last.local_edge])];
  for (; !ends_outline(mesh, edge); edge = leaving[end_vertex(mesh, edge)], count += SAMPLES) {
    if (!CAVUM_HOLDS(count / SAMPLES < mesh->num_edges)) {
      CAVUM_TRY(cavum_fail_internal(error, "the outline does not come back to the axis"));
    }
    if (mesh->elements[mesh->edges[edge].element[0]].num_corners == 4) {
      sample_quad(value + count, view, &mesh->edges[edge], &table);
    } else {
      sample_triangle(value + count, view, &mesh->edges[edge]);
    }
    radius_m[count / SAMPLES] = mesh->vertices[end_vertex(mesh, edge)].r_m;
  }
  *cells = count_cells(radius_m, count / SAMPLES, view->parity != CAVUM_PARITY_NONE);
  *changes = count_changes(value, count);
  if (view->parity == CAVUM_PARITY_EVEN) *changes *= 2;
  if (view->parity == CAVUM_PARITY_ODD) *changes = 2 * *changes + 1;
done:
  free(value);
  free(radius_m);
  free(leaving);
  return status;
}

cavum_status cavum_label_mode(char label[16], const cavum_view *view, cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  cavum_axis_field axis = {0};
  double z;
  int around, cells;
  label[0] = '\0';
  if (view->boundary->num_axis == 0 || !has_one_axis(mesh, view)) return CAVUM_OK;
  cavum_status status = cavum_axis_expand(&axis, view, error);
  if (status != CAVUM_OK) return status;
  int along = cavum_axis_count_sign_changes(&z, &axis);
  cavum_axis_clear(&axis);
  status = count_outline(&around, &cells, view, error);
  if (status != CAVUM_OK) return status;
  // In a chain each cell has the nodal lines of the pattern for itself.
  int lines = 2 * cells, across = (around - along) / lines;
  if (around >= along && (around - along) % lines == 0 && across < INDEX_MOST &&
      along <= INDEX_MOST) {
    snprintf(label, 16, "TM0%c%c", '0' + across + 1, '0' + along);
  }
  return CAVUM_OK;
}

uint8_t cavum_label_code(const char *label) {
  if (strncmp(label, "TM0", 3) != 0 || strlen(label) != 5) return 0;
  int across = label[3] - '0', along = label[4] - '0';
  bool is_label = across >= 1 && across <= INDEX_MOST && along >= 0 && along <= INDEX_MOST;
  return is_label ? (uint8_t)(10 * across + along) : 0;
}

void cavum_label_of_code(char label[16], int code) {
  label[0] = '\0';
  if (code >= 10 && code <= 99) snprintf(label, 16, "TM0%d", code);
}

void cavum_label_take(bool taken[CAVUM_LABEL_CODES], char label[16]) {
  uint8_t code = cavum_label_code(label);
  if (code > 0 && taken[code]) label[0] = '\0';
  taken[code] = true;
}
