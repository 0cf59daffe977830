// SPDX-License-Identifier: GPL-3.0-or-later
// A cell whose mesh is in memory alone: it solves as the file would, its text and a result file
// hold the mesh, and a study takes it.
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "solving.h"
#include "support.h"
#include "temporary_folder.h"

static char *load(size_t *size, const char *name) {
  char path[256];
  snprintf(path, sizeof path, "%s/msh/data/%s", CAVUM_TEST_FOLDER, name);
  FILE *file = fopen(path, "rb");
  ck_assert_ptr_nonnull(file);
  enum { ROOM = 1 << 16 };
  char *data = malloc(ROOM);
  *size = fread(data, 1, ROOM, file);
  ck_assert_uint_lt(*size, ROOM);
  fclose(file);
  return data;
}

// The half disc of the files of meshes, from memory.
static cavum_cell disc_cell(const char *name) {
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_MESH_FILE;
  cell.mesh.unit_m = 1e-3;
  cell.mesh.axis = 'x';
  cell.mesh_data = load(&cell.mesh_size, name);
  cell.accuracy_frequency = 1e-3;
  cell.accuracy_other_figures = 0.1;
  return cell;
}

static void check_same_figures(const cavum_result *a, const cavum_result *b) {
  ck_assert_int_eq(a->num_modes, b->num_modes);
  ck_assert_mem_eq(a->modes[0].figures, b->modes[0].figures, sizeof a->modes[0].figures);
}

START_TEST(it_solves_as_the_file) {
  char path[256];
  const char *names[] = {"disc-mixed-3-41t.msh", "disc-mixed-3-41b.msh"};
  cavum_cell cell = disc_cell(names[_i]), of_file;
  cavum_result *result = solving_solve(&cell, NULL);
  cavum_cell_set_defaults(&of_file);
  of_file.kind = CAVUM_CONTOUR_MESH_FILE;
  of_file.mesh = cell.mesh;
  snprintf(path, sizeof path, "%s/msh/data/%s", CAVUM_TEST_FOLDER, names[_i]);
  of_file.mesh.path = path;
  of_file.accuracy_frequency = cell.accuracy_frequency;
  of_file.accuracy_other_figures = cell.accuracy_other_figures;
  cavum_result *expected = solving_solve(&of_file, NULL);
  printf("%.9g Hz\n", solving_value(&result->modes[0], CAVUM_FIGURE_FREQUENCY));
  check_same_figures(result, expected);
  cavum_result_destroy(&expected);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_result_file_holds_it) {
  const char *names[] = {"disc-mixed-3-41t.msh", "disc-mixed-3-41b.msh"};
  char folder[128], path[192];
  cavum_error error = {0};
  cavum_stored_origin origin = {0};
  cavum_cell cell = disc_cell(names[_i]);
  cavum_result *result = solving_solve(&cell, NULL), *read = NULL;
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/result.hdf", folder);
  cavum_status status = cavum_store_write_result(path, result, &cell, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  status = cavum_store_read_result(&read, &origin, path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_cell again = solving_read(origin.cell_text);
  ck_assert_uint_eq(again.mesh_size, cell.mesh_size);
  ck_assert_mem_eq(again.mesh_data, cell.mesh_data, cell.mesh_size);
  cavum_result *repeated = solving_solve(&again, NULL);
  check_same_figures(result, repeated);
  // One byte of the mesh, and it is no longer the cell that was solved.
  cell.mesh_data[cell.mesh_size / 2] ^= 1;
  ck_assert_int_eq(cavum_store_write_result(path, result, &cell, NULL, &error), CAVUM_ERR_USAGE);
  cavum_result_destroy(&repeated);
  cavum_result_destroy(&read);
  cavum_result_destroy(&result);
  cavum_stored_origin_clear(&origin);
  cavum_cell_clear(&again);
  cavum_cell_clear(&cell);
  temporary_folder_delete(folder);
}
END_TEST

START_TEST(what_is_wrong_with_it_is_said_as_of_a_file) {
  cavum_error error = {0};
  cavum_result *result = NULL;
  cavum_cell cell = disc_cell("disc-mixed-3-41t.msh");
  cell.mesh_size /= 2;
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_int_eq(strncmp(error.message, "mesh:", 5), 0);
  // A name that is empty is none.
  cell.mesh.path = strdup("");
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_ERR_INPUT);
  ck_assert_int_eq(strncmp(error.message, "mesh:", 5), 0);
  free(cell.mesh.path);
  cell.mesh.path = strdup("half a disc");
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_ERR_INPUT);
  ck_assert_int_eq(strncmp(error.message, "half a disc:", 12), 0);
  ck_assert_ptr_null(result);
  cavum_cell_clear(&cell);
}
END_TEST

static cavum_study *open_study(const cavum_cell *cell) {
  static const char text[] =
      "vary:\n  beta: {from: 0.5, to: 0.75}\nsampling: {kind: sobol, points: 4}\n";
  cavum_study *study = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_study_open_text(&study, text, strlen(text), NULL, cell, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return study;
}

// Whatever became of the cell of the program; and a study of the file of the same bytes has the
// same rows.
START_TEST(a_study_takes_it) {
  char path[256];
  double beta = 0.625;
  cavum_error error = {0};
  cavum_cell cell = disc_cell("disc-mixed-3-41t.msh"), made;
  cavum_study *study = open_study(&cell);
  snprintf(path, sizeof path, "%s/msh/data/disc-mixed-3-41t.msh", CAVUM_TEST_FOLDER);
  cavum_cell of_file = cell;
  of_file.mesh_data = NULL;
  of_file.mesh_size = 0;
  of_file.mesh.path = path;
  cavum_study *expected = open_study(&of_file);
  ck_assert_str_eq(cavum_study_settings(study), cavum_study_settings(expected));
  ck_assert_ptr_null(cavum_study_file_path(study, CAVUM_STUDY_MESH_FILE));
  cavum_status status = cavum_study_make_cell(&made, study, &beta, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_study_close(&study);
  cavum_study_close(&expected);
  cell.beta = beta;
  ck_assert_uint_eq(cavum_cell_digest(&made), cavum_cell_digest(&cell));
  ck_assert_ptr_ne(made.mesh_data, cell.mesh_data);
  cavum_cell_clear(&made);
  cell.mesh_data[cell.mesh_size / 2] ^= 1;
  study = open_study(&cell);
  cavum_cell_clear(&cell);
  cavum_study_close(&study);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, it_solves_as_the_file, 0, 2);
  tcase_add_loop_test(tests, a_result_file_holds_it, 0, 2);
  tcase_add_test(tests, what_is_wrong_with_it_is_said_as_of_a_file);
  tcase_add_test(tests, a_study_takes_it);
}

CAVUM_TEST_MAIN("store.mesh_in_memory", add_tests)
