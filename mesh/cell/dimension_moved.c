// SPDX-License-Identifier: GPL-3.0-or-later
// Dimensions of shapes that were moved: the numbers of the file, before it and of what is done. The
// moved curves are exact functions of them, so that their differences are rates to rounding.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cell/arc_settle.h"
#include "cell/cell_edit.h"
#include "cell/dimension.h"
#include "cell/file.h"
#include "cell/keys.h"
#include "cell/moved_cell.h"
#include "cell/place.h"
#include "contour/axial_length.h"
#include "yaml/writer.h"

// Steps of differences: this part of the length of the cell, or of 1; smaller where the curves have
// another form at such a distance. The error of the fourth order and rounding are alike there.
static const double STEP = 1.0 / 32768.0, SMALLER = 1.0 / 8.0;
enum { MOST_TRIES = 4 };
// Of longer profiles the numbers are no dimensions: each costs eight moves of the whole wall, ten
// milliseconds of processor time.
enum { PROFILE_MOST = 12 };

// ---- which dimensions there are

/** Amounts as they are appended. */
typedef struct amount_list {
  cavum_cell_dimensions *dimensions;
  int64_t capacity;
  cavum_place_finder finder;
  bool keeps_length;
} amount_list;

static cavum_status append_amount(amount_list *to, const char *name, cavum_error *error) {
  cavum_place place;
  if (cavum_place_find(&place, &to->finder, name, NULL) != CAVUM_OK) return CAVUM_OK;
  cavum_unit unit = cavum_unit_of_key(name);
  cavum_cell_dimension one = {.unit = unit,
                              .value = cavum_from_unit(place.base, unit),
                              .of_left = true,
                              .of_right = true,
                              .of_moved = true,
                              .keeps_length = to->keeps_length};
  snprintf(one.key, sizeof one.key, "%s", name);
  return cavum_cell_dimensions_append(to->dimensions, &to->capacity, &one, error);
}

// Those of keys under a name, as far as they are there.
static cavum_status append_keys(amount_list *to, const char *prefix, const char *const *keys,
                                int count, cavum_error *error) {
  char name[CAVUM_CELL_KEY_SIZE];
  cavum_status status = CAVUM_OK;
  for (int k = 0; k < count && status == CAVUM_OK; k++) {
    int length = snprintf(name, sizeof name, "%s.%s", prefix, keys[k]);
    if ((size_t)length < sizeof name) status = append_amount(to, name, error);
  }
  return status;
}

static bool has_place(const amount_list *to, int entry, int i) {
  char name[CAVUM_CELL_KEY_SIZE];
  cavum_place place;
  snprintf(name, sizeof name, "moved[%d].profile[%d].share", entry, i);
  return cavum_place_find(&place, &to->finder, name, NULL) == CAVUM_OK;
}

// Shares and places of the profile of an entry, where it has a short one.
static cavum_status append_profile(amount_list *to, int entry, cavum_error *error) {
  static const char *const keys[] = {"share", "z_mm"};
  char prefix[CAVUM_CELL_KEY_SIZE];
  cavum_status status = CAVUM_OK;
  if (has_place(to, entry, PROFILE_MOST + 1)) return CAVUM_OK;
  for (int i = 1; has_place(to, entry, i) && status == CAVUM_OK; i++) {
    snprintf(prefix, sizeof prefix, "moved[%d].profile[%d]", entry, i);
    status = append_keys(to, prefix, keys, 2, error);
  }
  return status;
}

static const char *const amount_keys[] = {"offset_mm",   "iris_share",        "longer_mm",
                                          "contraction", "axial_contraction", "equator_mm",
                                          "iris_mm",     "left_iris_mm",      "right_iris_mm"};
enum { NUM_AMOUNT_KEYS = sizeof amount_keys / sizeof *amount_keys };

