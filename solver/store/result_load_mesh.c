// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the mesh of a result file. The file has edges and the corners of elements; which edges an
// element has follows from them.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "store/result_private.h"

static cavum_status damaged(const char *what, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "result file is damaged: %s", what);
}

static cavum_status read_count(int64_t *value, const cavum_hdf5_file *file, const char *path,
                               cavum_error *error) {
  double number = 0.0;
  cavum_status status = cavum_hdf5_read_number(&number, file, path, error);
  if (status != CAVUM_OK) return status;
  if (!(number >= 0.0 && number < 2e9)) return damaged(path, error);
  *value = (int64_t)number;
  return CAVUM_OK;
}

static cavum_status read_points(cavum_point **points, cavum_index *count,
                                const cavum_hdf5_file *file, const char *path, cavum_error *error) {
  double *values = NULL;
  int64_t size = 0;
  cavum_status status = cavum_hdf5_read_doubles(&values, &size, file, path, error);
  if (status != CAVUM_OK) return status;
  // Two columns: z, r.
  cavum_point *read = cavum_alloc(size / 2, sizeof *read);
  if (read) memcpy(read, values, (size_t)(size / 2) * sizeof *read);
  free(values);
  if (!read) return cavum_fail_memory(error);
  *points = read;
  *count = (cavum_index)(size / 2);
  return CAVUM_OK;
}

static cavum_status read_elements(cavum_mesh *mesh, const cavum_hdf5_file *file,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int32_t *corners = NULL, *regions = NULL;
  int64_t num_corners = 0, num_regions = 0;
  CAVUM_TRY(
      cavum_hdf5_read_integers(&corners, &num_corners, file, "/mesh/element_vertices", error));
  CAVUM_TRY(cavum_hdf5_read_integers(&regions, &num_regions, file, "/mesh/element_region", error));
  if (num_corners != 4 * num_regions) CAVUM_TRY(damaged("/mesh/element_vertices", error));
  mesh->elements = cavum_alloc(num_regions, sizeof *mesh->elements);
  if (!mesh->elements) CAVUM_TRY(cavum_fail_memory(error));
  mesh->num_elements = (cavum_index)num_regions;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_element *element = &mesh->elements[e];
    element->region = regions[e];
    element->num_corners = corners[4 * e + 3] < 0 ? 3 : 4;
    for (int k = 0; k < element->num_corners; k++) {
      int32_t vertex = corners[4 * e + k];
      if (vertex < 0 || vertex >= mesh->num_vertices) {
        CAVUM_TRY(damaged("/mesh/element_vertices", error));
      }
      element->vertex[k] = vertex;
    }
  }
done:
  free(corners);
  free(regions);
  return status;
}

static cavum_status read_edges(cavum_mesh *mesh, const cavum_hdf5_file *file, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int32_t *ends = NULL, *curves = NULL, *kinds = NULL;
  int64_t num_ends = 0, num_curves = 0, num_kinds = 0;
  CAVUM_TRY(cavum_hdf5_read_integers(&ends, &num_ends, file, "/mesh/edge_vertices", error));
  CAVUM_TRY(cavum_hdf5_read_integers(&curves, &num_curves, file, "/mesh/edge_curve", error));
  CAVUM_TRY(cavum_hdf5_read_integers(&kinds, &num_kinds, file, "/mesh/edge_boundary", error));
  if (num_curves != num_kinds || num_ends != 2 * num_kinds) {
    CAVUM_TRY(damaged("/mesh/edge_vertices", error));
  }
  mesh->edges = cavum_alloc(num_kinds, sizeof *mesh->edges);
  if (!mesh->edges) CAVUM_TRY(cavum_fail_memory(error));
  mesh->num_edges = (cavum_index)num_kinds;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    cavum_edge *edge = &mesh->edges[i];
    for (int k = 0; k < 2; k++) {
      if (ends[2 * i + k] < 0 || ends[2 * i + k] >= mesh->num_vertices) {
        CAVUM_TRY(damaged("/mesh/edge_vertices", error));
      }
      edge->vertex[k] = ends[2 * i + k];
      edge->element[k] = -1;
    }
    if (kinds[i] < 0 || kinds[i] > CAVUM_BOUNDARY_SYMMETRY) {
      CAVUM_TRY(damaged("/mesh/edge_boundary", error));
    }
    edge->boundary = (cavum_boundary)kinds[i];
    edge->curve = curves[i];
  }
done:
  free(ends);
  free(curves);
  free(kinds);
  return status;
}

// An edge by its two ends, smaller vertex first, for sorting and finding.
typedef struct edge_key {
  cavum_index low, high, edge;
} edge_key;

