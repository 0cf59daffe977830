// SPDX-License-Identifier: GPL-3.0-or-later
// Lengths along the axis: stretched, cut off, lost in a weld, and what a preload does.
#include "steps/entry_length.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"

typedef struct amount_section {
  cavum_stated amount_m;
  double plastic_share;
  int place;
} amount_section;

static const double LARGEST_STRETCH_MM = 1e4;

static void take_amount(cavum_chain_step *step, const amount_section *section) {
  step->amount_m = section->amount_m;
  step->plastic_share = section->plastic_share;
  step->place = (cavum_wall_place)section->place;
}

cavum_status cavum_step_read_stretch(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(amount_section, "length_mm", amount_m.value, .required = true,
                       .unit = CAVUM_UNIT_MM, .low = -LARGEST_STRETCH_MM,
                       .high = LARGEST_STRETCH_MM),
      CAVUM_STEP_FIELD(amount_section, "uncertainty_mm", amount_m.uncertainty,
                       .unit = CAVUM_UNIT_MM, .high = LARGEST_STRETCH_MM),
      CAVUM_STEP_FIELD(amount_section, "plastic_share", plastic_share, .high = 1.0),
      CAVUM_STEP_SOURCE};
  amount_section section = {.plastic_share = 1.0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  double length_mm = cavum_in_mm(section.amount_m.value);
  char stays[48] = "";
  if (section.plastic_share != 1.0) {
    snprintf(stays, sizeof stays, ", of which %.4g %% stays",
             cavum_in_unit(section.plastic_share, CAVUM_UNIT_PERCENT));
  }
  snprintf(step->what, sizeof step->what, "%s by %.6g mm%s",
           length_mm < 0.0 ? "squeezed" : "stretched", fabs(length_mm), stays);
  take_amount(step, &section);
  return CAVUM_OK;
}

static const cavum_yaml_word place_words[] = {{"equator", CAVUM_AT_EQUATOR},
                                              {"iris", CAVUM_AT_IRIS},
                                              {"left iris", CAVUM_AT_LEFT_IRIS},
                                              {"right iris", CAVUM_AT_RIGHT_IRIS},
                                              {NULL, 0}};

// The metal that a weld or a cut takes off each side.
cavum_status cavum_step_read_loss(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                  const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(amount_section, "at", place, .kind = CAVUM_YAML_FIELD_WORD, .required = true,
                       .words = place_words),
      CAVUM_STEP_FIELD(amount_section, "each_side_mm", amount_m.value, .required = true,
                       .unit = CAVUM_UNIT_MM, .high = LARGEST_STRETCH_MM),
      CAVUM_STEP_FIELD(amount_section, "uncertainty_mm", amount_m.uncertainty,
                       .unit = CAVUM_UNIT_MM, .high = LARGEST_STRETCH_MM),
      CAVUM_STEP_SOURCE};
  amount_section section = {.plastic_share = 1.0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  snprintf(step->what, sizeof step->what, "%.6g mm %s each side at the %s",
           cavum_in_mm(section.amount_m.value),
           step->kind == CAVUM_STEP_TRIM ? "cut off" : "lost in the weld on",
           place_words[section.place].text);
  take_amount(step, &section);
  return CAVUM_OK;
}

/** A force along the axis and what it works on. */
typedef struct preload_section {
  double force_n, n_per_m, n_per_m_uncertainty;
} preload_section;

cavum_status cavum_step_read_preload(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(preload_section, "force_N", force_n, .required = true, .low = -1e9,
                       .high = 1e9),
      CAVUM_STEP_FIELD(preload_section, "stiffness_N_per_mm", n_per_m, .required = true,
                       .low = 1e-3, .high = 1e9),
      CAVUM_STEP_FIELD(preload_section, "stiffness_uncertainty_N_per_mm", n_per_m_uncertainty,
                       .high = 1e9),
      CAVUM_STEP_SOURCE};
  preload_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  double length_mm = section.force_n / section.n_per_m;
  step->amount_m.value = cavum_from_unit(length_mm, CAVUM_UNIT_MM);
  step->amount_m.uncertainty =
      fabs(step->amount_m.value) * section.n_per_m_uncertainty / section.n_per_m;
  step->plastic_share = 1.0;
  snprintf(step->what, sizeof step->what, "%s by %.6g N over %.6g N/mm (stated), %.4g mm",
           section.force_n < 0.0 ? "pressed" : "pulled", fabs(section.force_n), section.n_per_m,
           fabs(length_mm));
  return CAVUM_OK;
}
