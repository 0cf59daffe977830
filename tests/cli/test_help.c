// SPDX-License-Identifier: GPL-3.0-or-later
// Help: the same text by every way, examples that are commands, the nearest word, files that
// another command takes.
#include <check.h>
#include <string.h>

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
#define read_text(name) program_read_text(folder, name)

static const char *const commands[] = {"solve",      "tune",    "scan",    "mesh",     "coldtest",
                                       "draw",       "compare", "report",  "optimise", "figures",
                                       "tolerances", "steps",   "as-built"};
enum { NUM_COMMANDS = sizeof commands / sizeof *commands };

static void must_contain(const char *text, const char *part) {
  ck_assert_msg(strstr(text, part) != NULL, "no '%s' in: %s", part, text);
}

START_TEST(every_command_has_help_and_examples) {
  const char *name = commands[_i];
  char example[64];
  snprintf(example, sizeof example, "\n  cavum %s", name);
  ck_assert_int_eq(run("$CAVUM %s --help", name), 0);
  must_contain(read_text("out"), "Usage: cavum ");
  must_contain(strstr(read_text("out"), "Examples:\n"), example);
  ck_assert_int_eq(run("$CAVUM %s --help >a; $CAVUM %s -h >b; cmp a b", name, name), 0);
  ck_assert_int_eq(run("$CAVUM %s --help >a; $CAVUM help %s >b; cmp a b", name, name), 0);
  ck_assert_int_eq(run("$CAVUM --help | grep -q '^  %s '", name), 0);
  // The short message names each option that the help lists, and the version is the program's.
  ck_assert_int_eq(run("$CAVUM %s --usage >short && grep -q '^Usage: cavum %s ' short && "
                       "$CAVUM %s --help | sed '/^Examples/q' | grep -oE '^ {2,6}-[-a-zA-Z?, ]*' | "
                       "grep -oE '[-]-[a-z-]+' >names && [ -s names ] && "
                       "while read o; do grep -qe \"\\[.*$o\" short || exit 1; done <names",
                       name, name, name),
                   0);
  ck_assert_int_eq(run("$CAVUM --version >a; $CAVUM %s --version >b; $CAVUM %s -V >c; "
                       "cmp a b && cmp a c && grep -q ^cavum a",
                       name, name),
                   0);
}
END_TEST

START_TEST(help_of_the_program) {
  ck_assert_int_eq(run("$CAVUM --help"), 0);
  must_contain(read_text("out"), "Examples:\n  cavum solve cell.yaml");
  ck_assert_int_eq(run("$CAVUM --help >a; $CAVUM -h >b; cmp a b"), 0);
  ck_assert_int_eq(run("$CAVUM --help >a; $CAVUM help >b; cmp a b"), 0);
  ck_assert_int_eq(run("$CAVUM --help >a; $CAVUM help help >b; cmp a b"), 0);
  ck_assert_int_eq(run("$CAVUM figures"), 0);
  must_contain(read_text("out"), "2 omega U / oint |H|^2 dS over metal");
  must_contain(read_text("out"), "  bpk_over_eacc_mT_per_MV_per_m\n");
}
END_TEST

