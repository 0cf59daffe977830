// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes near a cell. Each is read from the text that would be written, so that a file has the very
// shape that was solved.
#include "design/trial.h"

#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cell/arc_settle.h"
#include "cell/cell.h"
#include "cell/cell_edit.h"
#include "cell/dimension.h"
#include "cell/moved_cell.h"
#include "solve/options.h"
#include "yaml/writer.h"

static const char contour_prefix[] = "contour.";

static const char *without_contour(const char *key) {
  size_t length = strlen(contour_prefix);
  return strncmp(key, contour_prefix, length) == 0 ? key + length : key;
}

// Behind `left.` or `right.`; NULL without one.
static const char *behind_side(const char *key) {
  if (strncmp(key, "left.", 5) == 0) return key + 5;
  return strncmp(key, "right.", 6) == 0 ? key + 6 : NULL;
}

// The text of a cell that was changed in memory is written anew, and that has no splines and
// circles any more: where its path is still that of the text, this one is taken.
static cavum_status take_text(cavum_trial *trial, cavum_error *error) {
  const cavum_cell *cell = trial->cell;
  bool same_path = false;
  cavum_status status = cavum_cell_to_text(&trial->text, cell, error);
  if (status != CAVUM_OK || cell->kind != CAVUM_CONTOUR_PATH || !cell->text) return status;
  if (strcmp(trial->text, cell->text) == 0) return CAVUM_OK;
  status = cavum_cell_has_path_of_text(&same_path, cell, error);
  if (status != CAVUM_OK || !same_path) return status;
  free(trial->text);
  trial->text = cavum_copy_text(cell->text);
  trial->text_of_path = true;
  if (!trial->text) return cavum_fail_memory(error);
  cavum_cell read;
  status = cavum_cell_read_text(&read, trial->text, strlen(trial->text), NULL, error);
  if (status != CAVUM_OK) return status;
  trial->length_of_text_m = read.accelerating_length_m;
  cavum_cell_clear(&read);
  return CAVUM_OK;
}

cavum_status cavum_trial_open(cavum_trial *trial, const cavum_cell *cell,
                              const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options with_derivatives;
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "a mesh file has no dimensions to change");
  }
  cavum_status status = cavum_solve_options_take(&with_derivatives, options, error);
  if (status != CAVUM_OK) return status;
  with_derivatives.derivatives = true;
  trial->cell = cell;
  status = take_text(trial, error);
  return status == CAVUM_OK ? cavum_solver_create(&trial->solver, &with_derivatives, error)
                            : status;
}

void cavum_trial_clear(cavum_trial *trial) {
  cavum_solver_destroy(&trial->solver);
  free(trial->text);
  *trial = (cavum_trial){0};
}

// Whether two keys are the same number, or one a half of the other.
static bool overlap(const char *a, const char *b) {
  a = without_contour(a);
  b = without_contour(b);
  const char *half_a = behind_side(a), *half_b = behind_side(b);
  if (half_a && half_b) return strcmp(a, b) == 0;
  return strcmp(half_a ? half_a : a, half_b ? half_b : b) == 0;
}

cavum_status cavum_trial_add(cavum_trial *trial, const char *key, cavum_error *error) {
  cavum_cell_key_info *info = &trial->dimensions[trial->num_dimensions];
  if (!key) return cavum_fail(error, CAVUM_ERR_USAGE, "a dimension without a key");
  CAVUM_ASSERT(trial->num_dimensions < CAVUM_TUNE_MOST);
  cavum_status status = cavum_cell_describe_key(info, trial->cell, key, error);
  if (status != CAVUM_OK) return status;
  for (int i = 0; i < trial->num_dimensions; i++) {
    if (!overlap(info->key, trial->dimensions[i].key)) continue;
    return cavum_fail(error, CAVUM_ERR_USAGE, "%s is there twice", key);
  }
  trial->num_dimensions++;
  return CAVUM_OK;
}

bool cavum_trial_is_half_of_equal(const cavum_trial *trial, int dimension) {
  const cavum_cell_key_info *info = &trial->dimensions[dimension];
  const char *bare = without_contour(info->key), *half = behind_side(bare);
  double both = 0.0;
  return bare != info->key && half && cavum_cell_get(&both, trial->cell, half, NULL) == CAVUM_OK;
}

static cavum_status write_values(char **text, const cavum_trial *trial, const double *values,
                                 cavum_error *error) {
  char number[CAVUM_WRITER_NUMBER_SIZE];
  char *made = cavum_copy_text(trial->text);
  if (!made) return cavum_fail_memory(error);
  for (int j = 0; j < trial->num_dimensions; j++) {
    const cavum_cell_key_info *info = &trial->dimensions[j];
    char *edited = NULL;
    if (values[j] == info->value) continue;
    cavum_writer_number_text(number, values[j], CAVUM_UNIT_SI);
    cavum_status status =
        cavum_cell_edit_number(&edited, trial->cell, made, info->key, number, error);
    free(made);
    if (status != CAVUM_OK) return status;
    made = edited;
  }
  *text = made;
  return CAVUM_OK;
}

// Reads the text of a changed cell: an arc that misses its ends is fitted to them.
static cavum_status read_changed(cavum_cell *cell, char **text, const cavum_trial *trial,
                                 cavum_error *error) {
  cavum_status status = cavum_cell_read_text(cell, *text, strlen(*text), trial->name, error);
  if (status == CAVUM_ERR_GEOMETRY) {
    status = cavum_arc_settle(text, error);
    if (status != CAVUM_OK) return status;
    status = cavum_cell_read_text(cell, *text, strlen(*text), trial->name, error);
  }
  if (status != CAVUM_OK || !trial->text_of_path) return status;
  status = cavum_cell_keep_numbers(cell, trial->cell, trial->length_of_text_m, error);
  if (status != CAVUM_OK) cavum_cell_clear(cell);
  return status;
}

