// SPDX-License-Identifier: GPL-3.0-or-later
// What a stranger is told: wrong command lines and files get one line with what is wrong and what
// was expected, nothing on standard output, and exit status 2; numbers in written files have no
// more digits than they need.
#include <check.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", TEST_CELL);
  program_write_text(folder, "modes.yaml",
                     "cell: cell.yaml\nmode: 2\nvary: {iris_radius_mm: [35, 36]}\n");
  program_write_text(folder, "of-result.yaml",
                     "cell: r.hdf\nsteps: [{name: bulk, remove: {depth_um: 120}}]\n");
  program_write_text(folder, "latin.yaml", "title: Zel\xfcle\n" TEST_CELL);
  program_write_text(folder, "of-mesh.yaml",
                     "contour: {kind: mesh, file: sub, unit: mm, axis: x}\n");
  ck_assert_int_eq(run("(printf 'title: ' && printf '\xc3\xa9%%.0s' $(seq 101) && echo) >long.yaml "
                       "&& sed '/^title/d' cell.yaml >>long.yaml && "
                       "mkdir sub && $CAVUM solve cell.yaml -q -o r.hdf && "
                       "iconv -f utf-8 -t utf-16 cell.yaml >u16.yaml"),
                   0);
}

static void tear_down(void) { temporary_folder_delete(folder); }

// Arguments, and what the one line says.
static const char *const wrong[][2] = {
    {"solve ''", "expected a cell file"},
    {"cell.yaml", "cavum: cell.yaml: is a cell file; cavum solve, tune, tolerances,"},
    {"r.hdf -o x.png", "cavum: r.hdf: is a result of cavum solve; cavum draw, report and compare"},
    {"x.yaml", "cavum: x.yaml: no such command"},
    {"solve of-mesh.yaml", "cavum: sub: is a folder, expected a file"},
    {"tolerances cell.yaml --from ''", "expected the name of a file, found none"},
    {"compare r.hdf ''", "expected the name of a file, found none"},
    {"scan --summary ''", "expected the name of a file, found none"},
    {"scan modes.yaml -o s.hdf", "modes.yaml:2:7: mode: the cell file asks for 1 mode only"},
    {"tune cell.yaml --set k_cc=0.02 --by iris_radius_mm",
     "--set k_cc: is of the cell and not of a mode"},
    {"coldtest x --show nothing",
     "--show nothing: expected all, readings, intervals, couplings, bounds, budgets, notes, runs, "
     "traces"},
    {"tune cell.yaml --set frequency=1300 --by equator_radius_mm",
     "'frequency' is not a figure: the unit is missing, write 'frequency_MHz'"},
    {"compare r.hdf cell.yaml", "r.hdf and cell.yaml are not of one kind: expected two or more"},
    {"steps of-result.yaml",
     "of-result.yaml:1:7: cell: r.hdf:1:1: the file is not text: it holds a zero byte"},
    {"solve u16.yaml", "u16.yaml:1:1: the text is UTF-16: save the file as UTF-8"},
    {"solve latin.yaml", "latin.yaml:1:11: a letter that is not UTF-8: save the file as UTF-8"},
    {"solve long.yaml", "long.yaml:1:8: title: has 202 bytes, expected 200 at most"},
    {"solve cell.yaml --coupling=outer", "the one word that is known is inner-cell"},
    {"draw r.hdf -o x.png --view quality", "expected sheet, section, axis, wall, mesh"},
    {"draw r.hdf -o x.png --mode 1001", "expected a whole number from 1 to 1000"},
    {"compare r.hdf r.hdf --mode-b 1001", "expected a whole number from 1 to 1000"},
    {"as-built cell.yaml --mode 1001", "expected a whole number from 1 to 1000"},
    {"tune cell.yaml --set frequency_MHz=1300 --by equator_radius_mm --mode 1001",
     "expected a whole number from 1 to 1000"},
};

START_TEST(one_line_says_what_is_wrong) {
  const char *const *line = wrong[_i];
  ck_assert_int_eq(run("$CAVUM %s >said 2>err", line[0]), 2);
  ck_assert_str_eq(program_read_text(folder, "said"), "");
  const char *text = program_read_text(folder, "err");
  printf("%s", text);
  ck_assert_ptr_nonnull(strstr(text, line[1]));
  // The hint where to read on is the only other line.
  const char *end = strchr(text, '\n');
  ck_assert_ptr_nonnull(end);
  ck_assert_msg(!end[1] || strncmp(end + 1, "Try `", 5) == 0, "%s", text);
}
END_TEST

// 120 um are 0.12 mm, and not 0.12000000000000001 mm.
START_TEST(written_numbers_have_few_digits) {
  program_write_text(folder, "steps.yaml",
                     "cell: cell.yaml\nsteps:\n  - {name: bulk, remove: {depth_um: 120}}\n"
                     "  - {name: more, remove: {depth_um: 35.1}}\n");
  ck_assert_int_eq(run("$CAVUM steps steps.yaml --cell shape.yaml -q"), 0);
  const char *text = program_read_text(folder, "shape.yaml");
  printf("%s", text);
  ck_assert_ptr_nonnull(strstr(text, "moved: [{offset_mm: 0.12}, {offset_mm: 0.0351}]"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_set_timeout(tests, 60);
  tcase_add_loop_test(tests, one_line_says_what_is_wrong, 0, sizeof wrong / sizeof *wrong);
  tcase_add_test(tests, written_numbers_have_few_digits);
}
CAVUM_TEST_MAIN("cli/messages", add_tests)
