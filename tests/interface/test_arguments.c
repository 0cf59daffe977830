// SPDX-License-Identifier: GPL-3.0-or-later
// Arguments and members that a program may get wrong: each is refused with a message that names it,
// none crashes, none is taken for something else.
#include <string.h>

#include "cavum/cavum.h"
#include "cavum/picture.h"
#include "study_files.h"
#include "support.h"
#include "test_cell.h"

static cavum_error error;

/** Refused with this status, and the message has this part. */
#define CHECK_REFUSED(call, expected, part)                                          \
  do {                                                                               \
    memset(&error, 0, sizeof error);                                                 \
    cavum_status status_ = (call);                                                   \
    printf("%s\n  %d %s\n", #call, (int)status_, error.message);                     \
    ck_assert_int_eq(status_, expected);                                             \
    ck_assert_msg(strstr(error.message, part), "'%s' in '%s'", part, error.message); \
  } while (0)

START_TEST(records_of_a_study) {
  study_files files;
  study_files_make(&files, STUDY_CELL,
                   "cell: cell.yaml\nvary:\n  iris_radius_mm: {from: 34.0, to: 35.0}\nsampling: "
                   "{kind: sobol, points: 4}\n");
  cavum_study *study = study_files_open(&files);
  cavum_scan_options options = cavum_scan_options_default();
  cavum_scan_records *records = NULL;
  cavum_scan_batch batch;
  options.workers = 1;
  const int columns[] = {-2, 9999};
  for (int i = 0; i < 2; i++) {
    options.watched_column = columns[i];
    CHECK_REFUSED(cavum_scan_run(NULL, study, files.output, &options, &error), CAVUM_ERR_USAGE,
                  "watched_column");
  }
  options.watched_column = -1;
  ck_assert_int_eq(cavum_scan_run(NULL, study, files.output, &options, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_scan_records_open(&records, study, files.output, NULL), CAVUM_OK);
  const int64_t odd[] = {-1, cavum_study_num_batches(study), 1000000000000, INT64_MIN};
  for (int i = 0; i < 4; i++) {
    CHECK_REFUSED(cavum_scan_records_read(&batch, records, odd[i], &error), CAVUM_ERR_RANGE,
                  "batch index");
  }
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
  temporary_folder_delete(files.folder);
}
END_TEST

static cavum_coldtest_setup good_setup(void) {
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  setup.r_over_q_linac_ohm.value = 110.0;
  setup.accelerating_length_m.value = 0.1154;
  setup.geometry_factor_ohm.value = 268.0;
  setup.frequency_hz = 1.289e9;
  setup.branch = CAVUM_BRANCH_OVER;
  return setup;
}

static cavum_coldtest_reading good_reading(void) {
  cavum_coldtest_reading reading = cavum_coldtest_reading_empty();
  reading.power_w[CAVUM_CHANNEL_FORWARD] = 0.84204;
  reading.power_w[CAVUM_CHANNEL_REFLECTED] = 0.00784;
  reading.power_w[CAVUM_CHANNEL_TRANSMITTED] = 0.0243;
  reading.decay_time_s = 0.8123;
  return reading;
}

#define CHECK_SETUP(change, part)                                                             \
  do {                                                                                        \
    cavum_coldtest_setup setup = good_setup();                                                \
    change;                                                                                   \
    CHECK_REFUSED(cavum_coldtest_evaluate(&test, &setup, &readings, &error), CAVUM_ERR_INPUT, \
                  part);                                                                      \
  } while (0)

START_TEST(setups_of_cold_tests) {
  cavum_coldtest *test = NULL;
  cavum_coldtest_reading reading = good_reading();
  cavum_coldtest_readings readings = {.num_readings = 1, .items = &reading};
  cavum_coldtest_setup good = good_setup();
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, &good, &readings, NULL), CAVUM_OK);
  cavum_coldtest_monte_carlo outcome;
  CHECK_REFUSED(cavum_coldtest_run_monte_carlo(&outcome, test, 0, -5, &error), CAVUM_ERR_RANGE,
                "-5 draws");
  cavum_coldtest_destroy(&test);
  CHECK_SETUP(setup.q_external.distribution = (cavum_distribution)9,
              "q_external.distribution is 9");
  CHECK_SETUP(setup.coupling = (cavum_coupling_method)99, "coupling is 99");
  CHECK_SETUP(setup.branch = (cavum_branch)99, "branch is 99");
  CHECK_SETUP(setup.branch = (cavum_branch)-1, "branch is -1");
  CHECK_SETUP(setup.q0_method = (cavum_q0_method)99, "q0_method is 99");
  CHECK_SETUP(setup.num_limits = 99, "num_limits is 99, expected 0 to 16");
  CHECK_SETUP(setup.num_limits = -1, "num_limits is -1");
  CHECK_SETUP(setup.input_line_loss_db = -5.0, "input_line_loss_db is -5");
  CHECK_SETUP(setup.frequency_hz = NAN, "frequency_hz is nan");
  CHECK_SETUP(setup.forward_directivity_db = -2.0,
              "forward_directivity_db is -2, expected 0 or more");
  CHECK_SETUP(setup.directivity_db = -3.0, "directivity_db is -3, expected 0 or more");
  CHECK_SETUP(setup.decay_noise = 1.0, "decay_noise is 1, expected 0 to below 1");
  readings.num_runs = 2000000000;
  CHECK_SETUP((void)0, "num_runs is 2000000000");
  readings.num_runs = 0;
  reading.bath_temperature_k = -3.0;
  CHECK_SETUP((void)0, "reading 1: bath_temperature_k is -3");
  reading.bath_temperature_k = NAN;
  reading.branch = (cavum_branch)55;
  CHECK_SETUP((void)0, "reading 1: branch is 55, expected 0 to 2");
  reading.branch = CAVUM_BRANCH_UNKNOWN;
  CHECK_SETUP((void)0, "reading 1: branch is 3");
  readings = (cavum_coldtest_readings){.num_readings = -5};
  CHECK_REFUSED(cavum_coldtest_evaluate(&test, &good, &readings, &error), CAVUM_ERR_INPUT,
                "num_readings is -5");
  readings = (cavum_coldtest_readings){.num_readings = 0};
  CHECK_REFUSED(cavum_coldtest_evaluate(&test, &good, &readings, &error), CAVUM_ERR_INPUT,
                "no readings");
  ck_assert_int_eq(error.message[0], 'n');  // no name of no file before it
  readings = (cavum_coldtest_readings){.num_readings = 2};
  CHECK_REFUSED(cavum_coldtest_evaluate(&test, &good, &readings, &error), CAVUM_ERR_USAGE, "items");
}
END_TEST

