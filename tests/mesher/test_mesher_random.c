// SPDX-License-Identifier: GPL-3.0-or-later
// The mesher on many random outlines, on hostile ones, with other options, and run twice.
#include <string.h>

#include "mesh_cases.h"
#include "mesh_check.h"

// xorshift64*: the same numbers everywhere.
static double draw(uint64_t *state, double low, double high) {
  *state ^= *state >> 12;
  *state ^= *state << 25;
  *state ^= *state >> 27;
  double unit = (double)((*state * 0x2545F4914F6CDD1Dull) >> 11) * 0x1p-53;
  return low + unit * (high - low);
}

// A random half cell; most fit, the others are refused by the contour and drawn again.
static cavum_status draw_cell(cavum_contour *contour, uint64_t *state, cavum_cell_part part) {
  double equator = draw(state, 80, 120), length = draw(state, 20, 70);
  double iris = draw(state, 0.1, 0.6) * equator, big = draw(state, 0.3, 0.95) * length;
  double small = draw(state, 0.03, 0.5) * length;
  double tube = draw(state, -100, 200);
  cavum_cell cell = two_ellipse_cell(length, iris, equator, big, big * draw(state, 0.6, 1.6), small,
                                     small * draw(state, 0.7, 2.0), tube > 20 ? tube : 0.0);
  return cavum_cell_make_contour(contour, &cell, part, NULL);
}

// With sanitizers everything takes ten times as long. CAVUM_LONG_TESTS=1 asks for more.
#ifdef CAVUM_SANITIZED
enum { NUM_CELLS = 60, NUM_PATHS = 25, LONG_FACTOR = 1 };
#else
enum { NUM_CELLS = 120, NUM_PATHS = 40, LONG_FACTOR = 3 };
#endif
static int some_of(int count) { return getenv("CAVUM_LONG_TESTS") ? count * LONG_FACTOR : count; }

START_TEST(random_cells_mesh) {
  uint64_t state = 0x9E3779B97F4A7C15ull;
  int64_t elements = 0;
  for (int count = 0; count < some_of(NUM_CELLS);) {
    cavum_contour contour = {0};
    cavum_cell_part part = count % 2 ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE;
    if (draw_cell(&contour, &state, part) != CAVUM_OK) continue;
    char name[32];
    snprintf(name, sizeof name, "random_cell_%d", count);
    cavum_index used = check_contour(name, &contour, NULL, 0.01);
    // The thinnest of these cells take some 250; what another rounding of another processor does to
    // the choices of the mesher changes that by tens. Sizes that run away give thousands.
    ck_assert_int_le(used, part == CAVUM_PART_RIGHT ? 250 : 500);
    elements += used;
    cavum_contour_clear(&contour);
    count++;
  }
  double mean = (double)elements / some_of(NUM_CELLS);
  printf("mean number of elements %.1f\n", mean);
  ck_assert_double_le(mean, 75.0);  // about 50
}
END_TEST

// A wall that goes from right to left in random pieces above the axis or an inner conductor.
static void draw_path(cavum_pen *pen, uint64_t *state) {
  int pieces = (int)draw(state, 2, 9);
  double floor_mm = draw(state, 0, 1) < 0.3 ? draw(state, 2, 30) : 0.0,
         length = draw(state, 40, 300);
  *pen = pen_start(0, floor_mm);
  pen_line(pen, length, floor_mm, floor_mm > 0.0 ? METAL : AXIS);
  bool level = true;  // the wall so far ends along the axis: an arc may rise steeply from it
  double r = floor_mm + draw(state, 5, 100);
  pen_line(pen, length, r, draw(state, 0, 1) < 0.5 ? METAL : MAGNETIC);
  for (int i = 1; i <= pieces; i++) {
    double z = length * (1.0 - (double)i / pieces), width = length / pieces;
    double next = floor_mm + draw(state, 5, 100), kind = draw(state, 0, 1);
    if (i == pieces) kind = 0.5;  // not along the end plane
    if (kind < 0.3) {
      pen_line(pen, z, r, METAL);
      pen_line(pen, z, next, METAL);
      level = false;
    } else if (next < r && kind > 0.6) {
      pen_ellipse(pen, z + width, next, width, r - next, 90, 90, METAL);
      level = false;
    } else if (level && kind > 0.6) {
      pen_ellipse(pen, z, r, width, next - r, 0, 90, METAL);
    } else {
      pen_cubic(pen, z + width * 2 / 3, r, z + width / 3, next, z, next, METAL);
      level = true;
    }
    r = next;
  }
  pen_line(pen, 0, floor_mm, ELECTRIC);
}

