// SPDX-License-Identifier: GPL-3.0-or-later
// Means over tolerances: of a quadratic whose coefficients are known, of the larger of two normal
// numbers in closed form, and of cells against shapes drawn one by one.
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "base/base.h"
#include "cavum/geometry.h"
#include "cavum/optimum.h"
#include "cavum/tolerance.h"
#include "design/correlation.h"
#include "inner_shape.h"
#include "optimum/mean.h"
#include "optimum/mean_peak.h"
#include "optimum/mean_shift.h"
#include "optimum/point.h"
#include "optimum/rates.h"
#include "solving.h"

// Wide ones of both halves: what curves is above what solves are known to.
#define WIDE                                                                  \
  "tolerances:\n"                                                             \
  "  iris_ellipse.axial_mm: {normal: 0.4}\n"                                  \
  "  iris_ellipse.radial_mm: {normal: 0.4}\n"                                 \
  "  iris_radius_mm: {uniform: 0.5}\n"                                        \
  "  correlations:\n"                                                         \
  "    - {of: [iris_ellipse.axial_mm, iris_ellipse.radial_mm], coefficient: " \
  "0.5}\n"

// Of each half alone: the higher one of two mirrored peaks counts, and the smaller of two leans.
#define HALVES                                    \
  "tolerances:\n"                                 \
  "  left.iris_ellipse.axial_mm: {normal: 0.1}\n" \
  "  right.iris_ellipse.axial_mm: {normal: 0.1}\n"

#define GOAL                                                                    \
  "vary:\n"                                                                     \
  "  equator_ellipse.radial_mm: {from: 28, to: 50}\n"                           \
  "  iris_ellipse.axial_mm: {from: 9, to: 16}\n"                                \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm, from: 95, to: 110}\n"     \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\n"                                   \
  "limits: {epk_over_eacc: {most: 2.05}, r_over_q_linac_ohm: {least: 100}, "    \
  "geometry_factor_ohm: {least: 250, most: 290}, wall_angle_deg: {least: 5}}\n" \
  "starts: 1\n"

// Central differences of the gradient of a quadratic are its second derivatives, so that the sum is
// half the trace of C H to rounding.
START_TEST(quadratic_model) {
  enum { N = 3 };
  const double slope[N] = {0.3, -1.7, 0.9}, deviation[N] = {0.1, 0.25, 0.4};
  const double hessian[N][N] = {{2.0, -0.7, 0.4}, {-0.7, -1.3, 0.9}, {0.4, 0.9, 3.1}};
  const double correlation[N * N] = {1.0, 0.6, -0.3, 0.6, 1.0, 0.2, -0.3, 0.2, 1.0};
  double root[N * N], expected = 0.0, found = 0.0;
  ck_assert(cavum_correlation_root(root, correlation, N));
  for (int i = 0; i < N; i++) {
    for (int k = 0; k < N; k++) {
      expected += 0.5 * correlation[i * N + k] * deviation[i] * deviation[k] * hessian[i][k];
    }
  }
  for (int c = 0; c < N; c++) {
    double column[N], by[2][N];
    for (int i = 0; i < N; i++) column[i] = root[i * N + c];
    for (int side = 0; side < 2; side++) {
      for (int i = 0; i < N; i++) {
        double gradient = slope[i];
        for (int k = 0; k < N; k++) {
          gradient += (2 * side - 1) * hessian[i][k] * deviation[k] * column[k];
        }
        by[side][i] = deviation[i] * gradient;
      }
    }
    found += cavum_mean_bend(by[0], by[1], column, N);
  }
  CAVUM_CHECK_NEAR(found, expected, 1e-15);
}
END_TEST

static cavum_tolerances *read_tolerances(const char *text) {
  cavum_cell cell = solving_read(text);
  cavum_tolerances *tolerances = NULL;
  ck_assert_int_eq(cavum_tolerances_read_text(&tolerances, &cell, text, strlen(text), NULL, NULL),
                   CAVUM_OK);
  cavum_cell_clear(&cell);
  return tolerances;
}

// The draws have the means, deviations and correlations of the tolerances.
START_TEST(draws_have_their_moments) {
  cavum_tolerances *t = read_tolerances(INNER_SHAPE WIDE);
  double *draws = NULL, sum[9] = {0.0}, mean[3] = {0.0};
  ck_assert_int_eq(cavum_mean_draws_make(&draws, t, NULL), CAVUM_OK);
  for (int i = 0; i < CAVUM_MEAN_DRAWS; i++) {
    for (int a = 0; a < 3; a++) {
      mean[a] += draws[i * 3 + a] / CAVUM_MEAN_DRAWS;
      for (int b = 0; b < 3; b++) {
        sum[a * 3 + b] += draws[i * 3 + a] * draws[i * 3 + b] / CAVUM_MEAN_DRAWS;
      }
    }
  }
  // Means cancel in pairs; moments of normal numbers are matched, of uniform ones nearly.
  for (int a = 0; a < 3; a++) {
    CAVUM_CHECK_NEAR(mean[a], 0.0, 1e-14);
    for (int b = 0; b < 3; b++) {
      CAVUM_CHECK_NEAR(sum[a * 3 + b], t->correlation[a * 3 + b], a == 2 || b == 2 ? 1e-2 : 1e-12);
    }
  }
  free(draws);
  cavum_tolerances_destroy(&t);
}
END_TEST

