// SPDX-License-Identifier: GPL-3.0-or-later
// Two results of scans become one. Column by column, so that two whole columns are in memory and
// not all of them.
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/base.h"
#include "base/file.h"
#include "base/sha256.h"
#include "base/stop.h"
#include "store/scan_merge_rows.h"
#include "store/scan_read.h"
#include "store/scan_reasons.h"

enum {
  BLOCK = CAVUM_HDF5_COLUMN_BLOCK,
  REASON_SIZE = CAVUM_MESSAGE_SIZE,
  REASON_BLOCK = CAVUM_HDF5_TEXT_BLOCK
};

/** Texts of one of the files; all owned. */
typedef struct merge_texts {
  char *study, *cell, *settings;
} merge_texts;

/** A reason on its way. */
typedef struct merged_reason {
  int64_t shape;  // in the merged file
  char *text;     // owned
} merged_reason;

/** A merge under way. */
typedef struct merge_state {
  const cavum_stored_scan *scans[2];  // borrowed, in an order of their own
  merge_texts texts[2];
  cavum_merge_rows rows;
  cavum_hdf5_file *file;   // owned
  double *whole;           // owned, shape [rows of both]
  unsigned char *block;    // owned, shape [BLOCK] of the widest type
  merged_reason *reasons;  // owned
  int64_t num_reasons, reasons_capacity;
} merge_state;

static cavum_status check_columns(const cavum_stored_scan *a, const cavum_stored_scan *b,
                                  cavum_error *error) {
  for (int i = 0; i < cavum_stored_scan_num_columns(a); i++) {
    const char *key = cavum_stored_scan_key(a, i);
    if (cavum_stored_scan_find(b, key) >= 0) continue;
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: has no column %s, which %s has",
                      cavum_stored_scan_path(b), key, cavum_stored_scan_path(a));
  }
  return CAVUM_OK;
}

static cavum_status read_texts(merge_texts *texts, const cavum_stored_scan *scan,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(cavum_stored_scan_file(scan), "/input/settings")) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: an earlier version wrote it; what it computes cannot be compared",
                      cavum_stored_scan_path(scan));
  }
  CAVUM_TRY(cavum_stored_scan_read_text(&texts->study, scan, "/input/study_file", error));
  CAVUM_TRY(cavum_stored_scan_read_text(&texts->cell, scan, "/input/cell_file", error));
  CAVUM_TRY(cavum_stored_scan_read_text(&texts->settings, scan, "/input/settings", error));
done:
  return status;
}

static cavum_status check_alike(const merge_state *m, cavum_error *error) {
  const char *one = cavum_stored_scan_path(m->scans[0]);
  const char *other = cavum_stored_scan_path(m->scans[1]);
  cavum_status status = check_columns(m->scans[0], m->scans[1], error);
  if (status == CAVUM_OK) status = check_columns(m->scans[1], m->scans[0], error);
  if (status != CAVUM_OK || strcmp(m->texts[0].settings, m->texts[1].settings) == 0) return status;
  bool cells = strcmp(m->texts[0].cell, m->texts[1].cell) != 0;
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s and %s: rows mean different things: %s", one, other,
                    cells ? "the base cells differ"
                          : "links, held frequency, limits, mode or version of cavum differ");
}

// Which of the two comes first must not depend on how they were given.
static bool comes_later(const merge_state *m) {
  int order = strcmp(cavum_stored_scan_fingerprint(m->scans[0]),
                     cavum_stored_scan_fingerprint(m->scans[1]));
  if (order == 0) order = strcmp(m->texts[0].study, m->texts[1].study);
  if (order == 0) order = strcmp(m->texts[0].cell, m->texts[1].cell);
  if (order == 0) {
    order = strcmp(cavum_stored_scan_title(m->scans[0]), cavum_stored_scan_title(m->scans[1]));
  }
  return order > 0;
}

static void set_order(merge_state *m) {
  if (!comes_later(m)) return;
  const cavum_stored_scan *scan = m->scans[0];
  merge_texts texts = m->texts[0];
  m->scans[0] = m->scans[1];
  m->texts[0] = m->texts[1];
  m->scans[1] = scan;
  m->texts[1] = texts;
}

// What is computed, and which shapes.
static void take_fingerprint(char fingerprint[65], const merge_state *m) {
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  cavum_sha256_add(&state, "merged", sizeof "merged");
  cavum_sha256_add(&state, m->texts[0].settings, strlen(m->texts[0].settings));
  for (int64_t i = 0; i < m->rows.num_kept; i++) {
    int64_t row = m->rows.kept[i];
    cavum_sha256_add(&state, m->rows.keys + row * m->rows.num_keys,
                     (size_t)m->rows.num_keys * sizeof(double));
    cavum_sha256_add(&state, &m->rows.digests[row], sizeof m->rows.digests[row]);
  }
  cavum_sha256_end(fingerprint, &state);
}