START_TEST(random_paths_mesh) {
  uint64_t state = 0xD1B54A32D192ED03ull;
  int64_t elements = 0;
  for (int count = 0; count < some_of(NUM_PATHS); count++) {
    cavum_pen pen;
    draw_path(&pen, &state);
    cavum_contour contour = pen_contour(&pen);
    char name[32];
    snprintf(name, sizeof name, "random_path_%d", count);
    elements += check_contour(name, &contour, NULL, 0.002);
  }
  printf("mean number of elements %.1f\n", (double)elements / some_of(NUM_PATHS));
}
END_TEST

START_TEST(refinement_divides_elements) {
  cavum_pen pen;
  draw_spline(&pen);
  cavum_contour contour = pen_contour(&pen);
  cavum_mesh_options options = cavum_mesh_options_default();
  options.junction_layers = options.corner_layers = 0;
  cavum_index whole = check_contour("spline_1", &contour, &options, 0.03);
  options.refinement = 2.0;
  ck_assert_int_eq(check_contour("spline_2", &contour, &options, 0.03), 4 * whole);
  options.refinement = 1.5;
  ck_assert_int_gt(check_contour("spline_1.5", &contour, &options, 0.03), whole);
  options.refinement = 0.0;
  options.largest_size_m = 0.008;
  ck_assert_int_gt(check_contour("spline_fine", &contour, &options, 0.03), 2 * whole);
}
END_TEST

START_TEST(edges_turn_no_more_than_asked) {
  cavum_pen pen;
  draw_spheroid(&pen);
  cavum_contour contour = pen_contour(&pen);
  cavum_mesh_options options = cavum_mesh_options_default();
  for (options.largest_turn_rad = 0.2; options.largest_turn_rad < 0.8;
       options.largest_turn_rad += 0.2) {
    cavum_mesh mesh = {0};
    ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &contour, &options, NULL), CAVUM_OK);
    for (cavum_index i = 0; i < mesh.num_edges; i++) {
      const cavum_edge *edge = &mesh.edges[i];
      if (edge->curve < 0) continue;
      cavum_point a = cavum_curve_derivative(&mesh.curves[edge->curve], edge->t[0]);
      cavum_point b = cavum_curve_derivative(&mesh.curves[edge->curve], edge->t[1]);
      double turn = atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m);
      // Turns are interpolated between samples 0.2 rad apart, which is good to a few per cent.
      ck_assert_double_le(fabs(turn), 1.05 * options.largest_turn_rad);
    }
    cavum_mesh_clear(&mesh);
  }
}
END_TEST

static bool same_mesh(const cavum_mesh *a, const cavum_mesh *b) {
  return a->num_vertices == b->num_vertices && a->num_elements == b->num_elements &&
         a->num_edges == b->num_edges &&
         memcmp(a->vertices, b->vertices, (size_t)a->num_vertices * sizeof *a->vertices) == 0 &&
         memcmp(a->elements, b->elements, (size_t)a->num_elements * sizeof *a->elements) == 0 &&
         memcmp(a->edges, b->edges, (size_t)a->num_edges * sizeof *a->edges) == 0;
}

