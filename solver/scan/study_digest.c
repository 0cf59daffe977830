// SPDX-License-Identifier: GPL-3.0-or-later
// Digests of what decides the bits of rows. Numbers go in as their bits, texts with their end.
#include "scan/study_digest.h"

#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/cell_text.h"

// Changes when rows of the same settings would no longer be the same bytes.
static const int ROWS_VERSION = 7;

static void add_number(cavum_sha256_state *state, double value) {
  cavum_sha256_add(state, &value, sizeof value);
}

static void add_integer(cavum_sha256_state *state, int64_t value) {
  cavum_sha256_add(state, &value, sizeof value);
}

// The digest of a file, as a text.
static cavum_status add_file(cavum_sha256_state *state, char hash[65], const char *path,
                             cavum_error *error) {
  cavum_sha256_state of_file;
  cavum_sha256_begin(&of_file);
  cavum_status status = cavum_sha256_add_file(&of_file, path, error);
  cavum_sha256_end(hash, &of_file);
  if (status == CAVUM_OK) cavum_sha256_add_text(state, hash);
  return status;
}

// The cell as its own text has it: comments, order and the title of the file do not count. What is
// in a mesh file counts, not its name.
static cavum_status add_cell(cavum_sha256_state *state, cavum_study *study, cavum_error *error) {
  char *text = NULL;
  char mesh_name[] = "mesh";
  cavum_cell cell = study->cell;
  cell.title = NULL;
  cell.text = NULL;
  cell.mesh.path = mesh_name;
  cell.mesh_data = NULL;
  cell.mesh_size = 0;
  cavum_status status = cavum_cell_to_text(&text, &cell, error);
  if (status != CAVUM_OK) return status;
  cavum_sha256_add_text(state, text);
  free(text);
  if (study->cell.kind != CAVUM_CONTOUR_MESH_FILE) return CAVUM_OK;
  if (study->cell.mesh_data) {
    char hash[65];
    cavum_sha256(hash, study->cell.mesh_data, study->cell.mesh_size);
    cavum_sha256_add_text(state, hash);
    return CAVUM_OK;
  }
  return add_file(state, study->mesh_sha256, study->cell.mesh.path, error);
}

static void add_expression(cavum_sha256_state *state, const cavum_expression *expression) {
  for (const char *c = cavum_expression_text(expression); *c; c++) {
    if (*c != ' ') cavum_sha256_add(state, c, 1);
  }
  cavum_sha256_add_text(state, "");
  // Names that are no inputs: their numbers, as the cell file has them.
  for (int i = 0; i < cavum_expression_num_names(expression); i++) {
    cavum_expression_name name = cavum_expression_name_at(expression, i);
    add_integer(state, name.index);
    if (name.index < 0) add_number(state, name.constant);
  }
}

static void add_inputs(cavum_sha256_state *state, const cavum_study *study) {
  add_integer(state, study->num_inputs);
  for (int i = 0; i < study->num_inputs; i++) {
    const cavum_input *input = &study->inputs[i];
    cavum_sha256_add_text(state, input->place.name);
    add_integer(state, input->role);
    add_integer(state, input->place.set_left);
    add_integer(state, input->place.set_right);
    if (input->role == CAVUM_STUDY_HELD) add_number(state, input->place.base);
    if (input->expression) add_expression(state, input->expression);
  }
  add_integer(state, study->base.left_tube_follows);
  add_integer(state, study->base.right_tube_follows);
}

static void add_hold(cavum_sha256_state *state, const cavum_hold *held) {
  add_integer(state, held->input);
  if (held->input < 0) return;
  add_number(state, held->frequency_hz);
  add_number(state, held->low);
  add_number(state, held->high);
}

static void add_limits(cavum_sha256_state *state, const cavum_limits *limits) {
  double angle_rad = limits->wall_angle_rad, curvature_m = limits->iris_curvature_m;
  add_number(state, isnan(angle_rad) ? -HUGE_VAL : angle_rad);
  add_number(state, isnan(curvature_m) ? -HUGE_VAL : curvature_m);
  for (int i = 0; i < limits->num_conditions; i++) add_expression(state, limits->conditions[i]);
}

static void add_modes(cavum_sha256_state *state, const cavum_study *study) {
  add_integer(state, study->coupling + study->coupling_of_inner_cell);
  add_integer(state, study->mode);
  if (study->num_modes > 0) add_integer(state, study->num_modes);
  if (study->num_modes > 1) cavum_sha256_add_text(state, "labels");
}

static void add_requirements(cavum_sha256_state *state, const cavum_requirements *requirements) {
  for (int i = 0; requirements && i < requirements->count; i++) {
    cavum_sha256_add_text(state, requirements->list[i].key);
    add_number(state, requirements->list[i].least);
    add_number(state, requirements->list[i].most);
  }
}

