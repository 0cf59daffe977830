// SPDX-License-Identifier: GPL-3.0-or-later
// The summary of a scan on the screen: dimensions of the best shapes, and nothing about how well or
// how figures were computed.
#include <check.h>
#include <string.h>

#include "hdf5/hdf5_file.h"
#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)

static const char study[] =
    "title: Three irises\ncell: mid-cell.yaml\n"
    "vary:\n  iris_radius_mm: [34.0, 35.0, 60.0]\n"  // no shape has the last
    "linked: [iris_ellipse.axial_mm = iris_radius_mm / 3]\n"
    "figures: [epk_over_eacc, geometry_factor_ohm]\n";

// Columns of derivatives have dotted names too: they are no dimensions in the report.
START_TEST(derivatives_are_no_dimensions) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && echo 'derivatives: [geometry_factor_ohm]' "
                       ">>study.yaml && $CAVUM scan -q study.yaml -o d.hdf; cat err"),
                   0);
  ck_assert_int_eq(run("$CAVUM report d.hdf -o d.html"), 0);
  const char *fronts = strstr(program_read_text(folder, "d.html"), "Non-dominated shapes in");
  ck_assert_ptr_nonnull(fronts);
  ck_assert_ptr_nonnull(strstr(fronts, ">iris ellipse, axial in\xc2\xa0mm<"));
  ck_assert_ptr_nonnull(strstr(fronts, ">iris radius in\xc2\xa0mm<"));
  ck_assert_ptr_null(strstr(fronts, "_per_iris_ellipse"));
  ck_assert_ptr_null(strstr(fronts, "per iris ellipse"));
}
END_TEST

START_TEST(best_shapes_have_their_dimensions) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o s.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf --aims epk_over_eacc"), 0);
  const char *text = program_read_text(folder, "out");
  fputs(text, stdout);
  const char *parts[] = {
      "Three irises\n3 shapes: 2 done, 1 no-shape\n",
      "Shapes without figures",
      "Ranges of the shapes that are done",
      "\n  iris_radius_mm                                 34             35  mm\n",
      "\nSmallest epk_over_eacc\n  shape  ",
      "Non-dominated: 1 shape,",
      "Cell file of a shape: cavum scan --shape "};
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    ck_assert_msg(strstr(text, parts[i]) != NULL, "no '%s'", parts[i]);
  }
  const char *best = strstr(text, "\nSmallest epk_over_eacc\n");
  ck_assert_ptr_nonnull(strstr(best, "\n  iris_radius_mm "));
  ck_assert_ptr_nonnull(strstr(best, "\n  iris_ellipse.axial_mm "));
  static const char *const absent[] = {"_uncertainty", "status",  "solves",  "degree ",
                                       "unknowns",     "_at_z_m", "contour."};
  for (size_t i = 0; i < sizeof absent / sizeof *absent; i++) {
    ck_assert_msg(strstr(text, absent[i]) == NULL, "'%s' is there", absent[i]);
  }
}
END_TEST

static const struct {
  const char *command, *message;
} mistyped[] = {
    {"$CAVUM scan --summary s.hdf --aims epk_over_eac", "did you mean 'epk_over_eacc'?"},
    {"$CAVUM scan --summary s.hdf --aims epk_over_eacc:smaler", "did you mean 'smaller'?"},
    {"$CAVUM scan --summary s.hdf --where 'iris_radus_mm < 35'", "did you mean 'iris_radius_mm'?"},
    {"$CAVUM draw s.hdf -o s.png --x iris_radus_mm", "did you mean 'iris_radius_mm'?"},
    {"$CAVUM draw s.hdf -o s.png --y epk_over_eac", "did you mean 'epk_over_eacc'?"},
    {"$CAVUM draw s.hdf -o s.png --colour geometry_factr_ohm",
     "did you mean 'geometry_factor_ohm'?"},
    {"$CAVUM scan study.yaml -o n.hdf --watch geometry_factr_ohm",
     "did you mean 'geometry_factor_ohm'?"},
    {"sed 's/\\[epk_over_eacc/[epk_over_eac/' study.yaml >b.yaml; $CAVUM scan b.yaml -o n.hdf",
     "'epk_over_eac' is not a figure, did you mean 'epk_over_eacc'?"},
    {"(cat study.yaml; echo 'limits: {where: [epk_over_eac < 2]}') >b.yaml; "
     "$CAVUM scan b.yaml -o n.hdf",
     "did you mean 'epk_over_eacc'?"},
    {"(cat study.yaml; echo 'limits: {where: [iris_radus_mm < 2]}') >b.yaml; "
     "$CAVUM scan b.yaml -o n.hdf",
     "did you mean 'iris_radius_mm'?"},
    {"(cat study.yaml; echo 'aims: [epk_over_eacc:smaler]') >b.yaml; $CAVUM scan b.yaml -o n.hdf",
     "did you mean 'smaller'?"},
};

