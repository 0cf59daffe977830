// SPDX-License-Identifier: GPL-3.0-or-later
// Does the uncertainty of the peak of E hold where it stands at the end of an edge of the mesh?
// There polynomials lag behind, most of all where the curvature of the wall jumps: at the joint of
// an iris ellipse with its line, and at an iris plane beside another peak as large. The reference
// is the same cell at 1e-9 of the frequency and 1e-7 of the other figures, with its own
// uncertainty.
#include "cavum/solver.h"
#include "neighbour.h"
#include "solving.h"

static tally all;

static void add_peaks(const cavum_result *result, const cavum_cell *cell, const char *where) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  cavum_cell tight = *cell;
  tight.accuracy_frequency = 1e-9;
  tight.accuracy_other_figures = 1e-7;
  cavum_result *truth = solving_solve(&tight, NULL);
  ck_assert_int_eq(result->num_modes, truth->num_modes);
  for (int m = 0; m < result->num_modes; m++) {
    const cavum_figure *known = &truth->modes[m].figures[id];
    const cavum_figure *peak = &result->modes[m].figures[id];
    if (known->state != CAVUM_FIGURE_PRESENT) continue;
    printf("%s mode %d: %.8f +- %.1e, true %.8f +- %.0e, error / uncertainty %.2f\n", where, m + 1,
           peak->value, peak->uncertainty, known->value, known->uncertainty,
           fabs(peak->value - known->value) / peak->uncertainty);
    tally_add(&all, where, id, peak, known->value, known->uncertainty);
  }
  cavum_result_destroy(&truth);
}

// An iris ellipse that is longer than high is bent most at its sides, where its line begins.
static cavum_half_cell flat_iris(random_state *state, double equator) {
  cavum_half_cell half = {.equator_radius_m = equator};
  half.half_length_m = equator * random_between(state, 0.3, 0.75);
  half.iris_radius_m = equator * random_between(state, 0.15, 0.5);
  double depth = equator - half.iris_radius_m;
  half.iris_axial_m = half.half_length_m * random_between(state, 0.1, 0.4);
  half.iris_radial_m = fmin(half.iris_axial_m * random_between(state, 0.45, 0.9), 0.6 * depth);
  half.equator_axial_m = (half.half_length_m - half.iris_axial_m) * random_between(state, 0.5, 1.0);
  half.equator_radial_m = (depth - half.iris_radial_m) * random_between(state, 0.3, 0.9);
  return half;
}

static cavum_end lossless_end(random_state *state, const cavum_half_cell *half) {
  (void)half;
  bool magnetic = random_happens(state, 0.5);
  return (cavum_end){.kind = magnetic ? CAVUM_END_MAGNETIC : CAVUM_END_ELECTRIC};
}

static cavum_cell cell_with_flat_irises(random_state *state) {
  static const random_kind kind = {{0.05, 0.25}, 0.3, flat_iris, lossless_end};
  return random_two_ellipse_of(state, &kind);
}

// Those of 340 such cells that were furthest off: two lay outside, by 1.06 and 1.21 uncertainties,
// since the ends of edges were not watched and the peak was there.
START_TEST(peaks_where_curvature_jumps) {
  static const int numbers[] = {68, 328, 334};
  enum { COUNT = sizeof numbers / sizeof *numbers };
  random_state state = {31};
  all = (tally){0};
  for (int i = 0, next = 0; next < COUNT; i++) {
    char where[64];
    cavum_cell cell = cell_with_flat_irises(&state);
    snprintf(where, sizeof where, "flat irises %d", i);
    if (i == numbers[next]) {
      cavum_result *result = solving_solve(&cell, NULL);
      add_peaks(result, &cell, where);
      cavum_result_destroy(&result);
      next++;
    }
    cavum_cell_clear(&cell);
  }
  ck_assert_int_ge(all.count, COUNT);
  ck_assert_int_eq(all.inside, all.count);
}
END_TEST

// One found by chance, 1.20 uncertainties off.
START_TEST(peak_at_a_joint_of_a_cell_with_one_iris_wider) {
  all = (tally){0};
  cavum_cell cell = solving_read(
      "contour:\n  kind: two-ellipse\n  half_length_mm: 48.85740892095446\n"
      "  iris_radius_mm: 19.208865749059846\n  equator_radius_mm: 94.12559974148925\n"
      "  equator_ellipse: {axial_mm: 25.589691340254614, radial_mm: 46.58493713760276}\n"
      "  iris_ellipse: {axial_mm: 13.765242438222746, radial_mm: 10.015237266193088}\n"
      "  right: {iris_radius_mm: 19.6382149578058}\n"
      "ends:\n  left: {kind: magnetic}\n  right: {kind: electric}\n"
      "modes: {count: 3}\nbeta: 0.8\n");
  cavum_result *result = solving_solve(&cell, NULL);
  add_peaks(result, &cell, "one iris wider");
  ck_assert_int_eq(all.inside, all.count);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Tall irises with two peaks of E that are alike to 1e-4, at the flank and at the iris plane, after
// neighbours by which the solver has learned a degree. The peak at the plane was hidden below the
// other one at some degrees, and one of these cells was 1.2 uncertainties off.
START_TEST(peaks_after_a_neighbour_with_two_alike) {
  enum { DRAWS = 150, FIRST = 58, LAST = 66, NEIGHBOURS = 2 };
  const double from = 0.99995, to = 1.00003;
  random_state state = {12};
  all = (tally){0};
  cavum_cell cell = solving_read(
      "contour:\n  kind: two-ellipse\n  half_length_mm: 70.3\n  iris_radius_mm: 48\n"
      "  equator_radius_mm: 203.1211\n  equator_ellipse: {axial_mm: 47.318, radial_mm: 76.567}\n"
      "  iris_ellipse: {axial_mm: 21.063, radial_mm: 48.033}\n"
      "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n"
      "modes: {count: 1}\nbeta: 0.61\n");
  double iris_radial_m = cell.left.iris_radial_m;
  for (int i = 0; i <= LAST; i++) {
    char where[64];
    cavum_error error = {0};
    cavum_solver *solver = NULL;
    cavum_result *result = NULL;
    ck_assert_int_eq(cavum_solver_create(&solver, NULL, &error), CAVUM_OK);
    cell.left.iris_radial_m = iris_radial_m * (from + (to - from) * i / (DRAWS - 1));
    cell.right = cell.left;
    for (int k = 0; k <= NEIGHBOURS; k++) {
      cavum_cell neighbour = cell;
      if (k < NEIGHBOURS) neighbour_change_two_ellipse(&neighbour, &state, 0.012);
      if (i < FIRST) continue;  // drawn, but not solved
      cavum_result_destroy(&result);
      ck_assert_int_eq(cavum_solver_solve(&result, solver, &neighbour, &error), CAVUM_OK);
    }
    snprintf(where, sizeof where, "tall irises %d", i);
    if (result) add_peaks(result, &cell, where);
    cavum_result_destroy(&result);
    cavum_solver_destroy(&solver);
  }
  cavum_cell_clear(&cell);
  ck_assert_int_eq(all.count, LAST - FIRST + 1);
  ck_assert_int_eq(all.inside, all.count);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, peaks_where_curvature_jumps);
  tcase_add_test(tests, peak_at_a_joint_of_a_cell_with_one_iris_wider);
  tcase_add_test(tests, peaks_after_a_neighbour_with_two_alike);
}

CAVUM_TEST_MAIN("peak_coverage", add_tests)
