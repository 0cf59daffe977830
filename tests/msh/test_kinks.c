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

static void add_tests(TCase *tests) {
  tcase_add_test(tests, coarse_polygon_is_a_curve);
  tcase_add_test(tests, chamfer_has_corners);
}

CAVUM_TEST_MAIN("kinks", add_tests)
