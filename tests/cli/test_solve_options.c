// SPDX-License-Identifier: GPL-3.0-or-later
// Options of cavum solve that change how a cell is solved or what is shown of it, and those of draw
// that change lines: what they do is seen in what comes out.
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "hdf5/hdf5_file.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
}

static void tear_down(void) { temporary_folder_delete(folder); }

static json_t *solve(const char *options) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json - %s", options), 0);
  json_t *root = json_loads(program_read_text(folder, "out"), 0, NULL);
  ck_assert_ptr_nonnull(root);
  return root;
}

static double number_of(const json_t *root, const char *key, const char *part) {
  const json_t *mode = json_array_get(json_object_get(root, "modes"), 0);
  const json_t *value = json_object_get(json_object_get(mode, key), part);
  ck_assert_msg(json_is_number(value), "%s.%s", key, part);
  return json_number_value(value);
}

static int of_mesh(const json_t *root, const char *key) {
  return (int)json_integer_value(json_object_get(json_object_get(root, "mesh"), key));
}

static const char *const figures[] = {"frequency_Hz", "r_over_q_linac_ohm", "geometry_factor_ohm",
                                      "epk_over_eacc", "bpk_over_eacc_mT_per_MV_per_m"};
enum { NUM_FIGURES = (int)(sizeof figures / sizeof figures[0]) };

// Figures of two solutions agree within both uncertainties, and within `most` of themselves.
static void check_alike(const json_t *a, const json_t *b, double most) {
  for (int i = 0; i < NUM_FIGURES; i++) {
    double x = number_of(a, figures[i], "value"), y = number_of(b, figures[i], "value");
    double both = number_of(a, figures[i], "uncertainty") + number_of(b, figures[i], "uncertainty");
    CAVUM_CHECK_NEAR(x, y, fmin(both, most * fabs(x)));
  }
}

// The whole of a mirror-symmetric cell: twice the elements, the same figures.
START_TEST(the_whole_cell_is_solved_on_request) {
  json_t *half = solve(""), *whole = solve("--no-symmetry");
  ck_assert(json_is_true(json_object_get(json_object_get(half, "mesh"), "half_model")));
  ck_assert(json_is_false(json_object_get(json_object_get(whole, "mesh"), "half_model")));
  ck_assert_int_gt(of_mesh(whole, "elements"), 3 * of_mesh(half, "elements") / 2);
  check_alike(half, whole, 1e-4);
  json_decref(half);
  json_decref(whole);
}
END_TEST

// Each piece of work is done by one thread or another: the sums are the same.
START_TEST(all_cores_give_the_same) {
  json_t *one = solve("--refine 8"), *all = solve("--refine 8 --all-cores");
  ck_assert_int_gt(of_mesh(one, "unknowns"), 10000);
  ck_assert_int_eq(of_mesh(one, "unknowns"), of_mesh(all, "unknowns"));
  check_alike(one, all, 1e-12);
  json_decref(one);
  json_decref(all);
}
END_TEST

// Digits of the first number behind a text.
static int digits_behind(const char *text, const char *before) {
  const char *at = strstr(text, before);
  ck_assert_ptr_nonnull(at);
  at += strlen(before);
  at += strspn(at, " ");
  int digits = 0;
  for (; *at && *at != '('; at++) digits += *at >= '0' && *at <= '9';
  return digits;
}

START_TEST(all_digits_are_those_of_the_uncertainty) {
  json_t *root = solve("");
  double f = number_of(root, "frequency_Hz", "value"), shown = 0.0;
  double uncertainty = number_of(root, "frequency_Hz", "uncertainty");
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml"), 0);
  int usual = digits_behind(program_read_text(folder, "out"), "1  TM010");
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --all-digits"), 0);
  const char *table = program_read_text(folder, "out");
  ck_assert_int_gt(digits_behind(table, "1  TM010"), usual);
  ck_assert_int_eq(sscanf(strstr(table, "TM010"), "TM010 %lf", &shown), 1);
  // The last digits that are shown are the uncertainty's first two.
  CAVUM_CHECK_NEAR(1e6 * shown, f, 0.51 * uncertainty);
}
END_TEST

START_TEST(timings_go_to_standard_error) {
  static const char *const parts[] = {"contour", "mesh", "assembly", "eigen", "figures", "total"};
  ck_assert_int_eq(run("$CAVUM solve cell.yaml >plain; $CAVUM solve cell.yaml --timings >timed; "
                       "cmp plain timed"),
                   0);
  const char *at = program_read_text(folder, "err");
  double sum = 0.0, time = 0.0;
  for (int i = 0; i < 6; i++) {
    at = strstr(at, parts[i]);
    ck_assert_msg(at != NULL, "no %s", parts[i]);
    ck_assert_int_eq(sscanf(at + strlen(parts[i]), " %lf ms", &time), 1);
    ck_assert_double_ge(time, 0.0);
    if (i < 5) sum += time;
  }
  ck_assert_double_le(sum, time + 0.01);  // all in thousandths of a millisecond
}
END_TEST

