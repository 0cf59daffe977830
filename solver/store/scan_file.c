// SPDX-License-Identifier: GPL-3.0-or-later
// Gathering a scan: records in the order of their batches, turned into columns block by block, so
// that memory does not grow with the number of shapes. Nothing about the run itself goes in: the
// bytes are those of the study.
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "base/base64.h"
#include "base/file.h"
#include "base/sha256.h"
#include "base/stop.h"
#include "cavum/requirement.h"
#include "cavum/scan_store.h"
#include "cell/limits.h"
#include "hdf5/hdf5_columns.h"
#include "scan/study.h"
#include "store/front_file.h"
#include "yaml/reader.h"

// As long as a message gets; what is not used is deflated away.
enum { REASON_SIZE = CAVUM_MESSAGE_SIZE, REASON_BLOCK = CAVUM_HDF5_TEXT_BLOCK };

/** A block of rows on its way into the file. */
typedef struct gather_state {
  const cavum_study *study;
  cavum_scan_records *records;
  cavum_hdf5_file *file;
  const cavum_column *columns;
  int num_columns;
  size_t row_size;
  unsigned char *rows;     // owned, shape [CAVUM_HDF5_COLUMN_BLOCK, row_size]
  unsigned char *column;   // owned: one column of the block, and the reasons
  int64_t first_row;       // of the block
  int64_t num_rows;        // in the block
  int64_t num_reasons;     // written
  int64_t *reason_shapes;  // owned, shape [REASON_BLOCK]
  char *reason_texts;      // owned, shape [REASON_BLOCK, REASON_SIZE]
  int64_t num_waiting;     // reasons in memory
} gather_state;

static cavum_hdf5_column_type type_of(cavum_column_type type) {
  switch (type) {
    case CAVUM_COLUMN_DOUBLE:
      return CAVUM_HDF5_COLUMN_DOUBLE;
    case CAVUM_COLUMN_FLOAT:
      return CAVUM_HDF5_COLUMN_FLOAT;
    case CAVUM_COLUMN_INT64:
      return CAVUM_HDF5_COLUMN_INT64;
    case CAVUM_COLUMN_INT32:
      return CAVUM_HDF5_COLUMN_INT32;
    case CAVUM_COLUMN_UINT8:
      break;
  }
  return CAVUM_HDF5_COLUMN_UINT8;
}

static const char *path_of(char path[CAVUM_COLUMN_KEY_SIZE + 16], const char *key) {
  snprintf(path, CAVUM_COLUMN_KEY_SIZE + 16, "/columns/%s", key);
  return path;
}

static const char AIMS_NAME[] =
    "aims of the study: columns with the direction that is the better one";

// The mesh file, so that the cell of a row can be written wherever it is wanted, and whatever
// became of the file. One that changed since the study was opened may have changed between two
// rows.
static cavum_status write_mesh_file(gather_state *g, cavum_error *error) {
  const char *path = cavum_study_file_path(g->study, CAVUM_STUDY_MESH_FILE);
  char *bytes = NULL, *base64 = NULL, hash[65];
  size_t size = 0;
  if (!path || g->study->cell.mesh_data) return CAVUM_OK;
  cavum_status status = cavum_yaml_load_text(&bytes, &size, path, CAVUM_CELL_LARGEST_MESH, error);
  if (status != CAVUM_OK) return status;
  if (size > CAVUM_CELL_LARGEST_MESH) goto done;  // no cell file can hold it
  cavum_sha256(hash, bytes, size);
  if (strcmp(hash, g->study->mesh_sha256) != 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT,
                         "%s: changed while the study was computed, and its rows may be of either "
                         "mesh: the same command computes them anew",
                         path));
  }
  base64 = cavum_base64_encode(bytes, size);
  if (!base64) CAVUM_TRY(cavum_fail_memory(error));
  const char *shown = base64;
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/mesh_file_base64", 0, &shown,
                                   "the mesh file of the base cell, in base64", error));
done:
  free(bytes);
  free(base64);
  return status;
}

static cavum_status write_input(gather_state *g, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char hash[65];
  const char *study = cavum_study_text(g->study), *cell = cavum_study_cell_text(g->study);
  const char *fingerprint = cavum_study_fingerprint(g->study), *version = cavum_version();
  const char *settings = cavum_study_settings(g->study), *aims = cavum_study_aims(g->study);
  const char *title = cavum_study_title(g->study), *shown = hash;
  CAVUM_TRY(
      cavum_hdf5_write_texts(g->file, "/input/title", 0, &title, "title of the study", error));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/study_file", 0, &study,
                                   "text of the study file", error));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/cell_file", 0, &cell, "text of the base cell",
                                   error));
  CAVUM_TRY(write_mesh_file(g, error));
  cavum_sha256(hash, study, strlen(study));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/study_sha256", 0, &shown,
                                   "SHA-256 of the text in study_file", error));
  cavum_sha256(hash, cell, strlen(cell));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/cell_sha256", 0, &shown,
                                   "SHA-256 of the text in cell_file", error));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/fingerprint", 0, &fingerprint,
                                   "SHA-256 over settings and shapes", error));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/settings", 0, &settings,
                                   "SHA-256 over version and all of the study but its shapes",
                                   error));
  if (aims[0])
    CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/aims", 0, &aims, AIMS_NAME, error));
  CAVUM_TRY(cavum_hdf5_write_texts(g->file, "/input/cavum_version", 0, &version, "version of cavum",
                                   error));
