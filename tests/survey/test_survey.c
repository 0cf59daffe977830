// SPDX-License-Identifier: GPL-3.0-or-later
// Walls as they were measured: exact points, known deviations, noise, probes, wild points, gaps.
#include "measured_wall.h"
#include "support.h"
#include "survey/planes.h"

static cavum_cell cell;
static cavum_contour drawing;
static const cavum_survey_settings FINE = {.scatter_m = 1e-9};

static void set_up(void) {
  cavum_error error = {0};
  ck_assert_int_eq(cavum_cell_read_file(&cell, CAVUM_CELLS_FOLDER "/mid-cell.yaml", &error),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&drawing, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
}

static void tear_down(void) {
  cavum_contour_clear(&drawing);
  cavum_cell_clear(&cell);
}

static double frequency_of(cavum_contour *contour) {
  cavum_cell made = measured_wall_cell(&cell, contour);
  cavum_result *result = solving_solve(&made, NULL);
  double hz = solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY);
  cavum_result_destroy(&result);
  cavum_cell_clear(&made);
  return hz;
}

static cavum_survey fit(const measured_wall *w, const cavum_survey_settings *settings,
                        uint64_t seed) {
  random_state state = {seed};
  cavum_error error = {0};
  cavum_survey survey = {0};
  cavum_survey_points points = measured_wall_points(w, &state);
  cavum_status status =
      cavum_survey_fit(&survey, w->drawing, &points, settings, "points.csv", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_survey_points_clear(&points);
  return survey;
}

// Frequency of the wall that is found.
static double found_hz(const cavum_survey *survey) {
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_status status = cavum_survey_contour(&contour, survey, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%d curves, %lld used, %lld wild, %lld beyond, scatter %g um\n", contour.num_curves,
         (long long)survey->num_used, (long long)survey->num_outliers,
         (long long)survey->num_beyond, 1e6 * survey->found_scatter_m);
  return frequency_of(&contour);
}

// Frequency of the wall that was measured.
static double true_hz(const measured_wall *w) {
  cavum_contour contour = {0};
  cavum_error error = {0};
  ck_assert_int_eq(cavum_contour_move_by_depth(&contour, w->drawing, &w->truth, &error), CAVUM_OK);
  return frequency_of(&contour);
}

START_TEST(exact_points_give_the_exact_cell) {
  measured_wall w = {.drawing = &drawing, .num_points = 2000};
  cavum_contour same = {0};
  cavum_error error = {0};
  cavum_survey survey = fit(&w, &FINE, 1);
  ck_assert_int_eq(cavum_cell_make_contour(&same, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  double hz = found_hz(&survey), exact_hz = frequency_of(&same);
  CAVUM_CHECK_RELATIVE(hz, exact_hz, 1e-8);  // the curves follow the fit to 4 nm
  cavum_survey_clear(&survey);
}
END_TEST

// The drawing has another equator and another iris than the wall, whose points are exact.
START_TEST(exact_points_of_another_ellipse_give_that_ellipse) {
  cavum_cell other = cell;
  cavum_contour wrong = {0}, right = {0};
  cavum_error error = {0};
  other.text = other.title = NULL;
  other.left.equator_axial_m = other.right.equator_axial_m = 41.7e-3;
  other.left.equator_radius_m = other.right.equator_radius_m = 103.2e-3;
  ck_assert_int_eq(cavum_cell_make_contour(&wrong, &other, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&right, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  random_state state = {7};
  measured_wall w = {.drawing = &drawing, .num_points = 2000};
  cavum_survey_points points = measured_wall_points(&w, &state);
  cavum_survey survey = {0};
  cavum_status status = cavum_survey_fit(&survey, &wrong, &points, &FINE, "points.csv", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  double hz = found_hz(&survey), exact_hz = frequency_of(&right);
  CAVUM_CHECK_RELATIVE(hz, exact_hz, 1e-7);
  cavum_survey_points_clear(&points);
  cavum_survey_clear(&survey);
  cavum_contour_clear(&wrong);
}
END_TEST

// Machine axes that are off by millimetres and milliradians, a ball of 1.5 mm.
START_TEST(shift_tilt_and_probe_are_taken_off) {
  const measured_wave wave = {20e-6, cell.left.half_length_m};
  measured_wall w = {.drawing = &drawing,
                     .truth = {measured_wall_wave, &wave, CAVUM_GRADED_CLOSE_M},
                     .num_points = 2000,
                     .probe_radius_m = 1.5e-3,
                     .in_space = true,
                     .motion = {0.4e-3, -0.7e-3, 0.9e-3, 2e-3, -1e-3}};
  cavum_survey_settings settings = {.scatter_m = 1e-9, .probe_radius_m = 1.5e-3};
  cavum_survey survey = fit(&w, &settings, 2);
  printf("motion %g %g %g mm, %g %g mrad\n", 1e3 * survey.view.motion[0],
         1e3 * survey.view.motion[1], 1e3 * survey.view.motion[2], 1e3 * survey.view.motion[3],
         1e3 * survey.view.motion[4]);
  double hz = found_hz(&survey), exact_hz = true_hz(&w);
  CAVUM_CHECK_NEAR(hz, exact_hz, 200.0);
  cavum_survey_clear(&survey);
}
END_TEST

// One point in a hundred is off by up to 2 mm.
START_TEST(wild_points_do_not_matter) {
  const measured_wave wave = {20e-6, cell.left.half_length_m};
  measured_wall w = {.drawing = &drawing,
                     .truth = {measured_wall_wave, &wave, CAVUM_GRADED_CLOSE_M},
                     .num_points = 2000,
                     .noise_m = 5e-6};
  cavum_survey_settings settings = {.scatter_m = 5e-6, .motion = CAVUM_MOTION_NONE};
  cavum_survey clean = fit(&w, &settings, 3);
  double hz = found_hz(&clean);
  w.wild_part = 0.01;
  w.wild_m = 2e-3;
  cavum_survey wild = fit(&w, &settings, 3);
  ck_assert_int_gt(wild.num_outliers, 10);
  CAVUM_CHECK_NEAR(wild.found_scatter_m, 5e-6, 0.3e-6);
  double wild_hz = found_hz(&wild);
  CAVUM_CHECK_NEAR(wild_hz, hz, 4e3);  // about its uncertainty: other places, other noise
  cavum_survey_clear(&clean);
  cavum_survey_clear(&wild);
}
END_TEST

/** A weld that sank at the equator. */
typedef struct weld {
  double depth_m, sigma_m;
} weld;

static double weld_at(double z_m, const weld *w) {
  return w->depth_m * exp(-0.5 * z_m * z_m / (w->sigma_m * w->sigma_m));
}

static double weld_depth(const cavum_curve *curve, double t, const void *data) {
  return weld_at(cavum_curve_point(curve, t).z_m, data);
}

enum { NUM_PLACES = 4000, NUM_VALUES = 120 };

// Integral along the wall of the deviation that is found less the true one, over its uncertainty.
static double normal_area(const cavum_survey *survey, const weld *truth) {
  cavum_foot *places = cavum_alloc(NUM_PLACES, sizeof *places);
  double *weights = cavum_alloc(NUM_PLACES, sizeof *weights), off = 0.0, u = 0.0;
  cavum_error error = {0};
  ck_assert_int_eq(survey->wall.num_runs, 1);
  for (int i = 0; i < NUM_PLACES; i++) {
    double along_m = survey->wall.run_length_m[0] * (i + 0.5) / NUM_PLACES;
    places[i].along_m = along_m;
    weights[i] = 1.0 / NUM_PLACES;
    off += cavum_survey_deviation_m(survey, 0, along_m) / NUM_PLACES;
    off -=
        weld_at(cavum_survey_wall_place(NULL, &survey->wall, 0, along_m).z_m, truth) / NUM_PLACES;
  }
  ck_assert_int_eq(cavum_survey_uncertainty(&u, survey, places, weights, NUM_PLACES, &error),
                   CAVUM_OK);
  free(places);
  free(weights);
  return off / u;
}

// A weld of 0.3 mm, a scan of some points to its width: neighbours that agree are metal, and none
// of the points is wild. Of the twelve integrals the largest is beyond 4 u by chance in 1 of 1300
// sets.
START_TEST(a_sunk_weld_is_metal) {
  static const struct {
    weld weld;
    double apart_m;
  } cases[] = {{{0.3e-3, 1e-3}, 0.5e-3}, {{0.3e-3, 1.5e-3}, 1e-3}, {{0.2e-3, 7e-3}, 2e-3}};
  cavum_survey_settings settings = {
      .scatter_m = 8e-6, .largest_gap_m = 0.02, .motion = CAVUM_MOTION_NONE};
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    for (uint64_t seed = 1; seed <= 4; seed++) {
      measured_wall w = {.drawing = &drawing,
                         .truth = {weld_depth, &cases[k].weld, CAVUM_GRADED_CLOSE_M},
                         .num_points = (int64_t)(0.22 / cases[k].apart_m),
                         .noise_m = 8e-6,
                         .even = k < 2};
      cavum_survey survey = fit(&w, &settings, seed);
      double off = normal_area(&survey, &cases[k].weld);
      printf("sigma %g mm, seed %d: %lld outliers, scatter %.2f um, integral off by %.2f u\n",
             1e3 * cases[k].weld.sigma_m, (int)seed, (long long)survey.num_outliers,
             1e6 * survey.found_scatter_m, off);
      CAVUM_CHECK_NEAR(off, 0.0, 4.0);
      ck_assert_int_le(survey.num_outliers, 1);  // of 8000 normal points half a one is 4 off
      cavum_survey_clear(&survey);
    }
  }
}
END_TEST

// A plane mirrors the wall: noise gives it no edge there, which would have no bound of its field
// just where the electric field is largest.
START_TEST(noise_makes_no_edge_at_a_mirror_plane) {
  static const double STEP_M = 1e-6;
  cavum_survey_settings settings = {.scatter_m = 8e-6};
  measured_wall w = {.drawing = &drawing, .num_points = 600, .noise_m = 8e-6};
  cavum_survey survey = fit(&w, &settings, 11);
  double length_m = survey.wall.run_length_m[0];
  for (int end = 0; end < 2; end++) {
    double at_m = end ? length_m : 0.0, aside_m = end ? length_m - STEP_M : STEP_M;
    double slope = (cavum_survey_deviation_m(&survey, 0, aside_m) -
                    cavum_survey_deviation_m(&survey, 0, at_m)) /
                   STEP_M;
    CAVUM_CHECK_NEAR(slope, 0.0, 1e-5);  // half the step by a curvature of 8 um in 1 mm^2 at most
  }
  cavum_contour contour = {0};
  cavum_error error = {0};
  ck_assert_int_eq(cavum_survey_contour(&contour, &survey, &error), CAVUM_OK);
  cavum_cell made = measured_wall_cell(&cell, &contour);
  made.accuracy_frequency = 1e-6;
  made.accuracy_other_figures = 1e-3;
  cavum_result *result = solving_solve(&made, NULL);  // which converges
  ck_assert_int_eq(result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC].state,
                   CAVUM_FIGURE_PRESENT);
  cavum_result_destroy(&result);
  cavum_cell_clear(&made);
  cavum_survey_clear(&survey);
}
END_TEST

// Both planes of a drawing of another half length, of points with a wave that the true planes
// mirror.
static void find_planes(cavum_survey_plane planes[2], double longer_m, uint64_t seed) {
  cavum_cell other = cell;
  cavum_contour longer = {0};
  cavum_error error = {0};
  other.text = other.title = NULL;
  other.left.half_length_m += longer_m;
  other.right.half_length_m += longer_m;
  ck_assert_int_eq(cavum_cell_make_contour(&longer, &other, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  const measured_wave wave = {20e-6, other.left.half_length_m};
  measured_wall w = {.drawing = &longer,
                     .truth = {measured_wall_wave, &wave, CAVUM_GRADED_CLOSE_M},
                     .num_points = 600,
                     .noise_m = 5e-6};
  cavum_survey_settings settings = {.scatter_m = 5e-6, .largest_gap_m = 0.02};
  random_state state = {seed};
  cavum_survey survey = {0};
  cavum_survey_points points = measured_wall_points(&w, &state);
  cavum_status status =
      cavum_survey_fit(&survey, &drawing, &points, &settings, "points.csv", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  for (int end = 0; end < 2; end++) {
    ck_assert_int_eq(cavum_survey_plane_find(&planes[end], &survey, 0, end == 1, &error), CAVUM_OK);
    ck_assert(planes[end].is_known);
    printf("longer by %g um, plane %d: %+.1f +- %.1f um\n", 1e6 * longer_m, end,
           1e6 * planes[end].beyond_m, 1e6 * planes[end].uncertainty_m);
  }
  cavum_survey_points_clear(&points);
  cavum_survey_clear(&survey);
  cavum_contour_clear(&longer);
}

// Five standard uncertainties are what is told of: none by chance in 12 planes where they are the
// drawing's, and all where they are 0.2 mm elsewhere. The best fit along the axis moves both planes
// alike, so their sum is held against the truth.
START_TEST(planes_that_lie_elsewhere_are_found) {
  static const double LONGER_M[] = {0.0, 0.2e-3, -0.2e-3};
  for (int k = 0; k < 3; k++) {
    for (uint64_t seed = 1; seed <= 6; seed++) {
      cavum_survey_plane p[2];
      find_planes(p, LONGER_M[k], seed);
      double u = hypot(p[0].uncertainty_m, p[1].uncertainty_m);
      CAVUM_CHECK_NEAR(p[0].beyond_m + p[1].beyond_m, 2.0 * LONGER_M[k], 4.0 * u);
      for (int end = 0; end < 2; end++) {
        bool seen = fabs(p[end].beyond_m) > 5.0 * p[end].uncertainty_m;
        ck_assert_int_eq(seen, LONGER_M[k] != 0.0);
      }
    }
  }
}
END_TEST

// Standard deviation at one place of splines with another noise.
static double drawn_deviation(const cavum_smooth *smooth, const double *along_m, double scatter_m,
                              double at_m, bool with_bends) {
  enum { DRAWS = 1000 };
  random_state state = {77};
  double squares = 0.0, b[CAVUM_SMOOTH_ORDER];
  cavum_error error = {0};
  int num_bends = cavum_smooth_num_bends(smooth), first = cavum_smooth_basis(b, smooth, at_m);
  double *added = cavum_alloc(smooth->num_coefficients, sizeof *added);
  double *bends_m = cavum_alloc(num_bends, sizeof *bends_m);
  for (int k = 0; k < DRAWS; k++) {
    double more_m[NUM_VALUES], sum = 0.0;
    for (int i = 0; i < NUM_VALUES; i++) more_m[i] = scatter_m * measured_wall_normal(&state);
    for (int i = 0; i < num_bends; i++) bends_m[i] = scatter_m * measured_wall_normal(&state);
    ck_assert_int_eq(cavum_smooth_add(added, smooth, along_m, more_m, NUM_VALUES,
                                      with_bends ? bends_m : NULL, &error),
                     CAVUM_OK);
    for (int j = 0; j < CAVUM_SMOOTH_ORDER; j++) sum += b[j] * added[first + j];
    squares += sum * sum / DRAWS;
  }
  free(bends_m);
  free(added);
  return sqrt(squares);
}

// At the place of a value the variance by scatter and smoothing is s^2 times the hat matrix's
// element there [Wahba1983], which is what the spline follows that value by; by the scatter alone
// it is less. Four standard deviations of one of 1000 draws.
START_TEST(draws_have_what_smoothing_hides) {
  static const double S_M = 5e-6;
  double along_m[NUM_VALUES], y_m[NUM_VALUES], rows[NUM_VALUES], tolerance = 4.0 / sqrt(2000.0);
  random_state state = {5};
  cavum_error error = {0};
  cavum_smooth smooth = {0};
  const cavum_smooth_settings settings = {.length_m = 0.1, .scatter_m = S_M, .level_start = true};
  for (int i = 0; i < NUM_VALUES; i++) {
    along_m[i] = 0.1 * (i + 0.5) / NUM_VALUES;
    y_m[i] = 40e-6 * cos(60.0 * along_m[i]) + S_M * measured_wall_normal(&state);
  }
  ck_assert_int_eq(cavum_smooth_fit(&smooth, along_m, y_m, NUM_VALUES, &settings, &error),
                   CAVUM_OK);
  for (int i = 3; i < NUM_VALUES; i += 40) {
    double *weights = cavum_alloc(smooth.num_coefficients, sizeof *weights);
    double b[CAVUM_SMOOTH_ORDER];
    int first = cavum_smooth_basis(b, &smooth, along_m[i]);
    for (int j = 0; j < CAVUM_SMOOTH_ORDER; j++) weights[first + j] = b[j];
    ck_assert_int_eq(cavum_smooth_rows(rows, &smooth, along_m, NUM_VALUES, weights, &error),
                     CAVUM_OK);
    free(weights);
    double all_m = drawn_deviation(&smooth, along_m, S_M, along_m[i], true);
    double noise_m = drawn_deviation(&smooth, along_m, S_M, along_m[i], false);
    CAVUM_CHECK_RELATIVE(all_m, S_M * sqrt(rows[i]), tolerance);
    CAVUM_CHECK_RELATIVE(noise_m, cavum_smooth_deviation_m(&smooth, along_m[i]), tolerance);
  }
  cavum_smooth_clear(&smooth);
}
END_TEST

// A scatter that is stated too small, or in mm for um, has the spline follow the noise: the one
// that is found must not. Its standard deviation is sigma / sqrt(2 n), and of 800 points some 20
// are used up: five of these and 2 %.
START_TEST(scatter_is_found_whatever_is_stated) {
  static const double stated_m[] = {6e-6, 3e-6, 2e-6, 1e-6, 0.1e-6, 0.006e-6};
  const measured_wave wave = {30e-6, 0.5 * cell.left.half_length_m};
  for (uint64_t seed = 1; seed <= 3; seed++) {
    double right_hz = 0.0;
    for (size_t k = 0; k < sizeof stated_m / sizeof *stated_m; k++) {
      measured_wall w = {.drawing = &drawing,
                         .truth = {measured_wall_wave, &wave, CAVUM_GRADED_CLOSE_M},
                         .num_points = 800,
                         .noise_m = 6e-6};
      cavum_survey_settings settings = {.scatter_m = stated_m[k], .motion = CAVUM_MOTION_NONE};
      cavum_survey survey = fit(&w, &settings, seed);
      double hz = found_hz(&survey), tolerance_m = 6e-6 * (5.0 / sqrt(2.0 * 780) + 0.02);
      CAVUM_CHECK_NEAR(survey.found_scatter_m, 6e-6, tolerance_m);
      CAVUM_CHECK_NEAR(survey.scatter_m, 6e-6, tolerance_m);
      if (k == 0) right_hz = hz;
      // The same points: smoothed alike but for some per cent of the scatter.
      CAVUM_CHECK_NEAR(hz, right_hz, 500.0);
      cavum_survey_clear(&survey);
    }
  }
}
END_TEST

START_TEST(a_gap_is_named_with_its_place) {
  measured_wall w = {.drawing = &drawing, .num_points = 2000, .gap_from_m = 0.1, .gap_to_m = 0.13};
  random_state state = {5};
  cavum_error error = {0};
  cavum_survey survey = {0};
  cavum_survey_points points = measured_wall_points(&w, &state);
  cavum_survey_settings settings = FINE;
  ck_assert_int_eq(cavum_survey_fit(&survey, &drawing, &points, &settings, "points.csv", &error),
                   CAVUM_ERR_GEOMETRY);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "points.csv: no points between z = "));
  ck_assert_ptr_nonnull(strstr(error.message, "degrees, expected at most 28.6"));
  settings.largest_gap_m = 0.04;
  ck_assert_int_eq(cavum_survey_fit(&survey, &drawing, &points, &settings, "points.csv", &error),
                   CAVUM_OK);
  cavum_survey_clear(&survey);
  cavum_survey_points_clear(&points);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, exact_points_give_the_exact_cell);
  tcase_add_test(tests, exact_points_of_another_ellipse_give_that_ellipse);
  tcase_add_test(tests, shift_tilt_and_probe_are_taken_off);
  tcase_add_test(tests, wild_points_do_not_matter);
  tcase_add_test(tests, a_sunk_weld_is_metal);
  tcase_add_test(tests, noise_makes_no_edge_at_a_mirror_plane);
  tcase_add_test(tests, planes_that_lie_elsewhere_are_found);
  tcase_add_test(tests, draws_have_what_smoothing_hides);
  tcase_add_test(tests, scatter_is_found_whatever_is_stated);
  tcase_add_test(tests, a_gap_is_named_with_its_place);
}

CAVUM_TEST_MAIN("survey", add)
