// SPDX-License-Identifier: GPL-3.0-or-later
// The real program: exit statuses, one line for bad input, nothing half-written.
#include <check.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdbool.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support.h"
#include "temporary_folder.h"

// A cell that is its own mirror image, small and cheap: an invented half-wave cavity.
#define GOOD_CELL                                          \
  "title: Test cell\n"                                     \
  "contour:\n"                                             \
  "  kind: two-ellipse\n"                                  \
  "  half_length_mm: 57.7\n"                               \
  "  iris_radius_mm: 35.0\n"                               \
  "  equator_radius_mm: 103.3\n"                           \
  "  equator_ellipse: {axial_mm: 42.0, radial_mm: 42.0}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"    \
  "ends:\n"                                                \
  "  left: {kind: magnetic}\n"                             \
  "  right: {kind: magnetic}\n"

static char folder[128], output_path[192], error_path[192], cell_path[192];

static void write_file(const char *path, const char *text) {
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs(text, file);
  fclose(file);
}

static void set_up(void) {
  temporary_folder_make(folder);
  snprintf(output_path, sizeof output_path, "%s/out", folder);
  snprintf(error_path, sizeof error_path, "%s/err", folder);
  snprintf(cell_path, sizeof cell_path, "%s/cell.yaml", folder);
  write_file(cell_path, GOOD_CELL);
}

static void tear_down(void) { temporary_folder_delete(folder); }

// Runs a shell command in the test's folder, with $CAVUM the program; returns its exit status.
static int run(const char *format, ...) {
  char command[1024], line[2048];
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(command, sizeof command, format, arguments);
  va_end(arguments);
  snprintf(line, sizeof line, "cd '%s' && CAVUM='%s' && { %s; } >out 2>err", folder, CAVUM_PROGRAM,
           command);
  int status = system(line);
  ck_assert_msg(WIFEXITED(status), "'%s' was killed", command);
  printf("%s: exit %d\n", command, WEXITSTATUS(status));
  return WEXITSTATUS(status);
}

static char *read_text(const char *path) {
  static char text[1 << 16];
  FILE *file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  size_t size = fread(text, 1, sizeof text - 1, file);
  fclose(file);
  text[size] = '\0';
  fputs(text, stdout);
  return text;
}

static int count_lines(const char *text) {
  int lines = 0;
  for (; *text; text++) lines += *text == '\n';
  return lines;
}

static bool exists(const char *name) {
  char path[256];
  struct stat info;
  snprintf(path, sizeof path, "%s/%s", folder, name);
  return stat(path, &info) == 0;
}

START_TEST(help_and_version) {
  ck_assert_int_eq(run("$CAVUM --help"), 0);
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "solve"));
  ck_assert_int_eq(run("$CAVUM solve --help"), 0);
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "Usage: cavum solve"));
  ck_assert_int_eq(run("$CAVUM mesh --help"), 0);
  ck_assert_int_eq(run("$CAVUM draw --help"), 0);  // a command of the second program
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "Usage: cavum draw"));
  ck_assert_int_eq(run("$CAVUM --version"), 0);
  ck_assert_int_eq(strncmp(read_text(output_path), "cavum ", 6), 0);
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
    "$CAVUM solve --field-order -1 cell.yaml",
    "$CAVUM solve -o - cell.yaml",
    "$CAVUM mesh cell.yaml",
    "$CAVUM mesh cell.yaml -o a.msh --order 11",
    "$CAVUM mesh cell.yaml -o a.msh --unit furlong",
    "$CAVUM mesh -o a.msh",
};

START_TEST(bad_usage_exits_with_2) {
  ck_assert_int_eq(run("%s", bad_usages[_i]), 2);
  ck_assert_str_eq(read_text(output_path), "");
  ck_assert_int_eq(strncmp(read_text(error_path), "cavum", 5), 0);
  ck_assert_int_eq(temporary_folder_count(folder), 3);  // cell.yaml, out, err
}
END_TEST

// Each must give exit status 2, exactly one line that starts with the file, and no file.
static const char *bad_cells[] = {
    "",
    "contour: [",
    "- a list\n",
    "title: no contour\n",
    GOOD_CELL "colour: blue\n",
    "contour: {kind: two-ellipse, half_length: 57.7}\n",
    "contour: {kind: mesh, file: nowhere.msh, unit: mm, axis: z}\n",
};

START_TEST(bad_cells_give_one_line) {
  write_file(cell_path, bad_cells[_i]);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o r.hdf --json j.json"), 2);
  ck_assert_str_eq(read_text(output_path), "");
  char *message = read_text(error_path);
  ck_assert_int_eq(count_lines(message), 1);
  ck_assert_int_eq(strncmp(message, "cavum: ", 7), 0);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
  ck_assert_int_eq(run("$CAVUM mesh cell.yaml -o m.msh"), 2);
  ck_assert_int_eq(count_lines(read_text(error_path)), 1);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
}
END_TEST

// A degree too low for the default accuracy is no success, whoever chose it; the result is there.
START_TEST(low_degree_is_labelled_and_exits_with_1) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --degree 3 -o r.hdf --json j.json"), 1);
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "NOT REACHED"));
  char *message = read_text(error_path);
  ck_assert_int_eq(count_lines(message), 1);
  ck_assert_ptr_nonnull(strstr(message, "not reached with degree 3"));
  ck_assert(exists("r.hdf"));
  ck_assert(exists("j.json"));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --degree 12"), 0);
  ck_assert_ptr_null(strstr(read_text(output_path), "NOT REACHED"));
}
END_TEST

