// SPDX-License-Identifier: GPL-3.0-or-later
// The best shape in the worst case within its tolerances, against a closed form and against the
// spread of the shape that came out.
#include "base/base.h"
#include "cavum/optimum.h"
#include "cavum/tolerance.h"
#include "inner_shape.h"
#include "optimum/point.h"
#include "optimum/rates.h"
#include "optimum/rows.h"
#include "optimum/shape_spread.h"
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

#define INNER_CELL                           \
  INNER_SHAPE                                \
  "tolerances:\n"                            \
  "  iris_radius_mm: {normal: 0.1}\n"        \
  "  iris_ellipse.axial_mm: {normal: 0.1}\n" \
  "  iris_ellipse.radial_mm: {normal: 0.1}\n"

#define INNER_GOAL                                                          \
  "vary:\n"                                                                 \
  "  equator_ellipse.radial_mm: {from: 28, to: 50}\n"                       \
  "  iris_ellipse.axial_mm: {from: 9, to: 16}\n"                            \
  "  iris_ellipse.radial_mm: {from: 14, to: 28}\n"                          \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                               \
  "limits: {epk_over_eacc: {most: 2.05}}\nstarts: 1\n"

// The largest of a field over E_acc along the wall and two deviations, from a solve by itself: E in
// V/m, H as B in T.
static double worst_field(const cavum_cell *cell, bool electric) {
  static const char *const keys[3] = {"iris_radius_mm", "iris_ellipse.axial_mm",
                                      "iris_ellipse.radial_mm"};
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = options.profiles = options.wall_derivatives = true;
  cavum_result *r = solving_solve(cell, &options);
  const cavum_mode_result *mode = &r->modes[0];
  int64_t n = mode->wall.num_points;
  double most = 0.0, gradient = mode->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  const double *field = electric ? mode->wall.e_v_per_m : mode->wall.h_a_per_m;
  const double *by = electric ? mode->wall_e_by : mode->wall_h_by;
  for (int64_t i = 0; i < n; i++) {
    double sum = 0.0;
    for (int k = 0; k < r->num_dimensions; k++) {
      for (int t = 0; t < 3; t++) {
        if (strcmp(r->dimensions[k].key, keys[t]) != 0) continue;
        double of_gradient =
            cavum_result_derivative(r, 0, k, CAVUM_FIGURE_EACC_AT_1_J).value / gradient;
        double slope = by[k * n + i] - field[i] * of_gradient;
        sum += 1e-8 * slope * slope;  // (0.1 mm)^2
      }
    }
    most = fmax(most, fabs(field[i]) + 2.0 * sqrt(sum));
  }
  cavum_result_destroy(&r);
  return most / gradient * (electric ? 1.0 : CAVUM_MU0);
}

// Peaks with two deviations more: what came out is the largest along the wall of that shape.
START_TEST(peaks_in_the_worst_case) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o = optimise(INNER_CELL, INNER_GOAL "robust: {deviations: 2}\n");
  cavum_cell cell = solving_read(o->cell_text);
  printf("residual %.1e after %d searches, %d solves\n", o->residual, o->robust.num_passes,
         o->num_solves);
  // Met to a tenth of 1e-4, peaks known to it; the points of the profile are half a degree of the
  // iris apart, between which a peak is 1e-3 higher at most.
  double e = worst_field(&cell, true), b = worst_field(&cell, false);
  printf("largest along the wall: E %.6f, B %.6g\n", e, b);
  ck_assert_double_le(e, 2.05 * (1.0 + 2e-4));
  ck_assert_double_ge(e, 2.05 * (1.0 - 1e-3));
  CAVUM_CHECK_NEAR(log(b), o->objective, 1e-3);
  printf("nominal %.6g, in the worst case %.6g and a limit broken by %.2g; robust %.6g\n",
         exp(o->robust.nominal), exp(o->robust.nominal_worst), o->robust.nominal_violation,
         exp(o->objective));
  ck_assert(o->robust.nominal_violation > 1e-3);
  cavum_cell_clear(&cell);
  cavum_optimum_destroy(&o);
}
END_TEST

