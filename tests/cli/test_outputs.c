// SPDX-License-Identifier: GPL-3.0-or-later
// The rules for outputs, through the real program: nothing that a command reads and nothing that
// is not of the kind that is written is ever replaced without a word.
#include <stdbool.h>

#include "program.h"
#include "study_files.h"
#include "support.h"
#include "temporary_folder.h"

#define STUDY "cell: cell.yaml\nvary: {iris_radius_mm: {from: 33.0, to: 36.0, points: 3}}\n"
#define OTHER_STUDY STUDY "limits: {wall_angle_deg: 1.0}\n"

#define GOAL                                                                        \
  "vary:\n  iris_ellipse.axial_mm: {from: 11.5, to: 12.5}\n"                        \
  "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"                            \
  "minimise: bpk_over_eacc_mT_per_MV_per_m\nlimits: {wall_angle_deg: {least: 5}}\n" \
  "starts: 1\n"

static char folder[128];

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)
#define write_text(name, text) program_write_text(folder, name, text)

// Results of every kind to overwrite, made once: r.hdf, t.hdf, s.hdf with what goes with them.
static void make_files(void) {
  temporary_folder_make(folder);
  write_text("cell.yaml", STUDY_CELL);
  write_text("study.yaml", STUDY);
  write_text("other.yaml", OTHER_STUDY);
  write_text("goal.yaml", "cell: cell.yaml\n" GOAL);
  write_text("notes.json", "{\"mine\": 1}\n");
  write_text("notes.csv", "a,b\n1,2\n");
  write_text("notes.hdf", "not HDF5 at all\n");
  write_text("notes.html", "<!DOCTYPE html>\n<title>mine</title>\n");
  write_text("notes.svg", "<svg xmlns='http://www.w3.org/2000/svg'/>\n");
  write_text("notes.msh", "my mesh\n");
  ck_assert_int_eq(run("cp $CELLS/coldtest/*.csv $CELLS/coldtest/injector-test.yaml . && "
                       "mv injector-test.yaml t.yaml && "
                       "$CAVUM solve -q cell.yaml -o r.hdf --json r.json && "
                       "$CAVUM coldtest -q --linear t.yaml -o t.hdf --json t.json --csv t.csv && "
                       "$CAVUM scan -q study.yaml -o s.hdf --csv s.csv"),
                   0);
  ck_assert_int_eq(run("$CAVUM mesh -q cell.yaml -o c.msh && $CAVUM draw r.hdf -o r.svg && "
                       "$CAVUM report r.hdf -o r.html && ln -s readings.csv link.csv && "
                       "ln cell.yaml hard.yaml && mkdir sub && "
                       "echo 'contour: {kind: mesh, file: c.msh, unit: mm, axis: x}' > m.yaml"),
                   0);
  // As other programs write them: the same formats without our mark.
  ck_assert_int_eq(run("sed 's/^cavum$/other/' c.msh >foreign.msh && "
                       "$CAVUM draw r.hdf -o r.png && $CAVUM draw r.hdf -o r.pdf && "
                       "sed 's/cavum picture/their picture/' r.png >foreign.png && "
                       "sed 's/(cavum)/(other)/' r.pdf >foreign.pdf"),
                   0);
  ck_assert_int_eq(run("$CAVUM optimise -q goal.yaml -o best.hdf && "
                       "$CAVUM coldtest -q --plan t.yaml -o plan.hdf"),
                   0);
  ck_assert_int_eq(run("cp r.hdf kept.hdf && cp r.svg kept.svg && chmod 444 kept.hdf kept.svg && "
                       "ln -s kept.hdf kept-link.hdf"),
                   0);
}

static void delete_files(void) { temporary_folder_delete(folder); }

