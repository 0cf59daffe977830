// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape in the worst case within its tolerances, against a closed form and against the
// spread of the shape that came out.
#include "base/base.h"
#include "cavum/optimum.h"
#include "cavum/tolerance.h"
#include "optimum/point.h"
#include "solving.h"

#define PILLBOX                                                    \
  "contour:\n"                                                     \
  "  kind: path\n"                                                 \
  "  start: {z_mm: -40.0, r_mm: 0.0}\n"                            \
  "  path:\n"                                                      \
  "    - {line_to: {z_mm: 40.0, r_mm: 0.0}, boundary: axis}\n"     \
  "    - {line_to: {z_mm: 40.0, r_mm: 100.0}, boundary: metal}\n"  \
  "    - {line_to: {z_mm: -40.0, r_mm: 100.0}, boundary: metal}\n" \
  "    - {line_to: {z_mm: -40.0, r_mm: 0.0}, boundary: metal}\n"   \
  "modes: {count: 1}\n"                                            \
  "accuracy: {frequency: 1.0e-6, other_figures: 1.0e-5}\n"

// Both corners err by the same: the radius does.
#define TOLERANCES                              \
  "tolerances:\n"                               \
  "  \"path[2].line_to.r_mm\": {normal: 0.2}\n" \
  "  \"path[3].line_to.r_mm\": {normal: 0.2}\n" \
  "  correlations:\n"                           \
  "    - {of: [\"path[2].line_to.r_mm\", \"path[3].line_to.r_mm\"], coefficient: 1}\n"

#define GAP                                                \
  "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\n" \
  "linked:\n"                                              \
  "  - path[1].line_to.z_mm = path[2].line_to.z_mm\n"      \
  "  - path[3].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "  - start.z_mm = -path[2].line_to.z_mm\n"               \
  "  - path[4].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "starts: 1\nmaximise: r_over_q_linac_ohm\n"

static const double X01 = 2.404825557695773;

static cavum_optimum *optimise(const char *cell_text, const char *goal_text) {
  cavum_cell cell = solving_read(cell_text);
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  cavum_error error = {0};
  cavum_status status =
      cavum_goal_open_text(&goal, goal_text, strlen(goal_text), NULL, &cell, &error);
  if (status == CAVUM_OK) status = cavum_optimise(&optimum, goal, NULL, &error);
  if (status != CAVUM_OK) printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_OK);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
  return optimum;
}

// G = g / (1 + R / d) changes by -g d / (d + R)^2 with the radius: three deviations of 0.2 mm stay
// above 240 ohm.
static double worst_g(double d_mm) {
  const double largest = 0.5 * 376.730313412 * X01, radius_mm = 100.0;
  return largest * d_mm / (d_mm + radius_mm) -
         0.6 * largest * d_mm / ((d_mm + radius_mm) * (d_mm + radius_mm));
}

START_TEST(limit_in_the_worst_case) {
  cavum_optimum *o =
      optimise(PILLBOX TOLERANCES,
               GAP "limits: {geometry_factor_ohm: {least: 240}}\nrobust: {deviations: 3}\n");
  double low = 40.0, high = 180.0;
  for (int i = 0; i < 100; i++) {
    double d = 0.5 * (low + high);
    if (worst_g(d) < 240.0) low = d;
    if (worst_g(d) >= 240.0) high = d;
  }
  printf("half gap %.7f mm, expected %.7f, margin %.6f ohm, %d passes, %d solves\n",
         o->variables[0].value, 0.5 * low, o->limits[0].margin, o->robust.num_passes,
         o->num_solves);
  // Margins hold to half of 1e-5 of G, which the gap has twice of; limits to a tenth.
  CAVUM_CHECK_RELATIVE(o->variables[0].value, 0.5 * low, 2e-5);
  CAVUM_CHECK_NEAR(o->limits[0].value, 240.0, 1e-5 * 240.0);
  ck_assert_double_eq(o->robust.deviations, 3.0);
  // The nominal one breaks the limit in the worst case and has the larger R/Q.
  ck_assert(o->robust.nominal_violation > 1e-3);
  ck_assert(o->robust.nominal < o->objective);
  cavum_optimum_destroy(&o);
}
END_TEST

#define INNER_CELL                                               \
  "contour:\n"                                                   \
  "  kind: two-ellipse\n"                                        \
  "  half_length_mm: 57.652\n"                                   \
  "  iris_radius_mm: 35.0\n"                                     \
  "  equator_radius_mm: 101.2\n"                                 \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n"       \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"          \
  "ends:\n  left: {kind: magnetic}\n  right: {kind: magnetic}\n" \
  "modes: {count: 1}\n"                                          \
  "tolerances:\n"                                                \
  "  iris_radius_mm: {normal: 0.1}\n"                            \
  "  iris_ellipse.axial_mm: {normal: 0.1}\n"                     \
  "  iris_ellipse.radial_mm: {normal: 0.1}\n"

#define INNER_GOAL                                                          \
  "vary:\n"                                                                 \
  "  equator_ellipse.radial_mm: {from: 28, to: 50}\n"                       \
  "  iris_ellipse.axial_mm: {from: 9, to: 16}\n"                            \
  "  iris_ellipse.radial_mm: {from: 14, to: 28}\n"                          \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                               \
  "limits: {epk_over_eacc: {most: 2.05}}\nstarts: 1\n"

