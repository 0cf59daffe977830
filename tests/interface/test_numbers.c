// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers that programs were compiled with: enumerations are appended to and never renumbered,
// structs that programs place themselves begin with their size. A change here breaks programs that
// exist.
#include <stddef.h>

#include "cavum/cavum.h"
#include "support.h"

#define FIXED(name, number) _Static_assert((int)(name) == (number), #name " has a fixed number")

FIXED(CAVUM_OK, 0);
FIXED(CAVUM_ERR_INPUT, 1);
FIXED(CAVUM_ERR_USAGE, 2);
FIXED(CAVUM_ERR_FILE, 3);
FIXED(CAVUM_ERR_MEMORY, 4);
FIXED(CAVUM_ERR_GEOMETRY, 5);
FIXED(CAVUM_ERR_MESH, 6);
FIXED(CAVUM_ERR_LIBRARY, 7);
FIXED(CAVUM_ERR_NOT_CONVERGED, 8);
FIXED(CAVUM_ERR_INCOMPLETE, 9);
FIXED(CAVUM_ERR_RANGE, 10);
FIXED(CAVUM_ERR_STOPPED, 11);
FIXED(CAVUM_ERR_INTERNAL, 12);

FIXED(CAVUM_BOUNDARY_NONE, 0);
FIXED(CAVUM_BOUNDARY_METAL, 1);
FIXED(CAVUM_BOUNDARY_ELECTRIC, 2);
FIXED(CAVUM_BOUNDARY_MAGNETIC, 3);
FIXED(CAVUM_BOUNDARY_AXIS, 4);
FIXED(CAVUM_BOUNDARY_SYMMETRY, 5);
FIXED(CAVUM_CURVE_LINE, 0);
FIXED(CAVUM_CURVE_ELLIPSE, 1);
FIXED(CAVUM_CURVE_CUBIC, 2);
FIXED(CAVUM_END_UNSTATED, 0);
FIXED(CAVUM_END_METAL, 1);
FIXED(CAVUM_END_ELECTRIC, 2);
FIXED(CAVUM_END_MAGNETIC, 3);
FIXED(CAVUM_END_TUBE, 4);
FIXED(CAVUM_CONTOUR_UNSTATED, 0);
FIXED(CAVUM_CONTOUR_TWO_ELLIPSE, 1);
FIXED(CAVUM_CONTOUR_PATH, 2);
FIXED(CAVUM_CONTOUR_MESH_FILE, 3);
FIXED(CAVUM_WALL_NONE, 0);
FIXED(CAVUM_WALL_RESISTANCE, 1);
FIXED(CAVUM_WALL_METAL, 2);
FIXED(CAVUM_WALL_NIOBIUM, 3);
FIXED(CAVUM_PARITY_NONE, 0);
FIXED(CAVUM_PARITY_EVEN, 1);
FIXED(CAVUM_PARITY_ODD, 2);
FIXED(CAVUM_FIGURE_ABSENT, 0);
FIXED(CAVUM_FIGURE_PRESENT, 1);
FIXED(CAVUM_FIGURE_UNBOUNDED, 2);
FIXED(CAVUM_BASIS_COMPUTED, 0);
FIXED(CAVUM_BASIS_STATED, 1);
FIXED(CAVUM_BASIS_FIT, 2);
FIXED(CAVUM_BASIS_WITH_FIT, 3);
FIXED(CAVUM_BASIS_END_OF_RANGE, 4);
// It took the place of padding: figures keep their size and their members their places.
_Static_assert(offsetof(cavum_figure, at) == 32 && sizeof(cavum_figure) == 48, "figures as before");

FIXED(CAVUM_FIGURE_FREQUENCY, 0);
FIXED(CAVUM_FIGURE_R_OVER_Q_LINAC, 1);
FIXED(CAVUM_FIGURE_R_OVER_Q_CIRCUIT, 2);
FIXED(CAVUM_FIGURE_GEOMETRY_FACTOR, 3);
FIXED(CAVUM_FIGURE_G_TIMES_R_OVER_Q, 4);
FIXED(CAVUM_FIGURE_EPK_OVER_EACC, 5);
FIXED(CAVUM_FIGURE_BPK_OVER_EACC, 6);
FIXED(CAVUM_FIGURE_TRANSIT_TIME_FACTOR, 7);
FIXED(CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, 8);
FIXED(CAVUM_FIGURE_LOSS_FACTOR, 9);
FIXED(CAVUM_FIGURE_VOLTAGE_AT_1_J, 10);
FIXED(CAVUM_FIGURE_EACC_AT_1_J, 11);
FIXED(CAVUM_FIGURE_BETA_OPTIMUM, 12);
FIXED(CAVUM_FIGURE_R_OVER_Q_OPTIMUM, 13);
FIXED(CAVUM_FIGURE_SURFACE_RESISTANCE, 14);
FIXED(CAVUM_FIGURE_Q0, 15);
FIXED(CAVUM_FIGURE_SHUNT_IMPEDANCE, 16);
FIXED(CAVUM_FIGURE_WALL_POWER, 17);
FIXED(CAVUM_FIGURE_TUBE_CUT_FREQUENCY, 18);
FIXED(CAVUM_FIGURE_TUBE_CUT_R_OVER_Q, 19);
// A new figure gets its row above, and this its number.
FIXED(CAVUM_NUM_FIGURES, 20);
_Static_assert((int)CAVUM_NUM_FIGURES <= (int)CAVUM_FIGURES_ROOM, "room for every figure");

_Static_assert(offsetof(cavum_cell, struct_size) == 0, "a cell begins with its size");
_Static_assert(offsetof(cavum_solve_options, struct_size) == 0, "options begin with their size");

START_TEST(the_library_is_that_of_the_headers) {
  char version[32];
  snprintf(version, sizeof version, "%d.%d.%d", CAVUM_VERSION_MAJOR, CAVUM_VERSION_MINOR,
           CAVUM_VERSION_PATCH);
  ck_assert_str_eq(cavum_version(), version);
}
END_TEST

START_TEST(modes_and_figures_that_are_not_there) {
  cavum_mode_result mode = {.label = "TM010"};
  cavum_result result = {.num_modes = 1, .modes = &mode};
  mode.figures[CAVUM_FIGURE_FREQUENCY] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 1.3e9};
  ck_assert_ptr_eq(cavum_result_mode(&result, 0), &mode);
  ck_assert_ptr_null(cavum_result_mode(&result, 1));
  ck_assert_ptr_null(cavum_result_mode(&result, -1));
  ck_assert_ptr_null(cavum_result_mode(NULL, 0));
  ck_assert(cavum_mode_figure(&mode, CAVUM_FIGURE_FREQUENCY).value == 1.3e9);
  ck_assert_int_eq(cavum_mode_figure(NULL, CAVUM_FIGURE_FREQUENCY).state, CAVUM_FIGURE_ABSENT);
  ck_assert_int_eq(cavum_mode_figure(&mode, (cavum_figure_id)-1).state, CAVUM_FIGURE_ABSENT);
  ck_assert_int_eq(cavum_mode_figure(&mode, (cavum_figure_id)99).state, CAVUM_FIGURE_ABSENT);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, the_library_is_that_of_the_headers);
  tcase_add_test(tests, modes_and_figures_that_are_not_there);
}

CAVUM_TEST_MAIN("interface.numbers", add_tests)