// The command that is printed is one that a shell runs, whatever the name of the file.
START_TEST(the_next_command_can_be_pasted) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(
      run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o \"it's a b.hdf\""), 0);
  ck_assert_int_eq(run("PATH=${CAVUM%%/*}:$PATH; $CAVUM scan --summary \"it's a b.hdf\" | sed -n "
                       "'s/^Cell file of a shape: //p' >next && cat next && . ./next && "
                       "[ -e CELL.yaml ]"),
                   0);
}
END_TEST

// Where figures are not those of the first mode, everything that shows them says so.
START_TEST(another_mode_is_named) {
  program_write_text(folder, "cell.yaml",
                     "contour: {kind: two-ellipse, half_length_mm: 57.7, iris_radius_mm: 35, "
                     "equator_radius_mm: 103.3, equator_ellipse: {axial_mm: 42, radial_mm: 42}, "
                     "iris_ellipse: {axial_mm: 12, radial_mm: 19}}\n"
                     "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n"
                     "modes: {count: 2}\nrequirements: {epk_over_eacc: {most: 4}}\n");
  program_write_text(folder, "first.yaml",
                     "cell: cell.yaml\nvary: {iris_radius_mm: [34, 35, 36]}\n");
  program_write_text(folder, "second.yaml",
                     "cell: cell.yaml\nvary: {iris_radius_mm: [34, 35, 36]}\nmode: 2\n");
  for (int k = 0; k < 2; k++) {
    const char *name = k == 0 ? "first" : "second";
    int status = run("$CAVUM scan -q %s.yaml -o m.hdf --overwrite --csv m.csv", name);
    ck_assert_msg(status == 0, "%s", program_read_text(folder, "err"));
    ck_assert_int_eq(run("$CAVUM draw m.hdf -o m.svg && $CAVUM report m.hdf -o m.html"), 0);
    static const char *const shown[][2] = {
        {"$CAVUM scan --summary m.hdf", "figures are those of mode 2\n"},
        {"$CAVUM scan --summary m.hdf", "cell, by the figures of mode 2, shapes that are done"},
        {"$CAVUM scan --summary m.hdf --json -", "\"mode\": 2,"},
        {"cat m.svg", "3 of them shown; figures of mode 2"},
        {"cat m.html", "Scan of 3 cell shapes: figures are those of mode 2."},
        {"cat m.html", "what the base cell requires, by the figures of mode 2"},
        // Attributes of columns stand in the file as they are.
        {"LC_ALL=C grep -a -o '[ -~]*of mode 2' m.hdf | cat", "\nfrequency of mode 2\n"},
        {"LC_ALL=C grep -a -o '[ -~]*of mode 2' m.hdf | cat",
         "requirement of the cell file, by the figures of mode 2\n"}};
    for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
      ck_assert_int_eq(run("%s", shown[i][0]), 0);
      bool named = strstr(program_read_text(folder, "out"), shown[i][1]) != NULL;
      ck_assert_msg(named == (k == 1), "%s: %s", name, shown[i][1]);
    }
  }
}
END_TEST

START_TEST(mistyped_words_get_the_nearest) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o s.hdf"), 0);
  for (size_t i = 0; i < sizeof mistyped / sizeof *mistyped; i++) {
    int status = run("%s", mistyped[i].command);
    const char *text = program_read_text(folder, "err");
    fputs(text, stdout);
    ck_assert_int_eq(status, 2);
    ck_assert_msg(strstr(text, mistyped[i].message) != NULL, "no '%s'", mistyped[i].message);
  }
}
END_TEST

static void check_has(const char *name, const char *words) {
  const char *text = program_read_text(folder, name);
  ck_assert_msg(strstr(text, words) != NULL, "%s without '%s':\n%.4000s", name, words, text);
}