START_TEST(texts_without_a_name) {
  cavum_coldtest_file file;
  CHECK_REFUSED(cavum_coldtest_file_read_text(&file, "title: x\n", 9, NULL, &error),
                CAVUM_ERR_INPUT, "text");
  cavum_cell cell;
  CHECK_REFUSED(cavum_cell_read_text(&cell, "title: x\n", 9, NULL, &error), CAVUM_ERR_INPUT,
                "text");
}
END_TEST

#define CHECK_PICTURE(change, part)                                                   \
  do {                                                                                \
    cavum_picture_options options = cavum_picture_options_default();                  \
    change;                                                                           \
    CHECK_REFUSED(cavum_picture_draw_result(&bytes, &size, result, &options, &error), \
                  CAVUM_ERR_RANGE, part);                                             \
    ck_assert_ptr_null(bytes);                                                        \
  } while (0)

START_TEST(pictures) {
  cavum_cell cell;
  cavum_result *result = NULL;
  char *bytes = NULL;
  size_t size = 0;
  ck_assert_int_eq(cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, NULL), CAVUM_OK);
  CHECK_PICTURE(options.format = (cavum_picture_format)9, "format 9");
  CHECK_PICTURE(options.format = (cavum_picture_format)-1, "format -1");
  CHECK_PICTURE(options.view = (cavum_picture_view)99, "view 99");
  CHECK_PICTURE(options.view = (cavum_picture_view)-1, "view -1");
  CHECK_PICTURE(options.field = (cavum_picture_field)99, "field 99");
  const cavum_result *results[2] = {result, NULL};
  const char *names[2] = {"a", "b"};
  int modes[2] = {0, 0};
  CHECK_REFUSED(cavum_picture_compare_results(&bytes, &size, results, names, modes, NULL, &error),
                CAVUM_ERR_USAGE, "NULL");
  cavum_coldtest_comparison comparison = {0};
  const cavum_coldtest_report *reports[1] = {NULL};
  CHECK_REFUSED(
      cavum_picture_draw_comparison(&bytes, &size, &comparison, -3, reports, NULL, &error),
      CAVUM_ERR_RANGE, "-3 cold tests");
  cavum_requirement odd = {.key = "x",
                           .kind = (cavum_requirement_kind)99,
                           .unit_si = 1.0,
                           .least = -INFINITY,
                           .most = INFINITY};
  ck_assert_int_eq(cavum_requirement_judge(&odd, &cell, result, 0).kind, CAVUM_VERDICT_ABSENT);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

