// SPDX-License-Identifier: GPL-3.0-or-later
// The mesh and the way the solution converged, as groups of the result file.
#include <stdio.h>

#include "base/base.h"
#include "store/columns.h"
#include "store/result_private.h"

static cavum_status write_integer(cavum_hdf5_file *file, const char *path, int64_t value,
                                  const char *long_name, cavum_error *error) {
  cavum_hdf5_array array = {
      .path = path, .type = CAVUM_HDF5_INT64, .data = &value, .units = "1", .long_name = long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_points(cavum_hdf5_file *file, const char *path, cavum_index count,
                                 const cavum_point *points, const char *long_name,
                                 cavum_error *error) {
  // A cavum_point is two doubles, z then r: an array of them is a matrix of two columns.
  _Static_assert(sizeof(cavum_point) == 2 * sizeof(double), "points are pairs of doubles");
  cavum_hdf5_array array = {.path = path,
                            .rank = 2,
                            .extent = {count, 2},
                            .data = points,
                            .units = "m",
                            .long_name = long_name};
  return count > 0 ? cavum_hdf5_write_array(file, &array, error) : CAVUM_OK;
}

static cavum_status write_elements(cavum_hdf5_file *file, const cavum_mesh *mesh,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = mesh->num_elements;
  int32_t *corners = cavum_alloc(n, 4 * sizeof *corners);
  int32_t *regions = cavum_alloc(n, sizeof *regions);
  if (!corners || !regions) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (cavum_index i = 0; i < n; i++) {
    const cavum_element *element = &mesh->elements[i];
    for (int k = 0; k < 4; k++) {
      corners[4 * i + k] = k < element->num_corners ? element->vertex[k] : -1;
    }
    regions[i] = element->region;
  }
  cavum_hdf5_array array = {
      .path = "/mesh/element_vertices",
      .type = CAVUM_HDF5_INT32,
      .rank = 2,
      .extent = {n, 4},
      .data = corners,
      .units = "1",
      .long_name = "corners of each element, counterclockwise; the fourth is -1 in a triangle"};
  CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  const cavum_store_column column = {"element_region", CAVUM_HDF5_INT32, regions, "1",
                                     "region of each element, from 0"};
  CAVUM_TRY(cavum_store_write_columns(file, "/mesh", n, 1, &column, error));
done:
  free(corners);
  free(regions);
  return status;
}

static cavum_status write_edges(cavum_hdf5_file *file, const cavum_mesh *mesh, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = mesh->num_edges;
  int32_t *ends = cavum_alloc(n, 2 * sizeof *ends);
  int32_t *curves = cavum_alloc(n, sizeof *curves);
  uint8_t *kinds = cavum_alloc(n, sizeof *kinds);
  if (!ends || !curves || !kinds) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (cavum_index i = 0; i < n; i++) {
    ends[2 * i] = mesh->edges[i].vertex[0];
    ends[2 * i + 1] = mesh->edges[i].vertex[1];
    curves[i] = mesh->edges[i].curve;
    kinds[i] = (uint8_t)mesh->edges[i].boundary;
  }
  cavum_hdf5_array array = {.path = "/mesh/edge_vertices",
                            .type = CAVUM_HDF5_INT32,
                            .rank = 2,
                            .extent = {n, 2},
                            .data = ends,
                            .units = "1",
                            .long_name = "end vertices of each edge"};
  CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  const cavum_store_column columns[] = {
      {"edge_curve", CAVUM_HDF5_INT32, curves, "1",
       "curve of the contour each edge lies on, or -1"},
      {"edge_boundary", CAVUM_HDF5_UINT8, kinds, "1",
       "0 inside, 1 metal, 2 electric, 3 magnetic, 4 axis, 5 mirror plane of a half model"},
  };
  CAVUM_TRY(cavum_store_write_columns(file, "/mesh", n, 2, columns, error));
done:
  free(ends);
  free(curves);
  free(kinds);
  return status;
}

static cavum_status write_regions(cavum_hdf5_file *file, const cavum_mesh *mesh,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = mesh->num_regions;
  const char **names = cavum_alloc(n, sizeof *names);
  double *eps_r = cavum_alloc(n, sizeof *eps_r);
  double *mu_r = cavum_alloc(n, sizeof *mu_r);
  if (!names || !eps_r || !mu_r) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (cavum_index i = 0; i < n; i++) {
    names[i] = mesh->regions[i].name ? mesh->regions[i].name : "";
    eps_r[i] = mesh->regions[i].eps_r;
    mu_r[i] = mesh->regions[i].mu_r;
  }
  const cavum_store_column columns[] = {
      {"region_eps_r", CAVUM_HDF5_DOUBLE, eps_r, "1", "relative permittivity of each region"},
      {"region_mu_r", CAVUM_HDF5_DOUBLE, mu_r, "1", "relative permeability of each region"},
  };
  if (n > 0) {
    CAVUM_TRY(
        cavum_hdf5_write_texts(file, "/mesh/region_names", n, names, "name of each region", error));
    CAVUM_TRY(cavum_store_write_columns(file, "/mesh", n, 2, columns, error));
  }
done:
  free(names);
  free(eps_r);
  free(mu_r);
  return status;
}

static cavum_status write_completeness(cavum_hdf5_file *file, const cavum_result *result,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const double limits[2] = {result->complete_above_hz, result->complete_below_hz};
  cavum_hdf5_array array = {.path = "/modes/complete_between",
                            .rank = 1,
                            .extent = {2, 1},
                            .data = limits,
                            .units = "Hz",
                            .long_name = "every mode between these two frequencies was found"};
  if (result->complete_below_hz > 0.0) CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
done:
  return status;
}

cavum_status cavum_store_write_mesh(cavum_hdf5_file *file, const cavum_result *result,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_mesh *mesh = &result->mesh;
  CAVUM_TRY(write_integer(file, "/mesh/degree", result->degree,
                          "polynomial degree of the reported solution", error));
  CAVUM_TRY(write_integer(file, "/mesh/unknowns", result->num_unknowns,
                          "unknowns of the reported solution", error));
  CAVUM_TRY(write_integer(file, "/mesh/half_model", result->half_model,
                          "1: the mesh is the right half of a mirror-symmetric cell", error));
  CAVUM_TRY(write_integer(file, "/mesh/node_order", mesh->node_order,
                          "0: elements follow the exact curves; else order of their nodes", error));
  CAVUM_TRY(write_points(file, "/mesh/vertices", mesh->num_vertices, mesh->vertices,
                         "corner points (z, r)", error));
  CAVUM_TRY(write_points(file, "/mesh/nodes", mesh->num_nodes, mesh->nodes,
                         "nodes (z, r), element by element on the equispaced lattice", error));
  if (mesh->num_elements > 0) CAVUM_TRY(write_elements(file, mesh, error));
  if (mesh->num_edges > 0) CAVUM_TRY(write_edges(file, mesh, error));
  CAVUM_TRY(write_regions(file, mesh, error));
  CAVUM_TRY(write_completeness(file, result, error));
done:
  return status;
}

static cavum_status write_steps(cavum_hdf5_file *file, const cavum_result *result,
                                cavum_error *error) {
  enum { COLUMNS = 6 };
  cavum_status status = CAVUM_OK;
  cavum_index n = result->num_steps;
  double *values = cavum_alloc((int64_t)n * COLUMNS, sizeof *values);
  if (!values) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < n; i++) {
    const cavum_convergence_step *step = &result->steps[i];
    const double row[COLUMNS] = {step->degree,       step->num_elements,     step->num_unknowns,
                                 step->frequency_hz, step->frequency_change, step->figure_change};
    for (int k = 0; k < COLUMNS; k++) values[k * n + i] = row[k];
  }
  const cavum_store_column columns[COLUMNS] = {
      {"degree", CAVUM_HDF5_DOUBLE, values, "1", "polynomial degree of each step"},
      {"elements", CAVUM_HDF5_DOUBLE, values + n, "1", "elements"},
      {"unknowns", CAVUM_HDF5_DOUBLE, values + 2 * n, "1", "unknowns"},
      {"frequency", CAVUM_HDF5_DOUBLE, values + 3 * n, "Hz", "frequency of the first mode"},
      {"frequency_change", CAVUM_HDF5_DOUBLE, values + 4 * n, "1",
       "relative change of it against the step before; NaN in the first"},
      {"figure_change", CAVUM_HDF5_DOUBLE, values + 5 * n, "1",
       "largest relative change of any other figure; NaN in the first"},
  };
  CAVUM_TRY(cavum_store_write_columns(file, "/convergence", n, COLUMNS, columns, error));
done:
  free(values);
  return status;
}

cavum_status cavum_store_write_convergence(cavum_hdf5_file *file, const cavum_result *result,
                                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(write_integer(file, "/convergence/accuracy_reached", result->accuracy_reached,
                          "1: every figure of every mode is as accurate as asked for", error));
  if (result->num_steps > 0) CAVUM_TRY(write_steps(file, result, error));
  if (result->num_warnings > 0) {
    CAVUM_TRY(cavum_hdf5_write_texts(file, "/warnings", result->num_warnings,
                                     (const char *const *)result->warnings,
                                     "warnings about this result", error));
  }
done:
  return status;
}
