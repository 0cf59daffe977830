// SPDX-License-Identifier: GPL-3.0-or-later
// Quality of meshes: Jacobian ratios and corner angles against closed forms.
#include "base/base.h"
#include "element/mesh_quality.h"
#include "element/topology.h"
#include "support.h"

// One element of order 1.
typedef struct single {
  cavum_mesh mesh;
  cavum_point points[4];
  cavum_element element;
} single;

static void make_single(single *s, int num_corners, const cavum_point *points) {
  *s = (single){.element = {.num_corners = num_corners, .vertex = {0, 1, 2, 3}}};
  for (int k = 0; k < num_corners; k++) s->points[k] = points[k];
  static cavum_point nodes[4];
  const int lattice[2][4] = {{0, 1, 2, 0}, {0, 1, 3, 2}};
  for (int k = 0; k < num_corners; k++) nodes[lattice[num_corners - 3][k]] = points[k];
  s->mesh = (cavum_mesh){.num_vertices = num_corners,
                         .vertices = s->points,
                         .num_elements = 1,
                         .elements = &s->element,
                         .node_order = 1,
                         .num_nodes = num_corners,
                         .nodes = nodes};
  ck_assert_int_eq(cavum_topology_build_edges(&s->mesh, NULL), CAVUM_OK);
}

START_TEST(triangle_30_60_90) {
  single s;
  make_single(&s, 3, (cavum_point[]){{0.0, 0.0}, {sqrt(3.0), 0.0}, {0.0, 1.0}});
  cavum_mesh_quality quality = cavum_mesh_measure_quality(&s.mesh);
  ck_assert(quality.smallest_scaled_jacobian == 1.0);  // det J of a straight triangle is constant
  CAVUM_CHECK_NEAR(quality.smallest_angle_rad, CAVUM_PI / 6.0, 1e-15);  // roundings
  CAVUM_CHECK_NEAR(quality.largest_angle_rad, CAVUM_PI / 2.0, 1e-15);
  ck_assert_int_eq(quality.worst_element, 0);
  free(s.mesh.edges);
}
END_TEST

START_TEST(trapezium) {
  // det J is proportional to the width at eta: 1 above, 3 below. Angles atan(1) and pi - atan(1).
  single s;
  make_single(&s, 4, (cavum_point[]){{0.0, 0.0}, {3.0, 0.0}, {2.0, 1.0}, {1.0, 1.0}});
  cavum_mesh_quality quality = cavum_mesh_measure_quality(&s.mesh);
  CAVUM_CHECK_NEAR(quality.smallest_scaled_jacobian, 1.0 / 3.0, 1e-15);
  CAVUM_CHECK_NEAR(quality.smallest_angle_rad, CAVUM_PI / 4.0, 1e-15);
  CAVUM_CHECK_NEAR(quality.largest_angle_rad, 0.75 * CAVUM_PI, 1e-15);
  free(s.mesh.edges);
}
END_TEST

START_TEST(dart_is_folded) {
  // Corner 2 lies inside the triangle of the others: an angle of 270 degrees, det J < 0 there.
  single s;
  make_single(&s, 4, (cavum_point[]){{0.0, 0.0}, {2.0, 0.0}, {0.5, 0.5}, {0.0, 2.0}});
  cavum_mesh_quality quality = cavum_mesh_measure_quality(&s.mesh);
  printf("scaled Jacobian %g, largest angle %g\n", quality.smallest_scaled_jacobian,
         quality.largest_angle_rad);
  ck_assert(quality.smallest_scaled_jacobian < 0.0);
  // At (0.5, 0.5): between the directions to (0, 2) and (2, 0), measured through the inside.
  double expected = 2.0 * CAVUM_PI - (atan2(1.5, -0.5) - atan2(-0.5, 1.5));
  CAVUM_CHECK_NEAR(quality.largest_angle_rad, expected, 1e-15);
  free(s.mesh.edges);
}
END_TEST

START_TEST(inverted_element_is_negative) {
  single s;
  make_single(&s, 3, (cavum_point[]){{0.0, 0.0}, {0.0, 1.0}, {1.0, 0.0}});
  cavum_mesh_quality quality = cavum_mesh_measure_quality(&s.mesh);
  ck_assert(quality.smallest_scaled_jacobian < 0.0);
  free(s.mesh.edges);
}
END_TEST

START_TEST(blended_ring_sector) {
  // A sector of a ring, radii 1 and 3: det J is proportional to the radius. All corners are right.
  cavum_point vertices[4] = {{3.0, 0.0}, {0.0, 3.0}, {0.0, 1.0}, {1.0, 0.0}};
  cavum_curve curves[2] = {{.kind = CAVUM_CURVE_ELLIPSE,
                            .start = vertices[0],
                            .end = vertices[1],
                            .axial_m = 3.0,
                            .radial_m = 3.0,
                            .angle_end_rad = CAVUM_PI / 2.0},
                           {.kind = CAVUM_CURVE_ELLIPSE,
                            .start = vertices[2],
                            .end = vertices[3],
                            .axial_m = 1.0,
                            .radial_m = 1.0,
                            .angle_start_rad = CAVUM_PI / 2.0}};
  cavum_element element = {.num_corners = 4, .vertex = {0, 1, 2, 3}};
  cavum_mesh mesh = {.num_vertices = 4,
                     .vertices = vertices,
                     .num_elements = 1,
                     .elements = &element,
                     .num_curves = 2,
                     .curves = curves};
  ck_assert_int_eq(cavum_topology_build_edges(&mesh, NULL), CAVUM_OK);
  mesh.edges[0].curve = 0;
  mesh.edges[2].curve = 1;
  mesh.edges[0].t[1] = mesh.edges[2].t[1] = 1.0;
  cavum_mesh_quality quality = cavum_mesh_measure_quality(&mesh);
  CAVUM_CHECK_NEAR(quality.smallest_scaled_jacobian, 1.0 / 3.0, 1e-14);  // roundings
  CAVUM_CHECK_NEAR(quality.smallest_angle_rad, CAVUM_PI / 2.0, 1e-14);
  CAVUM_CHECK_NEAR(quality.largest_angle_rad, CAVUM_PI / 2.0, 1e-14);
  free(mesh.edges);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, triangle_30_60_90);
  tcase_add_test(tests, trapezium);
  tcase_add_test(tests, dart_is_folded);
  tcase_add_test(tests, inverted_element_is_negative);
  tcase_add_test(tests, blended_ring_sector);
}

CAVUM_TEST_MAIN("mesh quality", add)
