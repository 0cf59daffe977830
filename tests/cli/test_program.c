// SPDX-License-Identifier: GPL-3.0-or-later
// The real program: exit statuses, one line for bad input, nothing half-written.
#include <check.h>
#include <fcntl.h>
#include <stdbool.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
}

static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

static const char *read_text(const char *name) {
  const char *text = program_read_text(folder, name);
  fputs(text, stdout);
  return text;
}

static bool exists(const char *name) {
  char path[256];
  struct stat info;
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return stat(path, &info) == 0;
}

START_TEST(help_and_version) {
  ck_assert_int_eq(run("$CAVUM --help"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "solve"));
  ck_assert_int_eq(run("$CAVUM solve --help"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Usage: cavum solve"));
  ck_assert_int_eq(run("$CAVUM mesh --help"), 0);
  ck_assert_int_eq(run("$CAVUM draw --help"), 0);  // a command of the second program
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Usage: cavum draw"));
  ck_assert_int_eq(run("$CAVUM --version"), 0);
  ck_assert_int_eq(strncmp(read_text("out"), "cavum ", 6), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "\ncompiled for HDF5 "));
}
END_TEST

static const char *bad_usages[] = {
    "$CAVUM",
    "$CAVUM nonsense",
    "$CAVUM --nonsense",
    "$CAVUM solve",
    "$CAVUM solve --nonsense cell.yaml",
    "$CAVUM solve cell.yaml another.yaml",
    "$CAVUM solve --degree 2 cell.yaml",
    "$CAVUM solve --degree 8x cell.yaml",
    "$CAVUM solve --refine 0 cell.yaml",
    "$CAVUM solve --refine nan cell.yaml",
    "$CAVUM solve --work-limit 0 cell.yaml",
    "$CAVUM solve --work-limit long cell.yaml",
    "$CAVUM solve --work-limit 1e-6 cell.yaml",
    "$CAVUM solve --memory 0 cell.yaml",
    "$CAVUM solve --memory much cell.yaml",
    "$CAVUM solve --memory 1e-3 cell.yaml",
    "$CAVUM solve --field-order -1 cell.yaml",
    "$CAVUM solve -o - cell.yaml",
    "$CAVUM mesh cell.yaml",
    "$CAVUM mesh cell.yaml -o a.msh --order 11",
    "$CAVUM mesh cell.yaml -o a.msh --unit furlong",
    "$CAVUM mesh -o a.msh",
    "$CAVUM mesh cell.yaml -o -",
    "$CAVUM draw",
    "$CAVUM draw cell.hdf",
    "$CAVUM draw cell.hdf other.hdf -o a.png",
    "$CAVUM draw cell.hdf -o a.png --width 199",
    "$CAVUM draw cell.hdf -o a.png --mode 0",
    "$CAVUM compare cell.hdf -o a.png",
    "$CAVUM compare a.hdf b.hdf --mode 0",
    "$CAVUM report cell.hdf",
    "$CAVUM report cell.hdf other.hdf -o a.html",
    "$CAVUM scan study.yaml",
    "$CAVUM scan study.yaml -o - --workers 1",
};

START_TEST(bad_usage_exits_with_2) {
  ck_assert_int_eq(run("%s", bad_usages[_i]), 2);
  ck_assert_str_eq(read_text("out"), "");
  ck_assert_int_eq(strncmp(read_text("err"), "cavum", 5), 0);
  ck_assert_int_eq(temporary_folder_count(folder), 3);  // cell.yaml, out, err
}
END_TEST

// Each must give exit status 2, exactly one line that starts with the file, and no file.
static const char *bad_cells[] = {
    "",
    "contour: [",
    "- a list\n",
    "title: no contour\n",
    TEST_CELL "colour: blue\n",
    "contour: {kind: two-ellipse, half_length: 57.7}\n",
    "contour: {kind: mesh, file: nowhere.msh, unit: mm, axis: z}\n",
};

START_TEST(bad_cells_give_one_line) {
  program_write_text(folder, "cell.yaml", bad_cells[_i]);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o r.hdf --json j.json"), 2);
  ck_assert_str_eq(read_text("out"), "");
  const char *message = read_text("err");
  ck_assert_int_eq(program_count_lines(message), 1);
  ck_assert_int_eq(strncmp(message, "cavum: ", 7), 0);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
  ck_assert_int_eq(run("$CAVUM mesh cell.yaml -o m.msh"), 2);
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
}
END_TEST

// A degree too low for the default accuracy is no success, whoever chose it; the result is there.
START_TEST(low_degree_is_labelled_and_exits_with_1) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --degree 3 -o r.hdf --json j.json"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "NOT REACHED"));
  const char *message = read_text("err");
  ck_assert_int_eq(program_count_lines(message), 1);
  ck_assert_ptr_nonnull(strstr(message, "not reached with degree 3"));
  ck_assert(exists("r.hdf"));
  ck_assert(exists("j.json"));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --degree 12"), 0);
  ck_assert_ptr_null(strstr(read_text("out"), "NOT REACHED"));
}
END_TEST

