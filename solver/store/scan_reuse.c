// SPDX-License-Identifier: GPL-3.0-or-later
// A study that grew after it was gathered: the rows of its earlier result become records again, so
// that only what is new is computed. Rows are the same bytes in both, but for their reasons, which
// are texts in both.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/scan_store.h"
#include "scan/record_writer.h"
#include "scan/records.h"
#include "store/scan_read.h"
#include "store/scan_reasons.h"

/** An earlier result on its way back into records. */
typedef struct reuse_state {
  cavum_study *study;
  cavum_stored_scan *scan;      // owned
  cavum_scan_records *records;  // owned: what is there already
  cavum_record_writer writer;
  cavum_scan_reasons reasons;
  int64_t reason_shape;  // of the next reason; -1: none is left
  const char *reason_text;
  int64_t block_rows;   // rows that are read at once: whole batches
  double *column;       // owned, shape [block_rows]
  unsigned char *rows;  // owned, shape [block_rows, row size]
  char **texts;         // owned texts, shape [batch_size]
} reuse_state;

static bool has_text(const cavum_stored_scan *scan, const char *path, const char *expected) {
  char found[80];
  return cavum_hdf5_has(cavum_stored_scan_file(scan), path) &&
         cavum_hdf5_read_text(found, sizeof found, cavum_stored_scan_file(scan), path, NULL,
                              NULL) == CAVUM_OK &&
         strcmp(found, expected) == 0;
}

bool cavum_stored_scan_is_of(const cavum_stored_scan *scan, const cavum_study *study) {
  char study_hash[65], cell_hash[65];
  if (!scan || !study) return false;
  const char *text = cavum_study_text(study), *cell = cavum_study_cell_text(study);
  cavum_sha256(study_hash, text, strlen(text));
  cavum_sha256(cell_hash, cell, strlen(cell));
  return has_text(scan, "/input/fingerprint", cavum_study_fingerprint(study)) &&
         has_text(scan, "/input/study_sha256", study_hash) &&
         has_text(scan, "/input/cell_sha256", cell_hash);
}

// Rows read at once: whole batches, and no more than a chunk of the file where that is possible.
static int64_t rows_at_once(const cavum_study *study) {
  int batch = cavum_study_batch_size(study);
  return (int64_t)batch * (CAVUM_HDF5_COLUMN_BLOCK / batch);
}

// True when a varied input has the same numbers in the file and in the study.
static bool same_numbers(const double *column, const double *sampled, int64_t count) {
  return memcmp(column, sampled, (size_t)count * sizeof *column) == 0;
}

// Samples shapes into columns, shape [num_varied, count].
static cavum_status sample_columns(double *columns, cavum_study *study, int64_t first,
                                   int64_t count, cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  int num_varied = cavum_study_num_varied(study);
  for (int64_t i = 0; i < count; i++) {
    cavum_status status = cavum_study_sample(values, study, first + i, error);
    if (status != CAVUM_OK) return status;
    for (int k = 0; k < num_varied; k++) columns[k * count + i] = values[k];
  }
  return CAVUM_OK;
}

static bool has_its_columns(const cavum_stored_scan *scan, const cavum_study *study) {
  int count = 0;
  const cavum_column *columns = cavum_study_columns(&count, study);
  if (cavum_stored_scan_num_columns(scan) != count) return false;
  for (int i = 0; i < count; i++) {
    if (strcmp(cavum_stored_scan_key(scan, i), columns[i].key) != 0) return false;
  }
  return true;
}

bool cavum_stored_scan_begins(const cavum_stored_scan *scan, cavum_study *study) {
  if (!scan || !study) return false;
  int64_t rows = cavum_stored_scan_num_rows(scan), step = rows_at_once(study);
  int num_varied = cavum_study_num_varied(study), first_input = study->layout.first_input;
  if (!has_text(scan, "/input/settings", cavum_study_settings(study)) ||
      rows > cavum_study_num_shapes(study) || !has_its_columns(scan, study)) {
    return false;
  }
  double *sampled = cavum_alloc(step * num_varied, sizeof *sampled);
  double *column = cavum_alloc(step, sizeof *column);
  bool same = sampled && column;
  for (int64_t first = 0; same && first < rows; first += step) {
    int64_t count = rows - first < step ? rows - first : step;
    same = sample_columns(sampled, study, first, count, NULL) == CAVUM_OK;
    for (int k = 0; same && k < num_varied; k++) {
      same =
          cavum_stored_scan_read(column, scan, first_input + k, first, count, NULL) == CAVUM_OK &&
          same_numbers(column, sampled + k * count, count);
    }
  }
  free(sampled);
  free(column);
  return same;
}

static void put_value(unsigned char *place, cavum_column_type type, double value) {
  float single = (float)value;
  int64_t large = type == CAVUM_COLUMN_INT64 ? cavum_whole(value, 0) : 0;
  int32_t integer = type == CAVUM_COLUMN_INT32 ? cavum_whole_int(value, 0) : 0;
  switch (type) {
    case CAVUM_COLUMN_DOUBLE:
      memcpy(place, &value, sizeof value);
      break;
    case CAVUM_COLUMN_FLOAT:
      memcpy(place, &single, sizeof single);
      break;
    case CAVUM_COLUMN_INT64:
      memcpy(place, &large, sizeof large);
      break;
    case CAVUM_COLUMN_INT32:
      memcpy(place, &integer, sizeof integer);
      break;
    case CAVUM_COLUMN_UINT8:
      *place = (unsigned char)cavum_whole_int(value, UINT8_MAX);
      break;
  }
}

