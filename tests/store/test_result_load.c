// SPDX-License-Identifier: GPL-3.0-or-later
// A result file read back whole is the result that was written; damaged files are refused.
#include <string.h>
#include <unistd.h>

#include "cavum/store.h"
#include "fake_result.h"
#include "hdf5/hdf5_file.h"
#include "store/coldtest_load.h"
#include "support.h"

static char folder[64], path[128];

static void make_folder(void) {
  strcpy(folder, "/tmp/cavum-load-XXXXXX");
  ck_assert_ptr_nonnull(mkdtemp(folder));
  snprintf(path, sizeof path, "%s/result.hdf", folder);
}

static void remove_folder(void) {
  unlink(path);
  rmdir(folder);
}

static void write_fake(const cavum_result *result) {
  cavum_cell cell = fake_cell();
  cavum_error error = {0};
  ck_assert_msg(cavum_store_write_result(path, result, &cell, NULL, &error) == CAVUM_OK, "%s",
                error.message);
}

static void expect_same(const double *a, const double *b, int count) {
  if (count == 0) return;
  ck_assert_int_eq(memcmp(a, b, (size_t)count * sizeof *a), 0);
}

static void expect_same_profiles(const cavum_mode_result *a, const cavum_mode_result *b) {
  ck_assert_int_eq(a->axis.num_points, b->axis.num_points);
  expect_same(a->axis.z_m, b->axis.z_m, a->axis.num_points);
  expect_same(a->axis.e_v_per_m, b->axis.e_v_per_m, a->axis.num_points);
  const cavum_profile *wall = &a->wall;
  ck_assert_int_eq(wall->num_points, b->wall.num_points);
  expect_same(wall->arc_length_m, b->wall.arc_length_m, wall->num_points);
  expect_same(wall->z_m, b->wall.z_m, wall->num_points);
  expect_same(wall->r_m, b->wall.r_m, wall->num_points);
  expect_same(wall->e_v_per_m, b->wall.e_v_per_m, wall->num_points);
  expect_same(wall->h_a_per_m, b->wall.h_a_per_m, wall->num_points);
  const cavum_beta_curve *curve = &a->beta_curve;
  ck_assert_int_eq(curve->num_points, b->beta_curve.num_points);
  expect_same(curve->beta, b->beta_curve.beta, curve->num_points);
  expect_same(curve->voltage_v, b->beta_curve.voltage_v, curve->num_points);
  expect_same(curve->r_over_q_linac_ohm, b->beta_curve.r_over_q_linac_ohm, curve->num_points);
  expect_same(curve->uncertainty_ohm, b->beta_curve.uncertainty_ohm, curve->num_points);
}

static void expect_same_mode(const cavum_mode_result *a, const cavum_mode_result *b) {
  ck_assert_str_eq(a->label, b->label);
  ck_assert_int_eq(a->parity, b->parity);
  ck_assert_int_eq(a->accuracy_reached, b->accuracy_reached);
  CAVUM_CHECK_NEAR(b->residual, a->residual, 0.0);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    ck_assert_int_eq(a->figures[id].state, b->figures[id].state);
    if (a->figures[id].state == CAVUM_FIGURE_PRESENT) {
      CAVUM_CHECK_NEAR(b->figures[id].value, a->figures[id].value, 0.0);
      CAVUM_CHECK_NEAR(b->figures[id].uncertainty, a->figures[id].uncertainty, 0.0);
    }
    ck_assert_int_eq(a->figures[id].basis, b->figures[id].basis);
    ck_assert_int_eq(a->figures[id].has_position, b->figures[id].has_position);
  }
  expect_same_profiles(a, b);
  ck_assert_int_eq(a->field.order, b->field.order);
  ck_assert_int_eq(a->field.num_points, b->field.num_points);
  expect_same(a->field.z_m, b->field.z_m, a->field.num_points);
  expect_same(a->field.r_m, b->field.r_m, a->field.num_points);
  expect_same(a->field.h_phi_a_per_m, b->field.h_phi_a_per_m, a->field.num_points);
  expect_same(a->field.e_z_v_per_m, b->field.e_z_v_per_m, a->field.num_points);
  expect_same(a->field.e_r_v_per_m, b->field.e_r_v_per_m, a->field.num_points);
}

static void expect_same_mesh(const cavum_mesh *a, const cavum_mesh *b) {
  ck_assert_int_eq(a->num_elements, b->num_elements);
  ck_assert_int_eq(a->num_edges, b->num_edges);
  for (int e = 0; e < a->num_elements; e++) {
    ck_assert_int_eq(a->elements[e].num_corners, b->elements[e].num_corners);
    for (int k = 0; k < a->elements[e].num_corners; k++) {
      ck_assert_int_eq(a->elements[e].vertex[k], b->elements[e].vertex[k]);
      ck_assert_int_eq(a->elements[e].edge[k], b->elements[e].edge[k]);
    }
  }
  for (int i = 0; i < a->num_edges; i++) {
    ck_assert_int_eq(a->edges[i].boundary, b->edges[i].boundary);
  }
  // Edge 1 is shared: the fake mesh is two elements side by side.
  ck_assert_int_eq(b->edges[1].element[0], 0);
  ck_assert_int_eq(b->edges[1].element[1], 1);
  ck_assert_int_eq(b->edges[0].element[1], -1);
}

