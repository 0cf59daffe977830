// SPDX-License-Identifier: GPL-3.0-or-later
// The element map: exact blended elements against the polar map, Lagrange elements against
// polynomials, the tensor variant against the point variant, derivatives against differences.
#include "base/base.h"
#include "element/element_map.h"
#include "element/topology.h"
#include "support.h"

// A sector of a ring, angles 0.2 to 1.1, radii 0.03 and 0.05 about (0.01, 0.002), as one element
// whose edges 0 and 2 are the arcs. The outer arc is run by its curve against the element, and the
// element covers only part of the inner curve.
typedef struct sector {
  cavum_mesh mesh;
  cavum_point vertices[4];
  cavum_edge edges[4];
  cavum_element element;
  cavum_curve curves[2];
} sector;

static const double CENTRE_Z = 0.01, CENTRE_R = 0.002, INNER = 0.03, OUTER = 0.05, FIRST = 0.2,
                    LAST = 1.1;

static cavum_point on_circle(double radius, double angle) {
  return (cavum_point){CENTRE_Z + radius * cos(angle), CENTRE_R + radius * sin(angle)};
}

// The inner arc as edge 2 (top) would be traversed from its end; so that det J > 0 the outer arc is
// the bottom: xi grows with the angle, eta with falling radius.
static void make_sector(sector *s) {
  *s = (sector){0};
  s->vertices[0] = on_circle(OUTER, FIRST);
  s->vertices[1] = on_circle(OUTER, LAST);
  s->vertices[2] = on_circle(INNER, LAST);
  s->vertices[3] = on_circle(INNER, FIRST);
  s->curves[0] = (cavum_curve){.kind = CAVUM_CURVE_ELLIPSE,
                               .start = s->vertices[1],
                               .end = s->vertices[0],
                               .centre = {CENTRE_Z, CENTRE_R},
                               .axial_m = OUTER,
                               .radial_m = OUTER,
                               .angle_start_rad = LAST,
                               .angle_end_rad = FIRST};
  s->curves[1] = (cavum_curve){.kind = CAVUM_CURVE_ELLIPSE,
                               .start = on_circle(INNER, 0.0),
                               .end = on_circle(INNER, 2.0),
                               .centre = {CENTRE_Z, CENTRE_R},
                               .axial_m = INNER,
                               .radial_m = INNER,
                               .angle_start_rad = 0.0,
                               .angle_end_rad = 2.0};
  s->edges[0] = (cavum_edge){.vertex = {1, 0}, .curve = 0, .t = {0.0, 1.0}, .element = {0, -1}};
  s->edges[1] = (cavum_edge){.vertex = {1, 2}, .curve = -1, .element = {0, -1}};
  s->edges[2] =
      (cavum_edge){.vertex = {2, 3}, .curve = 1, .t = {LAST / 2, FIRST / 2}, .element = {0, -1}};
  s->edges[3] = (cavum_edge){.vertex = {0, 3}, .curve = -1, .element = {0, -1}};
  s->element = (cavum_element){
      .num_corners = 4, .vertex = {0, 1, 2, 3}, .edge = {0, 1, 2, 3}, .reversed = {1, 0, 0, 1}};
  s->mesh = (cavum_mesh){.num_vertices = 4,
                         .vertices = s->vertices,
                         .num_edges = 4,
                         .edges = s->edges,
                         .num_elements = 1,
                         .elements = &s->element,
                         .num_curves = 2,
                         .curves = s->curves};
}