START_TEST(same_contour_gives_same_bits) {
  for (int i = 0; i < CAVUM_NUM_MESH_CASES; i++) {
    cavum_pen pen;
    cavum_mesh first = {0}, second = {0};
    cavum_mesh_cases[i].draw(&pen);
    cavum_contour contour = pen_contour(&pen);
    ck_assert_int_eq(cavum_mesh_from_contour(&first, &contour, NULL, NULL), CAVUM_OK);
    void *shift = malloc(12345);  // another layout of the heap
    ck_assert_int_eq(cavum_mesh_from_contour(&second, &contour, NULL, NULL), CAVUM_OK);
    free(shift);
    ck_assert_msg(same_mesh(&first, &second), "%s differs", cavum_mesh_cases[i].name);
    cavum_mesh_clear(&first);
    cavum_mesh_clear(&second);
  }
}
END_TEST

// Meshes or fails with a message; a mesh must be valid.
static void try_contour(const char *name, cavum_pen *pen) {
  cavum_contour contour = {pen->count, pen->curves};
  cavum_mesh mesh = {0};
  cavum_error error = {0};
  double start = cavum_seconds();
  cavum_status status = cavum_mesh_from_contour(&mesh, &contour, NULL, &error);
  double seconds = cavum_seconds() - start;
  printf("%s: %s %s, %d elements, %.2f ms\n", name, cavum_status_text(status), error.message,
         mesh.num_elements, 1e3 * seconds);
  if (status == CAVUM_OK) {
    svg_write_mesh(name, &mesh);
    ck_assert_double_gt(worst_element(&mesh), 0.0);
    check_edges(&mesh, &contour);
    check_disc(&mesh);
    ck_assert_int_le(mesh.num_elements, 50000);
  } else {
    ck_assert_int_eq(status, CAVUM_ERR_MESH);
    ck_assert_int_gt((int)strlen(error.message), 0);
    ck_assert_ptr_null(mesh.elements);
  }
  cavum_mesh_clear(&mesh);
}

// A box with a tip of the given half width in its roof, 50 mm deep.
static cavum_pen draw_tip(double half_width_mm) {
  cavum_pen pen = pen_start(0, 0);
  pen_line(&pen, 100, 0, AXIS);
  pen_line(&pen, 100, 80, METAL);
  pen_line(&pen, 50 + half_width_mm, 80, METAL);
  pen_line(&pen, 50, 30, METAL);
  pen_line(&pen, 50 - half_width_mm, 80, METAL);
  pen_line(&pen, 0, 80, METAL);
  pen_line(&pen, 0, 0, METAL);
  return pen;
}

START_TEST(hostile_outlines_end) {
  static const double ratios[] = {1e-1, 1e-2, 1e-3, 1e-4, 1e-6, 1e-9};
  for (int i = 0; i < 6; i++) {
    double s = 100 * ratios[i];
    cavum_pen pen = pen_start(0, 0);  // flat box
    pen_line(&pen, 100, 0, AXIS);
    pen_line(&pen, 100, s, METAL);
    pen_line(&pen, 0, s, METAL);
    pen_line(&pen, 0, 0, METAL);
    try_contour("flat", &pen);
    pen = pen_start(0, 0);  // wedge with its tip on the axis
    pen_line(&pen, 100, 0, AXIS);
    pen_line(&pen, 100, s, METAL);
    pen_line(&pen, 0, 0, METAL);
    try_contour("wedge", &pen);
    pen = pen_start(0, 0);  // small rounding of a large corner
    pen_line(&pen, 100, 0, AXIS);
    pen_line(&pen, 100, 100 - s, METAL);
    pen_ellipse(&pen, 100 - s, 100 - s, s, s, 0, 90, METAL);
    pen_line(&pen, 0, 100, METAL);
    pen_line(&pen, 0, 0, METAL);
    try_contour("rounding", &pen);
    pen = pen_start(0, 0);  // narrow tube
    pen_line(&pen, 150, 0, AXIS);
    pen_line(&pen, 150, s, METAL);
    pen_line(&pen, 100, s, METAL);
    pen_line(&pen, 100, 101, METAL);
    pen_line(&pen, 0, 101, METAL);
    pen_line(&pen, 0, 0, METAL);
    try_contour("tube", &pen);
    pen = draw_tip(s);
    try_contour("tip", &pen);
    pen = pen_start(-100, 0);  // needle-like ellipse
    pen_line(&pen, 100, 0, AXIS);
    pen_ellipse(&pen, 0, 0, 100, s, 0, 180, METAL);
    try_contour("needle", &pen);
    pen = pen_start(-s, 0);  // and a disc-like one
    pen_line(&pen, s, 0, AXIS);
    pen_ellipse(&pen, 0, 0, s, 100, 0, 180, METAL);
    try_contour("disc", &pen);
  }
}
END_TEST

