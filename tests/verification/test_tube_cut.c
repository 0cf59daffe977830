// SPDX-License-Identifier: GPL-3.0-or-later
// What cutting a tube does to f and R/Q, as estimated from one closure, against solving with the
// other one: the stated uncertainty covers the difference and is not far larger.
#include "random_cells.h"
#include "solving.h"

static cavum_end tube(double length, double radius, cavum_boundary close) {
  return (cavum_end){.kind = CAVUM_END_TUBE,
                     .tube_length_m = length,
                     .tube_radius_m = radius,
                     .tube_close = close};
}

static cavum_result *solve_with(cavum_cell *cell, cavum_boundary close) {
  if (cell->left_end.kind == CAVUM_END_TUBE) cell->left_end.tube_close = close;
  if (cell->right_end.kind == CAVUM_END_TUBE) cell->right_end.tube_close = close;
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_solve(&result, cell, NULL, &error);
  // A peak that does not reach its accuracy is no matter here.
  ck_assert_msg(status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED, "%s", error.message);
  return result;
}

static void compare(tally *all, const char *where, const cavum_mode_result *mode,
                    cavum_figure_id estimate, cavum_figure_id figure,
                    const cavum_mode_result *electric, const cavum_mode_result *magnetic) {
  const cavum_figure *e = &electric->figures[figure], *m = &magnetic->figures[figure];
  const cavum_figure *guess = &mode->figures[estimate];
  if (guess->state != CAVUM_FIGURE_PRESENT || e->state != CAVUM_FIGURE_PRESENT ||
      m->state != CAVUM_FIGURE_PRESENT) {
    return;
  }
  printf("%s %s: observed %.5e +- %.1e expected %.5e\n", where, cavum_figure_describe(estimate).key,
         guess->value, guess->uncertainty, m->value - e->value);
  tally_add(all, where, estimate, guess, m->value - e->value, e->uncertainty + m->uncertainty);
}

static void compare_cell(tally *f, tally *r, cavum_cell *cell, const char *where) {
  cell->accuracy_frequency = 1e-10;
  cell->accuracy_other_figures = 1e-7;
  cavum_result *electric = solve_with(cell, CAVUM_BOUNDARY_ELECTRIC);
  cavum_result *magnetic = solve_with(cell, CAVUM_BOUNDARY_MAGNETIC);
  for (int m = 0; m < electric->num_modes; m++) {
    for (int i = 0; i < 2; i++) {
      char place[96];
      const cavum_mode_result *mode = &(i ? magnetic : electric)->modes[m];
      snprintf(place, sizeof place, "%s mode %d from the %s end", where, m + 1,
               i ? "magnetic" : "electric");
      compare(f, place, mode, CAVUM_FIGURE_TUBE_CUT_FREQUENCY, CAVUM_FIGURE_FREQUENCY,
              &electric->modes[m], &magnetic->modes[m]);
      compare(r, place, mode, CAVUM_FIGURE_TUBE_CUT_R_OVER_Q, CAVUM_FIGURE_R_OVER_Q_LINAC,
              &electric->modes[m], &magnetic->modes[m]);
    }
  }
  cavum_result_destroy(&electric);
  cavum_result_destroy(&magnetic);
}

// Tubes of 0.4 to 3 radii on both sides or on one, wider or narrower than the iris now and then.
static void draw_ends(cavum_cell *cell, random_state *state) {
  double radius = cell->left.iris_radius_m * random_between(state, 0.95, 1.05);
  if (random_happens(state, 0.7)) radius = cell->left.iris_radius_m;
  cell->left_end = tube(radius * random_between(state, 0.4, 3.0), radius, CAVUM_BOUNDARY_ELECTRIC);
  cell->right = cell->left;
  cell->right_end = cell->left_end;
  if (random_happens(state, 0.4)) {
    cell->right_end.tube_length_m = radius * random_between(state, 0.4, 3.0);
  } else if (random_happens(state, 0.3)) {
    cell->right_end = (cavum_end){.kind = CAVUM_END_MAGNETIC};
  }
}

START_TEST(random_cells_with_tubes) {
  static tally of_frequency, of_r_over_q;
  random_state state = {20250611};
  for (int i = 0; i < 16; i++) {
    char where[32];
    cavum_cell cell = random_two_ellipse(&state);
    draw_ends(&cell, &state);
    cell.num_modes = 2;
    snprintf(where, sizeof where, "cell %d", i);
    compare_cell(&of_frequency, &of_r_over_q, &cell, where);
    cavum_cell_clear(&cell);
  }
  tally_check(&of_frequency, "change of f", 1.0, TALLY_MEDIAN_MOST);
  tally_check(&of_r_over_q, "change of R/Q", 1.0, TALLY_MEDIAN_MOST);
}
END_TEST

// Of cells that were moved, tubes and all: etched, stretched, cooled, cut at the ends, and etched
// by a depth that varies along the tubes. The list has the same closure as the ends.
static const char moved_cell[] =
    "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
    "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n%s  moved: [%s]\n"
    "ends: {left: {kind: %s, length_mm: %s, close: %s}, right: {kind: tube, length_mm: 70, "
    "close: %s}}\nmodes: {count: 1}\naccuracy: {frequency: 1.0e-10, other_figures: 1.0e-7}\n";