// A number of both halves has no derivative once one half is set by itself: the summary says so.
START_TEST(derivatives_that_no_shape_has_are_named) {
  program_write_text(folder, "half.yaml",
                     "cell: mid-cell.yaml\nvary: {iris_radius_mm: [35.0]}\n"
                     "linked: [right.iris_radius_mm = iris_radius_mm + 1]\n"
                     "figures: [frequency_Hz]\nderivatives: [frequency_Hz]\n");
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q half.yaml -o h.hdf && "
                       "$CAVUM scan --summary h.hdf"),
                   0);
  check_has("out", "  frequency_Hz_per_iris_radius_mm");
  check_has("out", "none  no shape has it, as where the halves are set separately\n");
}
END_TEST

// Nothing is said of shapes where there are none.
START_TEST(conditions_that_no_shape_meets_are_one_line) {
  program_write_text(folder, "study.yaml", study);
  program_write_text(folder, "more", "requirements: {aperture_radius_mm: {least: 34.5}}\n");
  ck_assert_int_eq(run("cat $CELLS/mid-cell.yaml more >mid-cell.yaml && "
                       "$CAVUM scan -q study.yaml -o s.hdf && "
                       "$CAVUM scan --summary s.hdf --where 'epk_over_eacc < 1'"),
                   0);
  check_has("out", "0 of 3 shapes where epk_over_eacc < 1\n");
  check_has("out", "No shape that is done meets the condition: there are no ranges, verdicts or ");
  const char *text = program_read_text(folder, "out");
  ck_assert(!strstr(text, "Ranges") && !strstr(text, "met, ") && !strstr(text, "Non-dominated"));
}
END_TEST

// One line with the reason, also where the table is what the screen gets.
// Gigahertz where megahertz are held; a frequency that is just out of reach is no slip.
START_TEST(a_slip_of_units_is_asked_about) {
  program_write_text(folder, "slip.yaml",
                     "cell: mid-cell.yaml\nvary: {iris_radius_mm: [34.0, 35.0]}\n"
                     "hold: {frequency_MHz: 1.3, by: equator_radius_mm, from: 100, to: 106}\n");
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q slip.yaml -o s.hdf"), 1);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf"), 0);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "out"), "tried): a slip of units?"));
  ck_assert_int_eq(
      run("sed 's/1.3,/1200,/' slip.yaml >far.yaml && $CAVUM scan -q far.yaml -o f.hdf"), 1);
  ck_assert_int_eq(run("$CAVUM scan --summary f.hdf"), 0);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "out"), "is to be held"));
  ck_assert_ptr_null(strstr(program_read_text(folder, "out"), "slip"));
}
END_TEST

START_TEST(full_disk_is_said_once) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o s.hdf"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf --csv - >/dev/full"), 2);
  ck_assert_str_eq(program_read_text(folder, "err"),
                   "cavum: standard output: cannot be written: No space left on device\n");
  // A file that would be larger than may be is named as it was asked for, not as it is written.
  ck_assert_int_eq(run("(trap '' XFSZ; ulimit -f 0; $CAVUM scan --summary s.hdf -q --csv rows.csv; "
                       "echo $?) 2>&1 | cat"),
                   0);
  // A build that counts what it runs complains of its own files as well.
  check_has("out", "cavum: rows.csv: cannot be written: File too large\n");
  check_has("out", "\n2\n");
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf >/dev/full"), 2);
  ck_assert_str_eq(program_read_text(folder, "err"),
                   "cavum: standard output: cannot be written: No space left on device\n");
}
END_TEST

// A file that was cut short is told by the missing end, and not taken for an old one alone.
START_TEST(files_cut_short_are_told) {
  program_write_text(folder, "study.yaml", study);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q study.yaml -o s.hdf && "
                       "head -c 3000 s.hdf >cut.hdf"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --summary cut.hdf"), 2);
  check_has("err", "cut.hdf: has no checksum at its end (cut short, changed, or ");
  check_has("err", "cut.hdf: cannot be opened as an HDF5 file\n");
}
END_TEST

