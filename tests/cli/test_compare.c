// SPDX-License-Identifier: GPL-3.0-or-later
// Results side by side: every input that differs, of any section of a cell file, and differences of
// figures where they are larger than the uncertainties.
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

#define run(...) program_run(folder, __VA_ARGS__)
#define read_text(name) program_read_text(folder, name)

// A result of the mid-cell, changed by a sed script.
static void solve(const char *name, const char *script) {
  ck_assert_int_eq(
      run("sed '%s' $CELLS/mid-cell.yaml >%s.yaml && $CAVUM solve -q %s.yaml -o %s.hdf", script,
          name, name, name),
      0);
}

// Rows of the screen have runs of spaces.
static const char *squeeze(void) {
  ck_assert_int_eq(run("tr -s ' ' <table"), 0);
  return program_read_text(folder, "out");
}

static void must_contain(const char *text, const char *part) {
  ck_assert_msg(strstr(text, part) != NULL, "no '%s' in: %s", part, text);
}

static const struct {
  const char *script, *row;
} changes[] = {
    {"s/^contour:/beta: 0.9\\ncontour:/", "\n beta 1 0.9\n"},
    {"s/residual_nohm: 5.0/residual_nohm: 8.0/", "\n wall.residual_nohm 5 8\n"},
    {"s/^wall:.*/wall: {kind: metal, conductivity_S_per_m: 5.8e7}/",
     "\n wall.kind niobium metal\n"},
    {"s/right: {kind: magnetic}/right: {kind: tube, length_mm: 90.0, close: electric}/",
     "\n ends.right.kind magnetic tube\n"},
    {"s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/",
     "\n iris_radius_mm 35 36\n"},  // of both halves, once
    {"s/^ends:/  right: {iris_radius_mm: 36.0}\\nends:/", "\n right.iris_radius_mm 35 36\n"},
    {"s/^contour:/accelerating_length_mm: 110\\ncontour:/", "\n accelerating_length_mm - 110\n"},
    {"s/^wall:/accuracy: {frequency: 1.0e-7}\\nwall:/", "\n accuracy.frequency"},
};

START_TEST(every_input_that_differs_is_listed) {
  solve("a", "");
  solve("b", changes[_i].script);
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  const char *text = squeeze();
  must_contain(text, "Inputs that differ A B\n");
  must_contain(text, changes[_i].row);
  ck_assert_ptr_null(strstr(text, "equator_ellipse"));
  ck_assert_ptr_null(strstr(text, "left.iris_radius_mm"));
}
END_TEST

