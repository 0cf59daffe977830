// SPDX-License-Identifier: GPL-3.0-or-later
// Curves guessed behind the sides of a mesh with nodes: circles are found, straight walls, corners
// and joints are left alone, and elements that fold are noticed.
#include "curved_mesh.h"
#include "element/curve_bend.h"
#include "element/mesh_quality.h"
#include "mesh_shapes.h"

static const double RADIUS = 0.1, BALL = 0.04;

static cavum_mesh ball_in_sphere(int order, int sides, bool triangles) {
  curved_rings rings = {
      .num_layers = 2,
      .num_regions = 2,
      .order = order,
      .edges_half_turn = sides / 2,
      .triangles = triangles,
      .layer = {{CURVED_ELLIPSE, BALL, BALL, 0.0}, {CURVED_ELLIPSE, RADIUS, RADIUS, 0.0}},
      .region = {0, 1}};
  cavum_mesh mesh = curved_rings_mesh(&rings);
  mesh.regions[0].eps_r = 9.8;
  return mesh;
}

static cavum_curve_guess guess_of(const cavum_mesh *mesh) {
  cavum_curve_guess guess;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_curve_guess_create(&guess, mesh, &error), CAVUM_OK);
  return guess;
}

static bool is_on_circles(const cavum_mesh *mesh, const cavum_edge *edge) {
  bool between = edge->element[1] >= 0 &&
                 mesh->elements[edge->element[0]].region != mesh->elements[edge->element[1]].region;
  return between || edge->boundary == CAVUM_BOUNDARY_METAL;
}

// Largest distance of the edges on both circles from them.
static double off_circles(const cavum_mesh *mesh) {
  double worst = 0.0;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (!is_on_circles(mesh, edge)) continue;
    for (int i = 0; i <= 20; i++) {
      cavum_edge_position at =
          cavum_element_edge_at(mesh, edge->element[0], edge->local[0], -1.0 + 0.1 * i);
      double r = hypot(at.z, at.r);
      worst = fmax(worst, fmin(fabs(r - RADIUS), fabs(r - BALL)));
    }
  }
  return worst;
}

static void check_circles(int order, int sides, bool triangles) {
  cavum_mesh mesh = ball_in_sphere(order, sides, triangles), bent = {0};
  cavum_curve_guess guess = guess_of(&mesh);
  cavum_error error = {0};
  double part;
  ck_assert_int_eq(cavum_curve_bend_safely(&bent, &part, &mesh, &guess, &error), CAVUM_OK);
  double before = off_circles(&mesh), after = off_circles(&bent);
  printf("order %d, %d sides a turn: %.2e off the circles, guessed %.2e, after bending %.2e\n",
         order, sides, before, guess.largest_m, after);
  ck_assert_double_eq(part, 1.0);
  // The largest of the guesses that are alike within a factor of 3 counts: it may be as far off.
  // Sides of order 3 and more with equal steps follow a circle far better than other curves; the
  // guess does not, and may be larger than what they are off.
  ck_assert_double_gt(guess.largest_m, before / 3.0);
  if (order <= 2) ck_assert_double_lt(guess.largest_m, before * 3.0);
  // Polygons and parabolas come closer by the square of the turn of a side, 0.15 at 16 sides a
  // turn, with a factor of a few for the reach of the guess.
  if (order <= 2 && sides == 16) ck_assert_double_lt(after, 0.5 * before);
  cavum_curve_guess_clear(&guess);
  cavum_mesh_clear(&mesh);
  cavum_mesh_clear(&bent);
}

START_TEST(circles_are_found_at_every_order) {
  for (int order = 1; order <= 6; order++) {
    check_circles(order, 8, false);
    check_circles(order, 8, true);
    check_circles(order, 16, false);
    check_circles(order, 16, true);
  }
}
END_TEST

// A polygon stays one when nodes are put into the middle of its straight sides.
START_TEST(nodes_on_straight_sides_tell_nothing) {
  for (int order = 2; order <= 4; order++) {
    for (int triangles = 0; triangles <= 1; triangles++) {
      cavum_mesh polygon = ball_in_sphere(1, 16, false);
      cavum_mesh mesh = curved_of_straight_sides(&polygon, order, triangles);
      cavum_curve_guess guess = guess_of(&mesh);
      double off = off_circles(&mesh);
      printf("order %d: %.2e off the circles, guessed %.2e\n", order, off, guess.largest_m);
      // As those of order 1 in check_circles().
      ck_assert_double_gt(guess.largest_m, off / 3.0);
      ck_assert_double_lt(guess.largest_m, off * 3.0);
      for (cavum_index e = 0; e < mesh.num_edges; e++) {
        if (!is_on_circles(&mesh, &mesh.edges[e])) continue;
        ck_assert_double_gt(guess.edges[e].size_m, 0.0);
      }
      cavum_curve_guess_clear(&guess);
      cavum_mesh_clear(&mesh);
    }
  }
}
END_TEST

