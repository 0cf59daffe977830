// SPDX-License-Identifier: GPL-3.0-or-later
// The triangulation: empty circumcircles, whole polygon covered, links, crossings, points inside.
#include "base/base.h"
#include "mesher/delaunay.h"
#include "support.h"

static double area_of(const cavum_triangulation *mesh, cavum_index t) {
  const cavum_index *v = mesh->triangles[t].vertex;
  cavum_point a = mesh->points[v[0]], b = mesh->points[v[1]], c = mesh->points[v[2]];
  return 0.5 * ((b.z_m - a.z_m) * (c.r_m - a.r_m) - (b.r_m - a.r_m) * (c.z_m - a.z_m));
}

static double polygon_area(const cavum_triangulation *mesh) {
  double area = 0.0;
  for (cavum_index i = 0; i < mesh->num_boundary; i++) {
    cavum_point a = mesh->points[i], b = mesh->points[(i + 1) % mesh->num_boundary];
    area += 0.5 * (a.z_m * b.r_m - a.r_m * b.z_m);
  }
  return area;
}

// In-circle determinant in plain doubles over the product of lengths it is made of.
static double in_circle(const cavum_triangulation *mesh, cavum_index t, cavum_index d) {
  const cavum_index *v = mesh->triangles[t].vertex;
  double x[3], y[3], s[3], scale = 0.0;
  for (int k = 0; k < 3; k++) {
    x[k] = mesh->points[v[k]].z_m - mesh->points[d].z_m;
    y[k] = mesh->points[v[k]].r_m - mesh->points[d].r_m;
    s[k] = x[k] * x[k] + y[k] * y[k];
    scale = fmax(scale, s[k]);
  }
  double det = s[0] * (x[1] * y[2] - x[2] * y[1]) + s[1] * (x[2] * y[0] - x[0] * y[2]) +
               s[2] * (x[0] * y[1] - x[1] * y[0]);
  return det / (scale * scale);
}

// Links are mutual and edges without a neighbour are those of the polygon; every inner edge is
// Delaunay. The grid is 4e-9 of the extent wide, which is what the determinant is off by.
static void check_triangulation(const cavum_triangulation *mesh) {
  double area = 0.0;
  cavum_index outer = 0;
  for (cavum_index t = 0; t < mesh->num_triangles; t++) {
    area += area_of(mesh, t);
    for (int k = 0; k < 3; k++) {
      cavum_index u = mesh->triangles[t].neighbour[k];
      if (u < 0) {
        outer++;
        ck_assert_int_eq(mesh->triangles[t].vertex[(k + 1) % 3],
                         (mesh->triangles[t].vertex[k] + 1) % mesh->num_boundary);
        continue;
      }
      int j = cavum_delaunay_edge_towards(&mesh->triangles[u], t);
      ck_assert_int_eq(mesh->triangles[u].neighbour[j], t);
      ck_assert_int_eq(mesh->triangles[u].vertex[j], mesh->triangles[t].vertex[(k + 1) % 3]);
      ck_assert_double_lt(in_circle(mesh, t, mesh->triangles[u].vertex[(j + 2) % 3]), 1e-7);
    }
  }
  ck_assert_int_eq(outer, mesh->num_boundary);
  // Euler: a polygon of n points with m points inside has n + 2 m - 2 triangles.
  ck_assert_int_eq(mesh->num_triangles, 2 * mesh->num_points - mesh->num_boundary - 2);
  // Sums of a few hundred products of rounded doubles.
  CAVUM_CHECK_RELATIVE(area, polygon_area(mesh), 1e-12);
}

static double draw(uint64_t *state) {
  *state = *state * 6364136223846793005ull + 1442695040888963407ull;
  return (double)(*state >> 11) * 0x1p-53;
}