START_TEST(round_trip) {
  cavum_result *written = fake_result_create(), *read = NULL;
  cavum_stored_origin origin = {0};
  cavum_error error = {0};
  make_folder();
  write_fake(written);
  ck_assert_msg(cavum_store_read_result(&read, &origin, path, &error) == CAVUM_OK, "%s",
                error.message);
  ck_assert_str_eq(read->title, written->title);
  ck_assert_str_eq(read->accelerating_length.from, "2 x half_length");
  ck_assert_str_eq(origin.cell_text, FAKE_CELL_TEXT);
  ck_assert_uint_eq(origin.struct_size, sizeof origin);
  ck_assert_ptr_nonnull(origin.options);
  ck_assert_uint_eq(origin.options->struct_size, sizeof *origin.options);
  ck_assert(origin.options->use_symmetry);  // the default, which was written
  ck_assert_int_eq(read->half_model, written->half_model);
  ck_assert_int_eq(read->degree, 8);
  ck_assert_int_eq(read->num_steps, 2);
  ck_assert(isnan(read->steps[0].frequency_change) && isnan(read->steps[0].figure_change));
  CAVUM_CHECK_NEAR(read->steps[1].frequency_change, written->steps[1].frequency_change, 0.0);
  CAVUM_CHECK_NEAR(read->steps[1].figure_change, written->steps[1].figure_change, 0.0);
  ck_assert_int_eq(read->num_warnings, 1);
  ck_assert_str_eq(read->warnings[0], written->warnings[0]);
  CAVUM_CHECK_NEAR(read->coupling.value, written->coupling.value, 0.0);
  ck_assert(read->coupling_without_tubes);
  CAVUM_CHECK_NEAR(read->zero_mode_hz, 1.275e9, 0.0);
  CAVUM_CHECK_NEAR(read->zero_mode_uncertainty_hz, 12.0, 0.0);
  CAVUM_CHECK_NEAR(read->pi_mode_hz, 1.299e9, 0.0);
  CAVUM_CHECK_NEAR(read->pi_mode_uncertainty_hz, 14.0, 0.0);
  CAVUM_CHECK_NEAR(read->complete_below_hz, written->complete_below_hz, 0.0);
  expect_same_mesh(&written->mesh, &read->mesh);
  ck_assert_int_eq(read->num_modes, written->num_modes);
  for (int i = 0; i < read->num_modes; i++) {
    expect_same_mode(&written->modes[i], &read->modes[i]);
  }
  cavum_stored_kind kind;
  ck_assert_int_eq(cavum_stored_find_kind(&kind, path, &error), CAVUM_OK);
  ck_assert_int_eq(kind, CAVUM_STORED_RESULT);
  cavum_result_destroy(&read);
  cavum_stored_origin_clear(&origin);
  fake_result_destroy(written);
  remove_folder();
}
END_TEST

static void expect_refused(cavum_status expected) {
  cavum_result *read = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_store_read_result(&read, NULL, path, &error);
  printf("refused with: %s\n", error.message);
  ck_assert_int_eq(status, expected);
  ck_assert_ptr_null(read);
}

START_TEST(damaged_files) {
  cavum_result *written = fake_result_create();
  make_folder();
  expect_refused(CAVUM_ERR_FILE);  // None there.
  written->mesh.elements[0].vertex[2] = 77;
  write_fake(written);
  expect_refused(CAVUM_ERR_INPUT);
  written->mesh.elements[0].vertex[2] = 2;
  written->mesh.edges[2].vertex[0] = 4;  // An element's edge is missing now.
  write_fake(written);
  expect_refused(CAVUM_ERR_INPUT);
  fake_result_destroy(written);
  remove_folder();
}
END_TEST

START_TEST(other_files) {
  cavum_hdf5_file *file = NULL;
  cavum_stored_kind kind;
  cavum_stored_coldtest test;
  make_folder();
  ck_assert_int_eq(cavum_hdf5_create(&file, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_write_text_attribute(file, "/", "format", "another", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_save(file, path, "other", NULL), CAVUM_OK);
  cavum_hdf5_destroy(&file);
  expect_refused(CAVUM_ERR_INPUT);
  ck_assert_int_eq(cavum_stored_find_kind(&kind, path, NULL), CAVUM_ERR_INPUT);
  ck_assert_int_eq(cavum_stored_coldtest_read(&test, path, NULL), CAVUM_ERR_INPUT);
  cavum_stored_coldtest_clear(&test);
  remove_folder();
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, round_trip);
  tcase_add_test(tests, damaged_files);
  tcase_add_test(tests, other_files);
}

CAVUM_TEST_MAIN("result_load", add)