static cavum_result *solve_moved(const char *moves, bool alike, const char *close) {
  char text[1024];
  snprintf(text, sizeof text, moved_cell, alike ? "" : "  right: {iris_radius_mm: 38}\n", moves,
           "tube", alike ? "70" : "50, radius_mm: 33", close, close);
  cavum_cell cell = solving_read(text);
  cavum_result *result = solving_solve(&cell, NULL);
  cavum_cell_clear(&cell);
  return result;
}

START_TEST(cells_that_were_moved) {
  static const char along_z[] =
      "{offset_mm: 0.3, profile: [{z_mm: -120, share: 0.6}, {z_mm: 0, share: 1}, {z_mm: 130, "
      "share: 0.7}]}";
  static const char *const moves[] = {
      "{offset_mm: 0.15}", "{longer_mm: 0.8}, {offset_mm: 0.1}, {contraction: 0.00143}",
      "{iris_mm: -2}, {equator_mm: -0.5}", "{offset_mm: 0.3, iris_share: 1.4}", along_z};
  static tally of_frequency, of_r_over_q;
  for (size_t i = 0; i < 2 * sizeof moves / sizeof *moves; i++) {
    char where[96];
    bool alike = i % 2;
    cavum_result *electric = solve_moved(moves[i / 2], alike, "electric");
    cavum_result *magnetic = solve_moved(moves[i / 2], alike, "magnetic");
    for (int k = 0; k < 2; k++) {
      const cavum_mode_result *mode = &(k ? magnetic : electric)->modes[0];
      ck_assert_int_eq(mode->figures[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].state, CAVUM_FIGURE_PRESENT);
      snprintf(where, sizeof where, "%.40s%s, %s", moves[i / 2], alike ? ", alike" : "",
               k ? "magnetic" : "electric");
      compare(&of_frequency, where, mode, CAVUM_FIGURE_TUBE_CUT_FREQUENCY, CAVUM_FIGURE_FREQUENCY,
              &electric->modes[0], &magnetic->modes[0]);
      compare(&of_r_over_q, where, mode, CAVUM_FIGURE_TUBE_CUT_R_OVER_Q,
              CAVUM_FIGURE_R_OVER_Q_LINAC, &electric->modes[0], &magnetic->modes[0]);
    }
    cavum_result_destroy(&electric);
    cavum_result_destroy(&magnetic);
  }
  tally_check(&of_frequency, "change of f, moved", 1.0, TALLY_MEDIAN_MOST);
  tally_check(&of_r_over_q, "change of R/Q, moved", 1.0, TALLY_MEDIAN_MOST);
}
END_TEST

// Longer and longer tubes: the uncertainty falls with the square of the estimate, and below 1e-3 of
// it once the field has decayed to a thousandth of k^2, down to what the iteration leaves in the
// decayed field: some 1e-9 of the field in the cell, over the root of the relative change of f.
START_TEST(longer_tubes_are_estimated_better) {
  double before = HUGE_VAL;
  for (int i = 0; i < 4; i++) {
    cavum_cell cell = solving_read(
        "contour:\n  kind: two-ellipse\n  half_length_mm: 57.7\n  iris_radius_mm: 35\n"
        "  equator_radius_mm: 103.3\n  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
        "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
        "ends: {left: {kind: tube, length_mm: 40, close: electric}, right: {kind: tube, length_mm: "
        "40, close: electric}}\nmodes: {count: 1}\naccuracy: {frequency: 1.0e-10, other_figures: "
        "1.0e-7}\n");
    cell.left_end.tube_length_m = cell.right_end.tube_length_m = 0.04 + 0.02 * i;
    cavum_result *result = solving_solve(&cell, NULL);
    const cavum_figure *f = &result->modes[0].figures[CAVUM_FIGURE_TUBE_CUT_FREQUENCY];
    const cavum_figure *r = &result->modes[0].figures[CAVUM_FIGURE_TUBE_CUT_R_OVER_Q];
    printf("tubes of %.0f mm: f %.4e +- %.1e Hz, R/Q %.4e +- %.1e ohm\n",
           1e3 * cell.left_end.tube_length_m, f->value, f->uncertainty, r->value, r->uncertainty);
    double relative = f->uncertainty / fabs(f->value);
    double left = 1e-8 / sqrt(fabs(f->value) / result->modes[0].figures[0].value);
    ck_assert_double_lt(relative, 0.5 * before + left);
    ck_assert_double_lt(r->uncertainty, 0.5 * fabs(r->value));
    before = relative;
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
  ck_assert_double_lt(before, 1e-3);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, random_cells_with_tubes);
  tcase_add_test(tests, cells_that_were_moved);
  tcase_add_test(tests, longer_tubes_are_estimated_better);
}

CAVUM_TEST_MAIN("tube cut", add_tests)
