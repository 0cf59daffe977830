// SPDX-License-Identifier: GPL-3.0-or-later
// --json of commands that compute no cell: a file by its name or '-', as of all others. What a file
// holds is what standard output gets, and the table is printed beside it.
#include <check.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "study_files.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)

static void set_up(void) {
  temporary_folder_make(folder);
  program_write_text(folder, "cell.yaml", STUDY_CELL);
  program_write_text(folder, "study.yaml",
                     "cell: cell.yaml\n"
                     "vary: {iris_radius_mm: {from: 33.0, to: 36.0, points: 3}}\n");
}

static void tear_down(void) { temporary_folder_delete(folder); }

// A member of a file; the file must be JSON that says which cavum wrote it.
static json_int_t member_of(const char *name, const char *key) {
  json_t *root = json_loads(read_text(name), 0, NULL);
  ck_assert_msg(root != NULL, "%s is no JSON: %s", name, read_text(name));
  ck_assert_ptr_nonnull(json_string_value(json_object_get(root, "cavum")));
  json_int_t value = json_integer_value(json_object_get(root, key));
  json_decref(root);
  return value;
}

START_TEST(definitions_of_figures) {
  ck_assert_int_eq(run("$CAVUM figures --json f.json"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "geometry factor"));
  ck_assert_int_eq(run("$CAVUM figures --json - >screen && cmp screen f.json"), 0);
  json_t *root = json_loads(read_text("f.json"), 0, NULL);
  const json_t *one = json_object_get(json_object_get(root, "figures"), "geometry_factor_ohm");
  ck_assert_str_eq(json_string_value(json_object_get(one, "unit")), "ohm");
  json_decref(root);
  ck_assert_int_eq(run("$CAVUM figures -q --json=f.json"), 0);
  ck_assert_str_eq(read_text("out"), "");
  ck_assert_int_eq(run("$CAVUM figures -q"), 2);
  ck_assert_int_eq(run("echo mine >f.json; $CAVUM figures -q --json f.json"), 2);
  ck_assert_int_eq(run("$CAVUM figures -q --json f.json --overwrite && cmp screen f.json"), 0);
}
END_TEST

START_TEST(progress_estimate_and_summary) {
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o s.hdf --json p.json"), 0);
  ck_assert_int_eq(program_count_lines(read_text("p.json")), 1);
  ck_assert_int_eq(member_of("p.json", "shapes_done"), 3);
  ck_assert_str_eq(read_text("err"), "");
  ck_assert_int_eq(run("$CAVUM scan --estimate study.yaml --json e.json"), 0);
  ck_assert_str_eq(read_text("out"), "");
  ck_assert_int_eq(member_of("e.json", "shapes"), 3);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf --json sum.json --csv s.csv"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("out"), "Cell file of a shape"));
  ck_assert_int_eq(member_of("sum.json", "shapes"), 3);
  ck_assert_int_eq(
      run("$CAVUM scan --summary s.hdf --json - >screen && cmp screen sum.json && [ -s s.csv ]"),
      0);
  // The newest takes the place of what this command wrote before, and of nothing else.
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf -q --json e.json"), 0);
  ck_assert_int_eq(run("rm s.hdf && $CAVUM scan study.yaml -q -o s.hdf --json sum.json"), 0);
}
END_TEST

START_TEST(nothing_else_is_replaced) {
  static const char *const commands[] = {
      "$CAVUM figures --json", "$CAVUM scan --estimate study.yaml --json",
      "$CAVUM scan study.yaml -o s.hdf --json", "$CAVUM scan --summary done.hdf --json"};
  ck_assert_int_eq(run("$CAVUM scan study.yaml -q -o done.hdf && echo '{}' >mine.json"), 0);
  ck_assert_int_eq(run("%s mine.json", commands[_i]), 2);
  ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "--json mine.json: exists and is not JSON of"));
  ck_assert_str_eq(read_text("mine.json"), "{}\n");
  ck_assert_int_eq(run("[ -e s.hdf ]"), 1);
  ck_assert_int_eq(run("%s x.yaml", commands[_i]), 2);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "the ending says YAML"));
  ck_assert_int_eq(run("%s", commands[_i]), 2);
  ck_assert_int_eq(run("%s mine.json --overwrite", commands[_i]), 0);
  ck_assert_ptr_nonnull(strstr(read_text("mine.json"), "\"cavum\":"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, definitions_of_figures);
  tcase_add_test(tests, progress_estimate_and_summary);
  tcase_add_loop_test(tests, nothing_else_is_replaced, 0, 4);
}

CAVUM_TEST_MAIN("JSON files", add_tests)
