// SPDX-License-Identifier: GPL-3.0-or-later
// The cell of a row as the text of a cell file: the text of the base cell in the result file with
// the numbers that its study set, as they stand in the columns of the inputs; written anew where
// the text does not state them all. Nothing is sampled, linked or solved for again, so that it is
// the shape of the row whatever the study file became since.
#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/base64.h"
#include "cavum/cell_text.h"
#include "cavum/scan_store.h"
#include "cell/cell_edit.h"
#include "cell/place.h"
#include "store/scan_read.h"
#include "store/scan_reasons.h"
#include "yaml/copy.h"
#include "yaml/writer.h"

enum { MOST_INPUTS = 128 };
static const char MESH_FILE[] = "/input/mesh_file_base64";

/** The numbers of a row that belong to its cell. */
typedef struct row_inputs {
  int count;
  cavum_place places[MOST_INPUTS];
  double values[MOST_INPUTS];
} row_inputs;

static const cavum_place *place_of(const void *data, int index) {
  return &((const row_inputs *)data)->places[index];
}

static cavum_status read_base(cavum_cell *cell, char **text, const cavum_stored_scan *scan,
                              cavum_error *error) {
  cavum_status status = cavum_stored_scan_read_text(text, scan, "/input/cell_file", error);
  if (status != CAVUM_OK) return status;
  return cavum_cell_read_text(cell, *text, strlen(*text), "base cell", error);
}

// What the row was judged by belongs to its file as well, once: a text that was kept has it.
static cavum_status copy_sections(char **sections, const char *base, const char *written,
                                  cavum_error *error) {
  static const char *const keys[] = {"requirements", "tolerances"};
  const char *missing[2];
  size_t count = 0;
  for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++) {
    char *there = NULL;
    cavum_status status = cavum_yaml_copy_sections(&there, written, &keys[i], 1, error);
    if (status != CAVUM_OK) return status;
    if (!*there) missing[count++] = keys[i];
    free(there);
  }
  return cavum_yaml_copy_sections(sections, base, missing, count, error);
}

static cavum_status read_inputs(row_inputs *inputs, const cavum_stored_scan *scan,
                                const cavum_place_finder *finder, int64_t shape,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < cavum_stored_scan_num_columns(scan); i++) {
    const char *key = cavum_stored_scan_key(scan, i);
    if (!cavum_stored_scan_is_input(scan, i)) continue;
    if (inputs->count == MOST_INPUTS) {
      CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "more than %d inputs", MOST_INPUTS));
    }
    double *value = &inputs->values[inputs->count];
    CAVUM_TRY(cavum_place_find(&inputs->places[inputs->count++], finder, key, error));
    CAVUM_TRY(cavum_stored_scan_read(value, scan, i, shape, 1, error));
  }
done:
  return status;
}

// What stands in the list of reasons about a shape, or "".
static cavum_status find_reason(char reason[CAVUM_MESSAGE_SIZE], const cavum_stored_scan *scan,
                                int64_t shape, cavum_error *error) {
  cavum_scan_reasons list = {0};
  int64_t found = 0;
  const char *text = "";
  cavum_status status = CAVUM_OK;
  reason[0] = '\0';
  cavum_scan_reasons_open(&list, cavum_stored_scan_file(scan));
  do {
    CAVUM_TRY(cavum_scan_reasons_next(&list, &found, &text, error));
  } while (found >= 0 && found < shape);
  if (found == shape) snprintf(reason, CAVUM_MESSAGE_SIZE, "%s", text);
done:
  cavum_scan_reasons_close(&list);
  return status;
}

// A shape whose held dimension was not found is no shape.
static cavum_status check_inputs(const row_inputs *inputs, const cavum_stored_scan *scan,
                                 int64_t shape, cavum_error *error) {
  char reason[CAVUM_MESSAGE_SIZE];
  for (int i = 0; i < inputs->count; i++) {
    if (isfinite(inputs->values[i])) continue;
    cavum_status status = find_reason(reason, scan, shape, error);
    if (status != CAVUM_OK) return status;
    return cavum_fail(error, CAVUM_ERR_INPUT, "shape %lld has no cell file: it has no %s: %.300s",
                      (long long)shape, inputs->places[i].name, reason);
  }
  return CAVUM_OK;
}

// One line of a comment: no end of a line in it.
static void copy_as_line(char *to, size_t size, const char *from) {
  snprintf(to, size, "%s", from);
  for (char *c = to; *c; c++) {
    if (iscntrl((unsigned char)*c)) *c = ' ';
  }
}