#define CHECK_SOURCE(change, expected, part)                                                       \
  do {                                                                                             \
    char path[] = CAVUM_CELLS_FOLDER "/no-such.msh", name[] = "vacuum";                            \
    cavum_region region = {name, 1.0, 1.0};                                                        \
    cavum_boundary_name_map map = {name, CAVUM_BOUNDARY_METAL};                                    \
    cavum_mesh_source source = {.path = path,                                                      \
                                .unit_m = 1e-3,                                                    \
                                .axis = 'x',                                                       \
                                .num_regions = 1,                                                  \
                                .regions = &region,                                                \
                                .num_boundaries = 1,                                               \
                                .boundaries = &map};                                               \
    change;                                                                                        \
    CHECK_REFUSED(cavum_mesh_read_msh_data(&mesh, NULL, &source, "x", 1, &error), expected, part); \
  } while (0)

START_TEST(mesh_files) {
  cavum_mesh mesh = {0};
  CHECK_SOURCE(region.name = NULL, CAVUM_ERR_INPUT, "regions[0]");
  CHECK_SOURCE(source.regions = NULL, CAVUM_ERR_INPUT, "num_regions");
  CHECK_SOURCE(source.num_regions = -1, CAVUM_ERR_INPUT, "num_regions");
  CHECK_SOURCE(source.boundaries = NULL, CAVUM_ERR_INPUT, "num_boundaries");
  CHECK_SOURCE(map.name = NULL, CAVUM_ERR_INPUT, "boundaries[0]");
  CHECK_SOURCE(map.boundary = (cavum_boundary)77, CAVUM_ERR_INPUT, "boundaries[0] 'vacuum' is 77");
  CHECK_SOURCE(region.eps_r = NAN, CAVUM_ERR_INPUT, "eps_r nan");
  CHECK_SOURCE(region.eps_r = -4.0, CAVUM_ERR_INPUT, "eps_r -4");
  CHECK_SOURCE(source.axis = 'q', CAVUM_ERR_INPUT, "axis");
  cavum_mesh_source nameless = {.unit_m = 1e-3, .axis = 'x'};
  CHECK_REFUSED(cavum_mesh_read_msh(&mesh, NULL, &nameless, &error), CAVUM_ERR_USAGE, "NULL");
  char empty[] = "";
  nameless.path = empty;
  CHECK_REFUSED(cavum_mesh_read_msh(&mesh, NULL, &nameless, &error), CAVUM_ERR_FILE,
                "name of a file");
  cavum_mesh_options options = cavum_mesh_options_default();
  cavum_cell cell;
  cavum_contour contour = {0};
  ck_assert_int_eq(cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, NULL), CAVUM_OK);
  options.corner_layers = -2;
  CHECK_REFUSED(cavum_mesh_from_contour(&mesh, &contour, &options, &error), CAVUM_ERR_USAGE,
                "corner_layers -2");
  cavum_contour_clear(&contour);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(points_of_curves) {
  cavum_curve line = {.kind = CAVUM_CURVE_LINE, .end = {1.0, 0.0}};
  cavum_point point = {7.0, 7.0}, along = {7.0, 7.0};
  cavum_curve_at(NULL, &along, &line, 0.5);
  ck_assert(along.z_m == 1.0 && along.r_m == 0.0);
  cavum_curve_at(&point, NULL, &line, 0.5);
  ck_assert(point.z_m == 0.5 && point.r_m == 0.0);
  cavum_curve_at(NULL, NULL, NULL, 0.5);
}
END_TEST

#define CHECK_SPREAD(change, part)                                                    \
  do {                                                                                \
    cavum_tolerance list[2] = {{"iris_radius_mm", CAVUM_TOLERANCE_NORMAL, 0.01},      \
                               {"equator_radius_mm", CAVUM_TOLERANCE_NORMAL, 0.01}};  \
    double correlation[4] = {1.0, 0.0, 0.0, 1.0};                                     \
    cavum_tolerances tolerances = {2, list, correlation};                             \
    change;                                                                           \
    CHECK_REFUSED(cavum_spread_make(&spread, &cell, &tolerances, NULL, NULL, &error), \
                  CAVUM_ERR_USAGE, part);                                             \
    ck_assert_ptr_null(spread);                                                       \
  } while (0)

