// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file field_problem.h
 * A mesh, a degree and a closure made ready for tests of the field module.
 */
#ifndef CAVUM_TEST_FIELD_PROBLEM_H
#define CAVUM_TEST_FIELD_PROBLEM_H

#include "eigen/modes.h"
#include "fem/field.h"
#include "grid_msh.h"
#include "mesh_cases.h"

/** All parts of one discrete problem; not movable once created. */
typedef struct field_problem {
  cavum_mesh mesh; /**< Owned. */
  cavum_reference reference;
  cavum_discretisation discretisation;
  cavum_condensed condensed;
  cavum_skeleton skeleton;
  cavum_pencil pencil;
} field_problem;

/** Meshes a drawn contour with the mesher's own choices. */
static inline cavum_mesh field_problem_mesh(void (*draw)(cavum_pen *)) {
  static cavum_pen pen;
  cavum_mesh mesh = {0};
  cavum_error error = {0};
  draw(&pen);
  cavum_contour contour = pen_contour(&pen);
  ck_assert_msg(cavum_mesh_from_contour(&mesh, &contour, NULL, &error) == CAVUM_OK, "%s",
                error.message);
  return mesh;
}

/** Reads a grid through a mesh file. Region r has permittivity eps_r[r]; NULL: vacuum. */
static inline cavum_mesh field_problem_grid(const grid_msh *grid, const double *eps_r) {
  char folder[128], path[160];
  cavum_mesh mesh = {0};
  cavum_error error = {0};
  cavum_region regions[GRID_REGIONS] = {{0}};
  cavum_mesh_source source = {
      .path = path, .unit_m = grid->unit_m, .axis = 'x', .regions = regions};
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/grid.msh", folder);
  grid_write(grid, path);
  for (int r = 0; r < GRID_REGIONS && grid->region_names[r]; r++, source.num_regions++) {
    regions[r] = (cavum_region){(char *)grid->region_names[r], eps_r ? eps_r[r] : 1.0, 1.0};
  }
  cavum_status status = cavum_mesh_read_msh(&mesh, NULL, &source, &error);
  temporary_folder_delete(folder);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return mesh;
}

/** The sides of the boundary at one end of a mesh become a plane of symmetry. */
static inline void field_problem_make_plane(cavum_mesh *mesh, double z_m) {
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    cavum_edge *edge = &mesh->edges[e];
    bool at_plane =
        mesh->vertices[edge->vertex[0]].z_m == z_m && mesh->vertices[edge->vertex[1]].z_m == z_m;
    if (at_plane) edge->boundary = CAVUM_BOUNDARY_SYMMETRY;
  }
}

static inline int field_problem_half(int i, int j, const void *context) {
  (void)j;
  (void)context;
  return i >= 2 ? 1 : 0;
}

/**
 * A mapped grid of num_s (2 to 4) by 3 straight cells, shuffled, so that edges run both ways; from
 * the third column on it is filled with eps_r = 4.5.
 * @param[in] bottom  Boundary at t = 0; the others are metal.
 */
static inline cavum_mesh field_problem_two_regions(cavum_point (*map)(double, double, const void *),
                                                   int num_s, bool triangles,
                                                   cavum_boundary bottom) {
  static const double s[5] = {0.0, 0.2, 0.55, 0.7, 1.0}, t[4] = {0.0, 0.3, 0.8, 1.0};
  static const double eps_r[2] = {1.0, 4.5};
  grid_msh grid = {
      .num_s = num_s,
      .num_t = 3,
      .s = s,
      .t = t,
      .order = 1,
      .triangles = triangles,
      .shuffle = 77,
      .unit_m = 1.0,
      .map = map,
      .region = field_problem_half,
      .region_names = {"left", "right"},
      .sides = {bottom, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL}};
  return field_problem_grid(&grid, eps_r);
}

/** Takes over the mesh and builds the problem at a degree. */
static inline void field_problem_create(field_problem *p, cavum_mesh mesh, int degree) {
  cavum_error error = {0};
  cavum_closure closure = {.symmetry_is_magnetic = false};
  memset(p, 0, sizeof *p);
  p->mesh = mesh;
  cavum_unknown unknown = cavum_discretisation_choose_unknown(&p->mesh);
  ck_assert_int_eq(
      cavum_reference_create(&p->reference, degree,
                             cavum_discretisation_points(&p->mesh, unknown, degree), true, &error),
      CAVUM_OK);
  ck_assert_msg(cavum_discretisation_create(&p->discretisation, &p->mesh, &p->reference, unknown,
                                            &error) == CAVUM_OK,
                "%s", error.message);
  ck_assert_int_eq(cavum_skeleton_create(&p->skeleton, &p->mesh, &closure, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_condensed_create(&p->condensed, &p->discretisation, 1, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_pencil_create(&p->pencil, &p->discretisation, &p->skeleton, 1, &error),
                   CAVUM_OK);
}

static inline void field_problem_clear(field_problem *p) {
  cavum_pencil_clear(&p->pencil);
  cavum_condensed_clear(&p->condensed);
  cavum_skeleton_clear(&p->skeleton);
  cavum_discretisation_clear(&p->discretisation);
  cavum_reference_clear(&p->reference);
  cavum_mesh_clear(&p->mesh);
}

/** Number of unknowns. */
static inline cavum_index field_problem_size(const field_problem *p) {
  return p->discretisation.space.num_unknowns;
}

/** A vector of numbers between -1 and 1, the same for a seed; free() it. */
static inline double *field_problem_random(const field_problem *p, uint64_t seed) {
  cavum_index size = field_problem_size(p);
  double *x = malloc((size_t)size * sizeof *x);
  for (cavum_index i = 0; i < size; i++) {
    x[i] = (double)(grid_random(&seed) >> 11) * 0x1p-52 - 1.0;
  }
  return x;
}

static inline double field_problem_dot(const double *x, const double *y, cavum_index size) {
  double sum = 0.0;
  for (cavum_index i = 0; i < size; i++) sum += x[i] * y[i];
  return sum;
}

#endif
