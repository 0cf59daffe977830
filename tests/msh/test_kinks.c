// SPDX-License-Identifier: GPL-3.0-or-later
// What the reader of mesh files says about kinks: a coarse polygon is a curve, a chamfer is not.
#include <string.h>

#include "curved_mesh.h"
#include "mesh_shapes.h"
#include "temporary_folder.h"

// Writes a mesh, reads it back and gives the notes.
static cavum_mesh_notes notes_of(cavum_mesh *mesh) {
  char folder[128], path[192];
  cavum_error error = {0};
  cavum_mesh read = {0};
  cavum_mesh_notes notes = {0};
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/kinks.msh", folder);
  cavum_status status = cavum_mesh_write_msh(mesh, path, 0, 1e-3, true, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_mesh_source source = {.path = path, .unit_m = 1e-3, .axis = 'x'};
  status = cavum_mesh_read_msh(&read, &notes, &source, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_mesh_clear(&read);
  cavum_mesh_clear(mesh);
  temporary_folder_delete(folder);
  printf("%.4g deg: %s\n", notes.largest_kink_rad * 180.0 / acos(-1.0), notes.kinks);
  return notes;
}

// 8 sides a turn: corners of 45 degrees, one after the other.
START_TEST(coarse_polygon_is_a_curve) {
  const curved_rings rings = {.num_layers = 1,
                              .num_regions = 1,
                              .order = 1,
                              .edges_half_turn = 4,
                              .layer = {{CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  cavum_mesh mesh = curved_rings_mesh(&rings);
  cavum_mesh_notes notes = notes_of(&mesh);
  CAVUM_CHECK_NEAR(notes.largest_kink_rad, 0.25 * acos(-1.0), 1e-9);  // rounding of coordinates
  ck_assert_ptr_nonnull(strstr(notes.kinks, "straight-sided"));
  ck_assert_ptr_nonnull(strstr(notes.kinks, "f, R/Q, G and peak fields"));
  ck_assert_ptr_nonnull(strstr(notes.kinks, "save order 2 or more"));
  // 8 sides of 0.1 m 2 sin(22.5 deg); the sagitta of each is 0.1 m (1 - cos(22.5 deg)), taken as
  // flat.
  const char *about = strstr(notes.kinks, "about ");
  CAVUM_CHECK_RELATIVE(strtod(about + 6, NULL), 100.0 * (1.0 - cos(acos(-1.0) / 8.0)), 0.03);
}
END_TEST

// The same polygon with nodes on its sides: a higher order of the same sides mends nothing.
START_TEST(polygon_of_a_higher_order_is_a_curve) {
  const curved_rings rings = {.num_layers = 1,
                              .num_regions = 1,
                              .order = 1,
                              .edges_half_turn = 8,
                              .layer = {{CURVED_ELLIPSE, 0.1, 0.1, 0.0}}};
  for (int order = 2; order <= 3; order++) {
    cavum_mesh polygon = curved_rings_mesh(&rings);
    cavum_mesh mesh = curved_of_straight_sides(&polygon, order, order == 3);
    cavum_mesh_notes notes = notes_of(&mesh);
    CAVUM_CHECK_NEAR(notes.largest_kink_rad, 0.125 * acos(-1.0), 1e-9);  // rounding of coordinates
    ck_assert_ptr_nonnull(strstr(notes.kinks, "straight-sided"));
    ck_assert_ptr_nonnull(strstr(notes.kinks, "f, R/Q, G and peak fields"));
    ck_assert_ptr_nonnull(strstr(notes.kinks, "lay nodes on the curve"));
  }
}
END_TEST

// A pillbox with a chamfer: two corners of 45 degrees between straight walls.
START_TEST(chamfer_has_corners) {
  cavum_pen pen = pen_start(0, 0);
  pen_line(&pen, 100, 0, CAVUM_BOUNDARY_AXIS);
  pen_line(&pen, 100, 60, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 60, 100, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 100, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 0, CAVUM_BOUNDARY_METAL);
  cavum_contour contour = pen_contour(&pen);
  cavum_mesh mesh = curved_contour_mesh(&contour, 0.5, 1, true, 1.0);
  cavum_mesh_notes notes = notes_of(&mesh);
  ck_assert_str_eq(notes.kinks, "");
  ck_assert_double_eq(notes.largest_kink_rad, 0.0);
}
END_TEST

// A pillbox whose rounded edge of 20 mm is drawn as `facets` chords, with many sides on each. The
// chord of an angle a lies 20 mm (1 - cos(a / 2)) below the arc.
static cavum_contour faceted_edge(cavum_pen *pen, int facets) {
  *pen = pen_start(0, 0);
  pen_line(pen, 60, 0, CAVUM_BOUNDARY_AXIS);
  pen_line(pen, 60, 80, CAVUM_BOUNDARY_METAL);
  for (int i = 1; i < facets; i++) {
    double angle = 0.5 * acos(-1.0) * i / facets;
    pen_line(pen, 40 + 20 * cos(angle), 80 + 20 * sin(angle), CAVUM_BOUNDARY_METAL);
  }
  pen_line(pen, 40, 100, CAVUM_BOUNDARY_METAL);
  pen_line(pen, 0, 100, CAVUM_BOUNDARY_METAL);
  pen_line(pen, 0, 0, CAVUM_BOUNDARY_METAL);
  return pen_contour(pen);
}

static double distance_in(const char *note) {
  const char *about = strstr(note, "about ");
  ck_assert_ptr_nonnull(about);
  return strtod(about + 6, NULL);
}

START_TEST(facets_of_many_sides_are_polygons) {
  for (int i = 0; i < 8; i++) {
    int facets = 3 + i / 2, order = 1 + i % 2;
    cavum_pen pen;
    cavum_contour contour = faceted_edge(&pen, facets);
    cavum_mesh mesh = curved_contour_mesh(&contour, 0.5, order, true, 3.0);
    cavum_mesh_notes notes = notes_of(&mesh);
    ck_assert_ptr_nonnull(strstr(notes.kinks, "walls are polygons"));
    ck_assert_ptr_nonnull(strstr(notes.kinks, "f, R/Q, G, peak fields"));
    ck_assert_ptr_nonnull(strstr(notes.kinks, "mesh the curves themselves"));  // whole
    double off_mm = 20.0 * (1.0 - cos(0.25 * acos(-1.0) / facets));
    // The formula takes the arc as flat: 2 % at 30 degrees; the note has two digits.
    CAVUM_CHECK_RELATIVE(distance_in(notes.kinks), off_mm, 0.06);
  }
}
END_TEST

// A cone that begins with a bend of 20 degrees: what elements of a higher order have for it are two
// straight sides that meet at a corner.
START_TEST(a_bend_between_straight_sides_is_a_corner) {
  cavum_pen pen = pen_start(0, 0);
  pen_line(&pen, 100, 0, CAVUM_BOUNDARY_AXIS);
  pen_line(&pen, 100, 80, CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 50, 80 + 50 * tan(acos(-1.0) / 9.0), CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 80 + 50 * tan(acos(-1.0) / 9.0), CAVUM_BOUNDARY_METAL);
  pen_line(&pen, 0, 0, CAVUM_BOUNDARY_METAL);
  cavum_contour contour = pen_contour(&pen);
  for (int order = 2; order <= 3; order++) {
    cavum_mesh mesh = curved_contour_mesh(&contour, 0.5, order, false, 2.0);
    cavum_mesh_notes notes = notes_of(&mesh);
    ck_assert_str_eq(notes.kinks, "");
    ck_assert_double_eq(notes.largest_kink_rad, 0.0);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, coarse_polygon_is_a_curve);
  tcase_add_test(tests, polygon_of_a_higher_order_is_a_curve);
  tcase_add_test(tests, chamfer_has_corners);
  tcase_add_test(tests, facets_of_many_sides_are_polygons);
  tcase_add_test(tests, a_bend_between_straight_sides_is_a_corner);
}

CAVUM_TEST_MAIN("kinks", add_tests)