START_TEST(random_stars_are_triangulated) {
  uint64_t state = 7;
  for (int count = 0; count < 200; count++) {
    cavum_point points[60];
    cavum_index n = 3 + (cavum_index)(57 * draw(&state));
    for (cavum_index i = 0; i < n; i++) {
      double angle = 2.0 * CAVUM_PI * i / n, radius = 0.05 + draw(&state);
      points[i] = (cavum_point){radius * cos(angle), radius * sin(angle)};
    }
    if (n < 5) points[0] = (cavum_point){1.0, 0.0};
    cavum_triangulation mesh = {0};
    cavum_index first, second;
    ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, n, points, NULL), CAVUM_OK);
    ck_assert(!cavum_delaunay_find_crossing(&first, &second, &mesh, 0));
    ck_assert_int_eq(cavum_delaunay_triangulate(&mesh, NULL), CAVUM_OK);
    check_triangulation(&mesh);
    for (int tries = 0; tries < 50; tries++) {
      cavum_point p = {2.0 * draw(&state) - 1.0, 2.0 * draw(&state) - 1.0};
      cavum_index host = cavum_delaunay_locate(&mesh, 0, p);
      bool added;
      if (host < 0) continue;
      ck_assert_int_eq(cavum_delaunay_insert(&mesh, &added, host, p, NULL), CAVUM_OK);
    }
    check_triangulation(&mesh);
    cavum_delaunay_clear(&mesh);
  }
}
END_TEST

START_TEST(aligned_and_cocircular_points_are_no_trouble) {
  cavum_point points[40];
  cavum_index n = 0;
  for (int i = 0; i < 10; i++) points[n++] = (cavum_point){0.1 * i, 0.0};
  for (int i = 0; i < 10; i++) points[n++] = (cavum_point){1.0, 0.1 * i};
  for (int i = 0; i < 10; i++) points[n++] = (cavum_point){1.0 - 0.1 * i, 1.0};
  for (int i = 0; i < 10; i++) points[n++] = (cavum_point){0.0, 1.0 - 0.1 * i};
  cavum_triangulation mesh = {0};
  ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, n, points, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_delaunay_triangulate(&mesh, NULL), CAVUM_OK);
  check_triangulation(&mesh);
  for (int i = 1; i < 10; i++) {
    for (int j = 1; j < 10; j++) {
      bool added;
      cavum_point p = {0.1 * i, 0.1 * j};
      cavum_index host = cavum_delaunay_locate(&mesh, 0, p);
      ck_assert_int_ge(host, 0);
      ck_assert_int_eq(cavum_delaunay_insert(&mesh, &added, host, p, NULL), CAVUM_OK);
      ck_assert(added);
      host = cavum_delaunay_locate(&mesh, 0, p);
      ck_assert_int_eq(cavum_delaunay_insert(&mesh, &added, host, p, NULL), CAVUM_OK);
      ck_assert(!added);  // it is there already
    }
  }
  check_triangulation(&mesh);
  cavum_delaunay_clear(&mesh);
}
END_TEST

// The circumcentre of a triangle without an area lies anywhere, or nowhere.
START_TEST(places_beyond_the_polygon_are_in_no_triangle) {
  const double far[] = {NAN, INFINITY, -INFINITY, 1e300, -1e300, 1e12, 3e9, 2.0, -1.0, -1e-6};
  cavum_point points[4] = {{0.0, 0.0}, {1.0, 0.0}, {1.0, 1.0}, {0.0, 1.0}};
  cavum_triangulation mesh = {0};
  ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, 4, points, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_delaunay_triangulate(&mesh, NULL), CAVUM_OK);
  for (size_t i = 0; i < sizeof far / sizeof *far; i++) {
    for (cavum_index t = 0; t < mesh.num_triangles; t++) {
      ck_assert_int_eq(cavum_delaunay_locate(&mesh, t, (cavum_point){far[i], 0.4}), -1);
      ck_assert_int_eq(cavum_delaunay_locate(&mesh, t, (cavum_point){0.4, far[i]}), -1);
      ck_assert_int_eq(cavum_delaunay_locate(&mesh, t, (cavum_point){far[i], far[i]}), -1);
    }
  }
  ck_assert_int_ge(cavum_delaunay_locate(&mesh, 0, (cavum_point){1.0, 1.0}), 0);
  cavum_delaunay_clear(&mesh);
}
END_TEST

