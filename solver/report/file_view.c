// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures and reports of files, whatever kind they are of.
#include "base/base.h"
#include "cavum/picture.h"
#include "picture/coldtest_view.h"
#include "picture/scan_draw.h"
#include "report/report_private.h"

static cavum_status draw_result(char **bytes, size_t *size, const char *path,
                                const cavum_picture_options *options, cavum_error *error) {
  cavum_result *result = NULL;
  cavum_status status = cavum_store_read_result(&result, NULL, path, error);
  if (status == CAVUM_OK) status = cavum_picture_draw_result(bytes, size, result, options, error);
  cavum_result_destroy(&result);
  return status;
}

static cavum_status draw_coldtest(char **bytes, size_t *size, const char *path,
                                  const cavum_picture_options *options, cavum_error *error) {
  cavum_stored_coldtest test;
  const cavum_draw_request request = cavum_page_request(options);
  cavum_status status = cavum_stored_coldtest_read(&test, path, error);
  if (status == CAVUM_OK) {
    status = cavum_test_view_draw(bytes, size, &test, options->reading, &request, error);
  }
  cavum_stored_coldtest_clear(&test);
  return status;
}

cavum_status cavum_picture_draw_coldtest(char **bytes, size_t *size,
                                         const cavum_coldtest_report *report,
                                         const cavum_picture_options *options, cavum_error *error) {
  if (!bytes || !size || !report) return cavum_fail_null(error, __func__);
  const cavum_picture_options chosen = options ? *options : cavum_picture_options_default();
  const cavum_draw_request request = cavum_page_request(&chosen);
  cavum_stored_coldtest test = {0};
  cavum_status status = cavum_picture_check_options(&chosen, error);
  if (status == CAVUM_OK) status = cavum_stored_coldtest_take(&test, report, error);
  if (status == CAVUM_OK) {
    status = cavum_test_view_draw(bytes, size, &test, chosen.reading, &request, error);
  }
  cavum_stored_coldtest_clear(&test);
  return status;
}

cavum_status cavum_picture_report_coldtest(char **bytes, size_t *size,
                                           const cavum_coldtest_report *report,
                                           cavum_error *error) {
  if (!bytes || !size || !report) return cavum_fail_null(error, __func__);
  cavum_stored_coldtest test = {0};
  cavum_status status = cavum_stored_coldtest_take(&test, report, error);
  if (status == CAVUM_OK) status = cavum_report_coldtest(bytes, size, &test, error);
  cavum_stored_coldtest_clear(&test);
  return status;
}

static cavum_status draw_scan(char **bytes, size_t *size, const char *path,
                              const cavum_picture_options *options, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  cavum_scan_view view = {0};
  const cavum_draw_request request = cavum_page_request(options);
  cavum_status status = cavum_stored_scan_open(&scan, path, error);
  if (status == CAVUM_OK) status = cavum_scan_view_create(&view, scan, options, error);
  if (status == CAVUM_OK) status = cavum_scan_view_draw(bytes, size, &view, &request, error);
  cavum_scan_view_clear(&view);
  cavum_stored_scan_close(&scan);
  return status;
}

cavum_status cavum_picture_draw_file(char **bytes, size_t *size, const char *path,
                                     const cavum_picture_options *options, cavum_error *error) {
  if (!bytes || !size || !path) return cavum_fail_null(error, __func__);
  const cavum_picture_options chosen = options ? *options : cavum_picture_options_default();
  cavum_stored_kind kind = CAVUM_STORED_RESULT;
  cavum_status status = cavum_picture_check_options(&chosen, error);
  if (status == CAVUM_OK) status = cavum_stored_find_kind(&kind, path, error);
  if (status != CAVUM_OK) return status;
  return kind == CAVUM_STORED_RESULT     ? draw_result(bytes, size, path, &chosen, error)
         : kind == CAVUM_STORED_COLDTEST ? draw_coldtest(bytes, size, path, &chosen, error)
                                         : draw_scan(bytes, size, path, &chosen, error);
}

cavum_status cavum_picture_report_file(char **bytes, size_t *size, const char *path,
                                       cavum_error *error) {
  if (!bytes || !size || !path) return cavum_fail_null(error, __func__);
  cavum_stored_kind kind = CAVUM_STORED_RESULT;
  cavum_result *result = NULL;
  cavum_stored_origin origin = {0};
  cavum_status status = cavum_stored_find_kind(&kind, path, error);
  if (status != CAVUM_OK) return status;
  if (kind == CAVUM_STORED_COLDTEST) return cavum_report_coldtest_file(bytes, size, path, error);
  if (kind == CAVUM_STORED_SCAN) return cavum_report_scan_file(bytes, size, path, error);
  status = cavum_store_read_result(&result, &origin, path, error);
  if (status == CAVUM_OK) {
    status = cavum_picture_report_result(bytes, size, result, &origin, error);
  }
  cavum_result_destroy(&result);
  cavum_stored_origin_clear(&origin);
  return status;
}