// The text that was read has other numbers where it has the path alone right.
static cavum_status write_whole(char **text, const cavum_cell *cell, cavum_error *error) {
  char *whole = NULL;
  cavum_status status = cavum_cell_to_text(&whole, cell, error);
  if (status != CAVUM_OK) return status;
  free(*text);
  *text = whole;
  return CAVUM_OK;
}

cavum_status cavum_trial_solve(cavum_result **result, char **text, cavum_trial *trial,
                               const double *values, cavum_error *error) {
  cavum_cell cell;
  cavum_status status = write_values(text, trial, values, error);
  if (status != CAVUM_OK) return status;
  status = read_changed(&cell, text, trial, error);
  if (status != CAVUM_OK) return status;
  if (trial->text_of_path) status = write_whole(text, &cell, error);
  if (status == CAVUM_OK) status = cavum_solver_solve(result, trial->solver, &cell, error);
  cavum_cell_clear(&cell);
  return status;
}

cavum_status cavum_trial_make_cell(cavum_cell *made, bool *owned, const cavum_trial *trial,
                                   const double *values, cavum_error *error) {
  cavum_cell cell = *trial->cell;
  cavum_status status = CAVUM_OK;
  if (cell.kind == CAVUM_CONTOUR_PATH) {
    char *text = NULL;
    status = write_values(&text, trial, values, error);
    if (status != CAVUM_OK) return status;
    status = read_changed(&cell, &text, trial, error);
    free(text);
  }
  // Numbers of two ellipses are members: a copy that borrows everything else will do.
  for (int j = 0; j < trial->num_dimensions && cell.kind != CAVUM_CONTOUR_PATH; j++) {
    if (status == CAVUM_OK && values[j] != trial->dimensions[j].value) {
      status = cavum_cell_set(&cell, trial->dimensions[j].key, values[j], error);
    }
  }
  if (status != CAVUM_OK) return status;
  *made = cell;
  *owned = cell.kind == CAVUM_CONTOUR_PATH;
  return CAVUM_OK;
}

// Index of a dimension, and how much of its derivative belongs to the key; -1: none.
static int find_dimension(double *part, const cavum_dimension *dimensions, int num_dimensions,
                          const char *key) {
  const char *bare = without_contour(key), *half = behind_side(bare);
  for (int i = 0; i < num_dimensions; i++) {
    const char *known = dimensions[i].key;
    bool same = strcmp(known, bare) == 0;
    if (!same && (!half || strcmp(known, half) != 0)) continue;
    *part = same ? 1.0 : 0.5;
    return i;
  }
  return -1;
}

cavum_derivative cavum_trial_find_derivative(const cavum_result *result, int mode,
                                             cavum_figure_id figure,
                                             const cavum_cell_key_info *dimension) {
  double part = 1.0;
  int i = find_dimension(&part, result->dimensions, result->num_dimensions, dimension->key);
  if (i < 0) return (cavum_derivative){.state = CAVUM_FIGURE_ABSENT};
  cavum_derivative d = cavum_result_derivative(result, mode, i, figure);
  d.value *= part * result->dimensions[i].unit_si;
  d.uncertainty *= part * result->dimensions[i].unit_si;
  return d;
}

// Numbers of long profiles are numbers of the file alone.
static cavum_status fail_no_dimension(const char *key, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s is not a dimension: figures have %s", key,
                    strstr(key, ".profile[")
                        ? "derivatives by the numbers of profiles of at most 12 places"
                        : "no derivatives by it");
}

cavum_status cavum_trial_derivative(double *value, const cavum_result *result, int mode,
                                    cavum_figure_id figure, const cavum_cell_key_info *dimension,
                                    cavum_error *error) {
  double part = 1.0;
  if (find_dimension(&part, result->dimensions, result->num_dimensions, dimension->key) < 0) {
    return fail_no_dimension(dimension->key, error);
  }
  cavum_derivative d = cavum_trial_find_derivative(result, mode, figure, dimension);
  if (d.state != CAVUM_FIGURE_PRESENT) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s has no derivative by %s%s%s",
                      cavum_figure_describe(figure).key, dimension->key, d.reason ? ": " : "",
                      d.reason ? d.reason : "");
  }
  *value = d.value;
  return CAVUM_OK;
}

cavum_status cavum_trial_shape_derivative(double *value, const cavum_geometry *geometry,
                                          cavum_geometry_id figure,
                                          const cavum_cell_key_info *dimension,
                                          cavum_error *error) {
  double part = 1.0;
  int i = find_dimension(&part, geometry->dimensions, geometry->num_dimensions, dimension->key);
  bool is_smaller_of_both = figure <= CAVUM_GEOMETRY_APERTURE_RADIUS;
  const char *key = cavum_geometry_describe(figure).key;
  if (i < 0) {
    return fail_no_dimension(dimension->key, error);
  }
  double slope = geometry->slope[i * CAVUM_GEOMETRY_ROOM + (int)figure];
  // What neither half changes with has a derivative by one of them.
  if (part != 1.0 && is_smaller_of_both && slope != 0.0) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s has no derivative by %s: it is the smaller of both halves, which agree",
                      key, dimension->key);
  }
  if (isnan(slope)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s has no derivative by %s: two places have the smallest value and change "
                      "differently",
                      key, dimension->key);
  }
  *value = part * slope * geometry->dimensions[i].unit_si;
  return CAVUM_OK;
}
