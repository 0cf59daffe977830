// SPDX-License-Identifier: GPL-3.0-or-later
// Walls that are free splines: the goal that is made of the best two ellipses, curvature and lean
// along it with their derivatives, the surface of least area about a volume, and what a search on
// a cell comes to, measured without the search.
#include <math.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "cell/cell.h"
#include "inner_shape.h"
#include "optimum/free_wall.h"
#include "optimum/rates.h"
#include "optimum/wall_bends.h"
#include "solving.h"

#define INNER_CELL INNER_SHAPE_TUNED

#define VARY                                         \
  "vary:\n"                                          \
  "  equator_ellipse.axial_mm: {from: 38, to: 50}\n" \
  "  iris_ellipse.axial_mm: {from: 9, to: 16}\n"     \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 112}\n"

static cavum_goal *open_goal(const char *cell_text, const char *text) {
  cavum_cell cell = solving_read(cell_text);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_cell_clear(&cell);
  return goal;
}

// The goal of a free wall about a cell as it is.
static cavum_goal *open_free(const char *cell_text, const char *text) {
  cavum_goal *goal = open_goal(cell_text, text), *made = NULL;
  cavum_error error = {0};
  char *copy = cavum_copy_text(cell_text);
  const cavum_optimum best = {.cell_text = copy};
  cavum_status status = cavum_free_wall_open(&made, goal, &best, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  free(copy);
  cavum_goal_close(&goal);
  return made;
}

static double distance(const cavum_contour *from, cavum_point p) {
  double least = HUGE_VAL;
  for (cavum_index i = 0; i < from->num_curves; i++) {
    for (int k = 0; k <= 4000; k++) {
      cavum_point q = cavum_curve_point(&from->curves[i], k / 4000.0);
      least = fmin(least, hypot(p.z_m - q.z_m, p.r_m - q.r_m));
    }
  }
  return least;
}

// Points lie on the wall of the two ellipses, and the spline between them near it: where the
// curvature jumps from that of the iris, 1 / 7.6 mm, to none within a span of 6 mm, the sag of the
// span over it, h^2 / 8 times the curvature, is 0.6 mm, and the spline may be off by a third of it.
START_TEST(starts_from_the_two_ellipses) {
  cavum_goal *goal = open_free(
      INNER_CELL, VARY "minimise: epk_over_eacc\nfree_wall: {points: 12, within_mm: 3}\n");
  cavum_cell cell = solving_read(INNER_CELL);
  cavum_contour contour = {0};
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  const cavum_contour *path = &goal->study->cell.path;
  double at_points = 0.0, between = 0.0;
  for (cavum_index i = 0; i < path->num_curves; i++) {
    if (path->curves[i].kind != CAVUM_CURVE_CUBIC) continue;
    at_points = fmax(at_points, distance(&contour, path->curves[i].start));
    between = fmax(between, distance(&contour, cavum_curve_point(&path->curves[i], 0.5)));
  }
  printf("points off the wall by %.2e m, spline by %.2e m\n", at_points, between);
  // Places of the wall that are compared are 10 um apart.
  ck_assert_double_lt(at_points, 1e-5);
  ck_assert_double_lt(between, 2e-4);
  ck_assert(cavum_cell_whole_is_symmetric(&goal->study->cell));
  ck_assert_int_eq(goal->num_variables, 13);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
  cavum_goal_close(&goal);
}
END_TEST

// Curvature and lean along the spline by every variable against differences of fourth order.
START_TEST(bends_have_derivatives) {
  cavum_goal *goal = open_free(
      INNER_CELL, VARY
      "minimise: epk_over_eacc\nlimits: {wall_angle_deg: {least: 5}}\n"
      "free_wall: {points: 6, within_mm: 3, iris_side_radius_mm: 5, equator_side_radius_mm: 9}\n");
  static const double STEP = 1e-3, AT[4] = {1, -1, 2, -2}, WEIGHT[4] = {8, -8, -1, 1};
  int n = goal->num_variables, checked = 0;
  double worst = 0.0;
  for (int j = 0; j < n; j++) {
    cavum_optimum_point points[5] = {{.place = {0}}};
    for (int k = 0; k < 5; k++) {
      cavum_cell cell;
      bool owned = false;
      double values[CAVUM_STUDY_MOST_INPUTS];
      for (int i = 0; i < n; i++) points[k].place[i] = 0.45 + 0.02 * i;
      if (k < 4) points[k].place[j] += AT[k] * STEP;
      cavum_optimum_inputs(values, goal, points[k].place);
      ck_assert_int_eq(cavum_study_apply(&cell, &owned, goal->study, values, NULL), CAVUM_OK);
      ck_assert_int_eq(cavum_wall_bends_take(&points[k], goal, 0, &cell, NULL), CAVUM_OK);
      if (owned) cavum_cell_clear(&cell);
    }
    for (int q = 0; q < goal->num_quantities; q++) {
      const cavum_optimum_value *v = &points[4].values[q];
      for (int b = 0; b < v->num_bends; b++) {
        double slope = 0.0, size = 0.0;
        // Tops between the places come and go.
        bool is_top = b > 0 && v->bends[b - 1].at == v->bends[b].at;
        for (int k = 0; k < 4 && !is_top; k++) {
          const cavum_optimum_value *w = &points[k].values[q];
          int same = 0;
          while (w->bends[same].at != v->bends[b].at ||
                 (same > 0 && w->bends[same - 1].at == w->bends[same].at))
            same++;
          slope += WEIGHT[k] * w->bends[same].value / (12.0 * STEP);
        }
        if (is_top) continue;
        for (int c = 0; c < v->num_bends; c++) size = fmax(size, fabs(v->bends[c].slope[j]));
        worst = fmax(worst, fabs(slope - v->bends[b].slope[j]) / size);
        checked++;
      }
    }
    for (int k = 0; k < 5; k++) cavum_optimum_point_clear(&points[k]);
  }
  printf("%d derivatives, worst off by %.1e of the largest\n", checked, worst);
  ck_assert_int_gt(checked, 1000);
  // h^4 of a thousandth of the range; tops are found to a square root of rounding.
  ck_assert_double_lt(worst, 1e-6);
  cavum_goal_close(&goal);
}
END_TEST

// A closed body of revolution, its wall one spline from pole to pole.
#define BODY                                                            \
  "contour:\n  kind: path\n  start: {z_mm: -60, r_mm: 0}\n  path:\n"    \
  "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"              \
  "    - spline_through:\n"                                             \
  "        - {z_mm: 51, r_mm: 24}\n        - {z_mm: 30, r_mm: 52}\n"    \
  "        - {z_mm: 0, r_mm: 45}\n"                                     \
  "        - {z_mm: -30, r_mm: 52}\n        - {z_mm: -51, r_mm: 24}\n"  \
  "        - {z_mm: -60, r_mm: 0}\n"                                    \
  "      direction_at_start_deg: 90\n      direction_at_end_deg: 270\n" \
  "      boundary: metal\nmodes: {count: 1}\naccelerating_length_mm: 100\n"

#define RADII                                                                                  \
  "vary:\n"                                                                                    \
  "  \"path[2].spline_through[1].r_mm\": {from: 15, to: 45}\n"                                 \
  "  \"path[2].spline_through[2].r_mm\": {from: 35, to: 60}\n"                                 \
  "  \"path[2].spline_through[3].r_mm\": {from: 40, to: 70}\n"                                 \
  "  \"path[1].line_to.z_mm\": {from: 45, to: 70}\n"                                           \
  "linked:\n"                                                                                  \
  "  - path[2].spline_through[1].z_mm = path[2].spline_through[1].r_mm * 1.7320508075688772\n" \
  "  - path[2].spline_through[2].z_mm = path[2].spline_through[2].r_mm * 0.5773502691896258\n" \
  "  - path[2].spline_through[4].r_mm = path[2].spline_through[2].r_mm\n"                      \
  "  - path[2].spline_through[4].z_mm = -path[2].spline_through[2].z_mm\n"                     \
  "  - path[2].spline_through[5].r_mm = path[2].spline_through[1].r_mm\n"                      \
  "  - path[2].spline_through[5].z_mm = -path[2].spline_through[1].z_mm\n"                     \
  "  - start.z_mm = -path[1].line_to.z_mm\n"                                                   \
  "  - path[2].spline_through[6].z_mm = -path[1].line_to.z_mm\n"                               \
  "starts: 1\n"

// The least area about a volume is that of the sphere.
START_TEST(least_area_is_a_sphere) {
  const double radius_m = 0.055;
  char text[3000];
  snprintf(text, sizeof text, RADII "minimise: wall_area_m2\nlimits: {volume_m3: {is: %.17g}}\n",
           4.0 / 3.0 * CAVUM_PI * radius_m * radius_m * radius_m);
  cavum_goal *goal = open_goal(BODY, text);
  cavum_optimum *o = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_optimise(&o, goal, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%d steps, residual %.1e\n", o->num_steps, o->residual);
  // A cubic spline of 30 degrees a span is a circle to 1e-4 of its radius: the area is off by the
  // square of its slopes.
  CAVUM_CHECK_RELATIVE(exp(o->objective), 4.0 * CAVUM_PI * radius_m * radius_m, 1e-5);
  CAVUM_CHECK_RELATIVE(o->variables[2].value, 55.0, 1e-3);
  CAVUM_CHECK_RELATIVE(o->variables[3].value, 55.0, 1e-3);
  // Area is 3 V / R, and dA / dV = 2 / R: d ln A / dV = 2 / (3 V).
  double volume = 4.0 / 3.0 * CAVUM_PI * radius_m * radius_m * radius_m;
  CAVUM_CHECK_RELATIVE(o->limits[0].multiplier, 2.0 / (3.0 * volume), 1e-3);
  cavum_optimum_destroy(&o);
  cavum_goal_close(&goal);
}
END_TEST

// Least radii of curvature of metal cubics by differences of their points, iris side and equator
// side, and the least lean.
static void measure(double least[3], const char *cell_text) {
  cavum_cell cell = solving_read(cell_text);
  enum { PLACES = 2000 };
  const double h = 1e-4;
  least[0] = least[1] = least[2] = HUGE_VAL;
  for (cavum_index i = 0; i < cell.path.num_curves; i++) {
    const cavum_curve *c = &cell.path.curves[i];
    for (int k = 1; k < PLACES && c->kind == CAVUM_CURVE_CUBIC; k++) {
      cavum_point p[3];
      for (int s = 0; s < 3; s++) p[s] = cavum_curve_point(c, (double)k / PLACES + (s - 1) * h);
      double z = (p[2].z_m - p[0].z_m) / (2 * h), r = (p[2].r_m - p[0].r_m) / (2 * h);
      double zz = (p[2].z_m - 2 * p[1].z_m + p[0].z_m) / (h * h);
      double rr = (p[2].r_m - 2 * p[1].r_m + p[0].r_m) / (h * h);
      double turn = (z * rr - r * zz) / pow(hypot(z, r), 3.0);
      least[turn > 0.0] = fmin(least[turn > 0.0], 1e3 / fabs(turn));
      least[2] = fmin(least[2], atan2(-z, fabs(r)) * 180.0 / CAVUM_PI);
    }
  }
  cavum_cell_clear(&cell);
}

#define FREE \
  "free_wall: {points: 8, within_mm: 4, iris_side_radius_mm: 7, equator_side_radius_mm: 20}\n"

static cavum_optimum *optimise(const char *text) {
  cavum_goal *goal = open_goal(INNER_CELL, text);
  cavum_optimum *o = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_optimise(&o, goal, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_goal_close(&goal);
  return o;
}

static void check_limits(const cavum_optimum *o, double angle_deg) {
  double least[3];
  measure(least, o->cell_text);
  printf("two ellipses %.7g, spline %.7g, free wall %.7g; radii %.4f and %.4f mm, lean %.4f deg\n",
         exp(fabs(o->free_wall.two_ellipse)), exp(fabs(o->free_wall.start)),
         exp(fabs(o->objective)), least[0], least[1], least[2]);
  // Limits are met to a tenth of 1e-4; differences of second order with a step of 1e-4.
  ck_assert_double_ge(least[0], 7.0 * (1.0 - 1e-4));
  ck_assert_double_ge(least[1], 20.0 * (1.0 - 1e-4));
  ck_assert_double_ge(least[2], angle_deg - 1e-3);
  ck_assert(o->met);
  ck_assert_int_eq(o->free_wall.num_points, 8);
  // The freedom brings something: the best two ellipses are a wall that is bent less.
  ck_assert_double_lt(o->objective, o->free_wall.two_ellipse);
}

// R/Q times G has no peaks.
START_TEST(free_wall_of_a_cell) {
  cavum_optimum *o = optimise(
      VARY
      "maximise: {r_over_q_linac_ohm: 1, geometry_factor_ohm: 1}\nlimits: {wall_angle_deg: "
      "{least: 8}}\nstarts: 1\n" FREE);
  check_limits(o, 8.0);
  cavum_optimum_destroy(&o);
}
END_TEST

// Peaks as well.
START_TEST(free_wall_with_peaks) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o =
      optimise(VARY
               "minimise: bpk_over_eacc_mT_per_MV_per_m\nlimits: {epk_over_eacc: {most: 2.2}}\n"
               "starts: 1\n" FREE);
  check_limits(o, -90.0);
  cavum_optimum_destroy(&o);
}
END_TEST

// Many places of both peaks compete along a spline of fourteen points, and steps become short. The
// conditions hold nevertheless: a search that asked for them within its region of trust found none
// of the multipliers that hold, and stalled after 39 solves with a residual of 3e-3.
START_TEST(free_wall_with_many_places) {
  if (!getenv("CAVUM_LONG_TESTS")) return;
  cavum_optimum *o = optimise(
      "vary:\n"
      "  equator_ellipse.axial_mm: {from: 38, to: 50}\n"
      "  equator_ellipse.radial_mm: {from: 30, to: 55}\n"
      "  iris_ellipse.axial_mm: {from: 9, to: 16}\n"
      "  iris_ellipse.radial_mm: {from: 12, to: 26}\n"
      "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 112}\n"
      "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
      "limits: {epk_over_eacc: {most: 2.0}, wall_angle_deg: {least: 5}}\nstarts: 1\n"
      "free_wall: {points: 14, within_mm: 4, iris_side_radius_mm: 5, equator_side_radius_mm: "
      "15}\n");
  printf("%d solves, residual %.1e\n", o->free_wall.num_solves_free, o->free_wall.residual);
  ck_assert(o->met);
  ck_assert_int_eq(o->free_wall.end, CAVUM_OPTIMUM_CONVERGED);
  cavum_optimum_destroy(&o);
}
END_TEST

// Smallest radius of the metal splines, in mm, by their points.
static double aperture_mm(const char *cell_text) {
  enum { PLACES = 4000 };
  cavum_cell cell = solving_read(cell_text);
  double least = HUGE_VAL;
  for (cavum_index i = 0; i < cell.path.num_curves; i++) {
    const cavum_curve *c = &cell.path.curves[i];
    for (int k = 0; k <= PLACES && c->kind == CAVUM_CURVE_CUBIC; k++) {
      least = fmin(least, 1e3 * cavum_curve_point(c, (double)k / PLACES).r_m);
    }
  }
  cavum_cell_clear(&cell);
  return least;
}

// R/Q rises as the iris narrows, so that the wall dips below the iris where nothing forbids it. The
// limit is one on the spline, not on its points.
START_TEST(free_wall_keeps_the_aperture) {
  const char goal[] = VARY
      "maximise: r_over_q_linac_ohm\nlimits: {wall_angle_deg: {least: 5}%s}\nstarts: 1\n"
      "free_wall: {points: 8, within_mm: 4, iris_side_radius_mm: 5, equator_side_radius_mm: 15}\n";
  char text[2000];
  double least[2];
  for (int limited = 0; limited < 2; limited++) {
    snprintf(text, sizeof text, goal, limited ? ", aperture_radius_mm: {least: 35}" : "");
    cavum_optimum *o = optimise(text);
    least[limited] = aperture_mm(o->cell_text);
    printf("%s: smallest radius %.9f mm, R/Q %.6f ohm\n", limited ? "limited" : "free",
           least[limited], exp(-o->objective));
    bool listed = false;
    for (int i = 0; i < o->num_limits; i++) {
      if (strcmp(o->limits[i].what.key, "aperture_radius_mm") != 0) continue;
      listed = true;
      CAVUM_CHECK_RELATIVE(o->limits[i].value, least[limited], 1e-6);
    }
    ck_assert_int_eq(listed, limited);
    cavum_optimum_destroy(&o);
  }
  ck_assert_double_lt(least[0], 35.0 - 0.01);
  // A search meets limits of the shape to 1e-8.
  ck_assert_double_ge(least[1], 35.0 * (1.0 - 1e-8));
}
END_TEST

// What the base cell requires is required of the free wall as well.
START_TEST(requirements_stay) {
  const char text[] = INNER_CELL
      "requirements:\n  epk_over_eacc: {most: 2.1}\n"
      "  frequency_MHz: {is: 1300, within: 0.1}\n";
  cavum_goal *goal =
      open_free(text, VARY "minimise: epk_over_eacc\nfree_wall: {points: 8, within_mm: 3}\n");
  cavum_requirements *kept = NULL;
  const char *made = goal->study->cell.text;
  ck_assert_int_eq(cavum_requirements_read_text(&kept, made, strlen(made), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(kept->count, 2);
  ck_assert_str_eq(kept->list[0].key, "epk_over_eacc");
  ck_assert(kept->list[0].most == 2.1 && kept->list[0].least == -HUGE_VAL);
  ck_assert_str_eq(kept->list[1].key, "frequency_MHz");
  CAVUM_CHECK_RELATIVE(kept->list[1].least, 1299.9, 1e-15);
  CAVUM_CHECK_RELATIVE(kept->list[1].most, 1300.1, 1e-15);
  cavum_requirements_destroy(&kept);
  cavum_goal_close(&goal);
}
END_TEST

#define WALL "free_wall: {points: 8, within_mm: 3}\n"

static const struct {
  const char *cell, *text, *message;
} refused[] = {
    {INNER_CELL, VARY "free_wall: {points: 1, within_mm: 3}\n", "free_wall.points"},
    {INNER_CELL, VARY "free_wall: {points: 8}\n", "within_mm"},
    {INNER_CELL,
     VARY "free_wall: {points: 8, within_mm: 3}\nfront: {bpk_over_eacc_mT_per_MV_per_m: {from: 4, "
          "to: 5, points: 2}}\n",
     "not with a front"},
    {INNER_CELL,
     "vary: {left.iris_ellipse.axial_mm: {from: 9, to: 16}}\nfree_wall: {points: 12, within_mm: "
     "3}\n",
     "at most 11 points"},
    {INNER_CELL, VARY "limits: {iris_side_radius_mm: {least: 5}}\n", "iris_side_radius_mm"},
    {BODY, RADII "limits: {wall_angle_deg: {most: 5}}\n", "expected {least: A}"},
    {BODY, RADII "limits: {equator_side_radius_mm: {least: 0}}\n", "above 0"},
    {BODY, RADII "free_wall: {points: 8, within_mm: 3}\n", "two ellipses"},
    // What a spline does not have, or not so, is said before any solve.
    {INNER_CELL, VARY "limits: {straight_length_mm: {least: 5}}\n" WALL,
     "straight_length_mm is of two ellipses alone"},
    {INNER_CELL, VARY "limits: {wall_angle_deg: {least: 5, most: 9}}\n" WALL,
     "wall_angle_deg of a free wall: expected {least: A}"},
    {INNER_CELL, VARY "limits: {aperture_radius_mm: {most: 36}}\n" WALL,
     "aperture_radius_mm of a free wall: expected {least: A}"},
    {INNER_CELL, VARY "limits: {iris_curvature_mm: {most: 36}}\n" WALL,
     "iris_curvature_mm of a free wall: expected {least: A}"},
    {INNER_CELL, VARY "maximise: straight_length_mm\n" WALL,
     "straight_length_mm is of two ellipses alone"},
    {INNER_CELL, VARY "coupling: yes\n" WALL, "coupling"},
    {INNER_CELL, VARY "coupling: inner-cell\n" WALL, "coupling"}};

START_TEST(what_is_wrong_is_said) {
  cavum_cell cell = solving_read(refused[_i].cell);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  char text[4000];
  snprintf(text, sizeof text, "%s%s", refused[_i].text,
           strstr(refused[_i].text, "maximise") ? "" : "minimise: epk_over_eacc\n");
  ck_assert_int_ne(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &error), CAVUM_OK);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].message));
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, free_wall_keeps_the_aperture);
  tcase_add_test(tests, requirements_stay);
  tcase_add_test(tests, starts_from_the_two_ellipses);
  tcase_add_test(tests, bends_have_derivatives);
  tcase_add_test(tests, least_area_is_a_sphere);
  tcase_add_test(tests, free_wall_of_a_cell);
  tcase_add_test(tests, free_wall_with_peaks);
  tcase_add_test(tests, free_wall_with_many_places);
  tcase_add_loop_test(tests, what_is_wrong_is_said, 0, sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("free wall", add)