START_TEST(impossible_outlines_are_refused) {
  cavum_pen pen = pen_start(0, 0);  // clockwise
  pen_line(&pen, 0, 100, METAL);
  pen_line(&pen, 100, 100, METAL);
  pen_line(&pen, 100, 0, METAL);
  pen_line(&pen, 0, 0, AXIS);
  try_contour("clockwise", &pen);
  pen = pen_start(0, 0);  // a bow tie
  pen_line(&pen, 100, 0, AXIS);
  pen_line(&pen, 0, 100, METAL);
  pen_line(&pen, 100, 100, METAL);
  pen_line(&pen, 0, 0, METAL);
  try_contour("bow_tie", &pen);
  pen = pen_start(0, 0);  // not a number
  pen_line(&pen, 100, 0, AXIS);
  pen_line(&pen, 100, (double)NAN, METAL);
  pen_line(&pen, 0, 0, METAL);
  try_contour("nan", &pen);
  pen = pen_start(0, 0);  // no area
  pen_line(&pen, 100, 0, AXIS);
  pen_line(&pen, 0, 0, METAL);
  try_contour("flat_two", &pen);
  pen = pen_start(0, 0);  // a piece without length
  pen_line(&pen, 100, 0, AXIS);
  pen_line(&pen, 100, 0, METAL);
  pen_line(&pen, 100, 50, METAL);
  pen_line(&pen, 0, 0, METAL);
  try_contour("no_length", &pen);
  cavum_contour none = {0};
  cavum_mesh mesh = {0};
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &none, NULL, NULL), CAVUM_ERR_MESH);
  draw_pillbox(&pen);
  cavum_contour box = pen_contour(&pen);
  cavum_mesh_options options = cavum_mesh_options_default();
  options.refinement = -1.0;
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &box, &options, NULL), CAVUM_ERR_USAGE);
  options.refinement = 1e6;
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &box, &options, NULL), CAVUM_ERR_USAGE);
  draw_nose_cone(&pen);  // 64 x 64 parts of a hundred elements
  cavum_contour nose = pen_contour(&pen);
  options.refinement = 64.0;
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &nose, &options, NULL), CAVUM_ERR_USAGE);
  draw_pillbox(&pen);
  options.refinement = 1.0;
  options.largest_size_m = 1e-6;
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &box, &options, NULL), CAVUM_ERR_MESH);
  options.largest_size_m = (double)NAN;
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &box, &options, NULL), CAVUM_ERR_USAGE);
  ck_assert_ptr_null(mesh.vertices);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, random_cells_mesh);
  tcase_add_test(tests, random_paths_mesh);
  tcase_add_test(tests, refinement_divides_elements);
  tcase_add_test(tests, edges_turn_no_more_than_asked);
  tcase_add_test(tests, same_contour_gives_same_bits);
  tcase_add_test(tests, hostile_outlines_end);
  tcase_add_test(tests, impossible_outlines_are_refused);
}

CAVUM_TEST_MAIN("mesher_random", add_tests)
