// SPDX-License-Identifier: GPL-3.0-or-later
// What a program does without files: numbers of a cell by their keys, a dimension tuned, studies
// and meshes from memory, the setup of a cold test from a result, messages.
#include <math.h>
#include <string.h>

#include "cavum/cavum.h"
#include "support.h"
#include "temporary_folder.h"
#include "test_cell.h"

static cavum_cell read_cell(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

static double get(const cavum_cell *cell, const char *key) {
  double value = NAN;
  cavum_error error = {0};
  cavum_status status = cavum_cell_get(&value, cell, key, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return value;
}

static void set(cavum_cell *cell, const char *key, double value) {
  cavum_error error = {0};
  cavum_status status = cavum_cell_set(cell, key, value, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
}

static void refuse(cavum_cell *cell, const char *key, double value, cavum_status status,
                   const char *words) {
  cavum_error error = {0};
  uint64_t before = cavum_cell_digest(cell);
  ck_assert_int_eq(cavum_cell_set(cell, key, value, &error), status);
  ck_assert_msg(strstr(error.message, words), "%s", error.message);
  ck_assert(cavum_cell_digest(cell) == before);
}

#define TUBE_CELL                                              \
  TEST_CELL_CONTOUR                                            \
  "ends:\n  left: {kind: magnetic}\n"                          \
  "  right: {kind: tube, length_mm: 120.0, close: electric}\n" \
  "wall: {kind: niobium, temperature_K: 2.0, residual_nohm: 5.0}\n"

START_TEST(numbers_have_keys) {
  cavum_cell cell = read_cell(TUBE_CELL);
  cavum_cell_key_info info;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_cell_describe_key(&info, &cell, "iris_radius_mm", &error), CAVUM_OK);
  ck_assert_str_eq(info.key, "contour.iris_radius_mm");
  ck_assert_str_eq(info.unit, "mm");
  ck_assert(info.value == 1e3 * cell.left.iris_radius_m && info.low > 0.0 && info.high > 1e3);
  set(&cell, "contour.iris_radius_mm", 36.5);
  // One rounding from millimetres; the tube was as wide as the iris.
  CAVUM_CHECK_RELATIVE(cell.left.iris_radius_m, 0.0365, 2.3e-16);
  ck_assert(cell.right.iris_radius_m == cell.left.iris_radius_m);
  ck_assert(cell.right_end.tube_radius_m == cell.right.iris_radius_m);
  set(&cell, "ends.right.length_mm", 100.0);
  CAVUM_CHECK_RELATIVE(cell.right_end.tube_length_m, 0.1, 2.3e-16);
  set(&cell, "right.iris_ellipse.axial_mm", 11.0);
  CAVUM_CHECK_RELATIVE(get(&cell, "contour.right.iris_ellipse.axial_mm"), 11.0, 4.5e-16);
  set(&cell, "beta", 0.9);
  ck_assert(cell.beta == 0.9);
  set(&cell, "wall.temperature_K", 1.8);
  CAVUM_CHECK_RELATIVE(get(&cell, "wall.temperature_K"), 1.8, 2.3e-16);
  ck_assert(cell.wall.temperature_k == 1.8 && cell.beta == 0.9);
  refuse(&cell, "iris_ellipse.axial_mm", 12.0, CAVUM_ERR_INPUT, "the halves differ");
  refuse(&cell, "iris_radius_mm", -1.0, CAVUM_ERR_INPUT, "must lie between");
  refuse(&cell, "iris_radius_mm", NAN, CAVUM_ERR_INPUT, "must lie between");
  refuse(&cell, "iris_radus_mm", 30.0, CAVUM_ERR_INPUT, "the cell has no number");
  refuse(&cell, "ends.left.length_mm", 30.0, CAVUM_ERR_INPUT, "the cell has no number");
  refuse(&cell, "", 30.0, CAVUM_ERR_INPUT, "the cell has no number");
  ck_assert_int_eq(cavum_cell_set(&cell, NULL, 1.0, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_cell_set(NULL, "beta", 1.0, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_cell_get(NULL, &cell, "beta", &error), CAVUM_ERR_USAGE);
  cavum_cell_clear(&cell);
}
END_TEST

#define PATH_CELL                                                      \
  "contour:\n  kind: path\n  start: {z_mm: 0.0, r_mm: 0.0}\n  path:\n" \
  "    - {line_to: {z_mm: 100.0, r_mm: 0.0}, boundary: axis}\n"        \
  "    - {line_to: {z_mm: 100.0, r_mm: 90.0}, boundary: metal}\n"      \
  "    - {line_to: {z_mm: 0.0, r_mm: 90.0}, boundary: metal}\n"        \
  "    - {line_to: {z_mm: 0.0, r_mm: 0.0}, boundary: metal}\n"

START_TEST(numbers_of_a_path_have_keys) {
  cavum_cell cell = read_cell(PATH_CELL);
  CAVUM_CHECK_RELATIVE(get(&cell, "contour.path[2].line_to.r_mm"), 90.0, 2.3e-16);
  set(&cell, "path[2].line_to.r_mm", 80.0);
  set(&cell, "path[3].line_to.r_mm", 80.0);
  CAVUM_CHECK_RELATIVE(cell.path.curves[1].end.r_m, 0.08, 2.3e-16);
  // Filled in memory: no text to look into.
  free(cell.text);
  cell.text = NULL;
  set(&cell, "path[2].line_to.r_mm", 85.0);
  CAVUM_CHECK_RELATIVE(cell.path.curves[1].end.r_m, 0.085, 2.3e-16);
  refuse(&cell, "path[2].line_to.r_mm", -10.0, CAVUM_ERR_INPUT, "must not be negative");
  refuse(&cell, "path[2].line_to.z_mm", -50.0, CAVUM_ERR_GEOMETRY, "");  // the wall crosses itself
  refuse(&cell, "path[9].line_to.r_mm", 10.0, CAVUM_ERR_INPUT, "the cell has no number");
  cavum_cell_clear(&cell);
}
END_TEST

static cavum_status tune(cavum_result **result, cavum_cell *cell, cavum_tune_request request,
                         cavum_error *error) {
  cavum_solver *solver = NULL;
  ck_assert_int_eq(cavum_solver_create(&solver, NULL, error), CAVUM_OK);
  cavum_status status = cavum_tune(result, cell, solver, &request, error);
  cavum_solver_destroy(&solver);
  return status;
}

START_TEST(a_dimension_is_tuned) {
  cavum_error error = {0};
  cavum_result *result = NULL;
  cavum_cell cell = read_cell(TEST_CELL);
  cavum_tune_request request = cavum_tune_request_default();
  request.key = "equator_radius_mm";
  request.frequency_hz = 1.3e9;
  ck_assert_msg(tune(&result, &cell, request, &error) == CAVUM_OK, "%s", error.message);
  double tuned = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value;
  CAVUM_CHECK_RELATIVE(tuned, 1.3e9, cell.accuracy_frequency);  // what was asked for
  ck_assert(cell.left.equator_radius_m == cell.right.equator_radius_m);
  cavum_result_destroy(&result);
  // The cell that is handed back has this frequency, by itself.
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, &error), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(result->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value, 1.3e9,
                       2.0 * cell.accuracy_frequency);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(what_cannot_be_tuned_is_refused) {
  cavum_error error = {0};
  cavum_result *result = NULL;
  cavum_cell cell = read_cell(TEST_CELL);
  uint64_t before = cavum_cell_digest(&cell);
  cavum_tune_request good = cavum_tune_request_default(), r;
  good.key = "equator_radius_mm";
  good.frequency_hz = 1.3e9;
  r = good;
  r.frequency_hz = 9e9;
  r.low = 95.0;
  r.high = 110.0;
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_RANGE);
  ck_assert_ptr_nonnull(strstr(error.message, "9000 MHz was asked for"));
  r = good;
  r.frequency_hz = NAN;
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_USAGE);
  r = good;
  r.mode = 7;
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_USAGE);
  r = good;
  r.low = 2.0;
  r.high = 1.0;
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_USAGE);
  r = good;
  r.key = NULL;
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_USAGE);
  r = good;
  r.struct_size = 0;
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_USAGE);
  r = good;
  r.key = "equator_radus_mm";
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_INPUT);
  r = good;
  r.low = 5.0;
  r.high = 20.0;  // smaller than the iris
  ck_assert_int_eq(tune(&result, &cell, r, &error), CAVUM_ERR_GEOMETRY);
  ck_assert_ptr_null(result);
  ck_assert(cavum_cell_digest(&cell) == before);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_study_needs_no_file) {
  cavum_error error = {0};
  cavum_study *study = NULL;
  cavum_cell cell = read_cell(TEST_CELL), made;
  const char *text = "vary: {iris_radius_mm: {from: 35, to: 36, points: 2}}\n";
  cavum_status status = cavum_study_open_text(&study, text, strlen(text), NULL, &cell, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cavum_study_num_shapes(study), 2);
  ck_assert_ptr_null(cavum_study_file_path(study, CAVUM_STUDY_FILE));
  ck_assert_ptr_null(cavum_study_file_path(study, CAVUM_STUDY_CELL_FILE));
  double value = 35.5;
  cavum_cell_set_defaults(&made);
  ck_assert_int_eq(cavum_study_make_cell(&made, study, &value, &error), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(made.left.iris_radius_m, 0.0355, 2.3e-16);
  cavum_cell_clear(&made);
  cavum_study_close(&study);
  ck_assert_int_eq(cavum_study_open_text(&study, text, strlen(text), NULL, NULL, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "missing key 'cell'"));
  ck_assert_int_eq(cavum_study_open_text(&study, "a\0b", 3, NULL, &cell, &error), CAVUM_ERR_INPUT);
  ck_assert_int_eq(cavum_study_open_text(&study, NULL, 0, NULL, &cell, &error), CAVUM_ERR_USAGE);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(a_mesh_needs_no_file) {
  cavum_error error = {0};
  char folder[128], path[192], data[1 << 16];
  cavum_contour contour = {0};
  cavum_mesh mesh = {0}, back = {0};
  cavum_cell cell = read_cell(TEST_CELL);
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/cell.msh", folder);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_mesh_from_contour(&mesh, &contour, NULL, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_mesh_write_msh(&mesh, path, 2, 1.0, false, &error), CAVUM_OK);
  FILE *file = fopen(path, "rb");
  size_t size = fread(data, 1, sizeof data, file);
  fclose(file);
  temporary_folder_delete(folder);
  const cavum_mesh_source source = {.unit_m = 1.0, .axis = 'x'};
  cavum_status status = cavum_mesh_read_msh_data(&back, NULL, &source, data, size, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(back.num_elements, mesh.num_elements);
  cavum_mesh_clear(&back);
  ck_assert_int_eq(cavum_mesh_read_msh_data(&back, NULL, &source, data, size / 2, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_int_eq(strncmp(error.message, "mesh:", 5), 0);
  ck_assert_int_eq(cavum_mesh_read_msh_data(&back, NULL, &source, NULL, 0, &error),
                   CAVUM_ERR_USAGE);
  cavum_mesh_clear(&mesh);
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

static void check_estimate(cavum_estimate a, cavum_estimate b, double tolerance) {
  CAVUM_CHECK_RELATIVE(a.value, b.value, tolerance);
  CAVUM_CHECK_RELATIVE(a.uncertainty, b.uncertainty, tolerance);
  ck_assert_int_eq(a.distribution, b.distribution);
}

// A numerical uncertainty is the half width of a rectangular distribution, whose standard deviation
// is 1 / sqrt(3) of it [JCGM100] 4.3.7.
static void check_rectangle(cavum_estimate estimate, const cavum_figure *figure) {
  CAVUM_CHECK_RELATIVE(estimate.value, figure->value, 0.0);
  CAVUM_CHECK_RELATIVE(estimate.uncertainty, figure->uncertainty / sqrt(3.0), 1e-15);
  ck_assert(figure->uncertainty > 0.0);
  ck_assert_int_eq(estimate.distribution, CAVUM_DISTRIBUTION_RECTANGULAR);
}

// The same as by way of a file, but for two roundings of B_pk/E_acc, which has another unit there.
START_TEST(a_mode_sets_up_a_cold_test) {
  cavum_error error = {0};
  char folder[128];
  cavum_result *result = NULL;
  cavum_coldtest_file file = {.setup = cavum_coldtest_setup_default(), .result_mode = 1};
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  cavum_wall_weighting wall;
  cavum_wall_pressure pressure;
  cavum_solve_options options = cavum_solve_options_default();
  options.profiles = true;
  // A path has no stated length: it goes with the wavelength of the mode.
  cavum_cell cell = read_cell(PATH_CELL "modes: {count: 2}\n");
  temporary_folder_make(folder);
  snprintf(file.result_path, sizeof file.result_path, "%s/r.hdf", folder);
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_store_write_result(file.result_path, result, &cell, &options, &error),
                   CAVUM_OK);
  ck_assert_int_eq(cavum_store_read_coldtest_geometry(&file, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_coldtest_take_mode(&setup, &wall, &pressure, result, 1, &error), CAVUM_OK);
  temporary_folder_delete(folder);
  check_estimate(setup.r_over_q_linac_ohm, file.setup.r_over_q_linac_ohm, 1e-15);
  check_estimate(setup.geometry_factor_ohm, file.setup.geometry_factor_ohm, 1e-15);
  check_estimate(setup.epk_over_eacc, file.setup.epk_over_eacc, 1e-15);
  check_estimate(setup.bpk_over_eacc_t_per_v_per_m, file.setup.bpk_over_eacc_t_per_v_per_m, 1e-15);
  double hz = result->modes[1].figures[CAVUM_FIGURE_FREQUENCY].value;
  ck_assert(setup.frequency_hz == hz && setup.cell_frequency_hz == hz);
  ck_assert(file.setup.cell_frequency_hz == hz);
  CAVUM_CHECK_RELATIVE(setup.accelerating_length_m.value, 0.5 * 299792458.0 / hz, 1e-14);
  CAVUM_CHECK_RELATIVE(file.setup.accelerating_length_m.value, 0.5 * 299792458.0 / hz, 1e-14);
  // V = E_acc L by definition, also for this mode.
  const cavum_figure *f = result->modes[1].figures;
  CAVUM_CHECK_RELATIVE(f[CAVUM_FIGURE_VOLTAGE_AT_1_J].value / f[CAVUM_FIGURE_EACC_AT_1_J].value,
                       setup.accelerating_length_m.value, 1e-14);
  check_rectangle(setup.r_over_q_linac_ohm, &f[CAVUM_FIGURE_R_OVER_Q_LINAC]);
  check_rectangle(setup.geometry_factor_ohm, &f[CAVUM_FIGURE_GEOMETRY_FACTOR]);
  check_rectangle(setup.epk_over_eacc, &f[CAVUM_FIGURE_EPK_OVER_EACC]);
  check_rectangle(setup.bpk_over_eacc_t_per_v_per_m, &f[CAVUM_FIGURE_BPK_OVER_EACC]);
  ck_assert(wall.known && pressure.known);
  for (int n = 0; n < CAVUM_NUM_FIELD_TERMS; n++) {
    CAVUM_CHECK_RELATIVE(wall.moment[n], file.wall.moment[n], 1e-14);
  }
  CAVUM_CHECK_RELATIVE(pressure.force_n, file.wall_pressure.force_n, 1e-12);
  ck_assert_int_eq(cavum_coldtest_take_mode(&setup, NULL, NULL, result, 2, &error),
                   CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_coldtest_take_mode(&setup, NULL, NULL, NULL, 0, &error), CAVUM_ERR_USAGE);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

typedef struct heard {
  int count[3];
  char note[256], progress[256];
} heard;

static void hear(cavum_log_severity severity, const char *where, const char *message, void *data) {
  heard *h = data;
  h->count[severity]++;
  ck_assert(where[0] && message[0] && !strchr(message, '\n'));
  if (severity == CAVUM_LOG_NOTE) snprintf(h->note, sizeof h->note, "%s", message);
  if (severity == CAVUM_LOG_PROGRESS) snprintf(h->progress, sizeof h->progress, "%s", message);
}

START_TEST(a_solve_tells_what_it_does) {
  cavum_error error = {0};
  cavum_result *result = NULL;
  heard h = {{0}, "", ""};
  cavum_cell cell = read_cell(TEST_CELL "accuracy: {peak_field: 1.0e-3}\n");
  cavum_solve_options options = cavum_solve_options_default();
  options.log = hear;
  options.log_data = &h;
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, &error), CAVUM_OK);
  ck_assert_int_ge(h.count[CAVUM_LOG_PROGRESS], 1);
  ck_assert_ptr_nonnull(strstr(h.progress, "elements, degree"));
  ck_assert_int_eq(h.count[CAVUM_LOG_NOTE], 1);
  ck_assert_str_eq(h.note, cell.note);
  ck_assert_int_eq(h.count[CAVUM_LOG_WARNING], result->num_warnings);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(texts_are_freed_by_the_library) {
  cavum_cell cell = read_cell(TEST_CELL);
  char *text = NULL;
  ck_assert_int_eq(cavum_cell_to_text(&text, &cell, NULL), CAVUM_OK);
  cavum_free(text);
  cavum_free(NULL);
  cavum_cell_clear(&cell);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, numbers_have_keys);
  tcase_add_test(tests, numbers_of_a_path_have_keys);
  tcase_add_test(tests, a_dimension_is_tuned);
  tcase_add_test(tests, what_cannot_be_tuned_is_refused);
  tcase_add_test(tests, a_study_needs_no_file);
  tcase_add_test(tests, a_mesh_needs_no_file);
  tcase_add_test(tests, a_mode_sets_up_a_cold_test);
  tcase_add_test(tests, a_solve_tells_what_it_does);
  tcase_add_test(tests, texts_are_freed_by_the_library);
}

CAVUM_TEST_MAIN("embedding", add_tests)
