// SPDX-License-Identifier: GPL-3.0-or-later
// Aims in a study file: summary, picture and report take them from the result without being told.
#include "cavum/cavum.h"
#include "program.h"
#include "study_files.h"
#include "support.h"

#define VARY \
  "cell: cell.yaml\nvary: {iris_radius_mm: {from: 33, to: 36, points: 4}}\nmodes: {count: 2}\n"
// Both against the rule: higher peaks, and a dimension that is no figure at all.
#define AIMS \
  "aims: [epk_over_eacc:larger, iris_radius_mm:smaller, \"modes[1].geometry_factor_ohm\"]\n"

static study_files files;

static void set_up(void) { study_files_make(&files, STUDY_CELL "modes: {count: 2}\n", VARY AIMS); }

static void tear_down(void) { temporary_folder_delete(files.folder); }

#define run(...) program_run(files.folder, __VA_ARGS__)

static void check_summary(const char *file) {
  ck_assert_int_eq(run("$CAVUM scan --summary %s --json - | tr -d ' \\n' >s.json", file), 0);
  ck_assert_int_eq(
      run("grep -q "
          "'\"better\":{\"epk_over_eacc\":\"larger\",\"contour.iris_radius_mm\":\"smaller\","
          "\"modes\\[1\\].geometry_factor_ohm\":\"larger\"}' s.json"),
      0);
}

START_TEST(everything_that_reads_results_takes_them) {
  ck_assert_int_eq(run("$CAVUM scan -q study.yaml -o out.hdf --workers 1"), 0);
  check_summary("out.hdf");
  // What is asked for goes before.
  ck_assert_int_eq(
      run("$CAVUM scan --summary out.hdf --aims epk_over_eacc --json - | tr -d ' \\n' | "
          "grep -q '\"better\":{\"epk_over_eacc\":\"smaller\"}'"),
      0);
  ck_assert_int_eq(run("$CAVUM draw out.hdf -o out.svg"), 0);
  ck_assert_int_eq(run("grep -q 'larger is better in x, smaller in y' out.svg"), 0);
  ck_assert_int_eq(run("grep -q 'iris radius in mm' out.svg"), 0);
  ck_assert_int_eq(run("grep -q 'of mode 2' out.svg"), 0);
  ck_assert_int_eq(run("$CAVUM report out.hdf -o out.html"), 0);
  ck_assert_int_eq(run("grep -q 'of mode 2' out.html"), 0);
  // Figures of other modes are no inputs.
  ck_assert_int_ne(run("grep -q 'modes\\[1\\]\\.q' out.html"), 0);
}
END_TEST

// Aims decide no row: they come into a finished result without a solve, and go out of it again.
START_TEST(aims_may_change_afterwards) {
  study_files_write(files.study, VARY);
  ck_assert_int_eq(run("$CAVUM scan -q study.yaml -o out.hdf --workers 1 && cp out.hdf none.hdf"),
                   0);
  study_files_write(files.study, VARY AIMS);
  ck_assert_int_eq(run("$CAVUM scan study.yaml -o out.hdf --workers 1"), 0);
  check_summary("out.hdf");
  study_files_write(files.study, VARY);
  ck_assert_int_eq(run("$CAVUM scan -q study.yaml -o out.hdf --workers 1"), 0);
  ck_assert_int_eq(run("cmp out.hdf none.hdf"), 0);
}
END_TEST

START_TEST(merged_results_keep_what_they_share) {
  ck_assert_int_eq(run("$CAVUM scan -q study.yaml -o out.hdf --workers 1"), 0);
  ck_assert_int_eq(run("sed 's/to: 36/to: 37/' study.yaml >other.yaml && "
                       "$CAVUM scan -q other.yaml -o other.hdf --workers 1"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --merge other.hdf out.hdf -o both.hdf"), 0);
  check_summary("both.hdf");
  ck_assert_int_eq(run("sed -i 's/smaller, /larger, /' other.yaml && "
                       "$CAVUM scan -q other.yaml -o other.hdf --workers 1"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --merge other.hdf out.hdf -o both.hdf --overwrite"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary both.hdf --json - | tr -d ' \\n' | "
                       "grep -q '\"better\":{\"epk_over_eacc\":\"smaller\"'"),
                   0);
}
END_TEST

static const struct {
  const char *text, *words;
} refused[] = {
    {"aims: [epk]\n", "epk: neither a figure nor a number of the cell file"},
    {"aims: [epk_over_eacc:lower]\n", "expected epk_over_eacc:smaller or epk_over_eacc:larger"},
    {"aims: [epk_over_eacc, epk_over_eacc:larger]\n", "named twice"},
    {"aims: [frequency_Hz, \"modes[0].frequency_Hz\"]\n", "named twice"},
    {"aims: [equator_radius_mm]\n", "the same in all rows"},
    {"aims: [k_cc]\n", "does not keep it"},
    {"aims: [\":larger\"]\n", "expected FIGURE"},
    {"aims: epk_over_eacc\n", "aims"},
};

START_TEST(what_is_no_aim_is_refused_with_its_place) {
  char text[512];
  cavum_study *study = NULL;
  cavum_error error = {0};
  snprintf(text, sizeof text, "%s%s", VARY, refused[_i].text);
  study_files_write(files.study, text);
  ck_assert_int_eq(cavum_study_open(&study, files.study, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].words));
  ck_assert_ptr_nonnull(strstr(error.message, "study.yaml:4:"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, everything_that_reads_results_takes_them);
  tcase_add_test(tests, aims_may_change_afterwards);
  tcase_add_test(tests, merged_results_keep_what_they_share);
  tcase_add_loop_test(tests, what_is_no_aim_is_refused_with_its_place, 0,
                      sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("aims of a study", add)