// The pieces of a path are those of its file, by number and name, though a spline is many curves
// inside; and 5 mm is 5, not what metres made of it.
START_TEST(pieces_of_a_path_are_those_of_its_file) {
  static const char path[] =
      "title: Path\naccelerating_length_mm: 100\nmodes: {count: 1}\ncontour:\n  kind: path\n"
      "  start: {z_mm: -60.0, r_mm: 0.0}\n  path:\n"
      "    - {line_to: {z_mm: 60.0, r_mm: 0.0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 60.0, r_mm: 30.0}, boundary: magnetic}\n"
      "    - spline_through: [{z_mm: 55.0, r_mm: 60.0}, {z_mm: 45.0, r_mm: 85.0}, {z_mm: 30.0, "
      "r_mm: "
      "100.0}, {z_mm: 5.0, r_mm: %s}]\n      boundary: metal\n"
      "    - {arc_to: {z_mm: 0.0, r_mm: %s}, centre: {z_mm: 0.0, r_mm: 105.0}, turn: left, "
      "boundary: metal}\n"
      "    - {line_to: {z_mm: -60.0, r_mm: 30.0}, boundary: metal}\n"
      "    - {line_to: {z_mm: -60.0, r_mm: 0.0}, boundary: magnetic}\n";
  char text[2048];
  snprintf(text, sizeof text, path, "105.0", "110.0");
  program_write_text(folder, "a.yaml", text);
  char *moved = strstr(text, "z_mm: 45.0");
  ck_assert_ptr_nonnull(moved);
  memcpy(moved, "z_mm: 46.3", strlen("z_mm: 46.3"));
  moved = strstr(text, "{z_mm: -60.0, r_mm: 30.0}, boundary: metal");
  ck_assert_ptr_nonnull(moved);
  memcpy(moved, "{z_mm: -60.0, r_mm: 31.0}", strlen("{z_mm: -60.0, r_mm: 31.0}"));
  moved = strstr(text, "magnetic");
  ck_assert_ptr_nonnull(moved);
  memcpy(moved, "electric", strlen("electric"));
  program_write_text(folder, "b.yaml", text);
  ck_assert_int_eq(
      run("for c in a b; do $CAVUM solve -q $c.yaml -o $c.hdf || exit 1; done && $CAVUM "
          "compare a.hdf b.hdf >table"),
      0);
  const char *screen = squeeze();
  must_contain(screen, "\n path[3].spline_through[2].z_mm 45 46.3\n");
  must_contain(screen, "\n path[5].line_to.r_mm 30 31\n");
  ck_assert_ptr_null(strstr(screen, "contour.path"));  // names as in all other tables
  ck_assert_ptr_null(strstr(screen, "cubic_to"));
  ck_assert_ptr_null(strstr(screen, "coefficients"));
  // Beside a contour of another kind the points have nothing to stand against.
  solve("e", "");
  ck_assert_int_eq(run("$CAVUM compare a.hdf e.hdf >table"), 0);
  screen = squeeze();
  must_contain(screen, "\n contour.kind path two-ellipse\n");
  must_contain(screen, "\n contour.path 6 pieces -\n");
  must_contain(screen, "\n half_length_mm - 57");
  ck_assert_ptr_null(strstr(screen, "line_to"));
  ck_assert_ptr_null(strstr(screen, "start.z_mm"));
}
END_TEST