static cavum_status write_text(const merge_state *m, const char *path, const char *text,
                               const char *long_name, cavum_error *error) {
  return cavum_hdf5_write_texts(m->file, path, 0, &text, long_name, error);
}

static cavum_status write_hash(const merge_state *m, const char *path, const char *text,
                               const char *long_name, cavum_error *error) {
  char hash[65];
  cavum_sha256(hash, text, strlen(text));
  return write_text(m, path, hash, long_name, error);
}

// Both titles where they differ and both fit.
static void join_titles(char title[256], const merge_state *m) {
  const char *a = cavum_stored_scan_title(m->scans[0]), *b = cavum_stored_scan_title(m->scans[1]);
  bool both = a[0] && b[0] && strcmp(a, b) != 0;
  int length = both ? snprintf(title, 256, "%s; %s", a, b) : 256;
  if (length >= 256) snprintf(title, 256, "%s", a[0] ? a : b);
}

// Aims that both studies state, or the one that states any; of unlike aims none.
static cavum_status write_aims(const merge_state *m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char *texts[2] = {NULL, NULL};
  for (int i = 0; i < 2; i++) {
    if (!cavum_hdf5_has(cavum_stored_scan_file(m->scans[i]), "/input/aims")) continue;
    CAVUM_TRY(cavum_stored_scan_read_text(&texts[i], m->scans[i], "/input/aims", error));
  }
  const char *kept = texts[0] ? texts[0] : texts[1];
  if (kept && !(texts[0] && texts[1] && strcmp(texts[0], texts[1]) != 0)) {
    CAVUM_TRY(write_text(m, "/input/aims", kept, "aims of the studies", error));
  }
done:
  free(texts[0]);
  free(texts[1]);
  return status;
}

// The mesh files are alike, as the settings are.
static cavum_status copy_mesh_file(const merge_state *m, cavum_error *error) {
  static const char path[] = "/input/mesh_file_base64";
  char *text = NULL;
  if (!cavum_hdf5_has(cavum_stored_scan_file(m->scans[0]), path)) return CAVUM_OK;
  cavum_status status = cavum_stored_scan_read_text(&text, m->scans[0], path, error);
  if (status == CAVUM_OK) {
    status = write_text(m, path, text, "the mesh file of the base cell, in base64", error);
  }
  free(text);
  return status;
}

static cavum_status write_input(const merge_state *m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char title[256], fingerprint[65];
  const char *cell = m->texts[0].cell;
  join_titles(title, m);
  take_fingerprint(fingerprint, m);
  char *study = cavum_format_text(
      "# Two studies whose results were merged.\n# Fingerprint of the first: %s\n%s\n"
      "# Fingerprint of the second: %s\n%s",
      cavum_stored_scan_fingerprint(m->scans[0]), m->texts[0].study,
      cavum_stored_scan_fingerprint(m->scans[1]), m->texts[1].study);
  if (!study) return cavum_fail_memory(error);
  CAVUM_TRY(write_text(m, "/input/title", title, "titles of the studies", error));
  CAVUM_TRY(write_text(m, "/input/study_file", study, "texts of the study files", error));
  CAVUM_TRY(write_text(m, "/input/cell_file", cell, "text of the base cell", error));
  CAVUM_TRY(copy_mesh_file(m, error));
  CAVUM_TRY(
      write_hash(m, "/input/study_sha256", study, "SHA-256 of the text in study_file", error));
  CAVUM_TRY(write_hash(m, "/input/cell_sha256", cell, "SHA-256 of the text in cell_file", error));
  CAVUM_TRY(
      write_text(m, "/input/fingerprint", fingerprint, "SHA-256 over settings and rows", error));
  CAVUM_TRY(write_text(m, "/input/settings", m->texts[0].settings,
                       "SHA-256 over version and all of the study but its shapes", error));
  CAVUM_TRY(write_aims(m, error));
  CAVUM_TRY(write_text(m, "/input/cavum_version", cavum_version(), "version of cavum", error));
done:
  free(study);
  return status;
}

/** What describes a column; a text that is missing is "". */
typedef struct column_texts {
  char path[CAVUM_COLUMN_KEY_SIZE + 16], units[64], long_name[256], definition[1024];
} column_texts;

static cavum_status read_attribute(char *text, size_t size, const cavum_hdf5_file *file,
                                   const char *path, const char *name, cavum_error *error) {
  text[0] = '\0';
  if (!cavum_hdf5_has_attribute(file, path, name)) return CAVUM_OK;
  return cavum_hdf5_read_text(text, size, file, path, name, error);
}