START_TEST(tolerances_and_bands) {
  cavum_cell cell;
  cavum_spread *spread = NULL;
  ck_assert_int_eq(cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, NULL), CAVUM_OK);
  CHECK_SPREAD(correlation[1] = correlation[2] = NAN, "equator_radius_mm and iris_radius_mm: nan");
  CHECK_SPREAD(correlation[1] = 0.5, "0 and 0.5");
  CHECK_SPREAD(correlation[1] = correlation[2] = 1.5, "1.5");
  CHECK_SPREAD(correlation[3] = 0.0, "equator_radius_mm and equator_radius_mm");
  CHECK_SPREAD(list[1].kind = (cavum_tolerance_kind)9, "equator_radius_mm: tolerance of kind 9");
  cavum_tolerance list[1] = {{"iris_radius_mm", CAVUM_TOLERANCE_NORMAL, 0.01}};
  double correlation[1] = {1.0};
  cavum_tolerances tolerances = {1, list, correlation};
  ck_assert_int_eq(cavum_spread_make(&spread, &cell, &tolerances, NULL, NULL, NULL), CAVUM_OK);
  const cavum_spread_band odd[] = {{CAVUM_FIGURE_FREQUENCY, NAN},
                                   {(cavum_figure_id)77, 1.0},
                                   {CAVUM_FIGURE_FREQUENCY, -1.0},
                                   {CAVUM_FIGURE_FREQUENCY, INFINITY}};
  for (int i = 0; i < 4; i++) {
    char *text = NULL;
    CHECK_REFUSED(cavum_store_spread_bands_to_json(&text, spread, &odd[i], 1, &error),
                  CAVUM_ERR_USAGE, "band 1");
    CHECK_REFUSED(cavum_store_write_spread("bands.hdf", spread, NULL, &odd[i], 1, &error),
                  CAVUM_ERR_USAGE, "band 1");
  }
  cavum_spread_destroy(&spread);
  cavum_cell_clear(&cell);
}
END_TEST

START_TEST(messages) {
  cavum_cell cell;
  double value = 0.0;
  char title[] = "Caf\xe9", path[CAVUM_MESSAGE_SIZE * 2];
  ck_assert_int_eq(cavum_cell_read_text(&cell, TEST_CELL, strlen(TEST_CELL), NULL, NULL), CAVUM_OK);
  char *own = cell.title;
  cell.title = title;
  CHECK_REFUSED(cavum_cell_check(&cell, &error), CAVUM_ERR_INPUT, "title has the byte 0xE9");
  cell.title = own;
  CHECK_REFUSED(cavum_cell_get(&value, &cell, NULL, &error), CAVUM_ERR_USAGE, "cavum_cell_get:");
  CHECK_REFUSED(cavum_cell_get(&value, &cell, "x", &error), CAVUM_ERR_INPUT,
                "the cell has no number 'contour.x'");
  CHECK_REFUSED(cavum_store_result_to_json(NULL, NULL, &error), CAVUM_ERR_USAGE,
                "cavum_store_result_to_json:");
  cavum_cell_clear(&cell);
  // A long name loses its middle and keeps the reason; a name that is no UTF-8 is made so.
  memset(path, 'x', sizeof path);
  for (size_t i = 50; i < sizeof path; i += 50) path[i] = '/';
  memcpy(path, "b\xfcro/\xc3\xa4", 7);
  path[sizeof path - 1] = '\0';
  CHECK_REFUSED(cavum_cell_read_file(&cell, path, &error), CAVUM_ERR_FILE,
                "No such file or directory");
  ck_assert(strncmp(error.message, "b?ro/\xc3\xa4xx", 9) == 0);
  ck_assert_ptr_nonnull(strstr(error.message, "..."));
  ck_assert_uint_lt(strlen(error.message), CAVUM_MESSAGE_SIZE);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, records_of_a_study);
  tcase_add_test(tests, setups_of_cold_tests);
  tcase_add_test(tests, texts_without_a_name);
  tcase_add_test(tests, pictures);
  tcase_add_test(tests, mesh_files);
  tcase_add_test(tests, points_of_curves);
  tcase_add_test(tests, tolerances_and_bands);
  tcase_add_test(tests, messages);
}

CAVUM_TEST_MAIN("interface.arguments", add_tests)
