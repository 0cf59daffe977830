// SPDX-License-Identifier: GPL-3.0-or-later
// cavum tune: the tuned file, exit statuses, what is left alone.
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", "# ours\n" TEST_CELL);
}

static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

static const char *read_text(const char *name) {
  const char *text = program_read_text(folder, name);
  fputs(text, stdout);
  return text;
}

START_TEST(a_tuned_file_is_written) {
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set frequency_MHz=1300 --by equator_radius_mm -o "
                       "tuned.yaml"),
                   0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "tuned after 3 solves"));
  ck_assert_ptr_nonnull(strstr(table, "equator_radius_mm"));
  ck_assert_ptr_nonnull(strstr(table, "1300 asked for"));
  ck_assert_ptr_nonnull(strstr(table, "geometry factor G"));
  ck_assert_int_eq(run("diff cell.yaml tuned.yaml"), 1);
  ck_assert_int_eq(program_count_lines(read_text("out")), 4);  // one line, and what diff says of it
  ck_assert_int_eq(run("$CAVUM solve --json - tuned.yaml"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "\"frequency_Hz\""));
}
END_TEST

START_TEST(figures_of_the_shape_are_set) {
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set wall_angle_deg=8,frequency_MHz=1300 "
                       "--by equator_radius_mm,iris_ellipse.axial_mm -o tuned.yaml"),
                   0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "wall angle"));
  ck_assert_ptr_nonnull(strstr(table, "8 asked for"));
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set wall_angle_deg=x --by half_length_mm"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "--set wall_angle_deg=x: expected"));
}
END_TEST

// Q0 of niobium is known no better than the fit of R_s, whatever its digits say: told wherever it
// is.
START_TEST(what_rests_on_the_fit_is_told) {
  static const char row[] = "unloaded quality factor Q0", basis[] = "  with R_s of the fit\n";
  program_write_text(folder, "niobium.yaml",
                     TEST_CELL "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 3.0}\n");
  program_write_text(folder, "goal.yaml",
                     "cell: niobium.yaml\nvary: {iris_ellipse.axial_mm: {from: 11, to: 13}}\n"
                     "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n");
  ck_assert_int_eq(run("$CAVUM tune niobium.yaml --set frequency_MHz=1300 --by equator_radius_mm"),
                   0);
  ck_assert_ptr_nonnull(strstr(strstr(read_text("out"), row), basis));
  ck_assert_int_eq(run("$CAVUM optimise goal.yaml --cell best.yaml"), 0);
  ck_assert_ptr_nonnull(strstr(strstr(read_text("out"), row), basis));
  ck_assert_int_eq(run("$CAVUM solve -q niobium.yaml -o r.hdf && $CAVUM report r.hdf -o r.html"),
                   0);
  ck_assert_ptr_nonnull(
      strstr(program_read_text(folder, "r.html"), "its uncertainty is in theirs"));
}
END_TEST

START_TEST(figures_and_bounds_come_in_lists) {
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set frequency_MHz=1300,geometry_factor_ohm=275 "
                       "--by equator_radius_mm=95:110,iris_radius_mm -q -o tuned.yaml"),
                   0);
  ck_assert_str_eq(read_text("out"), "");
}
END_TEST

// What came nearest is printed, nothing is written.
START_TEST(what_is_out_of_reach_exits_with_1) {
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set frequency_MHz=1400 --by "
                       "equator_radius_mm=100:104 -o tuned.yaml"),
                   1);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "NOT TUNED"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "equator_radius_mm = 100 (100 to 104)"));
  ck_assert_int_eq(run("test -e tuned.yaml"), 1);
}
END_TEST

static const struct {
  const char *set, *key, *row;
  double target;
} missed[] = {
    {"frequency_GHz=1.4", "frequency_MHz", "  frequency ", 1400},
    {"bpk_over_eacc_mT_per_MV_per_m=2", "bpk_over_eacc_mT_per_MV_per_m", "  B_pk / E_acc ", 2},
    {"wall_angle_deg=60", "wall_angle_deg", "  wall angle ", 60},
    {"straight_length_mm=70", "straight_length_mm", "  length of the straight wall ", 70},
};

static double read_number(const char **text) {
  char *end = NULL;
  double number = strtod(*text, &end);
  ck_assert_msg(end != *text, "no number: %.80s", *text);
  *text = end;
  return number;
}

