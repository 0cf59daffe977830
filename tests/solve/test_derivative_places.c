// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of drawn cells: with beam tubes, where two degrees may agree by chance since that of
// a peak goes with its place on the wall, and by higher modes. Against those of a tight solve, at
// 1e-9 of f and 1e-6 of others.
#include "derivative_tally.h"
#include "solving.h"

static cavum_end tube_of(random_state *state, const cavum_half_cell *half) {
  return (cavum_end){
      .kind = CAVUM_END_TUBE,
      .tube_length_m = half->equator_radius_m * random_between(state, 0.7, 1.6),
      .tube_radius_m = half->iris_radius_m,
      .tube_close = random_happens(state, 0.5) ? CAVUM_BOUNDARY_ELECTRIC : CAVUM_BOUNDARY_MAGNETIC};
}

// One of the cells with two tubes that are drawn from a seed.
static cavum_cell drawn(int number) {
  static const random_kind with_tubes = {{0.03, 0.3}, 0.4, random_half, tube_of};
  random_state state = {11};
  for (int i = 0;; i++) {
    cavum_cell cell = random_two_ellipse_of(&state, &with_tubes);
    if (i == number) return cell;
    cavum_cell_clear(&cell);
  }
}

// The first three had their peak of H at nearly the same place at two degrees, which were both off:
// derivatives of B_pk / E_acc were off by up to 9.5, 6.1 and 3.7 of their uncertainty. The next two
// have their peak of E where two edges of the mesh meet, in the approximations alone: off by 2.3
// and 2.1. Two cells after a neighbour had the same of E within an edge, off by 46 and 2.4. What
// the iteration left in a vector put the derivatives of voltages by the particle speed of the next
// off by 3.1, where what they are the sum of cancels, and those of f by the lengths of tubes of the
// last off by 2.3.
START_TEST(derivatives_of_cells_with_tubes_are_inside) {
  static const struct {
    int number;
    bool warm;
  } draws[] = {{108, false}, {198, false}, {173, false}, {50, false}, {116, false},
               {200, true},  {145, true},  {196, false}, {213, false}};
  static tally all;
  for (size_t i = 0; i < sizeof draws / sizeof *draws; i++) {
    char where[32];
    cavum_cell cell = drawn(draws[i].number);
    snprintf(where, sizeof where, "cell %d", draws[i].number);
    derivative_tally_cell(&all, &cell, where, (derivative_tally_way){.warm = draws[i].warm});
    cavum_cell_clear(&cell);
  }
  // Uncertainties are 60 times the errors in the median of 1,000 such cells.
  tally_check(&all, "derivatives", 1.0, 100.0);
  ck_assert_int_gt(all.count, 4000);
}
END_TEST

// Derivatives of V and all that is made with it by the second and third modes, whose adjoint
// vectors are solved for with factors beside the mode: solved for as those of the first mode are,
// 16, 17 and 8 of them were off by up to 1.4 uncertainties.
START_TEST(higher_modes_are_solved_for_closely) {
  static const struct {
    int number;
    bool warm;
  } draws[] = {{261, false}, {625, false}, {867, true}};
  static tally all;
  random_state state = {11 * 7919};
  size_t at = 0;
  for (int i = 0; at < sizeof draws / sizeof *draws; i++) {
    cavum_cell cell = random_two_ellipse(&state);
    cell.num_modes = 3;
    if (i == draws[at].number) {
      derivative_tally_cell(&all, &cell, "cell", (derivative_tally_way){.warm = draws[at].warm});
      at++;
    }
    cavum_cell_clear(&cell);
  }
  printf("%d of %d inside\n", all.inside, all.count);
  ck_assert_int_eq(all.inside, all.count);
  ck_assert_int_ge(all.count, 1500);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, derivatives_of_cells_with_tubes_are_inside);
  tcase_add_test(tests, higher_modes_are_solved_for_closely);
}

CAVUM_TEST_MAIN("derivative_places", add)