// Lengths that come from metres have the digits of the file.
START_TEST(lengths_have_the_digits_of_the_file) {
  solve("a", "s/^  half_length_mm: .*/  half_length_mm: 57.0/");
  solve("b", "s/^  half_length_mm: .*/  half_length_mm: 57.00000000000001/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  ck_assert_ptr_null(strstr(squeeze(), "half_length_mm"));
}
END_TEST

// The same shape solved at two accuracies has no difference in any figure; another shape has.
START_TEST(differences_stand_where_they_are_significant) {
  solve("a", "");
  solve("b", "s/^wall:/accuracy: {frequency: 1.0e-4, other_figures: 1.0e-2}\\nwall:/");
  solve("c", "s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  const char *text = strstr(squeeze(), "Differences from A");
  ck_assert_ptr_null(strstr(text, "frequency"));
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf c.hdf >table"), 0);
  text = squeeze();
  must_contain(text, "Inputs that differ A B C\n");
  must_contain(text, "\n iris_radius_mm 35 35 36\n");
  must_contain(strstr(text, "Differences from A"), "\n frequency none ");
  // Figures of the shape stand beside those of the mode.
  must_contain(text, "\n aperture radius 35 35 36 mm\n");
  must_contain(strstr(text, "Differences from A"), "\n aperture radius none 1 mm\n");
  ck_assert_int_eq(run("$CAVUM compare a.hdf a.hdf >table"), 0);
  text = squeeze();
  must_contain(text, " none: all inputs are the same\n");
  must_contain(text, " same MHz\n");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf c.hdf -o x.png >table"), 0);
}
END_TEST

// What rounding and searches leave is no difference: a row that says "same" has none below, also of
// a resistance by a fit that frequencies 1e-9 apart share.
START_TEST(what_is_shown_as_the_same_has_no_difference) {
  solve("a", "");
  solve("b", "s/iris_radius_mm: 35.0/iris_radius_mm: 35.0000001/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  const char *text = squeeze();
  printf("%s\n", text);
  const char *differences = strstr(text, "Differences from A");
  ck_assert_ptr_nonnull(differences);
  ck_assert_ptr_null(strstr(differences, "surface resistance R_s"));
  ck_assert_ptr_null(strstr(differences, "wall angle"));
  ck_assert_ptr_null(strstr(differences, "aperture radius"));
}
END_TEST

// The page has the tables of the screen, the picture, and the cell files; without fields it says
// why there is no picture. More results than a picture holds are compared as well.
START_TEST(results_are_compared_on_a_page) {
  static const char *const parts[] = {"<h2 id=\"inputs\">",
                                      "iris_radius_mm",
                                      ">36<",
                                      "<h2 id=\"figures\">",
                                      ">same<",
                                      "<h2 id=\"differences\">",
                                      "arc length along the wall from the equator",
                                      "<svg",
                                      "C  c.hdf: ",
                                      "two-ellipse"};
  solve("a", "");
  solve("b", "s/^wall:/accuracy: {frequency: 1.0e-4, other_figures: 1.0e-2}\\nwall:/");
  solve("c", "s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf ./b.hdf c.hdf -o x.html"), 0);
  // The key of the picture has the files beside the letters.
  ck_assert_ptr_nonnull(strstr(read_text("x.html"), ">A a.hdf: "));
  ck_assert_ptr_nonnull(strstr(read_text("x.html"), ">B b.hdf: "));
  ck_assert_int_eq(program_count_lines(read_text("err")), 0);
  const char *page = read_text("x.html");
  for (size_t i = 0; i < sizeof parts / sizeof *parts; i++) {
    ck_assert_msg(strstr(page, parts[i]) != NULL, "no '%s' on the page", parts[i]);
  }
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf c.hdf a.hdf b.hdf c.hdf a.hdf -o y.html"), 0);
  ck_assert_ptr_nonnull(strstr(read_text("y.html"), "More results than one picture can show"));
  ck_assert_int_eq(run("$CAVUM solve -q a.yaml -o d.hdf --field-order 0 && "
                       "$CAVUM compare a.hdf d.hdf -o z.html"),
                   0);
  ck_assert_int_eq(run("$CAVUM compare a.hdf c.hdf -o a.yaml"), 2);
  ck_assert_int_eq(run("$CAVUM compare a.hdf c.hdf -o w.html --width 500"), 2);
}
END_TEST

// Both surface resistances come from one fit, whose error is a factor in both: so it is in their
// difference, which is not lost in it. Both transit-time factors of this mode are one row.
START_TEST(rows_say_one_thing_once) {
  solve("a", "");
  solve("c", "s/^  equator_radius_mm: 103.3/  equator_radius_mm: 95.0/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf c.hdf >table"), 0);
  const char *text = squeeze(), *figures = strstr(text, "\nFigures");
  const char *differences = strstr(text, "\nDifferences");
  ck_assert_ptr_nonnull(figures);
  ck_assert_ptr_nonnull(differences);
  const char *factor = strstr(figures, "transit-time factor");
  ck_assert(factor && factor < differences);
  factor = strstr(factor + 1, "transit-time factor");
  ck_assert(factor && factor > differences);
  ck_assert_ptr_null(strstr(factor + 1, "transit-time factor"));
  const char *row = strstr(differences, "surface resistance R_s ");
  ck_assert_ptr_nonnull(row);
  double value = 0.0, in_units = 0.0;
  char digits[32];
  ck_assert_int_eq(sscanf(row, "surface resistance R_s %31[0-9.](%lf)", digits, &in_units), 2);
  value = strtod(digits, NULL);
  const char *point = strchr(digits, '.');
  double uncertainty = in_units * pow(10.0, point ? -(double)strlen(point + 1) : 0.0);
  printf("%g +- %g nohm\n", value, uncertainty);
  ck_assert(value > 0.0 && uncertainty < 0.25 * value);
}
END_TEST

// Each result rests on what it states: a fit of one is not said of the other. Values that are
// orders of magnitude apart have units of their own.
START_TEST(each_result_has_its_own_basis_and_unit) {
  solve("a", "");
  solve("c", "s/^wall:.*/wall: {kind: resistance, surface_resistance_nohm: 3.0e+6}/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf c.hdf >table"), 0);
  const char *text = squeeze();
  must_contain(text, " 3 mohm A: fit, about ");
  must_contain(text, " %, B: stated\n");
  must_contain(text, " A: with R_s of the fit\n");
  ck_assert_int_eq(run("grep -c 'Tohm  *[0-9.()e-]* Tohm' table"), 1);  // no match: B is in Mohm
  ck_assert_int_eq(run("$CAVUM compare c.hdf c.hdf >table"), 0);
  must_contain(squeeze(), " same mohm, stated\n");
  ck_assert_int_eq(run("$CAVUM compare a.hdf a.hdf >table"), 0);
  must_contain(squeeze(), " same nohm, fit, about ");
  // Fits of unlike temperatures are uncertain by unlike parts.
  solve("d", "s/temperature_K: 2.0/temperature_K: 4.2/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf d.hdf >table"), 0);
  must_contain(squeeze(), " 15.9(23) 540(110) nohm, fit, about 14 to 20 %\n");
  // Each phrase once, with all results that it is said of, and whole.
  ck_assert_int_eq(run("$CAVUM compare a.hdf c.hdf c.hdf c.hdf a.hdf >table"), 0);
  text = squeeze();
  must_contain(text, " %, B, C, D: stated\n");
  must_contain(text, " A, E: with R_s of the fit\n");
}
END_TEST

