// SPDX-License-Identifier: GPL-3.0-or-later
// Steps by what they do to the frequency: stated, or by a stated sensitivity.
#include "steps/entry_change.h"

#include <stdio.h>

#include "base/base.h"

static const double LARGEST_KHZ = 1e9, LARGEST_MBAR = 1e6, LARGEST_SENSITIVITY = 1e9;

typedef struct change_section {
  double change_hz, uncertainty_hz;
} change_section;

cavum_status cavum_step_read_change(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                    const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(change_section, "change_kHz", change_hz, .required = true,
                       .unit = CAVUM_UNIT_KHZ, .low = -LARGEST_KHZ, .high = LARGEST_KHZ),
      CAVUM_STEP_FIELD(change_section, "uncertainty_kHz", uncertainty_hz, .unit = CAVUM_UNIT_KHZ,
                       .high = LARGEST_KHZ),
      CAVUM_STEP_SOURCE};
  change_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  step->change_hz = (cavum_stated){section.change_hz, section.uncertainty_hz};
  snprintf(step->what, sizeof step->what, "stated change");
  return CAVUM_OK;
}

/** A force and what it does. */
typedef struct force_section {
  double pressure_pa, hz_per_pa, hz_per_pa_uncertainty;
  double gradient, hz_per_gradient2, hz_per_gradient2_uncertainty;
} force_section;

cavum_status cavum_step_read_pressure(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                      const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(force_section, "change_mbar", pressure_pa, .required = true,
                       .unit = CAVUM_UNIT_MBAR, .low = -LARGEST_MBAR, .high = LARGEST_MBAR),
      CAVUM_STEP_FIELD(force_section, "sensitivity_Hz_per_mbar", hz_per_pa, .required = true,
                       .unit = CAVUM_UNIT_HZ_PER_MBAR, .low = -LARGEST_SENSITIVITY,
                       .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_FIELD(force_section, "sensitivity_uncertainty_Hz_per_mbar", hz_per_pa_uncertainty,
                       .unit = CAVUM_UNIT_HZ_PER_MBAR, .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_SOURCE};
  force_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  // An uncertainty has no sign, but two steps of one sensitivity err as their pressures go.
  step->change_hz = (cavum_stated){section.pressure_pa * section.hz_per_pa,
                                   section.pressure_pa * section.hz_per_pa_uncertainty};
  snprintf(step->what, sizeof step->what, "%+.6g mbar on the wall, %.6g Hz/mbar (stated)",
           cavum_in_unit(section.pressure_pa, CAVUM_UNIT_MBAR),
           cavum_in_unit(section.hz_per_pa, CAVUM_UNIT_HZ_PER_MBAR));
  return CAVUM_OK;
}

cavum_status cavum_step_read_lorentz(cavum_chain_step *step, const cavum_yaml_reader *reader,
                                     const cavum_yaml_node *node, const char *path) {
  static const cavum_yaml_field fields[] = {
      CAVUM_STEP_FIELD(force_section, "gradient_MV_per_m", gradient, .required = true, .high = 1e3),
      CAVUM_STEP_FIELD(force_section, "coefficient_Hz_per_MV_per_m_squared", hz_per_gradient2,
                       .required = true, .low = -LARGEST_SENSITIVITY, .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_FIELD(force_section, "coefficient_uncertainty_Hz_per_MV_per_m_squared",
                       hz_per_gradient2_uncertainty, .high = LARGEST_SENSITIVITY),
      CAVUM_STEP_SOURCE};
  force_section section = {0};
  cavum_yaml_table table = CAVUM_YAML_TABLE(fields);
  cavum_status status = cavum_step_read_section(&section, step, reader, node, path, table);
  if (status != CAVUM_OK) return status;
  double square = section.gradient * section.gradient;
  step->change_hz = (cavum_stated){square * section.hz_per_gradient2,
                                   square * section.hz_per_gradient2_uncertainty};
  snprintf(step->what, sizeof step->what, "Lorentz force at %.6g MV/m, %.6g Hz/(MV/m)^2 (stated)",
           section.gradient, section.hz_per_gradient2);
  return CAVUM_OK;
}
