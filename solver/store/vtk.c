// SPDX-License-Identifier: GPL-3.0-or-later
// The field lattice as a VTKHDF unstructured grid of Lagrange cells, so that the result file opens
// in ParaView as it is: x = z, y = r. Points and values are reordered from the lexicographic
// lattice of cavum_mesh to VTK's corners, edges, inside. Version 1.0 of the layout, the one that
// every reader so far accepts; real arrays only, because complex ones make readers drop the whole
// file.
#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "element/element_map.h"
#include "store/result_private.h"

enum { VTK_LAGRANGE_TRIANGLE = 69, VTK_LAGRANGE_QUADRILATERAL = 70 };

// Order of a field lattice above which no file is written: the local tables have this size.
enum { LARGEST_ORDER = 16, LARGEST_COUNT = (LARGEST_ORDER + 1) * (LARGEST_ORDER + 1) };

static int quad_index(int order, int i, int j) { return j * (order + 1) + i; }

static int triangle_index(int order, int i, int j) { return j * (2 * order + 3 - j) / 2 + i; }

// VTK numbers corners, then the edges bottom, right, top, left, the last two also in the direction
// of rising i and j, then the inside row by row.
static void order_quadrilateral(int *lattice, int order) {
  int n = 0;
  lattice[n++] = quad_index(order, 0, 0);
  lattice[n++] = quad_index(order, order, 0);
  lattice[n++] = quad_index(order, order, order);
  lattice[n++] = quad_index(order, 0, order);
  for (int k = 1; k < order; k++) lattice[n++] = quad_index(order, k, 0);
  for (int k = 1; k < order; k++) lattice[n++] = quad_index(order, order, k);
  for (int k = 1; k < order; k++) lattice[n++] = quad_index(order, k, order);
  for (int k = 1; k < order; k++) lattice[n++] = quad_index(order, 0, k);
  for (int j = 1; j < order; j++) {
    for (int i = 1; i < order; i++) lattice[n++] = quad_index(order, i, j);
  }
}

// VTK numbers corners, then the edges in the direction of travel, then the inside as a triangle of
// three orders less: ring by ring from the outside.
static void order_triangle(int *lattice, int order) {
  int n = 0;
  for (int ring = 0, size = order; size >= 0; ring++, size -= 3) {
    lattice[n++] = triangle_index(order, ring, ring);
    if (size == 0) break;
    lattice[n++] = triangle_index(order, ring + size, ring);
    lattice[n++] = triangle_index(order, ring, ring + size);
    for (int k = 1; k < size; k++) lattice[n++] = triangle_index(order, ring + k, ring);
    for (int k = 1; k < size; k++) lattice[n++] = triangle_index(order, ring + size - k, ring + k);
    for (int k = 1; k < size; k++) lattice[n++] = triangle_index(order, ring, ring + size - k);
  }
}

// What all the pieces need. The points of a half model are followed by their mirror images. Owned
// arrays.
typedef struct vtk_grid {
  int copies;  // 1, or 2 for a half model.
  int64_t num_cells, num_points;
  int64_t *connectivity;  // Point of each place of each cell, shape [num_points].
  int64_t *offsets;       // Shape [num_cells + 1].
  uint8_t *types;         // Shape [num_cells].
} vtk_grid;

static void clear_grid(vtk_grid *grid) {
  free(grid->connectivity);
  free(grid->offsets);
  free(grid->types);
}

// The place of a lattice point in the element reversed along its first direction: mirror images
// keep their corners counterclockwise.
static int reverse_index(int index, bool is_quad, int order) {
  int row = 0, first = 0;
  while (index >= first + (is_quad ? order + 1 : order + 1 - row)) {
    first += is_quad ? order + 1 : order + 1 - row;
    row++;
  }
  int last = is_quad ? order : order - row;
  return first + last - (index - first);
}

static void connect_cell(vtk_grid *grid, int64_t cell, int64_t *first, const int *lattice,
                         bool is_quad, int order) {
  bool mirrored = cell >= grid->num_cells / grid->copies;
  int count = cavum_element_lattice_count(is_quad ? 4 : 3, order);
  for (int k = 0; k < count; k++) {
    int at = mirrored ? reverse_index(lattice[k], is_quad, order) : lattice[k];
    grid->connectivity[*first + k] = *first + at;
  }
  grid->types[cell] = is_quad ? VTK_LAGRANGE_QUADRILATERAL : VTK_LAGRANGE_TRIANGLE;
  *first += count;
  grid->offsets[cell + 1] = *first;
}