static cavum_status read_status(cavum_shape_status *outcome, const cavum_stored_scan *scan,
                                int64_t shape, cavum_error *error) {
  double code = NAN;
  int column = cavum_stored_scan_find(scan, "status");
  cavum_status status = cavum_stored_scan_read(&code, scan, column, shape, 1, error);
  if (status == CAVUM_OK)
    *outcome = (cavum_shape_status)cavum_whole_int(code, CAVUM_NUM_SHAPE_STATUSES);
  return status;
}

// The text with a comment in front that says where it comes from.
static cavum_status add_origin(char **text, const char *cell, const char *sections,
                               const cavum_stored_scan *scan, int64_t shape, cavum_error *error) {
  char title[256];
  cavum_shape_status outcome;
  cavum_status status = read_status(&outcome, scan, shape, error);
  if (status != CAVUM_OK) return status;
  const char *given = cavum_stored_scan_title(scan);
  static const char byte_order_mark[] = "\xef\xbb\xbf";
  size_t mark = strlen(byte_order_mark);
  if (strncmp(cell, byte_order_mark, mark) == 0) cell += mark;
  copy_as_line(title, sizeof title, given[0] ? given : "without a title");
  char *made = cavum_format_text(
      "# Shape %lld (%s) of the study: %s\n# Fingerprint of the study: %s\n%s%s", (long long)shape,
      cavum_shape_status_word(outcome), title, cavum_stored_scan_fingerprint(scan), cell, sections);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}

static cavum_status apply(cavum_cell *cell, bool *owned, const cavum_place_finder *finder,
                          const row_inputs *inputs, cavum_error *error) {
  cavum_place_base places = cavum_place_make_base(finder, "base cell");
  return cavum_place_apply(cell, owned, &places, inputs->count, place_of, inputs, inputs->values,
                           error);
}

// A tube that follows its iris, in the text as well where that states its radius.
static cavum_status write_tube(char **text, const cavum_cell *cell, const char *key,
                               double radius_m, double stated_m, cavum_error *error) {
  char number[CAVUM_WRITER_NUMBER_SIZE], *edited = NULL;
  if (radius_m == stated_m) return CAVUM_OK;
  cavum_writer_number_text(number, radius_m, CAVUM_UNIT_MM);
  cavum_status status = cavum_cell_edit_number(&edited, cell, *text, key, number, error);
  if (status != CAVUM_OK) return status;
  free(*text);
  *text = edited;
  return CAVUM_OK;
}

static cavum_status write_tubes(char **text, const cavum_cell *cell, cavum_error *error) {
  cavum_cell stated;
  cavum_status status = cavum_cell_read_text(&stated, *text, strlen(*text), "base cell", error);
  if (status != CAVUM_OK) return status;
  double left_m = stated.left_end.tube_radius_m, right_m = stated.right_end.tube_radius_m;
  cavum_cell_clear(&stated);
  status =
      write_tube(text, cell, "ends.left.radius_mm", cell->left_end.tube_radius_m, left_m, error);
  if (status != CAVUM_OK) return status;
  return write_tube(text, cell, "ends.right.radius_mm", cell->right_end.tube_radius_m, right_m,
                    error);
}

// The text of the base cell with the numbers of the row in it, comments and all, where that gives
// this very cell; else NULL, as where the study varies a number that the text does not state.
static cavum_status write_in_text(char **text, const cavum_place_finder *finder,
                                  const row_inputs *inputs, const cavum_cell *cell,
                                  cavum_error *error) {
  cavum_cell other;
  bool owned = false;
  char *made = NULL;
  row_inputs *stated = cavum_alloc(1, sizeof *stated);
  if (!stated) return cavum_fail_memory(error);
  *stated = *inputs;
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < inputs->count && status == CAVUM_OK; i++) {
    status = cavum_place_find_in_text(&stated->places[i], finder, inputs->places[i].name, NULL);
  }
  if (status == CAVUM_OK) status = apply(&other, &owned, finder, stated, NULL);
  free(stated);
  if (status == CAVUM_OK && owned) {
    bool same = cavum_cell_digest(&other) == cavum_cell_digest(cell);
    if (same) made = cavum_copy_text(other.text);
    if (same && !made) status = CAVUM_ERR_MEMORY;
    if (made) status = write_tubes(&made, &other, error);
    cavum_cell_clear(&other);
  }
  if (status == CAVUM_ERR_MEMORY || (made && status != CAVUM_OK)) {
    free(made);
    return status == CAVUM_ERR_MEMORY ? cavum_fail_memory(error) : status;
  }
  *text = made;
  return CAVUM_OK;
}