// Each is refused with exit status 2 and one line that has the words; no file changes.
static const struct {
  const char *command, *words;
} refused[] = {
    // What is read.
    {"$CAVUM coldtest t.yaml --csv readings.csv", "which this command reads"},
    {"$CAVUM coldtest t.yaml --csv link.csv", "which this command reads"},
    {"$CAVUM coldtest t.yaml --csv ./sub/../readings.csv", "which this command reads"},
    {"$CAVUM coldtest t.yaml --csv readings.csv --overwrite", "which this command reads"},
    {"$CAVUM coldtest t.yaml --csv decay.csv", "which this command reads"},
    {"$CAVUM coldtest t.yaml --json t.yaml", "which this command reads"},
    {"$CAVUM solve cell.yaml -o cell.yaml", "which this command reads"},
    {"$CAVUM solve cell.yaml --json hard.yaml", "which this command reads"},
    {"$CAVUM solve m.yaml --json c.msh", "which this command reads"},
    {"$CAVUM mesh m.yaml -o c.msh", "which this command reads"},
    {"$CAVUM scan study.yaml -o study.yaml", "which this command reads"},
    {"$CAVUM scan study.yaml -o n.hdf --csv cell.yaml", "which this command reads"},
    {"$CAVUM scan --summary s.hdf --csv s.hdf", "which this command reads"},
    {"$CAVUM scan --shape 1 s.hdf -o s.hdf", "which this command reads"},
    {"$CAVUM scan --shape 1 s.hdf -o cell.yaml", "is not a cell file of cavum scan"},
    {"$CAVUM scan --shape 1 s.hdf -o n.hdf", "the ending says HDF5"},
    {"$CAVUM scan --shape 3 s.hdf -o n.yaml", "shape 3: expected 0 to 2"},
    {"$CAVUM report r.hdf -o r.hdf", "which this command reads"},
    // One file for two.
    {"$CAVUM coldtest t.yaml -o n --csv n", "is the file of -o as well"},
    {"$CAVUM coldtest t.yaml --json n --csv sub/../n", "is the file of --json as well"},
    {"$CAVUM coldtest t.yaml --json - --csv -", "--csv -: standard output takes --json already"},
    {"$CAVUM solve cell.yaml -o n --json ./n", "is the file of -o as well"},
    {"$CAVUM scan study.yaml -o n.hdf --csv n.hdf.sources.json", "is the file of -o as well"},
    // Files of another kind.
    {"$CAVUM solve cell.yaml -o t.hdf", "is not a result of cavum solve"},
    {"$CAVUM solve cell.yaml -o s.hdf", "is not a result of cavum solve"},
    {"$CAVUM solve cell.yaml -o notes.hdf", "is not a result of cavum solve"},
    {"$CAVUM solve cell.yaml --json t.json", "is not JSON of cavum solve"},
    {"$CAVUM solve cell.yaml --json notes.json", "is not JSON of cavum solve"},
    {"$CAVUM coldtest t.yaml -o r.hdf", "is not a result of cavum coldtest"},
    {"$CAVUM coldtest t.yaml --json r.json", "is not JSON of cavum coldtest"},
    {"$CAVUM coldtest t.yaml --csv s.csv", "is not CSV of cavum coldtest"},
    {"$CAVUM coldtest t.yaml --csv notes.csv", "is not CSV of cavum coldtest"},
    {"$CAVUM mesh cell.yaml -o notes.msh", "is not a MSH file"},
    {"$CAVUM mesh cell.yaml -o foreign.msh", "is not a MSH file of cavum"},
    {"$CAVUM draw r.hdf -o foreign.png", "is not a picture of cavum"},
    {"$CAVUM draw r.hdf -o foreign.pdf", "is not a picture of cavum"},
    {"$CAVUM solve cell.yaml -o best.hdf", "is not a result of cavum solve"},
    {"$CAVUM optimise goal.yaml -o r.hdf", "is not a result of cavum optimise"},
    {"$CAVUM optimise goal.yaml -o s.hdf", "is not a result of cavum optimise"},
    {"$CAVUM coldtest t.yaml -o plan.hdf", "is not a result of cavum coldtest"},
    {"$CAVUM coldtest --plan t.yaml -o t.hdf", "is not a plan of cavum coldtest"},
    {"$CAVUM draw r.hdf -o notes.svg", "is not a picture"},
    {"$CAVUM compare r.hdf r.hdf -o notes.svg", "is not a picture"},
    {"$CAVUM report r.hdf -o notes.html", "is not a report"},
    {"$CAVUM scan study.yaml -o r.hdf", "is not a result of cavum scan"},
    {"$CAVUM scan study.yaml -o s.hdf --csv notes.csv", "is not CSV of cavum scan"},
    {"$CAVUM scan other.yaml -o s.hdf", "result of another study (limits."},
    {"$CAVUM scan other.yaml -o s.hdf --part 1/3", "result of another study"},
    {"$CAVUM scan other.yaml -o s.hdf --gather", "result of another study"},
    {"$CAVUM solve cell.yaml -o sub", "is a folder"},
    {"$CAVUM draw . -o n.png", ".: is a folder, expected a file"},
    {"$CAVUM report sub -o n.html", "sub: is a folder, expected a file"},
    {"$CAVUM compare t.yaml t.yaml -o n.txt", "but a picture (.png, .svg or .pdf) is written"},
    {"$CAVUM compare r.hdf s.hdf", "r.hdf and s.hdf: not of one kind: expected results of cells"},
    {"$CAVUM compare s.hdf s.hdf r.hdf", "s.hdf and r.hdf: not of one kind"},
    {"$CAVUM compare r.hdf sub", "sub: is a folder, expected a file"},
    {"$CAVUM scan --summary sub", "sub: is a folder, expected a file"},
    {"$CAVUM solve sub", "sub: is a folder, expected a file"},
    // What somebody has protected.
    {"$CAVUM solve cell.yaml -o kept.hdf", "kept.hdf: is read-only; --overwrite replaces it"},
    {"$CAVUM solve cell.yaml -o kept-link.hdf", "is read-only; --overwrite replaces it"},
    {"$CAVUM draw r.hdf -o kept.svg", "kept.svg: is read-only; --overwrite replaces it"},
    // Endings.
    {"$CAVUM report r.hdf -o a.pdf", "the ending says PDF"},
    {"$CAVUM solve cell.yaml -o x.vtk", "the ending says VTK"},
    {"$CAVUM solve cell.yaml -o x.JSON", "the ending says JSON"},
    {"$CAVUM solve cell.yaml --json x.hdf", "the ending says HDF5"},
    {"$CAVUM mesh cell.yaml -o x.vtu", "the ending says VTK XML"},
    {"$CAVUM scan study.yaml -o x.csv", "the ending says CSV"},
    // Options that would change nothing.
    {"$CAVUM draw r.hdf -o n.png --colour q0", "--colour: is for scans only"},
    {"$CAVUM draw r.hdf -o n.png --reading 1", "--reading: is for"},
    {"$CAVUM draw r.hdf -o n.svg --width 900", "--width: is for .png only"},
    {"$CAVUM draw r.hdf -o n.svg --view wall --field E", "--field: is for"},
    {"$CAVUM draw t.hdf -o n.png --mode 1", "--mode: is for results only"},
    {"$CAVUM draw s.hdf -o n.png --mode 1", "--mode: is for results only"},
    {"$CAVUM compare r.hdf r.hdf -o n.pdf --width 900", "--width: is for .png only"},
    {"$CAVUM mesh m.yaml -o n.msh --refine 2", "--refine"},
};

