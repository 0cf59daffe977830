// SPDX-License-Identifier: GPL-3.0-or-later
// Meshes that follow a changing contour, copies of meshes, and what counts as the same topology.
#include <string.h>

#include "element/mesh.h"
#include "element/mesh_follow.h"
#include "mesh_cases.h"
#include "mesh_check.h"

// A cell with tubes; every dimension is stretched by a factor of its own around `factor`.
static cavum_contour make_contour(double factor, double tilt) {
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_cell cell =
      two_ellipse_cell(57.0 * factor, 35.0 * (1 + tilt), 103.0, 40.0 * factor, 40.0 * (1 + tilt),
                       12.0 * factor, 19.0 * (1 - tilt), 80.0 * factor);
  ck_assert_msg(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error) == CAVUM_OK,
                "%s", error.message);
  cavum_cell_clear(&cell);
  return contour;
}

static cavum_mesh make_mesh(const cavum_contour *contour) {
  cavum_mesh mesh = {0};
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, contour, NULL, NULL), CAVUM_OK);
  return mesh;
}

// A follower, and a mesh that it may move.
static cavum_mesh_follower make_follower(cavum_mesh *mesh, const cavum_contour *contour) {
  cavum_mesh_follower follower = {0};
  *mesh = make_mesh(contour);
  ck_assert_int_eq(cavum_mesh_follower_create(&follower, mesh, NULL), CAVUM_OK);
  return follower;
}

static double largest_move(const cavum_mesh *a, const cavum_mesh *b) {
  double most = 0.0;
  for (cavum_index v = 0; v < a->num_vertices; v++) {
    most = fmax(most, hypot(a->vertices[v].z_m - b->vertices[v].z_m,
                            a->vertices[v].r_m - b->vertices[v].r_m));
  }
  return most;
}

// Half a per cent to one per cent per dimension, as from shape to shape in a scan.
START_TEST(follows_a_neighbour) {
  static const double factors[] = {1.005, 0.995, 1.01, 0.99, 1.0};
  static const double tilts[] = {0.004, -0.004, 0.0, 0.01, -0.008};
  cavum_contour contour = make_contour(1.0, 0.0);
  cavum_mesh mesh;
  cavum_mesh_follower follower = make_follower(&mesh, &contour);
  double worst_of_base = worst_element(&follower.base);
  for (int i = 0; i < 5; i++) {
    cavum_contour next = make_contour(factors[i], tilts[i]);
    ck_assert(cavum_mesh_follow(&mesh, &follower, &next));
    ck_assert(cavum_mesh_same_topology(&mesh, &follower.base));
    double worst = worst_element(&mesh), move = largest_move(&mesh, &follower.base);
    printf("neighbour %d: scaled Jacobian %.3f, in the base %.3f; largest move %.2e m\n", i, worst,
           worst_of_base, move);
    // An element may lose 40 % at its corners and its centre; the grid here also looks between.
    ck_assert_double_gt(worst, 0.5 * worst_of_base);
    ck_assert_double_gt(move, 1e-4);  // it did follow: dimensions of 40 mm and more by 0.4 %
    check_edges(&mesh, &next);
    check_disc(&mesh);
    // Both are quadratures of analytic integrands far above what 12 points per part need.
    CAVUM_CHECK_RELATIVE(mesh_area(&mesh), contour_area(&next), 1e-10);
    cavum_contour_clear(&next);
  }
  cavum_mesh_follower_clear(&follower);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
}
END_TEST