static cavum_status make_column(const merge_state *m, int column, cavum_hdf5_column_type *type,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  column_texts t;
  char codes[1024];
  const cavum_hdf5_file *from = cavum_stored_scan_file(m->scans[0]);
  cavum_merge_column_path(t.path, cavum_stored_scan_key(m->scans[0], column));
  CAVUM_TRY(cavum_hdf5_read_column_type(type, from, t.path, error));
  CAVUM_TRY(read_attribute(t.units, sizeof t.units, from, t.path, "units", error));
  CAVUM_TRY(read_attribute(t.long_name, sizeof t.long_name, from, t.path, "long_name", error));
  CAVUM_TRY(read_attribute(t.definition, sizeof t.definition, from, t.path, "definition", error));
  CAVUM_TRY(read_attribute(codes, sizeof codes, from, t.path, "codes", error));
  cavum_hdf5_column made = {.path = t.path,
                            .type = *type,
                            .num_rows = m->rows.num_kept,
                            .units = t.units,
                            .long_name = t.long_name[0] ? t.long_name : NULL,
                            .definition = t.definition[0] ? t.definition : NULL};
  CAVUM_TRY(cavum_hdf5_make_column(m->file, &made, error));
  if (codes[0]) {
    CAVUM_TRY(cavum_hdf5_write_text_attribute(m->file, t.path, "codes", codes, error));
  }
done:
  return status;
}

// Numbers of columns come as doubles, which hold each of these types exactly.
static void put(unsigned char *block, int64_t i, cavum_hdf5_column_type type, double value) {
  switch (type) {
    case CAVUM_HDF5_COLUMN_DOUBLE:
      ((double *)block)[i] = value;
      break;
    case CAVUM_HDF5_COLUMN_FLOAT:
      ((float *)block)[i] = (float)value;
      break;
    case CAVUM_HDF5_COLUMN_INT64:
      ((int64_t *)block)[i] = cavum_whole(value, -1);
      break;
    case CAVUM_HDF5_COLUMN_INT32:
      ((int32_t *)block)[i] = cavum_whole_int(value, -1);
      break;
    case CAVUM_HDF5_COLUMN_UINT8:
    case CAVUM_HDF5_COLUMN_TEXT:
      block[i] = (unsigned char)cavum_whole_int(value, UINT8_MAX);
      break;
  }
}

static cavum_status copy_column(merge_state *m, int column, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[CAVUM_COLUMN_KEY_SIZE + 16];
  cavum_hdf5_column_type type = CAVUM_HDF5_COLUMN_DOUBLE;
  bool numbers = column == cavum_stored_scan_find(m->scans[0], "shape");
  cavum_merge_column_path(path, cavum_stored_scan_key(m->scans[0], column));
  CAVUM_TRY(make_column(m, column, &type, error));
  CAVUM_TRY(cavum_merge_rows_read(m->whole, &m->rows, column, error));
  for (int64_t first = 0; first < m->rows.num_kept; first += BLOCK) {
    int64_t left = m->rows.num_kept - first, count = left < BLOCK ? left : BLOCK;
    for (int64_t i = 0; i < count; i++) {
      double value = numbers ? (double)(first + i) : m->whole[m->rows.kept[first + i]];
      put(m->block, i, type, value);
    }
    CAVUM_TRY(cavum_hdf5_write_column(m->file, path, first, count, m->block, error));
  }
done:
  return status;
}

// Collects the reasons of one file whose rows are kept; `places` has the merged number of each row.
static cavum_status take_reasons(merge_state *m, int which, const int64_t *places,
                                 cavum_error *error) {
  int64_t count = cavum_stored_scan_num_rows(m->scans[which]), shape = 0;
  int64_t offset = which == 0 ? 0 : cavum_stored_scan_num_rows(m->scans[0]);
  const char *text = "";
  cavum_scan_reasons list = {0};
  cavum_status status = CAVUM_OK;
  cavum_scan_reasons_open(&list, cavum_stored_scan_file(m->scans[which]));
  for (;;) {
    CAVUM_TRY(cavum_scan_reasons_next(&list, &shape, &text, error));
    if (shape < 0) break;
    if (shape >= count || places[offset + shape] < 0) continue;
    void *grown = m->reasons;
    bool got = cavum_grow(&grown, &m->reasons_capacity, m->num_reasons + 1, sizeof *m->reasons);
    m->reasons = grown;
    char *copy = got ? cavum_copy_text(text) : NULL;
    if (!copy) CAVUM_TRY(cavum_fail_memory(error));
    m->reasons[m->num_reasons++] = (merged_reason){places[offset + shape], copy};
  }
done:
  cavum_scan_reasons_close(&list);
  return status;
}

static int by_shape(const void *left, const void *right) {
  const merged_reason *a = left, *b = right;
  return (a->shape > b->shape) - (a->shape < b->shape);
}