START_TEST(blending_a_ring_sector_gives_the_polar_map) {
  // Closed form: with straight radial edges the blend is linear in the radius and in the angle.
  sector s;
  make_sector(&s);
  const double half_angle = 0.5 * (LAST - FIRST), half_radius = 0.5 * (INNER - OUTER);
  for (int j = 0; j < 5; j++) {
    for (int i = 0; i < 5; i++) {
      double xi = -1.0 + 0.5 * i + (i == 2 ? 0.137 : 0.0), eta = -1.0 + 0.5 * j;
      double angle = FIRST + half_angle * (1.0 + xi), radius = OUTER + half_radius * (1.0 + eta);
      cavum_map_point point = cavum_element_map_at(&s.mesh, 0, xi, eta);
      cavum_point expected = on_circle(radius, angle);
      // A handful of roundings of numbers below 0.06.
      CAVUM_CHECK_NEAR(point.z, expected.z_m, 1e-16);
      CAVUM_CHECK_NEAR(point.r, expected.r_m, 1e-16);
      CAVUM_CHECK_NEAR(point.z_xi, -half_angle * radius * sin(angle), 1e-16);
      CAVUM_CHECK_NEAR(point.r_xi, half_angle * radius * cos(angle), 1e-16);
      CAVUM_CHECK_NEAR(point.z_eta, half_radius * cos(angle), 1e-16);
      CAVUM_CHECK_NEAR(point.r_eta, half_radius * sin(angle), 1e-16);
      CAVUM_CHECK_RELATIVE(cavum_map_jacobian(&point), -half_angle * half_radius * radius, 1e-14);
    }
  }
}
END_TEST

START_TEST(blending_the_sector_turned_by_one_corner_gives_the_same_points) {
  // The same element with its arcs as edges 1 and 3 goes through the other half of the blend:
  // (xi, eta) of the turned element is the point (eta, -xi) of the first one.
  sector s, turned;
  make_sector(&s);
  make_sector(&turned);
  turned.mesh.vertices = turned.vertices;
  for (int k = 0; k < 4; k++) {
    turned.element.vertex[(k + 1) % 4] = s.element.vertex[k];
    turned.element.edge[(k + 1) % 4] = s.element.edge[k];
    turned.element.reversed[(k + 1) % 4] = s.element.reversed[k];
  }
  for (int i = 0; i < 7; i++) {
    double xi = -1.0 + i / 3.0, eta = 0.9 - 0.31 * i;
    cavum_map_point a = cavum_element_map_at(&turned.mesh, 0, xi, eta);
    cavum_map_point b = cavum_element_map_at(&s.mesh, 0, eta, -xi);
    CAVUM_CHECK_NEAR(a.z, b.z, 1e-16);  // roundings of numbers below 0.06
    CAVUM_CHECK_NEAR(a.r, b.r, 1e-16);
    CAVUM_CHECK_NEAR(a.z_xi, -b.z_eta, 1e-16);
    CAVUM_CHECK_NEAR(a.r_eta, b.r_xi, 1e-16);
  }
}
END_TEST

START_TEST(tensor_map_is_the_point_map) {
  sector s;
  make_sector(&s);
  const double x[5] = {-1.0, -0.7, 0.1, 0.45, 1.0};
  cavum_map_point grid[25];
  cavum_element_map_tensor(grid, &s.mesh, 0, 5, x);
  for (int j = 0; j < 5; j++) {
    for (int i = 0; i < 5; i++) {
      cavum_map_point point;
      cavum_element_map_points(&point, &s.mesh, 0, 1, &x[i], &x[j]);
      const double *a = &grid[5 * j + i].z, *b = &point.z;
      for (int m = 0; m < 6; m++) ck_assert(a[m] == b[m]);  // the same operations: the same bits
    }
  }
}
END_TEST

START_TEST(a_straight_edge_on_the_axis_stays_on_it_exactly) {
  for (int turn = 0; turn < 4; turn++) {
    sector s;
    make_sector(&s);
    for (int k = 0; k < 4; k++) s.edges[k].curve = -1;
    const cavum_point corners[4] = {{0.1, 0.0}, {0.37, 0.0}, {0.4, 0.13}, {0.05, 0.11}};
    for (int k = 0; k < 4; k++) s.vertices[s.element.vertex[k]] = corners[(k + turn) % 4];
    int axis_edge = (4 - turn) % 4;
    for (int i = 0; i <= 20; i++) {
      double xi, eta;
      cavum_element_edge_point(&xi, &eta, &s.element, axis_edge, -1.0 + 0.1 * i);
      ck_assert(cavum_element_map_at(&s.mesh, 0, xi, eta).r == 0.0);
    }
  }
}
END_TEST

