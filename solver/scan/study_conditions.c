// SPDX-License-Identifier: GPL-3.0-or-later
// Conditions that shapes must meet, in dimensions and in figures.
#include "scan/study_conditions.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/nearest_word.h"
#include "cell/geometry.h"
#include "figures/figure_key.h"
#include "scan/condition.h"
#include "scan/study_geometry.h"

cavum_status cavum_study_look_up(cavum_expression_name *found, const char *name, const void *data,
                                 cavum_error *error) {
  const cavum_study_names *names = data;
  const cavum_study *study = names->study;
  cavum_place place;
  cavum_status status = cavum_place_find(&place, names->finder, name, error);
  if (status != CAVUM_OK) return status;
  *found = (cavum_expression_name){.index = -1, .constant = place.base};
  for (int i = 0; i < study->num_inputs; i++) {
    if (cavum_place_is_half_of(&place, &study->inputs[i].place)) found->index = i;
  }
  for (int i = 0; i < study->num_inputs; i++) {
    if (strcmp(study->inputs[i].place.name, place.name) == 0) found->index = i;
  }
  return CAVUM_OK;
}

// A figure of the study's mode or of another that is kept; -1: no such key.
static int find_figure(const cavum_study *study, const char *name) {
  int mode = -1;
  cavum_figure_id id = cavum_figure_of_key(&mode, name);
  if (id == CAVUM_NUM_FIGURES) return -1;
  if (mode < 0 || mode == study->mode) return CAVUM_CONDITION_FIGURES + (int)id;
  return mode < study->num_modes ? cavum_condition_of_mode(mode, (int)id) : -1;
}

// Index of what is computed; -1: no such key.
static int find_computed(const cavum_study *study, const char *name) {
  int figure = find_figure(study, name), geometry = (int)cavum_geometry_of_key(name);
  if (figure >= 0) return figure;
  if (geometry < CAVUM_NUM_GEOMETRY_FIGURES && cavum_study_has_geometry(study, geometry)) {
    return CAVUM_CONDITION_GEOMETRY + geometry;
  }
  return strcmp(name, "k_cc") == 0 ? CAVUM_CONDITION_K_CC : -1;
}

static bool is_kept(const cavum_study *study, int index) {
  if (index == CAVUM_CONDITION_K_CC) return study->coupling;
  if (index >= CAVUM_CONDITION_MODES) {
    return study->wanted[(index - CAVUM_CONDITION_MODES) % CAVUM_NUM_FIGURES];
  }
  if (index >= CAVUM_CONDITION_GEOMETRY) {
    return study->wanted_geometry[index - CAVUM_CONDITION_GEOMETRY];
  }
  return study->wanted[index - CAVUM_CONDITION_FIGURES];
}

// Names of inputs and dimensions, figures and what else is computed.
static cavum_status fail_name(const cavum_study_names *names, const char *name,
                              cavum_error *error) {
  const cavum_study *study = names->study;
  char hint[CAVUM_NEAREST_SIZE];
  cavum_nearest nearest = {0};
  for (int i = 0; i < study->num_inputs; i++) {
    cavum_nearest_offer(&nearest, name, study->inputs[i].place.name);
  }
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_nearest_offer(&nearest, name, cavum_figure_describe((cavum_figure_id)id).key);
  }
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_nearest_offer(&nearest, name, cavum_geometry_describe((cavum_geometry_id)id).key);
  }
  cavum_place_offer_nearest(&nearest, names->finder, name);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: neither a figure nor a number of the cell file%s",
                    name, cavum_nearest_write(hint, &nearest, ""));
}

static cavum_status look_up(cavum_expression_name *found, const char *name, const void *data,
                            cavum_error *error) {
  const cavum_study_names *names = data;
  int index = find_computed(names->study, name);
  if (index < 0) {
    cavum_status status = cavum_study_look_up(found, name, data, error);
    return status != CAVUM_ERR_INPUT ? status : fail_name(names, name, error);
  }
  if (!is_kept(names->study, index)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: the study does not keep it", name);
  }
  *found = (cavum_expression_name){.index = index};
  return CAVUM_OK;
}

cavum_status cavum_study_find_column(char *key, const cavum_study_names *names,
                                     cavum_error *error) {
  cavum_expression_name found = {.index = -1};
  cavum_status status = look_up(&found, key, names, error);
  if (status != CAVUM_OK) return status;
  if (found.index < 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: is the same in all rows", key);
  }
  if (found.index < names->study->num_inputs) {
    snprintf(key, CAVUM_COLUMN_KEY_SIZE, "%s", names->study->inputs[found.index].place.name);
  } else if (found.index < CAVUM_CONDITION_K_CC) {  // also by the number of the study's mode
    int id = found.index - CAVUM_CONDITION_FIGURES;
    snprintf(key, CAVUM_COLUMN_KEY_SIZE, "%s", cavum_figure_describe((cavum_figure_id)id).key);
  }
  return CAVUM_OK;
}

static bool names_figures(const cavum_expression *condition) {
  for (int i = 0; i < cavum_expression_num_names(condition); i++) {
    int index = cavum_expression_name_at(condition, i).index;
    if (index >= CAVUM_CONDITION_FIGURES && index <= CAVUM_CONDITION_K_CC) return true;
    if (index >= CAVUM_CONDITION_MODES) return true;
  }
  return false;
}

cavum_status cavum_study_add_condition(const cavum_study_names *names, const char *text,
                                       cavum_error *error) {
  cavum_limits *limits = &names->study->limits;
  if (limits->num_conditions == CAVUM_STUDY_MOST_CONDITIONS) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "more than %d conditions",
                      CAVUM_STUDY_MOST_CONDITIONS);
  }
  cavum_expression *made = NULL;
  cavum_status status = cavum_condition_create(&made, text, look_up, names, error);
  if (status != CAVUM_OK) return status;
  limits->of_figures[limits->num_conditions] = names_figures(made);
  limits->conditions[limits->num_conditions++] = made;
  return CAVUM_OK;
}

const char *cavum_study_broken_condition(const cavum_study *study, const double *values,
                                         bool figures) {
  const cavum_limits *limits = &study->limits;
  for (int i = 0; i < limits->num_conditions; i++) {
    if (limits->of_figures[i] != figures) continue;
    if (!cavum_condition_holds(limits->conditions[i], values)) {
      return cavum_expression_text(limits->conditions[i]);
    }
  }
  return NULL;
}

void cavum_study_clear_conditions(cavum_study *study) {
  cavum_limits *limits = &study->limits;
  for (int i = 0; i < limits->num_conditions; i++) {
    cavum_expression_destroy(&limits->conditions[i]);
  }
  limits->num_conditions = 0;
}