// The base does not move: the way taken to a contour leaves no trace.
START_TEST(does_not_depend_on_the_way) {
  cavum_contour contour = make_contour(1.0, 0.0), near = make_contour(1.01, 0.005);
  cavum_contour far = make_contour(0.99, -0.01);
  cavum_mesh mesh, other = {0};
  cavum_mesh_follower follower = make_follower(&mesh, &contour);
  ck_assert_int_eq(cavum_mesh_copy(&other, &mesh, NULL), CAVUM_OK);
  ck_assert(cavum_mesh_follow(&mesh, &follower, &near));
  ck_assert(cavum_mesh_follow(&other, &follower, &far));
  ck_assert(cavum_mesh_follow(&other, &follower, &near));
  CAVUM_CHECK_NEAR(largest_move(&mesh, &other), 0.0, 0.0);
  cavum_mesh_clear(&other);
  cavum_mesh_follower_clear(&follower);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
  cavum_contour_clear(&near);
  cavum_contour_clear(&far);
}
END_TEST

START_TEST(its_own_contour_changes_nothing) {
  cavum_contour contour = make_contour(1.0, 0.0);
  cavum_mesh mesh;
  cavum_mesh_follower follower = make_follower(&mesh, &contour);
  ck_assert(cavum_mesh_follow(&mesh, &follower, &contour));
  // Points of curves are computed again from the same parameters: rounding of 0.2 m.
  CAVUM_CHECK_NEAR(largest_move(&mesh, &follower.base), 0.0, 1e-16);
  cavum_mesh_follower_clear(&follower);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
}
END_TEST

// A rigid shift along z is followed by every vertex, inside too: the membrane has that solution.
START_TEST(vertices_inside_go_along) {
  cavum_contour contour = make_contour(1.0, 0.0), moved = make_contour(1.0, 0.0);
  const double shift_m = 1e-3;
  for (cavum_index i = 0; i < moved.num_curves; i++) {
    moved.curves[i].start.z_m += shift_m;
    moved.curves[i].end.z_m += shift_m;
    moved.curves[i].centre.z_m += shift_m;
  }
  cavum_mesh mesh;
  cavum_mesh_follower follower = make_follower(&mesh, &contour);
  ck_assert(cavum_mesh_follow(&mesh, &follower, &moved));
  ck_assert_int_gt(follower.num_free, 0);
  double worst = 0.0;
  for (cavum_index i = 0; i < follower.num_free; i++) {
    cavum_index v = follower.free_vertex[i];
    cavum_point at = mesh.vertices[v], from = follower.base.vertices[v];
    worst = fmax(worst, hypot(at.z_m - from.z_m - shift_m, at.r_m - from.r_m));
  }
  CAVUM_CHECK_NEAR(worst, 0.0, 1e-15);  // rounding of sums of 0.2 m
  cavum_mesh_follower_clear(&follower);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
  cavum_contour_clear(&moved);
}
END_TEST

// A quarter of a square whose corner at z = r = 60 mm turns into it, there to be moved.
static cavum_contour notched_contour(double corner_z_mm, double corner_r_mm) {
  char text[1024];
  cavum_contour contour = {0};
  cavum_cell cell;
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n"
           "  path:\n    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 100, r_mm: 60}, boundary: metal}\n"
           "    - {line_to: {z_mm: %.9f, r_mm: %.9f}, boundary: metal}\n"
           "    - {line_to: {z_mm: 60, r_mm: 100}, boundary: magnetic}\n"
           "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n",
           corner_z_mm, corner_r_mm);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), "notch", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  cavum_cell_clear(&cell);
  return contour;
}