// A cell that was moved has the inputs of the shape before, its ends and the moves: its ends were
// not looked at, and beside the cell before its moves every dimension stood twice.
START_TEST(moved_cells_have_all_their_inputs) {
  solve("a", "");
  solve("b", "s/^ends:/  moved: [{offset_mm: 0.1}, {contraction: 0.001}]\\n&/");
  solve("c",
        "s/^ends:/  moved: [{offset_mm: 0.1}, {contraction: 0.001}]\\n&/;"
        "s/magnetic/electric/;s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/");
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  must_contain(
      squeeze(),
      "\nInputs that differ A B\n moved[1].offset_mm - 0.1\n moved[2].contraction - 0.001\n"
      "\nFigures");
  ck_assert_int_eq(run("$CAVUM compare b.hdf a.hdf >table"), 0);
  must_contain(squeeze(), "\nInputs that differ A B\n moved[1].offset_mm 0.1 -\n");
  ck_assert_int_eq(run("$CAVUM compare b.hdf c.hdf >table"), 0);
  must_contain(squeeze(),
               "\nInputs that differ A B\n iris_radius_mm 35 36\n ends.kind magnetic "
               "electric\n\nFigures");
  // The moves are of the cell, also where its halves differ.
  solve("d",
        "s/^ends:/  left: {iris_radius_mm: 34}\\n  moved: [{offset_mm: 0.1}, {contraction: "
        "0.001}]\\n&/");
  ck_assert_int_eq(run("$CAVUM compare b.hdf d.hdf >table"), 0);
  must_contain(squeeze(), "\nInputs that differ A B\n left.iris_radius_mm 35 34\n\nFigures");
}
END_TEST