static cavum_status make_grid(vtk_grid *grid, const cavum_result *result,
                              const cavum_field_grid *field, cavum_error *error) {
  const cavum_mesh *mesh = &result->mesh;
  int quad[LARGEST_COUNT], triangle[LARGEST_COUNT];
  order_quadrilateral(quad, field->order);
  order_triangle(triangle, field->order);
  grid->copies = result->half_model ? 2 : 1;
  grid->num_cells = (int64_t)grid->copies * mesh->num_elements;
  grid->num_points = (int64_t)grid->copies * field->num_points;
  int64_t first = 0, expected = 0;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    expected += cavum_element_lattice_count(mesh->elements[e].num_corners, field->order);
  }
  if (expected != field->num_points) {
    return cavum_fail(error, CAVUM_ERR_INTERNAL, "field grid of %d points, expected %ld",
                      (int)field->num_points, (long)expected);
  }
  grid->connectivity = cavum_alloc(grid->num_points, sizeof *grid->connectivity);
  grid->offsets = cavum_alloc(grid->num_cells + 1, sizeof *grid->offsets);
  grid->types = cavum_alloc(grid->num_cells, sizeof *grid->types);
  if (!grid->connectivity || !grid->offsets || !grid->types) return cavum_fail_memory(error);
  for (int64_t cell = 0; cell < grid->num_cells; cell++) {
    bool is_quad = mesh->elements[cell % mesh->num_elements].num_corners == 4;
    connect_cell(grid, cell, &first, is_quad ? quad : triangle, is_quad, field->order);
  }
  return CAVUM_OK;
}

static cavum_status write_cells(cavum_hdf5_file *file, const vtk_grid *grid,
                                const cavum_field_grid *field, double plane_m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t n = grid->num_points, counts[2] = {n, grid->num_cells};
  double *points = cavum_alloc(n, 3 * sizeof *points);
  if (!points) return cavum_fail_memory(error);
  for (int64_t i = 0; i < n; i++) {
    int64_t source = i % field->num_points;
    points[3 * i] = i < field->num_points ? field->z_m[source] : 2.0 * plane_m - field->z_m[source];
    points[3 * i + 1] = field->r_m[source];
  }
  const cavum_hdf5_array arrays[] = {
      {.path = "/VTKHDF/NumberOfPoints",
       .type = CAVUM_HDF5_INT64,
       .rank = 1,
       .extent = {1, 1},
       .data = &counts[0]},
      {.path = "/VTKHDF/NumberOfCells",
       .type = CAVUM_HDF5_INT64,
       .rank = 1,
       .extent = {1, 1},
       .data = &counts[1]},
      {.path = "/VTKHDF/NumberOfConnectivityIds",
       .type = CAVUM_HDF5_INT64,
       .rank = 1,
       .extent = {1, 1},
       .data = &counts[0]},
      {.path = "/VTKHDF/Points",
       .rank = 2,
       .extent = {n, 3},
       .data = points,
       .units = "m",
       .long_name = "points (z, r, 0)"},
      {.path = "/VTKHDF/Connectivity",
       .type = CAVUM_HDF5_INT64,
       .rank = 1,
       .extent = {n, 1},
       .data = grid->connectivity},
      {.path = "/VTKHDF/Offsets",
       .type = CAVUM_HDF5_INT64,
       .rank = 1,
       .extent = {grid->num_cells + 1, 1},
       .data = grid->offsets},
      {.path = "/VTKHDF/Types",
       .type = CAVUM_HDF5_UINT8,
       .rank = 1,
       .extent = {grid->num_cells, 1},
       .data = grid->types},
  };
  for (size_t i = 0; i < sizeof arrays / sizeof arrays[0]; i++) {
    CAVUM_TRY(cavum_hdf5_write_array(file, &arrays[i], error));
  }
done:
  free(points);
  return status;
}

static void name_array(char path[96], int number, const cavum_mode_result *mode, const char *name) {
  snprintf(path, 96, "/VTKHDF/PointData/mode%d_%s%s%s", number, mode->label,
           mode->label[0] ? "_" : "", name);
}

// One field of one mode: the same dataset as in /modes for a whole cell; for a half model the half
// and its image.
static cavum_status write_field_part(cavum_hdf5_file *file, const vtk_grid *grid, int number,
                                     const cavum_result *result, int part, cavum_error *error) {
  const cavum_mode_result *mode = &result->modes[number - 1];
  const cavum_field_grid *field = &mode->field;
  double odd = mode->parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  const struct {
    const char *name;
    const double *values;
    double image;  // Factor of the mirror image: E_r turns around where E_z does not.
    const char *units, *long_name;
  } parts[3] = {{"H_phi", field->h_phi_a_per_m, odd, "A m-1", "azimuthal magnetic field at 1 J"},
                {"E_z", field->e_z_v_per_m, odd, "V m-1", "axial electric field at 1 J"},
                {"E_r", field->e_r_v_per_m, -odd, "V m-1", "radial electric field at 1 J"}};
  char path[96], source[64];
  name_array(path, number, mode, parts[part].name);
  if (grid->copies == 1) {
    snprintf(source, sizeof source, "/modes/%d/field/%s", number, parts[part].name);
    return cavum_hdf5_link(file, source, path, error);
  }
  double *values = cavum_alloc(grid->num_points, sizeof *values);
  if (!values) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < field->num_points; i++) {
    values[i] = parts[part].values[i];
    values[field->num_points + i] = parts[part].image * parts[part].values[i];
  }
  cavum_hdf5_array array = {.path = path,
                            .rank = 1,
                            .extent = {grid->num_points, 1},
                            .data = values,
                            .units = parts[part].units,
                            .long_name = parts[part].long_name};
  cavum_status status = cavum_hdf5_write_array(file, &array, error);
  free(values);
  return status;
}

