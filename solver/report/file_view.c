// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures and reports of files, whatever kind they are of.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "cavum/picture.h"
#include "picture/as_built_view.h"
#include "picture/coldtest_view.h"
#include "picture/compare_view.h"
#include "picture/draw.h"
#include "picture/scan_draw.h"
#include "picture/search_view.h"
#include "picture/spread_view.h"
#include "picture/steps_view.h"
#include "report/report_private.h"
#include "store/result_load.h"

static cavum_status draw_search(char **bytes, size_t *size, const char *path,
                                const cavum_draw_request *request, cavum_error *error) {
  cavum_optimum *optimum = NULL;
  char *title = NULL;
  cavum_status status = cavum_store_read_optimum(&optimum, &title, path, error);
  if (status == CAVUM_OK) {
    const char *of_cell = optimum->result->title ? optimum->result->title : "";
    const char *shown = title && title[0] ? title
                        : of_cell[0]      ? of_cell
                                          : "Search for the best shape";
    status = cavum_search_view_draw(bytes, size, optimum, shown, request, error);
  }
  free(title);
  cavum_optimum_destroy(&optimum);
  return status;
}

static cavum_status draw_result(char **bytes, size_t *size, const char *path,
                                const cavum_picture_options *options,
                                const cavum_picture_layout *layout, cavum_error *error) {
  cavum_result *result = NULL;
  const cavum_draw_request request = cavum_page_request(options, layout);
  if (options->view == CAVUM_VIEW_SEARCH) return draw_search(bytes, size, path, &request, error);
  cavum_status status = cavum_store_read_fields(&result, path, error);
  if (status == CAVUM_OK) status = cavum_draw_result(bytes, size, result, options, layout, error);
  cavum_result_destroy(&result);
  return status;
}

static cavum_status draw_coldtest(char **bytes, size_t *size, const char *path,
                                  const cavum_picture_options *options,
                                  const cavum_picture_layout *layout, cavum_error *error) {
  cavum_stored_coldtest test;
  const cavum_draw_request request = cavum_page_request(options, layout);
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
  cavum_picture_options chosen;
  cavum_stored_coldtest test = {0};
  cavum_status status = cavum_picture_take_options(&chosen, options, error);
  if (status == CAVUM_OK) status = cavum_stored_coldtest_take(&test, report, error);
  if (status == CAVUM_OK) {
    const cavum_draw_request request = cavum_page_request(&chosen, NULL);
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
                              const cavum_picture_options *options,
                              const cavum_picture_layout *layout, cavum_error *error) {
  cavum_stored_scan *scan = NULL;
  cavum_scan_view view = {0};
  const cavum_draw_request request = cavum_page_request(options, layout);
  cavum_status status = cavum_stored_scan_open(&scan, path, error);
  if (status == CAVUM_OK) status = cavum_scan_view_create(&view, scan, options, error);
  if (status == CAVUM_OK) {
    uint32_t palette[256];
    memcpy(palette, view.palette, sizeof palette);
    cavum_scan_view_stand_out(view.palette, palette, false);
  }
  if (status == CAVUM_OK) status = cavum_scan_view_draw(bytes, size, &view, &request, error);
  cavum_scan_view_clear(&view);
  cavum_stored_scan_close(&scan);
  return status;
}

// Of files with one picture: all of it.
static cavum_status check_whole(const cavum_picture_options *options, const char *what,
                                cavum_error *error) {
  if (options->view == CAVUM_VIEW_SHEET) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_USAGE, "views of %s: sheet alone", what);
}

static cavum_status draw_spread(char **bytes, size_t *size, const char *path,
                                const cavum_picture_options *options,
                                const cavum_picture_layout *layout, cavum_error *error) {
  cavum_stored_spread spread = {0};
  const cavum_draw_request request = cavum_page_request(options, layout);
  cavum_status status = check_whole(options, "a spread by tolerances", error);
  if (status == CAVUM_OK) status = cavum_stored_spread_read(&spread, path, error);
  if (status == CAVUM_OK) status = cavum_spread_view_draw(bytes, size, &spread, &request, error);
  cavum_stored_spread_clear(&spread);
  return status;
}

