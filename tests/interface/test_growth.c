// SPDX-License-Identifier: GPL-3.0-or-later
// Programs that were built with another version of the headers: structs that begin with their size
// and are shorter or longer than those of the library. Each struct stands in memory of just its own
// bytes, so that a sanitizer sees what reads or writes beyond it.
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/sized.h"
#include "cavum/cavum.h"
#include "support.h"
#include "test_cell.h"

/** The struct of the first version, that of now, and that of a later one. */
typedef struct first_version {
  size_t struct_size;
  double width_m;
} first_version;
typedef struct this_version {
  size_t struct_size;
  double width_m;
  const char *name;
  double depth_m;
} this_version;
typedef struct later_version {
  size_t struct_size;
  double width_m;
  const char *name;
  double depth_m, height_m;
} later_version;

static const cavum_sized KNOWN = {"box", "box_default()", sizeof(first_version),
                                  sizeof(this_version)};

START_TEST(shorter_structs_are_filled_up) {
  const first_version old = {.struct_size = sizeof old, .width_m = 2.0};
  this_version full;
  memset(&full, 0x5a, sizeof full);
  ck_assert_int_eq(cavum_sized_take(&full, &old, &KNOWN, NULL), CAVUM_OK);
  ck_assert(full.width_m == 2.0 && !full.name && full.depth_m == 0.0);
  ck_assert_uint_eq(full.struct_size, sizeof full);
  // Back to the program: no more than it has.
  struct {
    first_version has;
    double beyond;
  } program = {.beyond = 7.0};
  full.width_m = 3.0;
  full.depth_m = 4.0;
  cavum_sized_give(&program.has, sizeof program.has, &full, &KNOWN);
  ck_assert(program.has.width_m == 3.0 && program.beyond == 7.0);
  ck_assert_uint_eq(program.has.struct_size, sizeof program.has);
}
END_TEST

START_TEST(longer_structs_may_not_ask_for_more) {
  later_version later = {.struct_size = sizeof later, .width_m = 2.0, .depth_m = 5.0};
  this_version full;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_sized_take(&full, &later, &KNOWN, NULL), CAVUM_OK);
  ck_assert(full.width_m == 2.0 && full.depth_m == 5.0);
  later.height_m = 1.0;
  ck_assert_int_eq(cavum_sized_take(&full, &later, &KNOWN, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "members of the box are set"));
  cavum_sized_give(&later, sizeof later, &full, &KNOWN);
  ck_assert(later.height_m == 0.0 && later.struct_size == sizeof later);
  later.struct_size = sizeof(first_version) - sizeof(double);
  ck_assert_int_eq(cavum_sized_take(&full, &later, &KNOWN, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "begin with that"));
}
END_TEST