static double *read_column(const char *file_name, const char *path, int64_t *count) {
  char name[192];
  cavum_hdf5_file *file = NULL;
  cavum_error error = {0};
  double *values = NULL;
  snprintf(name, sizeof name, "%s/%s", folder, file_name);
  cavum_status status = cavum_hdf5_open(&file, name, &error);
  if (status == CAVUM_OK) status = cavum_hdf5_read_doubles(&values, count, file, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_hdf5_destroy(&file);
  return values;
}

// H at each point of the wall by the equator's radius, against the central difference of two cells
// whose radii are 5 um to either side: the points are at the same parameter of the curve.
START_TEST(wall_derivatives_are_those_of_differences) {
  static const char *const path = "/modes/1/wall/H";
  int64_t count = 0, low_count = 0, high_count = 0, num_errors = 0;
  ck_assert_int_eq(run("sed 's/103.3/103.295/' cell.yaml >low.yaml; sed 's/103.3/103.305/' "
                       "cell.yaml >high.yaml; for c in low high; do $CAVUM solve -q $c.yaml -o "
                       "$c.hdf || exit 1; done; $CAVUM solve -q cell.yaml --derivatives "
                       "--wall-derivatives -o cell.hdf"),
                   0);
  double *low = read_column("low.hdf", path, &low_count);
  double *high = read_column("high.hdf", path, &high_count);
  double *value = read_column("cell.hdf", path, &count);
  static const char *const by = "/modes/1/wall_derivatives/equator_radius_mm/";
  char name[96];
  snprintf(name, sizeof name, "%sH", by);
  double *slope = read_column("cell.hdf", name, &count);
  snprintf(name, sizeof name, "%sH_uncertainty", by);
  double *error = read_column("cell.hdf", name, &num_errors);
  ck_assert_int_eq(count, low_count);
  ck_assert_int_eq(count, high_count);
  ck_assert_int_eq(count, num_errors);
  double largest = 0.0, off = 0.0;
  for (int64_t i = 0; i < count; i++) largest = fmax(largest, fabs(value[i]));
  for (int64_t i = 0; i < count; i++) {
    double difference = (high[i] - low[i]) / 0.01, expected = slope[i];
    off = fmax(off, fabs(difference - expected) / (fabs(error[i]) + 1e-6 * largest));
  }
  printf("%d points, worst difference %.3g of its bound\n", (int)count, off);
  ck_assert_double_le(off, 1.0);
  free(low);
  free(high);
  free(value);
  free(slope);
  free(error);
}
END_TEST

static int count_of(const char *text, const char *what) {
  int count = 0;
  for (const char *at = strstr(text, what); at; at = strstr(at + 1, what)) count++;
  return count;
}

START_TEST(field_lines_have_their_number_and_width) {
  ck_assert_int_eq(run("$CAVUM solve -q cell.yaml -o cell.hdf && $CAVUM draw cell.hdf -o a.svg "
                       "--view section && $CAVUM draw cell.hdf -o none.svg --view section "
                       "--field-lines 0 && $CAVUM draw cell.hdf -o many.svg --view section "
                       "--field-lines 40 --line-width 0.37"),
                   0);
  size_t usual = strlen(program_read_text(folder, "a.svg"));
  ck_assert_int_eq(count_of(program_read_text(folder, "a.svg"), "electric field line"), 1);
  ck_assert_int_ge(count_of(program_read_text(folder, "a.svg"), "stroke-width=\"0.65\""), 1);
  ck_assert_int_eq(count_of(program_read_text(folder, "none.svg"), "electric field line"), 0);
  ck_assert_int_eq(count_of(program_read_text(folder, "none.svg"), "stroke-width=\"0.65\""), 0);
  ck_assert_int_ge(count_of(program_read_text(folder, "many.svg"), "stroke-width=\"0.37\""), 1);
  ck_assert_uint_gt(strlen(program_read_text(folder, "many.svg")), usual);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, the_whole_cell_is_solved_on_request);
  tcase_add_test(tests, all_cores_give_the_same);
  tcase_add_test(tests, all_digits_are_those_of_the_uncertainty);
  tcase_add_test(tests, timings_go_to_standard_error);
  tcase_add_test(tests, wall_derivatives_are_those_of_differences);
  tcase_add_test(tests, field_lines_have_their_number_and_width);
}

CAVUM_TEST_MAIN("solve_options", add)
