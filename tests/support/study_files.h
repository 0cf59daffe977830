// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file study_files.h
 * A folder with an invented base cell that solves fast, and studies of it.
 */
#ifndef CAVUM_TEST_STUDY_FILES_H
#define CAVUM_TEST_STUDY_FILES_H

#include <math.h>

#include "cavum/scan.h"
#include "cavum/scan_store.h"
#include "temporary_folder.h"
#include "test_cell.h"

/** Little accuracy is asked for: these tests are about what happens around the solves. */
#define STUDY_CELL TEST_CELL "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n"

/** The same cell with a tube at the right and different halves. */
#define STUDY_END_CELL                \
  TEST_CELL_CONTOUR                   \
  "  right: {iris_radius_mm: 36.5}\n" \
  "ends:\n"                           \
  "  left: {kind: magnetic}\n"        \
  "  right: {kind: tube, length_mm: 120.0, close: electric}\n"

/** A folder and paths in it. */
typedef struct study_files {
  char folder[128], cell[192], study[192], output[192];
} study_files;

/** Writes a text to a file. */
static inline void study_files_write(const char *path, const char *text) {
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs(text, file);
  ck_assert_int_eq(fclose(file), 0);
}

/** Makes the folder with cell.yaml and study.yaml. */
static inline void study_files_make(study_files *files, const char *cell, const char *study) {
  temporary_folder_make(files->folder);
  snprintf(files->cell, sizeof files->cell, "%s/cell.yaml", files->folder);
  snprintf(files->study, sizeof files->study, "%s/study.yaml", files->folder);
  snprintf(files->output, sizeof files->output, "%s/out.hdf", files->folder);
  study_files_write(files->cell, cell);
  study_files_write(files->study, study);
}

/** Opens the study; fails the test when it cannot. */
static inline cavum_study *study_files_open(const study_files *files) {
  cavum_study *study = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_study_open(&study, files->study, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return study;
}

/** A number of a stored scan; fails the test where there is no such column. */
static inline double study_files_value(const cavum_stored_scan *scan, const char *key,
                                       int64_t row) {
  double value = NAN;
  int column = cavum_stored_scan_find(scan, key);
  ck_assert_msg(column >= 0, "no column %s", key);
  ck_assert_int_eq(cavum_stored_scan_read(&value, scan, column, row, 1, NULL), CAVUM_OK);
  return value;
}

#endif