// A polynomial of total degree g with high-entropy coefficients, and its derivatives.
static double polynomial(int g, double x, double y, double *by_x, double *by_y) {
  double u = 0.31 + 0.57 * x - 0.23 * y, v = 0.83 - 0.17 * x + 0.41 * y;
  *by_x = g * (0.57 * pow(u, g - 1) - 0.17 * pow(v, g - 1));
  *by_y = g * (-0.23 * pow(u, g - 1) + 0.41 * pow(v, g - 1));
  return pow(u, g) + pow(v, g);
}

START_TEST(elements_with_nodes_reproduce_polynomials) {
  int g = _i;
  for (int corners = 3; corners <= 4; corners++) {
    cavum_point nodes[121];
    int count = 0;
    for (int j = 0; j <= g; j++) {
      for (int i = 0; i <= (corners == 3 ? g - j : g); i++) {
        double x = (double)i / g, y = (double)j / g, unused;
        if (corners == 4) x = 2.0 * x - 1.0, y = 2.0 * y - 1.0;
        ck_assert_int_eq(count, corners == 3 ? j * (2 * g + 3 - j) / 2 + i : j * (g + 1) + i);
        nodes[count++] =
            (cavum_point){polynomial(g, x, y, &unused, &unused), x * x * (g > 1) + 0.3 * y};
      }
    }
    cavum_element element = {.num_corners = corners};
    cavum_mesh mesh = {.num_elements = 1,
                       .elements = &element,
                       .node_order = g,
                       .num_nodes = count,
                       .nodes = nodes};
    for (int n = 0; n < 12; n++) {
      double x = corners == 3 ? 0.08 * n : -1.0 + 0.18 * n,
             y = corners == 3 ? 0.9 - x : 0.9 - 0.1 * n;
      double by_x, by_y, value = polynomial(g, x, y, &by_x, &by_y);
      cavum_map_point point = cavum_element_map_at(&mesh, 0, x, y);
      // Roundings are amplified by the Lebesgue constant of the lattice: below 2^(g+1)/(e g log g),
      // 32 in 1D and 1000 in 2D at order 10; derivatives by g^2 more.
      double amplified = 1e-15 * exp2(1.0 * g);
      CAVUM_CHECK_NEAR(point.z, value, amplified);
      CAVUM_CHECK_NEAR(point.z_xi, by_x, amplified * g * g);
      CAVUM_CHECK_NEAR(point.z_eta, by_y, amplified * g * g);
      CAVUM_CHECK_NEAR(point.r, x * x * (g > 1) + 0.3 * y, amplified);
      CAVUM_CHECK_NEAR(point.r_eta, 0.3, amplified * g * g);
    }
  }
}
END_TEST

START_TEST(elements_with_nodes_pass_through_them) {
  int g = _i;
  for (int corners = 3; corners <= 4; corners++) {
    cavum_point nodes[121];
    for (int n = 0; n < 121; n++) nodes[n] = (cavum_point){sin(12.9898 * n), cos(78.233 * n * n)};
    cavum_element element = {.num_corners = corners};
    cavum_mesh mesh = {.num_elements = 1, .elements = &element, .node_order = g, .nodes = nodes};
    int n = 0;
    for (int j = 0; j <= g; j++) {
      for (int i = 0; i <= (corners == 3 ? g - j : g); i++, n++) {
        double x = corners == 3 ? (double)i / g : 2.0 * i / g - 1.0;
        double y = corners == 3 ? (double)j / g : 2.0 * j / g - 1.0;
        cavum_map_point point = cavum_element_map_at(&mesh, 0, x, y);
        // The abscissae are rounded; slopes of the basis reach g^2 2^g / g.
        CAVUM_CHECK_NEAR(point.z, nodes[n].z_m, 1e-15 * g * exp2(1.0 * g));
        CAVUM_CHECK_NEAR(point.r, nodes[n].r_m, 1e-15 * g * exp2(1.0 * g));
      }
    }
  }
}
END_TEST