// C. E. Clark, Operations Research 9 (1961) 145: of two normal numbers with means m and variance
// theta^2 of their difference, the mean of the larger is m1 P(a) + m2 P(-a) + theta p(a),
// a = (m1 - m2) / theta.
START_TEST(larger_of_two) {
  static const double apart[4] = {0.0, 0.3, -1.0, 8.0};
  cavum_tolerances *t = read_tolerances(INNER_SHAPE HALVES);
  double *draws = NULL, part[2], along[4];
  ck_assert_int_eq(cavum_mean_draws_make(&draws, t, NULL), CAVUM_OK);
  const double value[2] = {2.0 + apart[_i], 2.0}, slope[4] = {0.8, 0.1, -0.2, 0.5};
  double theta = hypot(slope[0] - slope[2], slope[1] - slope[3]), a = apart[_i] / theta;
  double expected = value[0] * gsl_cdf_ugaussian_P(a) + value[1] * gsl_cdf_ugaussian_P(-a) +
                    theta * gsl_ran_ugaussian_pdf(a);
  const cavum_mean_values values = {.num_values = 2, .count = 2, .value = value, .slope = slope};
  double found = cavum_mean_of_largest(part, along, &values, draws, CAVUM_MEAN_DRAWS);
  printf("%.6f, expected %.6f; part %.4f, expected %.4f\n", found, expected, part[0],
         gsl_cdf_ugaussian_P(a));
  // 1024 points of the sequence; a plain sample of as many has 0.02.
  CAVUM_CHECK_NEAR(found, expected, 2e-3 * theta);
  CAVUM_CHECK_NEAR(part[0], gsl_cdf_ugaussian_P(a), 1e-2);
  // Derivatives by the slopes: d theta / d slope times the density.
  CAVUM_CHECK_NEAR(along[0], (slope[0] - slope[2]) / theta * gsl_ran_ugaussian_pdf(a), 1e-2);
  CAVUM_CHECK_NEAR(along[3], -(slope[1] - slope[3]) / theta * gsl_ran_ugaussian_pdf(a), 1e-2);
  free(draws);
  cavum_tolerances_destroy(&t);
}
END_TEST

enum { NUM_QUANTITIES = 5, NUM_DRAWN = 300 };

// Quantities of a shape, solved and measured by themselves.
static void solve_quantities(double *values, const cavum_goal *goal, const cavum_cell *cell) {
  cavum_result *r = solving_solve(cell, NULL);
  cavum_geometry *g = NULL;
  ck_assert_int_eq(cavum_geometry_measure(&g, cell, false, NULL), CAVUM_OK);
  for (int i = 0; i < NUM_QUANTITIES; i++) {
    const cavum_requirement *what = &goal->quantities[i].what;
    values[i] = what->kind == CAVUM_REQUIRE_FIGURE ? r->modes[0].figures[what->figure].value
                                                   : g->value[CAVUM_GEOMETRY_WALL_ANGLE];
  }
  cavum_geometry_destroy(&g);
  cavum_result_destroy(&r);
}

/** Shapes drawn by the tolerances, and what their quantities are above the nominal ones. */
typedef struct drawn {
  int count;               // of tolerances
  double z[NUM_DRAWN][3];  // each over its standard deviation
  double more[NUM_QUANTITIES][NUM_DRAWN];
} drawn;

// One draw of all tolerances.
static void draw_one(double *z, const cavum_tolerances *tolerances, const double *root,
                     gsl_rng *random) {
  double normal[3];
  int n = tolerances->count;
  for (int t = 0; t < n; t++) normal[t] = gsl_ran_ugaussian(random);
  for (int t = 0; t < n; t++) {
    z[t] = 0.0;
    for (int k = 0; k <= t; k++) z[t] += root[t * n + k] * normal[k];
    if (tolerances->list[t].kind != CAVUM_TOLERANCE_UNIFORM) continue;
    z[t] = sqrt(3.0) * (2.0 * gsl_cdf_ugaussian_P(z[t]) - 1.0);
  }
}