// A program that was copied alone says what it misses; both in one folder work.
START_TEST(second_program_is_found_or_named) {
  ck_assert_int_eq(run("mkdir bin && cp $CAVUM bin && bin/cavum solve cell.yaml -q -o r.hdf"), 0);
  ck_assert_int_eq(run("bin/cavum draw r.hdf -o r.png"), 2);
  ck_assert_ptr_nonnull(strstr(read_text(error_path), "cavum-more: cannot be run: No such file"));
  ck_assert_int_eq(count_lines(read_text(error_path)), 1);
  ck_assert_int_eq(run("cp ${CAVUM}-more bin && PATH=$PWD/bin:$PATH cavum draw r.hdf -o r.png"), 0);
  ck_assert(exists("r.png"));
  ck_assert_int_eq(run("bin/cavum-more draw r.hdf -o s.png"), 2);
  ck_assert(!exists("s.png"));
}
END_TEST

START_TEST(missing_file_and_folder) {
  ck_assert_int_eq(run("$CAVUM solve nowhere.yaml"), 2);
  ck_assert_ptr_nonnull(strstr(read_text(error_path), "nowhere.yaml"));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o nowhere/r.hdf"), 2);
  ck_assert_ptr_nonnull(strstr(read_text(error_path), "nowhere/r.hdf"));
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json nowhere/r.json"), 2);
  ck_assert_int_eq(run("$CAVUM mesh cell.yaml -o nowhere/r.msh"), 2);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
}
END_TEST

START_TEST(solve_writes_table_json_and_result) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o r.hdf --json j.json"), 0);
  char *table = read_text(output_path);
  ck_assert_ptr_nonnull(strstr(table, "Test cell"));
  ck_assert_ptr_nonnull(strstr(table, "MHz"));
  ck_assert_ptr_nonnull(strstr(table, "R/Q, linac convention"));
  ck_assert_str_eq(read_text(error_path), "");
  ck_assert(exists("r.hdf"));
  ck_assert(exists("j.json"));
  ck_assert_int_eq(temporary_folder_count(folder), 5);
}
END_TEST

START_TEST(json_on_screen_is_nothing_but_json) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json -"), 0);
  char *text = read_text(output_path);
  ck_assert_int_eq(text[0], '{');
  ck_assert_ptr_nonnull(strstr(text, "\"frequency_Hz\""));
  ck_assert_ptr_null(strstr(text, "Definitions"));
  ck_assert_int_eq(run("$CAVUM solve --quiet cell.yaml"), 0);
  ck_assert_str_eq(read_text(output_path), "");
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
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "elements"));
  ck_assert_int_eq(run("head -c 11 c.msh"), 0);
  ck_assert_str_eq(read_text(output_path), "$MeshFormat");
}
END_TEST

START_TEST(a_mesh_that_was_written_can_be_solved) {
  ck_assert_int_eq(run("$CAVUM mesh -q cell.yaml -o c.msh --binary"), 0);
  write_file(cell_path,
             "title: From a mesh file\n"
             "contour: {kind: mesh, file: c.msh, unit: mm, axis: x}\n");
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json j.json"), 0);
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "From a mesh file"));
}
END_TEST

START_TEST(full_disk_leaves_nothing_half_written) {
  ck_assert_int_eq(run("$CAVUM solve cell.yaml >/dev/full"), 2);
  ck_assert_int_eq(count_lines(read_text(error_path)), 1);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json - >/dev/full"), 2);
  ck_assert_int_eq(run("$CAVUM solve cell.yaml -o /dev/full"), 2);
  // A limit of 4 blocks on the size of files stands in for a disk that fills up.
  ck_assert_int_eq(run("ulimit -f 4; $CAVUM solve -q cell.yaml -o r.hdf"), 2);
  ck_assert_int_eq(count_lines(read_text(error_path)), 1);
  ck_assert_int_eq(run("ulimit -f 1; $CAVUM mesh -q cell.yaml -o r.msh --order 9"), 2);
  ck_assert_int_eq(temporary_folder_count(folder), 3);
}
END_TEST

// Address space from far too little to plenty: done, or one line, never a hang or a crash. The
// address sanitizer reserves terabytes, so there it cannot be tried.
START_TEST(little_memory_is_a_clean_error) {
#ifdef __SANITIZE_ADDRESS__
  printf("skipped: address sanitizer\n");
#else
  int kilobytes = 100000 + 20000 * _i;
  int status =
      run("ulimit -v %d; OPENBLAS_NUM_THREADS=1 timeout 60 $CAVUM solve -q cell.yaml -o r.hdf",
          kilobytes);
  ck_assert_int_eq(count_lines(read_text(error_path)), status == 0 ? 0 : 1);
  ck_assert_int_eq(exists("r.hdf"), status == 0);
  ck_assert(status == 0 || status == 1);
  if (_i == 0) ck_assert_int_eq(status, 1);
  if (_i == 19) ck_assert_int_eq(status, 0);
#endif
}
END_TEST

// Peak fields to 1e-12 are beyond what double precision leaves of a derivative of the solution.
START_TEST(out_of_reach_accuracy_is_labelled) {
  write_file(cell_path, GOOD_CELL "accuracy: {frequency: 1.0e-12, peak_field: 1.0e-12}\n");
  ck_assert_int_eq(run("$CAVUM solve cell.yaml --json j.json"), 1);
  ck_assert_ptr_nonnull(strstr(read_text(output_path), "NOT REACHED"));
  ck_assert_int_eq(count_lines(read_text(error_path)), 1);
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