// Which numbers a row has; the order is that of the first version.
static void add_columns(cavum_sha256_state *state, const cavum_study *study) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (study->wanted[id])
      cavum_sha256_add_text(state, cavum_figure_describe((cavum_figure_id)id).key);
  }
  add_requirements(state, study->requirements);
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    if (study->wanted_geometry[id]) {
      cavum_sha256_add_text(state, cavum_geometry_describe((cavum_geometry_id)id).key);
    }
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!study->differentiated[id]) continue;
    cavum_sha256_add_text(state, "derivatives");
    cavum_sha256_add_text(state, cavum_figure_describe((cavum_figure_id)id).key);
  }
}

static cavum_status take_settings(cavum_study *study, cavum_error *error) {
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  cavum_sha256_add_text(&state, cavum_version());
  add_integer(&state, ROWS_VERSION);
  cavum_status status = add_cell(&state, study, error);
  if (status != CAVUM_OK) return status;
  add_inputs(&state, study);
  add_hold(&state, &study->hold);
  add_limits(&state, &study->limits);
  add_modes(&state, study);
  add_columns(&state, study);
  cavum_sha256_end(study->settings, &state);
  return CAVUM_OK;
}

static void add_axis(cavum_sha256_state *state, const cavum_axis *axis) {
  add_integer(state, axis->list != NULL);
  add_integer(state, axis->num_points);
  for (int64_t i = 0; axis->list && i < axis->num_points; i++) add_number(state, axis->list[i]);
  if (!axis->list) add_number(state, axis->low);
  if (!axis->list) add_number(state, axis->high);
}

cavum_status cavum_study_take_digests(cavum_study *study, cavum_error *error) {
  cavum_status status = take_settings(study, error);
  if (status != CAVUM_OK) return status;
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  cavum_sha256_add_text(&state, study->settings);
  add_integer(&state, study->batch_size);
  add_integer(&state, study->sampling.kind);
  add_integer(&state, study->num_shapes);
  add_integer(&state, (int64_t)study->sampling.seed);
  cavum_sha256_add_text(&state, study->table.digest);
  for (int i = 0; i < study->sampling.num_axes; i++) add_axis(&state, &study->sampling.axes[i]);
  cavum_sha256_end(study->fingerprint, &state);
  return CAVUM_OK;
}

static cavum_batch_digest end_batch(cavum_sha256_state *state) {
  char text[65];
  cavum_batch_digest digest;
  cavum_sha256_end(text, state);
  // Every hexadecimal digit is half a byte; the first half of them is kept.
  for (int i = 0; i < CAVUM_BATCH_DIGEST_SIZE; i++) {
    int high = text[(ptrdiff_t)2 * i], low = text[(ptrdiff_t)2 * i + 1];
    high = high <= '9' ? high - '0' : high - 'a' + 10;
    low = low <= '9' ? low - '0' : low - 'a' + 10;
    digest.bytes[i] = (unsigned char)(high << 4 | low);
  }
  return digest;
}

static cavum_sha256_state begin_batch(const cavum_study *study, int num_rows) {
  cavum_sha256_state state;
  cavum_sha256_begin(&state);
  cavum_sha256_add_text(&state, study->settings);
  add_integer(&state, num_rows);
  return state;
}

cavum_batch_digest cavum_study_digest_shapes(const cavum_study *study, const double *varied,
                                             int num_rows) {
  cavum_sha256_state state = begin_batch(study, num_rows);
  size_t count = (size_t)num_rows * (size_t)cavum_study_num_varied(study);
  cavum_sha256_add(&state, varied, count * sizeof *varied);
  return end_batch(&state);
}

cavum_batch_digest cavum_study_digest_rows(const cavum_study *study, const unsigned char *rows,
                                           int num_rows) {
  cavum_sha256_state state = begin_batch(study, num_rows);
  const cavum_row_layout *layout = &study->layout;
  int num_varied = cavum_study_num_varied(study);
  for (int i = 0; i < num_rows; i++) {
    const unsigned char *row = rows + (size_t)i * layout->row_size;
    for (int k = 0; k < num_varied; k++) {
      // Columns of inputs are doubles.
      cavum_sha256_add(&state, row + layout->columns[layout->first_input + k].offset,
                       sizeof(double));
    }
  }
  return end_batch(&state);
}

bool cavum_batch_digest_equal(const cavum_batch_digest *a, const cavum_batch_digest *b) {
  return memcmp(a->bytes, b->bytes, sizeof a->bytes) == 0;
}