// A mesh file that is another one now, under the same name, is an input that differs.
START_TEST(a_mesh_file_that_changed_is_told) {
  static const char *const radii[] = {"35.0", "35.0", "36.0"};
  program_write_text(folder, "m.yaml",
                     "contour: {kind: mesh, file: m.msh, unit: mm, axis: x}\n"
                     "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n");
  for (int k = 0; k < 3; k++) {
    ck_assert_int_eq(run("sed 's/^  iris_radius_mm: 35.0/  iris_radius_mm: %s/' "
                         "$CELLS/mid-cell.yaml >cell.yaml && "
                         "$CAVUM mesh cell.yaml -q -o m.msh --overwrite && "
                         "$CAVUM solve m.yaml -q -o m%d.hdf",
                         radii[k], k),
                     0);
  }
  ck_assert_int_eq(run("$CAVUM compare m0.hdf m1.hdf >table"), 0);
  must_contain(squeeze(), "none: all inputs are the same");
  ck_assert_int_eq(run("$CAVUM compare m0.hdf m2.hdf --json c.json >table"), 0);
  const char *text = squeeze(), *row = strstr(text, "\n contour.mesh ");
  ck_assert_ptr_nonnull(row);
  int elements[2];
  unsigned sums[2];
  ck_assert_int_eq(sscanf(row, "\n contour.mesh %d elements (%8x) %d elements (%8x)\n",
                          &elements[0], &sums[0], &elements[1], &sums[1]),
                   4);
  ck_assert_uint_ne(sums[0], sums[1]);
  must_contain(read_text("c.json"), "\"contour.mesh\"");
}
END_TEST

// Regions of a mesh file may have names of any length: 30 bytes of them were looked at, so that the
// second of two such regions had the values of the first.
START_TEST(regions_with_long_names_are_told_apart) {
  static const char mesh[] = CAVUM_TEST_FOLDER "/msh/data/loaded-41t.msh";
  char letters[512] = "";
  for (int i = 0; i < 150; i++) strcat(letters, "\xc3\xa4");
  const char *const stems[] = {"the window of alumina on the side of the ", "x\xc3\xa4\xc3\xa4",
                               letters};
  for (size_t k = 0; k < sizeof stems / sizeof *stems; k++) {
    ck_assert_int_eq(run("sed 's/\"ceramic\"/\"%sleft\"/;s/\"vacuum\"/\"%sright\"/' %s >m.msh",
                         stems[k], stems[k], mesh),
                     0);
    for (int cell = 0; cell < 2; cell++) {
      ck_assert_int_eq(
          run("printf 'contour: {kind: mesh, file: m.msh, unit: m, axis: z, boundaries: "
              "{beam line: axis, faces: metal}, regions: {\"%sleft\": {eps_r: 4}, \"%sright\": "
              "{eps_r: %d}}}\\naccuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\\n' >%d.yaml "
              "&& "
              "$CAVUM solve %d.yaml -q -o %d.hdf",
              stems[k], stems[k], 1 + cell, cell, cell, cell),
          0);
    }
    ck_assert_int_eq(run("$CAVUM compare 0.hdf 1.hdf --json c.json --overwrite >table; iconv -f "
                         "UTF-8 -t UTF-8 table >/dev/null"),
                     0);
    const char *text = squeeze(), *row = strstr(text, "contour.regions.");
    ck_assert_ptr_nonnull(row);
    ck_assert_ptr_null(strstr(row + 1, "contour.regions."));
    ck_assert_ptr_nonnull(strstr(row, ".eps_r 1 2\n"));
    ck_assert_ptr_nonnull(strstr(read_text("c.json"), "contour.regions."));
  }
}
END_TEST

// Titles are there whole; a file name that is too long ends with dots and not within a letter.
START_TEST(long_names_keep_whole_letters) {
  char title[200] = "x", name[256] = "y";
  for (int i = 0; i < 95; i++) strcat(title, "\xc3\xa4");
  for (int i = 0; i < 75; i++) strcat(name, "\xe2\x88\x9e");
  ck_assert_int_eq(run("sed '1,/^title/s/^title:.*/title: %s/' $CELLS/mid-cell.yaml >a.yaml && "
                       "$CAVUM solve -q a.yaml -o a.hdf && cp a.hdf %s.hdf",
                       title, name),
                   0);
  ck_assert_int_eq(run("$CAVUM compare a.hdf %s.hdf -o both.svg >table", name), 0);
  ck_assert_int_eq(run("iconv -f UTF-8 -t UTF-8 table >/dev/null"), 0);
  const char *text = read_text("table");
  char whole[300];
  snprintf(whole, sizeof whole, "A  a.hdf: %s, mode 1 TM010\n", title);
  must_contain(text, whole);
  must_contain(text, name);
  must_contain(read_text("both.svg"), "\xe2\x88\x9e...");
  ck_assert_int_eq(run("printf 'title: %s\\ncell: a.yaml\\nvary: {iris_radius_mm: [35, 36]}\\n' "
                       ">study.yaml && $CAVUM scan study.yaml -q -o s.hdf && "
                       "$CAVUM compare s.hdf s.hdf >table && iconv -f UTF-8 -t UTF-8 table",
                       title),
                   0);
  must_contain(read_text("table"), title);
}
END_TEST

