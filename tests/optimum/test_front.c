// SPDX-License-Identifier: GPL-3.0-or-later
// A front against closed forms: its points, where limits are not active, gaps; its file.
#include "base/base.h"
#include "cavum/optimum.h"
#include "cavum/scan_store.h"
#include "hdf5/hdf5_file.h"
#include "slow_shape.h"
#include "solving.h"
#include "temporary_folder.h"
#include "test_cell.h"

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
  "accuracy: {frequency: 1.0e-10, other_figures: 1.0e-7}\n"

#define GAP                                                \
  "vary: {\"path[2].line_to.z_mm\": {from: 20, to: 90}}\n" \
  "linked:\n"                                              \
  "  - path[1].line_to.z_mm = path[2].line_to.z_mm\n"      \
  "  - path[3].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "  - start.z_mm = -path[2].line_to.z_mm\n"               \
  "  - path[4].line_to.z_mm = -path[2].line_to.z_mm\n"     \
  "starts: 1\n"

static const double X01 = 2.404825557695773;

static cavum_front *find_front(cavum_goal **goal, const char *cell_text, const char *text) {
  cavum_cell cell = solving_read(cell_text);
  cavum_front *front = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_goal_open_text(goal, text, strlen(text), NULL, &cell, &error);
  if (status == CAVUM_OK) status = cavum_optimise_front(&front, *goal, NULL, &error);
  if (status != CAVUM_OK) printf("%s\n", error.message);
  cavum_cell_clear(&cell);
  ck_assert_int_eq(status, CAVUM_OK);
  ck_assert(cavum_goal_is_front(*goal));
  for (int i = 0; i < front->num_points; i++) {
    const cavum_front_point *p = &front->points[i];
    printf("limit %g %g: %.9g +- %.1g, %.9g, %.9g, multiplier %g, residual %.1g, %d solves, %s\n",
           p->limit[0], p->limit[1], p->value[0], p->uncertainty[0], p->value[1], p->value[2],
           p->multiplier[0], p->residual, p->num_solves, cavum_front_kind_word(p->kind));
  }
  return front;
}

// R/Q of a gap d = 2 x / k goes as sin^2 x / x, G as x / (x + x01 / 2).
static double r_over_q(double x) { return sin(x) * sin(x) / x; }

// d ln(R/Q) / d G.
static double slope_of(double x, double g) {
  double by_x = 2.0 / tan(x) - 1.0 / x;
  return by_x / (g * (1.0 / x - 1.0 / (x + 0.5 * X01)));
}

// The largest R/Q for a G of at least so much. Gaps up to 180 mm have a G of up to 291 ohm, and
// the largest R/Q of all, at tan x = 2 x, has 223 ohm: limits up to there are not active.
static void check_points(const cavum_front *front) {
  static const cavum_front_kind kinds[] = {CAVUM_FRONT_BEYOND, CAVUM_FRONT_BEYOND,
                                           CAVUM_FRONT_POINT,  CAVUM_FRONT_POINT,
                                           CAVUM_FRONT_POINT,  CAVUM_FRONT_GAP};
  const double best = 1.165561185207;
  ck_assert_int_eq(front->num_points, 6);
  for (int i = 0; i < 6; i++) {
    const cavum_front_point *p = &front->points[i];
    ck_assert_double_eq_tol(p->limit[0], 200.0 + 20.0 * i, 1e-12);
    ck_assert_int_eq(p->kind, kinds[i]);
    if (kinds[i] == CAVUM_FRONT_GAP) continue;
    const double largest_g = 0.5 * 376.730313412 * X01;
    double phase = 0.5 * X01 / (largest_g / p->limit[0] - 1.0);
    double x = i < 2 ? best : phase;
    // Limits are met to a tenth of 1e-7; the objective at an optimum inside to the square of that.
    ck_assert_double_eq_tol(p->value[0] / front->points[0].value[0], r_over_q(x) / r_over_q(best),
                            2e-7);
    double multiplier = i < 2 ? 0.0 : -slope_of(x, p->limit[0]);
    // Of a limit that is met to 1e-8.
    ck_assert_double_eq_tol(p->multiplier[0], multiplier, 1e-5 * fabs(multiplier) + 1e-15);
  }
}