// Five dimensions err: places of the iris compete for the worst case, which the kinks of the peak's
// own spread would keep from ending.
#define MORE_TOLERANCES                          \
  "  half_length_mm: {normal: 0.1}\n"            \
  "  equator_ellipse.axial_mm: {uniform: 0.2}\n" \
  "  equator_ellipse.radial_mm: {normal: 0.1}\n"

#define RIVALS_GOAL                                                         \
  "vary:\n"                                                                 \
  "  equator_ellipse.axial_mm: {from: 35, to: 54}\n"                        \
  "  equator_ellipse.radial_mm: {from: 25, to: 60}\n"                       \
  "  iris_ellipse.axial_mm: {from: 7, to: 18}\n"                            \
  "  iris_ellipse.radial_mm: {from: 10, to: 36}\n"                          \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 112}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                               \
  "limits: {epk_over_eacc: {most: 2.05}, wall_angle_deg: {least: 5}}\nstarts: 1\n"

START_TEST(places_that_compete) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o = optimise(INNER_CELL MORE_TOLERANCES, RIVALS_GOAL "robust: {deviations: 2}\n");
  printf("residual %.1e after %d searches, %d solves\n", o->residual, o->robust.num_passes,
         o->num_solves);
  ck_assert(o->met);
  ck_assert_double_le(o->residual, 1e-4);
  cavum_optimum_destroy(&o);
}
END_TEST