// The second number of a row of the table: before, after, which may have uncertainties.
static double read_after(const char *row_name) {
  const char *row = strstr(read_text("out"), row_name);
  ck_assert_ptr_nonnull(row);
  row += strlen(row_name);
  (void)read_number(&row);
  row = strchr(row, ' ');
  return read_number(&row);
}

// The unit that stands in a name is that of its number, which is the one of the table.
START_TEST(a_miss_is_told_in_the_unit_that_is_named) {
  static const char between[] = " came nearest to ";
  char words[80];
  ck_assert_int_eq(
      run("$CAVUM tune cell.yaml --set %s --by equator_radius_mm=100:104", missed[_i].set), 1);
  snprintf(words, sizeof words, "not reached: %s = ", missed[_i].key);
  const char *told = strstr(read_text("err"), words);
  ck_assert_ptr_nonnull(told);
  told += strlen(words);
  double nearest = read_number(&told);
  ck_assert_msg(strncmp(told, between, strlen(between)) == 0, "%.80s", told);
  told += strlen(between);
  double target = read_number(&told);
  ck_assert_msg(strncmp(told, ", at ", 5) == 0, "%.80s", told);
  ck_assert_double_eq_tol(target, missed[_i].target, 1e-9 * target);
  double after = read_after(missed[_i].row);
  ck_assert_double_eq_tol(nearest, after, 1e-5 * after);
}
END_TEST

// Hz for MHz: the end of the range is told, and asked is what no cell like this comes near to.
START_TEST(a_target_of_another_unit_is_doubted) {
  ck_assert_int_eq(
      run("$CAVUM tune cell.yaml --set frequency_MHz=1300000000 --by equator_radius_mm=100:104"),
      1);
  printf("%s\n", read_text("err"));
  ck_assert_ptr_nonnull(strstr(read_text("err"), "equator_radius_mm is at the end of its range"));
  ck_assert_ptr_nonnull(
      strstr(read_text("err"), " (is frequency_MHz = 1.3e+09 meant, in that unit?), at equator"));
  // Blanks about the sign mean nothing.
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set 'frequency_MHz = 1300' --by ' "
                       "equator_radius_mm = 100 : 104'"),
                   0);
}
END_TEST

static const struct {
  const char *command, *words;
} refused[] = {
    {"$CAVUM tune cell.yaml", "--set"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300", "--by"},
    {"$CAVUM tune --set frequency_MHz=1300 --by beta", "a cell file"},
    {"$CAVUM tune cell.yaml --set frequency_MHz --by beta", "FIGURE=VALUE"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=x --by beta", "FIGURE=VALUE"},
    {"$CAVUM tune cell.yaml --set 'frequency_MHz=13 00' --by beta", "FIGURE=VALUE"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by 'beta=0.9:0.9 5'", "NAME=LOW:HIGH"},
    {"$CAVUM tune cell.yaml --set frequncy_MHz=1300 --by beta", "did you mean 'frequency_MHz'"},
    {"$CAVUM tune cell.yaml --set frequency_ohm=1300 --by beta", "is not a figure"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radus_mm",
     "did you mean 'iris_radius_mm'"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by beta=1", "NAME=LOW:HIGH"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by beta=1:0.5",
     "beta=1:0.5: expected LOW below HIGH"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=-6 --by equator_radius_mm",
     "frequency_Hz is never below 0"},
    {"$CAVUM tune cell.yaml --set aperture_radius_mm=-6 --by iris_radius_mm",
     "aperture_radius_mm is never below 0"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by equator_radius_mm=104:106",
     "equator_radius_mm from 104 to 106: it is 103.3 now, out of this range"},
    {"sed 's/right: {kind: magnetic}/right: {kind: tube, length_mm: 60, radius_mm: 45, close: "
     "electric}/' cell.yaml > step.yaml; $CAVUM tune step.yaml --set epk_over_eacc=2 --by "
     "equator_radius_mm",
     "mode 1: epk_over_eacc is unbounded, at a corner at z = 57.7 mm, r = 35 mm"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by beta=1:", "NAME=LOW:HIGH"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm --mode 2", "mode 2, "},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm -q", "--quiet"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm -o cell.yaml",
     "which this command reads"},
    {"cp cell.yaml other.yaml; $CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm "
     "-o other.yaml",
     "--overwrite replaces it"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm -o a.hdf",
     "the ending says HDF5"},
};

START_TEST(what_makes_no_sense_is_refused) {
  ck_assert_int_eq(run("%s", refused[_i].command), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), refused[_i].words));
  ck_assert_ptr_nonnull(strstr(read_text("cell.yaml"), "equator_radius_mm: 103.3\n"));
}
END_TEST