done:
  return status;
}

// "0 done: ...; 1 excluded: ..." for the status column.
static cavum_status describe_status(gather_state *g, cavum_error *error) {
  char text[1024] = "";
  size_t used = 0;
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES && used < sizeof text; i++) {
    used += (size_t)snprintf(text + used, sizeof text - used, "%s%d %s: %s", i ? "; " : "", i,
                             cavum_shape_status_word((cavum_shape_status)i),
                             cavum_shape_status_text((cavum_shape_status)i));
  }
  return cavum_hdf5_write_text_attribute(g->file, "/columns/status", "codes", text, error);
}

// "0 not known; 1 met; ..." for a column of verdicts.
static cavum_status describe_verdict(gather_state *g, const char *path, cavum_error *error) {
  char text[128] = "";
  size_t used = 0;
  for (int i = 0; i < CAVUM_NUM_VERDICTS && used < sizeof text; i++) {
    used += (size_t)snprintf(text + used, sizeof text - used, "%s%d %s", i ? "; " : "", i,
                             cavum_verdict_word((cavum_verdict_kind)i));
  }
  return cavum_hdf5_write_text_attribute(g->file, path, "codes", text, error);
}

static cavum_status make_columns(gather_state *g, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[CAVUM_COLUMN_KEY_SIZE + 16];
  int64_t num_reasons = cavum_scan_records_num_reasons(g->records);
  CAVUM_TRY(cavum_hdf5_make_ordered_group(g->file, "/columns", error));
  for (int i = 0; i < g->num_columns; i++) {
    const cavum_column *column = &g->columns[i];
    cavum_hdf5_column made = {.path = path_of(path, column->key),
                              .type = type_of(column->type),
                              .num_rows = cavum_study_num_shapes(g->study),
                              .units = column->unit,
                              .long_name = column->long_name,
                              .definition = column->definition};
    CAVUM_TRY(cavum_hdf5_make_column(g->file, &made, error));
    if (strncmp(column->key, "verdict_", strlen("verdict_")) == 0) {
      CAVUM_TRY(describe_verdict(g, made.path, error));
    }
  }
  CAVUM_TRY(describe_status(g, error));
  cavum_hdf5_column shape = {.path = "/reasons/shape",
                             .type = CAVUM_HDF5_COLUMN_INT64,
                             .num_rows = num_reasons,
                             .units = "1",
                             .long_name = "number of a shape that has no full row"};
  cavum_hdf5_column text = {.path = "/reasons/text",
                            .type = CAVUM_HDF5_COLUMN_TEXT,
                            .text_size = REASON_SIZE,
                            .num_rows = num_reasons,
                            .units = "1",
                            .long_name = "why"};
  CAVUM_TRY(cavum_hdf5_make_column(g->file, &shape, error));
  CAVUM_TRY(cavum_hdf5_make_column(g->file, &text, error));
done:
  return status;
}

static void pick_column(unsigned char *out, const unsigned char *rows, size_t row_size,
                        size_t offset, size_t size, int64_t count) {
  const unsigned char *from = rows + offset;
  for (int64_t i = 0; i < count; i++, from += row_size, out += size) memcpy(out, from, size);
}

static cavum_status flush_rows(gather_state *g, cavum_error *error) {
  char path[CAVUM_COLUMN_KEY_SIZE + 16];
  for (int i = 0; i < g->num_columns; i++) {
    const cavum_column *column = &g->columns[i];
    pick_column(g->column, g->rows, g->row_size, column->offset, cavum_column_size(column->type),
                g->num_rows);
    cavum_status status = cavum_hdf5_write_column(g->file, path_of(path, column->key), g->first_row,
                                                  g->num_rows, g->column, error);
    if (status != CAVUM_OK) return status;
  }
  g->first_row += g->num_rows;
  g->num_rows = 0;
  return CAVUM_OK;
}

static cavum_status flush_reasons(gather_state *g, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_write_column(g->file, "/reasons/shape", g->num_reasons, g->num_waiting,
                                    g->reason_shapes, error));
  CAVUM_TRY(cavum_hdf5_write_column(g->file, "/reasons/text", g->num_reasons, g->num_waiting,
                                    g->reason_texts, error));
  g->num_reasons += g->num_waiting;
  g->num_waiting = 0;
