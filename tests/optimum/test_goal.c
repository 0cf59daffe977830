// SPDX-License-Identifier: GPL-3.0-or-later
// Goal files: what is wrong is said with its place, and rounded dimensions are as they are asked
// for.
#include "cavum/optimum.h"
#include "solving.h"
#include "test_cell.h"

#define VARY "vary:\n  iris_ellipse.axial_mm: {from: 10, to: 14}\n"
#define BEST "minimise: epk_over_eacc\n"

static const struct {
  const char *text, *message;
} refused[] = {
    {BEST, "missing key 'vary'"},
    {VARY, "expected minimise or maximise"},
    {VARY "minimise: epk_over_eac\n", "goal:3:11: minimise"},
    {VARY "minimise: {epk_over_eacc: -1}\n", "power above 0"},
    {VARY "minimise: [epk_over_eacc]\n", "{FIGURE: POWER"},
    {VARY "minimise: k_cc\n", "coupling"},
    {VARY "minimise: beta_of_largest_r_over_q\n", "is not differentiated"},
    {VARY BEST "limits: {epk_over_eacc: {most: 2, least: 3}}\n", "A below B"},
    {VARY BEST "limits: {wall_angle_deg: 6}\n", "{least: A}"},
    {VARY BEST "limits: {frequency_MHz: {is: 1300, strange: 1}}\n", "{least: A}"},
    {VARY BEST "limts: {}\n", "did you mean 'limits'"},
    {VARY BEST "steps: {iris_radius_mm: 0.1}\n", "is not varied"},
    {VARY BEST "steps: {iris_ellipse.axial_mm: 0}\n", "a step above 0"},
    {VARY BEST "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
               "steps: {equator_radius_mm: 0.1}\n",
     "holds the frequency"},
    {"vary: {iris_radius_mm: {from: 48, to: 60}}\n" BEST
     "limits: {aperture_radius_mm: {most: 45}}\n",
     "no shape keeps it, since iris_radius_mm goes from 48 to 60"},
    {"vary: {iris_radius_mm: {from: 30, to: 34}}\n" BEST
     "limits: {aperture_radius_mm: {least: 35}}\n",
     "no shape keeps it, since iris_radius_mm goes from 30 to 34"},
    {VARY BEST "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
               "limits: {frequency_GHz: {is: 1.301, within: 0.0005}}\n",
     "limits.frequency_GHz: no shape keeps it, since the frequency is held at 1300 MHz"},
    {VARY BEST "limits: {wall_angle_deg: {least: 60}}\n",
     "goal:4:26: limits.wall_angle_deg: no shape within the bounds keeps it, the nearest has "},
    {VARY BEST "limits: {wall_angle_deg: {is: 60}}\n", "no shape within the bounds keeps it"},
    {VARY BEST "limits: {straight_length_mm: {least: 90}}\n",
     "no shape within the bounds keeps it"},
    {VARY BEST "limits: {iris_curvature_mm: {is: 60, within: 2}}\n",
     "no shape within the bounds keeps it"},
    {VARY BEST "limits: {aperture_radius_mm: {least: 40}}\n",
     "no shape within the bounds keeps it, the nearest has 35"},
    {VARY BEST "front: {wall_angle_deg: {from: 70, to: 80, points: 3}}\n",
     "limits.wall_angle_deg: no shape within the bounds keeps it"},
    {VARY BEST "starts: 0\n", "starts"},
    {VARY BEST "mode: 5\n", "mode"},
    {VARY BEST "front: {}\n", "one or two figures"},
    {VARY BEST "front: {epk_over_eacc: {from: 2, to: 3}}\n", "points"},
    {VARY BEST "front: {epk_over_eacc: {from: 3, to: 2, points: 3}}\n", "from < to"},
    {VARY BEST "front: {frequency_MHz: {from: 1, to: 2, points: 3}}\n", "neither less nor more"},
    {VARY "minimise: {epk_over_eacc: 1, bpk_over_eacc_mT_per_MV_per_m: 1}\n"
          "front: {wall_angle_deg: {from: 1, to: 2, points: 3}}\n",
     "one figure to minimise"},
    {VARY BEST "steps: {iris_ellipse.axial_mm: 0.1}\n"
               "front: {wall_angle_deg: {from: 1, to: 2, points: 3}}\n",
     "not with a front"},
    {"vary: {iris_ellipse.axial_mm: [10, 12]}\n" BEST, "{from: A, to: B}"},
    {"vary: {iris_ellipse.axial_mm: {from: -1, to: 12}}\n" BEST, "was expected"},
    {"vary: {iris_ellipse.axail_mm: {from: 1, to: 12}}\n" BEST, "goal:1:"},
};

START_TEST(what_is_wrong_has_its_place) {
  cavum_cell cell = solving_read(TEST_CELL);
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  const char *text = refused[_i].text;
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), "goal", &cell, &error);
  printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_ERR_INPUT);
  ck_assert_ptr_null(goal);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].message));
  ck_assert(strncmp(error.message, "goal:", 5) == 0);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(null_is_refused) {
  cavum_goal *goal = NULL;
  cavum_optimum *optimum = NULL;
  ck_assert_int_eq(cavum_goal_open(NULL, "x", NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_goal_open(&goal, "no-such-file.yaml", NULL), CAVUM_ERR_FILE);
  ck_assert_int_eq(cavum_goal_open_text(&goal, NULL, 0, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_optimise(&optimum, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  cavum_goal_close(&goal);
  cavum_optimum_destroy(&optimum);
  ck_assert_str_eq(cavum_goal_title(NULL), "");
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, what_is_wrong_has_its_place, 0, sizeof refused / sizeof *refused);
  tcase_add_test(tests, null_is_refused);
}

CAVUM_TEST_MAIN("goal", add)