// Names, sizes, times, modes, links and contents of all files.
#define SUMS                                                                       \
  "find . ! -type d ! -name out ! -name err ! -name before ! -name after -printf " \
  "'%%p %%l %%s %%T@ %%m %%n\\n' -type f -exec md5sum {} + | sort"

// What is changed is the state that the next command is judged by.
START_TEST(what_is_not_meant_stays_as_it_is) {
  if (_i == 0) ck_assert_int_eq(run(SUMS " >before; grep -q cell.yaml before"), 0);
  ck_assert_int_eq(run("%s", refused[_i].command), 2);
  const char *message = read_text("err");
  ck_assert_msg(strstr(message, refused[_i].words) != NULL, "%s", message);
  ck_assert_int_eq(program_count_lines(message), 1);
  ck_assert_int_eq(run(SUMS " >after; cmp before after || { mv after before; false; }"), 0);
}
END_TEST

// Options that are seen to be useless before a file is read: usage errors.
static const char *useless[] = {
    "$CAVUM solve cell.yaml --field-order 3",
    "$CAVUM solve cell.yaml --all --quiet",
    "$CAVUM solve cell.yaml --definitions --json -",
    "$CAVUM coldtest t.yaml --plan --linear",
    "$CAVUM coldtest t.yaml --rows 3 --quiet",
    "$CAVUM coldtest t.yaml --budgets 1 --json -",
    "$CAVUM coldtest t.yaml --plan --csv n.csv",
    "$CAVUM compare r.hdf r.hdf --width 900",
    "$CAVUM scan --summary s.hdf -o n.hdf",
    "$CAVUM scan --summary s.hdf --workers 2",
    "$CAVUM scan --summary s.hdf --json - --csv -",
    "$CAVUM scan study.yaml -o n.hdf --aims q0",
    "$CAVUM scan study.yaml -o n.hdf --top 3",
    "$CAVUM scan study.yaml -o n.hdf --where 'q0 > 1'",
    "$CAVUM scan study.yaml -o n.hdf --gather --workers 2",
    "$CAVUM scan study.yaml -o n.hdf --part 1/2 --keep-parts",
    "$CAVUM scan study.yaml -o n.hdf --quiet --watch frequency_Hz",
    "$CAVUM scan study.yaml --estimate -o n.hdf",
    "$CAVUM scan --shape 1 s.hdf",
    "$CAVUM scan --shape -1 s.hdf -o n.yaml",
    "$CAVUM scan --shape 1x s.hdf -o n.yaml",
    "$CAVUM scan --shape 1 s.hdf -o n.yaml --csv n.csv",
    "$CAVUM scan --shape 1 s.hdf -o n.yaml --json -",
    "$CAVUM scan --shape 1 --summary s.hdf -o n.yaml",
};