static edge_key make_key(cavum_index a, cavum_index b, cavum_index edge) {
  return a < b ? (edge_key){a, b, edge} : (edge_key){b, a, edge};
}

static int compare_keys(const void *left, const void *right) {
  const edge_key *a = left, *b = right;
  if (a->low != b->low) return a->low < b->low ? -1 : 1;
  return (a->high > b->high) - (a->high < b->high);
}

static bool join_element(cavum_mesh *mesh, cavum_index e, const edge_key *keys) {
  cavum_element *element = &mesh->elements[e];
  for (int k = 0; k < element->num_corners; k++) {
    cavum_index from = element->vertex[k], to = element->vertex[(k + 1) % element->num_corners];
    edge_key wanted = make_key(from, to, -1);
    const edge_key *found =
        bsearch(&wanted, keys, (size_t)mesh->num_edges, sizeof *keys, compare_keys);
    if (!found) return false;
    cavum_edge *edge = &mesh->edges[found->edge];
    int side = edge->element[0] < 0 ? 0 : 1;
    if (edge->element[side] >= 0) return false;
    edge->element[side] = e;
    edge->local[side] = (signed char)k;
    element->edge[k] = found->edge;
    element->reversed[k] = edge->vertex[0] != from;
  }
  return true;
}

static cavum_status join(cavum_mesh *mesh, cavum_error *error) {
  edge_key *keys = cavum_alloc(mesh->num_edges, sizeof *keys);
  if (!keys) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    keys[i] = make_key(mesh->edges[i].vertex[0], mesh->edges[i].vertex[1], i);
  }
  qsort(keys, (size_t)mesh->num_edges, sizeof *keys, compare_keys);
  bool joined = true;
  for (cavum_index e = 0; joined && e < mesh->num_elements; e++)
    joined = join_element(mesh, e, keys);
  free(keys);
  return joined ? CAVUM_OK : damaged("edges and elements of /mesh do not agree", error);
}

static cavum_status read_regions(cavum_mesh *mesh, const cavum_hdf5_file *file,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double *eps_r = NULL, *mu_r = NULL;
  char **names = NULL;
  int64_t num_eps = 0, num_mu = 0;
  int count = 0;
  CAVUM_TRY(cavum_hdf5_read_doubles(&eps_r, &num_eps, file, "/mesh/region_eps_r", error));
  CAVUM_TRY(cavum_hdf5_read_doubles(&mu_r, &num_mu, file, "/mesh/region_mu_r", error));
  CAVUM_TRY(cavum_hdf5_read_texts(&names, &count, file, "/mesh/region_names", error));
  if (num_eps != count || num_mu != count) CAVUM_TRY(damaged("/mesh/region_names", error));
  mesh->regions = cavum_alloc(count, sizeof *mesh->regions);
  if (!mesh->regions) CAVUM_TRY(cavum_fail_memory(error));
  mesh->num_regions = count;
  for (int i = 0; i < count; i++) {
    mesh->regions[i] = (cavum_region){.name = names[i], .eps_r = eps_r[i], .mu_r = mu_r[i]};
    names[i] = NULL;
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    cavum_index region = mesh->elements[e].region;
    if (region < 0 || region >= count) CAVUM_TRY(damaged("/mesh/element_region", error));
  }
done:
  cavum_hdf5_free_texts(names, count);
  free(eps_r);
  free(mu_r);
  return status;
}

cavum_status cavum_store_read_mesh(cavum_result *result, const cavum_hdf5_file *file,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mesh *mesh = &result->mesh;
  int64_t degree = 0, unknowns = 0, half = 0, order = 0;
  CAVUM_TRY(read_count(&degree, file, "/mesh/degree", error));
  CAVUM_TRY(read_count(&unknowns, file, "/mesh/unknowns", error));
  CAVUM_TRY(read_count(&half, file, "/mesh/half_model", error));
  CAVUM_TRY(read_count(&order, file, "/mesh/node_order", error));
  result->degree = (int)degree;
  result->num_unknowns = (cavum_index)unknowns;
  result->half_model = half != 0;
  CAVUM_TRY(read_points(&mesh->vertices, &mesh->num_vertices, file, "/mesh/vertices", error));
  if (order > 0 && cavum_hdf5_has(file, "/mesh/nodes")) {
    CAVUM_TRY(read_points(&mesh->nodes, &mesh->num_nodes, file, "/mesh/nodes", error));
    mesh->node_order = (int)order;
  }
  CAVUM_TRY(read_elements(mesh, file, error));
  CAVUM_TRY(read_edges(mesh, file, error));
  CAVUM_TRY(read_regions(mesh, file, error));
  CAVUM_TRY(join(mesh, error));
done:
  return status;
}