// Layers of elements at a sharp corner go with it: what they do otherwise is a small part of their
// distance to it, down to the innermost at some micrometres. The frequency is off by what is there,
// and its derivative by how that changes.
START_TEST(layers_go_with_their_corner) {
  const double move_m = 1e-5;
  cavum_contour contour = notched_contour(60.0, 60.0), moved = notched_contour(60.0, 60.01);
  cavum_mesh mesh;
  cavum_mesh_follower follower = make_follower(&mesh, &contour);
  ck_assert(cavum_mesh_follow(&mesh, &follower, &moved));
  double nearest_m = HUGE_VAL, worst = 0.0;
  for (cavum_index i = 0; i < follower.num_free; i++) {
    cavum_index v = follower.free_vertex[i];
    cavum_point at = mesh.vertices[v], from = follower.base.vertices[v];
    double away_m = hypot(from.z_m - 0.06, from.r_m - 0.06);
    double lag_m = hypot(at.z_m - from.z_m, at.r_m - from.r_m - move_m);
    nearest_m = fmin(nearest_m, away_m);
    worst = fmax(worst, lag_m / move_m * 0.04 / away_m);
  }
  printf("innermost layer at %.1e m; lag at most %.2f of the distance over a side of 40 mm\n",
         nearest_m, worst);
  ck_assert_double_lt(nearest_m, 1e-4);
  // The walls themselves lag by 1 of that; the rest of the move is spread over about as much.
  ck_assert_double_lt(worst, 4.0);
  cavum_mesh_follower_clear(&follower);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
  cavum_contour_clear(&moved);
}
END_TEST

// Whether the mesh of one drawn contour follows another.
static bool follows(const cavum_contour *from, const cavum_contour *to) {
  cavum_mesh mesh;
  cavum_mesh_follower follower = make_follower(&mesh, from);
  bool result = cavum_mesh_follow(&mesh, &follower, to);
  cavum_mesh_follower_clear(&follower);
  cavum_mesh_clear(&mesh);
  return result;
}

static bool follows_drawn(void (*from)(cavum_pen *), void (*to)(cavum_pen *)) {
  static cavum_pen pens[2];
  from(&pens[0]);
  to(&pens[1]);
  cavum_contour a = pen_contour(&pens[0]), b = pen_contour(&pens[1]);
  return follows(&a, &b);
}

START_TEST(other_pieces_are_refused) {
  cavum_contour contour = make_contour(1.0, 0.0), other = make_contour(1.001, 0.0);
  ck_assert(follows(&contour, &other));
  // Another number: the pieces of a pillbox are four, of a step six, of a sphere two.
  ck_assert(follows_drawn(draw_pillbox, draw_pillbox));
  ck_assert(!follows_drawn(draw_pillbox, draw_step));
  ck_assert(!follows_drawn(draw_step, draw_pillbox));
  ck_assert(!follows_drawn(draw_sphere, draw_pillbox));
  // Another kind of curve, then another boundary, on one piece.
  cavum_curve *curve = &other.curves[other.num_curves / 2], keep = *curve;
  curve->kind = curve->kind == CAVUM_CURVE_LINE ? CAVUM_CURVE_CUBIC : CAVUM_CURVE_LINE;
  ck_assert(!follows(&contour, &other));
  *curve = keep;
  curve->boundary =
      curve->boundary == CAVUM_BOUNDARY_METAL ? CAVUM_BOUNDARY_ELECTRIC : CAVUM_BOUNDARY_METAL;
  ck_assert(!follows(&contour, &other));
  *curve = keep;
  ck_assert(follows(&contour, &other));
  cavum_contour_clear(&contour);
  cavum_contour_clear(&other);
}
END_TEST

// Same pieces, other shape: slanted elements of a cell that is 1.7 times as long lose more than an
// eighth of their sine (mesh_follow.c); in a domain turned over Jacobians are negative.
START_TEST(far_shapes_are_refused) {
  cavum_contour contour = make_contour(1.0, 0.0), far = make_contour(1.7, 0.0);
  ck_assert_int_eq(contour.num_curves, far.num_curves);
  ck_assert(!follows(&contour, &far));
  cavum_contour_clear(&far);
  far = make_contour(1.0, 0.0);
  for (cavum_index i = 0; i < far.num_curves; i++) {
    far.curves[i].start.z_m *= -1.0;
    far.curves[i].end.z_m *= -1.0;
    far.curves[i].centre.z_m *= -1.0;
    far.curves[i].axial_m *= -1.0;
  }
  ck_assert(!follows(&contour, &far));
  cavum_contour_clear(&far);
  cavum_contour_clear(&contour);
}
END_TEST