// The spread of the highest place is that of the peak.
START_TEST(places_have_spreads) {
  const char text[] = INNER_GOAL "robust: {deviations: 2}\n";
  const double place[4] = {0.5, 0.4, 0.4, 0.5};
  cavum_cell cell = solving_read(INNER_CELL), there;
  cavum_goal *goal = NULL;
  cavum_optimum_solving solving = {0};
  cavum_optimum_point point = {.place = {0.0}};
  cavum_spread *spread = NULL;
  cavum_spread_options choices = cavum_spread_options_default();
  bool owned = false;
  double values[CAVUM_STUDY_MOST_INPUTS];
  choices.num_samples = 0;
  choices.num_threads = 1;
  ck_assert_int_eq(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_optimum_point_solve(&point, &solving, place, NULL), CAVUM_OK);
  cavum_optimum_inputs(values, goal, place);
  ck_assert_int_eq(cavum_study_apply(&there, &owned, goal->study, values, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_spread_make(&spread, &there, goal->tolerances, &choices, NULL, NULL),
                   CAVUM_OK);
  for (int q = 0; q < 2; q++) {
    const cavum_optimum_value *v = &point.values[q];
    const cavum_figure_spread *f =
        &spread->figures[q == 0 ? CAVUM_FIGURE_BPK_OVER_EACC : CAVUM_FIGURE_EPK_OVER_EACC];
    int top = 0;
    for (int k = 0; k < v->num_places; k++) {
      if (v->places[k].below > v->places[top].below) top = k;
    }
    // The figure has a solution of its own about its peak.
    CAVUM_CHECK_RELATIVE(v->places[top].spread, f->deviation / f->value, 1e-2);
  }
  cavum_spread_destroy(&spread);
  cavum_optimum_point_clear(&point);
  cavum_optimum_solving_clear(&solving);
  if (owned) cavum_cell_clear(&there);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

static const struct {
  const char *tolerances;
  const char *key;  // of the only one, whose cells are solved by themselves
  double width;     // in the unit of the key
} half_tolerances[] = {
    {"tolerances: {iris_ellipse.axial_mm: {normal: 0.05}}\n", "iris_ellipse.axial_mm", 0.05},
    {"tolerances: {left.half_length_mm: {normal: 0.1}}\n", "left.half_length_mm", 0.1},
    {"tolerances: {right.iris_ellipse.axial_mm: {normal: 0.05}}\n", "right.iris_ellipse.axial_mm",
     0.05},
    {"tolerances: {left.half_length_mm: {normal: 0.1}, right.half_length_mm: {normal: 0.1}}\n",
     NULL, 0.0}};

// E_pk over E_acc of a cell with a dimension moved.
static double moved_peak(const cavum_cell *at, const char *key, double by) {
  cavum_cell cell = *at;
  double value;
  ck_assert_int_eq(cavum_cell_get(&value, at, key, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_set(&cell, key, value + by, NULL), CAVUM_OK);
  cavum_result *r = solving_solve(&cell, NULL);
  value = r->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].value;
  cavum_result_destroy(&r);
  return value;
}

// A dimension of one half raises one of the two mirrored peaks and lowers the other: the worst case
// is the higher one of both, not their mean. Against cells with that dimension moved both ways.
START_TEST(halves_in_the_worst_case) {
  const char goal_text[] = INNER_GOAL "robust: {deviations: 1}\n";
  const double place[4] = {0.5, 0.4, 0.4, 0.5};
  char text[1000];
  double values[CAVUM_STUDY_MOST_INPUTS];
  snprintf(text, sizeof text, "%s%s", INNER_SHAPE, half_tolerances[_i].tolerances);
  cavum_cell cell = solving_read(text), there;
  cavum_goal *goal = NULL;
  cavum_optimum_solving solving = {0};
  cavum_optimum_point point = {.place = {0.0}};
  cavum_error error = {0};
  bool owned = false;
  ck_assert_int_eq(cavum_goal_open_text(&goal, goal_text, strlen(goal_text), NULL, &cell, NULL),
                   CAVUM_OK);
  goal->is_robust = goal->is_apart = true;
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  cavum_status status = cavum_optimum_point_solve(&point, &solving, place, &error);
  if (status != CAVUM_OK) printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_OK);
  ck_assert(cavum_optimum_has_place_spreads(&goal->quantities[1], &point.values[1]));
  double worst = point.values[1].figure, nominal = worst - point.values[1].margin;
  cavum_optimum_inputs(values, goal, place);
  ck_assert_int_eq(cavum_study_apply(&there, &owned, goal->study, values, NULL), CAVUM_OK);
  ck_assert_double_gt(worst, nominal + 1e-3);
  if (half_tolerances[_i].key) {
    double width = half_tolerances[_i].width;
    double most = fmax(moved_peak(&there, half_tolerances[_i].key, width),
                       moved_peak(&there, half_tolerances[_i].key, -width));
    printf("%s: nominal %.6f, worst %.6f, moved %.6f\n", half_tolerances[_i].key, nominal, worst,
           most);
    // What is not linear is a tenth of the change at most, and peaks are known to 1e-4 each.
    CAVUM_CHECK_NEAR(worst, most, 0.1 * (most - nominal) + 2e-4 * most);
  }
  cavum_optimum_point_clear(&point);
  cavum_optimum_solving_clear(&solving);
  if (owned) cavum_cell_clear(&there);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

// The lean of the wall is that of the worse half. Against shapes with the dimension moved both
// ways.
START_TEST(shape_of_the_worse_half) {
  static const char *const keys[] = {"equator_ellipse.axial_mm", "left.equator_ellipse.axial_mm",
                                     "right.half_length_mm"};
  const double width = 0.01;
  char text[1000];
  double angle[3], value, deviation;
  snprintf(text, sizeof text, "%stolerances: {%s: {normal: %g}}\n", INNER_SHAPE, keys[_i], width);
  cavum_cell cell = solving_read(text);
  cavum_tolerances *tolerances = NULL;
  ck_assert_int_eq(cavum_tolerances_read_text(&tolerances, &cell, text, strlen(text), "cell", NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_cell_get(&value, &cell, keys[_i], NULL), CAVUM_OK);
  for (int k = 0; k < 3; k++) {
    cavum_geometry *shape = NULL;
    cavum_cell moved = cell;
    ck_assert_int_eq(cavum_cell_set(&moved, keys[_i], value + (k - 1) * width, NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_geometry_measure(&shape, &moved, false, NULL), CAVUM_OK);
    angle[k] = shape->value[CAVUM_GEOMETRY_WALL_ANGLE];
    cavum_geometry_destroy(&shape);
  }
  ck_assert_int_eq(
      cavum_shape_spread_find(&deviation, &cell, tolerances, CAVUM_GEOMETRY_WALL_ANGLE, NULL),
      CAVUM_OK);
  // 0.01 mm of some 15 mm of straight wall: the second order is below a hundredth of the first.
  CAVUM_CHECK_RELATIVE(deviation, angle[1] - fmin(angle[0], angle[2]), 1e-2);
  cavum_tolerances_destroy(&tolerances);
  cavum_cell_clear(&cell);
}
END_TEST

// The straight wall vanishes as a root: what a tolerance does to its square is even, and a wall
// that is gone is a limit that is broken.
START_TEST(square_of_the_straight_wall) {
  const double width = 0.01;
  cavum_cell cell = solving_read(INNER_SHAPE), moved = cell;
  const char text[] = "tolerances: {equator_ellipse.axial_mm: {normal: 0.01}}\n";
  cavum_tolerances *tolerances = NULL;
  double value, deviation, square[3];
  ck_assert_int_eq(cavum_tolerances_read_text(&tolerances, &cell, text, strlen(text), "cell", NULL),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_cell_get(&value, &cell, "equator_ellipse.axial_mm", NULL), CAVUM_OK);
  for (int k = 0; k < 3; k++) {
    cavum_geometry *shape = NULL;
    moved = cell;
    ck_assert_int_eq(
        cavum_cell_set(&moved, "equator_ellipse.axial_mm", value + (k - 1) * width, NULL),
        CAVUM_OK);
    ck_assert_int_eq(cavum_geometry_measure(&shape, &moved, false, NULL), CAVUM_OK);
    square[k] = pow(shape->value[CAVUM_GEOMETRY_STRAIGHT_LENGTH], 2.0);
    cavum_geometry_destroy(&shape);
  }
  ck_assert_int_eq(
      cavum_shape_spread_find(&deviation, &cell, tolerances, CAVUM_GEOMETRY_STRAIGHT_LENGTH, NULL),
      CAVUM_OK);
  // Central differences over 1e-2 mm of some 20 mm: 1e-6 of curvature, rounding of the tangent.
  CAVUM_CHECK_RELATIVE(deviation, 0.5 * fabs(square[2] - square[0]), 1e-5);
  cavum_tolerances_destroy(&tolerances);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(no_straight_wall_is_a_broken_limit) {
  cavum_goal_quantity q = {
      .what = {
          .kind = CAVUM_REQUIRE_STRAIGHT_LENGTH, .least = 1.0, .most = HUGE_VAL, .unit_si = 1e-3}};
  // Half of 1 + (12.9 mm)^2 over the square of the limit.
  CAVUM_CHECK_RELATIVE(cavum_rows_excess(&q, -12.9e-3, -1.0), 0.5 * (1.0 + 12.9 * 12.9), 1e-12);
  CAVUM_CHECK_RELATIVE(cavum_rows_excess(&q, 2e-3, -1.0), 0.5 * (1.0 - 4.0), 1e-12);
  for (double value = -2e-3; value <= 2e-3; value += 0.8e-3) {
    double step = 1e-7;
    double slope =
        (cavum_rows_excess(&q, value + step, -1.0) - cavum_rows_excess(&q, value - step, -1.0)) /
        (2.0 * step);
    // Differences of a parabola are exact to rounding, 1e-16 over 1e-4 of the limit.
    CAVUM_CHECK_RELATIVE(cavum_rows_scale(&q, value, -1.0), slope, 1e-9);
  }
}
END_TEST

#define STRAIGHT_GOAL                                                       \
  "vary:\n"                                                                 \
  "  equator_ellipse.axial_mm: {from: 36, to: 52}\n"                        \
  "  equator_ellipse.radial_mm: {from: 28, to: 60}\n"                       \
  "  iris_ellipse.axial_mm: {from: 7, to: 18}\n"                            \
  "  iris_ellipse.radial_mm: {from: 12, to: 36}\n"                          \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n" \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                               \
  "limits: {epk_over_eacc: {most: 2.0}}\nstarts: 1\n"

// The limit of 1 mm that no goal has to name, where the nominal best shape stands at it: two
// deviations off, that shape still has a straight wall.
START_TEST(straight_wall_in_the_worst_case) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o = optimise(INNER_CELL, STRAIGHT_GOAL "robust: {deviations: 2}\n");
  cavum_cell cell = solving_read(o->cell_text);
  cavum_geometry *shape = NULL;
  double deviation, straight_m;
  cavum_tolerances *tolerances = NULL;
  ck_assert(o->met);
  ck_assert_int_eq(cavum_tolerances_read_text(&tolerances, &cell, o->cell_text,
                                              strlen(o->cell_text), "cell", NULL),
                   CAVUM_OK);
  ck_assert_int_eq(
      cavum_shape_spread_find(&deviation, &cell, tolerances, CAVUM_GEOMETRY_STRAIGHT_LENGTH, NULL),
      CAVUM_OK);
  ck_assert_int_eq(cavum_geometry_measure(&shape, &cell, false, NULL), CAVUM_OK);
  straight_m = shape->value[CAVUM_GEOMETRY_STRAIGHT_LENGTH];
  double worst = straight_m * straight_m - 2.0 * deviation;
  printf(
      "straight %.6f mm, two deviations off %.6f mm, said %.6f mm with %.6f mm of it; %d solves\n",
      1e3 * straight_m, 1e3 * sqrt(worst), o->limits[1].value, o->limits[1].margin, o->num_solves);
  ck_assert_str_eq(o->limits[1].what.key, "straight_length_mm");
  ck_assert_double_ge(worst, 1e-6 * (1.0 - 1e-3));
  // The margin is met to half of 1e-4 of the length.
  CAVUM_CHECK_RELATIVE(o->limits[1].value, 1e3 * sqrt(worst), 1e-3);
  CAVUM_CHECK_NEAR(o->limits[1].value + o->limits[1].margin, 1e3 * straight_m, 1e-6);
  cavum_tolerances_destroy(&tolerances);
  cavum_geometry_destroy(&shape);
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

// A tolerance of both halves says nothing of halves that no longer agree: said before any solve.
static const struct {
  const char *vary, *tolerances, *message;
} halves[] = {
    {"vary: {left.iris_ellipse.axial_mm: {from: 9, to: 16}}\n",
     "tolerances: {iris_ellipse.axial_mm: {normal: 0.1}}\n",
     "the tolerance of iris_ellipse.axial_mm is of both halves, which differ in it"},
    {"vary: {left.iris_ellipse.axial_mm: {from: 9, to: 16}}\n",
     "tolerances: {left.iris_ellipse.axial_mm: {normal: 0.1}, iris_radius_mm: {normal: 0.1}}\n",
     NULL},
    {"vary: {left.iris_ellipse.axial_mm: {from: 9, to: 16}}\n"
     "linked: [right.iris_ellipse.axial_mm = left.iris_ellipse.axial_mm]\n",
     "tolerances: {iris_ellipse.axial_mm: {normal: 0.1}}\n", NULL}};

START_TEST(tolerances_of_halves_that_differ) {
  char text[1000], cell_text[1000];
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  snprintf(cell_text, sizeof cell_text, "%s%s", INNER_SHAPE, halves[_i].tolerances);
  snprintf(text, sizeof text, "%sminimise: epk_over_eacc\nrobust: {deviations: 2}\n",
           halves[_i].vary);
  cavum_cell cell = solving_read(cell_text);
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), "goal", &cell, &error);
  printf("%s\n", error.message);
  ck_assert_int_eq(status, halves[_i].message ? CAVUM_ERR_INPUT : CAVUM_OK);
  if (halves[_i].message) ck_assert_ptr_nonnull(strstr(error.message, halves[_i].message));
  if (halves[_i].message) ck_assert(strncmp(error.message, "goal:", 5) == 0);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

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
  tcase_add_test(tests, places_that_compete);
  tcase_add_test(tests, places_have_spreads);
  tcase_add_loop_test(tests, halves_in_the_worst_case, 0,
                      sizeof half_tolerances / sizeof *half_tolerances);
  tcase_add_loop_test(tests, shape_of_the_worse_half, 0, 3);
  tcase_add_test(tests, shapes_are_measured_with_their_margins);
  tcase_add_test(tests, shape_in_the_worst_case);
  tcase_add_test(tests, square_of_the_straight_wall);
  tcase_add_test(tests, no_straight_wall_is_a_broken_limit);
  tcase_add_test(tests, straight_wall_in_the_worst_case);
  tcase_add_loop_test(tests, tolerances_of_halves_that_differ, 0, sizeof halves / sizeof *halves);
  tcase_add_loop_test(tests, what_is_wrong_is_said, 0, sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("robust", add)
