// SPDX-License-Identifier: GPL-3.0-or-later
// One check for a cell however it came about: what is not stated, unknown or out of range is
// refused with the name of the member, and every demo cell passes.
#include <string.h>

#include "cavum/cell.h"
#include "support.h"
#include "test_cell.h"

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

// The member is named, and the contour of such a cell is never made by guessing.
static void check_refused(const cavum_cell *cell, const char *member) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_cell_check(cell, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_int_eq(error.status, CAVUM_ERR_INPUT);
  ck_assert_msg(strstr(error.message, member) != NULL, "no '%s' in: %s", member, error.message);
}

static const double bad_lengths[] = {0.0, -0.03, 1e30, NAN, INFINITY};
enum { NUM_BAD_LENGTHS = sizeof bad_lengths / sizeof *bad_lengths };

START_TEST(what_is_not_stated_is_no_default) {
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  check_refused(&cell, "kind is not stated");
  cavum_cell read = read_cell(TEST_CELL);
  cell.kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell.left = cell.right = read.left;
  check_refused(&cell, "left_end.kind is not stated");
  cell.left_end.kind = CAVUM_END_MAGNETIC;
  check_refused(&cell, "right_end.kind is not stated");
  cavum_contour contour = {0};
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL),
                   CAVUM_ERR_INPUT);
  cell.right_end =
      (cavum_end){.kind = CAVUM_END_TUBE, .tube_length_m = 0.1, .tube_radius_m = 0.035};
  check_refused(&cell, "right_end.tube_close");
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL),
                   CAVUM_ERR_INPUT);
  cell.right_end.tube_close = CAVUM_BOUNDARY_ELECTRIC;
  ck_assert_int_eq(cavum_cell_check(&cell, NULL), CAVUM_OK);
  ck_assert_ptr_null(contour.curves);
  cavum_cell_clear(&read);
}
END_TEST

START_TEST(kinds_that_nobody_knows) {
  cavum_cell cell = read_cell(TEST_CELL), bad = cell;
  bad.kind = (cavum_contour_kind)99;
  check_refused(&bad, "kind is 99");
  bad = cell;
  bad.left_end.kind = (cavum_end_kind)99;
  check_refused(&bad, "left_end.kind is 99");
  bad = cell;
  bad.wall.kind = (cavum_wall_kind)-1;
  check_refused(&bad, "wall.kind is -1");
  bad = cell;
  bad.right_end = (cavum_end){CAVUM_END_TUBE, 0.1, 0.035, CAVUM_BOUNDARY_AXIS};
  check_refused(&bad, "right_end.tube_close");
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(numbers_out_of_range) {
  cavum_cell cell = read_cell(TEST_CELL), bad;
  const double bad_betas[] = {0.0, -1.0, 2.0, NAN};
  for (size_t i = 0; i < sizeof bad_betas / sizeof *bad_betas; i++) {
    bad = cell;
    bad.beta = bad_betas[i];
    check_refused(&bad, "beta");
    bad = cell;
    bad.accuracy_frequency = bad_betas[i];
    check_refused(&bad, "accuracy_frequency");
    bad = cell;
    bad.accuracy_other_figures = bad_betas[i];
    check_refused(&bad, "accuracy_other_figures");
  }
  for (int i = 0; i < NUM_BAD_LENGTHS; i++) {
    bad = cell;
    bad.left.iris_radius_m = bad_lengths[i];
    check_refused(&bad, "left.iris_radius_m");
    bad = cell;
    bad.right_end = (cavum_end){CAVUM_END_TUBE, bad_lengths[i], 0.035, CAVUM_BOUNDARY_METAL};
    check_refused(&bad, "right_end.tube_length_m");
    bad.right_end = (cavum_end){CAVUM_END_TUBE, 0.1, bad_lengths[i], CAVUM_BOUNDARY_METAL};
    check_refused(&bad, "right_end.tube_radius_m");
    if (bad_lengths[i] == 0.0) continue;  // not stated, and need not be
    bad = cell;
    bad.accelerating_length_m = bad_lengths[i];
    check_refused(&bad, "accelerating_length_m");
    bad = cell;
    bad.near_hz = bad_lengths[i];
    check_refused(&bad, "near_hz");
  }
  const int bad_counts[] = {0, -1, 1001};
  for (int i = 0; i < 3; i++) {
    bad = cell;
    bad.num_modes = bad_counts[i];
    check_refused(&bad, "num_modes");
  }
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(walls) {
  cavum_cell cell = read_cell(TEST_CELL), bad;
  for (int kind = CAVUM_WALL_RESISTANCE; kind <= CAVUM_WALL_NIOBIUM; kind++) {
    bad = cell;
    bad.wall.kind = (cavum_wall_kind)kind;
    check_refused(&bad, "wall.");
  }
  bad.wall.temperature_k = 2.0;  // a residual resistance of zero is one
  ck_assert_int_eq(cavum_cell_check(&bad, NULL), CAVUM_OK);
  cavum_cell_clear(&cell);
}
END_TEST

#define PATH_CELL                                                                           \
  "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"                          \
  "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"                                 \
  "    - {arc_to: {z_mm: 0, r_mm: 100}, centre: {z_mm: 0, r_mm: 0}, turn: left, boundary: " \
  "metal}\n"                                                                                \
  "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: electric}\n"

START_TEST(paths) {
  cavum_cell cell = read_cell(PATH_CELL);
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_curve *arc = &cell.path.curves[1], kept = *arc;
  ck_assert_int_eq(cavum_cell_check(&cell, NULL), CAVUM_OK);
  arc->boundary = CAVUM_BOUNDARY_NONE;
  check_refused(&cell, "path.curves[1].boundary");
  arc->boundary = CAVUM_BOUNDARY_SYMMETRY;
  check_refused(&cell, "path.curves[1].boundary");
  *arc = kept;
  arc->kind = (cavum_curve_kind)7;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error),
                   CAVUM_ERR_GEOMETRY);
  *arc = kept;
  arc->axial_m *= 1.01;  // the formula of the arc no longer meets the ends that are stored
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error),
                   CAVUM_ERR_GEOMETRY);
  printf("%s\n", error.message);
  *arc = kept;
  arc->angle_end_rad = NAN;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error),
                   CAVUM_ERR_GEOMETRY);
  *arc = kept;
  cavum_curve *curves = cell.path.curves;
  cell.path.curves = NULL;
  check_refused(&cell, "path has 0 curves");
  cell.path.curves = curves;
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(mesh_files) {
  cavum_cell cell;
  cavum_region region = {.name = "window", .eps_r = -1.0, .mu_r = 1.0};
  cavum_boundary_name_map map = {.name = "outer", .boundary = CAVUM_BOUNDARY_NONE};
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_MESH_FILE;
  check_refused(&cell, "mesh.path");
  cell.mesh.path = "cell.msh";
  check_refused(&cell, "mesh.unit_m");
  cell.mesh.unit_m = 1e-3;
  check_refused(&cell, "mesh.axis");
  cell.mesh.axis = 'x';
  ck_assert_int_eq(cavum_cell_check(&cell, NULL), CAVUM_OK);
  cell.mesh.num_regions = 1;
  check_refused(&cell, "regions");
  cell.mesh.regions = &region;
  check_refused(&cell, "mesh.regions[0] 'window'");
  region.eps_r = 9.8;
  cell.mesh.num_boundaries = 1;
  cell.mesh.boundaries = &map;
  check_refused(&cell, "mesh.boundaries[0] 'outer'");
}
END_TEST

