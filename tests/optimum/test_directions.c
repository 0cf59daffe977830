// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of the objective and of the limits along random directions against differences, at
// the start; CAVUM_LONG_TESTS=1: at every tenth solve of a search.
#include "base/base.h"
#include "cavum/optimum.h"
#include "inner_shape.h"
#include "optimum/point.h"
#include "optimum/rows.h"
#include "solving.h"

#define CELL INNER_SHAPE "accuracy: {frequency: 1.0e-8, other_figures: 1.0e-5}\n"

#define GOAL                                                                          \
  "vary:\n"                                                                           \
  "  equator_ellipse.axial_mm: {from: 40, to: 48}\n"                                  \
  "  equator_ellipse.radial_mm: {from: 28, to: 44}\n"                                 \
  "  iris_ellipse.axial_mm: {from: 11, to: 15}\n"                                     \
  "linked: [iris_ellipse.radial_mm = 1.6 * iris_ellipse.axial_mm]\n"                  \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n"           \
  "minimise: {bpk_over_eacc_mT_per_MV_per_m: 1}\nmaximise: {r_over_q_linac_ohm: 1}\n" \
  "limits:\n  epk_over_eacc: {most: 2.1}\n  wall_angle_deg: {least: 5}\nstarts: 1\n"

// Of the ranges. The third derivative of what is smooth leaves a millionth of it.
static const double STEP = 2e-3;

static double draw(uint64_t *state) {
  *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
  return (double)(*state >> 11) / 9007199254740992.0 * 2.0 - 1.0;
}

// The slope of ln of a value by a variable: of a peak that of its highest place.
static double slope_of(const cavum_optimum_value *v, int variable) {
  const cavum_optimum_place *top = v->num_places > 0 ? &v->places[0] : NULL;
  for (int k = 1; k < v->num_places; k++) {
    if (v->places[k].below > top->below) top = &v->places[k];
  }
  return top ? top->slope[variable] : v->slope[variable] / v->value;
}

static void check_direction(cavum_optimum_solving *solving, const double *place,
                            const double *direction) {
  const cavum_goal *goal = solving->goal;
  cavum_optimum_point here, side[2];
  memset(&here, 0, sizeof here);
  memset(side, 0, sizeof side);
  ck_assert_int_eq(cavum_optimum_point_solve(&here, solving, place, NULL), CAVUM_OK);
  for (int k = 0; k < 2; k++) {
    double moved[CAVUM_GOAL_MOST_VARIABLES];
    for (int j = 0; j < goal->num_variables; j++) {
      moved[j] = place[j] + (k == 0 ? -STEP : STEP) * direction[j];
    }
    ck_assert_int_eq(cavum_optimum_point_solve(&side[k], solving, moved, NULL), CAVUM_OK);
  }
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_optimum_value *v = &here.values[i];
    double slope = 0.0, low = log(side[0].values[i].value), high = log(side[1].values[i].value);
    for (int j = 0; j < goal->num_variables; j++) slope += slope_of(v, j) * direction[j];
    // What the values are known to, over the distance; the second difference says how curved it
    // is, of which a third derivative of ten times that would leave this much.
    double noise = (side[0].values[i].noise + side[1].values[i].noise) / (2.0 * STEP * v->value);
    double curved = fabs(high - 2.0 * log(v->value) + low) / STEP;
    printf("%s: ", goal->quantities[i].what.key);
    CAVUM_CHECK_NEAR((high - low) / (2.0 * STEP), slope,
                     noise + 0.05 * curved + 1e-4 * fabs(slope) + 1e-7);
  }
  cavum_optimum_point_clear(&here);
  for (int k = 0; k < 2; k++) cavum_optimum_point_clear(&side[k]);
}

static cavum_goal *open_goal_of(const char *cell_text) {
  cavum_cell cell = solving_read(cell_text);
  cavum_goal *goal = NULL;
  ck_assert_int_eq(cavum_goal_open_text(&goal, GOAL, strlen(GOAL), NULL, &cell, NULL), CAVUM_OK);
  cavum_cell_clear(&cell);
  return goal;
}

static cavum_goal *open_goal(void) { return open_goal_of(CELL); }

static void check_at(cavum_goal *goal, const double *values, uint64_t *state) {
  cavum_optimum_solving solving = {0};
  double place[CAVUM_GOAL_MOST_VARIABLES], direction[CAVUM_GOAL_MOST_VARIABLES];
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  for (int j = 0; j < goal->num_variables; j++) {
    place[j] = (values[j] - goal->low[j]) / (goal->high[j] - goal->low[j]);
    direction[j] = draw(state);
  }
  check_direction(&solving, place, direction);
  cavum_optimum_solving_clear(&solving);
}

START_TEST(at_the_start) {
  cavum_goal *goal = open_goal();
  uint64_t state = 11;
  double values[CAVUM_GOAL_MOST_VARIABLES];
  for (int j = 0; j < goal->num_variables; j++) values[j] = goal->study->inputs[j].place.base;
  check_at(goal, values, &state);
  cavum_goal_close(&goal);
}
END_TEST

START_TEST(at_every_tenth_step) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_goal *goal = open_goal();
  cavum_optimum *optimum = NULL;
  uint64_t state = 12;
  ck_assert_int_eq(cavum_optimise(&optimum, goal, NULL, NULL), CAVUM_OK);
  for (int k = 0; k < optimum->num_steps; k += 10) {
    printf("step %d\n", k);
    check_at(goal, optimum->steps[k].values, &state);
  }
  cavum_optimum_destroy(&optimum);
  cavum_goal_close(&goal);
}
END_TEST

static void solve_base(cavum_optimum_point *point, char num_modes) {
  char text[sizeof CELL], *count;
  memcpy(text, CELL, sizeof CELL);
  count = strstr(text, "modes: {count: 1}");
  ck_assert_ptr_nonnull(count);
  count[strlen("modes: {count: ")] = num_modes;
  cavum_goal *goal = open_goal_of(text);
  ck_assert_int_eq(goal->study->cell.num_modes, num_modes - '0');
  cavum_optimum_solving solving = {0};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  for (int j = 0; j < goal->num_variables; j++) {
    place[j] = (goal->study->inputs[j].place.base - goal->low[j]) / (goal->high[j] - goal->low[j]);
  }
  ck_assert_int_eq(cavum_optimum_point_solve(point, &solving, place, NULL), CAVUM_OK);
  cavum_optimum_solving_clear(&solving);
  cavum_goal_close(&goal);
}

// A cell with more modes is the same solve, bit for bit: higher modes would take another degree.
START_TEST(modes_above_are_not_solved) {
  cavum_optimum_point one, three;
  memset(&one, 0, sizeof one);
  memset(&three, 0, sizeof three);
  solve_base(&one, '1');
  solve_base(&three, '3');
  for (int i = 0; i < 4; i++) {
    ck_assert(one.values[i].value == three.values[i].value);
    ck_assert(one.values[i].uncertainty == three.values[i].uncertainty);
    ck_assert_double_gt(fabs(one.values[i].value), 0.0);
  }
  cavum_optimum_point_clear(&one);
  cavum_optimum_point_clear(&three);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, modes_above_are_not_solved);
  tcase_add_test(tests, at_the_start);
  tcase_add_test(tests, at_every_tenth_step);
}

CAVUM_TEST_MAIN("directions", add)