static cavum_status append_amounts(cavum_cell_dimensions *d, const cavum_cell *cell,
                                   bool keeps_length, cavum_error *error) {
  amount_list to = {.dimensions = d, .capacity = d->count, .keeps_length = keeps_length};
  char prefix[CAVUM_CELL_KEY_SIZE];
  cavum_status status = cavum_place_finder_open(&to.finder, cell, "of the cell", error);
  if (status != CAVUM_OK) return status;
  bool found = true;
  for (int i = 1; found && status == CAVUM_OK; i++) {
    int before = d->count;
    snprintf(prefix, sizeof prefix, "moved[%d]", i);
    status = append_keys(&to, prefix, amount_keys, NUM_AMOUNT_KEYS, error);
    found = d->count > before;  // each entry has a number
    if (found && status == CAVUM_OK) status = append_profile(&to, i, error);
  }
  cavum_place_finder_clear(&to.finder);
  return status;
}

cavum_status cavum_cell_dimensions_list_known(cavum_cell_dimensions *dimensions,
                                              const cavum_cell *cell, cavum_text_path *known,
                                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_cell_dimensions made = {0};
  cavum_moved_cell moved;
  CAVUM_TRY(cavum_moved_cell_look(&moved, cell, error));
  if (!moved.is_one) return cavum_cell_dimensions_list_unmoved(dimensions, cell, known, error);
  status = cavum_cell_dimensions_list_unmoved(&made, &moved.base, NULL, error);
  bool keeps_length = moved.keeps_length;
  cavum_moved_cell_clear(&moved);
  if (status != CAVUM_OK) return status;
  for (int i = 0; i < made.count; i++) {
    cavum_cell_dimension *d = &made.list[i];
    d->of_moved = !d->of_cell || d->of_left || d->of_right;
    d->keeps_length = keeps_length;
  }
  CAVUM_TRY(append_amounts(&made, cell, keeps_length, error));
done:
  if (status == CAVUM_OK) {
    *dimensions = made;
  } else {
    cavum_cell_dimensions_clear(&made);
  }
  return status;
}

cavum_status cavum_cell_dimensions_list(cavum_cell_dimensions *dimensions, const cavum_cell *cell,
                                        cavum_error *error) {
  cavum_text_path known = {0};
  cavum_status status = cavum_cell_dimensions_list_known(dimensions, cell, &known, error);
  cavum_text_path_clear(&known);
  return status;
}

// ---- their rates

// The cell with another value of a dimension.
static cavum_status read_at(cavum_cell *made, const cavum_cell *cell, const cavum_cell *base,
                            const cavum_cell_dimension *d, double value, cavum_error *error) {
  char number[CAVUM_WRITER_NUMBER_SIZE], key[CAVUM_CELL_KEY_SIZE + sizeof "contour."];
  char *text = NULL;
  snprintf(key, sizeof key, "%s%s", cavum_cell_name_has_section(d->key) ? "" : "contour.", d->key);
  cavum_writer_number_text(number, value, d->unit);
  cavum_status status = cavum_cell_edit_number(&text, base, cell->text, key, number, error);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_file_read_near(made, text, error);
  if (status == CAVUM_ERR_GEOMETRY) {
    status = cavum_arc_settle(&text, error);
    if (status == CAVUM_OK) status = cavum_cell_file_read_near(made, text, error);
  }
  free(text);
  return status;
}

static bool are_alike(const cavum_contour *a, const cavum_contour *b) {
  bool alike = a->num_curves == b->num_curves;
  for (cavum_index i = 0; alike && i < a->num_curves; i++) {
    alike =
        a->curves[i].kind == b->curves[i].kind && a->curves[i].boundary == b->curves[i].boundary;
  }
  return alike;
}

static void add_number(double *to, double number, double weight) { *to += weight * number; }

static void add_point(cavum_point *to, cavum_point point, double weight) {
  add_number(&to->z_m, point.z_m, weight);
  add_number(&to->r_m, point.r_m, weight);
}

static void add_curve(cavum_curve_rate *to, const cavum_curve *curve, double weight) {
  add_point(&to->start, curve->start, weight);
  add_point(&to->end, curve->end, weight);
  if (curve->kind == CAVUM_CURVE_LINE) return;
  add_point(&to->centre, curve->centre, weight);
  add_number(&to->axial_m, curve->axial_m, weight);
  add_number(&to->radial_m, curve->radial_m, weight);
  add_number(&to->angle_start_rad, curve->angle_start_rad, weight);
  add_number(&to->angle_end_rad, curve->angle_end_rad, weight);
  for (int k = 0; k < 4 && curve->kind != CAVUM_CURVE_ELLIPSE; k++) {
    add_point(&to->cubic[k], curve->cubic[k], weight);
  }
}