// A program that was copied alone says what it misses; both in one folder work.
START_TEST(second_program_is_found_or_named) {
  ck_assert_int_eq(run("mkdir bin && cp $CAVUM bin && bin/cavum solve cell.yaml -q -o r.hdf"), 0);
  ck_assert_int_eq(run("bin/cavum draw r.hdf -o r.png"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "cavum-more: cannot be run: No such file"));
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert_int_eq(run("cp ${CAVUM}-more bin && PATH=$PWD/bin:$PATH cavum draw r.hdf -o r.png"), 0);
  ck_assert(exists("r.png"));
  ck_assert_int_eq(run("bin/cavum-more draw r.hdf -o s.png"), 2);
  ck_assert(!exists("s.png"));
}
END_TEST

START_TEST(missing_file_and_folder) {
  ck_assert_int_eq(run("$CAVUM solve nowhere.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "nowhere.yaml"));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o nowhere/r.hdf"), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "nowhere/r.hdf"));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json nowhere/r.json"), 2);
  ck_assert_int_eq(run("$CAVUM mesh cell.yaml -o nowhere/r.msh"), 2);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
}
END_TEST

START_TEST(solve_writes_table_json_and_result) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o r.hdf --json j.json"), 0);
  const char *table = read_text("out");
  ck_assert_ptr_nonnull(strstr(table, "Test cell"));
  ck_assert_ptr_nonnull(strstr(table, "MHz"));
  ck_assert_ptr_nonnull(strstr(table, "R/Q, linac"));
  ck_assert_str_eq(read_text("err"), "");
  ck_assert(exists("r.hdf"));
  ck_assert(exists("j.json"));
  ck_assert_int_eq(temporary_folder_count(folder), 5);
}
END_TEST

START_TEST(json_on_screen_is_nothing_but_json) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json -"), 0);
  const char *text = read_text("out");
  ck_assert_int_eq(text[0], '{');
  ck_assert_ptr_nonnull(strstr(text, "\"frequency_Hz\""));
  ck_assert_ptr_null(strstr(text, "Definitions"));
  ck_assert_int_eq(run("$CAVUM solve --quiet cell.yaml"), 0);
  ck_assert_str_eq(read_text("out"), "");
}
END_TEST

START_TEST(same_input_gives_the_same_output) {
  ck_assert_int_eq(run("$CAVUM solve -q cell.yaml -o a.hdf --json a.json && sleep 1 && "
                       "$CAVUM solve -q cell.yaml -o b.hdf --json b.json && "
                       "cmp a.hdf b.hdf && cmp a.json b.json"),
                   0);
}
END_TEST

START_TEST(mesh_writes_a_file) {
  ck_assert_int_eq(run("$CAVUM mesh cell.yaml -o c.msh --order 3 --unit cm"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "elements"));
  ck_assert_int_eq(run("head -c 11 c.msh"), 0);
  ck_assert_str_eq(read_text("out"), "$MeshFormat");
}
END_TEST

START_TEST(a_mesh_that_was_written_can_be_solved) {
  ck_assert_int_eq(run("$CAVUM mesh -q cell.yaml -o c.msh --binary"), 0);
  program_write_text(folder, "cell.yaml",
                     "title: From a mesh file\n"
                     "contour: {kind: mesh, file: c.msh, unit: mm, axis: x}\n"
                     "accuracy: {other_figures: 1.0e-3}\n");  // its nodes say no more of the wall
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json j.json"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "From a mesh file"));
  // It has no dimensions.
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --derivatives"), 2);
}
END_TEST

START_TEST(derivatives_are_printed_when_asked_for) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --derivatives"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Change of mode 1 per unit of a dimension"));
  ck_assert_ptr_nonnull(strstr(read_text("out"), "\n  equator_ellipse.axial_mm "));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml"), 0);
  ck_assert_ptr_null(strstr(read_text("out"), "Change of mode"));
}
END_TEST