// Studies: what differs in study and base cell, how many shapes, ranges, best shapes.
START_TEST(studies_are_compared) {
  static const char study[] =
      "title: %s\ncell: mid-cell.yaml\nvary: {iris_radius_mm: [%s]}\n"
      "linked: [iris_ellipse.axial_mm = iris_radius_mm / 3]\n"  // no shape has the last
      "figures: [epk_over_eacc, geometry_factor_ohm]\n";
  static const char *const rows[] = {
      "\nStudies: keys that differ A B\n vary.iris_radius_mm[2] 34.5 36\n",
      "\nBase cells: keys that differ A B\n none\n",
      "\n shapes 3 same\n done 2 same\n no-shape 1 same\n",
      "\n iris_radius_mm 34 to 34.5 34 to 36 mm\n", "\n smallest epk_over_eacc "};
  char text[512];
  snprintf(text, sizeof text, study, "One", "34.0, 34.5, 60.0");
  program_write_text(folder, "a.yaml", text);
  snprintf(text, sizeof text, study, "Two", "34.0, 36.0, 60.0");
  program_write_text(folder, "b.yaml", text);
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml . && $CAVUM scan -q a.yaml -o a.hdf && "
                       "$CAVUM scan -q b.yaml -o b.hdf"),
                   0);
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf -o x.html >table"), 0);
  const char *screen = squeeze();
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) must_contain(screen, rows[i]);
  const char *page = read_text("x.html");
  ck_assert_ptr_nonnull(strstr(page, "<h2 id=\"ranges\">"));
  ck_assert_ptr_nonnull(strstr(page, ">34 to 36<"));
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf -o x.png"), 2);
  ck_assert_int_eq(run("$CAVUM compare -q a.hdf b.hdf -o y.html"), 0);
  ck_assert_str_eq(read_text("out"), "");
  solve("r", "");
  ck_assert_int_eq(run("$CAVUM compare a.hdf r.hdf"), 2);
  must_contain(read_text("err"),
               "a.hdf and r.hdf: not of one kind: expected results of cells, or of studies");
}
END_TEST

// A picture says which file is which; -q leaves the table out where something is written.
// Studies whose keys agree may name a table, or a cell with a mesh, that changed: their
// fingerprints tell.
START_TEST(studies_tell_that_a_file_changed) {
  program_write_text(folder, "study.yaml", "cell: mid-cell.yaml\ntable: shapes.csv\n");
  ck_assert_int_eq(
      run("cp $CELLS/mid-cell.yaml . && printf 'iris_radius_mm\\n34\\n35\\n' >shapes.csv "
          "&& $CAVUM scan -q study.yaml -o a.hdf && $CAVUM scan -q study.yaml -o b.hdf && "
          "printf 'iris_radius_mm\\n34\\n36\\n' >shapes.csv && "
          "$CAVUM scan -q study.yaml -o c.hdf"),
      0);
  ck_assert_int_eq(run("$CAVUM compare a.hdf b.hdf >table"), 0);
  must_contain(squeeze(), "\nStudies: keys that differ A B\n none\n");
  ck_assert_int_eq(run("$CAVUM compare a.hdf c.hdf >table"), 0);
  const char *row = strstr(squeeze(), "\n fingerprint: a file that they name, or the version ");
  ck_assert_ptr_nonnull(row);
  unsigned prints[2];
  ck_assert_int_eq(sscanf(strstr(row, "version "), "version %8x %8x\n", &prints[0], &prints[1]), 2);
  ck_assert_uint_ne(prints[0], prints[1]);
  must_contain(row, "\nBase cells: keys that differ A B\n none\n");
}
END_TEST