// What is written is a scan that states its aims, with a row a point.
static void check_file(const char *path, const cavum_front *front) {
  cavum_stored_scan *scan = NULL;
  cavum_hdf5_file *file = NULL;
  cavum_scan_aims aims = cavum_scan_aims_default();
  char *note = NULL;
  double *multipliers = NULL, values[5];
  int64_t count = 0;
  ck_assert_int_eq(cavum_stored_scan_open(&scan, path, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_stored_scan_num_rows(scan), 5);
  ck_assert_int_eq(cavum_stored_scan_aims(&aims, scan, NULL), CAVUM_OK);
  ck_assert_int_eq(aims.count, 2);
  ck_assert(!aims.smaller[0] && !aims.smaller[1]);
  ck_assert_int_eq(cavum_stored_scan_read(values, scan, aims.columns[0], 0, 5, NULL), CAVUM_OK);
  for (int i = 0; i < 5; i++) {
    ck_assert_double_eq_tol(values[i], front->points[i].value[0], 1e-6 * values[i]);
  }
  ck_assert_int_eq(cavum_stored_scan_front_note(&note, scan, NULL), CAVUM_OK);
  printf("%s\n", note);
  ck_assert_str_eq(note,
                   "Front of R/Q, linac convention against geometry factor G: 5 points; gaps at "
                   "300; limit not active at 200, 220");
  free(note);
  cavum_stored_scan_close(&scan);
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_hdf5_read_doubles(&multipliers, &count, file, "/front/multiplier", NULL),
                   CAVUM_OK);
  ck_assert_int_eq(count, 6);
  for (int i = 0; i < 6; i++) {
    ck_assert_double_eq(multipliers[i], front->points[i].multiplier[0]);
  }
  free(multipliers);
  cavum_hdf5_destroy(&file);
}

static void write_file(const char *path, const cavum_front *front) {
  cavum_study *study = NULL;
  cavum_scan_records *records = NULL;
  cavum_cell cell = solving_read(PILLBOX);
  cavum_error error = {0};
  cavum_scan_options options = cavum_scan_options_default();
  options.workers = 1;
  const char *text = front->study_text;
  printf("%s\n", text);
  cavum_status status = cavum_study_open_text(&study, text, strlen(text), NULL, &cell, &error);
  if (status == CAVUM_OK) status = cavum_scan_run(NULL, study, path, &options, &error);
  if (status == CAVUM_OK) status = cavum_scan_records_open(&records, study, path, &error);
  if (status == CAVUM_OK) status = cavum_store_write_front(path, study, records, front, &error);
  if (status != CAVUM_OK) printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_OK);
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
  cavum_cell_clear(&cell);
}

START_TEST(gap_of_a_pillbox) {
  char folder[128], path[160];
  cavum_goal *goal = NULL;
  cavum_front *front =
      find_front(&goal, PILLBOX,
                 GAP
                 "maximise: r_over_q_linac_ohm\n"
                 "front: {geometry_factor_ohm: {from: 200, to: 300, points: 6}}\n");
  check_points(front);
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/front.hdf", folder);
  write_file(path, front);
  check_file(path, front);
  temporary_folder_delete(folder);
  cavum_front_destroy(&front);
  cavum_goal_close(&goal);
}
END_TEST

// With L_acc = lambda / 2, E_pk/E_acc goes as 1 / sin x and is 1.571 at the least: no gap has 1.2.
// At 1.6 the gap is that of sin x = pi / 3.2, where G is 242 ohm: both limits on G have it, and
// neither is active.
START_TEST(three_figures) {
  cavum_goal *goal = NULL;
  cavum_front *front = find_front(&goal, PILLBOX,
                                  GAP
                                  "maximise: r_over_q_linac_ohm\n"
                                  "solves: 12\n"
                                  "front:\n"
                                  "  geometry_factor_ohm: {from: 210, to: 240, points: 2}\n"
                                  "  epk_over_eacc: {from: 1.2, to: 1.6, points: 2}\n");
  static const cavum_front_kind kinds[] = {CAVUM_FRONT_BEYOND, CAVUM_FRONT_GAP, CAVUM_FRONT_BEYOND,
                                           CAVUM_FRONT_GAP};
  static const double limits[][2] = {{210, 1.6}, {210, 1.2}, {240, 1.6}, {240, 1.2}};
  ck_assert_int_eq(front->num_points, 4);
  for (int i = 0; i < 4; i++) {
    ck_assert_double_eq(front->points[i].limit[0], limits[i][0]);
    ck_assert_double_eq(front->points[i].limit[1], limits[i][1]);
    ck_assert_int_eq(front->points[i].kind, kinds[i]);
  }
  double x = asin(CAVUM_PI / 3.2);
  ck_assert_double_eq_tol(front->points[2].value[1],
                          0.5 * 376.730313412 * X01 / (1.0 + 0.5 * X01 / x), 1e-4);
  cavum_front_destroy(&front);
  cavum_goal_close(&goal);
}
END_TEST