START_TEST(meshes_in_memory) {
  cavum_cell cell;
  char data[4] = {0};
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_MESH_FILE;
  cell.mesh.unit_m = 1e-3;
  cell.mesh.axis = 'x';
  cell.mesh_data = data;
  check_refused(&cell, "mesh_size is 0 with mesh_data");
  cell.mesh_size = sizeof data;
  ck_assert_int_eq(cavum_cell_check(&cell, NULL), CAVUM_OK);
  cell.mesh_size = SIZE_MAX;
  check_refused(&cell, "mesh_size");
  cell.mesh_data = NULL;
  cell.mesh.path = "cell.msh";
  check_refused(&cell, "without mesh_data");
  // For a program whose cell ends before, there is no such thing.
  cell.struct_size = offsetof(cavum_cell, mesh_data);
  ck_assert_int_eq(cavum_cell_check(&cell, NULL), CAVUM_OK);
}
END_TEST

START_TEST(no_cell_and_memory_that_was_never_set) {
  cavum_cell cell;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_cell_check(NULL, &error), CAVUM_ERR_USAGE);
  memset(&cell, 0, sizeof cell);
  ck_assert_int_eq(cavum_cell_check(&cell, &error), CAVUM_ERR_USAGE);
  ck_assert(strstr(error.message, "cavum_cell_set_defaults") != NULL);
  memset(&cell, 0xa5, sizeof cell);
  ck_assert_int_eq(cavum_cell_check(&cell, &error), CAVUM_ERR_USAGE);
  ck_assert(!cavum_cell_is_mirror_symmetric(NULL));
  ck_assert_int_eq(cavum_cell_make_contour(NULL, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_cell_read_text(NULL, "", 0, NULL, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_cell_read_file(&cell, NULL, NULL), CAVUM_ERR_USAGE);
}
END_TEST

// A program that was built with a later header has members that are unknown here: with 0 in them it
// asks for nothing new, with anything else it asks for what cannot be done.
START_TEST(longer_structs) {
  struct {
    cavum_cell cell;
    double later;
  } program;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text_sized(&program.cell, sizeof program, TEST_CELL,
                                                   strlen(TEST_CELL), NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_uint_eq(program.cell.struct_size, sizeof program);
  ck_assert(program.later == 0.0);
  ck_assert_int_eq(cavum_cell_check(&program.cell, &error), CAVUM_OK);
  program.later = 1.0;
  ck_assert_int_eq(cavum_cell_check(&program.cell, &error), CAVUM_ERR_USAGE);
  cavum_cell_clear(&program.cell);
  ck_assert(program.later == 0.0);
  ck_assert_ptr_null(program.cell.text);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, what_is_not_stated_is_no_default);
  tcase_add_test(tests, kinds_that_nobody_knows);
  tcase_add_test(tests, numbers_out_of_range);
  tcase_add_test(tests, walls);
  tcase_add_test(tests, paths);
  tcase_add_test(tests, mesh_files);
  tcase_add_test(tests, meshes_in_memory);
  tcase_add_test(tests, no_cell_and_memory_that_was_never_set);
  tcase_add_test(tests, longer_structs);
}

CAVUM_TEST_MAIN("cell.cell_check", add_tests)
