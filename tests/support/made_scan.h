// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file made_scan.h
 * Result files of studies whose figures are set by the test instead of being computed.
 */
#ifndef CAVUM_TEST_MADE_SCAN_H
#define CAVUM_TEST_MADE_SCAN_H

#include <string.h>

#include "base/base.h"
#include "cavum/scan_store.h"
#include "scan/record_writer.h"
#include "study_files.h"

/** Sets one column of a row; fails the test when there is no such column. */
static inline void made_scan_set(unsigned char *row, const cavum_study *study, const char *key,
                                 double value) {
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, study);
  for (int i = 0; i < count; i++) {
    if (strcmp(columns[i].key, key) != 0) continue;
    unsigned char *place = row + columns[i].offset;
    switch (columns[i].type) {
      case CAVUM_COLUMN_DOUBLE:
        memcpy(place, &value, sizeof value);
        return;
      case CAVUM_COLUMN_FLOAT:
        memcpy(place, &(float){(float)value}, sizeof(float));
        return;
      case CAVUM_COLUMN_INT64:
        memcpy(place, &(int64_t){(int64_t)value}, sizeof(int64_t));
        return;
      case CAVUM_COLUMN_INT32:
        memcpy(place, &(int32_t){(int32_t)value}, sizeof(int32_t));
        return;
      case CAVUM_COLUMN_UINT8:
        *place = (unsigned char)value;
        return;
    }
  }
  ck_abort_msg("no column %s", key);
}

/** Fills what a test wants to be in a row; it starts as done, with its inputs and NANs elsewhere.
 */
typedef void made_scan_filler(unsigned char *row, const cavum_study *study, int64_t shape,
                              void *data);

/** Makes the rows of a study and gathers them into its result file. */
static inline void made_scan_write(cavum_study *study, const char *output, made_scan_filler *fill,
                                   void *data) {
  const cavum_division whole = {1, 1};
  double values[CAVUM_STUDY_MOST_INPUTS];
  char *reasons[CAVUM_STUDY_LARGEST_BATCH] = {0};
  int count = 0;
  cavum_error error = {0};
  cavum_record_writer writer;
  cavum_scan_records *records = NULL;
  const cavum_column *columns = cavum_study_columns(&count, study);
  ck_assert_int_eq(cavum_records_make_folder(output, whole, NULL), CAVUM_OK);
  cavum_record_writer_open(&writer, study, output, whole);
  for (int64_t batch = 0, shape = 0; batch < cavum_study_num_batches(study); batch++) {
    int rows = cavum_study_batch_rows(study, batch);
    unsigned char *row = cavum_record_writer_begin(&writer, rows);
    ck_assert_ptr_nonnull(row);
    for (int i = 0; i < rows; i++, shape++, row += cavum_study_row_size(study)) {
      memset(row, 0, cavum_study_row_size(study));
      for (int c = 0; c < count; c++) {
        bool real = columns[c].type == CAVUM_COLUMN_DOUBLE || columns[c].type == CAVUM_COLUMN_FLOAT;
        if (real) made_scan_set(row, study, columns[c].key, NAN);
      }
      ck_assert_int_eq(cavum_study_sample(values, study, shape, NULL), CAVUM_OK);
      for (int k = 0; k < cavum_study_num_varied(study); k++) {
        made_scan_set(row, study, cavum_study_input_name(study, k), values[k]);
      }
      made_scan_set(row, study, "shape", (double)shape);
      fill(row, study, shape, data);
    }
    ck_assert_int_eq(cavum_record_writer_append(&writer, batch, rows, reasons, NULL), CAVUM_OK);
  }
  ck_assert_int_eq(cavum_record_writer_close(&writer, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_scan_records_open(&records, study, output, NULL), CAVUM_OK);
  ck_assert_msg(cavum_store_write_scan(output, study, records, &error) == CAVUM_OK, "%s",
                error.message);
  cavum_scan_records_close(&records);
  ck_assert_int_eq(cavum_scan_records_remove(output, NULL), CAVUM_OK);
}

#endif