static cavum_status read_block(reuse_state *r, int64_t first, int64_t count, cavum_error *error) {
  int num_columns = 0;
  const cavum_column *columns = cavum_study_columns(&num_columns, r->study);
  size_t row_size = cavum_study_row_size(r->study);
  for (int i = 0; i < num_columns; i++) {
    cavum_status status = cavum_stored_scan_read(r->column, r->scan, i, first, count, error);
    if (status != CAVUM_OK) return status;
    unsigned char *place = r->rows + columns[i].offset;
    for (int64_t k = 0; k < count; k++, place += row_size) {
      put_value(place, columns[i].type, r->column[k]);
    }
  }
  return CAVUM_OK;
}

// Takes the reasons of a batch; those of shapes before it are passed.
static cavum_status take_reasons(reuse_state *r, int64_t first, int rows, cavum_error *error) {
  for (int i = 0; i < rows; i++) {
    free(r->texts[i]);
    r->texts[i] = NULL;
  }
  while (r->reason_shape >= 0 && r->reason_shape < first + rows) {
    if (r->reason_shape >= first) {
      char **text = &r->texts[r->reason_shape - first];
      free(*text);
      *text = cavum_copy_text(r->reason_text);
      if (!*text) return cavum_fail_memory(error);
    }
    cavum_status status =
        cavum_scan_reasons_next(&r->reasons, &r->reason_shape, &r->reason_text, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status write_batch(reuse_state *r, int64_t batch, const unsigned char *rows,
                                cavum_error *error) {
  int count = cavum_study_batch_rows(r->study, batch);
  cavum_status status = take_reasons(r, batch * cavum_study_batch_size(r->study), count, error);
  if (status != CAVUM_OK) return status;
  unsigned char *place = cavum_record_writer_begin(&r->writer, count);
  if (!place) return cavum_fail_memory(error);
  memcpy(place, rows, (size_t)count * cavum_study_row_size(r->study));
  return cavum_record_writer_append(&r->writer, batch, count, r->texts, error);
}

// True for a batch of this part that is not stored and whose rows the file has all.
static bool is_wanted(const reuse_state *r, int64_t batch, cavum_division division) {
  if ((batch - (division.part - 1)) % division.num_parts != 0) return false;
  int64_t end = batch * cavum_study_batch_size(r->study) + cavum_study_batch_rows(r->study, batch);
  return end <= cavum_stored_scan_num_rows(r->scan) && !cavum_records_has(r->records, batch);
}

static cavum_status write_batches(reuse_state *r, cavum_division division, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t rows = cavum_stored_scan_num_rows(r->scan), size = cavum_study_batch_size(r->study);
  for (int64_t first = 0; first < rows; first += r->block_rows) {
    int64_t count = rows - first < r->block_rows ? rows - first : r->block_rows;
    bool is_read = false;
    for (int64_t start = first; start < first + count; start += size) {
      if (!is_wanted(r, start / size, division)) continue;
      if (!is_read) CAVUM_TRY(read_block(r, first, count, error));
      is_read = true;
      const unsigned char *place =
          r->rows + (size_t)(start - first) * cavum_study_row_size(r->study);
      CAVUM_TRY(write_batch(r, start / size, place, error));
    }
  }
done:
  return status;
}

static cavum_status prepare(reuse_state *r, const char *path, cavum_division division,
                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  r->block_rows = rows_at_once(r->study);
  r->column = cavum_alloc(r->block_rows, sizeof *r->column);
  r->rows = cavum_alloc(r->block_rows, cavum_study_row_size(r->study));
  r->texts = cavum_alloc(cavum_study_batch_size(r->study), sizeof *r->texts);
  if (!r->column || !r->rows || !r->texts) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_records_make_folder(path, division, error));
  CAVUM_TRY(cavum_records_open_part(&r->records, r->study, path, division, error));
  cavum_record_writer_open(&r->writer, r->study, path, division);
  cavum_scan_reasons_open(&r->reasons, cavum_stored_scan_file(r->scan));
  CAVUM_TRY(cavum_scan_reasons_next(&r->reasons, &r->reason_shape, &r->reason_text, error));
done:
  return status;
}

static void clear(reuse_state *r) {
  int size = cavum_study_batch_size(r->study);
  for (int i = 0; r->texts && i < size; i++) free(r->texts[i]);
  free(r->texts);
  free(r->rows);
  free(r->column);
  cavum_scan_reasons_close(&r->reasons);
  cavum_scan_records_close(&r->records);
  cavum_stored_scan_close(&r->scan);
}

cavum_status cavum_store_reuse_scan(const char *path, cavum_study *study, int64_t part,
                                    int64_t num_parts, cavum_error *error) {
  if (!path || !study) return cavum_fail_null(error, __func__);
  if (num_parts < 1 || part < 0 || part >= num_parts) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "part %lld of %lld: expected 0 to one below the number of parts",
                      (long long)part, (long long)num_parts);
  }
  cavum_status status = CAVUM_OK;
  cavum_division division = {part + 1, num_parts};
  reuse_state r = {.study = study, .reason_shape = -1, .writer = {.descriptor = -1}};
  CAVUM_TRY(cavum_stored_scan_open(&r.scan, path, error));
  if (!cavum_stored_scan_begins(r.scan, study)) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "%s: holds the result of another study", path));
  }
  CAVUM_TRY(prepare(&r, path, division, error));
  status = write_batches(&r, division, error);
  cavum_status closed = cavum_record_writer_close(&r.writer, status == CAVUM_OK ? error : NULL);
  if (status == CAVUM_OK) status = closed;
done:
  clear(&r);
  return status;
}