static cavum_status draw_steps(char **bytes, size_t *size, const char *path,
                               const cavum_picture_options *options,
                               const cavum_picture_layout *layout, cavum_error *error) {
  cavum_steps_result *result = NULL;
  const cavum_draw_request request = cavum_page_request(options, layout);
  cavum_status status = check_whole(options, "steps", error);
  if (status == CAVUM_OK) status = cavum_stored_steps_read(&result, path, error);
  if (status == CAVUM_OK) status = cavum_steps_view_draw(bytes, size, result, &request, error);
  cavum_steps_result_destroy(&result);
  return status;
}

static cavum_status draw_as_built(char **bytes, size_t *size, const char *path,
                                  const cavum_picture_options *options,
                                  const cavum_picture_layout *layout, cavum_error *error) {
  cavum_as_built *built = NULL;
  const cavum_draw_request request = cavum_page_request(options, layout);
  cavum_status status = check_whole(options, "a measured wall", error);
  if (status == CAVUM_OK) status = cavum_stored_as_built_read(&built, path, error);
  if (status == CAVUM_OK) status = cavum_as_built_view_draw(bytes, size, built, &request, error);
  cavum_as_built_destroy(&built);
  return status;
}

static cavum_status draw_one(char **bytes, size_t *size, const char *path,
                             const cavum_picture_options *options,
                             const cavum_picture_layout *layout, cavum_error *error) {
  cavum_stored_kind kind = CAVUM_STORED_RESULT;
  cavum_status status = cavum_stored_find_kind(&kind, path, error);
  if (status != CAVUM_OK) return status;
  return kind == CAVUM_STORED_RESULT     ? draw_result(bytes, size, path, options, layout, error)
         : kind == CAVUM_STORED_COLDTEST ? draw_coldtest(bytes, size, path, options, layout, error)
         : kind == CAVUM_STORED_SPREAD   ? draw_spread(bytes, size, path, options, layout, error)
         : kind == CAVUM_STORED_STEPS    ? draw_steps(bytes, size, path, options, layout, error)
         : kind == CAVUM_STORED_AS_BUILT ? draw_as_built(bytes, size, path, options, layout, error)
                                         : draw_scan(bytes, size, path, options, layout, error);
}

cavum_status cavum_picture_draw_file(char **bytes, size_t *size, const char *path,
                                     const cavum_picture_options *options, cavum_error *error) {
  if (!bytes || !size || !path) return cavum_fail_null(error, __func__);
  return cavum_picture_draw_files(bytes, size, 1, &path, options, NULL, error);
}

enum { OVERLAY_NAME_SIZE = 300 };

// A file by its path; that of a search for the best shape with the title of its goal as well.
static void name_file(char name[OVERLAY_NAME_SIZE], const char *path) {
  cavum_optimum *optimum = NULL;
  char *title = NULL;
  bool found = cavum_store_read_optimum(&optimum, &title, path, NULL) == CAVUM_OK;
  bool titled = found && title && title[0];
  snprintf(name, OVERLAY_NAME_SIZE, "%.140s%s%.140s%s", path, titled ? " (goal: " : "",
           titled ? title : "", titled ? ")" : "");
  cavum_optimum_destroy(&optimum);
  free(title);
}