done:
  return status;
}

// Cuts a text to its fixed length without cutting a character; a full one has no end of its own.
static void copy_reason(char *out, const char *text) {
  size_t length = strlen(text);
  if (length > REASON_SIZE) {
    length = REASON_SIZE;
    while (length > 0 && ((unsigned char)text[length] & 0xc0) == 0x80) length--;
  }
  memset(out, 0, REASON_SIZE);
  memcpy(out, text, length);  // NOLINT(bugprone-not-null-terminated-result)
}

static cavum_status take_batch(gather_state *g, int64_t index, cavum_error *error) {
  cavum_scan_batch batch;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_scan_records_read(&batch, g->records, index, error));
  for (int i = 0; i < batch.num_reasons; i++) {
    if (g->num_waiting == REASON_BLOCK) CAVUM_TRY(flush_reasons(g, error));
    g->reason_shapes[g->num_waiting] = batch.reasons[i].shape;
    copy_reason(g->reason_texts + g->num_waiting * REASON_SIZE, batch.reasons[i].text);
    g->num_waiting++;
  }
  const unsigned char *from = batch.rows;
  for (int64_t left = batch.num_rows; left > 0;) {
    int64_t room = CAVUM_HDF5_COLUMN_BLOCK - g->num_rows;
    int64_t count = left < room ? left : room;
    memcpy(g->rows + (size_t)g->num_rows * g->row_size, from, (size_t)count * g->row_size);
    from += (size_t)count * g->row_size;
    g->num_rows += count;
    left -= count;
    if (g->num_rows == CAVUM_HDF5_COLUMN_BLOCK) CAVUM_TRY(flush_rows(g, error));
  }
done:
  return status;
}

static cavum_status fill(gather_state *g, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t shapes = cavum_study_num_shapes(g->study);
  int64_t block = shapes < CAVUM_HDF5_COLUMN_BLOCK ? shapes : CAVUM_HDF5_COLUMN_BLOCK;
  g->rows = cavum_alloc(block, g->row_size);
  g->column = cavum_alloc(block, sizeof(double));
  g->reason_shapes = cavum_alloc(REASON_BLOCK, sizeof *g->reason_shapes);
  g->reason_texts = cavum_alloc(REASON_BLOCK, REASON_SIZE);
  if (!g->rows || !g->column || !g->reason_shapes || !g->reason_texts) {
    CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(write_input(g, error));
  CAVUM_TRY(make_columns(g, error));
  for (int64_t i = 0; i < cavum_study_num_batches(g->study); i++) {
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(take_batch(g, i, error));
  }
  CAVUM_TRY(flush_rows(g, error));
  CAVUM_TRY(flush_reasons(g, error));
done:
  free(g->rows);
  free(g->column);
  free(g->reason_shapes);
  free(g->reason_texts);
  return status;
}

static cavum_status write_scan(const char *path, const cavum_study *study,
                               cavum_scan_records *records, const cavum_front *front,
                               cavum_error *error) {
  if (!path || !study || !records) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  int64_t stored = cavum_scan_records_num_stored(records), all = cavum_study_num_batches(study);
  if (stored < all) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "%lld of %lld batches are missing: run the scan again to compute them",
                      (long long)(all - stored), (long long)all);
  }
  char *temporary = cavum_temporary_name_in_parts(path);
  gather_state g = {.study = study, .records = records, .row_size = cavum_study_row_size(study)};
  if (!temporary) return cavum_fail_memory(error);
  g.columns = cavum_study_columns(&g.num_columns, study);
  CAVUM_TRY(cavum_hdf5_create_on_disk(&g.file, temporary, error));
  CAVUM_TRY(fill(&g, error));
  if (front) CAVUM_TRY(cavum_front_write(g.file, front, error));
  CAVUM_TRY(cavum_hdf5_finish(&g.file, front ? "front" : "scan", error));
  CAVUM_TRY(cavum_commit_file(temporary, path, error));
done:
  if (status != CAVUM_OK) {
    cavum_hdf5_destroy(&g.file);
    unlink(temporary);
  }
  free(temporary);
  return status;
}

cavum_status cavum_store_write_scan(const char *path, const cavum_study *study,
                                    cavum_scan_records *records, cavum_error *error) {
  return write_scan(path, study, records, NULL, error);
}

cavum_status cavum_store_write_front(const char *path, const cavum_study *study,
                                     cavum_scan_records *records, const cavum_front *front,
                                     cavum_error *error) {
  if (!front) return cavum_fail_null(error, __func__);
  return write_scan(path, study, records, front, error);
}