START_TEST(useless_options_are_errors) {
  ck_assert_int_eq(run("%s", useless[_i]), 2);
  ck_assert_str_eq(read_text("out"), "");
  ck_assert_int_eq(run("ls n.hdf n.csv"), 2);
}
END_TEST

// What was meant still works: the same command twice, and foreign files on purpose.
static const char *accepted[] = {
    "$CAVUM solve -q cell.yaml -o r.hdf --json r.json",
    "$CAVUM solve -q cell.yaml --degree 9 -o r.hdf",
    "$CAVUM coldtest -q --linear t.yaml -o t.hdf --json t.json --csv t.csv",
    "$CAVUM mesh -q cell.yaml -o c.msh",
    "$CAVUM draw r.hdf -o r.svg && $CAVUM draw r.hdf -o r.svg --view mesh",
    "$CAVUM draw r.hdf -o n.png && $CAVUM draw r.hdf -o n.png && $CAVUM draw r.hdf -o n.pdf && "
    "$CAVUM draw r.hdf -o n.pdf && rm n.png n.pdf",
    "$CAVUM report r.hdf -o r.html && $CAVUM report t.hdf -o r.html",
    "$CAVUM scan -q study.yaml -o s.hdf --csv s.csv",
    "$CAVUM scan -q --summary s.hdf --csv s.csv",
    "$CAVUM scan --shape 1 s.hdf -o c1.yaml && $CAVUM scan --shape 2 s.hdf -o c1.yaml && "
    "$CAVUM solve -q c1.yaml && rm c1.yaml",
    "$CAVUM solve -q cell.yaml -o /dev/null --json /dev/null",
    ": >n.hdf && $CAVUM solve -q cell.yaml -o n.hdf && rm n.hdf",
    "$CAVUM solve -q cell.yaml -o figures && $CAVUM solve -q cell.yaml -o a.b.c && rm figures "
    "a.b.c",
    "$CAVUM coldtest --plan t.yaml --json - >plan.json && rm plan.json",
    "cp notes.hdf n.hdf && $CAVUM solve -q cell.yaml -o n.hdf --overwrite && "
    "$CAVUM draw n.hdf -o n.png && rm n.hdf n.png",
    "cp r.hdf n.hdf && chmod 444 n.hdf && $CAVUM solve -q cell.yaml -o n.hdf --overwrite && "
    "rm n.hdf",
    "cp s.hdf n.hdf && $CAVUM scan -q other.yaml -o n.hdf --overwrite && ! cmp -s s.hdf n.hdf && "
    "rm n.hdf n.hdf.sources.json",
};

START_TEST(what_was_meant_works) {
  ck_assert_int_eq(run("%s", accepted[_i]), 0);
  ck_assert_str_eq(read_text("err"), "");
}
END_TEST

// Summary, report and picture say which shape is which, and how its cell file is had.
START_TEST(rows_have_names) {
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf"), 0);
  const char *hint = strstr(read_text("out"), "cavum scan --shape ");
  ck_assert_ptr_nonnull(hint);
  ck_assert_ptr_nonnull(strstr(hint, " s.hdf -o CELL.yaml"));
  ck_assert_int_eq(run("$CAVUM report s.hdf -o s.html && $CAVUM draw s.hdf -o s.svg"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("s.html"), "cavum scan --shape N"));
  // Of three irises the narrowest has the lowest peak field, the lowest magnetic one the same: the
  // front of the picture is the one shape 0, whose number stands beside its ring.
  ck_assert_ptr_nonnull(strstr(read_text("s.svg"), "rings have the numbers of their shapes"));
  ck_assert_ptr_nonnull(strstr(read_text("s.svg"), ">0</text>"));
  ck_assert_int_eq(run("rm s.html s.svg"), 0);
}
END_TEST

START_TEST(other_endings_of_hdf5_are_told_about_paraview) {
  ck_assert_int_eq(run("$CAVUM solve -q cell.yaml -o n.h5 && rm n.h5"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("err"), "ParaView"));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_unchecked_fixture(tests, make_files, delete_files);
  tcase_add_loop_test(tests, what_is_not_meant_stays_as_it_is, 0,
                      sizeof refused / sizeof refused[0]);
  tcase_add_loop_test(tests, useless_options_are_errors, 0, sizeof useless / sizeof useless[0]);
  tcase_add_loop_test(tests, what_was_meant_works, 0, sizeof accepted / sizeof accepted[0]);
  tcase_add_test(tests, rows_have_names);
  tcase_add_test(tests, other_endings_of_hdf5_are_told_about_paraview);
}

CAVUM_TEST_MAIN("outputs", add_tests)
