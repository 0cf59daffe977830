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
    ck_assert_int_eq(guess.edges[e].fit.num_nodes > 0, metal);
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

// ---- The tip of a flat ellipse, whose sides have nodes in equal steps of its length.

enum { TIP_SIDES = 6, ARC_STEPS = 200000 };
static const double WIDE_M = 0.002, HIGH_M = 0.04, CENTRE_R_M = 0.1;

// Point of the ellipse at a way from its tip along it; on the left where that is below 0.
static cavum_point tip_at(double way_m) {
  double angle = 0.0, length_m = 0.0, step = 0.5 * acos(-1.0) / ARC_STEPS;
  for (int i = 0; i < ARC_STEPS && length_m < fabs(way_m); i++) {
    double speed = hypot(WIDE_M * cos(angle + 0.5 * step), HIGH_M * sin(angle + 0.5 * step));
    double part = fmin(1.0, (fabs(way_m) - length_m) / (speed * step));
    angle += part * step;
    length_m += speed * step;
  }
  double z_m = WIDE_M * sin(angle);
  return (cavum_point){way_m < 0.0 ? -z_m : z_m, CENTRE_R_M - HIGH_M * cos(angle)};
}

static double off_ellipse(cavum_point at) {
  double u = at.z_m / WIDE_M, v = (at.r_m - CENTRE_R_M) / HIGH_M;
  return 0.5 * fabs(u * u + v * v - 1.0) / hypot(u / WIDE_M, v / HIGH_M);
}

// A strip of quadrilaterals under the tip: sides of `first_m` beside it, each next one 2.2 times as
// long.
static cavum_mesh strip_under_tip(int order, double first_m) {
  cavum_point lattice[(CURVED_LARGEST_ORDER + 1) * (CURVED_LARGEST_ORDER + 1)];
  double end[TIP_SIDES + 1] = {0.0};
  for (int i = 0; i < TIP_SIDES; i++) end[i + 1] = end[i] + first_m * pow(2.2, i);
  curved_mesh made = curved_start(order, false, 1);
  for (int side = -TIP_SIDES; side < TIP_SIDES; side++) {
    double from = side < 0 ? -end[-side] : end[side],
           to = side < 0 ? -end[-side - 1] : end[side + 1];
    for (int k = 0; k < (order + 1) * (order + 1); k++) {
      double part = (double)(k % (order + 1)) / order, up = (double)(k / (order + 1)) / order;
      cavum_point top = tip_at(from + (to - from) * part);
      double bottom_r = 0.9 * (CENTRE_R_M - HIGH_M);
      lattice[k] = (cavum_point){top.z_m, bottom_r + up * (top.r_m - bottom_r)};
    }
    curved_add(&made, lattice, 0);
  }
  return curved_finish(&made);
}

// Largest distances of a side from the ellipse; 0 of sides that do not follow it.
static double side_off_ellipse(const cavum_mesh *mesh, const cavum_edge *edge) {
  double worst = 0.0;
  for (int k = 0; k < 2; k++) {
    if (off_ellipse(mesh->vertices[edge->vertex[k]]) > 1e-9) return 0.0;
  }
  for (int i = 0; i <= 40; i++) {
    cavum_edge_position at =
        cavum_element_edge_at(mesh, edge->element[0], edge->local[0], -1.0 + 0.05 * i);
    worst = fmax(worst, off_ellipse((cavum_point){at.z, at.r}));
  }
  return worst;
}

// Over the chord of a side the curve turned back behind the tip. What was left was a sixth of the
// true distance on sides of 2.5 radii of the tip, and no guess at all on sides of 6.
static void check_tip(int order, double radii, double factor) {
  cavum_mesh mesh = strip_under_tip(order, radii * WIDE_M * WIDE_M / HIGH_M);
  cavum_curve_guess guess = guess_of(&mesh);
  double off = 0.0, guessed = 0.0;
  for (cavum_index e = 0; e < mesh.num_edges; e++) {
    double here = side_off_ellipse(&mesh, &mesh.edges[e]);
    if (here <= 0.0 || mesh.edges[e].element[1] >= 0) continue;
    if (here > off) guessed = guess.edges[e].size_m;
    off = fmax(off, here);
  }
  printf("order %d, sides of %g radii: %.2e m off the ellipse, guessed %.2e\n", order, radii, off,
         guessed);
  ck_assert_double_gt(guessed, off / factor);
  ck_assert_double_lt(guessed, off * 2.0 * factor);
  cavum_curve_guess_clear(&guess);
  cavum_mesh_clear(&mesh);
}

// A side of 6 radii bends by nearly a right angle: the order of the distance is all that its nodes
// say.
START_TEST(tips_of_flat_ellipses) {
  for (int order = 2; order <= 6; order++) check_tip(order, 2.5, 2.0);
  for (int order = 3; order <= 6; order++) check_tip(order, 6.0, 5.0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, tips_of_flat_ellipses);
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