// A polygon whose sides turn by 60 degrees may stand for a circle; at 90 degrees it has corners.
START_TEST(a_curve_ends_where_it_turns_by_more_than_60_degrees) {
  cavum_mesh hexagon = ball_in_sphere(1, 6, true), square = ball_in_sphere(1, 4, true);
  cavum_curve_guess of_hexagon = guess_of(&hexagon), of_square = guess_of(&square);
  // The middle of a side lies cos 30 degrees of the radius from the centre.
  ck_assert_double_gt(of_hexagon.largest_m, RADIUS * (1.0 - 0.5 * sqrt(3.0)) / 3.0);
  for (cavum_index e = 0; e < square.num_edges; e++) {
    ck_assert_double_eq(of_square.edges[e].size_m, 0.0);
  }
  cavum_curve_guess_clear(&of_hexagon);
  cavum_curve_guess_clear(&of_square);
  cavum_mesh_clear(&hexagon);
  cavum_mesh_clear(&square);
}
END_TEST

// Nodes of the two elements at an interface still meet after bending.
START_TEST(elements_stay_together) {
  cavum_mesh mesh = ball_in_sphere(2, 8, true), bent = {0};
  cavum_curve_guess guess = guess_of(&mesh);
  cavum_error error = {0};
  ck_assert_int_eq(cavum_curve_bend(&bent, &mesh, &guess, 1.0, &error), CAVUM_OK);
  ck_assert_int_eq(bent.node_order, mesh.node_order + CAVUM_GUESS_EXTRA);
  double apart = 0.0;
  int shared = 0;
  for (cavum_index e = 0; e < bent.num_edges; e++) {
    const cavum_edge *edge = &bent.edges[e];
    if (edge->element[1] < 0) continue;
    shared++;
    for (int i = 0; i <= 8; i++) {
      double s = -1.0 + 0.25 * i;
      cavum_edge_position a = cavum_element_edge_at(&bent, edge->element[0], edge->local[0], s);
      cavum_edge_position b = cavum_element_edge_at(&bent, edge->element[1], edge->local[1], -s);
      apart = fmax(apart, hypot(a.z - b.z, a.r - b.r));
    }
  }
  ck_assert_int_gt(shared, 0);
  CAVUM_CHECK_NEAR(apart, 0.0, 1e-16);  // rounding of 0.1 m
  cavum_curve_guess_clear(&guess);
  cavum_mesh_clear(&mesh);
  cavum_mesh_clear(&bent);
}
END_TEST

// Between regions of one material nothing matters; nor does the axis.
START_TEST(only_walls_and_changes_of_material) {
  cavum_mesh mesh = ball_in_sphere(1, 16, false);
  mesh.regions[0].eps_r = 1.0;
  cavum_curve_guess guess = guess_of(&mesh);
  for (cavum_index e = 0; e < mesh.num_edges; e++) {
    bool metal = mesh.edges[e].boundary == CAVUM_BOUNDARY_METAL;
    ck_assert_int_eq(guess.edges[e].num_nodes > 0, metal);
  }
  cavum_curve_guess_clear(&guess);
  cavum_mesh_clear(&mesh);
}
END_TEST

// A pillbox with a cone: corners of 90 and 26 degrees between straight walls of several sides.
START_TEST(straight_walls_and_corners_are_left_alone) {
  cavum_pen pen = pen_start(0, 0);
  pen_line(&pen, 100, 0, CAVUM_BOUNDARY_AXIS);
  pen_line(&pen, 100, 40, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 60, 80, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 100, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 0, CAVUM_BOUNDARY_METAL);
  cavum_contour contour = pen_contour(&pen);
  for (int order = 1; order <= 4; order++) {
    cavum_mesh mesh = curved_contour_mesh(&contour, 0.3, order, true, 4.0);
    cavum_curve_guess guess = guess_of(&mesh);
    printf("order %d: straight walls are guessed to be %.1e m off\n", order, guess.largest_m);
    ck_assert_double_lt(guess.largest_m, 1e-14);
    cavum_curve_guess_clear(&guess);
    cavum_mesh_clear(&mesh);
  }
}
END_TEST