// The options of a program of before the mesher could be stopped.
START_TEST(meshes_of_an_older_program) {
  cavum_error error = {0};
  cavum_cell cell;
  cavum_contour contour = {0};
  cavum_mesh mesh = {0}, finer = {0}, same = {0};
  size_t size = offsetof(cavum_mesh_options, stop);
  cavum_mesh_options *old = malloc(size), now = cavum_mesh_options_default();
  ck_assert_ptr_nonnull(old);
  cavum_mesh_options_set_defaults(old, size);
  ck_assert_uint_eq(old->struct_size, size);
  ck_assert(old->corner_layers == -1 && old->junction_layers == -1 && old->refinement == 0.0);
  ck_assert_int_eq(cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &contour, old, &error), CAVUM_OK);
  old->refinement = now.refinement = 2.0;
  ck_assert_int_eq(cavum_mesh_from_contour(&finer, &contour, old, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_mesh_from_contour(&same, &contour, &now, &error), CAVUM_OK);
  ck_assert_int_gt(finer.num_elements, mesh.num_elements);
  ck_assert_int_eq(finer.num_elements, same.num_elements);
  ck_assert_mem_eq(finer.vertices, same.vertices,
                   (size_t)same.num_vertices * sizeof *same.vertices);
  old->struct_size = 0;
  cavum_mesh none = {0};
  ck_assert_int_eq(cavum_mesh_from_contour(&none, &contour, old, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "cavum_mesh_options_default()"));
  ck_assert_ptr_null(none.vertices);
  free(old);
  cavum_mesh_clear(&mesh);
  cavum_mesh_clear(&finer);
  cavum_mesh_clear(&same);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

// A struct of a later header, with one more member at its end.
#define LATER(type)  \
  struct {           \
    type known;      \
    double appended; \
  }

// The figures and powers of the worked example of the circuit model (integrator.c).
START_TEST(a_cold_test_of_a_later_program) {
  cavum_error error = {0};
  cavum_plan plan;
  LATER(cavum_coldtest_setup) setup;
  LATER(cavum_plan_request) request;
  cavum_coldtest_setup_set_defaults(&setup.known, sizeof setup);
  cavum_plan_request_set_defaults(&request.known, sizeof request);
  ck_assert(setup.appended == 0.0 && request.appended == 0.0);
  ck_assert(setup.known.coverage == 0.95 && isinf(request.known.q_pickup));
  setup.known.r_over_q_linac_ohm.value = 105.0;
  setup.known.accelerating_length_m.value = 0.1153;
  request.known.frequency_hz = 1.3e9;
  request.known.e_acc_v_per_m = 10e6;
  request.known.q0 = 2e10;
  request.known.q_external = 1e10;
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup.known, &request.known, &error), CAVUM_OK);
  // P_d = V^2 / (R/Q Q0).
  CAVUM_CHECK_RELATIVE(plan.state.wall_power_w, 1.153e6 * 1.153e6 / (105.0 * 2e10), 1e-12);
  request.appended = 1.0;
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup.known, &request.known, &error),
                   CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "members of the request of a plan are set"));
  request.appended = 0.0;
  setup.appended = 1.0;
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup.known, &request.known, &error),
                   CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "members of the setup of a cold test are set"));
}
END_TEST

#define CHECK_UNSET(call, words)                                      \
  do {                                                                \
    cavum_error error = {0};                                          \
    ck_assert_int_eq((call), CAVUM_ERR_USAGE);                        \
    ck_assert_msg(strstr(error.message, words), "%s", error.message); \
  } while (0)

// Zeros are what a program has that never asked for the defaults: each is told which function sets
// them.
START_TEST(structs_without_their_size_are_refused) {
  static const cavum_coldtest_setup setup;
  static const cavum_plan_request request;
  const char text[] = "forward_W\n1\n";
  cavum_coldtest_reading item = cavum_coldtest_reading_empty();
  cavum_coldtest_readings readings = {.num_readings = 1, .items = &item}, read;
  cavum_coldtest *test = NULL;
  cavum_plan plan;
  cavum_coldtest_setup filled = cavum_coldtest_setup_default();
  CHECK_UNSET(cavum_coldtest_evaluate(&test, &setup, &readings, &error),
              "cavum_coldtest_setup_default()");
  CHECK_UNSET(cavum_coldtest_make_plan(&plan, &setup, &request, &error),
              "cavum_coldtest_setup_default()");
  CHECK_UNSET(cavum_coldtest_make_plan(&plan, &filled, &request, &error),
              "cavum_plan_request_default()");
  CHECK_UNSET(cavum_coldtest_read_readings_text(&read, text, sizeof text - 1, NULL, &setup, &error),
              "cavum_coldtest_setup_default()");
  ck_assert_ptr_null(test);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, shorter_structs_are_filled_up);
  tcase_add_test(tests, longer_structs_may_not_ask_for_more);
  tcase_add_test(tests, meshes_of_an_older_program);
  tcase_add_test(tests, a_cold_test_of_a_later_program);
  tcase_add_test(tests, structs_without_their_size_are_refused);
}
CAVUM_TEST_MAIN("interface/growth", add_tests)