START_TEST(crossings_are_found) {
  cavum_point bow[4] = {{0.0, 0.0}, {1.0, 1.0}, {1.0, 0.0}, {0.0, 1.0}};
  cavum_point fold[4] = {{0.0, 0.0}, {1.0, 0.0}, {0.5, 0.0}, {0.5, 1.0}};
  cavum_triangulation mesh = {0};
  cavum_index first = -1, second = -1;
  ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, 4, bow, NULL), CAVUM_OK);
  ck_assert(cavum_delaunay_find_crossing(&first, &second, &mesh, 0));
  ck_assert_int_eq(first, 0);
  ck_assert_int_eq(second, 2);
  ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, 4, fold, NULL), CAVUM_OK);
  ck_assert(cavum_delaunay_find_crossing(&first, &second, &mesh, 0));
  cavum_delaunay_clear(&mesh);
}
END_TEST

START_TEST(clockwise_polygons_are_refused) {
  cavum_point points[4] = {{0.0, 0.0}, {0.0, 1.0}, {1.0, 1.0}, {1.0, 0.0}};
  cavum_triangulation mesh = {0};
  cavum_error error = {0};
  ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, 4, points, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_delaunay_triangulate(&mesh, &error), CAVUM_ERR_MESH);
  printf("message: %s\n", error.message);
  cavum_delaunay_clear(&mesh);
}
END_TEST

START_TEST(flips_and_moves_keep_triangles_valid) {
  cavum_point points[4] = {{0.0, 0.0}, {1.0, 0.0}, {1.0, 1.0}, {0.0, 1.0}};
  cavum_triangulation mesh = {0};
  bool added;
  ck_assert_int_eq(cavum_delaunay_set_polygon(&mesh, 4, points, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_delaunay_triangulate(&mesh, NULL), CAVUM_OK);
  for (int k = 0; k < 3; k++) {
    if (mesh.triangles[0].neighbour[k] < 0) continue;
    ck_assert(cavum_delaunay_can_flip(&mesh, 0, k));
    cavum_delaunay_flip(&mesh, 0, k);
    break;
  }
  check_triangulation(&mesh);
  cavum_point inside = {0.4, 0.3};
  cavum_index host = cavum_delaunay_locate(&mesh, 0, inside);
  ck_assert_int_eq(cavum_delaunay_insert(&mesh, &added, host, inside, NULL), CAVUM_OK);
  ck_assert(added);
  cavum_index t = 0;
  while (mesh.triangles[t].vertex[0] != 4 && mesh.triangles[t].vertex[1] != 4 &&
         mesh.triangles[t].vertex[2] != 4) {
    t++;
  }
  ck_assert(cavum_delaunay_move(&mesh, 4, (cavum_point){0.5, 0.5}, t));
  ck_assert(!cavum_delaunay_move(&mesh, 4, (cavum_point){1.5, 0.5}, t));
  CAVUM_CHECK_NEAR(mesh.points[4].z_m, 0.5, 0.0);
  check_triangulation(&mesh);
  ck_assert_int_eq(cavum_delaunay_locate(&mesh, 0, (cavum_point){2.0, 2.0}), -1);
  cavum_delaunay_clear(&mesh);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, random_stars_are_triangulated);
  tcase_add_test(tests, aligned_and_cocircular_points_are_no_trouble);
  tcase_add_test(tests, places_beyond_the_polygon_are_in_no_triangle);
  tcase_add_test(tests, crossings_are_found);
  tcase_add_test(tests, clockwise_polygons_are_refused);
  tcase_add_test(tests, flips_and_moves_keep_triangles_valid);
}

CAVUM_TEST_MAIN("delaunay", add_tests)
