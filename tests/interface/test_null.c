// SPDX-License-Identifier: GPL-3.0-or-later
// The library ends nobody's program: NULL is a usage error wherever an argument must be given, and
// what is looked up under a number that nothing has is unknown.
#include <math.h>
#include <string.h>

#include "cavum/cavum.h"
#include "support.h"

static int num_calls;

#define CHECK_USAGE(call)                                                          \
  do {                                                                             \
    cavum_error error = {0};                                                       \
    ck_assert_msg((call) == CAVUM_ERR_USAGE, "%s: %s", #call, error.message);      \
    ck_assert_msg(error.status == CAVUM_ERR_USAGE && *error.message, "%s", #call); \
    num_calls++;                                                                   \
  } while (0)

START_TEST(geometry_and_solves) {
  CHECK_USAGE(cavum_cell_read_file(NULL, NULL, &error));
  CHECK_USAGE(cavum_cell_read_text(NULL, NULL, 0, NULL, &error));
  CHECK_USAGE(cavum_cell_check(NULL, &error));
  CHECK_USAGE(cavum_cell_make_contour(NULL, NULL, CAVUM_PART_WHOLE, &error));
  CHECK_USAGE(cavum_mesh_from_contour(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_mesh_read_msh(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_mesh_write_msh(NULL, NULL, 0, 1.0, false, &error));
  CHECK_USAGE(cavum_solve(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_solver_create(NULL, NULL, &error));
  CHECK_USAGE(cavum_solver_solve(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_wall_resistance(NULL, NULL, NULL, 1e9, &error));
  cavum_cell_set_defaults(NULL);
  cavum_cell_clear(NULL);
  cavum_contour_clear(NULL);
  cavum_mesh_clear(NULL);
  cavum_result_destroy(NULL);
  cavum_solver_destroy(NULL);
  cavum_solver_forget(NULL);
  ck_assert(!cavum_cell_is_mirror_symmetric(NULL));
  ck_assert(isnan(cavum_curve_point(NULL, 0.5).z_m));
  ck_assert(isnan(cavum_curve_length(NULL, 0.0, 1.0)));
  ck_assert(cavum_mesh_mirror_plane_m(NULL) == 0.0);
  ck_assert_int_eq(cavum_mesh_measure_quality(NULL).worst_element, -1);
}
END_TEST

START_TEST(files_and_pictures) {
  CHECK_USAGE(cavum_store_write_result(NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_store_read_mode(NULL, NULL, 0, &error));
  CHECK_USAGE(cavum_store_read_result(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_store_result_to_json(NULL, NULL, &error));
  CHECK_USAGE(cavum_store_write_text(NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_find_format(NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_draw_result(NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_compare_results(NULL, NULL, NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_draw_file(NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_report_result(NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_report_file(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_picture_write(NULL, NULL, 0, &error));
  cavum_stored_origin_clear(NULL);
}
END_TEST

START_TEST(cold_tests) {
  CHECK_USAGE(cavum_coldtest_evaluate(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_coldtest_make_budget(NULL, NULL, 0, CAVUM_QUANTITY_B_PEAK, &error));
  CHECK_USAGE(cavum_coldtest_covariance(NULL, NULL, 0, CAVUM_QUANTITY_B_PEAK, 0,
                                        CAVUM_QUANTITY_B_PEAK, &error));
  CHECK_USAGE(cavum_coldtest_run_monte_carlo(NULL, NULL, 0, 0, &error));
  CHECK_USAGE(cavum_circuit_drive(NULL, NULL, 1.0, &error));
  CHECK_USAGE(cavum_coldtest_file_read(NULL, NULL, &error));
  CHECK_USAGE(cavum_coldtest_file_read_text(NULL, NULL, 0, NULL, &error));
  CHECK_USAGE(cavum_coldtest_read_readings(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_coldtest_read_trace(NULL, NULL, &error));
  CHECK_USAGE(cavum_coldtest_read_readings_text(NULL, NULL, 0, NULL, NULL, &error));
  CHECK_USAGE(cavum_coldtest_read_trace_text(NULL, NULL, 0, NULL, &error));
  CHECK_USAGE(cavum_coldtest_run(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_coldtest_run_watched(NULL, NULL, NULL, NULL, &error));
  cavum_coldtest_watch_set_defaults(NULL, sizeof(cavum_coldtest_watch));
  CHECK_USAGE(cavum_store_read_coldtest_geometry(NULL, &error));
  CHECK_USAGE(cavum_store_coldtest_to_json(NULL, NULL, &error));
  CHECK_USAGE(cavum_store_coldtest_to_csv(NULL, NULL, &error));
  CHECK_USAGE(cavum_store_write_coldtest(NULL, NULL, &error));
  CHECK_USAGE(cavum_decay_analyse(NULL, NULL, NULL, 1e9, NULL, &error));
  CHECK_USAGE(cavum_resistance_make_fit(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_resistance_predict(NULL, NULL, NULL, 2.0, 1e6, &error));
  CHECK_USAGE(cavum_coldtest_make_plan(NULL, NULL, NULL, &error));
  cavum_coldtest_readings_clear(NULL);
  cavum_coldtest_destroy(NULL);
  cavum_coldtest_file_clear(NULL);
  cavum_coldtest_report_destroy(NULL);
  cavum_decay_trace_clear(NULL);
  cavum_decay_analysis_clear(NULL);
  ck_assert_int_eq(cavum_coldtest_num_points(NULL), 0);
  ck_assert_ptr_null(cavum_coldtest_get_point(NULL, 0));
  ck_assert_ptr_null(cavum_coldtest_get_reading(NULL, 0));
  ck_assert_ptr_null(cavum_coldtest_get_setup(NULL));
  ck_assert(isnan(cavum_resistance_at_ohm(NULL, 2.0).value));
  ck_assert(isnan(cavum_resistance_bcs_at_ohm(NULL, 2.0).value));
}
END_TEST

START_TEST(studies) {
  CHECK_USAGE(cavum_study_open(NULL, NULL, &error));
  CHECK_USAGE(cavum_study_sample(NULL, NULL, 0, &error));
  CHECK_USAGE(cavum_study_make_cell(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_scan_run(NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_scan_measure(NULL, NULL, 1.0, &error));
  CHECK_USAGE(cavum_scan_records_open(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_scan_records_read(NULL, NULL, 0, &error));
  CHECK_USAGE(cavum_scan_records_remove(NULL, &error));
  CHECK_USAGE(cavum_store_write_scan(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_store_reuse_scan(NULL, NULL, 1, 1, &error));
  ck_assert(!cavum_stored_scan_is_of(NULL, NULL) && !cavum_stored_scan_begins(NULL, NULL));
  ck_assert_str_eq(cavum_study_settings(NULL), "");
  CHECK_USAGE(cavum_store_scan_sources_to_json(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_stored_scan_open(NULL, NULL, &error));
  CHECK_USAGE(cavum_stored_scan_read(NULL, NULL, 0, 0, 0, &error));
  CHECK_USAGE(cavum_store_write_scan_csv(NULL, NULL, &error));
  CHECK_USAGE(cavum_stored_scan_shape_to_text(NULL, NULL, 0, &error));
  CHECK_USAGE(cavum_scan_summarise(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_stored_scan_count_verdicts(NULL, NULL, 0, NULL, &error));
  ck_assert_ptr_null(cavum_stored_scan_requirement(NULL, 0));
  CHECK_USAGE(cavum_scan_summarise_where(NULL, NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_scan_filter_create(NULL, NULL, NULL, &error));
  CHECK_USAGE(cavum_store_write_scan_csv_where(NULL, NULL, NULL, &error));
  cavum_scan_filter_destroy(NULL);
  CHECK_USAGE(cavum_store_merge_scans(NULL, NULL, NULL, &error));
  cavum_study_close(NULL);
  cavum_scan_records_close(NULL);
  cavum_stored_scan_close(NULL);
  cavum_scan_summary_clear(NULL);
  ck_assert_str_eq(cavum_study_title(NULL), "");
  ck_assert_str_eq(cavum_study_input_name(NULL, 0), "");
  ck_assert_int_eq(cavum_study_num_shapes(NULL), 0);
  ck_assert_int_eq(cavum_study_num_batches(NULL), 0);
  ck_assert_int_eq(cavum_scan_records_num_stored(NULL), 0);
  ck_assert_str_eq(cavum_scan_records_source(NULL, 0).path, "");
  ck_assert_str_eq(cavum_stored_scan_key(NULL, 0), "");
  ck_assert_int_eq(cavum_stored_scan_find(NULL, NULL), -1);
  ck_assert_ptr_null(cavum_study_columns(NULL, NULL));
  ck_assert(isnan(cavum_column_value(NULL, NULL)));
  ck_assert(!cavum_scan_smaller_is_better(NULL));
  ck_assert_ptr_null(cavum_store_scan_progress_to_json(NULL, NULL));
  ck_assert_ptr_null(cavum_store_scan_estimate_to_json(NULL, NULL));
  ck_assert_ptr_null(cavum_store_scan_summary_to_json(NULL, NULL, NULL));
  ck_assert_ptr_null(cavum_store_scan_summary_to_json_where(NULL, NULL, NULL, NULL));
}
END_TEST

// Numbers that a later version may have, or that were never set.
START_TEST(unknown_numbers) {
  const int odd[] = {-1, 63, 99, 1 << 30, -(1 << 30)};
  for (int i = 0; i < 5; i++) {
    ck_assert_str_eq(cavum_figure_describe((cavum_figure_id)odd[i]).key, "unknown");
    ck_assert_str_eq(cavum_boundary_name((cavum_boundary)odd[i]), "unknown");
    ck_assert_str_eq(cavum_status_text((cavum_status)odd[i]), "unknown status");
    ck_assert_int_eq(cavum_status_exit((cavum_status)odd[i]), 1);
    ck_assert_str_eq(cavum_shape_status_word((cavum_shape_status)odd[i]), "unknown");
    ck_assert_str_eq(cavum_shape_status_text((cavum_shape_status)odd[i]), "unknown");
    ck_assert_str_eq(cavum_branch_name((cavum_branch)odd[i]), "unknown");
    ck_assert_str_eq(cavum_coupling_method_name((cavum_coupling_method)odd[i]), "unknown");
    ck_assert_str_eq(cavum_q0_method_name((cavum_q0_method)odd[i]), "unknown");
    ck_assert_str_eq(cavum_coldtest_input_key((cavum_coldtest_input)odd[i]), "unknown");
    ck_assert_str_eq(cavum_coldtest_input_text((cavum_coldtest_input)odd[i]), "unknown");
    ck_assert_str_eq(cavum_coldtest_flag_key((cavum_coldtest_flag)odd[i]), "unknown");
    ck_assert_str_eq(cavum_coldtest_flag_text((cavum_coldtest_flag)odd[i]), "unknown");
    ck_assert_str_eq(cavum_coldtest_describe_quantity((cavum_coldtest_quantity)odd[i]).key,
                     "unknown");
    ck_assert_str_eq(cavum_coldtest_published_limit(odd[i]).name, "unknown");
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, geometry_and_solves);
  tcase_add_test(tests, files_and_pictures);
  tcase_add_test(tests, cold_tests);
  tcase_add_test(tests, studies);
  tcase_add_test(tests, unknown_numbers);
}

CAVUM_TEST_MAIN("interface.null", add_tests)