START_TEST(a_dimension_that_does_nothing_is_told) {
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set frequency_MHz=1290 --by beta"), 1);
  ck_assert_ptr_nonnull(
      strstr(read_text("err"), "frequency_Hz does not change with this dimension"));
  // An angle may be on either side.
  ck_assert_int_eq(
      run("$CAVUM tune cell.yaml --set wall_angle_deg=-1 --by equator_ellipse.axial_mm"), 0);
}
END_TEST

START_TEST(other_files_are_replaced_on_purpose) {
  program_write_text(folder, "other.yaml", "mine\n");
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm -o "
                       "other.yaml --overwrite"),
                   0);
  ck_assert_ptr_nonnull(strstr(read_text("other.yaml"), "# ours\n"));
}
END_TEST

// A round nose whose neighbour is moved has a corner where it was tangent.
START_TEST(a_corner_that_it_makes_is_said) {
  program_write_text(
      folder, "nose.yaml",
      "accelerating_length_mm: 31\nmodes: {count: 1}\ncontour:\n  kind: path\n"
      "  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 72, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 72, r_mm: 12.5}, boundary: electric}\n"
      "    - {line_to: {z_mm: 37, r_mm: 12.5}, boundary: metal}\n"
      "    - {arc_to: {z_mm: 31, r_mm: 18.5}, centre: {z_mm: 37, r_mm: 18.5}, turn: right, "
      "boundary: metal}\n"
      "    - {line_to: {z_mm: 31, r_mm: 42}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 42}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n");
  ck_assert_int_eq(run("$CAVUM tune nose.yaml --set frequency_MHz=2785 --by "
                       "'path[3].line_to.r_mm'"),
                   0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "E_pk / E_acc is unbounded now: "));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "arc path[4] "));
}
END_TEST

// What keeps it from being tuned is said, by the name of the file: an arc that its neighbour leaves
// behind, and a limit of the range.
START_TEST(what_is_not_tuned_has_a_reason) {
  program_write_text(
      folder, "arc.yaml",
      "modes: {count: 1}\ncontour:\n  kind: path\n"
      "  start: {z_mm: -60, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 60, r_mm: 80}, boundary: metal}\n"
      "    - {arc_to: {z_mm: 40, r_mm: 100}, centre: {z_mm: 40, r_mm: 80}, turn: left, "
      "boundary: metal}\n"
      "    - {line_to: {z_mm: -60, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -60, r_mm: 0}, boundary: metal}\n");
  ck_assert_int_eq(run("$CAVUM tune arc.yaml --set frequency_MHz=1180 --by "
                       "'path[2].line_to.r_mm' -o tuned.yaml"),
                   1);
  const char *said = strstr(read_text("err"), " solves; ");
  ck_assert_ptr_nonnull(said);
  printf("%s", said);
  // The arc behind the line takes another centre, so that its radius stays: it is named.
  ck_assert_ptr_nonnull(strstr(said, "path[2].line_to.r_mm belongs to the arc path[3]"));
  ck_assert_ptr_null(strstr(read_text("err"), "text:"));
  ck_assert_int_eq(run("$CAVUM tune cell.yaml --set frequency_MHz=1400 --by "
                       "equator_radius_mm=100:104"),
                   1);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "equator_radius_mm is at the end of its range"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, a_tuned_file_is_written);
  tcase_add_test(tests, figures_of_the_shape_are_set);
  tcase_add_test(tests, what_rests_on_the_fit_is_told);
  tcase_add_test(tests, figures_and_bounds_come_in_lists);
  tcase_add_test(tests, what_is_out_of_reach_exits_with_1);
  tcase_add_test(tests, a_target_of_another_unit_is_doubted);
  tcase_add_loop_test(tests, a_miss_is_told_in_the_unit_that_is_named, 0,
                      sizeof missed / sizeof *missed);
  tcase_add_loop_test(tests, what_makes_no_sense_is_refused, 0, sizeof refused / sizeof *refused);
  tcase_add_test(tests, a_corner_that_it_makes_is_said);
  tcase_add_test(tests, what_is_not_tuned_has_a_reason);
  tcase_add_test(tests, a_dimension_that_does_nothing_is_told);
  tcase_add_test(tests, other_files_are_replaced_on_purpose);
}

CAVUM_TEST_MAIN("tune", add)