static cavum_status collect_reasons(merge_state *m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t *places = cavum_alloc(m->rows.num_rows, sizeof *places);
  if (!places) return cavum_fail_memory(error);
  for (int64_t i = 0; i < m->rows.num_rows; i++) places[i] = -1;
  for (int64_t i = 0; i < m->rows.num_kept; i++) places[m->rows.kept[i]] = i;
  for (int which = 0; which < 2; which++) CAVUM_TRY(take_reasons(m, which, places, error));
  if (m->num_reasons > 0) {
    qsort(m->reasons, (size_t)m->num_reasons, sizeof *m->reasons, by_shape);
  }
done:
  free(places);
  return status;
}

static cavum_status write_reason_block(const merge_state *m, int64_t *shapes, char *texts,
                                       int64_t first, int64_t count, cavum_error *error) {
  memset(texts, 0, (size_t)REASON_BLOCK * REASON_SIZE);
  for (int64_t i = 0; i < count; i++) {
    const merged_reason *reason = &m->reasons[first + i];
    shapes[i] = reason->shape;
    // As long as they were in the file they come from.
    memcpy(texts + i * REASON_SIZE, reason->text, strnlen(reason->text, REASON_SIZE));
  }
  cavum_status status =
      cavum_hdf5_write_column(m->file, "/reasons/shape", first, count, shapes, error);
  if (status != CAVUM_OK) return status;
  return cavum_hdf5_write_column(m->file, "/reasons/text", first, count, texts, error);
}

static cavum_status write_reasons(merge_state *m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t *shapes = cavum_alloc(REASON_BLOCK, sizeof *shapes);
  char *texts = cavum_alloc(REASON_BLOCK, REASON_SIZE);
  if (!shapes || !texts) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(collect_reasons(m, error));
  cavum_hdf5_column shape = {.path = "/reasons/shape",
                             .type = CAVUM_HDF5_COLUMN_INT64,
                             .num_rows = m->num_reasons,
                             .units = "1",
                             .long_name = "number of a shape that has no full row"};
  cavum_hdf5_column text = {.path = "/reasons/text",
                            .type = CAVUM_HDF5_COLUMN_TEXT,
                            .text_size = REASON_SIZE,
                            .num_rows = m->num_reasons,
                            .units = "1",
                            .long_name = "why"};
  CAVUM_TRY(cavum_hdf5_make_column(m->file, &shape, error));
  CAVUM_TRY(cavum_hdf5_make_column(m->file, &text, error));
  for (int64_t first = 0; first < m->num_reasons; first += REASON_BLOCK) {
    int64_t left = m->num_reasons - first, count = left < REASON_BLOCK ? left : REASON_BLOCK;
    CAVUM_TRY(write_reason_block(m, shapes, texts, first, count, error));
  }
done:
  free(shapes);
  free(texts);
  return status;
}

static cavum_status fill(merge_state *m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  m->whole = cavum_alloc(m->rows.num_rows, sizeof *m->whole);
  m->block = cavum_alloc(BLOCK, sizeof(double));
  if (!m->whole || !m->block) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(write_input(m, error));
  CAVUM_TRY(cavum_hdf5_make_ordered_group(m->file, "/columns", error));
  for (int i = 0; i < cavum_stored_scan_num_columns(m->scans[0]); i++) {
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(copy_column(m, i, error));
  }
  CAVUM_TRY(write_reasons(m, error));
done:
  return status;
}

static void clear(merge_state *m) {
  for (int i = 0; i < 2; i++) {
    free(m->texts[i].study);
    free(m->texts[i].cell);
    free(m->texts[i].settings);
  }
  for (int64_t i = 0; i < m->num_reasons; i++) free(m->reasons[i].text);
  free(m->reasons);
  free(m->whole);
  free(m->block);
  cavum_merge_rows_clear(&m->rows);
  cavum_hdf5_destroy(&m->file);
}

cavum_status cavum_store_merge_scans(const char *path, const cavum_stored_scan *one,
                                     const cavum_stored_scan *other, cavum_error *error) {
  if (!path || !one || !other) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  merge_state m = {.scans = {one, other}};
  char *temporary = cavum_temporary_name(path);
  if (!temporary) return cavum_fail_memory(error);
  for (int i = 0; i < 2; i++) CAVUM_TRY(read_texts(&m.texts[i], m.scans[i], error));
  CAVUM_TRY(check_alike(&m, error));
  set_order(&m);
  CAVUM_TRY(cavum_merge_rows_sort(&m.rows, m.scans, error));
  CAVUM_TRY(cavum_hdf5_create_on_disk(&m.file, temporary, error));
  CAVUM_TRY(fill(&m, error));
  CAVUM_TRY(cavum_hdf5_finish(&m.file, "scan", error));
  CAVUM_TRY(cavum_commit_file(temporary, path, error));
done:
  clear(&m);
  if (status != CAVUM_OK) unlink(temporary);
  free(temporary);
  return status;
}