// Permeability of each point of the lattice, relative to that of vacuum.
static double *find_permeabilities(const cavum_result *result, const cavum_field_grid *field) {
  const cavum_mesh *mesh = &result->mesh;
  double *mu_r = cavum_alloc(field->num_points, sizeof *mu_r);
  int64_t i = 0;
  for (cavum_index e = 0; mu_r && e < mesh->num_elements; e++) {
    const cavum_element *element = &mesh->elements[e];
    int64_t end = i + cavum_element_lattice_count(element->num_corners, field->order);
    while (i < end) mu_r[i++] = mesh->regions[element->region].mu_r;
  }
  return mu_r;
}

// What a person would otherwise have to compute in ParaView: E as a vector, |E| and |B|.
static cavum_status write_derived(cavum_hdf5_file *file, const vtk_grid *grid, int number,
                                  const cavum_result *result, cavum_error *error) {
  const cavum_mode_result *mode = &result->modes[number - 1];
  const cavum_field_grid *field = &mode->field;
  double odd = mode->parity == CAVUM_PARITY_ODD ? -1.0 : 1.0;
  int64_t n = grid->num_points;
  cavum_status status = CAVUM_OK;
  double *vectors = cavum_alloc(n, 3 * sizeof *vectors), *mu_r = find_permeabilities(result, field);
  double *abs_e = cavum_alloc(n, sizeof *abs_e), *abs_b = cavum_alloc(n, sizeof *abs_b);
  if (!vectors || !mu_r || !abs_e || !abs_b) CAVUM_TRY(cavum_fail_memory(error));
  for (int64_t i = 0; i < n; i++) {
    int64_t k = i % field->num_points;
    bool image = i >= field->num_points;
    vectors[3 * i] = (image ? odd : 1.0) * field->e_z_v_per_m[k];
    vectors[3 * i + 1] = (image ? -odd : 1.0) * field->e_r_v_per_m[k];
    abs_e[i] = hypot(field->e_z_v_per_m[k], field->e_r_v_per_m[k]);
    abs_b[i] = CAVUM_MU0 * mu_r[k] * fabs(field->h_phi_a_per_m[k]);
  }
  const struct {
    const char *name;
    const double *values;
    int width;
    const char *units, *long_name;
  } parts[3] = {{"E", vectors, 3, "V m-1", "electric field (E_z, E_r, 0) at 1 J"},
                {"abs_E", abs_e, 1, "V m-1", "magnitude of the electric field at 1 J"},
                {"abs_B", abs_b, 1, "T", "magnitude of the magnetic flux density at 1 J"}};
  for (int part = 0; part < 3; part++) {
    char path[96];
    name_array(path, number, mode, parts[part].name);
    cavum_hdf5_array array = {.path = path,
                              .rank = parts[part].width == 1 ? 1 : 2,
                              .extent = {n, parts[part].width},
                              .data = parts[part].values,
                              .units = parts[part].units,
                              .long_name = parts[part].long_name};
    CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  }
done:
  free(vectors);
  free(mu_r);
  free(abs_e);
  free(abs_b);
  return status;
}

cavum_status cavum_store_write_vtk(cavum_hdf5_file *file, const cavum_result *result,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  vtk_grid grid = {0};
  const int64_t version[2] = {1, 0};
  if (result->num_modes == 0) return CAVUM_OK;
  const cavum_field_grid *first = &result->modes[0].field;
  if (first->num_points == 0 || first->order < 1 || first->order > LARGEST_ORDER) return CAVUM_OK;
  CAVUM_TRY(make_grid(&grid, result, first, error));
  CAVUM_TRY(cavum_hdf5_make_group(file, "/VTKHDF", error));
  CAVUM_TRY(cavum_hdf5_write_integers_attribute(file, "/VTKHDF", "Version", 2, version, error));
  CAVUM_TRY(cavum_hdf5_write_ascii_attribute(file, "/VTKHDF", "Type", "UnstructuredGrid", error));
  CAVUM_TRY(write_cells(file, &grid, first, cavum_mesh_mirror_plane_m(&result->mesh), error));
  for (int m = 0; m < result->num_modes; m++) {
    if (result->modes[m].field.num_points != first->num_points) continue;
    for (int part = 0; part < 3; part++) {
      CAVUM_TRY(write_field_part(file, &grid, m + 1, result, part, error));
    }
    CAVUM_TRY(write_derived(file, &grid, m + 1, result, error));
  }
done:
  clear_grid(&grid);
  return status;
}