static const struct {
  const char *command, *message;
} mistyped[] = {
    {"$CAVUM slove cell.yaml", "did you mean 'solve'?"},
    {"$CAVUM help cold-test", "did you mean 'coldtest'?"},
    {"$CAVUM solve --ouput=r.hdf cell.yaml", "--ouput: no such option, did you mean '--output'?"},
    {"$CAVUM draw --color q0 study.hdf", "--color: no such option, did you mean '--colour'?"},
    {"$CAVUM solve --couplng cell.yaml", "did you mean '--coupling'?"},
    {"$CAVUM solve --zzzzzzzzzzz cell.yaml", "--zzzzzzzzzzz'"},  // none is near
    {"$CAVUM coldtest --show budgts $CELLS/coldtest/injector-test.yaml", "did you mean 'budgets'?"},
    {"$CAVUM draw --view qualty t.hdf -o t.png", "did you mean 'quality'?"},
    {"$CAVUM draw --field bth t.hdf -o t.png", "expected both, E or H, did you mean 'both'?"},
    {"$CAVUM draw --field B t.hdf -o t.png", "expected both, E or H\n"},  // a letter has no nearest
    {"$CAVUM draw --size colum t.hdf -o t.png", "did you mean 'column'?"},
    {"$CAVUM draw --align equater a.hdf b.hdf -o t.png", "did you mean 'equator'?"},
    {"$CAVUM mesh --unit inhc cell.yaml -o n.msh", "did you mean 'inch'?"},
    {"sed 's/magnetic/magnetc/' cell.yaml >wrong.yaml; $CAVUM solve wrong.yaml",
     "found 'magnetc', did you mean 'magnetic'?"},
    {"sed 's/transmitted_dBm/transmited_dBm/' $CELLS/coldtest/readings.csv >readings.csv; "
     "cp $CELLS/coldtest/injector-test.yaml .; $CAVUM coldtest injector-test.yaml",
     "did you mean 'transmitted_dBm'?"},
    {"$CAVUM solve wrong-key.yaml", "did you mean 'iris_radius_mm'?"},
    {"(cat cell.yaml; echo 'modes: {near_MHz: 1e9}') >far.yaml; $CAVUM solve far.yaml",
     "ask for lower modes"},
    {"$CAVUM solve --refine 64 cell.yaml", "more than the limit of 50000"},
    {"$CAVUM mesh cell.yaml -o of.msh && echo 'contour: {kind: mesh, file: of.msh, unit: mm, axis: "
     "x}' "
     ">of.yaml && $CAVUM solve --refine 2 of.yaml",
     "of.yaml: --refine: the elements of a mesh file stay as they are"},
    {"$CAVUM solve --json '' cell.yaml", "--json: expected a file name"},
    {"$CAVUM tune cell.yaml --set frequency_MHz=1300 --by iris_radius_mm -o wrong-key.yaml",
     "exists, and a cell file may be somebody's work"},
};

START_TEST(mistyped_words_get_the_nearest) {
  ck_assert_int_eq(
      run("sed 's/ iris_radius_mm/ iris_radus_mm/' $CELLS/mid-cell.yaml >wrong-key.yaml"), 0);
  ck_assert_int_eq(run("%s", mistyped[_i].command), 2);
  must_contain(read_text("err"), mistyped[_i].message);
}
END_TEST

// A beginning of a name that is unique is a name, as argp has it.
START_TEST(beginnings_of_options_are_taken) {
  ck_assert_int_eq(run("$CAVUM solve --defin cell.yaml"), 0);
  must_contain(read_text("out"), "Definitions\n");
}
END_TEST

static const struct {
  const char *command, *message;
} wrong_kinds[] = {
    {"$CAVUM solve $CELLS/iris-study.yaml", "iris-study.yaml: is a study; cavum scan takes it\n"},
    {"$CAVUM solve r.hdf",
     "r.hdf: is a result of cavum solve; cavum draw, report and compare take it\n"},
    {"$CAVUM solve $CELLS/coldtest/injector-test.yaml",
     "is the file of a cold test; cavum coldtest"},
    {"$CAVUM solve $CELLS/coldtest/readings.csv", "is a table of readings"},
    {"$CAVUM solve m.msh", "is a MSH file"},
    {"$CAVUM mesh j.json -o n.msh", "is JSON"},
    {"$CAVUM coldtest cell.yaml",
     "cell.yaml: is a cell file; cavum solve, tune, tolerances, as-built and mesh take it\n"},
    {"$CAVUM coldtest r.hdf", "is a result of cavum solve"},
    {"$CAVUM scan cell.yaml -o n.hdf", "is a cell file"},
    {"$CAVUM scan --summary r.hdf", "is a result of cavum solve"},
    {"$CAVUM report cell.yaml -o n.html", "is a cell file"},
    {"$CAVUM draw $CELLS/iris-study.yaml -o n.png", "is a study"},
    // A goal has keys of studies and of step files, too.
    {"$CAVUM solve goal.yaml", "goal.yaml: is a goal; cavum optimise takes it\n"},
    {"printf 'cell: cell.yaml\\nvary: {iris_radius_mm: {from: 30, to: 40}}\\n"
     "steps: {iris_radius_mm: 0.1}\\n' >rounded.yaml; $CAVUM optimise rounded.yaml --cell n.yaml",
     "minimise"},
    {"$CAVUM scan goal.yaml -o n.hdf", "goal.yaml: is a goal; cavum optimise takes it\n"},
    {"$CAVUM optimise cell.yaml",
     "cell.yaml: is a cell file; cavum solve, tune, tolerances, as-built and mesh take it\n"},
    {"$CAVUM optimise $CELLS/iris-study.yaml",
     "iris-study.yaml: is a study; cavum scan takes it\n"},
    // A step file without its list, or with another word for it, is no study: the key is named.
    {"printf 'cell: cell.yaml\\ntarget: {frequency_MHz: 1300}\\n' >t.yaml; $CAVUM steps t.yaml",
     "t.yaml:1:1: the file: missing key 'steps'"},
    {"printf 'cell: cell.yaml\\nstep:\\n  - {name: a, air: {gas: vacuum}}\\n' >t.yaml; "
     "$CAVUM steps t.yaml",
     "t.yaml:2:1: step: unknown key, did you mean 'steps'?"},
    {"printf 'cell: cell.yaml\\nSteps:\\n  - {name: a, air: {gas: vacuum}}\\n' >t.yaml; "
     "$CAVUM steps t.yaml",
     "t.yaml:2:1: Steps: unknown key, did you mean 'steps'?"},
    {"printf 'cell: cell.yaml\\n' >t.yaml; $CAVUM solve t.yaml", "t.yaml: is a study"},
    {"$CAVUM solve shop.yaml", "shop.yaml: is a file of tolerances; cavum tolerances CELL.yaml"},
    {"$CAVUM tolerances cell.yaml --from goal.yaml", "goal.yaml: is a goal; cavum optimise"},
};