START_TEST(pictures_name_their_files_and_quiet_prints_nothing) {
  solve("before", "");
  solve("after", "s/^  iris_radius_mm: 35.0/  iris_radius_mm: 36.0/");
  ck_assert_int_eq(run("$CAVUM compare before.hdf after.hdf -q -o both.svg --json both.json"), 0);
  ck_assert_str_eq(read_text("out"), "");
  const char *svg = read_text("both.svg");
  must_contain(svg, "A  before.hdf: ");
  must_contain(svg, "B  after.hdf: ");
  must_contain(read_text("both.json"), "after.hdf");
  ck_assert_int_eq(run("$CAVUM compare before.hdf after.hdf -q"), 2);
  must_contain(read_text("err"), "--quiet: nothing is written");
}
END_TEST

// Searches by the titles of their goals, on the screen and in pictures of any number of files.
START_TEST(searches_are_named_by_their_goals) {
  static const char goal[] =
      "title: Goal %s\ncell: cell.yaml\nvary: {iris_ellipse.axial_mm: {from: %d, to: %d}}\n"
      "minimise: bpk_over_eacc_mT_per_MV_per_m\nstarts: 1\n";
  ck_assert_int_eq(run("cp $CELLS/mid-cell.yaml cell.yaml"), 0);
  for (int k = 0; k < 2; k++) {
    char text[512];
    snprintf(text, sizeof text, goal, k ? "two" : "one", 10 + k, 12 + k);
    program_write_text(folder, "goal.yaml", text);
    ck_assert_int_eq(run("$CAVUM optimise goal.yaml -q -o best-%d.hdf", k), 0);
  }
  ck_assert_int_eq(run("$CAVUM compare best-0.hdf best-1.hdf -o two.svg"), 0);
  must_contain(read_text("out"), "goal: Goal one, mode 1");
  must_contain(read_text("out"), "goal: Goal two, mode 1");
  must_contain(read_text("two.svg"), "A  best-0.hdf (goal: Goal one): ");
  must_contain(read_text("two.svg"), "B  best-1.hdf (goal: Goal two): ");
  ck_assert_int_eq(run("$CAVUM compare -q best-0.hdf best-1.hdf best-1.hdf -o three.svg"), 0);
  must_contain(read_text("three.svg"), "best-0.hdf (goal: Goal one): ");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, every_input_that_differs_is_listed, 0,
                      (int)(sizeof changes / sizeof *changes));
  tcase_add_test(tests, pieces_of_a_path_are_those_of_its_file);
  tcase_add_test(tests, lengths_have_the_digits_of_the_file);
  tcase_add_test(tests, differences_stand_where_they_are_significant);
  tcase_add_test(tests, what_is_shown_as_the_same_has_no_difference);
  tcase_add_test(tests, results_are_compared_on_a_page);
  tcase_add_test(tests, rows_say_one_thing_once);
  tcase_add_test(tests, each_result_has_its_own_basis_and_unit);
  tcase_add_test(tests, long_names_keep_whole_letters);
  tcase_add_test(tests, regions_with_long_names_are_told_apart);
  tcase_add_test(tests, moved_cells_have_all_their_inputs);
  tcase_add_test(tests, a_mesh_file_that_changed_is_told);
  tcase_add_test(tests, studies_are_compared);
  tcase_add_test(tests, studies_tell_that_a_file_changed);
  tcase_add_test(tests, pictures_name_their_files_and_quiet_prints_nothing);
  tcase_add_test(tests, searches_are_named_by_their_goals);
}

CAVUM_TEST_MAIN("compare", add_tests)