// Verdicts of requirements are words for people and programs, codes with their words in the file.
START_TEST(verdicts_are_words) {
  program_write_text(folder, "study.yaml", study);
  program_write_text(folder, "more",
                     "requirements: {aperture_radius_mm: {least: 34.5}, k_cc: {least: 0.01}}\n");
  ck_assert_int_eq(run("cat $CELLS/mid-cell.yaml more >mid-cell.yaml && "
                       "$CAVUM scan -q study.yaml -o s.hdf"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --summary s.hdf --csv s.csv && "
                       "$CAVUM scan --summary s.hdf --csv - >t.csv && cmp s.csv t.csv"),
                   0);
  check_has("out", "\n  aperture_radius_mm                 1 met, 1 missed\n");
  check_has("out", "\n  k_cc                               0 met, 0 missed, 2 not known\n");
  check_has("s.csv", "verdict_aperture_radius_mm,margin_aperture_radius_mm,verdict_k_cc,");
  check_has("s.csv", ",missed,-0.5,not known,,");
  check_has("s.csv", ",met,0.5,not known,,");
  ck_assert_int_eq(
      run("$CAVUM scan --summary s.hdf --json - --where 'verdict_aperture_radius_mm == met'"), 0);
  check_has("out", "\"aperture_radius_mm\": {\"not known\": 0, \"met\": 1, \"missed\": 0");
  ck_assert_int_eq(run("$CAVUM report s.hdf -o s.html"), 0);
  check_has("s.html", "id=\"requirements\"");
  check_has("s.html", "<li><a href=\"#requirements\">Requirements</a></li>");
  check_has("s.html", ">aperture radius");  // its name, not its key
  ck_assert_ptr_null(strstr(strstr(program_read_text(folder, "s.html"), "id=\"requirements\""),
                            "<td>aperture_radius_mm"));
  char path[160], codes[128];
  cavum_hdf5_file *file = NULL;
  snprintf(path, sizeof path, "%s/s.hdf", folder);
  ck_assert_int_eq(cavum_hdf5_open(&file, path, NULL), CAVUM_OK);
  ck_assert_int_eq(
      cavum_hdf5_read_text(codes, sizeof codes, file, "/columns/verdict_k_cc", "codes", NULL),
      CAVUM_OK);
  ck_assert_str_eq(codes, "0 not known; 1 met; 2 missed; 3 undecided");
  cavum_hdf5_destroy(&file);
}
END_TEST

// Axes have the names of the trade. Of many shapes the rarest are beyond the colours, and counted;
// of few none is.
START_TEST(axes_and_colours_say_what_they_are) {
  program_write_text(folder, "few.yaml",
                     "cell: mid-cell.yaml\nvary: {iris_radius_mm: [34, 35, 36]}\ncoupling: yes\n"
                     "modes: {count: 2}\nfigures: [epk_over_eacc, frequency_Hz]\n");
  program_write_text(
      folder, "many.yaml",
      "cell: mid-cell.yaml\nvary: {iris_radius_mm: {from: 34, to: 36, points: 250}}\n"
      "figures: [epk_over_eacc, frequency_Hz, geometry_factor_ohm]\n");
  ck_assert_int_eq(
      run("sed 's/count: 1/count: 2/' $CELLS/mid-cell.yaml >mid-cell.yaml; "
          "grep -q 'count: 2' mid-cell.yaml || echo 'modes: {count: 2}' >>mid-cell.yaml; "
          "$CAVUM scan -q few.yaml -o few.hdf; cat err; "
          "$CAVUM draw few.hdf -o few.svg --y k_cc --colour 'modes[1].frequency_Hz' && "
          "$CAVUM report few.hdf -o few.html"),
      0);
  check_has("few.svg", "frequency of mode 2 in MHz");
  ck_assert_ptr_null(strstr(program_read_text(folder, "few.svg"), "k cc"));
  ck_assert_ptr_null(strstr(program_read_text(folder, "few.svg"), "beyond the ends"));
  ck_assert_int_eq(
      run("$CAVUM scan -q many.yaml -o many.hdf && $CAVUM draw many.hdf -o many.svg && "
          "$CAVUM report many.hdf -o many.html"),
      0);
  // 0.5 % of 250 are one at each end.
  check_has("many.svg", "2 shapes beyond the ends of the colours have the colour of that end");
  check_has("many.html", "2 shapes beyond the ends of the colours have the colour of that end.");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, derivatives_that_no_shape_has_are_named);
  tcase_add_test(tests, conditions_that_no_shape_meets_are_one_line);
  tcase_add_test(tests, a_slip_of_units_is_asked_about);
  tcase_add_test(tests, full_disk_is_said_once);
  tcase_add_test(tests, files_cut_short_are_told);
  tcase_add_test(tests, verdicts_are_words);
  tcase_add_test(tests, axes_and_colours_say_what_they_are);
  tcase_add_test(tests, best_shapes_have_their_dimensions);
  tcase_add_test(tests, the_next_command_can_be_pasted);
  tcase_add_test(tests, another_mode_is_named);
  tcase_add_test(tests, derivatives_are_no_dimensions);
  tcase_add_test(tests, mistyped_words_get_the_nearest);
}

CAVUM_TEST_MAIN("scan_summary", add_tests)