// Peaks with two deviations more: what came out is what the spread of that shape says.
START_TEST(peaks_in_the_worst_case) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o = optimise(INNER_CELL, INNER_GOAL "robust: {deviations: 2}\n");
  cavum_cell cell = solving_read(o->cell_text);
  cavum_tolerances *tolerances = NULL;
  cavum_spread *spread = NULL;
  ck_assert_int_eq(cavum_tolerances_read_text(&tolerances, &cell, o->cell_text,
                                              strlen(o->cell_text), NULL, NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_spread_make(&spread, &cell, tolerances, NULL, NULL, NULL), CAVUM_OK);
  const cavum_figure_spread *e = &spread->figures[CAVUM_FIGURE_EPK_OVER_EACC];
  const cavum_figure_spread *b = &spread->figures[CAVUM_FIGURE_BPK_OVER_EACC];
  // Met to a tenth of 1e-4, margins to half of that, peaks known to it.
  CAVUM_CHECK_NEAR(e->value + 2.0 * e->deviation, 2.05, 2e-4 * 2.05);
  CAVUM_CHECK_NEAR(log(b->value + 2.0 * b->deviation), o->objective, 2e-4);
  printf("nominal %.6g, in the worst case %.6g and a limit broken by %.2g; robust %.6g\n",
         exp(o->robust.nominal), exp(o->robust.nominal_worst), o->robust.nominal_violation,
         exp(o->objective));
  ck_assert(o->robust.nominal_violation > 1e-3);
  cavum_spread_destroy(&spread);
  cavum_tolerances_destroy(&tolerances);
  cavum_cell_clear(&cell);
  cavum_optimum_destroy(&o);
}
END_TEST

#define ANGLE_GOAL                                                          \
  "vary: {equator_ellipse.axial_mm: {from: 36, to: 50}}\n"                  \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                               \
  "limits: {wall_angle_deg: {least: 5}}\nstarts: 1\n"

// What the search measures without a solve has the margin of its place: the limit on the wall angle
// comes second, behind the objective.
START_TEST(shapes_are_measured_with_their_margins) {
  const double place[2] = {0.5, 0.4};
  double nominal[CAVUM_GOAL_MOST_QUANTITIES], worst[CAVUM_GOAL_MOST_QUANTITIES];
  cavum_cell cell = solving_read(INNER_CELL);
  cavum_goal *goal = NULL;
  ck_assert_int_eq(
      cavum_goal_open_text(&goal, ANGLE_GOAL "robust: {deviations: 2}\n",
                           strlen(ANGLE_GOAL "robust: {deviations: 2}\n"), NULL, &cell, NULL),
      CAVUM_OK);
  ck_assert_str_eq(goal->quantities[1].what.key, "wall_angle_deg");
  ck_assert_int_eq(cavum_optimum_measure(nominal, goal, place, NULL), CAVUM_OK);
  goal->quantities[1].margin =
      (cavum_goal_margin){.value = 0.01, .at = {0.4, 0.4}, .slope = {0.02, 0.0}};
  ck_assert_int_eq(cavum_optimum_measure(worst, goal, place, NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(worst[1], nominal[1] - 0.012, 1e-15);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

// A limit on the shape alone keeps its two deviations.
START_TEST(shape_in_the_worst_case) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o = optimise(INNER_CELL, ANGLE_GOAL "robust: {deviations: 2}\n");
  cavum_cell cell = solving_read(o->cell_text);
  cavum_geometry *shape = NULL;
  ck_assert_int_eq(cavum_geometry_measure(&shape, &cell, false, NULL), CAVUM_OK);
  double angle_deg = shape->value[CAVUM_GEOMETRY_WALL_ANGLE] * 180.0 / CAVUM_PI;
  printf("%d solves: %.6f deg less %.6f deg\n", o->num_solves, angle_deg, o->limits[0].margin);
  ck_assert(o->met);
  ck_assert_double_gt(o->limits[0].margin, 0.05);
  // Met to a tenth of 1e-4, the margin to half of that.
  CAVUM_CHECK_NEAR(angle_deg - o->limits[0].margin, 5.0, 1e-4 * 5.0);
  cavum_geometry_destroy(&shape);
  cavum_cell_clear(&cell);
  cavum_optimum_destroy(&o);
}
END_TEST

static const struct {
  const char *cell, *text, *message;
} refused[] = {
    {PILLBOX, "robust: {deviations: 2}\n", "tolerances"},
    {PILLBOX TOLERANCES, "robust: {}\n", "deviations"},
    {PILLBOX TOLERANCES, "robust: {deviations: 2, tolerances: nothing.yaml}\n", "nothing.yaml"},
    {PILLBOX TOLERANCES,
     "robust: {deviations: 2}\nlimits: {geometry_factor_ohm: {least: 230, most: 250}}\n",
     "two sides"},
    {PILLBOX TOLERANCES,
     "robust: {deviations: 2}\nfront: {geometry_factor_ohm: {from: 230, to: 250, points: 2}}\n",
     "not with a front"}};

START_TEST(what_is_wrong_is_said) {
  cavum_cell cell = solving_read(refused[_i].cell);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  char text[1000];
  snprintf(text, sizeof text, GAP "%s", refused[_i].text);
  ck_assert_int_ne(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error), CAVUM_OK);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].message));
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, limit_in_the_worst_case);
  tcase_add_test(tests, peaks_in_the_worst_case);
  tcase_add_test(tests, shapes_are_measured_with_their_margins);
  tcase_add_test(tests, shape_in_the_worst_case);
  tcase_add_loop_test(tests, what_is_wrong_is_said, 0, sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("robust", add)
