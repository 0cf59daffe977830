// SPDX-License-Identifier: GPL-3.0-or-later
// Fuzz target: a cell filled in memory and options of a solve, any member with any value. What
// comes back is a status with a message, or a result that holds; the cell stays as it was.
#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"

enum {
  QUESTIONS_MOST = 40,  // then a solve is stopped: fine meshes and many modes take long
  EDITS_MOST = 12
};

/** The input, read from its start; 0 past its end. */
typedef struct source {
  const uint8_t *data;
  size_t size;
} source;

static uint8_t take(source *from) {
  if (from->size == 0) return 0;
  from->size--;
  return *from->data++;
}

/** A number: a hard one, any bits at all, or a factor on what stands there. */
static double take_number(source *from, double before) {
  static const double hard[] = {0.0,   -0.0, 1.0,       -1.0, NAN, INFINITY, -INFINITY, 1e-300,
                                1e300, 2.0,  0x1p-1074, 1e-9, 1e9, 0.5,      1e-16,     1e16};
  uint8_t kind = take(from);
  if (kind < 64) return hard[kind % (sizeof hard / sizeof *hard)];
  if (kind < 80) {
    uint8_t bytes[sizeof(double)];
    double number;
    for (size_t i = 0; i < sizeof bytes; i++) bytes[i] = take(from);
    memcpy(&number, bytes, sizeof number);
    return number;
  }
  return before * (0.5 + take(from) / 255.0);
}

static int take_integer(source *from) {
  static const int hard[] = {-1, 0, 1, 2, 3, 4, 5, 16, 17, 99, INT32_MAX, INT32_MIN};
  uint8_t kind = take(from);
  return kind < 128 ? hard[(size_t)kind % (sizeof hard / sizeof *hard)] : (int)(int8_t)take(from);
}

#define PLACE(member) offsetof(cavum_cell, member)

/** Where the numbers of a cell stand. */
static const size_t cell_numbers[] = {PLACE(beta),
                                      PLACE(accelerating_length_m),
                                      PLACE(left.half_length_m),
                                      PLACE(left.iris_radius_m),
                                      PLACE(left.equator_radius_m),
                                      PLACE(left.equator_axial_m),
                                      PLACE(left.equator_radial_m),
                                      PLACE(left.iris_axial_m),
                                      PLACE(left.iris_radial_m),
                                      PLACE(right.half_length_m),
                                      PLACE(right.iris_radius_m),
                                      PLACE(right.equator_radius_m),
                                      PLACE(right.equator_axial_m),
                                      PLACE(right.equator_radial_m),
                                      PLACE(right.iris_axial_m),
                                      PLACE(right.iris_radial_m),
                                      PLACE(left_end.tube_length_m),
                                      PLACE(left_end.tube_radius_m),
                                      PLACE(right_end.tube_length_m),
                                      PLACE(right_end.tube_radius_m),
                                      PLACE(near_hz),
                                      PLACE(accuracy_frequency),
                                      PLACE(accuracy_other_figures),
                                      PLACE(wall.surface_resistance_ohm),
                                      PLACE(wall.conductivity_s_per_m),
                                      PLACE(wall.temperature_k),
                                      PLACE(wall.residual_resistance_ohm),
                                      PLACE(mesh.unit_m)};

/** Where its kinds and counts stand, all as wide as an int. */
static const size_t cell_integers[] = {
    PLACE(kind),           PLACE(left_end.kind),        PLACE(left_end.tube_close),
    PLACE(right_end.kind), PLACE(right_end.tube_close), PLACE(num_modes),
    PLACE(wall.kind)};

#undef PLACE

static void edit_number(void *base, size_t place, source *from) {
  double number;
  memcpy(&number, (char *)base + place, sizeof number);
  number = take_number(from, number);
  memcpy((char *)base + place, &number, sizeof number);
}

static void edit_integer(void *base, size_t place, source *from) {
  int number = take_integer(from);
  memcpy((char *)base + place, &number, sizeof number);
}

// A good cell, its halves alike or not, then a few members with other values.
static void fill_cell(cavum_cell *cell, source *from) {
  enum {
    NUMBERS = sizeof cell_numbers / sizeof *cell_numbers,
    INTEGERS = sizeof cell_integers / sizeof *cell_integers
  };
  cavum_cell_set_defaults(cell);
  cell->kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell->left = (cavum_half_cell){0.0577, 0.035, 0.1033, 0.042, 0.042, 0.012, 0.019};
  cell->right = cell->left;
  cell->left_end.kind = cell->right_end.kind = CAVUM_END_MAGNETIC;
  int num_edits = take(from) % (EDITS_MOST + 1);
  for (int i = 0; i < num_edits; i++) {
    size_t which = take(from) % (NUMBERS + INTEGERS);
    if (which < NUMBERS) {
      edit_number(cell, cell_numbers[which], from);
    } else {
      edit_integer(cell, cell_integers[which - NUMBERS], from);
    }
  }
  if (cell->kind != CAVUM_CONTOUR_MESH_FILE) return;
  // A mesh file of any bytes.
  cell->mesh.axis = "xyz?"[take(from) % 4];
  if (cell->mesh.unit_m == 0.0) cell->mesh.unit_m = 1e-3;
  cell->mesh_size = take(from);
  cell->mesh_data = malloc(cell->mesh_size + 1);
  if (!cell->mesh_data) abort();
  for (size_t i = 0; i < cell->mesh_size; i++) cell->mesh_data[i] = (char)take(from);
}