// A key of earlier versions is read, and a line says what it is called now.
START_TEST(former_keys_are_noted) {
  static const char *const commands[] = {"$CAVUM solve -q cell.yaml --json j.json",
                                         "$CAVUM mesh -q cell.yaml -o c.msh",
                                         "$CAVUM scan -q study.yaml -o s.hdf"};
  program_write_text(folder, "cell.yaml", TEST_CELL "accuracy: {peak_field: 1.0e-3}\n");
  program_write_text(folder, "study.yaml",
                     "cell: cell.yaml\nvary: {iris_radius_mm: {from: 35, to: 36, points: 2}}\n");
  for (size_t i = 0; i < sizeof commands / sizeof *commands; i++) {
    ck_assert_int_eq(run("%s", commands[i]), 0);
    const char *err = read_text("err");
    ck_assert_int_eq(program_count_lines(err), 1);
    ck_assert_ptr_nonnull(strstr(err, "cavum: note: "));
    ck_assert_ptr_nonnull(strstr(err, "accuracy.peak_field is called accuracy.other_figures now"));
  }
}
END_TEST

START_TEST(full_disk_leaves_nothing_half_written) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml >/dev/full"), 2);
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json - >/dev/full"), 2);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o /dev/full"), 2);
  // A limit of 4 blocks on the size of files stands in for a disk that fills up.
  ck_assert_int_eq(run(SMALL_FILES "ulimit -f 4; $CAVUM solve -q cell.yaml -o r.hdf"), 2);
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert_int_eq(run(SMALL_FILES "ulimit -f 1; $CAVUM mesh -q cell.yaml -o r.msh --order 9"), 2);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
}
END_TEST

// Address space from far too little to plenty: done, or one line, never a hang or a crash. The
// address sanitizer reserves terabytes, so there it cannot be tried.
START_TEST(little_memory_is_a_clean_error) {
#ifdef CAVUM_SANITIZED
  printf("skipped: address sanitizer\n");
#else
  int kilobytes = 100000 + 20000 * _i;
  int status =
      run("ulimit -v %d; OPENBLAS_NUM_THREADS=1 $CAVUM solve -q cell.yaml -o r.hdf", kilobytes);
  ck_assert_int_eq(program_count_lines(read_text("err")), status == 0 ? 0 : 1);
  ck_assert_int_eq(exists("r.hdf"), status == 0);
  ck_assert(status == 0 || status == 1);
  if (_i == 0) ck_assert_int_eq(status, 1);
  if (_i == 19) ck_assert_int_eq(status, 0);
#endif
}
END_TEST

// Peak fields to 1e-12 are beyond what double precision leaves of a derivative of the solution.
START_TEST(out_of_reach_accuracy_is_labelled) {
  program_write_text(folder, "cell.yaml",
                     TEST_CELL "accuracy: {frequency: 1.0e-12, other_figures: 1.0e-12}\n");
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json j.json"), 1);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "NOT REACHED"));
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert(exists("j.json"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, help_and_version);
  tcase_add_loop_test(tests, bad_usage_exits_with_2, 0, sizeof bad_usages / sizeof bad_usages[0]);
  tcase_add_loop_test(tests, bad_cells_give_one_line, 0, sizeof bad_cells / sizeof bad_cells[0]);
  tcase_add_test(tests, low_degree_is_labelled_and_exits_with_1);
  tcase_add_test(tests, second_program_is_found_or_named);
  tcase_add_test(tests, derivatives_are_printed_when_asked_for);
  tcase_add_test(tests, former_keys_are_noted);
  tcase_add_test(tests, missing_file_and_folder);
  tcase_add_test(tests, solve_writes_table_json_and_result);
  tcase_add_test(tests, json_on_screen_is_nothing_but_json);
  tcase_add_test(tests, same_input_gives_the_same_output);
  tcase_add_test(tests, mesh_writes_a_file);
  tcase_add_test(tests, a_mesh_that_was_written_can_be_solved);
  tcase_add_test(tests, full_disk_leaves_nothing_half_written);
  tcase_add_loop_test(tests, little_memory_is_a_clean_error, 0, 20);
  tcase_add_test(tests, out_of_reach_accuracy_is_labelled);
}

CAVUM_TEST_MAIN("program", add_tests)