static cavum_cell move(const cavum_cell *at, const cavum_tolerances *tolerances, const double *z) {
  cavum_cell cell = *at;
  for (int t = 0; t < tolerances->count; t++) {
    const cavum_tolerance *tolerance = &tolerances->list[t];
    double before;
    ck_assert_int_eq(cavum_cell_get(&before, at, tolerance->key, NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_cell_set(&cell, tolerance->key,
                                    before + z[t] * cavum_tolerance_deviation(tolerance), NULL),
                     CAVUM_OK);
  }
  return cell;
}

static void draw_shapes(drawn *d, const cavum_goal *goal, const cavum_cell *at,
                        const double *nominal) {
  double root[9], correlation[9], values[NUM_QUANTITIES];
  gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
  d->count = goal->tolerances->count;
  cavum_correlation_of_draws(correlation, goal->tolerances);
  ck_assert(cavum_correlation_root(root, correlation, d->count));
  for (int i = 0; i < NUM_DRAWN; i++) {
    draw_one(d->z[i], goal->tolerances, root, random);
    cavum_cell cell = move(at, goal->tolerances, d->z[i]);
    solve_quantities(values, goal, &cell);
    for (int q = 0; q < NUM_QUANTITIES; q++) d->more[q][i] = values[q] - nominal[q];
  }
  gsl_rng_free(random);
}

static double rest_of(const drawn *d, int quantity, int i, const double *slope, double mean) {
  double rest = d->more[quantity][i] - mean;
  for (int t = 0; t < d->count; t++) rest -= slope[t] * d->z[i][t];
  return rest;
}

// Mean of what a quantity has more in drawn shapes, with its standard error. What is linear has no
// mean, so that it is taken off by least squares, one coefficient after the other until they stay:
// the error is that of the rest.
static double sample(double *error, const drawn *d, int quantity) {
  enum { SWEEPS = 100 };
  double slope[3] = {0.0}, mean = 0.0, square = 0.0;
  for (int sweep = 0; sweep < SWEEPS; sweep++) {
    double sum = 0.0;
    for (int i = 0; i < NUM_DRAWN; i++) sum += rest_of(d, quantity, i, slope, mean);
    mean += sum / NUM_DRAWN;
    for (int t = 0; t < d->count; t++) {
      double up = 0.0, down = 0.0;
      for (int i = 0; i < NUM_DRAWN; i++) {
        up += rest_of(d, quantity, i, slope, mean) * d->z[i][t];
        down += d->z[i][t] * d->z[i][t];
      }
      slope[t] += up / down;
    }
  }
  for (int i = 0; i < NUM_DRAWN; i++) square += pow(rest_of(d, quantity, i, slope, mean), 2.0);
  *error = sqrt(square / (NUM_DRAWN - 1 - d->count) / NUM_DRAWN);
  return mean;
}

static const struct {
  const char *text;
  bool shifted[NUM_QUANTITIES];  // whose mean is off the nominal value beyond doubt
} cells[2] = {{INNER_SHAPE WIDE, {true, true, false, false, true}},
              {INNER_SHAPE HALVES, {false, true, false, false, true}}};

// Values of a search in the mean against means of drawn shapes: peak fields of one half, of the
// higher one of two, figures that are smooth, and the lean of the wall.
START_TEST(mean_of_drawn_shapes) {
  if (!getenv("CAVUM_LONG_TESTS") && _i == 0) return;
  const char text[] = GOAL "robust: {value: mean}\n";
  const double place[3] = {0.5, 0.4, 0.4};
  double values[CAVUM_STUDY_MOST_INPUTS], shift[CAVUM_GOAL_MOST_QUANTITIES];
  double nominal[NUM_QUANTITIES], sum = 0.0;
  static drawn shapes;
  cavum_cell cell = solving_read(cells[_i].text), there;
  cavum_goal *goal = NULL;
  cavum_optimum_solving solving = {0};
  cavum_optimum_point plain = {.place = {0.0}}, mean = {.place = {0.0}};
  cavum_error what = {0};
  bool owned = false;
  cavum_status status = cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, &what);
  ck_assert_msg(status == CAVUM_OK, "%s", what.message);
  goal->is_apart = _i == 1;
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  status = cavum_mean_shift_find(shift, goal, &solving, place, &what);
  ck_assert_msg(status == CAVUM_OK, "%s", what.message);
  ck_assert_int_eq(cavum_optimum_point_solve(&plain, &solving, place, NULL), CAVUM_OK);
  goal->is_robust = true;
  for (int i = 0; i < goal->num_quantities; i++) goal->quantities[i].margin.value = shift[i];
  ck_assert_int_eq(cavum_optimum_point_solve(&mean, &solving, place, NULL), CAVUM_OK);
  cavum_optimum_inputs(values, goal, place);
  ck_assert_int_eq(cavum_study_apply(&there, &owned, goal->study, values, NULL), CAVUM_OK);
  solve_quantities(nominal, goal, &there);
  draw_shapes(&shapes, goal, &there, nominal);
  for (int i = 0; i < NUM_QUANTITIES; i++) {
    const cavum_optimum_value *v = &mean.values[i];
    double expected = v->value - plain.values[i].value, error, found = sample(&error, &shapes, i);
    // Solves differ by what they do not resolve, half of the accuracy at most in the mean of many.
    double known = hypot(error, 0.1 * 1e-4 * fabs(v->value)), off = (found - expected) / known;
    printf("%-32s mean less nominal %+.4e, of drawn shapes %+.4e +- %.1e: %+.2f errors\n",
           goal->quantities[i].what.key, expected, found, error, off);
    sum += off * off;
    if (cells[_i].shifted[i]) ck_assert_double_gt(fabs(found), 4.0 * known);
  }
  // Chi-square of five: 25.7 is exceeded once in 10,000.
  CAVUM_CHECK_NEAR(sum, 0.0, 25.7);
  if (owned) cavum_cell_clear(&there);
  cavum_optimum_point_clear(&plain);
  cavum_optimum_point_clear(&mean);
  cavum_optimum_solving_clear(&solving);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

// A peak whose places along the wall are not known by the tolerances is taken as a whole: which of
// the two fields that was is told, in the mean and in the worst case. With places it is none.
START_TEST(a_peak_as_a_whole_is_told) {
  static const char *const kinds[2] = {"value: mean", "deviations: 1"};
  char text[1000];
  cavum_cell cell =
      solving_read(INNER_SHAPE "tolerances: {iris_ellipse.axial_mm: {normal: 0.05}}\n");
  snprintf(text, sizeof text,
           "vary:\n  iris_ellipse.axial_mm: {from: 9, to: 16}\n"
           "minimise: bpk_over_eacc_mT_per_MV_per_m\n"
           "limits: {epk_over_eacc: {most: 2.05}, wall_angle_deg: {least: 5}}\n"
           "starts: 1\nrobust: {%s}\n",
           kinds[_i]);
  for (int whole = 0; whole < 3; whole++) {
    cavum_goal *goal = NULL;
    cavum_optimum *optimum = NULL;
    ck_assert_int_eq(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, NULL), CAVUM_OK);
    for (int i = 0; i < goal->num_quantities; i++) {
      if (cavum_goal_peak(&goal->quantities[i]) == whole - 1) goal->quantities[i].by_places = false;
    }
    (void)cavum_optimise(&optimum, goal, NULL, NULL);
    ck_assert_ptr_nonnull(optimum);
    printf("robust: {%s}: as a whole %d\n", kinds[_i], optimum->robust.whole_peaks);
    ck_assert_int_eq(optimum->robust.whole_peaks, whole);
    cavum_optimum_destroy(&optimum);
    cavum_goal_close(&goal);
  }
  cavum_cell_clear(&cell);
}
END_TEST