/** A dimension of a moved cell. */
typedef struct moved_dimension {
  const cavum_contour *contour;
  const cavum_cell *cell, *base;
  const cavum_cell_dimension *dimension;
} moved_dimension;

/** A difference of the fourth order: places in steps, weights over 12 steps. */
typedef struct difference {
  int count;
  double at[5], weights[5];
} difference;

static const difference BOTH_SIDES = {4, {-2.0, -1.0, 1.0, 2.0}, {1.0, -8.0, 8.0, -1.0}};
static const difference BELOW = {5, {0.0, -1.0, -2.0, -3.0, -4.0}, {25.0, -48.0, 36.0, -16.0, 3.0}};

// False where some neighbour has another form or none.
static bool differentiate(cavum_curve_rate *rates, double *length_rate, cavum_status *status,
                          const moved_dimension *m, const difference *by, double step,
                          cavum_error *error) {
  memset(rates, 0, (size_t)m->contour->num_curves * sizeof *rates);
  *length_rate = 0.0;
  for (int k = 0; k < by->count; k++) {
    cavum_cell made;
    double value = m->dimension->value + by->at[k] * step, weight = by->weights[k] / (12.0 * step);
    *status = read_at(&made, m->cell, m->base, m->dimension, value, error);
    if (*status != CAVUM_OK) return false;
    bool alike = are_alike(&made.path, m->contour);
    for (cavum_index i = 0; alike && i < m->contour->num_curves; i++) {
      add_curve(&rates[i], &made.path.curves[i], weight);
    }
    add_number(length_rate, made.accelerating_length_m, weight);
    cavum_cell_clear(&made);
    if (!alike) return false;
  }
  if (m->dimension->keeps_length) *length_rate = 0.0;
  return true;
}

// A straight length of 0: what is longer has a piece more, what is cut has the same ones. Both
// change the field alike, to first order.
static bool is_no_length(const cavum_cell_dimension *dimension) {
  const char *dot = strrchr(dimension->key, '.');
  bool straight = dot && (strcmp(dot, ".equator_mm") == 0 || strcmp(dot, ".iris_mm") == 0 ||
                          strcmp(dot, ".left_iris_mm") == 0 || strcmp(dot, ".right_iris_mm") == 0);
  return straight && dimension->value == 0.0;
}

cavum_status cavum_cell_dimension_rate(cavum_curve_rate *rates, cavum_cell_rate *rate, bool *smooth,
                                       const cavum_contour *contour, const cavum_cell *cell,
                                       cavum_cell_part part, const cavum_cell_dimension *dimension,
                                       cavum_error *error) {
  if (!dimension->of_moved) {
    return cavum_cell_dimension_rate_unmoved(rates, rate, smooth, contour, cell, part, dimension,
                                             error);
  }
  cavum_cell base;
  cavum_status status = cavum_cell_file_read_base(&base, cell->text, error);
  if (status != CAVUM_OK) return status;
  double size = dimension->unit == CAVUM_UNIT_SI ? 1.0 : cavum_contour_length_m(contour);
  double step = STEP * size;
  const moved_dimension m = {contour, cell, &base, dimension};
  const difference *by = is_no_length(dimension) ? &BELOW : &BOTH_SIDES;
  *smooth = false;
  *rate = (cavum_cell_rate){0};
  for (int i = 0; i < MOST_TRIES && !*smooth && status != CAVUM_ERR_MEMORY; i++) {
    *smooth = differentiate(rates, &rate->accelerating_length_m, &status, &m, by, step, NULL);
    step *= SMALLER;
  }
  cavum_cell_clear(&base);
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  if (!*smooth) {
    memset(rates, 0, (size_t)contour->num_curves * sizeof *rates);
    *rate = (cavum_cell_rate){0};
  }
  return CAVUM_OK;
}