static cavum_status draw_over(char **bytes, size_t *size, int count, const char *const *paths,
                              const cavum_picture_options *options,
                              const cavum_picture_layout *layout, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_result *results[CAVUM_PICTURE_FILES_MOST] = {0};
  int modes[CAVUM_PICTURE_FILES_MOST];
  char texts[CAVUM_PICTURE_FILES_MOST][OVERLAY_NAME_SIZE];
  const char *names[CAVUM_PICTURE_FILES_MOST];
  for (int k = 0; k < count; k++) {
    cavum_stored_kind kind = CAVUM_STORED_RESULT;
    CAVUM_TRY(cavum_stored_find_kind(&kind, paths[k], error));
    if (kind != CAVUM_STORED_RESULT) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_USAGE,
                           "%s: several files are drawn over each other when all are results",
                           paths[k]));
    }
    CAVUM_TRY(cavum_store_read_fields(&results[k], paths[k], error));
    modes[k] = options->mode;
    name_file(texts[k], paths[k]);
    names[k] = texts[k];
  }
  const cavum_overlay overlay = {count, (const cavum_result *const *)results, names, modes,
                                 layout->align};
  const cavum_draw_request request = cavum_page_request(options, layout);
  CAVUM_TRY(cavum_overlay_draw(bytes, size, &overlay, &request, error));
done:
  for (int k = 0; k < count; k++) cavum_result_destroy(&results[k]);
  return status;
}

cavum_status cavum_picture_draw_files(char **bytes, size_t *size, int count,
                                      const char *const *paths,
                                      const cavum_picture_options *options,
                                      const cavum_picture_layout *layout, cavum_error *error) {
  if (!bytes || !size || !paths) return cavum_fail_null(error, __func__);
  cavum_picture_options chosen;
  cavum_picture_layout full;
  cavum_status status = cavum_picture_take_options(&chosen, options, error);
  if (status == CAVUM_OK) status = cavum_picture_take_layout(&full, layout, error);
  if (status != CAVUM_OK) return status;
  if (count < 1 || count > CAVUM_PICTURE_FILES_MOST) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%d files over each other, expected 1 to %d", count,
                      CAVUM_PICTURE_FILES_MOST);
  }
  for (int k = 0; k < count; k++) {
    if (!paths[k]) return cavum_fail_null(error, __func__);
  }
  return count == 1 ? draw_one(bytes, size, paths[0], &chosen, &full, error)
                    : draw_over(bytes, size, count, paths, &chosen, &full, error);
}

// What a search told, where one led to the cell: then it names its dimensions.
static cavum_status read_search(cavum_optimum **optimum, const char *path, cavum_error *error) {
  char *key = NULL;
  cavum_status status = cavum_stored_read_text(&key, path, "/optimum/dimensions/key", error);
  bool searched = status == CAVUM_OK && key[0];
  free(key);
  return searched ? cavum_store_read_optimum(optimum, NULL, path, error) : status;
}

static cavum_status report_result(char **bytes, size_t *size, const char *path,
                                  cavum_error *error) {
  cavum_result *result = NULL;
  cavum_optimum *optimum = NULL;
  cavum_stored_origin origin = {0};
  cavum_status status = cavum_store_read_result(&result, &origin, path, error);
  if (status == CAVUM_OK) status = read_search(&optimum, path, error);
  if (status == CAVUM_OK) {
    status = cavum_report_result(bytes, size, result, &origin, optimum, error);
  }
  cavum_result_destroy(&result);
  cavum_optimum_destroy(&optimum);
  cavum_stored_origin_clear(&origin);
  return status;
}

cavum_status cavum_picture_report_file(char **bytes, size_t *size, const char *path,
                                       cavum_error *error) {
  if (!bytes || !size || !path) return cavum_fail_null(error, __func__);
  cavum_stored_kind kind = CAVUM_STORED_RESULT;
  cavum_status status = cavum_stored_find_kind(&kind, path, error);
  if (status != CAVUM_OK) return status;
  if (kind == CAVUM_STORED_COLDTEST) return cavum_report_coldtest_file(bytes, size, path, error);
  if (kind == CAVUM_STORED_SPREAD) return cavum_report_spread_file(bytes, size, path, error);
  if (kind == CAVUM_STORED_STEPS) return cavum_report_steps_file(bytes, size, path, error);
  if (kind == CAVUM_STORED_AS_BUILT) return cavum_report_as_built_file(bytes, size, path, error);
  if (kind == CAVUM_STORED_SCAN) return cavum_report_scan_file(bytes, size, path, error);
  return report_result(bytes, size, path, error);
}