// Tolerances that lead to no shape are named, with the shape that is none.
START_TEST(tolerances_without_a_shape) {
  static cavum_optimum_solving solving;  // large
  const char text[] =
      "vary: {iris_ellipse.axial_mm: {from: 9, to: 16}}\n"
      "minimise: bpk_over_eacc_mT_per_MV_per_m\nrobust: {value: mean}\n";
  const double place[1] = {0.5};
  double shift[CAVUM_GOAL_MOST_QUANTITIES];
  // Two ellipses of 42 and 12.5 mm in a half of 57.652 mm: 12 mm more overlap.
  cavum_cell cell =
      solving_read(INNER_SHAPE "tolerances: {equator_ellipse.axial_mm: {normal: 12}}\n");
  cavum_goal *goal = NULL;
  cavum_error error = {0};
  solving = (cavum_optimum_solving){0};
  ck_assert_int_eq(cavum_goal_open_text(&goal, text, strlen(text), NULL, &cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_optimum_solving_open(&solving, goal, NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_mean_shift_find(shift, goal, &solving, place, &error), CAVUM_ERR_GEOMETRY);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "tolerances"));
  ck_assert_ptr_nonnull(strstr(error.message, "equator_ellipse.axial_mm by +12"));
  ck_assert_ptr_nonnull(strstr(error.message, "no common tangent"));
  cavum_optimum_solving_clear(&solving);
  cavum_goal_close(&goal);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, tolerances_without_a_shape);
  tcase_add_loop_test(tests, a_peak_as_a_whole_is_told, 0, 2);
  tcase_add_test(tests, quadratic_model);
  tcase_add_test(tests, draws_have_their_moments);
  tcase_add_loop_test(tests, larger_of_two, 0, 4);
  tcase_add_loop_test(tests, mean_of_drawn_shapes, 0, 2);
}

CAVUM_TEST_MAIN("mean", add)