// A point keeps its limit and the frequency to a tenth of the accuracy asked for in a solve that
// knows better.
START_TEST(limits_hold_in_better_solves) {
  cavum_goal *goal = NULL;
  cavum_front *front = find_front(&goal, SLOW_SHAPE,
                                  SLOW_SHAPE_VARIED
                                  "limits: {wall_angle_deg: {least: 3}}\n"
                                  "front: {epk_over_eacc: {from: 2.3, to: 2.5, points: 2}}\n"
                                  "starts: 1\n");
  for (int i = 0; i < front->num_points; i++) {
    const cavum_front_point *p = &front->points[i];
    cavum_cell cell = solving_read(SLOW_SHAPE);
    cell.accuracy_frequency = 1e-9;
    cell.accuracy_other_figures = 1e-6;
    for (int k = 0; k < front->num_inputs; k++) {
      ck_assert_int_eq(cavum_cell_set(&cell, front->inputs[k], p->inputs[k], NULL), CAVUM_OK);
    }
    cavum_result *result = solving_solve(&cell, NULL);
    cavum_figure e = result->modes[0].figures[CAVUM_FIGURE_EPK_OVER_EACC];
    cavum_figure f = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
    printf("E %.7f, f %.9g\n", e.value, f.value);
    ck_assert_int_eq(p->kind, CAVUM_FRONT_POINT);
    CAVUM_CHECK_NEAR(e.value, p->limit[0], 0.1 * 1e-4 * p->limit[0] + e.uncertainty);
    CAVUM_CHECK_NEAR(f.value, 650e6, 0.1 * 1e-6 * 650e6 + f.uncertainty);
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
  cavum_front_destroy(&front);
  cavum_goal_close(&goal);
}
END_TEST

START_TEST(null_is_refused) {
  cavum_front *front = NULL;
  ck_assert_int_eq(cavum_optimise_front(&front, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_store_write_front("x", NULL, NULL, NULL, NULL), CAVUM_ERR_USAGE);
  ck_assert(!cavum_goal_is_front(NULL));
  cavum_front_destroy(&front);
  cavum_front_destroy(NULL);
}
END_TEST

// The multiplier of a limit on k_cc is that of its own point, whatever the tightest limit is.
START_TEST(multipliers_are_of_their_points) {
  static const char *const tight[] = {"0.017", "0.018"};
  double multiplier[2];
  for (int i = 0; i < 2; i++) {
    char text[512];
    cavum_goal *goal = NULL;
    snprintf(text, sizeof text,
             "vary: {iris_radius_mm: {from: 33, to: 38}}\n"
             "hold: {frequency_MHz: 1300, by: equator_radius_mm}\ncoupling: yes\n"
             "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n"
             "front: {k_cc: {from: 0.016, to: %s, points: 2}}\n",
             tight[i]);
    cavum_front *front = find_front(&goal, TEST_CELL, text);
    ck_assert_int_eq(front->points[0].kind, CAVUM_FRONT_POINT);
    multiplier[i] = front->points[0].multiplier[0];
    cavum_front_destroy(&front);
    cavum_goal_close(&goal);
  }
  ck_assert(multiplier[0] > 0.0);
  // The shape is the same to the tolerance of the conditions.
  ck_assert_double_eq_tol(multiplier[0], multiplier[1], 1e-3 * multiplier[0]);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, multipliers_are_of_their_points);
  tcase_add_test(tests, gap_of_a_pillbox);
  tcase_add_test(tests, three_figures);
  tcase_add_test(tests, limits_hold_in_better_solves);
  tcase_add_test(tests, null_is_refused);
}

CAVUM_TEST_MAIN("front", add)
