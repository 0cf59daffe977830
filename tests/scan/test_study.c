// SPDX-License-Identifier: GPL-3.0-or-later
// Study files: names, linked quantities, tables, and one line for what is wrong.
#include <string.h>

#include "scan/study.h"
#include "study_files.h"
#include "support.h"

static study_files files;

static cavum_study *open_study(const char *cell, const char *study) {
  study_files_make(&files, cell, study);
  return study_files_open(&files);
}

static void close_study(cavum_study *study) {
  cavum_study_close(&study);
  temporary_folder_delete(files.folder);
}

static cavum_cell cell_of_shape(cavum_study *study, int64_t shape) {
  double values[64];
  cavum_cell cell;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_study_sample(values, study, shape, &error), CAVUM_OK);
  cavum_status status = cavum_study_make_cell(&cell, study, values, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

// A value set by name must be the same double as when it stands in the cell file: 36.7 mm there.
START_TEST(names_set_what_the_file_would) {
  cavum_study *study = open_study(STUDY_CELL, "cell: cell.yaml\nvary: {iris_radius_mm: [36.7]}\n");
  cavum_cell scanned = cell_of_shape(study, 0), read;
  char text[] = STUDY_CELL;
  memcpy(strstr(text, "iris_radius_mm: 35.0"), "iris_radius_mm: 36.7", 20);
  ck_assert_int_eq(cavum_cell_read_text(&read, text, strlen(text), "text", NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(scanned.left.iris_radius_m, read.left.iris_radius_m, 0.0);
  CAVUM_CHECK_NEAR(scanned.right.iris_radius_m, read.right.iris_radius_m, 0.0);
  CAVUM_CHECK_NEAR(scanned.left.equator_radius_m, read.left.equator_radius_m, 0.0);
  ck_assert(cavum_cell_is_mirror_symmetric(&scanned));
  cavum_cell_clear(&scanned);
  cavum_cell_clear(&read);
  close_study(study);
}
END_TEST

// The right half of this cell has its own iris radius and keeps it; its tube is as wide as that.
START_TEST(halves_that_say_otherwise_keep_their_own) {
  cavum_study *study = open_study(
      STUDY_END_CELL,
      "cell: cell.yaml\nvary:\n  iris_radius_mm: [33.0]\n  ends.right.length_mm: [90.0]\n");
  cavum_cell cell = cell_of_shape(study, 0);
  // Numbers written as in the file are the same doubles.
  CAVUM_CHECK_NEAR(cell.left.iris_radius_m, 33.0 / 1e3, 0.0);
  CAVUM_CHECK_NEAR(cell.right.iris_radius_m, 36.5 / 1e3, 0.0);
  CAVUM_CHECK_NEAR(cell.right_end.tube_radius_m, 36.5 / 1e3, 0.0);
  CAVUM_CHECK_NEAR(cell.right_end.tube_length_m, 90.0 / 1e3, 0.0);
  cavum_cell_clear(&cell);
  close_study(study);
}
END_TEST

// That of a cell with a tube is refused, unless the tube is to be dropped for it.
START_TEST(coupling_of_the_inner_cell) {
  cavum_study *study = open_study(STUDY_END_CELL,
                                  "cell: cell.yaml\nvary: {iris_radius_mm: [33.0]}\n"
                                  "coupling: inner-cell\n");
  ck_assert_int_eq(cavum_study_num_shapes(study), 1);
  cavum_study_close(&study);
}
END_TEST

START_TEST(linked_quantities_follow) {
  cavum_study *study = open_study(STUDY_END_CELL,
                                  "cell: cell.yaml\n"
                                  "vary: {iris_radius_mm: [33.0], half_length_mm: [56.0]}\n"
                                  "linked:\n"
                                  "  - right.iris_radius_mm = iris_radius_mm + 2.5\n"
                                  "  - right.half_length_mm = left.half_length_mm - "
                                  "right.iris_radius_mm/10\n"
                                  "  - beta = min(1, equator_radius_mm/100)\n");
  cavum_cell cell = cell_of_shape(study, 0);
  // One or two roundings of the arithmetic.
  CAVUM_CHECK_RELATIVE(cell.right.iris_radius_m, 35.5e-3, 1e-15);
  CAVUM_CHECK_RELATIVE(cell.right_end.tube_radius_m, 35.5e-3, 1e-15);
  CAVUM_CHECK_RELATIVE(cell.right.half_length_m, (56.0 - 3.55) * 1e-3, 1e-15);
  CAVUM_CHECK_RELATIVE(cell.left.half_length_m, 56.0e-3, 1e-15);
  CAVUM_CHECK_NEAR(cell.beta, 1.0, 0.0);
  cavum_cell_clear(&cell);
  close_study(study);
}
END_TEST

// By its own name an expression means what the quantity would be without it: the half follows what
// is varied.
START_TEST(linked_quantity_may_change_what_it_would_follow) {
  cavum_study *study = open_study(STUDY_CELL,
                                  "cell: cell.yaml\n"
                                  "vary: {iris_radius_mm: [33.0, 36.0]}\n"
                                  "linked: [right.iris_radius_mm = right.iris_radius_mm + 1]\n");
  cavum_cell cell = cell_of_shape(study, 1);
  CAVUM_CHECK_RELATIVE(cell.left.iris_radius_m, 36.0e-3, 1e-15);
  CAVUM_CHECK_RELATIVE(cell.right.iris_radius_m, 37.0e-3, 1e-15);
  cavum_cell_clear(&cell);
  close_study(study);
}
END_TEST

START_TEST(any_number_of_a_path_can_vary) {
  char path[256], text[8192] = "";
  snprintf(path, sizeof path, "%s/pillbox.yaml", CAVUM_CELLS_FOLDER);
  FILE *file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  ck_assert(fread(text, 1, sizeof text - 1, file) > 0);
  fclose(file);
  cavum_cell base;
  ck_assert_int_eq(cavum_cell_read_text(&base, text, strlen(text), "pillbox", NULL), CAVUM_OK);
  double radius_mm = 0.0;
  for (cavum_index i = 0; i < base.path.num_curves; i++) {
    radius_mm = fmax(radius_mm, 1e3 * base.path.curves[i].start.r_m);
  }
  cavum_study *study = open_study(text,
                                  "cell: cell.yaml\n"
                                  "vary:\n"
                                  "  contour.path[2].line_to.r_mm: [70.5, 80.25]\n"
                                  "linked: ['contour.path[3].line_to.r_mm = "
                                  "contour.path[2].line_to.r_mm']\n");
  cavum_cell cell = cell_of_shape(study, 1);
  double largest_m = 0.0;
  for (cavum_index i = 0; i < cell.path.num_curves; i++) {
    largest_m = fmax(largest_m, cell.path.curves[i].start.r_m);
  }
  printf("the file has %.9g mm\n", radius_mm);
  CAVUM_CHECK_NEAR(largest_m, 80.25 / 1e3, 0.0);
  cavum_cell_clear(&cell);
  cavum_cell_clear(&base);
  close_study(study);
}
END_TEST

// 200 rows: the blocks of a table are read in any order. A spreadsheet put its mark first.
START_TEST(table_rows) {
  char path[192], text[8192] = "\xEF\xBB\xBFiris_radius_mm,\"iris_ellipse.axial_mm\"\r\n";
  for (int i = 0; i < 200; i++) {
    snprintf(text + strlen(text), sizeof text - strlen(text), "%g, %g\n%s", 30.0 + 0.01 * i,
             12.0 - 0.02 * i, i == 70 ? "\n" : "");
  }
  study_files_make(&files, STUDY_CELL, "cell: cell.yaml\ntable: shapes.csv\n");
  snprintf(path, sizeof path, "%s/shapes.csv", files.folder);
  study_files_write(path, text);
  cavum_study *study = study_files_open(&files);
  ck_assert_int_eq(cavum_study_num_shapes(study), 200);
  static const int rows[] = {199, 0, 63, 64, 71, 128};
  for (int i = 0; i < 6; i++) {
    double values[2];
    ck_assert_int_eq(cavum_study_sample(values, study, rows[i], NULL), CAVUM_OK);
    // Six digits were written.
    CAVUM_CHECK_NEAR(values[0], 30.0 + 0.01 * rows[i], 1e-12);
    CAVUM_CHECK_NEAR(values[1], 12.0 - 0.02 * rows[i], 1e-12);
  }
  close_study(study);
}
END_TEST

// Columns say what single solves say figure by figure.
START_TEST(what_rests_on_a_fit_says_so) {
  static const char *const keys[] = {"q0", "shunt_impedance_linac_ohm",
                                     "wall_power_at_1_MV_per_m_W"};
  static const char *const walls[] = {
      "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 5.0}\n",
      "wall: {kind: metal, conductivity_S_per_m: 5.8e7}\n"};
  for (int w = 0; w < 2; w++) {
    char cell[1024];
    int count = 0, found = 0;
    snprintf(cell, sizeof cell, "%s%s", STUDY_CELL, walls[w]);
    cavum_study *study = open_study(cell, "cell: cell.yaml\nvary: {iris_radius_mm: [34.0]}\n");
    const cavum_column *columns = cavum_study_columns(&count, study);
    for (int i = 0; i < count; i++) {
      for (int k = 0; k < 3; k++) {
        if (strcmp(columns[i].key, keys[k]) != 0) continue;
        bool said = strstr(columns[i].definition, "with R_s of the fit") != NULL;
        ck_assert_msg(said == (w == 0), "%s: %s", keys[k], columns[i].definition);
        found++;
      }
    }
    ck_assert_int_eq(found, 3);
    close_study(study);
  }
}
END_TEST

/** What is wrong with a study, and a piece of the message about it. */
typedef struct bad_study {
  const char *text, *expected;
} bad_study;

static const bad_study bad_studies[] = {
    {"vary: {iris_radius_mm: [1]}\n", "missing key 'cell'"},
    {"cell: cell.yaml\n", "vary, shapes and table"},
    {"cell: cell.yaml\nvary: {iris_radius: [1]}\n", "did you mean 'iris_radius_mm'"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1, 2x]}\n", "vary.iris_radius_mm[2]"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: {from: 3, to: 2, points: 4}}\n", "from < to"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: {from: 3, to: 4}}\n", "points is missing"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nsampling: {kind: sobol}\n",
     "points is missing"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nsampling: {kind: sobols, points: 3}\n",
     "expected grid, sobol"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlinked: [iris_radius_mm = 2]\n", "set twice"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlinked: [beta = 2 +* 3]\n", "character"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlinked: [beta = iris]\n", "'contour.iris'"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlinked: [beta]\n", "NAME = EXPRESSION"},
    // Each line would have another value of what the other sets.
    {"cell: cell.yaml\nvary: {half_length_mm: [57]}\nlinked: [right.iris_radius_mm = "
     "left.iris_radius_mm + 1, left.iris_radius_mm = 33]\n",
     "an expression above uses 'left.iris_radius_mm': set it before that"},
    {"cell: cell.yaml\nvary: {half_length_mm: [57]}\nlinked: [beta = "
     "left.iris_radius_mm / 40, iris_radius_mm = 33]\n",
     "an expression above uses 'left.iris_radius_mm': set it before that"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [33]}\nlinked: [right.iris_radius_mm = "
     "left.iris_radius_mm + 1, left.iris_radius_mm = right.iris_radius_mm]\n",
     "an expression above uses 'left.iris_radius_mm': set it before that"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nhold: {frequency_MHz: 1300, by: "
     "iris_radius_mm}\n",
     "set twice"},
    {"cell: cell.yaml\nvary: {ends.left.length_mm: [1]}\n",
     "the cell has no number 'ends.left.length_mm'"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nfigures: [q00]\n", "'q00' is not a figure"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nfigures: [q0]\n", "q0 needs a wall"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nfigures: [tube_cut_frequency_change_Hz]\n",
     "needs a tube"},
    {"cell: end.yaml\nvary: {iris_radius_mm: [1]}\ncoupling: yes\n",
     "study.yaml:3:11: coupling: needs"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlimits: {where: [epk < 2]}\n",
     "study.yaml:3:18: epk: neither a figure nor a number"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlimits: {where: [q0 > 2]}\n",
     "q0: the study does not keep it"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlimits: {where: [k_cc > 2]}\n",
     "k_cc: the study does not keep it"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlimits: {where: [beta]}\n",
     "is not a condition"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlimits: {where: [beta = 1]}\n", "written =="},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlimits:\n  where:\n    - 1 < beta < 2\n",
     "study.yaml:5:7: '1 < beta < 2': two comparisons in a row"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nlinked:\n  - beta = iris_radius_mm * 1,8\n",
     "study.yaml:4:5: 'iris_radius_mm * 1,8': a comma outside a function"},
    {"cell: cell.yaml\nvary: {iris_radius_mm: [1]}\nmode: 2\n", "asks for 1 mode only"},
    {"cell: none.yaml\nvary: {iris_radius_mm: [1]}\n", "none.yaml: cannot be opened"},
    {"cell: cell.yaml\ntable: none.csv\n", "none.csv: cannot be opened"},
};

START_TEST(bad_studies_get_one_line) {
  const bad_study *bad = &bad_studies[_i];
  cavum_study *study = NULL;
  cavum_error error = {0};
  study_files_make(&files, STUDY_CELL, bad->text);
  char end_cell[192];
  snprintf(end_cell, sizeof end_cell, "%s/end.yaml", files.folder);
  study_files_write(end_cell, STUDY_END_CELL);
  cavum_status status = cavum_study_open(&study, files.study, &error);
  printf("%s\n", error.message);
  ck_assert_int_ne(status, CAVUM_OK);
  ck_assert_ptr_null(study);
  ck_assert_int_eq(cavum_status_exit(status), 2);
  ck_assert_msg(strstr(error.message, bad->expected) != NULL, "'%s' lacks '%s'", error.message,
                bad->expected);
  ck_assert_ptr_null(strchr(error.message, '\n'));
  temporary_folder_delete(files.folder);
}
END_TEST

// Other writers of YAML make `true` of `yes`.
START_TEST(true_is_yes) {
  static const struct {
    const char *word;
    bool coupling;
  } words[] = {{"yes", true}, {"true", true}, {"no", false}, {"false", false}};
  for (int i = 0; i < 4; i++) {
    char text[128];
    snprintf(text, sizeof text, "cell: cell.yaml\nvary: {iris_radius_mm: [33]}\ncoupling: %s\n",
             words[i].word);
    cavum_study *study = open_study(STUDY_CELL, text);
    ck_assert(study->coupling == words[i].coupling);
    ck_assert(!study->coupling_of_inner_cell);
    close_study(study);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, true_is_yes);
  tcase_add_test(tests, names_set_what_the_file_would);
  tcase_add_test(tests, halves_that_say_otherwise_keep_their_own);
  tcase_add_test(tests, coupling_of_the_inner_cell);
  tcase_add_test(tests, linked_quantities_follow);
  tcase_add_test(tests, linked_quantity_may_change_what_it_would_follow);
  tcase_add_test(tests, any_number_of_a_path_can_vary);
  tcase_add_test(tests, table_rows);
  tcase_add_test(tests, what_rests_on_a_fit_says_so);
  tcase_add_loop_test(tests, bad_studies_get_one_line, 0, sizeof bad_studies / sizeof *bad_studies);
}

CAVUM_TEST_MAIN("study", add)