// Options of a size that ends before stop_data have none.
static bool has_been_asked_enough(void *data) {
  int *questions = data;
  return !questions || ++*questions > QUESTIONS_MOST;
}

static void fill_options(cavum_solve_options *options, source *from) {
  uint8_t flags = take(from);
  *options = cavum_solve_options_default();
  options->use_symmetry = flags & 1;
  options->coupling = flags & 2;
  options->profiles = flags & 4;
  if (flags & 8) options->degree = take_integer(from);
  if (flags & 16) options->field_order = take_integer(from);
  if (flags & 32) options->refinement = take_number(from, 1.0);
  if (flags & 64) options->struct_size = (size_t)(int64_t)take_integer(from);
}

// A refusal says why, in one line.
static void check_error(cavum_status status, const cavum_error *error) {
  if (status == CAVUM_ERR_INTERNAL || error->status != status) abort();
  if (!*error->message || strchr(error->message, '\n') || strstr(error->message, "(null)")) abort();
}

static void check_figure(const cavum_figure *figure) {
  if (figure->state != CAVUM_FIGURE_PRESENT) return;
  if (!isfinite(figure->value) || isnan(figure->uncertainty) || figure->uncertainty < 0.0) abort();
}

static void check_result(const cavum_result *result, const cavum_cell *cell) {
  if (result->num_modes < 1 || result->num_modes > cell->num_modes) abort();
  for (int m = 0; m < result->num_modes; m++) {
    const cavum_mode_result *mode = cavum_result_mode(result, m);
    cavum_figure f = cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY);
    if (f.state != CAVUM_FIGURE_PRESENT || !(f.value > 0.0)) abort();
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) check_figure(&mode->figures[id]);
  }
}

// Nothing is mended in silence: what was solved is what cavum_cell_check() accepts, and its text is
// the same cell.
static void check_accepted(const cavum_cell *cell) {
  cavum_error error = {0};
  cavum_cell again;
  char *text = NULL;
  if (cavum_cell_check(cell, &error) != CAVUM_OK) abort();
  if (cavum_cell_to_text(&text, cell, &error) != CAVUM_OK) abort();
  if (cavum_cell_read_text(&again, text, strlen(text), NULL, &error) != CAVUM_OK) abort();
  if (cavum_cell_digest(&again) != cavum_cell_digest(cell)) abort();
  cavum_cell_clear(&again);
  free(text);
}

// Any number by any key: it is there then, or the cell is as before and a line says why.
static void set_by_key(cavum_cell *cell, source *from) {
  static const char *const keys[] = {"iris_radius_mm",
                                     "left.equator_radius_mm",
                                     "beta",
                                     "ends.right.length_mm",
                                     "accuracy.other_figures",
                                     "right.iris_ellipse.axial_mm",
                                     "contour.",
                                     "path[1].z_mm",
                                     "modes.count"};
  const char *key = keys[take(from) % (sizeof keys / sizeof *keys)];
  cavum_error error = {0};
  double value = take_number(from, 35.0), found = 0.0;
  uint64_t before = cavum_cell_digest(cell);
  cavum_status status = cavum_cell_set(cell, key, value, &error);
  if (status != CAVUM_OK) {
    check_error(status, &error);
    if (cavum_cell_digest(cell) != before) abort();
    return;
  }
  if (cavum_cell_get(&found, cell, key, &error) != CAVUM_OK) abort();
  // To metres and back.
  if (fabs(found - value) > 1e-15 * fabs(value)) abort();
}

// Options of later versions are longer: as much memory as a size may promise.
typedef union options_of_any_version {
  cavum_solve_options options;
  uint8_t bytes[16 * sizeof(cavum_solve_options)];
} options_of_any_version;

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
  source from = {data, size};
  cavum_cell cell, before;
  options_of_any_version any = {.bytes = {0}};
  cavum_solve_options *options = &any.options;
  cavum_error error = {0};
  cavum_result *result = NULL;
  int questions = 0;
  fill_cell(&cell, &from);
  fill_options(options, &from);
  options->stop = has_been_asked_enough;
  options->stop_data = &questions;
  memcpy(&before, &cell, sizeof cell);
  cavum_status status = cavum_solve(&result, &cell, options, &error);
  if (memcmp(&before, &cell, sizeof cell) != 0) abort();
  if (status != CAVUM_OK) check_error(status, &error);
  if ((status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED) != (result != NULL)) abort();
  if (result) {
    check_result(result, &cell);
    check_accepted(&cell);
  }
  cavum_result_destroy(&result);
  set_by_key(&cell, &from);
  cavum_cell_clear(&cell);
  return 0;
}
