// SPDX-License-Identifier: GPL-3.0-or-later
// Searches as bytes, both ways.
#include "optimum/search_record.h"

#include <string.h>

#include "base/base.h"

void cavum_record_pass(cavum_record_bytes *bytes, void *value, size_t size) {
  if (bytes->status != CAVUM_OK) return;
  if (!bytes->writing) {
    if (bytes->size - bytes->at < size) {
      bytes->status = CAVUM_ERR_INPUT;
      return;
    }
    memcpy(value, bytes->data + bytes->at, size);
    bytes->at += size;
    return;
  }
  void *data = bytes->data;
  bool grown = cavum_grow(&data, &bytes->capacity, (int64_t)(bytes->size + size), 1);
  bytes->data = data;
  if (!grown) {
    bytes->status = CAVUM_ERR_MEMORY;
    return;
  }
  memcpy(bytes->data + bytes->size, value, size);
  bytes->size += size;
}

void cavum_record_pass_int(cavum_record_bytes *bytes, int *value, int least, int most) {
  int32_t number = *value;
  cavum_record_pass(bytes, &number, sizeof number);
  if (bytes->status != CAVUM_OK) return;
  if (number < least || number > most) {
    bytes->status = CAVUM_ERR_INPUT;
  } else {
    *value = number;
  }
}

void cavum_record_pass_bool(cavum_record_bytes *bytes, bool *value) {
  int yes = *value;
  cavum_record_pass_int(bytes, &yes, 0, 1);
  *value = yes == 1;
}

static void pass_number(cavum_record_bytes *bytes, double *value) {
  cavum_record_pass(bytes, value, sizeof *value);
}

// A list with its length; read, it is allocated.
static void pass_list(cavum_record_bytes *bytes, void **list, int *count, size_t size) {
  bool is_there = *list != NULL;
  cavum_record_pass_bool(bytes, &is_there);
  cavum_record_pass_int(bytes, count, 0, INT32_MAX);
  if (bytes->status != CAVUM_OK || bytes->writing) return;
  // Each row takes more than a byte.
  bool possible = is_there ? (size_t)*count <= bytes->size - bytes->at : *count == 0;
  if (!possible) bytes->status = CAVUM_ERR_INPUT;
  if (possible && is_there) {
    *list = cavum_alloc(*count, size);
    if (!*list) bytes->status = CAVUM_ERR_MEMORY;
  }
  if (!*list) *count = 0;
}

static void pass_place(cavum_record_bytes *bytes, cavum_optimum_place *p, size_t slopes) {
  pass_number(bytes, &p->below);
  cavum_record_pass(bytes, p->slope, slopes);
  cavum_record_pass(bytes, &p->point, sizeof p->point);
  cavum_record_pass_bool(bytes, &p->at_point);
  pass_number(bytes, &p->spread);
}

static void pass_bend(cavum_record_bytes *bytes, cavum_optimum_bend *b, size_t slopes) {
  pass_number(bytes, &b->value);
  cavum_record_pass(bytes, b->slope, slopes);
  cavum_record_pass(bytes, &b->at, sizeof b->at);
}

static void pass_value(cavum_record_bytes *bytes, cavum_optimum_value *v, size_t slopes) {
  double *const numbers[] = {&v->value, &v->uncertainty, &v->figure, &v->margin, &v->noise};
  for (int k = 0; k < 5; k++) pass_number(bytes, numbers[k]);
  cavum_record_pass(bytes, v->slope, slopes);
  cavum_record_pass_bool(bytes, &v->has_slope);
  cavum_record_pass(bytes, &v->num_wall_points, sizeof v->num_wall_points);
  pass_list(bytes, (void **)&v->places, &v->num_places, sizeof *v->places);
  for (int k = 0; k < v->num_places; k++) pass_place(bytes, &v->places[k], slopes);
  pass_list(bytes, (void **)&v->bends, &v->num_bends, sizeof *v->bends);
  for (int k = 0; k < v->num_bends; k++) pass_bend(bytes, &v->bends[k], slopes);
}

static void pass_point(cavum_record_bytes *bytes, cavum_optimum_point *point,
                       const cavum_goal *goal) {
  size_t slopes = (size_t)goal->num_variables * sizeof(double);
  cavum_record_pass(bytes, point->place, slopes);
  for (int i = 0; i < goal->num_quantities; i++) pass_value(bytes, &point->values[i], slopes);
}

static void pass_end(cavum_record_bytes *bytes, cavum_optimum_end *end) {
  int word = (int)*end;
  cavum_record_pass_int(bytes, &word, CAVUM_OPTIMUM_CONVERGED, CAVUM_OPTIMUM_NO_SHAPE);
  if (bytes->status == CAVUM_OK) *end = (cavum_optimum_end)word;
}

static void pass_step(cavum_record_bytes *bytes, cavum_search_step *step, size_t places) {
  double *const numbers[] = {&step->objective, &step->violation, &step->residual, &step->radius};
  for (int k = 0; k < 4; k++) pass_number(bytes, numbers[k]);
  cavum_record_pass(bytes, step->place, places);
  cavum_record_pass_bool(bytes, &step->accepted);
}

static void pass_multipliers(cavum_record_bytes *bytes, cavum_search *search,
                             const cavum_goal *goal) {
  size_t row = (size_t)goal->num_variables * sizeof(double);
  for (int i = 0; i < goal->num_quantities; i++) {
    cavum_record_pass(bytes, search->limit_multiplier[i], sizeof search->limit_multiplier[i]);
  }
  cavum_record_pass(bytes, search->low_multiplier, row);
  cavum_record_pass(bytes, search->high_multiplier, row);
  for (int j = 0; j < goal->num_variables; j++) {
    cavum_record_pass(bytes, search->curvature[j], row);
  }
  pass_number(bytes, &search->penalty);
  cavum_record_pass_bool(bytes, &search->has_curvature);
}

void cavum_record_pass_search(cavum_record_bytes *bytes, cavum_search *search,
                              const cavum_goal *goal) {
  int one = search->here ? 1 : 0;
  size_t places = (size_t)goal->num_variables * sizeof(double);
  pass_end(bytes, &search->end);
  cavum_record_pass_int(bytes, &search->num_solves, 0, INT32_MAX);
  pass_number(bytes, &search->residual);
  pass_number(bytes, &search->violation);
  pass_number(bytes, &search->objective);
  pass_multipliers(bytes, search, goal);
  pass_list(bytes, (void **)&search->here, &one, sizeof *search->here);
  if (search->here && one != 1) bytes->status = CAVUM_ERR_INPUT;
  if (bytes->status == CAVUM_OK && search->here) pass_point(bytes, search->here, goal);
  pass_list(bytes, (void **)&search->steps, &search->num_steps, sizeof *search->steps);
  for (int k = 0; k < search->num_steps; k++) pass_step(bytes, &search->steps[k], places);
}