// Where an arc goes over into a straight wall the curvature jumps: the straight sides stay
// straight.
START_TEST(joints_are_not_smeared) {
  cavum_pen pen = pen_start(0, 0);
  pen_line(&pen, 100, 0, CAVUM_BOUNDARY_AXIS);
  pen_line(&pen, 100, 60, CAVUM_BOUNDARY_METAL);
  pen_ellipse(&pen, 60, 60, 40, 40, 0.0, 90.0, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 100, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 0, CAVUM_BOUNDARY_METAL);
  cavum_contour contour = pen_contour(&pen);
  for (int order = 1; order <= 3; order++) {
    cavum_mesh mesh = curved_contour_mesh(&contour, 0.25, order, false, 3.0);
    cavum_curve_guess guess = guess_of(&mesh);
    int straight = 0;
    for (cavum_index e = 0; e < mesh.num_edges; e++) {
      cavum_point a = mesh.vertices[mesh.edges[e].vertex[0]];
      cavum_point b = mesh.vertices[mesh.edges[e].vertex[1]];
      bool flat = fabs(a.z_m - b.z_m) < 1e-12 || fabs(a.r_m - b.r_m) < 1e-12;
      if (mesh.edges[e].boundary != CAVUM_BOUNDARY_METAL || !flat) continue;
      straight++;
      ck_assert_double_lt(guess.edges[e].size_m, 1e-13);
    }
    ck_assert_int_gt(straight, 4);
    ck_assert_double_gt(guess.largest_m, 1e-13);  // the arc is no polynomial
    cavum_curve_guess_clear(&guess);
    cavum_mesh_clear(&mesh);
  }
}
END_TEST

// A ring of elements that is thinner than the way to the circle folds when it is bent all the way.
static double bent_part(double thickness_m) {
  curved_rings rings = {.num_layers = 3,
                        .num_regions = 2,
                        .order = 1,
                        .edges_half_turn = 4,
                        .layer = {{CURVED_ELLIPSE, BALL, BALL, 0.0},
                                  {CURVED_ELLIPSE, BALL + thickness_m, BALL + thickness_m, 0.0},
                                  {CURVED_ELLIPSE, RADIUS, RADIUS, 0.0}},
                        .region = {0, 1, 1}};
  cavum_mesh mesh = curved_rings_mesh(&rings), bent = {0}, whole = {0};
  cavum_error error = {0};
  double part = -1.0;
  mesh.regions[0].eps_r = 9.8;
  cavum_curve_guess guess = guess_of(&mesh);
  ck_assert_int_eq(cavum_curve_bend_safely(&bent, &part, &mesh, &guess, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_curve_bend(&whole, &mesh, &guess, 1.0, &error), CAVUM_OK);
  double all_the_way = cavum_mesh_measure_quality(&whole).smallest_scaled_jacobian;
  printf("ring of %g m: part %g, quality all the way %.3f\n", thickness_m, part, all_the_way);
  ck_assert_int_eq(all_the_way <= 0.0, thickness_m < 0.003);
  if (part > 0.0) {
    double quality = cavum_mesh_measure_quality(&bent).smallest_scaled_jacobian;
    ck_assert_double_gt(quality, 0.0);
  } else {
    ck_assert_ptr_null(bent.nodes);
  }
  cavum_curve_guess_clear(&guess);
  cavum_mesh_clear(&mesh);
  cavum_mesh_clear(&bent);
  cavum_mesh_clear(&whole);
  return part;
}

// The sagitta of 45 degrees of the ball is 3 mm.
START_TEST(folding_is_noticed) {
  double thick = bent_part(0.02), thin = bent_part(0.001), foil = bent_part(2e-6);
  ck_assert_double_eq(thick, 1.0);
  ck_assert_double_lt(thin, 0.34);  // a third of the way closes the ring
  ck_assert_double_gt(thin, 0.05);
  ck_assert_double_eq(foil, 0.0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, circles_are_found_at_every_order);
  tcase_add_test(tests, nodes_on_straight_sides_tell_nothing);
  tcase_add_test(tests, a_curve_ends_where_it_turns_by_more_than_60_degrees);
  tcase_add_test(tests, elements_stay_together);
  tcase_add_test(tests, only_walls_and_changes_of_material);
  tcase_add_test(tests, straight_walls_and_corners_are_left_alone);
  tcase_add_test(tests, joints_are_not_smeared);
  tcase_add_test(tests, folding_is_noticed);
}

CAVUM_TEST_MAIN("guessed curves", add_tests)
