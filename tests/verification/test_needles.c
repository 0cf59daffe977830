// SPDX-License-Identifier: GPL-3.0-or-later
// Thin conductors that end in a cell: needles of radius 0.02 mm and more, 30 mm long, with a flat
// tip, on the end plate of a pillbox of radius 88 mm and length 100 mm. Reference values are those
// of a mesh by hand (needle_mesh.py), whose elements have a ratio of radii of 2 at most.
#include "solving.h"

// Frequency, R/Q and G of the needle of 0.02 mm with ratios of 1.5. Those of ratios of 2 differ by
// 4e-9, 3e-7 and 6e-7, and 1e-6 is allowed for.
static const double REFERENCE[] = {1291533586.9, 339.688650, 105.179553};
static const cavum_figure_id FIGURES[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_R_OVER_Q_LINAC,
                                          CAVUM_FIGURE_GEOMETRY_FACTOR};

static cavum_cell read_needle(double radius_mm) {
  char text[1024];
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\ncontour:\n  kind: path\n"
           "  start: {z_mm: 30, r_mm: 0}\n  path:\n"
           "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: 100, r_mm: 88}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 88}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 30, r_mm: %g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 30, r_mm: 0}, boundary: metal}\n"
           "modes: {count: 1}\n",
           radius_mm, radius_mm);
  return solving_read(text);
}

static void check_covers(const cavum_result *result) {
  for (int i = 0; i < 3; i++) {
    const cavum_figure *f = &result->modes[0].figures[FIGURES[i]];
    ck_assert_int_eq(f->state, CAVUM_FIGURE_PRESENT);
    printf("%s %.10g +- %.2g, reference %.10g\n", cavum_figure_describe(FIGURES[i]).key, f->value,
           f->uncertainty, REFERENCE[i]);
    ck_assert_double_le(fabs(f->value - REFERENCE[i]), f->uncertainty + 1e-6 * REFERENCE[i]);
  }
}

static bool has_warning(const cavum_result *result, const char *part) {
  for (int i = 0; i < result->num_warnings; i++) {
    if (strstr(result->warnings[i], part)) return true;
  }
  return false;
}

// At a low degree polynomials carry nothing that goes as 1 / r^2 beside a wire of 20 um, whatever
// the mesh: the frequency is that of the pillbox, 12 MHz off. The changes of degrees are 1e-7 of
// it.
START_TEST(a_needle_that_is_not_felt_is_told) {
  cavum_solve_options options = cavum_solve_options_default();
  cavum_cell cell = read_needle(0.02);
  options.degree = 3;
  cavum_result *result = solving_solve(&cell, &options);
  check_covers(result);
  ck_assert(has_warning(result, "radius 0.02 mm"));
  ck_assert(has_warning(result, "too thin for the elements beside it"));
  ck_assert(!result->accuracy_reached);
  // A needle of a quarter of the wave length has a mode of its own: nothing was counted.
  ck_assert(result->complete_below_hz == 0.0);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Strips along the needle carry its field: the frequency, 12 MHz below that of the pillbox, agrees
// with that of the mesh by hand.
START_TEST(a_needle_is_felt) {
  cavum_cell cell = read_needle(0.02);
  cavum_result *result = solving_solve(&cell, NULL);
  check_covers(result);
  ck_assert(result->num_warnings == 0);
  ck_assert(result->complete_below_hz > 0.0);
  ck_assert_double_le(result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].uncertainty, 1300.0);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Conductors as thick as those of usual cells are not called thin.
START_TEST(an_inner_conductor_is_felt) {
  cavum_cell cell = read_needle(10.0);
  cavum_result *result = solving_solve(&cell, NULL);
  ck_assert(!has_warning(result, "too thin"));
  ck_assert(result->complete_below_hz > 0.0);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_needle_that_is_not_felt_is_told);
  tcase_add_test(tests, a_needle_is_felt);
  tcase_add_test(tests, an_inner_conductor_is_felt);
}

CAVUM_TEST_MAIN("needles", add_tests)