// The mesh file of the base cell as it was when the study was computed.
static cavum_status read_mesh_file(char **data, size_t *size, const cavum_stored_scan *scan,
                                   cavum_error *error) {
  char *base64 = NULL;
  if (!cavum_hdf5_has(cavum_stored_scan_file(scan), MESH_FILE)) return CAVUM_OK;
  cavum_status status = cavum_stored_scan_read_text(&base64, scan, MESH_FILE, error);
  if (status == CAVUM_OK) status = cavum_base64_decode(data, size, base64, error);
  free(base64);
  return status;
}

// A cell whose mesh is known holds it: the file of that name may be another by now, or elsewhere.
static cavum_status write_with_mesh(char **text, const cavum_cell *cell, char *data, size_t size,
                                    cavum_error *error) {
  cavum_cell whole = *cell;
  whole.mesh_data = data;
  whole.mesh_size = size;
  return cavum_cell_to_text(text, &whole, error);
}

static cavum_status write_cell(char **text, const cavum_stored_scan *scan,
                               const cavum_place_finder *finder, const row_inputs *inputs,
                               cavum_error *error) {
  cavum_cell cell;
  bool owned = false;
  char *made = NULL, *mesh = NULL;
  size_t mesh_size = 0;
  cavum_status status = read_mesh_file(&mesh, &mesh_size, scan, error);
  if (status != CAVUM_OK) return status;
  status = apply(&cell, &owned, finder, inputs, error);
  if (status == CAVUM_OK) {
    status = mesh ? write_with_mesh(&made, &cell, mesh, mesh_size, error)
                  : write_in_text(&made, finder, inputs, &cell, error);
    if (status == CAVUM_OK && !made) status = cavum_cell_to_text(&made, &cell, error);
  }
  free(mesh);
  if (owned) cavum_cell_clear(&cell);
  if (status == CAVUM_OK) *text = made;
  return status;
}

// A row that never was a shape: the reason that the study found, in place of a line of a text that
// nobody wrote; without one the error stays as it is.
static cavum_status refuse_no_shape(const cavum_stored_scan *scan, int64_t shape,
                                    cavum_error *error) {
  char reason[CAVUM_MESSAGE_SIZE];
  cavum_shape_status outcome;
  cavum_status status = read_status(&outcome, scan, shape, error);
  if (status == CAVUM_OK) status = find_reason(reason, scan, shape, error);
  if (status != CAVUM_OK) return status;
  if (outcome != CAVUM_SHAPE_NO_SHAPE || !reason[0]) return CAVUM_ERR_GEOMETRY;
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "shape %lld has no cell file: it cannot exist: %.400s", (long long)shape,
                    reason);
}

cavum_status cavum_stored_scan_shape_to_text(char **text, const cavum_stored_scan *scan,
                                             int64_t shape, cavum_error *error) {
  if (!text || !scan) return cavum_fail_null(error, __func__);
  int64_t rows = cavum_stored_scan_num_rows(scan);
  if (shape < 0 || shape >= rows) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "shape %lld: expected 0 to %lld", (long long)shape,
                      (long long)rows - 1);
  }
  cavum_status status = CAVUM_OK;
  cavum_cell base;
  cavum_place_finder finder = {0};
  char *base_text = NULL, *written = NULL, *sections = NULL;
  row_inputs *inputs = cavum_alloc(1, sizeof *inputs);
  cavum_cell_set_defaults(&base);
  if (!inputs) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(read_base(&base, &base_text, scan, error));
  CAVUM_TRY(cavum_place_finder_open(&finder, &base, "base cell", error));
  CAVUM_TRY(read_inputs(inputs, scan, &finder, shape, error));
  CAVUM_TRY(check_inputs(inputs, scan, shape, error));
  status = write_cell(&written, scan, &finder, inputs, error);
  if (status == CAVUM_ERR_GEOMETRY) status = refuse_no_shape(scan, shape, error);
  if (status != CAVUM_OK) goto done;
  CAVUM_TRY(copy_sections(&sections, base_text, written, error));
  CAVUM_TRY(add_origin(text, written, sections, scan, shape, error));
done:
  free(base_text);
  free(sections);
  free(written);
  free(inputs);
  cavum_place_finder_clear(&finder);
  cavum_cell_clear(&base);
  return status;
}