// What was in a pipe is gone when it could not be read: it is not opened again, which would wait
// for another writer for ever. The time ends a test that hangs and is no measure.
START_TEST(a_pipe_is_read_once) {
  ck_assert_int_eq(run("mkfifo pipe && (echo 'colour: blue' >pipe &) && "
                       "timeout 60 $CAVUM solve pipe"),
                   2);
  must_contain(read_text("err"), "colour: unknown key");
  ck_assert_int_eq(run("(cat cell.yaml >pipe &) && timeout 60 $CAVUM solve -q pipe -o p.hdf"), 0);
}
END_TEST

START_TEST(files_of_another_kind_are_named) {
  ck_assert_int_eq(run("$CAVUM solve -q cell.yaml -o r.hdf --json j.json && "
                       "$CAVUM mesh -q cell.yaml -o m.msh"),
                   0);
  program_write_text(folder, "goal.yaml",
                     "cell: cell.yaml\nvary: {iris_ellipse.axial_mm: {from: 10, to: 14}}\n"
                     "minimise: epk_over_eacc\nsteps: {iris_ellipse.axial_mm: 0.1}\n");
  program_write_text(folder, "shop.yaml", "tolerances: {iris_radius_mm: {normal: 0.1}}\n");
  for (size_t i = 0; i < sizeof wrong_kinds / sizeof *wrong_kinds; i++) {
    ck_assert_int_eq(run("%s", wrong_kinds[i].command), 2);
    must_contain(read_text("err"), wrong_kinds[i].message);
    ck_assert_int_eq(program_count_lines(read_text("err")), 1);
  }
}
END_TEST

// A file of the right kind with a mistake in it keeps the message about the mistake.
START_TEST(mistakes_keep_their_messages) {
  program_write_text(folder, "bad.yaml", TEST_CELL "colour: blue\n");
  ck_assert_int_eq(run("$CAVUM solve bad.yaml"), 2);
  must_contain(read_text("err"), "colour: unknown key");
  ck_assert_int_eq(run("$CAVUM solve nowhere.yaml"), 2);
  must_contain(read_text("err"), "cannot be opened");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, every_command_has_help_and_examples, 0, NUM_COMMANDS);
  tcase_add_test(tests, help_of_the_program);
  tcase_add_loop_test(tests, mistyped_words_get_the_nearest, 0,
                      (int)(sizeof mistyped / sizeof *mistyped));
  tcase_add_test(tests, beginnings_of_options_are_taken);
  tcase_add_test(tests, files_of_another_kind_are_named);
  tcase_add_test(tests, a_pipe_is_read_once);
  tcase_add_test(tests, mistakes_keep_their_messages);
}

CAVUM_TEST_MAIN("help", add_tests)
