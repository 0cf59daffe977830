// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of studies as files: cells with a mesh, and columns whose names hold what CSV separates by.
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "support.h"
#include "temporary_folder.h"

// Square sections are enough: what the figures are does not matter here.
static const char CELL[] =
    "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
    "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: axis}\n"
    "    - {line_to: {z_mm: 80, r_mm: %g}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0, r_mm: %g}, boundary: metal}\n"
    "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n";
static const char WITH_MESH[] =
    "contour: {kind: mesh, file: cell.msh, unit: mm, axis: x}\n"
    "accelerating_length_mm: 80\nwall: {kind: metal, conductivity_S_per_m: 3.0e7}\n";

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }
static void tear_down(void) { temporary_folder_delete(folder); }

// A cylinder of this radius as cell.msh.
static void make_mesh(double radius_mm) {
  char cell[1024];
  snprintf(cell, sizeof cell, CELL, radius_mm, radius_mm);
  program_write_text(folder, "drawn.yaml", cell);
  ck_assert_int_eq(program_run(folder, "$CAVUM mesh drawn.yaml -o cell.msh --overwrite"), 0);
}

// Of a pillbox: f = c x01 / (2 pi R), with the first zero of J0.
static double pillbox_hz(double radius_m) {
  return 299792458.0 * 2.404825557695773 / (2.0 * acos(-1.0) * radius_m);
}

// What became of the mesh file, and where the cell of the row is written, changes nothing.
START_TEST(a_row_of_a_mesh_solves_anywhere) {
  make_mesh(100.0);
  program_write_text(folder, "cell.yaml", WITH_MESH);
  program_write_text(folder, "study.yaml",
                     "{cell: cell.yaml, vary: {wall.conductivity_S_per_m: [3.0e7, 5.0e7]}}\n");
  ck_assert_int_eq(program_run(folder, "$CAVUM scan study.yaml -q -o study.hdf"), 0);
  ck_assert_int_eq(program_run(folder, "$CAVUM scan --merge study.hdf study.hdf -o both.hdf"), 0);
  make_mesh(150.0);
  static const char *const results[] = {"study.hdf", "both.hdf"};
  for (int i = 0; i < 2; i++) {
    ck_assert_int_eq(program_run(folder,
                                 "mkdir -p sub && cp cell.msh sub && "
                                 "$CAVUM scan --shape 1 %s -o sub/row.yaml --overwrite",
                                 results[i]),
                     0);
    ck_assert_int_eq(program_run(folder, "$CAVUM solve sub/row.yaml -q --json -"), 0);
    const char *found = strstr(program_read_text(folder, "out"), "\"frequency_Hz\"");
    found = found ? strstr(found, "\"value\": ") : NULL;
    ck_assert_ptr_nonnull(found);
    // The accuracy that is asked for by default.
    double expected = pillbox_hz(0.1);
    CAVUM_CHECK_NEAR(strtod(found + strlen("\"value\": "), NULL), expected, 2e-6 * expected);
  }
}
END_TEST

// A study with a varied region of this name.
static void vary_region(const char *name) {
  char text[1024], key[256];
  snprintf(key, sizeof key, "regions.%s.eps_r", name);
  snprintf(text, sizeof text, "%s", WITH_MESH);
  snprintf(text, sizeof text,
           "contour: {kind: mesh, file: cell.msh, unit: mm, axis: x, regions: {'%s': {eps_r: 2}}}\n"
           "accelerating_length_mm: 80\n",
           name);
  program_write_text(folder, "cell.yaml", text);
  snprintf(text, sizeof text, "{cell: cell.yaml, vary: {'%s': [2, 3]}}\n", key);
  program_write_text(folder, "study.yaml", text);
}

// Renames the region of the mesh, which the mesher calls vacuum.
static void name_region(const char *name) {
  ck_assert_int_eq(
      program_run(folder, "sed -i 's|\"vacuum\"|\"%s\"|' cell.msh && grep -q '%s' cell.msh", name,
                  name),
      0);
}

START_TEST(a_heading_with_a_comma_is_one_field) {
  make_mesh(100.0);
  name_region("a,b");
  vary_region("a,b");
  ck_assert_int_eq(program_run(folder, "$CAVUM scan study.yaml -q -o study.hdf --csv rows.csv"), 0);
  // Python's reader of CSV is another one than ours.
  ck_assert_int_eq(
      program_run(folder,
                  "python3 -c \"import csv; rows = list(csv.DictReader(open('rows.csv')));"
                  " print([r['contour.regions.a,b.eps_r'] for r in rows], [r['status'] for r in "
                  "rows], [None in r for r in rows])\""),
      0);
  ck_assert_str_eq(program_read_text(folder, "out"),
                   "['2', '3'] ['done', 'done'] [False, False]\n");
}
END_TEST

