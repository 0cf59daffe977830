// SPDX-License-Identifier: GPL-3.0-or-later
// Jumps of E_r / r at the vertices on the axis, as heights of spikes of E_z.
#include "figures/axis_vertices.h"

#include "base/base.h"

// Over the height of the least spike. Inside 600 random sharp irises, where that is most of the
// error, the spikes were 0.5 to 1.55 times as high.
static const double SAFETY = 2.0;

// What the edges that end at a vertex have there.
typedef struct vertex_sum {
  int num_edges;
  double jump;       // of E_r / r, V/m^2
  double stiffness;  // sum of 1 / (h eps_r), 1/m
  double least_eps_r;
} vertex_sum;

static void add_end(vertex_sum *at, const cavum_trace *trace, bool at_last) {
  const cavum_mesh *mesh = trace->field->discretisation->mesh;
  double s = at_last ? 1.0 : -1.0,
         eps_r = mesh->regions[mesh->elements[trace->element].region].eps_r;
  at->jump += s * cavum_trace_axis_e_r_over_r(trace, s);
  at->stiffness += 1.0 / (2.0 * cavum_trace_at(trace, s).z_s * eps_r);
  at->least_eps_r = at->num_edges > 0 ? cavum_min(at->least_eps_r, eps_r) : eps_r;
  at->num_edges++;
}

// The mirror image of the edge that ends there: of an even field, E_r changes its sign, and an odd
// one is zero.
static void add_images(vertex_sum *at, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  if (view->parity != CAVUM_PARITY_EVEN) return;
  double plane = cavum_mesh_mirror_plane_m(mesh);
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    if (at[v].num_edges != 1 || mesh->vertices[v].z_m != plane) continue;
    at[v].jump *= 2.0;
    at[v].stiffness *= 2.0;
    at[v].num_edges++;
  }
}

cavum_status cavum_axis_vertices_error(double *error_v_per_m, const cavum_view *view,
                                       cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double p = view->field.discretisation->reference->degree;
  vertex_sum *at = cavum_alloc(mesh->num_vertices, sizeof *at);
  if (!at) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < view->boundary->num_axis; i++) {
    cavum_boundary_edge edge = view->boundary->axis[i];
    const cavum_element *element = &mesh->elements[edge.element];
    cavum_trace trace = cavum_trace_create(&view->field, edge.element, edge.local_edge);
    int next = (edge.local_edge + 1) % element->num_corners;
    add_end(&at[element->vertex[edge.local_edge]], &trace, false);
    add_end(&at[element->vertex[next]], &trace, true);
  }
  add_images(at, view);
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    error_v_per_m[v] = 0.0;
    if (at[v].num_edges < 2) continue;
    error_v_per_m[v] =
        SAFETY * 4.0 * fabs(at[v].jump) / (p * p * at[v].stiffness * at[v].least_eps_r);
  }
  free(at);
  return CAVUM_OK;
}