static bool same_points(const cavum_point *a, const cavum_point *b, cavum_index count) {
  for (cavum_index i = 0; i < count; i++) {
    if (a[i].z_m != b[i].z_m || a[i].r_m != b[i].r_m) return false;
  }
  return true;
}

START_TEST(copies_are_equal_and_apart) {
  cavum_contour contour = make_contour(1.0, 0.0);
  cavum_mesh mesh = make_mesh(&contour), copy = {0};
  free(mesh.regions[0].name);
  mesh.regions[0].name = strdup("gap");
  mesh.regions[0].eps_r = 2.5;
  ck_assert_int_eq(cavum_mesh_copy(&copy, &mesh, NULL), CAVUM_OK);
  ck_assert(cavum_mesh_same_topology(&mesh, &copy));
  ck_assert(cavum_mesh_same_topology(&copy, &mesh));
  ck_assert_int_eq(copy.num_vertices, mesh.num_vertices);
  ck_assert_int_eq(copy.num_curves, mesh.num_curves);
  ck_assert(same_points(copy.vertices, mesh.vertices, mesh.num_vertices));
  ck_assert_str_eq(copy.regions[0].name, "gap");
  ck_assert(copy.regions[0].eps_r == 2.5);
  // Apart: the copy lives on.
  ck_assert_ptr_ne(copy.regions[0].name, mesh.regions[0].name);
  cavum_mesh_clear(&mesh);
  check_edges(&copy, &contour);
  cavum_mesh_clear(&copy);
  cavum_contour_clear(&contour);
}
END_TEST

// Each part of what counts, one at a time.
START_TEST(topology_is_compared) {
  cavum_contour contour = make_contour(1.0, 0.0), near = make_contour(1.01, 0.01);
  cavum_mesh mesh = make_mesh(&contour), copy = {0};
  ck_assert_int_eq(cavum_mesh_copy(&copy, &mesh, NULL), CAVUM_OK);
  copy.vertices[0].z_m += 1.0;
  copy.edges[0].t[0] += 0.1;
  copy.regions[0].eps_r = 3.0;
  ck_assert(cavum_mesh_same_topology(&mesh, &copy));  // positions and materials do not count
#define CHANGED(part, change)                           \
  do {                                                  \
    copy.part change;                                   \
    ck_assert(!cavum_mesh_same_topology(&mesh, &copy)); \
    copy.part = mesh.part;                              \
    ck_assert(cavum_mesh_same_topology(&mesh, &copy));  \
  } while (0)
  CHANGED(num_vertices, -= 1);
  CHANGED(num_edges, -= 1);
  CHANGED(num_elements, -= 1);
  CHANGED(num_regions, += 1);
  CHANGED(node_order, = 2);
  CHANGED(edges[3].vertex[1], += 1);
  CHANGED(edges[3].boundary, += 1);
  CHANGED(edges[3].element[0], += 1);
  CHANGED(edges[3].element[1], += 1);
  CHANGED(edges[3].local[0], += 1);
  CHANGED(elements[2].num_corners, = 3);
  CHANGED(elements[2].vertex[3], += 1);
  CHANGED(elements[2].edge[0], += 1);
  CHANGED(elements[2].reversed[1], ^= 1);
  CHANGED(elements[2].region, += 1);
#undef CHANGED
  cavum_mesh_clear(&copy);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
  cavum_contour_clear(&near);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, follows_a_neighbour);
  tcase_add_test(tests, does_not_depend_on_the_way);
  tcase_add_test(tests, its_own_contour_changes_nothing);
  tcase_add_test(tests, vertices_inside_go_along);
  tcase_add_test(tests, layers_go_with_their_corner);
  tcase_add_test(tests, other_pieces_are_refused);
  tcase_add_test(tests, far_shapes_are_refused);
  tcase_add_test(tests, copies_are_equal_and_apart);
  tcase_add_test(tests, topology_is_compared);
}

CAVUM_TEST_MAIN("mesh_follow", add_tests)