// Such a name stands in quotes, in a link, a limit and a condition on rows.
START_TEST(a_name_with_a_space_stands_in_quotes) {
  make_mesh(100.0);
  name_region("the air");
  vary_region("the air");
  program_write_text(folder, "study.yaml",
                     "cell: cell.yaml\nvary: {regions.the air.eps_r: [2, 3, 4]}\n"
                     "linked: ['accelerating_length_mm = 80 + \"regions.the air.eps_r\"']\n"
                     "limits: {where: ['\"regions.the air.eps_r\" < 3.5']}\n");
  ck_assert_int_eq(program_run(folder, "$CAVUM scan study.yaml -q -o study.hdf"), 0);
  ck_assert_int_eq(program_run(folder,
                               "$CAVUM scan --summary study.hdf -q --csv rows.csv --where "
                               "\"'contour.regions.the air.eps_r' > 2.5 && status < 2\" && cut -d, "
                               "-f2,4,5 rows.csv"),
                   0);
  ck_assert_str_eq(program_read_text(folder, "out"),
                   "status,contour.regions.the air.eps_r,accelerating_length_mm\n"
                   "done,3,83\nexcluded,4,84\n");
  ck_assert_int_eq(program_run(folder,
                               "$CAVUM scan --summary study.hdf --where 'regions.the air"
                               ".eps_r > 2'"),
                   2);
  printf("%s", program_read_text(folder, "err"));
}
END_TEST

// Refused before anything is computed, with the place.
START_TEST(what_cannot_be_a_column_is_refused) {
  static const char *const studies[] = {
      "{cell: cell.yaml,\n vary: {requirements.epk_over_eacc.most: [2, 3]}}\n",
      "{cell: cell.yaml,\n vary: {tolerances.half_length_mm.normal: [2, 3]}}\n",
      "{cell: cell.yaml,\n vary: {regions.a/b.eps_r: [2, 3]}}\n"};
  static const char *const messages[] = {"requirements stay as the cell file has them",
                                         "tolerances stay as the cell file has them",
                                         "rename the region"};
  program_write_text(
      folder, "cell.yaml",
      "contour: {kind: mesh, file: cell.msh, unit: mm, axis: x, regions: {a/b: {eps_r: "
      "2}}}\naccelerating_length_mm: 80\nrequirements: {epk_over_eacc: {most: 2}}\n"
      "tolerances: {half_length_mm: {normal: 0.1}}\n");
  make_mesh(100.0);
  program_write_text(folder, "study.yaml", studies[_i]);
  ck_assert_int_eq(program_run(folder, "$CAVUM scan study.yaml -q -o study.hdf"), 2);
  const char *said = program_read_text(folder, "err");
  fputs(said, stdout);
  ck_assert_ptr_nonnull(strstr(said, messages[_i]));
  ck_assert_ptr_nonnull(strstr(said, "study.yaml:2:"));
  ck_assert_int_eq(program_run(folder, "! ls study.hdf.parts"), 0);
}
END_TEST

// Every E_pk is unbounded at the edge of this tube: another figure has the axis.
START_TEST(cells_with_an_edge_have_pictures) {
  program_write_text(
      folder, "edge.yaml",
      "accelerating_length_mm: 80\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 120, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 120, r_mm: 20}, boundary: metal}\n"
      "    - {line_to: {z_mm: 80, r_mm: 20}, boundary: metal}\n"
      "    - {line_to: {z_mm: 80, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n");
  program_write_text(folder, "edges.yaml",
                     "{cell: edge.yaml, vary: {\"path[5].line_to.r_mm\": [99, 100, 101]}}\n");
  ck_assert_int_eq(program_run(folder,
                               "$CAVUM scan edges.yaml -q -o edges.hdf && "
                               "$CAVUM draw edges.hdf -o edges.svg && "
                               "$CAVUM report edges.hdf -o edges.html"),
                   0);
  const char *picture = program_read_text(folder, "edges.svg");
  ck_assert_ptr_nonnull(strstr(picture, "3 of them shown"));
  ck_assert_ptr_nonnull(strstr(picture, "R/Q (linac) in "));
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "edges.html"), "R/Q (linac) in "));
  // What is asked for is not replaced.
  ck_assert_int_eq(program_run(folder, "$CAVUM draw edges.hdf -o other.svg --x epk_over_eacc"), 2);
  ck_assert_ptr_nonnull(strstr(program_read_text(folder, "err"), "has all of epk_over_eacc"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_test(tests, a_row_of_a_mesh_solves_anywhere);
  tcase_add_test(tests, cells_with_an_edge_have_pictures);
  tcase_add_test(tests, a_heading_with_a_comma_is_one_field);
  tcase_add_test(tests, a_name_with_a_space_stands_in_quotes);
  tcase_add_loop_test(tests, what_cannot_be_a_column_is_refused, 0, 3);
}

CAVUM_TEST_MAIN("scan_rows", add)