START_TEST(tensor_map_of_nodes_is_the_point_map) {
  int g = _i;
  cavum_point nodes[121];
  for (int n = 0; n < 121; n++) nodes[n] = (cavum_point){sin(12.9898 * n), cos(78.233 * n * n)};
  cavum_element element = {.num_corners = 4};
  cavum_mesh mesh = {.num_elements = 1, .elements = &element, .node_order = g, .nodes = nodes};
  double x[CAVUM_MAP_LARGEST_N];
  static cavum_map_point grid[CAVUM_MAP_LARGEST_N * CAVUM_MAP_LARGEST_N];
  for (int i = 0; i < CAVUM_MAP_LARGEST_N; i++) x[i] = -cos(0.1 * i);
  cavum_element_map_tensor(grid, &mesh, 0, CAVUM_MAP_LARGEST_N, x);
  for (int j = 0; j < CAVUM_MAP_LARGEST_N; j++) {
    for (int i = 0; i < CAVUM_MAP_LARGEST_N; i++) {
      cavum_map_point point = cavum_element_map_at(&mesh, 0, x[i], x[j]);
      const double *a = &grid[CAVUM_MAP_LARGEST_N * j + i].z, *b = &point.z;
      for (int m = 0; m < 6; m++) ck_assert(a[m] == b[m]);  // the same operations: the same bits
    }
  }
}
END_TEST

START_TEST(edge_points_run_from_corner_to_corner) {
  for (int corners = 3; corners <= 4; corners++) {
    cavum_element element = {.num_corners = corners};
    for (int k = 0; k < corners; k++) {
      double end[2], start[2], middle[2], direction[2];
      cavum_element_edge_point(&end[0], &end[1], &element, k, 1.0);
      cavum_element_edge_point(&start[0], &start[1], &element, (k + 1) % corners, -1.0);
      ck_assert(end[0] == start[0] && end[1] == start[1]);
      cavum_element_edge_point(&start[0], &start[1], &element, k, -1.0);
      cavum_element_edge_point(&middle[0], &middle[1], &element, k, 0.5);
      cavum_element_edge_direction(&direction[0], &direction[1], &element, k);
      for (int m = 0; m < 2; m++) {
        ck_assert(end[m] - start[m] == 2.0 * direction[m]);  // small binary numbers: exact
        ck_assert(middle[m] - start[m] == 1.5 * direction[m]);
      }
    }
    double first[2];
    cavum_element_edge_point(&first[0], &first[1], &element, 0, -1.0);
    ck_assert(first[0] == (corners == 3 ? 0.0 : -1.0) && first[1] == first[0]);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, blending_a_ring_sector_gives_the_polar_map);
  tcase_add_test(tests, blending_the_sector_turned_by_one_corner_gives_the_same_points);
  tcase_add_test(tests, tensor_map_is_the_point_map);
  tcase_add_test(tests, a_straight_edge_on_the_axis_stays_on_it_exactly);
  tcase_add_loop_test(tests, elements_with_nodes_reproduce_polynomials, 1, 11);
  tcase_add_loop_test(tests, elements_with_nodes_pass_through_them, 1, 11);
  tcase_add_loop_test(tests, tensor_map_of_nodes_is_the_point_map, 1, 11);
  tcase_add_test(tests, edge_points_run_from_corner_to_corner);
}

CAVUM_TEST_MAIN("element map", add)
